"""Weeks by topics: the last hand-in counts, a week without one is not there."""

import pytest
from django.urls import reverse

from course.brief_rows import NEEDS, brief_quantities
from course.models import Criterion, Enrolment, Exercise, HandIn, Lesson, Week
from course.progress import (
    FADE_AFTER,
    TOPIC_OF,
    Cell,
    Row,
    as_lines,
    faded,
    faded_topics,
    topic_of,
    weeks_by_topics,
)


def row(week, topic, verdict, hand_in=1, exercise=1):
    return Row(week=week, topic=topic, verdict=verdict, hand_in=hand_in, exercise=exercise)


def test_the_reshoot_stands_for_the_first_try():
    rows = [row(2, "magnification", "not yet", 1), row(2, "magnification", "met", 5)]
    assert weeks_by_topics(rows) == [Cell(2, "magnification", "met")]


def test_one_row_not_yet_keeps_the_topic_open():
    rows = [row(2, "m", "met"), row(2, "m", "not yet"), row(2, "m", "can't tell")]
    assert weeks_by_topics(rows) == [Cell(2, "m", "not yet")]
    assert weeks_by_topics([*rows[:1], rows[2]]) == [Cell(2, "m", "can't tell")]


def test_a_missed_week_is_left_out():
    rows = [row(3, "b", "met", 2, 2), row(1, "a", "met", 1, 1)]
    assert [(c.week, c.topic) for c in weeks_by_topics(rows)] == [(1, "a"), (3, "b")]
    assert weeks_by_topics([]) == []


def test_a_hint_fades_after_it_was_met_three_times():
    rows = [row(k, "a", "met", k, k) for k in range(1, FADE_AFTER + 1)]
    assert faded(rows, "a")
    assert not faded(rows[:-1], "a")
    assert not faded(rows, "b")


def test_a_table_has_a_line_a_topic_in_the_order_they_are_taught():
    cells = [Cell(1, "shake", "met"), Cell(3, "light", "met"), Cell(3, "shake", "not yet")]
    weeks, lines = as_lines(cells, {"light": 1, "shake": 2})
    assert weeks == [1, 3]  # no second week: nothing is shown as missing
    assert [(line.topic, line.cells) for line in lines] == [
        ("light", [None, cells[1]]),
        ("shake", [cells[0], cells[2]]),
    ]


def test_every_row_named_here_can_be_asked_by_a_brief():
    assert set(TOPIC_OF) <= set(brief_quantities()) | set(NEEDS)


def test_a_count_of_frames_is_about_what_the_series_is_about():
    assert topic_of("count", "stack") == "stacking"
    assert topic_of("count", "single") == ""
    assert topic_of("manual focus", "stack") == "focus-by-moving"


def test_topics_are_those_of_the_shipped_lessons():
    import tomllib
    from pathlib import Path

    folder = Path(__file__).parents[2] / "fixtures" / "demo" / "course"
    taught = set()
    for path in folder.glob("week-*/lesson-*.md"):
        taught |= set(tomllib.loads(path.read_text().split("+++")[1])["topics"])
    from course.progress import TOPIC_OF_KIND
    from shootlog.series.outcomes import TOPIC

    assert set(TOPIC_OF.values()) <= taught
    assert set(TOPIC_OF_KIND.values()) <= taught
    assert set(TOPIC.values()) <= taught  # or a series finding would never wait


# --- the pages ---


@pytest.fixture
def three_weeks(course, group, sam, make_frame):
    """Sam handed in for three weeks, each asking for manual focus."""
    rows = []
    for number in (1, 2, 4):
        week = Week.objects.create(course=course, number=number, title=f"No. {number}")
        exercise = Exercise.objects.create(week=week, title=f"Exercise {number}")
        Criterion.objects.create(exercise=exercise, kind="need", need="manual focus")
        Lesson.objects.create(week=week, title="L", topics=["focus-by-moving"])
        frame = make_frame(sam, pictures=True, facts={"focus_mode": "manual"})
        rows.append(
            HandIn.objects.hand_in(exercise=exercise, group=group, student=sam, frames=[frame])
        )
    return rows


@pytest.mark.django_db
def test_own_weeks_stand_as_a_table_and_in_words(as_person, sam, three_weeks):
    page = as_person(sam).get(reverse("course:my-weeks")).text
    assert "Week 1" in page
    assert "Week 3" not in page
    assert page.count("verdict-met") == 3
    assert "Focus by moving: met." in page


@pytest.mark.django_db
def test_the_instructor_sees_one_student_and_the_names_in_their_order(
    as_person, ines, sam, noor, group, three_weeks
):
    enrolment = Enrolment.objects.get(user=sam)
    page = as_person(ines).get(reverse("course:progress-of", args=[group.pk, enrolment.pk])).text
    assert "Sam: weeks by topics" in page
    assert page.count("verdict-met") == 3
    assert page.index(">Noor</a>") < page.index(">Sam</a>")


@pytest.mark.django_db
@pytest.mark.parametrize("whose", ["own", "of a student"])
def test_queries_do_not_grow_with_the_hand_ins(
    as_person, ines, sam, group, three_weeks, make_frame, django_assert_num_queries, whose
):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    enrolment = Enrolment.objects.get(user=sam)
    user, address = {
        "own": (sam, reverse("course:my-weeks")),
        "of a student": (ines, reverse("course:progress-of", args=[group.pk, enrolment.pk])),
    }[whose]
    client = as_person(user)
    client.get(address)
    with CaptureQueriesContext(connection) as before:
        client.get(address)
    count = len(before)
    for row in three_weeks:
        for _ in range(4):
            HandIn.objects.hand_in(
                exercise=row.exercise,
                group=group,
                student=sam,
                frames=[make_frame(sam, facts={"focus_mode": "manual"})],
            )
    client.get(address)  # judged here, once
    with django_assert_num_queries(count):
        client.get(address)


def test_topics_met_three_times_fade():
    rows = [row(k, "a", "met", k, k) for k in range(1, FADE_AFTER + 1)] + [row(1, "b", "met")]
    assert faded_topics(rows) == {"a"}


@pytest.mark.django_db
def test_a_hint_on_a_topic_met_three_times_waits_to_be_asked_for(
    as_person, ines, sam, group, three_weeks, make_frame
):
    exercise = Exercise.objects.create(week=three_weeks[0].exercise.week, title="Again")
    numbers = {
        "wanted_sharp_share": (0.0, "measured"),
        "sharp_share": (0.2, "measured"),
    }
    frame = make_frame(sam, pictures=True, numbers=numbers, flags=["missed-focus"])
    hand_in = HandIn.objects.hand_in(exercise=exercise, group=group, student=sam, frames=[frame])
    from course.what_is_told import prints_for_student

    HandIn.objects.judge()
    row = HandIn.objects.filter(pk=hand_in.pk).for_print().get()
    assert prints_for_student(row)[0].faded == {"focus-by-moving"}


def test_what_is_faded_is_folded_and_still_there():
    from django.template import Context, Template

    from shootlog.findings.base import Outcome

    outcome = Outcome("shake", "yes", "measured", {}, "Nine pixels.", "Rest it.", (), "shake")
    said = Template("{% load loop %}{% said outcome faded %}")
    folded = said.render(Context({"outcome": outcome, "faded": {"shake"}}))
    assert "<summary>What to try</summary>" in folded
    assert "Rest it." in folded
    assert "<summary>" not in said.render(Context({"outcome": outcome, "faded": {"iso"}}))
