"""How far beyond the first or the last frame of a focus stack a place lies that is sharpest there.

A place sharpest in an end frame may lie at it or far out: its own curve only rises towards the
end. But the same stack holds many places whose whole curve was seen. Cut off before their top,
these look like the others, and how far out they then lay is known: the stack teaches itself, with
its own texture, lens and steps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]  # of floats

FARTHEST = 6.0  # steps; what lies farther out looks alike
BIN = 0.5  # steps
EDGES = np.arange(-0.75, FARTHEST + BIN, BIN)
LIKE = 40  # known places that each unknown one is laid beside
LOOKED_IN = 4  # frames inwards from the end
LEAST_FRAMES = LOOKED_IN + 3
LEAST_KNOWN = 200  # examples, to speak at all
MOST_KNOWN = 6000  # more do not make it better
AT_ONCE = 256  # places laid beside all examples together: bounds the memory
FEW = 10.0  # in a bin: no single example may rule
LIVELY = 0.45  # of the logarithm over the stack: the place comes into focus at all
LARGEST_APART = 1.6  # steps between where fine and coarse detail are sharpest, to be believed
DARK = 0.5  # added before the logarithm: 8-bit values know no finer


@dataclass(frozen=True)
class Beyond:
    """Places sharpest in an end frame, and how like they are to places known to lie so far out."""

    places: NDArray[np.int64]  # indices into N
    weight: Array  # (places, bins of distance); rows add up to 1

    def farther(self, distance: float) -> Array:
        """For each place the chance that it lies more than so many steps beyond the frame."""
        part = np.clip((EDGES[1:] - distance) / BIN, 0.0, 1.0)
        chance: Array = self.weight @ part
        return chance


def believed(levels: Sequence[Array], place: Array) -> NDArray[np.bool_]:
    """Places whose fine and coarse detail are sharpest in the same frames: no grain, no glint.

    Parameters
    ----------
    levels : sequence of ndarray of shape (K, N)
        Sharpness from fine to coarse, frames in order of focus.
    place : ndarray of shape (N,)
        Frame, with its fraction, in which each place is sharpest; nan unknown.
    """
    fine, coarse = levels[0], levels[1]
    finite = np.isfinite(fine).all(axis=0) & np.isfinite(coarse).all(axis=0)
    top = np.where(finite, coarse, 0.0).argmax(axis=0)
    with np.errstate(invalid="ignore"):
        return np.asarray(finite & lively(fine) & (np.abs(top - place) < LARGEST_APART))


def lively(fine: Array) -> NDArray[np.bool_]:
    """Places that come into focus and go out of it again; `fine` (K, N), nan where none is seen."""
    changes = np.ptp(_logarithm(fine), axis=0) > LIVELY
    return np.asarray(changes & np.isfinite(fine).all(axis=0))


def beyond_ends(levels: Sequence[Array], place: Array) -> tuple[Beyond, Beyond] | None:
    """Return how far the places sharpest in the first and in the last frame may lie beyond it.

    Parameters
    ----------
    levels : sequence of three ndarray of shape (K, N)
        Sharpness of the same places from fine to coarse, frames in order of
        focus, about even steps.
    place : ndarray of shape (N,)
        Frame, with its fraction, in which each place is sharpest; nan unknown.

    Returns
    -------
    tuple of Beyond or None
        None where the stack is too short or shows too little to learn from.

    Notes
    -----
    The nearest neighbours among the examples, each weighed by the rarity of its distance, so
    that all distances are as likely beforehand (Hastie, Tibshirani, Friedman, The Elements of
    Statistical Learning, 2nd ed., 13.3).
    """
    count = len(levels[0])
    if count < LEAST_FRAMES or len(levels) < 3:
        return None
    logs = [_logarithm(level) for level in levels[:3]]
    sure = believed(levels, place)
    with np.errstate(invalid="ignore"):
        inner = np.flatnonzero(sure & (place > 0.6) & (place < count - 1.6))
    looks, far = _examples(logs, place, inner)
    if len(far) < LEAST_KNOWN:
        return None
    every = -(-len(far) // MOST_KNOWN)
    looks, far = looks[::every], far[::every]
    bins = np.clip(np.digitize(far, EDGES) - 1, 0, len(EDGES) - 2)
    rare = 1.0 / np.maximum(np.bincount(bins, minlength=len(EDGES) - 1), FEW)[bins]
    middle, spread = looks.mean(axis=0), looks.std(axis=0) + 1e-9
    known = (looks - middle) / spread
    found = []
    for end, way in ((0, 1), (count - 1, -1)):
        places = np.flatnonzero(sure & (logs[0].argmax(axis=0) == end))
        seen = (_look([log[:, places] for log in logs], end, way) - middle) / spread
        found.append(Beyond(places, _laid_beside(seen, known, bins, rare)))
    return found[0], found[1]


def _logarithm(level: Array) -> Array:
    value: Array = np.log(np.nan_to_num(level, nan=0.0) + DARK)
    return value


def _examples(logs: list[Array], place: Array, inner: NDArray[np.int64]) -> tuple[Array, Array]:
    """Known places as they look where the stack is cut off, and how far out they then lie."""
    count = len(logs[0])
    looks, far = [np.zeros((0, 9))], [np.zeros(0)]
    for way in (1, -1):
        for end in range(1, count - LOOKED_IN) if way == 1 else range(LOOKED_IN, count - 1):
            out = (end - place[inner]) * way
            chosen = inner[(out > EDGES[0]) & (out < FARTHEST)]
            left = logs[0][end:, chosen] if way == 1 else logs[0][end::-1, chosen]
            chosen = chosen[left.argmax(axis=0) == 0]
            looks.append(_look([log[:, chosen] for log in logs], end, way))
            far.append((end - place[chosen]) * way)
    return np.concatenate(looks), np.concatenate(far)


def _look(logs: list[Array], end: int, way: int) -> Array:
    """(N, 9): how the curves rise towards the end, and fine detail against coarse at it."""
    fine, middle, coarse = logs
    two, four = end + 2 * way, end + LOOKED_IN * way
    columns = [
        fine[end] - fine[end + way],
        fine[end + way] - fine[two],
        fine[two] - fine[four],
        middle[end] - middle[two],
        middle[two] - middle[four],
        coarse[end] - coarse[two],
        coarse[two] - coarse[four],
        fine[end] - middle[end],
        middle[end] - coarse[end],
    ]
    look: Array = np.stack(columns, axis=1)
    return look


def _laid_beside(seen: Array, known: Array, bins: NDArray[np.int64], rare: Array) -> Array:
    size = np.sum(known**2, axis=1)
    weight = np.zeros((len(seen), len(EDGES) - 1))
    for start in range(0, len(seen), AT_ONCE):
        few = seen[start : start + AT_ONCE]
        # the place's own size is the same for all examples and decides nothing
        near = np.argpartition(size - 2 * few @ known.T, LIKE, axis=1)[:, :LIKE]
        rows = np.arange(start, start + len(few))[:, None]
        np.add.at(weight, (rows, bins[near]), rare[near])
    normal: Array = weight / np.maximum(weight.sum(axis=1, keepdims=True), 1e-12)
    return normal
