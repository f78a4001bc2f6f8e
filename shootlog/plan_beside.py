"""A stack plan laid beside what was shot: row by row, and the plan as a list to tick. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from shootlog.wording import figures

CANNOT_TELL = "can't tell"


@dataclass(frozen=True)
class Row:
    """One line of the comparison; `same` is None where it cannot be told."""

    words: str
    planned: str
    shot: str
    same: bool | None


def beside(
    found: Mapping[str, Any], asked: Mapping[str, Any], shot: Mapping[str, Any], frames: int
) -> list[Row]:
    """Return what was planned and what was shot; what cannot be known yet is left open."""
    planned = found.get("frames")
    rows = [
        Row(
            "Frames",
            str(planned) if planned else CANNOT_TELL,
            str(frames),
            frames >= int(planned) if planned else None,
        )
    ]
    if found.get("step_mm"):
        rows.append(_step(float(found["step_mm"]), shot.get("step_mm")))
    gaps = shot.get("gaps")
    rows.append(Row("Gaps", "none", _gaps(gaps), None if gaps is None else not gaps))
    rows.append(_end("Begins in front of the subject", shot.get("starts_in_front")))
    rows.append(_end("Ends at the back of it, in the air", shot.get("ends_behind")))
    depth = asked.get("subject_depth_mm")
    share = shot.get("covered_share")
    if depth:
        told = f"all {figures(float(depth))} mm"
        rows.append(
            Row(
                "Of the subject, sharp in some frame",
                told,
                CANNOT_TELL if share is None else f"{100 * share:.0f} %",
                None if share is None else share >= 0.995,
            )
        )
    return rows


def _step(planned_mm: float, shot_mm: Any) -> Row:
    known = isinstance(shot_mm, int | float)
    return Row(
        "Step",
        f"{figures(planned_mm)} mm",
        f"{figures(float(shot_mm))} mm" if known else CANNOT_TELL,
        abs(shot_mm / planned_mm - 1) <= 0.25 if known else None,
    )


def _gaps(gaps: Any) -> str:
    if gaps is None:
        return CANNOT_TELL
    if not gaps:
        return "none"
    return ", ".join(f"between {a} and {b}" for a, b in gaps)


def _end(words: str, answer: bool | None) -> Row:
    said = CANNOT_TELL if answer is None else "yes" if answer else "no"
    return Row(words, "yes", said, answer)


def to_count(found: Mapping[str, Any]) -> list[tuple[str, list[int]]]:
    """Return the lines to say aloud; of a line of numbers the numbers, to be ticked one by one."""
    lines: list[tuple[str, list[int]]] = []
    for line in found.get("count") or []:
        words = str(line).split()
        numbers = [int(word) for word in words if word.isdecimal()]
        lines.append((str(line), numbers if len(numbers) == len(words) else []))
    return lines
