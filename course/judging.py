"""Asks an exercise's brief of a hand-in's readings and keeps the answers as plain values."""

from course.brief import judge
from shootlog.findings import examine


def verdicts_of(hand_in):
    """One verdict per criterion, over all frames of the hand-in together."""
    readings = [place.frame.what_was_read for place in hand_in.places.all()]
    readings = [reading for reading in readings if reading]
    if not readings:
        return []
    rows = [criterion.as_row() for criterion in hand_in.exercise.criteria.all()]
    limits = limits_for(hand_in.exercise)
    outcomes = [examine(reading, limits=limits) for reading in readings]
    return [verdict.as_json() for verdict in judge(rows, readings, outcomes)]


def limits_for(exercise):
    """Lines moved for the course, then for the exercise: {"diffraction": 6.0}."""
    moved = exercise.week.course.limits | exercise.limits
    return {slug: line["limit"] if isinstance(line, dict) else line for slug, line in moved.items()}
