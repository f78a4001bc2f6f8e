"""A series as its student and its instructor see it: held, set aside, ended well, planned."""

import pytest
from django.urls import reverse

from course.models import Criterion, Exercise, Group, HandIn, Lesson, Week
from course.what_is_told import held_for
from shootlog.models import Job, KeptPlan, KeptSetUp, Series
from shootlog.series_job import check_series, read_series
from tests.shootlog.test_series_page import STACK

pytestmark = pytest.mark.django_db


@pytest.fixture
def weeks(course):
    """Stacking is taught in the second week; an exercise of the first already asks for one."""
    first, second = (Week.objects.create(course=course, number=k, title=str(k)) for k in (1, 2))
    Lesson.objects.create(week=second, title="Slices", topics=["stacking"])
    Lesson.objects.create(week=first, title="Exposure", topics=["exposure"])
    return first, second


@pytest.fixture
def stack(sam, make_frame):
    frames = [make_frame(sam, pictures=True, sent_name=f"slice-{k}.jpg") for k in (1, 2, 3)]
    row = Series.objects.of_frames(owner=sam, kind="stack", frames=frames, name="A beetle")
    named = [
        {"file": str(f), "frame": f.pk, "taken_at": "2026-05-03T09:10:00", "order": k + 1}
        for k, f in enumerate(frames)
    ]
    found = [f | {"topic": "stacking"} for f in STACK["findings"]]
    row.check_result, row.state = STACK | {"frames": named, "findings": found}, "ready"
    row.save()
    row.flags.create(finding="stack-gap", sure="measured", numbers={"step_ratio": 2.0})
    return row


@pytest.fixture
def handed_in(weeks, group, sam, stack):
    exercise = Exercise.objects.create(week=weeks[0], title="A stack", kind="stack")
    frames = [place.frame for place in stack.places.all()]
    return HandIn.objects.hand_in(
        exercise=exercise, group=group, student=sam, frames=frames, series=stack
    )


def page_of(as_person, user, name, *args):
    answer = as_person(user).get(reverse(name, args=args))
    assert answer.status_code == 200
    return answer.content.decode()


GAP = "There is a gap between 2 and 3"


def test_a_finding_of_a_week_to_come_waits_in_words_line_and_table(
    as_person, sam, group, stack, handed_in
):
    for name, pk in (("course:came-back", handed_in.pk), ("course:series", stack.pk)):
        page = page_of(as_person, sam, name, pk)
        assert GAP not in page
        assert "a gap" not in page
        assert 'class="gap"' not in page
    Group.objects.filter(pk=group.pk).update(week_now=2)
    for name, pk in (("course:came-back", handed_in.pk), ("course:series", stack.pk)):
        page = page_of(as_person, sam, name, pk)
        assert GAP in page
        assert "<td>a gap, the light changes" in page or "<td>a gap</td>" in page


def test_the_instructor_sees_what_waits_and_why(as_person, ines, handed_in):
    page = page_of(as_person, ines, "course:look", handed_in.pk)
    assert GAP in page
    assert "Its week is still to come." in page


def test_who_is_in_no_group_hears_everything(otto, weeks):
    assert held_for(otto)("stack-gap", "stacking") == ""


def test_a_course_that_does_not_gate_tells_at_once(sam, course, weeks):
    assert held_for(sam)("stack-gap", "stacking") == "Its week is still to come."
    course.weeks_gate_findings = False
    course.save()
    assert held_for(sam)("stack-gap", "stacking") == ""


def test_not_so_is_one_tap_on_the_reason_and_kept_with_its_numbers(
    as_person, ines, sam, group, handed_in, stack
):
    Group.objects.filter(pk=group.pk).update(week_now=2)
    page = page_of(as_person, ines, "course:look", handed_in.pk)
    assert "it was meant so" in page
    address = reverse("course:not-so-series", args=[handed_in.pk, "stack-gap"])
    as_person(ines).post(address, {"why": "It was meant so"})
    flag = stack.flags.get()
    assert flag.set_aside_why == "It was meant so"
    assert flag.set_aside_by == ines
    assert flag.looked_at is not None
    assert flag.numbers == {"step_ratio": 2.0}  # truth for the lines: what was measured stays
    assert GAP not in page_of(as_person, sam, "course:came-back", handed_in.pk)
    assert "Not so: it was meant so." in page_of(as_person, ines, "course:look", handed_in.pk)
    as_person(ines).post(address, {"stand": "yes"})
    assert GAP in page_of(as_person, sam, "course:came-back", handed_in.pk)


