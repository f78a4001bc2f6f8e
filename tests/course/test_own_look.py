"""What the student sees first; and one frame of a hand-in at a time."""

import pytest
from django.urls import reverse

from course.models import Criterion, Exercise, HandIn, Week

pytestmark = pytest.mark.django_db
HELD = {"support": "tripod"}


@pytest.fixture
def exercise(course):
    week = Week.objects.create(course=course, number=1, title="Getting close")
    found = Exercise.objects.create(week=week, title="Choose, and say why", self_check=True)
    Criterion.objects.create(
        exercise=found, kind="quantity", quantity="iso", high=400, words="ISO 400 or less"
    )
    return found


@pytest.fixture
def handed_in(exercise, group, sam, make_frame):
    frames = [
        make_frame(
            sam,
            pictures=True,
            caption=f"f/{k} as told",
            numbers={"iso": 800, "f_number": 8},
        )
        for k in (8, 11, 16)
    ]
    return HandIn.objects.hand_in(exercise=exercise, group=group, student=sam, frames=frames)


def page_of(as_person, user, hand_in, query=""):
    return as_person(user).get(reverse("course:came-back", args=[hand_in.pk]) + query).text


def test_nothing_is_told_before_the_student_has_looked(as_person, sam, handed_in):
    page = page_of(as_person, sam, handed_in)
    assert "You first" in page
    for told in ("In numbers", "The brief</h2>", "f/8 as told"):
        assert told not in page


def test_what_was_seen_stands_beside_what_was_found(as_person, sam, exercise, handed_in):
    pk = exercise.criteria.get().pk
    as_person(sam).post(
        reverse("course:looked-first", args=[handed_in.pk]),
        {f"self_{pk}": "on", "self_seen": "The hairs are soft."},
    )
    page = page_of(as_person, sam, handed_in)
    assert "You first" not in page
    assert "The hairs are soft." in page
    assert "Your own eye had said: met." in page
    assert "not yet" in page  # ISO 800 of 400
    handed_in.refresh_from_db()
    assert handed_in.self_checked == {"met": [pk], "seen": "The hairs are soft."}


def test_it_may_be_skipped_and_is_not_asked_again(as_person, sam, handed_in):
    address = reverse("course:looked-first", args=[handed_in.pk])
    as_person(sam).post(address, {"skip": "yes", "self_seen": "typed, then skipped"})
    assert "In numbers" in page_of(as_person, sam, handed_in)
    as_person(sam).post(address, {"self_seen": "an old page sent again"})
    handed_in.refresh_from_db()
    assert handed_in.self_checked == {"skipped": True}


def test_the_words_of_a_person_open_it_too(as_person, sam, ines, handed_in):
    handed_in.keep(by=ines)
    handed_in.release(by=ines)
    assert "In numbers" in page_of(as_person, sam, handed_in)


def test_who_said_it_on_the_hand_in_page_is_not_asked_again(
    as_person, sam, exercise, group, make_frame
):
    frame = make_frame(sam, pictures=True)
    address = reverse("course:hand-in", args=[exercise.pk])
    assert "What do you see?" in as_person(sam).get(address).text
    as_person(sam).post(address, {"frames": [frame.pk], "self_seen": "A clean edge."})
    row = HandIn.objects.get()
    assert row.self_checked["seen"] == "A clean edge."
    page = page_of(as_person, sam, row)
    assert "You first" not in page
    assert "A clean edge." in page


def test_an_exercise_that_does_not_ask_tells_at_once(as_person, sam, exercise, handed_in):
    Exercise.objects.update(self_check=False)
    assert "In numbers" in page_of(as_person, sam, handed_in)


def test_one_frame_at_a_time_with_its_strip(as_person, sam, handed_in):
    Exercise.objects.update(self_check=False)
    page = page_of(as_person, sam, handed_in)
    assert page.count('<article class="came-back"') == 1
    assert "f/8 as told" in page
    assert "f/11 as told" not in page
    second = page_of(as_person, sam, handed_in, "?frame=2")
    assert "f/11 as told" in second
    assert "Frame 2 of 3" in second
    assert "Frame 3 of 3" in page_of(as_person, sam, handed_in, "?frame=99")
    assert "Frame 1 of 3" in page_of(as_person, sam, handed_in, "?frame=x")


