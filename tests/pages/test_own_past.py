"""Series, own past and weeks in a real browser; the same acts without scripts."""

import pytest

from course.models import Criterion, Enrolment, Exercise, HandIn, Lesson, Week
from shootlog.models import Frame, KeptPlan, Series
from tests.pages.acts import press
from tests.pages.test_axe import ASK, AXE, PAPERS, TAGS, WIDTHS
from tests.shootlog.test_own_numbers import make_burst
from tests.shootlog.test_series_page import STACK

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def week(course):
    week = Week.objects.create(course=course, number=1, title="Slices")
    Lesson.objects.create(week=week, title="Slices", topics=["stacking", "exposure"])
    return week


@pytest.fixture
def stack(week, group, sam, make_frame):
    """A looked-at stack with a gap, handed in."""
    exercise = Exercise.objects.create(week=week, title="A stack", kind="stack")
    Criterion.objects.create(exercise=exercise, kind="quantity", quantity="count", low=3)
    frames = [make_frame(sam, pictures=True, caption=f"slice {k}") for k in (1, 2, 3)]
    row = Series.objects.of_frames(owner=sam, kind="stack", frames=frames, name="A beetle")
    named = [
        {"file": str(f), "frame": f.pk, "taken_at": "2026-05-03T09:10:00", "order": k + 1}
        for k, f in enumerate(frames)
    ]
    row.check_result, row.state = STACK | {"frames": named}, "ready"
    row.save()
    row.flags.create(finding="stack-gap", sure="measured")
    return HandIn.objects.hand_in(
        exercise=exercise, group=group, student=sam, frames=frames, series=row
    )


@pytest.fixture
def plan(sam):
    return KeptPlan.objects.create(
        owner=sam,
        name="12 frames by rail",
        asked={"subject_depth_mm": 5.0},
        found={
            "frames": 12,
            "way": "rail",
            "step_mm": 0.5,
            "count": ["Begin in the air.", "1 2 3 4 5 6 7 8 9 10", "11 12"],
            "rows": [],
        },
    )


@pytest.fixture
def looked(week, group, sam, make_frame):
    """A hand-in for an exercise that asks the student's own eye first."""
    exercise = Exercise.objects.create(week=week, title="Say why", self_check=True)
    Criterion.objects.create(exercise=exercise, kind="need", need="manual focus")
    frame = make_frame(sam, pictures=True, facts={"focus_mode": "manual"})
    return HandIn.objects.hand_in(exercise=exercise, group=group, student=sam, frames=[frame])


def test_what_was_counted_aloud_stays_ticked(open_as, sam, plan):
    page = open_as(sam, f"/plan/kept/{plan.pk}/")
    for number in ("1", "2"):
        page.get_by_role("checkbox", name=number, exact=True).check()
    page.reload()
    assert page.locator(".ticks input:checked").count() == 2
    page.get_by_role("button", name="Begin again").click()
    page.reload()
    assert page.locator(".ticks input:checked").count() == 0


def test_one_frame_at_a_time_by_touch_and_the_series_below(open_as, sam, stack):
    page = open_as(sam, f"/came-back/{stack.pk}/")
    assert page.locator("article.came-back").count() == 1
    page.get_by_role("link", name="Next", exact=True).click()
    page.wait_for_url("**?frame=2#frame")
    assert "slice 2" in page.locator("article.came-back").inner_text()
    assert "There is a gap between 2 and 3" in page.locator("section.series").inner_text()


def test_a_series_flag_is_not_so_in_one_tap(open_as, ines, stack):
    page = open_as(ines, f"/to-look-at/{stack.pk}/")
    press(page, "it was meant so")
    flag = stack.series.flags.get()
    assert flag.set_aside_why == "It was meant so"
    assert "There is a gap" not in page.locator("section.series").inner_text()


def test_the_same_acts_without_scripts(own_browser, sam, ines, stack, plan, looked, make_frame):
    plain = own_browser(java_script_enabled=False)
    # own eye first
    page = plain(sam, f"/came-back/{looked.pk}/")
    assert "In numbers" not in page.locator("main").inner_text()
    page.get_by_role("checkbox", name="Manual focus").check()
    page.fill("[name=self_seen]", "The edge is sharp.")
    press(page, "Now show me")
    said = page.locator("main").inner_text()
    assert "The edge is sharp." in said
    assert "Your own eye had said: met." in said
    # the plan beside the stack
    page = plain(sam, f"/log/series/{stack.series_id}/")
    page.select_option("[name=plan]", str(plan.pk))
    press(page, "Lay it beside")
    assert page.locator("table.planned").count() == 1
    # the plan can be ticked without scripts too
    page = plain(sam, f"/plan/kept/{plan.pk}/")
    page.get_by_role("checkbox", name="12", exact=True).check()
    # an offer, taken with one tap
    frames = [make_frame(sam, pictures=True) for _ in range(3)]
    offer = Series.objects.of_frames(owner=sam, kind="approach", frames=frames, why="closer")
    Series.objects.filter(pk=offer.pk).update(confirmed=False)
    page = plain(sam, "/log/")
    press(page, "They belong together")
    press(page, "The animal left")
    offer.refresh_from_db()
    assert offer.confirmed
    assert offer.animal_left
    # the companion
    page = plain(sam, "/log/my-numbers/companion/")
    page.locator("input[name=frames]").first.check()
    press(page, "Keep")
    assert page.locator(".through-weeks li").count() == 1
    assert Frame.objects.filter(told__companion=True).count() == 1
    # the instructor: not so, with a reason
    page = plain(ines, f"/to-look-at/{stack.pk}/")
    press(page, "the picture shows otherwise")
    assert stack.series.flags.get().set_aside_why == "The picture shows otherwise"


