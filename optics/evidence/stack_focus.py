"""Where each frame of a focus stack was focused, from nothing but sharpness maps.

Every block of the picture is sharpest where the focus passes it, and falls off alike on both
sides. Frames at even steps show even falls; where a step was twice as long, all blocks there
fall faster from frame to frame. So the steps between the frames can be told from the shapes
of some hundred blocks, without knowing the depth of any.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]  # of floats

MOST_BLOCKS = 3000  # the clearest ones; more do not make it better
LEAST_CONTRAST = 1.6  # a block's highest sharpness over its lowest, to say anything
REACH = 1.5  # frames around a step whose sharpest blocks speak for it
NEIGHBOURS = 4  # steps on both sides that a step is held against
LEAST_SUPPORT = 12  # blocks that must speak for a step
LARGEST_CROWD = 0.4  # share of the blocks at one depth, beyond which a step cannot be told
LEAST_SIDE = 0.08  # share of the blocks that must be sharpest before, and behind
LEAST_RISE = 0.12  # two steps must change so much more than one to be told apart
ORDER_MARGIN = 0.05  # another order must make the way through the frames so much shorter
MOST_SWAPS = 60
SHARP_SHARE = 0.5  # a block is sharp where it has half of its own highest sharpness
LONGEST_STEP = 12.0  # a step is never called longer than so many others


@dataclass(frozen=True)
class FocusFit:
    """Positions in units of the middle step; index k is the frame in the order given."""

    position: Array  # (K,)
    support: Array  # (K - 1,) how many blocks speak for each step
    step: Array  # (K - 1,) in order of focus; nan where it cannot be told
    block_position: Array  # (H, W) where each block is sharpest; nan where it cannot be told
    textured: NDArray[np.bool_]  # (H, W)
    visible: NDArray[np.bool_]  # (H, W) in nearly all frames
    half_depth: float  # within this distance a block keeps half of its sharpness
    order: NDArray[np.int64]  # frames sorted by focus

    @property
    def steps(self) -> Array:
        """From frame to frame in the order given; negative where the focus went back."""
        return np.diff(self.position)


class NoFocus(ValueError):
    """The sharpness does not travel through the frames: no focus positions can be told."""


def focus_positions(maps: NDArray[np.floating[Any]]) -> FocusFit:
    """Return the focus position of each frame from registered sharpness maps.

    Parameters
    ----------
    maps : ndarray of shape (K, M, N)
        Sharpness per block, the same place of the subject at the same
        index in all K frames; nan where a frame shows nothing.

    Returns
    -------
    FocusFit
        Positions rise from the first frame's end of the stack to the last's.

    Raises
    ------
    NoFocus
        With fewer than four frames, or where too few blocks come into
        focus and go out of it.

    Notes
    -----
    A step twice as long changes the log sharpness of the blocks on their
    way into focus, and out of it, twice as much.
    """
    maps = np.asarray(maps, dtype=np.float64)
    count = len(maps)
    if maps.ndim != 3 or count < 4:
        raise NoFocus(f"{count} frames are too few to tell where each was focused; four at least")
    profile, weight, textured, chosen = _profiles(maps)
    if len(chosen) < 8:
        raise NoFocus("too little in these frames comes into focus and goes out of it again")
    order = _order(profile[:, chosen])
    steps, support, half_depth = _fitted(profile[order][:, chosen])
    position = np.concatenate([[0.0], np.cumsum(np.where(np.isfinite(steps), steps, 1.0))])
    every = np.flatnonzero(textured.ravel())
    place = np.full(textured.size, np.nan)
    index = _first_places(profile[order][:, every])
    place[every] = np.interp(index, np.arange(count), position)
    back = np.empty(count)
    back[order] = position
    return FocusFit(
        position=back,
        support=support,
        step=steps,
        block_position=place.reshape(textured.shape),
        textured=textured,
        visible=np.isfinite(maps).mean(axis=0) > 0.8,
        half_depth=half_depth,
        order=order,
    )


def _profiles(maps: Array) -> tuple[Array, Array, NDArray[np.bool_], NDArray[np.int64]]:
    """Log sharpness over the noise and its trust (K, blocks), the textured, the clearest."""
    count, shape = len(maps), maps.shape[1:]
    flat = maps.reshape(count, -1)
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
    weight = (over / (over + 0.15 * floor + 0.02 * highest + 1e-12)) ** 2
    weight = np.where(np.isfinite(flat) & textured, weight, 0.0)
    contrast = np.where(textured, highest / np.maximum(lowest, 1e-9), 0.0)
    clearest = np.argsort(contrast)[::-1][: min(MOST_BLOCKS, int(textured.sum()))]
    return profile, weight, textured.reshape(shape), clearest


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


def _fitted(profile: Array) -> tuple[Array, Array, float]:
    """Steps (nan where unknown), blocks that speak for each, half depth.

    The stack is its own yardstick: how much blocks change over one step, against how much
    they change over one and over two steps near by.
    """
    count = len(profile)
    level = np.exp(profile - profile.max(axis=0))
    place = _first_places(profile)
    weight = _crowd(place)
    one, support = _changes(level, place, weight, 1)
    two, _ = _changes(level, place, weight, 2)
    steps = np.full(count - 1, np.nan)
    for k in range(count - 1):
        near = range(max(0, k - NEIGHBOURS), min(count - 1, k + NEIGHBOURS + 1))
        single = _nanmedian([one[j] for j in near if j != k])
        double = _nanmedian([two[j] for j in near if j < count - 2 and not j <= k <= j + 1])
        if double > (1 + LEAST_RISE) * single:
            steps[k] = 1 + (one[k] - single) / (double - single)
    steps = np.clip(steps, 0.0, LONGEST_STEP)
    filled = np.where(np.isfinite(steps), steps, 1.0)
    position = np.concatenate([[0.0], np.cumsum(filled)])
    away = np.interp(place, np.arange(count), position)
    return steps, support, _half_depth(np.log(level + 1e-9), position, away)


def _changes(level: Array, place: Array, weight: Array, lag: int) -> tuple[Array, Array]:
    """Mean change of the blocks that are sharpest near frames k to k + lag; nan where few are."""
    change, support = np.full(len(level) - lag, np.nan), np.zeros(len(level) - lag)
    inner = (place > 0) & (place < len(level) - 1)
    for k in range(len(level) - lag):
        near = inner & (place > k - REACH) & (place < k + lag + REACH)
        support[k] = near.sum()
        if support[k] < LEAST_SUPPORT:
            continue
        sides = (place[near] < k).sum(), (place[near] > k + lag).sum()
        if min(sides) < LEAST_SIDE * support[k]:
            continue  # nothing to be sharp before or behind: the stack's end, or the subject's
        bins = np.bincount(np.floor((place[near] - k + REACH) * 2).astype(int))
        if bins.max() <= LARGEST_CROWD * support[k]:
            change[k] = np.average(np.abs(level[k + lag] - level[k])[near], weights=weight[near])
    return change, support


def _nanmedian(values: list[float]) -> float:
    known = [v for v in values if np.isfinite(v)]
    return float(np.median(known)) if len(known) >= 2 else float("nan")


def _first_places(profile: Array) -> Array:
    """Index, with its fraction, where each block is sharpest."""
    count = len(profile)
    peak = profile.argmax(axis=0)
    inner = np.clip(peak, 1, count - 2)
    column = np.arange(profile.shape[1])
    before, at, after = (profile[inner + d, column] for d in (-1, 0, 1))
    bend = before - 2 * at + after
    shift = np.where(bend < 0, 0.5 * (before - after) / np.where(bend < 0, bend, -1.0), 0.0)
    shift = np.clip(shift, -0.5, 0.5)
    place: Array = np.where(peak == inner, inner + shift, peak.astype(float))
    return place


def _crowd(place: Array) -> Array:
    """Less weight for each of very many blocks at one depth: a flat ground must not rule."""
    bins = np.floor(place * 2).astype(int)
    counts = np.bincount(bins - bins.min())
    usual = 2 * np.median(counts[counts > 0])
    crowd: Array = np.minimum(1.0, usual / counts[bins - bins.min()])
    return crowd


def _half_depth(level: Array, position: Array, place: Array) -> float:
    """Distance at which the middle block has half of its own highest sharpness left."""
    away = np.abs(position[:, None] - place)
    edges = np.arange(0, min(8.0, away.max()), 0.25)
    limit = np.log(SHARP_SHARE)
    for low in edges:
        here = level[(away >= low) & (away < low + 0.25)]
        if here.size >= 8 and np.median(here) < limit:
            return float(low + 0.125)
    return float(edges[-1] + 0.25) if edges.size else 1.0
