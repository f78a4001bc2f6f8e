"""An approach: each frame larger than the one before. 'The animal left' is a good end too."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from optics.evidence.approach import scale_between
from shootlog.series.exposure import exposure
from shootlog.series.outcomes import outcome
from shootlog.series.shot import Shot, common, rounded

FACTOR = 1.2  # per step, unless the exercise says otherwise
SLACK = 0.03  # scale is told to 3 per cent


def check(shots: Sequence[Shot], told: Mapping[str, Any], timed: bool) -> dict[str, Any]:
    """Say what `manage.py series approach` says of frames in time order."""
    wanted = float(told.get("factor") or FACTOR)
    steps, origins = [], []
    for first, second in zip(shots, shots[1:], strict=False):
        step, origin = _step(first, second)
        steps.append(step)
        origins.append(origin)
    known = [s for s in steps if s is not None]
    rising = None if len(known) < len(steps) or not steps else all(s >= 1 + SLACK for s in known)
    full = None if rising is None else all(s >= wanted * (1 - SLACK) for s in known)
    found = outcome("approach-step", "cannot tell", "cannot tell", "The scale can't be told.")
    if full is not None:
        small = [k + 1 for k, s in enumerate(known) if s < wanted * (1 - SLACK)]
        words = (
            f"From frame {small[0]} to the next it grew {known[small[0] - 1]:.2f} times."
            if small
            else ""
        )
        remedy = f"Come closer by {wanted:g} times a step, as far as it lets you." if small else ""
        found = outcome(
            "approach-step",
            "yes" if small else "no",
            "measured",
            words,
            remedy,
            smallest=min(known),
            limit=wanted,
        )
    sentence = (
        "Each frame is larger than the one before." if rising else "The frames do not all grow."
    )
    return (
        common(shots, timed)
        | exposure(shots).as_json()
        | {
            "kind": "approach",
            "scale_steps": [rounded(s, 3) for s in steps],
            "scale_from": origins,
            "rising": rising,
            "wanted_factor": wanted,
            # as the last frame's own reading has it; only of a frame whose pixels were read
            "last_sharp_share": rounded(shots[-1].reading.value("wanted_sharp_share")),
            "seconds_between": _seconds(shots) if timed else [None] * len(steps),
            "moved": [],
            "findings": [found.as_json()],
            "words": found.words or ("The scale can't be told." if rising is None else sentence),
        }
    )


def _step(first: Shot, second: Shot) -> tuple[float | None, str | None]:
    """Scale from the pictures where they match, else from the two magnifications."""
    measured = None
    if first.luma.shape == second.luma.shape:
        measured = scale_between(first.luma, second.luma)
    if measured is not None:
        return measured, "measured"
    a, b = first.magnification, second.magnification
    return (b / a, "worked out") if a and b else (None, None)


def _seconds(shots: Sequence[Shot]) -> list[float | None]:
    at = [dt.datetime.fromisoformat(str(s.recorded.taken_at)) for s in shots]
    return [(b - a).total_seconds() for a, b in zip(at, at[1:], strict=False)]
