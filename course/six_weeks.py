"""The shorter cut of a course: weeks that fall into the same one become one. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import groupby

from course.course_text import CourseText, WeekText


def has_shorter_cut(course: CourseText) -> bool:
    return any(week.in_six_weeks for week in course.weeks)


def in_six_weeks(course: CourseText) -> CourseText:
    """Return the course with its weeks laid together as each says; every page stays."""
    numbered = [(week.in_six_weeks or k, week) for k, week in enumerate(course.weeks, 1)]
    together = groupby(sorted(numbered, key=lambda one: one[0]), key=lambda one: one[0])
    return replace(course, weeks=[_one([week for _, week in some]) for _, some in together])


def _one(weeks: list[WeekText]) -> WeekText:
    first = weeks[0]
    if len(weeks) == 1:
        return replace(first, in_six_weeks=0, six_weeks_title="")
    return replace(
        first,
        title=next((w.six_weeks_title for w in weeks if w.six_weeks_title), first.title),
        aim=_joined(w.aim for w in weeks),
        demonstration=_joined(w.demonstration for w in weeks),
        problems=_joined((w.problems for w in weeks), "\n"),
        sayings=_joined((w.sayings for w in weeks), "\n"),
        in_six_weeks=0,
        six_weeks_title="",
        hidden=all(w.hidden for w in weeks),
        lessons=[lesson for w in weeks for lesson in w.lessons],
        exercises=[exercise for w in weeks for exercise in w.exercises],
    )


def _joined(texts: Iterable[str], by: str = " ") -> str:
    return by.join(text for text in texts if text)
