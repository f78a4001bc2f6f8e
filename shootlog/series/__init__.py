"""Series of frames: what lies between the frames. Pure: opens nothing, knows no database.

`check(kind, shots, told)` gives what `manage.py series` prints; one module a kind.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from shootlog.series import apertures, approach, burst, landscape, light, stack
from shootlog.series.as_given import nothing_between, troubles
from shootlog.series.shot import Shot, in_time_order

KINDS = {
    "stack": stack.check,
    "apertures": apertures.check,
    "light": light.check,
    "approach": approach.check,
    "burst": burst.check,
    "landscape": landscape.check,
}


def check(
    kind: str, shots: Sequence[Shot], told: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    """Return what the frames of a series say together, as plain values.

    `told` may hold what the student said: planned_step_mm, subject_depth_mm, subject_box,
    directions, factor. `trouble` in the result says what is odd about the frames as given.
    """
    if kind not in KINDS:
        raise ValueError(f"kind = {kind!r}; give one of {', '.join(KINDS)}")
    if not shots:
        raise ValueError("a series needs frames; none could be read")
    ordered, timed = in_time_order(shots)
    result = KINDS[kind](ordered, _in_their_order(dict(told or {}), shots, ordered), timed)
    none = nothing_between(ordered)
    if none:  # one frame or the same again: nothing can have gone right or wrong between them
        return result | {"findings": [], "words": none, "trouble": none}
    return result | {"trouble": " ".join(troubles(ordered, timed))}


def _in_their_order(
    told: dict[str, Any], shots: Sequence[Shot], ordered: Sequence[Shot]
) -> dict[str, Any]:
    """Directions are told frame by frame as given; time may put the frames in another order."""
    directions = list(told.get("directions") or [])
    if directions:
        of = {id(shot): word for shot, word in zip(shots, directions, strict=False)}
        told["directions"] = [of.get(id(shot)) for shot in ordered]
    return told