def test_a_decision_counts_as_having_looked_at_the_series(as_person, ines, handed_in, stack):
    as_person(ines).post(
        reverse("course:decide", args=[handed_in.pk]), {"decision": "kept", "revision": 0}
    )
    assert stack.flags.get().looked_at is not None


def test_a_flag_of_the_series_says_why_the_print_waits(as_person, ines, handed_in, stack):
    HandIn.objects.judge()
    stack.flags.create(finding="framing-moved", sure="measured")
    row = HandIn.objects.to_look_at(ines).for_table().get()
    assert row.reason == "Found: a gap in the steps and the framing moved."
    for flag in stack.flags.all():
        flag.set_aside(by=ines)
    row = HandIn.objects.to_look_at(ines).for_table().get()
    assert row.reason.startswith("Nothing stands out")


def test_every_finding_of_a_series_has_a_name_and_a_topic():
    from shootlog.series.outcomes import TITLE, TOPIC

    assert set(TITLE) == set(TOPIC)


def test_the_page_of_a_series_asks_the_same_of_the_database_for_more_frames(
    as_person, sam, make_frame, django_assert_num_queries
):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    rows = [
        Series.objects.of_frames(
            owner=sam, kind="stack", frames=[make_frame(sam, pictures=True) for _ in range(count)]
        )
        for count in (2, 12)
    ]
    client = as_person(sam)
    addresses = [reverse("course:series", args=[row.pk]) for row in rows]
    for address in addresses:
        client.get(address)
    with CaptureQueriesContext(connection) as few:
        client.get(addresses[0])
    with django_assert_num_queries(len(few)):
        client.get(addresses[1])


def test_a_slice_that_is_sharp_in_its_own_place_alone_is_no_missed_focus(
    as_person, ines, weeks, group, sam, make_frame
):
    numbers = {"wanted_sharp_share": (0.0, "measured"), "sharp_share": (0.3, "measured")}

    def page_for(kind):
        exercise = Exercise.objects.create(week=weeks[0], title=kind, kind=kind)
        frame = make_frame(sam, pictures=True, numbers=numbers)
        row = HandIn.objects.hand_in(exercise=exercise, group=group, student=sam, frames=[frame])
        return page_of(as_person, ines, "course:look", row.pk)

    assert "of the place you wanted is sharp" in page_for("single")
    assert "of the place you wanted is sharp" not in page_for("stack")


# --- an approach ---


@pytest.fixture
def approach(weeks, group, sam, make_frame):
    exercise = Exercise.objects.create(week=weeks[0], title="The slow approach", kind="approach")
    for quantity, low in (("count", 4), ("magnification_step", 1.3)):
        Criterion.objects.create(exercise=exercise, kind="quantity", quantity=quantity, low=low)
    frames = [make_frame(sam, pictures=True, numbers={"magnification": m}) for m in (0.1, 0.15)]
    return exercise, frames


def test_the_factor_is_read_from_the_brief(as_person, sam, approach):
    exercise, frames = approach
    as_person(sam).post(
        reverse("course:hand-in", args=[exercise.pk]), {"frames": [f.pk for f in frames]}
    )
    row = Series.objects.get()
    assert row.told["factor"] == 1.3
    check_series(row)
    assert row.check_result["wanted_factor"] == 1.3


def test_the_animal_left_is_a_good_end(as_person, sam, approach, work):
    exercise, frames = approach
    as_person(sam).post(
        reverse("course:hand-in", args=[exercise.pk]), {"frames": [f.pk for f in frames]}
    )
    work()
    hand_in, row = HandIn.objects.get(), Series.objects.get()
    page_of(as_person, sam, "course:came-back", hand_in.pk)
    hand_in.refresh_from_db()
    assert hand_in.verdicts[0]["verdict"] == "not yet"  # two of four
    as_person(sam).post(reverse("course:animal-left", args=[row.pk]))
    work()
    page = page_of(as_person, sam, "course:came-back", hand_in.pk)
    hand_in.refresh_from_db()
    assert [v["verdict"] for v in hand_in.verdicts] == ["met", "met"]
    assert "The animal left: a good end." in page
    as_person(sam).post(reverse("course:animal-left", args=[row.pk]))
    work()
    page_of(as_person, sam, "course:came-back", hand_in.pk)
    hand_in.refresh_from_db()
    assert hand_in.verdicts[0]["verdict"] == "not yet"


