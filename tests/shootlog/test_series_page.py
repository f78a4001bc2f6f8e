"""The series page, what it says of each kind, and the same block where a hand-in is shown.

The truth of the demo's frames stands in `fixtures/demo/frames/index.toml`.
"""

import pytest
from django.urls import reverse

from course.models import Exercise, HandIn, Week
from shootlog.models import Series
from shootlog.series_drawn import curve, pencil_line
from shootlog.series_job import put_together
from tests.shootlog.test_series_job import DEMO, RAIL, read

pytestmark = pytest.mark.django_db
STACK = {
    "kind": "stack",
    "ordered_by": "time",
    "exposure_spread_ev": 0.2,
    "exposure_jumps": [[1, 2]],
    "focus_position": [0.0, 1.0, 3.0],
    "gaps": [[2, 3]],
    "covered_share": 0.91,
    "covered_of": "middle of the frame",
    "starts_in_front": False,
    "ends_behind": None,
    "depth_of_field_mm": 1.9,
    "planned_step_mm": None,
    "moved": [{"between": [1, 2], "shift_px": 3.2, "turn_deg": 0.0}],
    "proof": False,
    "findings": [
        {
            "finding": "stack-gap",
            "answer": "yes",
            "sure": "measured",
            "numbers": {},
            "words": "There is a gap between 2 and 3: the step there was 2.0 times the others.",
            "remedy": "Count the steps aloud.",
        }
    ],
    "words": "There is a gap between 2 and 3: the step there was 2.0 times the others.",
}


@pytest.fixture
def stack(sam, make_frame):
    frames = [make_frame(sam, pictures=True, sent_name=f"slice-{k}.jpg") for k in (1, 2, 3)]
    row = Series.objects.of_frames(owner=sam, kind="stack", frames=frames, name="A beetle")
    named = [
        {"file": str(f), "frame": f.pk, "taken_at": "2026-05-03T09:10:00", "order": k + 1}
        for k, f in enumerate(frames)
    ]
    row.check_result, row.state = STACK | {"frames": named}, "ready"
    row.save()
    return row


def page_of(as_person, user, name, *args):
    answer = as_person(user).get(reverse(name, args=args))
    assert answer.status_code == 200
    return answer.content.decode()


def test_a_stack_says_its_gap_in_words_as_a_line_and_as_a_table(as_person, sam, stack):
    page = page_of(as_person, sam, "course:series", stack.pk)
    assert "There is a gap between 2 and 3" in page
    assert '<text class="gap"' in page
    assert "<td>a gap</td>" in page
    assert "<td>the light changes, moved 3.2 pixels</td>" in page
    assert "91 %" in page
    assert "Count the steps aloud." not in page  # facts at once, advice from a person


def test_a_gap_is_no_stroke_of_the_line():
    line = pencil_line(STACK)
    assert len(line["ticks"]) == 3
    assert len(line["strokes"]) == 1  # from 1 to 2; none from 2 to 3
    assert line["gaps"][0]["from"] == line["strokes"][0][1]
    assert pencil_line(STACK | {"focus_position": [0.0, None, 1.0]}) is None


def test_no_curve_is_drawn_where_the_camera_moved():
    rows = [{"f_number": n, "sharpness": v, "spread": 0.01} for n, v in ((4, 0.8), (8, 1.0))]
    assert curve({"sharpness": rows, "best_f_number": None}) is None
    told = {"sharpness": rows, "best_f_number": 8.0, "f_number_kind": "effective"}
    drawn = curve(told | {"best_f_number_between": [5.6, 11.0]})
    assert drawn["range"]["x"] == pytest.approx(
        (drawn["dots"][0]["x"] + drawn["best_x"]) / 2, abs=7
    )
    # no farther than the curve
    assert drawn["range"]["x"] + drawn["range"]["width"] == pytest.approx(drawn["dots"][1]["x"])
    assert curve(told)["range"] is None
    assert drawn["best_x"] == drawn["dots"][1]["x"]
    assert drawn["dots"][1]["y"] < drawn["dots"][0]["y"]  # sharper is higher


@pytest.mark.parametrize(
    ("kind", "files", "says"),
    [
        ("light", "adaeze-four-directions-*.jpg", "Contrast"),
        ("approach", "paloma-slow-approach-*.jpg", "Larger by"),
        ("ladder", "paloma-slow-approach-*.jpg", "times as large"),
        ("apertures", "kenji-aperture-series-*.jpg", "Sharpness"),
        ("burst", "leila-choose-and-say-*.jpg", "not this one"),
        ("landscape", "leila-choose-and-say-*.jpg", "Meets the one before"),
    ],
)
def test_every_kind_has_its_page(as_person, sam, make_frame, work, kind, files, says):
    paths = sorted(DEMO.glob(files))
    frames = [read(make_frame, sam, path, k) for k, path in enumerate(paths)]
    row = put_together(owner=sam, kind=kind, frames=frames)
    work()
    row.refresh_from_db()
    page = page_of(as_person, sam, "course:series", row.pk)
    assert row.state == Series.State.READY
    assert says in page
    assert page.count('<th scope="row">') == len(frames)


@pytest.fixture
def handed_in(course, group, sam, stack):
    week = Week.objects.create(course=course, number=1, title="Stacks")
    exercise = Exercise.objects.create(week=week, title="A stack", kind="stack")
    frames = [place.frame for place in stack.places.all()]
    return HandIn.objects.hand_in(
        exercise=exercise, group=group, student=sam, frames=frames, series=stack
    )


def test_the_instructor_sees_the_block_with_what_to_try(as_person, ines, handed_in):
    page = page_of(as_person, ines, "course:look", handed_in.pk)
    assert "There is a gap between 2 and 3" in page
    assert "Count the steps aloud." in page


