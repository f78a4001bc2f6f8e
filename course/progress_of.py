"""Gathers one student's weeks from their hand-ins, in a fixed number of queries."""

from dataclasses import dataclass

from course.models import HandIn, Lesson
from course.progress import Line, Row, as_lines, in_words, topic_of, weeks_by_topics


@dataclass(frozen=True)
class WeekOfMine:
    """The text twin: one week in words."""

    week: object
    said: list  # (topic, verdict)
    hand_ins: list


@dataclass(frozen=True)
class Progress:
    weeks: list[int]
    lines: list[Line]
    in_words: list[WeekOfMine]


def rows_of(hand_ins):
    """One row a verdict; what a row of the brief is about decides its topic.

    What the student has not looked at first is not told here either.
    """
    rows = []
    for hand_in in hand_ins:
        if hand_in.waits_for_own_look:
            continue
        exercise = hand_in.exercise
        asked = {c.in_words: c.quantity or c.need for c in exercise.criteria.all()}
        for verdict in hand_in.verdicts or []:
            topic = topic_of(asked.get(verdict["criterion"], ""), exercise.kind)
            if topic:
                rows.append(
                    Row(
                        week=exercise.week.number,
                        topic=topic,
                        verdict=verdict["verdict"],
                        hand_in=hand_in.pk,
                        exercise=exercise.pk,
                    )
                )
    return rows


def hand_ins_of(student, group):
    """A student's standing hand-ins in a group with what progress asks of them, oldest first."""
    return list(
        HandIn.objects.handed_in_by(student)
        .standing()
        .filter(group=group)
        .select_related("exercise__week")
        .prefetch_related("exercise__criteria", "crits")
        .order_by("handed_in_at", "pk")
    )


def progress_of(student, group):
    """One student's weeks by topics in one group."""
    hand_ins = hand_ins_of(student, group)
    cells = weeks_by_topics(rows_of(hand_ins))
    weeks, lines = as_lines(cells, _taught_in(group))
    return Progress(weeks, lines, _weeks_in_words(hand_ins, cells))


def _taught_in(group):
    """The first week of the course that teaches each topic."""
    lessons = Lesson.objects.filter(week__course=group.course_id).order_by("week__number")
    found = {}
    for number, topics in lessons.values_list("week__number", "topics"):
        for topic in topics:
            found.setdefault(topic, number)
    return found


def _weeks_in_words(hand_ins, cells):
    by_week = {}
    for hand_in in hand_ins:
        by_week.setdefault(hand_in.exercise.week.number, []).append(hand_in)
    return [
        WeekOfMine(
            those[0].exercise.week,
            [(in_words(cell.topic), cell.verdict) for cell in cells if cell.week == number],
            those,
        )
        for number, those in sorted(by_week.items())
    ]
