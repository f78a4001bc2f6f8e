"""Where each frame of a focus stack was focused, from nothing but sharpness maps.

Every block of the picture is sharpest where the focus passes it. The order of the frames is the
one in which neighbours are most alike; `focus_steps` tells how long each step was.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optics.evidence.focus_steps import Steps, step_lengths

Array = NDArray[Any]  # of floats

MOST_BLOCKS = 3000  # the clearest ones; more do not make it better
LEAST_CONTRAST = 1.6  # a block's highest sharpness over its lowest, to say anything
ORDER_MARGIN = 0.08  # another order must make the way through the frames so much shorter
MOST_SWAPS = 60


@dataclass(frozen=True)
class FocusFit:
    """Positions in units of the middle step; index k is the frame in the order given."""

    position: Array  # (K,)
    steps: Steps  # in order of focus
    order: NDArray[np.int64]  # frames sorted by focus


class NoFocus(ValueError):
    """The sharpness does not travel through the frames: no focus positions can be told."""


def focus_positions(maps: NDArray[np.floating[Any]], coarser: Sequence[Array] = ()) -> FocusFit:
    """Return the focus position of each frame from registered sharpness maps.

    Parameters
    ----------
    maps : ndarray of shape (K, M, N)
        Sharpness per block, the same place of the subject at the same
        index in all K frames; nan where a frame shows nothing.
    coarser : sequence of ndarray of shape (K, N)
        Sharpness of coarser detail, which is seen far from the focus; it
        helps to tell the steps.

    Returns
    -------
    FocusFit
        Positions rise from the first frame's end of the stack to the last's.

    Raises
    ------
    NoFocus
        With fewer than four frames, or where too few blocks come into
        focus and go out of it.
    """
    maps = np.asarray(maps, dtype=np.float64)
    count = len(maps)
    if maps.ndim != 3 or count < 4:
        raise NoFocus(f"{count} frames are too few to tell where each was focused; four at least")
    profile, chosen = _profiles(maps)
    if len(chosen) < 8:
        raise NoFocus("too little in these frames comes into focus and goes out of it again")
    order = _order(profile[:, chosen])
    seen = np.isfinite(maps).all(axis=0)
    steps = step_lengths([maps[order][:, seen], *(level[order] for level in coarser)])
    position = np.concatenate([[0.0], np.cumsum(np.where(steps.told, steps.length, 1.0))])
    back = np.empty(count)
    back[order] = position
    return FocusFit(position=back, steps=steps, order=order)


def _profiles(maps: Array) -> tuple[Array, NDArray[np.int64]]:
    """Log sharpness over the noise (K, blocks), and the clearest blocks."""
    flat = maps.reshape(len(maps), -1)
    known = np.isfinite(flat).mean(axis=0) > 0.8
    lowest = np.where(known, np.nanmin(np.where(known, flat, 0.0), axis=0), 0.0)
    highest = np.where(known, np.nanmax(np.where(known, flat, 0.0), axis=0), 0.0)
    textured = known & (highest > LEAST_CONTRAST * lowest)
    if not textured.any():
        raise NoFocus("nothing in these frames comes into focus and goes out of it again")
    # what is left at the least sharp is noise, or texture so coarse that no blur reaches it
    floor = 0.97 * lowest
    over = np.where(np.isfinite(flat), flat, lowest) - floor
    profile = np.log(np.maximum(over, 1e-3 * highest + 1e-12))
    contrast = np.where(textured, highest / np.maximum(lowest, 1e-9), 0.0)
    clearest = np.argsort(contrast)[::-1][: min(MOST_BLOCKS, int(textured.sum()))]
    return profile, clearest


def _order(profile: Array) -> NDArray[np.int64]:
    """Sort frames so that neighbours are alike; the order given, unless another is clearly better.

    The shortest way through all frames, by moving single frames and turning stretches round.
    """
    level = profile - profile.mean(axis=0)
    level = level - level.mean(axis=1, keepdims=True)
    size = np.maximum(np.linalg.norm(level, axis=1), 1e-12)
    # the logarithm also tells blurred before from blurred behind
    apart = 1 - level @ level.T / np.outer(size, size)
    given = np.arange(len(profile))
    row = given
    for _ in range(MOST_SWAPS):
        better = min(
            (_moved_one(row, apart), _turned_round(row, apart)), key=lambda r: _way(r, apart)
        )
        if _way(better, apart) >= _way(row, apart) - 1e-9:
            break
        row = better
    if _way(row, apart) > (1 - ORDER_MARGIN) * _way(given, apart):
        return given
    return row if np.corrcoef(row, given)[0, 1] >= 0 else row[::-1]


def _way(row: NDArray[np.int64], apart: Array) -> float:
    return float(np.sum(apart[row[:-1], row[1:]]))


def _turned_round(row: NDArray[np.int64], apart: Array) -> NDArray[np.int64]:
    """The best order with one stretch of frames turned round."""
    count = len(row)
    padded = np.zeros((count + 2, count + 2))  # stepping out of either end costs nothing
    padded[1:-1, 1:-1] = apart[np.ix_(row, row)]
    i, j = np.triu_indices(count, 1)
    gain = padded[i, i + 1] + padded[j + 1, j + 2] - padded[i, j + 1] - padded[i + 1, j + 2]
    k = int(np.argmax(gain))
    turned = row.copy()
    turned[i[k] : j[k] + 1] = row[i[k] : j[k] + 1][::-1]
    return turned


def _moved_one(row: NDArray[np.int64], apart: Array) -> NDArray[np.int64]:
    """The best order with one frame put elsewhere."""
    best, shortest = row, np.inf
    for k in range(len(row)):
        rest = np.delete(row, k)
        here = apart[row[k], rest]
        between = here[:-1] + here[1:] - apart[rest[:-1], rest[1:]]
        added = np.concatenate([here[:1], between, here[-1:]])
        place = int(np.argmin(added))
        way = _way(rest, apart) + float(added[place])
        if way < shortest:
            best, shortest = np.insert(rest, place, row[k]), way
    return best


def sharpest(fine: Array, position: Array) -> Array:
    """Return where in focus each place is sharpest, by a parabola through three uneven steps.

    Parameters
    ----------
    fine : ndarray of shape (K, N)
        Sharpness, frames in order of focus; three or more.
    position : ndarray of shape (K,)
        Focus of the frames, rising.

    Returns
    -------
    ndarray of shape (N,)
        In the units of `position`, at its ends for what is sharpest in an
        end frame; nan where a frame shows nothing.
    """
    seen = np.isfinite(fine).all(axis=0)
    values = np.where(seen, fine, 0.0)
    highest = values.max(axis=0)
    over = np.maximum(values - 0.97 * values.min(axis=0), 1e-3 * highest + 1e-12)
    profile = np.log(over)
    peak = values.argmax(axis=0)
    inner = np.clip(peak, 1, len(position) - 2)
    column = np.arange(values.shape[1])
    before, at, after = (profile[inner + d, column] for d in (-1, 0, 1))
    near, here, far = (position[inner + d] for d in (-1, 0, 1))
    rise, fall = (at - before) / (here - near), (after - at) / (far - here)
    bend = (fall - rise) / (far - near)
    top = (near + here) / 2 - rise / np.where(bend < 0, 2 * bend, -1.0)
    top = np.where(bend < 0, np.clip(top, (near + here) / 2, (here + far) / 2), here)
    place: Array = np.where(peak == inner, top, position[peak])
    return np.where(seen, place, np.nan)
