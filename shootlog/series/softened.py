"""Frames of a stack that are softer than both their neighbours: something moved while they lasted.

As the focus travels past a place, it grows sharp once and soft again. A place that is softer in
one frame than in the frame before and in the frame after was blurred by a movement.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shootlog.findings.base import Outcome
from shootlog.series.outcomes import outcome
from shootlog.series.shot import Array

LEAST_DIP = 0.15  # of the logarithm, below both neighbours
LEAST_RANGE = 0.5  # of a place's logarithm over the stack, to come into focus at all
NEAR = 1.0  # of the logarithm below a place's sharpest: it is near its focus
LEAST_PLACES = 30
LIMIT_SHARE = 0.3  # of the places near their focus; rendered stacks held still reach 0.09
DARK = 0.5


def softened(maps: Array) -> list[int]:
    """Frames (from 1) in which most of what is near focus is softer than before and after.

    The first and the last frame have one neighbour only and are never named.
    """
    if len(maps) < 3:
        return []
    with np.errstate(invalid="ignore"):
        level = np.log(maps[:, np.isfinite(maps).all(axis=0)] + DARK)
    level = level[:, np.ptp(level, axis=0) > LEAST_RANGE]
    if level.shape[1] < LEAST_PLACES:
        return []
    lower = np.minimum(level[:-2], level[2:])
    near = lower > level.max(axis=0) - NEAR
    dips = near & (lower - level[1:-1] > LEAST_DIP)
    places = near.sum(axis=1)
    share = dips.sum(axis=1) / np.maximum(places, 1)
    found = np.flatnonzero((places >= LEAST_PLACES) & (share > LIMIT_SHARE))
    return [int(k) + 2 for k in found]


def outcome_of(found: Sequence[int]) -> Outcome:
    """Say which frames are softer than their neighbours."""
    if not found:
        return outcome("stack-softened", "no", "measured", limit=LIMIT_SHARE)
    if len(found) == 1:
        which = f"Frame {found[0]} is softer than the ones before and after"
    else:
        shown = ", ".join(str(k) for k in found[:-1][:4])
        which = f"Frames {shown} and {found[-1]} are softer than the ones beside them"
    return outcome(
        "stack-softened",
        "yes",
        "likely",
        f"{which}: the subject or the camera moved during the exposure.",
        "Wait for the wind to rest, or give it less time, and take that slice again.",
        frames=[float(k) for k in found],
        limit=LIMIT_SHARE,
    )
