"""A week with an exercise, and a way to hand something in for it."""

import pytest

from course.models import Criterion, Exercise, HandIn, Week


@pytest.fixture
def week(course):
    return Week.objects.create(course=course, number=1, title="Getting close")


@pytest.fixture
def exercise(week):
    return Exercise.objects.create(week=week, title="A seed head")


@pytest.fixture
def asks_for(exercise):
    """Return a function that adds a criterion to the exercise."""

    def add(**values):
        kind = "need" if "need" in values else "quantity"
        return Criterion.objects.create(exercise=exercise, kind=kind, **values)

    return add


@pytest.fixture
def hand_in(exercise, group, make_frame):
    """Return a function that hands a frame in for the exercise."""

    def hand(student, *, frames=None, **said):
        values = {"exercise": exercise, "group": group, "student": student} | said
        return HandIn.objects.hand_in(frames=frames or [make_frame(student)], **values)

    return hand
