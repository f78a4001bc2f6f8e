"""One main point for a frame, at most two more beside it (teaching rule R1). Pure.

File trouble first: nothing else can be trusted before the original is there. Then, in this order:
what this week's brief is about, how sure it is, how much it changes the picture, and whether
there is something to do about it tomorrow. Never by how many there are.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from shootlog.findings import finding
from shootlog.findings.base import Outcome

AT_MOST_BESIDE = 2
SURENESS = {"measured": 0, "told": 1, "likely": 2, "cannot tell": 3}


@dataclass(frozen=True)
class Points:
    main: Outcome | None
    beside: Sequence[Outcome] = ()


def main_point(
    outcomes: Sequence[Outcome],
    brief_topics: Collection[str] = (),
    *,
    taught: Collection[str] | None = None,
    quiet: Collection[str] = (),
) -> Points:
    """Choose the one thing to say; `taught` holds back untaught topics, `quiet` named findings.

    `taught` of None holds nothing back: that is what the instructor sees.
    """
    said = [
        o
        for o in outcomes
        if o.answer == "yes"
        and o.finding not in quiet
        and (taught is None or o.topic in taught or _file_trouble(o))
    ]
    ordered = sorted(said, key=lambda o: _rank(o, brief_topics))
    return Points(ordered[0] if ordered else None, tuple(ordered[1 : 1 + AT_MOST_BESIDE]))


def _file_trouble(outcome: Outcome) -> bool:
    about = finding(outcome.finding)
    return bool(about and about.file_trouble)


def _rank(outcome: Outcome, brief_topics: Collection[str]) -> tuple[bool, bool, int, float, bool]:
    about = finding(outcome.finding)
    return (
        outcome.finding != "stripped-file",
        outcome.topic not in brief_topics,
        SURENESS[outcome.sure],
        -(about.weight if about else 0.0),
        not outcome.remedy,
    )
