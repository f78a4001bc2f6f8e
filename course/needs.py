"""Why a hand-in stands where it stands on the instructor's table. Pure: no Django.

The numbers are the order: who has been kept waiting comes first, then who asked, then what only
a person can settle, then what the reading already answers.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import IntEnum


class Need(IntEnum):
    CLASS_PASSED = 1
    ASKED = 2
    PAIR = 3
    UNREADABLE = 4
    FILE = 5
    CANNOT_TELL = 6
    PLEASE_CHECK = 7
    FLAGGED = 8
    A_WORD = 9
    BEING_READ = 10
    RELEASE = 11


def reason(
    need: int,
    *,
    unsure: str = "",
    file_name: str = "",
    questions: Sequence[str] = (),
    findings: Sequence[str] = (),
) -> str:
    """One sentence, in words, why this print waits for a person."""
    asked = _and(questions)
    found = _and(findings)
    return {
        Need.CLASS_PASSED: "A class has passed since it came in, and nothing was said yet.",
        Need.ASKED: f"Asks: “{_short(unsure)}”",
        Need.PAIR: "A reshoot came back: the pair is ready to look at.",
        Need.UNREADABLE: f"{file_name or 'A file'} cannot be opened here; it needs your eyes.",
        Need.FILE: f"{file_name or 'A file'}: {found or 'something about the file'}.",
        Need.CANNOT_TELL: f"Can't tell from the file: {asked or 'part of the brief'}.",
        Need.PLEASE_CHECK: f"Likely, please check: {found or 'one finding'}.",
        Need.FLAGGED: f"Found: {found or 'one thing'}.",
        Need.A_WORD: "Nothing stands out in the numbers. It waits for your word.",
        Need.BEING_READ: "Still being read.",
        Need.RELEASE: "Your words are written and not released yet.",
    }[Need(need)]


def _and(words: Sequence[str]) -> str:
    words = [w for w in words if w]
    if len(words) > 3:
        words = [*words[:2], f"{len(words) - 2} more"]
    return " and ".join(words) if len(words) < 3 else f"{', '.join(words[:-1])} and {words[-1]}"


def _short(words: str, at_most: int = 90) -> str:
    words = " ".join(words.split())
    return words if len(words) <= at_most else words[: at_most - 1].rstrip() + "…"
