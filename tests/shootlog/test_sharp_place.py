"""What should be sharp, as its maker says it: by a tap without a script, or in words."""

import pytest
from django.urls import reverse

from shootlog.jobs import read_frame
from shootlog.models import Frame, Job

pytestmark = pytest.mark.django_db
SIZE = {"width_px": 900, "height_px": 600, "origins": {}}


@pytest.fixture
def frame(sam, make_frame):
    return make_frame(sam, recorded=SIZE, pictures=True)


@pytest.fixture
def say(as_person, sam, frame):
    def post(**said):
        return as_person(sam).post(
            reverse("shootlog:sharp-place", args=[frame.pk]),
            {key.replace("_", "."): value for key, value in said.items()},
        )

    return post


def page(as_person, sam, frame):
    return as_person(sam).get(reverse("shootlog:frame", args=[frame.pk])).text


def test_a_tap_marks_a_small_area_and_the_picture_is_looked_at_again(say, frame, as_person, sam):
    before = page(as_person, sam, frame)
    assert 'type="image"' in before
    assert 'width="256" height="171"' in before  # the size that a tap is counted in
    # a button that is a picture sends name.x and name.y (HTML, "image button" state)
    assert say(at_x="64", at_y="80").status_code == 302
    frame.refresh_from_db()
    left, top, width, height = frame.wanted_area
    assert left + width / 2 == pytest.approx(64 / 256, abs=1e-3)
    assert top + height / 2 == pytest.approx(80 / 171, abs=1e-3)
    job = Job.objects.get(task=read_frame.module_path)
    assert job.args == [frame.pk]
    after = page(as_person, sam, frame)
    assert "Marked: left of the middle." in after
    assert 'x="21.0%"' in after


def test_without_a_finger_a_part_is_chosen_by_name_and_taken_back(say, frame):
    # pressed by a key, a picture sends 0 and 0
    assert say(at_x="0", at_y="0", part="at the bottom right").status_code == 302
    frame.refresh_from_db()
    assert frame.wanted_area == [0.6667, 0.6667, 0.3333, 0.3333]
    assert say(part="nowhere").status_code == 302
    frame.refresh_from_db()
    assert frame.wanted_area is None


@pytest.mark.parametrize(
    "said", [{}, {"at_x": "0", "at_y": "0"}, {"at_x": "-7", "at_y": "1e3"}, {"part": "aloft"}]
)
def test_nothing_said_is_asked_for_again(say, frame, said):
    answer = say(**said)
    assert answer.status_code == 422
    assert "Tap the place in the small picture" in answer.text or "aloft" in answer.text
    assert Frame.objects.get(pk=frame.pk).wanted_area is None
    assert not Job.objects.exists()


def test_a_tap_beyond_the_rim_counts_as_the_rim(say, frame):
    say(at_x="99999", at_y="3")
    frame.refresh_from_db()
    assert frame.wanted_area == [0.92, 0.0, 0.08, 0.08]


def test_what_cannot_be_shown_cannot_be_tapped(say, frame, as_person, sam):
    Frame.objects.update(state=Frame.State.UNREADABLE)
    assert 'type="image"' not in page(as_person, sam, frame)
    assert say(at_x="64", at_y="57").status_code == 404
