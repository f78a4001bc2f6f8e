"""Dark spots that stand in the same place in frame after frame: dust on the sensor.

One dark spot proves nothing: seeds, pores and drops are dark and round too. The same place in
three frames of different things does, where so many meetings are not to be had by chance.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Frame32 = npt.NDArray[np.float32]
Spot = tuple[float, float, float]  # x, y as shares of the frame; depth as a share of the light

#: A spot is darker than its surroundings by at least this share of their light.
LIMIT_DEPTH = 0.05
#: The surroundings may vary by this share of the spot's depth: texture is full of dark spots.
LIMIT_UNEVEN = 0.15
MOST_SPOTS = 40
LEAST_FRAMES = 3
#: Two spots are in the same place within this share of the frame, either way.
LIMIT_APART = 0.003
#: Meetings of spots that chance alone would make in all these frames.
LIMIT_CHANCE = 0.01
#: Frames of one framing, shot without moving, count as one: this alike, this wide, in pixels.
LIMIT_ALIKE, ALIKE_PX = 0.4, 96
#: Light behind each 8-bit value, about.
LIGHT = (np.arange(256, dtype=np.float32) / np.float32(255.0)) ** np.float32(2.2)
LEAST_RELIEF = 1.0  # 8-bit steps: less fine structure shows no framing at all


@dataclass(frozen=True)
class Standing:
    """A place (shares of the frame) and which of the frames have a spot there."""

    x: float
    y: float
    frames: tuple[int, ...]


def spots(luma: npt.NDArray[np.generic], radius_px: int = 3) -> list[Spot]:
    """Return small round spots darker than an even surrounding, deepest first.

    Parameters
    ----------
    luma : ndarray of shape (M, N)
        8-bit luminance of the whole frame, about 1000 pixels wide, in the sensor's own geometry.
    radius_px : int
        Of the largest spot looked for.
    """
    if luma.dtype != np.uint8:
        luma = np.clip(np.rint(luma), 0, 255).astype(np.uint8)
    reach = 3 * radius_px
    height, width = luma.shape
    if min(height, width) < 4 * reach:
        return []
    centre = _box(LIGHT[luma], 1)
    inside = centre[reach:-reach, reach:-reach]
    darkest, mean = np.ones(inside.shape, bool), np.zeros_like(inside)
    rings = [_shifted(centre, reach, k) for k in range(8)]
    for ring in rings:
        darkest &= inside < ring
        mean += ring
    mean /= np.float32(8.0)
    depth = np.asarray(1.0 - inside / np.maximum(mean, 1e-4), np.float32)
    # few places get so far, and only these are asked the rest
    darkest &= (depth > LIMIT_DEPTH) & (mean > 0.02)
    row, column = np.divmod(np.flatnonzero(darkest), inside.shape[1])
    own, around = depth[row, column], mean[row, column]
    squared = sum((ring[row, column] ** 2 for ring in rings), np.zeros_like(own))
    spread = np.sqrt(np.maximum(squared / np.float32(8.0) - around * around, 0.0))
    uneven = spread / np.maximum(around, 1e-4)
    even = uneven < LIMIT_UNEVEN * own
    row, column, own, uneven = row[even], column[even], own[even], uneven[even]
    largest = own >= _largest_near(depth, radius_px, row, column)
    row, column, own, uneven = row[largest], column[largest], own[largest], uneven[largest]
    order = np.argsort(uneven / own)[:MOST_SPOTS]
    return [
        ((column[k] + reach + 0.5) / width, (row[k] + reach + 0.5) / height, float(own[k]))
        for k in order
    ]


def standing(
    frames: Sequence[Sequence[Sequence[float]]],
    same_framing: Callable[[int, int], bool] = lambda one, other: False,
) -> list[Standing]:
    """Return every place where spots stand still in three or more frames of different framing.

    Parameters
    ----------
    frames : sequence of lists of spots
        Each as `spots` gives them, all of one sensor.
    same_framing : function of two numbers of frames
        Says whether both show the same things in the same places: such frames are one witness.

    Notes
    -----
    With n spots in all and the others' spread evenly, Poisson's law says how many places would
    have so many meetings by chance; a place counts where that is under one in a hundred.
    """
    total = sum(len(each) for each in frames)
    found: list[Standing] = []
    for k, frame in enumerate(frames):
        for x, y, *_ in frame:
            if any(_near((x, y), (seen.x, seen.y)) for seen in found):
                continue
            rest = range(k, len(frames))
            having = [j for j in rest if any(_near((x, y), other) for other in frames[j])]
            if len(having) < LEAST_FRAMES:
                continue
            witnesses = _different(having, same_framing)
            others = (total - len(frame)) * (2.0 * LIMIT_APART) ** 2
            by_chance = total * _at_least(len(witnesses) - 1, others)
            if len(witnesses) >= LEAST_FRAMES and by_chance < LIMIT_CHANCE:
                found.append(Standing(x, y, tuple(having)))
    return found


def same_framing(one: npt.NDArray[np.generic], other: npt.NDArray[np.generic]) -> bool:
    """Say whether two small luminances show the same things in the same places.

    Where too little shows to tell, they count as the same: two sheets of white paper prove that
    something is dark in both, and not that it is on the sensor.
    """
    if one.shape != other.shape:
        return False
    a, b = _relief(one), _relief(other)
    if min(a.std(), b.std()) < LEAST_RELIEF:
        return True
    alike = float(((a - a.mean()) * (b - b.mean())).mean() / (a.std() * b.std()))
    return alike > LIMIT_ALIKE


def _different(having: Sequence[int], same: Callable[[int, int], bool]) -> list[int]:
    chosen: list[int] = []
    for k in having:
        if not any(same(k, other) for other in chosen):
            chosen.append(k)
    return chosen


def _at_least(count: int, expected: float) -> float:
    """Chance of so many or more where `expected` is the mean (Poisson)."""
    below = sum(expected**k / math.factorial(k) for k in range(count))
    return max(1.0 - math.exp(-expected) * below, 0.0)


def _relief(luma: npt.NDArray[np.generic]) -> Frame32:
    """The fine structure of a picture made small."""
    step = max(max(luma.shape) // ALIKE_PX, 1)
    height, width = (side // step * step for side in luma.shape)
    cut = np.asarray(luma[:height, :width], np.float32)
    blocks = cut.reshape(height // step, step, width // step, step)
    small = np.asarray(blocks.mean(axis=(1, 3)), np.float32)
    return small - _box(small, 3)


def _near(one: Sequence[float], other: Sequence[float]) -> bool:
    return abs(one[0] - other[0]) < LIMIT_APART and abs(one[1] - other[1]) < LIMIT_APART


def _box(values: Frame32, reach: int) -> Frame32:
    padded = np.pad(values, reach, mode="edge")
    (height, width), size = values.shape, 2 * reach + 1
    rows = padded[:height].copy()
    for k in range(1, size):
        rows += padded[k : k + height]
    both = rows[:, :width].copy()
    for k in range(1, size):
        both += rows[:, k : k + width]
    both /= np.float32(size * size)
    return both


def _shifted(values: Frame32, reach: int, k: int) -> Frame32:
    """What lies on the ring in the k-th direction from every place further inside than it."""
    angle = k * np.pi / 4.0
    down, across = round(reach * np.sin(angle)), round(reach * np.cos(angle))
    height, width = values.shape
    return values[reach + down : height - reach + down, reach + across : width - reach + across]


def _largest_near(
    values: Frame32, reach: int, row: npt.NDArray[np.intp], column: npt.NDArray[np.intp]
) -> Frame32:
    """The largest within reach of each place, or in what is there of it."""
    padded = np.pad(values, reach, mode="edge")
    result = values[row, column]
    for down in range(2 * reach + 1):
        for across in range(2 * reach + 1):
            np.maximum(result, padded[row + down, column + across], out=result)
    return result