def test_queries_do_not_grow_with_the_frames(
    as_person, sam, exercise, group, make_frame, handed_in, django_assert_num_queries
):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    Exercise.objects.update(self_check=False)
    more = HandIn.objects.hand_in(
        exercise=exercise,
        group=group,
        student=sam,
        frames=[make_frame(sam, pictures=True, numbers={"iso": 100}) for _ in range(12)],
    )
    client = as_person(sam)
    addresses = [reverse("course:came-back", args=[row.pk]) for row in (handed_in, more)]
    for address in addresses:
        client.get(address)
    with CaptureQueriesContext(connection) as few:
        client.get(addresses[0])
    with django_assert_num_queries(len(few)):
        client.get(addresses[1])


def test_who_asks_for_stronger_words_has_everything_laid_open(
    as_person, sam, ines, course, group, make_frame
):
    course.advice_at_once = True
    course.save()
    week = Week.objects.create(course=course, number=2, title="Depth")
    plain = Exercise.objects.create(week=week, title="A seed head")
    numbers = {
        "effective_f_number": (44, "worked out"),
        "f_number": 22,
        "magnification": (1.0, "told"),
        "pixel_pitch_um": 4.4,
        "coc_um": (30, "assumed"),
        "airy_diameter_um": (59, "worked out"),
        "diffraction_blur_um": (40, "worked out"),
        "iso": 25600,
        "clipped_share": (0.3, "measured"),
        "clipped_in_sharp_share": (0.3, "measured"),
    }
    frame = make_frame(sam, pictures=True, numbers=numbers)
    row = HandIn.objects.hand_in(exercise=plain, group=group, student=sam, frames=[frame])
    page = page_of(as_person, sam, row)
    assert '<details class="also">' in page
    assert "Asked for stronger words" not in as_person(ines).get(f"/to-look-at/{row.pk}/").text
    sam.person.tone = "stronger"
    sam.person.save()
    assert '<details class="also" open>' in page_of(as_person, sam, row)
    assert "Asked for stronger words" in as_person(ines).get(f"/to-look-at/{row.pk}/").text


def test_what_held_the_camera_is_asked_where_it_can_be_said(
    as_person, ines, sam, exercise, group, make_frame
):
    """The page leads its maker to the first frame of which nobody said it; others cannot say it."""
    exercise.self_check = False
    exercise.save()
    for need in ("tripod", "manual focus"):  # the second is in no file here, and nobody's to say
        Criterion.objects.create(exercise=exercise, kind="need", need=need)
    said, unsaid = (make_frame(sam, numbers={"iso": 800}, facts=f) for f in (HELD, {}))
    row = HandIn.objects.hand_in(exercise=exercise, group=group, student=sam, frames=[said, unsaid])
    asks = f'<a href="/log/{unsaid.pk}/#id_support">Say it</a>'
    page = page_of(as_person, sam, row)
    assert "Nobody said yet what held the camera." in page
    assert "This file does not say the focus mode." in page
    assert page.count("Say it</a>") == page.count(asks) == 1
    assert 'id="id_support"' in as_person(sam).get(f"/log/{unsaid.pk}/").text
    looked = as_person(ines).get(reverse("course:look", args=[row.pk])).text
    assert "Nobody said yet what held the camera." in looked
    assert "Say it</a>" not in looked


@pytest.mark.parametrize("support", ["tripod", "hand"])
def test_once_said_it_is_not_asked_again(as_person, sam, exercise, group, make_frame, support):
    exercise.self_check = False
    exercise.save()
    Criterion.objects.create(exercise=exercise, kind="need", need="tripod")
    frame = make_frame(sam, facts={"support": support})
    row = HandIn.objects.hand_in(exercise=exercise, group=group, student=sam, frames=[frame])
    page = page_of(as_person, sam, row)
    assert f"You said: {support}." in page
    assert "Say it</a>" not in page