@pytest.mark.parametrize(
    "width", [320, *(pytest.param(width, marks=pytest.mark.slow) for width in (768, 1440))]
)
def test_no_page_is_wider_than_the_screen(
    open_as, page, ines, sam, group, stack, plan, looked, make_frame, width
):
    make_burst(sam, make_frame, 3)
    make_burst(sam, make_frame, 6, day=24)
    for _ in range(4):
        make_frame(sam, pictures=True, told={"companion": True})
    enrolment = Enrolment.objects.get(user=sam)
    page.set_viewport_size({"width": width, "height": 800})
    of_sam = [
        "/log/my-numbers/",
        "/log/my-numbers/companion/",
        "/log/set-ups/",
        "/my-weeks/",
        f"/log/series/{stack.series_id}/",
        f"/came-back/{stack.pk}/",
        f"/came-back/{looked.pk}/",
        f"/plan/kept/{plan.pk}/",
    ]
    of_ines = [f"/groups/{group.pk}/weeks/{enrolment.pk}/", f"/to-look-at/{stack.pk}/"]
    for person, paths in ((sam, of_sam), (ines, of_ines)):
        for path in paths:
            open_as(person, path)
            wider = page.evaluate("document.documentElement.scrollWidth - innerWidth")
            assert wider <= 0, f"{path} is {wider} px wider than {width} px"


@pytest.mark.slow
def test_full_pages_have_no_violation_on_any_paper(
    open_as, page, ines, sam, group, stack, plan, looked, make_frame
):
    """The pages as people have them, with plots, tables, held and set-aside findings."""
    make_burst(sam, make_frame, 3)
    burst = make_burst(sam, make_frame, 6, day=24)
    for _ in range(4):
        make_frame(sam, pictures=True, told={"companion": True}, flags=["stripped-file"])
    stack.series.flags.create(finding="stack-order", sure="measured").set_aside(by=ines, why="x")
    enrolment = Enrolment.objects.get(user=sam)
    of_sam = [
        "/log/",
        "/log/my-numbers/",
        "/log/my-numbers/companion/",
        "/log/set-ups/",
        "/my-weeks/",
        f"/log/series/{stack.series_id}/",
        f"/log/series/{burst.pk}/",
        f"/came-back/{stack.pk}/",
        f"/came-back/{looked.pk}/",
        f"/plan/kept/{plan.pk}/",
    ]
    of_ines = [f"/groups/{group.pk}/weeks/{enrolment.pk}/", f"/to-look-at/{stack.pk}/"]
    found = {}
    for person, paths in ((sam, of_sam), (ines, of_ines)):
        for path in paths:
            open_as(person, path)
            page.evaluate("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
            page.evaluate(AXE)
            for width in WIDTHS:
                page.set_viewport_size({"width": width, "height": 900})
                for paper in PAPERS:
                    for words in page.evaluate(ASK, [paper, TAGS]):
                        found.setdefault(path, set()).add(words)
    assert found == {}


@pytest.mark.slow
def test_a_page_that_waits_asks_again_but_not_while_somebody_writes(
    open_as, sam, group, week, stack, make_frame
):
    Series.objects.filter(pk=stack.series_id).update(state="waiting")
    page = open_as(sam, f"/log/series/{stack.series_id}/")
    assert "Come back in a moment" in page.locator("main").inner_text()
    Series.objects.filter(pk=stack.series_id).update(state="ready")
    page.get_by_text("Come back in a moment").wait_for(state="detached", timeout=15_000)
    exercise = Exercise.objects.create(week=week, title="Look", self_check=True)
    unread = make_frame(sam, state="waiting")
    row = HandIn.objects.hand_in(exercise=exercise, group=group, student=sam, frames=[unread])
    page = open_as(sam, f"/came-back/{row.pk}/")
    page.fill("[name=self_seen]", "The left edge.")
    page.locator("h1").click()  # the field is left, its words are still there
    page.wait_for_timeout(7000)
    assert page.input_value("[name=self_seen]") == "The left edge."
