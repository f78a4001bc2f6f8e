"""Which of several apertures is sharpest, by the places of the picture that show fine detail.

Depth makes places differ: what lies in the plane of focus is sharpest wide open, what lies off it
farther stopped down. So the picture is cut into parts, each part names its own stop, and what is
told is the middle of them with the range in which the middle half lies.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shootlog.series.coverage import inside
from shootlog.series.shot import Array

DETAILED = 0.6  # of the strongest twentieth's detail: such a block counts
#: The strongest twentieth against the frame's plainest blocks. Noise alone makes 0.75 to 0.86
#: (clouds of three seeds, confirmed on six drawn anew); the softest place of rendered lichen 0.91.
LEAST_OVER_NOISE = 0.9
LEAST_BLOCKS = 4  # a tapped place is a few blocks large
PARTS_DOWN, PARTS_ACROSS = 5, 6
FEW_PARTS = 5
LEAST_IN_PART = 4  # blocks; fewer name no stop of their own
LEAST_SLACK = 1 / 3  # of a stop: rendered scenes are told so well, no better is claimed
MOST_APART = 1.5  # stops between the quarters of the parts: beyond, no one stop is best
TWO_THIRDS = 2 / 3


@dataclass(frozen=True)
class Sharpness:
    """`level` and `spread` per frame, 1 the sharpest; `parts` (P, K) each against its own best."""

    level: Array
    spread: Array
    parts: Array


@dataclass(frozen=True)
class Best:
    """In f-numbers as given. `number` is None where the places of the picture disagree."""

    number: float | None
    between: tuple[float, float]
    two_thirds: float | None
    elsewhere: tuple[float, float]  # what nine tenths of the parts lie between


def sharpness_of(maps: Array, box: Sequence[float] | None = None) -> Sharpness | None:
    """Return how sharp the frames are at the same places; None where there is no fine detail.

    Parameters
    ----------
    maps : ndarray of shape (K, M, N)
        Mean detail per block, brought onto one another; nan where a frame does not show it.
    box : sequence of four floats, optional
        The marked place (left, top, width, height in shares): only blocks there count.
    """
    seen = np.isfinite(maps).all(axis=0)
    if not seen.any():
        return None
    floor = np.percentile(maps[:, seen], 5, axis=1)[:, None, None]  # plain ground: the noise
    over = np.sqrt(np.maximum(np.where(seen, maps, 0) ** 2 - floor**2, 0))
    if box:
        seen = seen & inside(seen.shape, (box[0], box[1], box[2], box[3]))
    strength = np.where(seen, over.max(axis=0), 0)
    if not seen.any():
        return None
    strong = np.percentile(strength[seen], 95)
    detailed = strength > max(DETAILED * strong, 1e-6)
    if detailed.sum() < LEAST_BLOCKS or strong < LEAST_OVER_NOISE * float(np.median(floor)):
        return None
    relative = over / np.maximum(strength, 1e-9)
    level = np.median(relative[:, detailed], axis=1)
    parts = _parts(relative, detailed)
    # few parts say little of how far places differ: then the blocks themselves do
    each = parts if len(parts) >= FEW_PARTS else relative[:, detailed].T
    middle = np.subtract(*np.percentile(each, [75, 25], axis=0))
    top = max(float(level.max()), 1e-9)
    return Sharpness(level / top, middle / 1.35 / np.sqrt(len(each)) / top, parts)


def _parts(relative: Array, detailed: Array) -> Array:
    """(P, K) medians of the parts of the detailed area that hold enough blocks, else of all."""
    rows, columns = np.nonzero(detailed)
    down = _cut(rows, PARTS_DOWN)
    across = _cut(columns, PARTS_ACROSS)
    found = []
    for which in np.unique(down * PARTS_ACROSS + across):
        here = down * PARTS_ACROSS + across == which
        if here.sum() >= LEAST_IN_PART:
            found.append(np.median(relative[:, rows[here], columns[here]], axis=1))
    if not found:
        found = [np.median(relative[:, detailed], axis=1)]
    parts: Array = np.stack(found)
    return parts


def _cut(place: Array, count: int) -> Array:
    span = max(int(np.ptp(place)) + 1, count)
    part: Array = (place - place.min()) * count // span
    return part


def best_of(numbers: Sequence[float], seen: Sharpness) -> Best:
    """Return the best stop, the range of the parts' own, and where a third of it is lost."""
    top, two_thirds = peak(numbers, seen.level)
    own = 2 * np.log2([peak(numbers, part)[0] for part in seen.parts])
    tenth, quarter, three_quarters, nine_tenths = np.percentile(own, [10, 25, 75, 90])
    middle = 2 * np.log2(top)
    low = min(quarter, middle - LEAST_SLACK)
    high = max(three_quarters, middle + LEAST_SLACK)
    agree = three_quarters - quarter <= MOST_APART
    return Best(
        top if agree else None,
        (_stop(low), _stop(high)),
        two_thirds if agree else None,
        (_stop(tenth), _stop(nine_tenths)),
    )


def peak(numbers: Sequence[float], level: Array) -> tuple[float, float | None]:
    """Top of a parabola through the three best stops; where two thirds of it are left."""
    order = np.argsort(numbers)
    stops = 2 * np.log2(np.array(numbers)[order])
    level = level[order]
    k = int(np.argmax(level))
    if not 0 < k < len(level) - 1:
        best = stops[k]
    else:
        a, b, _ = np.polyfit(stops[k - 1 : k + 2], level[k - 1 : k + 2], 2)
        best = np.clip(-b / (2 * a), stops[k - 1], stops[k + 1]) if a < 0 else stops[k]
    top = float(level.max())
    after = np.flatnonzero((np.arange(len(level)) > k) & (level < TWO_THIRDS * top))
    two_thirds = None
    if len(after):
        j = int(after[0])
        share = (level[j - 1] - TWO_THIRDS * top) / (level[j - 1] - level[j])
        two_thirds = _stop(stops[j - 1] + share * (stops[j] - stops[j - 1]))
    return _stop(best), two_thirds


def _stop(whole: float) -> float:
    return float(2 ** (whole / 2))
