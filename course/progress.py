"""Weeks by topics, from plain rows: what was met, where, and how it changed. Pure.

Only one's own past stands here: no sums over people, no shares of correctness, and a week without
a hand-in is simply not there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

FADE_AFTER = 3  # met so often, a hint gives way to the number alone (teaching rule R10)


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


def _joined(verdicts: set[str]) -> str:
    for verdict in ("not yet", "can't tell"):
        if verdict in verdicts:
            return verdict
    return "met"


def faded(rows: Sequence[Row], topic: str) -> bool:
    """Say whether a topic was met so often that its hint waits to be asked for."""
    met = {row.hand_in for row in rows if row.topic == topic and row.verdict == "met"}
    return len(met) >= FADE_AFTER
