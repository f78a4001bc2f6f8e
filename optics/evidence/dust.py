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
    light = (np.asarray(luma, np.float32) / np.float32(255.0)) ** np.float32(2.2)
    reach = 3 * radius_px
    height, width = light.shape
    if min(height, width) < 4 * reach:
        return []
    centre = _box(light, 1)
    lowest, total, squared = centre.copy(), np.zeros_like(centre), np.zeros_like(centre)
    lowest.fill(np.inf)
    for k in range(8):
        ring = _shifted(centre, reach, k)
        np.minimum(lowest, ring, out=lowest)
        total += ring
        squared += ring * ring
    inside = (slice(reach, -reach), slice(reach, -reach))
    lowest, mean = lowest[inside], total[inside] / np.float32(8.0)
    depth = 1.0 - centre[inside] / np.maximum(mean, 1e-4)
    spread = np.sqrt(np.maximum(squared[inside] / np.float32(8.0) - mean * mean, 0.0))
    uneven = spread / np.maximum(mean, 1e-4)
    found = (depth > LIMIT_DEPTH) & (uneven < LIMIT_UNEVEN * depth) & (mean > 0.02)
    found &= centre[inside] < lowest
    row, column = np.nonzero(found & (depth >= _largest_near(depth, radius_px)))
    order = np.argsort(uneven[row, column] / depth[row, column])[:MOST_SPOTS]
    return [
        (
            (column[k] + reach + 0.5) / width,
            (row[k] + reach + 0.5) / height,
            float(depth[row[k], column[k]]),
        )
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


def _relief(luma: npt.NDArray[np.generic]) -> npt.NDArray[np.float32]:
    """The fine structure of a picture made small."""
    step = max(max(luma.shape) // ALIKE_PX, 1)
    height, width = (side // step * step for side in luma.shape)
    cut = np.asarray(luma[:height, :width], np.float32)
    small = cut.reshape(height // step, step, width // step, step).mean(axis=(1, 3))
    return np.asarray(small - _box(small, 3))


def _near(one: Sequence[float], other: Sequence[float]) -> bool:
    return abs(one[0] - other[0]) < LIMIT_APART and abs(one[1] - other[1]) < LIMIT_APART


def _box(values: npt.NDArray[np.float32], reach: int) -> npt.NDArray[np.float32]:
    padded = np.pad(values, reach, mode="edge")
    size = 2 * reach + 1
    rows = np.sum([padded[k : k + values.shape[0]] for k in range(size)], axis=0)
    both = np.sum([rows[:, k : k + values.shape[1]] for k in range(size)], axis=0)
    return np.asarray(both / np.float32(size * size))


def _shifted(values: npt.NDArray[np.float32], reach: int, k: int) -> npt.NDArray[np.float32]:
    angle = k * np.pi / 4.0
    down, across = round(reach * np.sin(angle)), round(reach * np.cos(angle))
    return np.roll(values, (-down, -across), axis=(0, 1))


def _largest_near(values: npt.NDArray[np.float32], reach: int) -> npt.NDArray[np.float32]:
    """The largest within reach, first along the rows and then down the columns."""
    height, width = values.shape
    padded = np.pad(values, reach, mode="edge")
    rows = padded[:height].copy()
    for down in range(1, 2 * reach + 1):
        np.maximum(rows, padded[down : down + height], out=rows)
    result = rows[:, :width].copy()
    for across in range(1, 2 * reach + 1):
        np.maximum(result, rows[:, across : across + width], out=result)
    return result
