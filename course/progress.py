"""Weeks by topics, from plain rows: what was met, where, and how it changed. Pure.

Only one's own past stands here: no sums over people, no shares of correctness, and a week without
a hand-in is simply not there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

FADE_AFTER = 3  # met so often, a hint gives way to the number alone (teaching rule R10)

#: What each row of a brief is about, in the topics of lessons.
TOPIC_OF = {
    "magnification": "magnification",
    "magnification_step": "magnification",
    "subject_width_mm": "magnification",
    "ruler_tilt_deg": "magnification",
    "ruler frame": "magnification",
    "f_number": "effective-aperture",
    "marked_f_number": "effective-aperture",
    "effective_f_number": "effective-aperture",
    "f_number_count": "effective-aperture",
    "light_lost_stops": "light-loss",
    "depth_of_field_mm": "depth-of-field",
    "sharp_share": "depth-of-field",
    "wanted_sharp_share": "focus-by-moving",
    "manual focus": "focus-by-moving",
    "smear_px": "shake",
    "tripod": "shake",
    "exposure_s": "exposure",
    "exposure_bias_ev": "exposure",
    "exposure_spread_ev": "exposure",
    "mean_luminance": "exposure",
    "manual exposure": "exposure",
    "same exposure": "exposure",
    "iso": "iso",
    "clipped_share": "highlights",
    "clipped_in_sharp_share": "highlights",
    "blocked_share": "shadows",
    "contrast": "light",
    "light directions": "light",
    "uncropped original": "original-file",
}
#: What a series of each kind is about where the row itself names no topic, as a count of frames.
TOPIC_OF_KIND = {
    "stack": "stacking",
    "apertures": "effective-aperture",
    "light": "light",
    "approach": "approach",
    "burst": "focus-by-moving",
    "ladder": "magnification",
    "landscape": "landscape-stack",
}


@dataclass(frozen=True, kw_only=True)
class Row:
    """One verdict of one hand-in."""

    week: int
    topic: str
    verdict: str  # "met", "not yet", "can't tell"
    hand_in: int  # a later one of the same exercise stands for the earlier
    exercise: int


@dataclass(frozen=True)
class Cell:
    """One week's standing in one topic."""

    week: int
    topic: str
    verdict: str


@dataclass(frozen=True)
class Line:
    """One topic over the weeks; None where a week asked nothing of it."""

    topic: str
    cells: list[Cell | None]


def topic_of(asked: str, exercise_kind: str) -> str:
    """Return the topic of a brief's row by its quantity or need; empty where it has none."""
    return TOPIC_OF.get(asked) or TOPIC_OF_KIND.get(exercise_kind, "")


def in_words(topic: str) -> str:
    return topic.replace("-", " ")


def weeks_by_topics(rows: Sequence[Row]) -> list[Cell]:
    """Return one cell for each week and topic handed in for, in order.

    The last hand-in of an exercise counts; a topic is met in a week where all its rows are, not
    yet where one is, and can't tell otherwise.
    """
    last: dict[int, int] = {}
    for row in rows:
        last[row.exercise] = max(row.hand_in, last.get(row.exercise, row.hand_in))
    said: dict[tuple[int, str], set[str]] = {}
    for row in rows:
        if row.hand_in == last[row.exercise]:
            said.setdefault((row.week, row.topic), set()).add(row.verdict)
    return [Cell(*place, _joined(verdicts)) for place, verdicts in sorted(said.items())]


def as_lines(cells: Sequence[Cell], taught_in: Mapping[str, int]) -> tuple[list[int], list[Line]]:
    """Lay cells out as a table: the weeks, and a line a topic in the order they are taught."""
    weeks = sorted({cell.week for cell in cells})
    by_place = {(cell.topic, cell.week): cell for cell in cells}
    topics = sorted(
        {cell.topic for cell in cells},
        key=lambda topic: (taught_in.get(topic, 1000), topic),
    )
    return weeks, [
        Line(in_words(topic), [by_place.get((topic, week)) for week in weeks]) for topic in topics
    ]


def _joined(verdicts: set[str]) -> str:
    for verdict in ("not yet", "can't tell"):
        if verdict in verdicts:
            return verdict
    return "met"


def faded(rows: Sequence[Row], topic: str) -> bool:
    """Say whether a topic was met so often that its hint waits to be asked for."""
    met = {row.hand_in for row in rows if row.topic == topic and row.verdict == "met"}
    return len(met) >= FADE_AFTER


def faded_topics(rows: Sequence[Row]) -> set[str]:
    return {row.topic for row in rows if faded(rows, row.topic)}