def test_the_student_sees_facts_at_once_and_advice_when_released(as_person, sam, ines, handed_in):
    page = page_of(as_person, sam, "course:came-back", handed_in.pk)
    assert "There is a gap between 2 and 3" in page
    assert "Count the steps aloud." not in page
    handed_in.keep(by=ines)
    handed_in.release(by=ines)
    page = page_of(as_person, sam, "course:came-back", handed_in.pk)
    assert "Count the steps aloud." in page


def test_what_the_exercise_waives_is_not_said(as_person, sam, handed_in):
    handed_in.exercise.waived = ["stack-gap"]
    handed_in.exercise.save()
    page = page_of(as_person, sam, "course:came-back", handed_in.pk)
    assert "There is a gap between" not in page


def test_a_program_gets_what_the_command_prints(client, sam, stack):
    from shootlog.models import ApiToken

    _, key = ApiToken.objects.make(sam)
    answer = client.get(
        reverse("api-one-series", args=[stack.pk]), headers={"Authorization": f"Token {key}"}
    )
    told = answer.json()
    assert told["state"] == "ready"
    assert told["check"]["gaps"] == [[2, 3]]
    assert told["frames"] == [place.frame_id for place in stack.places.all()]


@pytest.mark.parametrize("case", ["one", "sizes", "no times", "broken"])
def test_bad_input_says_the_same_on_the_page_and_to_a_program(
    as_person, client, sam, make_frame, case
):
    from shootlog.models import ApiToken, Frame
    from shootlog.series_job import check_series
    from tests.frames import jpeg

    sizes = {"one": [(90, 60)], "sizes": [(90, 60), (60, 90), (90, 60)]}.get(case, [(90, 60)] * 3)
    frames = [
        make_frame(
            sam,
            data=jpeg(width, height, 100 + 20 * k),
            pictures=True,
            sent_name=f"{k + 1}.jpg",
            recorded={"width_px": width, "height_px": height, "origins": {}},
            taken_at=None if case == "no times" else f"2026-05-03T09:0{k}:00+00:00",
        )
        for k, (width, height) in enumerate(sizes)
    ]
    if case == "broken":
        frames[1].state, frames[1].trouble = Frame.State.UNREADABLE, "It breaks off."
        frames[1].save()
    row = put_together(owner=sam, kind="burst", frames=frames)
    check_series(row)
    words = {
        "one": "One frame is no series yet",
        "sizes": "The frames differ in size (60 x 90, 90 x 60 pixels)",
        "no times": "No frame holds a time, so they stand in the order they were given.",
        "broken": "Frame 2 (2.jpg) can&#x27;t be opened. The other 2 are looked at without it",
    }[case]
    assert words in page_of(as_person, sam, "course:series", row.pk)
    _, key = ApiToken.objects.make(sam)
    told = client.get(
        reverse("api-one-series", args=[row.pk]), headers={"Authorization": f"Token {key}"}
    ).json()
    assert words.replace("&#x27;", "'") in told["trouble"]


def test_an_odd_frame_is_named_and_its_light_held_against_nobody(as_person, sam, make_frame, work):
    odd = DEMO / "adaeze-four-directions-1.jpg"
    paths = [*RAIL[:4], odd, *RAIL[4:7]]
    frames = [read(make_frame, sam, path, k) for k, path in enumerate(paths)]
    row = put_together(owner=sam, kind="stack", frames=frames)
    work()
    page = page_of(as_person, sam, "course:series", row.pk)
    assert "Frames 4 and 5 do not show the same thing, nor do 5 and 6." in page
    assert "the light changes" not in page
    assert page.count("does not match the one before") == 2


def test_a_light_study_of_changing_light_is_not_told_that_it_changes(
    as_person, sam, make_frame, work
):
    paths = sorted(DEMO.glob("adaeze-four-directions-*.jpg"))
    frames = [read(make_frame, sam, path, k) for k, path in enumerate(paths)]
    row = put_together(owner=sam, kind="light", frames=frames)
    work()
    row.refresh_from_db()
    assert row.check_result["exposure_jumps"]
    assert "the light changes" not in page_of(as_person, sam, "course:series", row.pk)


def test_the_proof_of_a_stack_is_a_picture_marked_as_a_proof(as_person, sam, make_frame, work):
    frames = [read(make_frame, sam, path, k) for k, path in enumerate(RAIL[:3])]
    row = put_together(owner=sam, kind="stack", frames=frames)
    work()
    assert "A proof only, not a merge" in page_of(as_person, sam, "course:series", row.pk)
    answer = as_person(sam).get(reverse("shootlog:proof", args=[row.pk]))
    assert answer.content.startswith(b"\x89PNG")


def test_an_offer_becomes_a_series_with_one_tap_or_stays_away(as_person, sam, stack):
    Series.objects.filter(pk=stack.pk).update(confirmed=False)
    assert "They belong together" in page_of(as_person, sam, "course:series", stack.pk)
    as_person(sam).post(reverse("shootlog:belong-together", args=[stack.pk]))
    assert Series.objects.get(pk=stack.pk).confirmed
    Series.objects.filter(pk=stack.pk).update(confirmed=False)
    as_person(sam).post(reverse("shootlog:not-a-series", args=[stack.pk]))
    assert not Series.objects.offered().exists()


def test_a_burst_shows_the_sum_behind_its_advice(as_person, sam, make_frame):
    from tests.shootlog.test_own_numbers import make_burst

    row = make_burst(sam, make_frame, 3)
    page = page_of(as_person, sam, "course:series", row.pk)
    assert "1 − (1 − 3/10)^7 = 0.92" in page  # noqa: RUF001