# --- the plan beside ---


@pytest.fixture
def plan(sam):
    return KeptPlan.objects.create(
        owner=sam,
        name="12 frames by rail",
        asked={"subject_depth_mm": 5.0},
        found={"frames": 12, "step_mm": 0.5, "count": ["Begin.", "1 2 3"], "rows": []},
    )


@pytest.mark.parametrize("way", ["series", "plan"])
def test_a_plan_chosen_later_has_the_series_looked_at_again(as_person, sam, stack, plan, way):
    if way == "series":
        assert "The plan you counted" in page_of(as_person, sam, "course:series", stack.pk)
        sent = reverse("shootlog:plan-beside", args=[stack.pk]), {"plan": plan.pk}
    else:
        sent = reverse("planning:beside", args=[plan.pk]), {"series": stack.pk}
    as_person(sam).post(*sent)
    stack.refresh_from_db()
    assert stack.told["planned_step_mm"] == 0.5
    assert Job.objects.filter(task=read_series.module_path, args=[stack.pk]).exists()
    page = page_of(as_person, sam, "course:series", stack.pk)
    assert "12 frames by rail" in page
    assert "<td>between 2 and 3</td>" in page


def test_a_plan_chosen_while_handing_in_lies_beside_at_once(as_person, sam, weeks, plan, stack):
    exercise = Exercise.objects.create(week=weeks[0], title="A stack", kind="stack")
    frames = [place.frame_id for place in stack.places.all()]
    assert "The plan you counted" in page_of(as_person, sam, "course:hand-in", exercise.pk)
    as_person(sam).post(
        reverse("course:hand-in", args=[exercise.pk]), {"frames": frames, "plan": plan.pk}
    )
    plan.refresh_from_db()
    assert plan.series == HandIn.objects.get().series
    assert plan.series.told["planned_frames"] == 12


def test_the_plan_is_a_list_to_tick(as_person, sam, plan):
    page = page_of(as_person, sam, "planning:kept", plan.pk)
    assert page.count('<input type="checkbox" name="n"') == 3


def test_somebody_elses_plan_is_not_laid_beside(as_person, sam, noor, stack):
    other = KeptPlan.objects.create(owner=noor, name="hers", found={"step_mm": 9.0})
    as_person(sam).post(reverse("shootlog:plan-beside", args=[stack.pk]), {"plan": other.pk})
    stack.refresh_from_db()
    assert "planned_step_mm" not in stack.told


# --- the best aperture ---


def aperture_series(sam, make_frame, set_up, marked=True):
    numbers = [(4.0, 8.0), (5.6, 11.2), (8.0, 16.0), (11.0, 22.0)]
    frames = [
        make_frame(
            sam,
            set_up=set_up,
            numbers={"effective_f_number": worked} | ({"marked_f_number": ring} if marked else {}),
        )
        for ring, worked in numbers
    ]
    row = Series.objects.of_frames(owner=sam, kind="apertures", frames=frames)
    row.check_result = {
        "kind": "apertures",
        "frames": [{"file": str(f), "frame": f.pk, "taken_at": None} for f in frames],
        "f_numbers": [worked for _, worked in numbers],
        "f_number_kind": "effective",
        "best_f_number": 12.0,
        "findings": [],
    }
    return row


def test_the_best_aperture_is_kept_as_the_ring_shows_it(sam, make_frame):
    from shootlog.best_aperture import keep_best_aperture

    kept = KeptSetUp.objects.create(owner=sam, name="90 mm")
    keep_best_aperture(aperture_series(sam, make_frame, kept))
    kept.refresh_from_db()
    assert kept.best_f_number == 6.0  # f/12 at life size is f/6 on the ring


def test_it_is_kept_nowhere_where_the_ring_or_the_set_up_is_not_known(sam, make_frame):
    from shootlog.best_aperture import keep_best_aperture

    kept = KeptSetUp.objects.create(owner=sam, name="90 mm")
    assert keep_best_aperture(aperture_series(sam, make_frame, kept, marked=False)) is None
    assert keep_best_aperture(aperture_series(sam, make_frame, None)) is None
    kept.refresh_from_db()
    assert kept.best_f_number is None
