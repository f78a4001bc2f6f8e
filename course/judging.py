"""Asks an exercise's brief of a hand-in's readings and keeps the answers as plain values."""

from dataclasses import replace

from course.brief import Verdict, facts_of, judge
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
    facts = known_better(facts_of(readings), hand_in.series)
    verdicts = judge(rows, readings, outcomes, series=facts)
    if hand_in.series and hand_in.series.animal_left:
        verdicts = [_excused(row, said) for row, said in zip(rows, verdicts, strict=True)]
    return [verdict.as_json() for verdict in verdicts]


def _excused(row, verdict):
    """An animal that left ends an approach well: neither more frames nor larger ones are asked."""
    if row.quantity in ("count", "magnification_step") and verdict.verdict != "met":
        return Verdict(verdict.criterion, "met", "The animal left: a good end.")
    return verdict


def known_better(facts, series):
    """Put what was measured between the frames in place of what their files say one by one.

    The spread of the exposure is seen in the pixels: a flash that did not recharge stands in no
    file. The steps of an approach are measured where the pictures match. A study of light is
    compared by its dials alone, since its light is meant to change.
    """
    check = series.check_result if series else None
    if not check:
        return facts
    better = {}
    if series.kind in ("stack", "landscape") and check.get("exposure_spread_ev") is not None:
        told = facts.exposure_spread_ev or 0.0
        better["exposure_spread_ev"] = max(told, _jumped_ev(check))
    steps = check.get("scale_steps") or []
    if steps and all(steps):
        better["magnification_step"] = min(steps)
    return replace(facts, **better)


def _jumped_ev(check):
    """The spread where the light jumped; a drift of the frame's own content is no exposure."""
    return check["exposure_spread_ev"] if check["exposure_jumps"] else 0.0


def limits_for(exercise):
    """Lines moved for the course, then for the exercise: {"diffraction": 6.0}."""
    moved = exercise.week.course.limits | exercise.limits
    return {slug: line["limit"] if isinstance(line, dict) else line for slug, line in moved.items()}
