"""Dark spots that stand in the same place in frame after frame: dust on the sensor."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Spot = tuple[float, float, float]  # x, y as shares of the frame; depth as a share of the light

#: A spot is darker than its surroundings by at least this share of their light.
LIMIT_DEPTH = 0.02
#: The surroundings may vary by this share of the spot's depth.
LIMIT_UNEVEN = 0.5
MOST_SPOTS = 40
LEAST_FRAMES = 3
#: Two spots are in the same place within this share of the frame's longer side.
LIMIT_APART = 0.003


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
    ring = np.stack([_shifted(_box(light, 1), reach, k) for k in range(8)])
    inside = (slice(reach, -reach), slice(reach, -reach))
    lowest, mean = ring.min(axis=0)[inside], ring.mean(axis=0)[inside]
    depth = 1.0 - centre[inside] / np.maximum(mean, 1e-4)
    uneven = ring.std(axis=0)[inside] / np.maximum(mean, 1e-4)
    found = (depth > LIMIT_DEPTH) & (uneven < LIMIT_UNEVEN * depth) & (mean > 0.02)
    found &= centre[inside] < lowest
    row, column = np.nonzero(found & (depth >= _largest_near(depth, radius_px)))
    order = np.argsort(-depth[row, column])[:MOST_SPOTS]
    return [
        (
            (column[k] + reach + 0.5) / width,
            (row[k] + reach + 0.5) / height,
            float(depth[row[k], column[k]]),
        )
        for k in order
    ]


def standing(frames: Sequence[Sequence[Sequence[float]]]) -> list[tuple[float, float, int]]:
    """Return x, y and the number of frames of every spot that stands still in three or more.

    Parameters
    ----------
    frames : sequence of lists of spots
        Each as `spots` gives them. Frames of one scene shot without moving prove nothing about
        the sensor; give frames whose picture moved between them.
    """
    result: list[tuple[float, float, int]] = []
    for k, frame in enumerate(frames):
        for x, y, *_ in frame:
            if any(_near((x, y), seen) for seen in result):
                continue
            hits = sum(any(_near((x, y), other) for other in later) for later in frames[k:])
            if hits >= LEAST_FRAMES:
                result.append((x, y, hits))
    return result


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
    padded = np.pad(values, reach, mode="edge")
    result = values
    for down in range(2 * reach + 1):
        for across in range(2 * reach + 1):
            part = padded[down : down + values.shape[0], across : across + values.shape[1]]
            result = np.maximum(result, part)
    return result
