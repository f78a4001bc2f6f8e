"""How steeply fine detail falls off against coarse: two numbers for a place, in decades.

Texture of any kind falls off on its own, differently for every thing; so one place alone says
little, and only a steep fall beside places that fall gently is defocus. A disc of d pixels takes
out everything beyond 1.22 / d cycles per pixel (first zero of its response, 2 J1(x) / x). Two
pairs of bands are asked: the wider for discs of six pixels and more, the finer from three.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

SIDE = 64
#: Cycles per pixel: coarse and fine of each pair, and where only noise is left.
PAIRS = (((0.05, 0.10), (0.24, 0.34)), ((0.09, 0.16), (0.33, 0.46)))
ONLY_NOISE = 0.6
#: Coarse power, in squared 8-bit steps: less shows nothing to judge by.
LEAST_POWER = 50.0
#: A place is looked at in this many tiles each way; the gentlest counts.
SHIFTS_PX = (-14, 0, 14)
#: At most so many tiles stand for the rest of the frame; the gentlest of them count.
MOST_TILES, GENTLEST = 240, 0.97


def fall_offs(tiles: npt.NDArray[np.generic]) -> Array:
    """Return log10 of fine power over coarse power of tiles, for both pairs of bands.

    Parameters
    ----------
    tiles : ndarray of shape (K, SIDE, SIDE)
        8-bit luminance; what lies in the corners of the spectrum counts as noise and is taken off.

    Returns
    -------
    ndarray of shape (K, 2)
        NaN where a tile shows nothing to judge by.
    """
    window, terms, inverse, masks, corners = _tables()
    pile = np.asarray(tiles, np.float32).reshape(-1, SIDE * SIDE)
    # a curved slope of light would leak into every frequency
    levelled = (pile - (pile @ inverse) @ terms).reshape(-1, SIDE, SIDE)
    power = np.abs(np.fft.rfft2(levelled * window)) ** 2
    power = power.reshape(len(pile), -1) / float((window**2).sum())
    noise = np.median(power[:, corners], axis=1)
    result = np.full((len(pile), len(PAIRS)), np.nan)
    for k, (coarse_mask, fine_mask) in enumerate(masks):
        coarse = power[:, coarse_mask].mean(axis=1) - noise
        fine = np.maximum(power[:, fine_mask].mean(axis=1) - noise, 1e-3)
        shows = coarse >= LEAST_POWER
        result[shows, k] = np.log10(fine[shows] / coarse[shows])
    return result


def against_the_rest(luma: npt.NDArray[np.generic], box: list[float]) -> tuple[Array, Array] | None:
    """Return the fall-offs of a box of shares and those of the frame's best places.

    Parameters
    ----------
    luma : ndarray of shape (M, N)
    box : list of float
        Left, top, width and height in shares.

    Returns
    -------
    (ndarray, ndarray) or None
        Two numbers each (`fall_offs`), NaN where the place shows nothing; None for a small picture
        or one that shows nothing.
    """
    height, width = luma.shape
    if min(height, width) < 2 * SIDE:
        return None
    row, column = (box[1] + box[3] / 2) * height, (box[0] + box[2] / 2) * width
    here = [(row + down, column + across) for down in SHIFTS_PX for across in SHIFTS_PX]
    step = max(SIDE // 2, int(np.sqrt(height * width / MOST_TILES)))
    rest = [
        (y, x)
        for y in range(SIDE // 2, height - SIDE // 2 + 1, step)
        for x in range(SIDE // 2, width - SIDE // 2 + 1, step)
    ]
    inside, every = fall_offs(_cut(luma, here)), fall_offs(_cut(luma, rest))
    told = np.isfinite(every[:, 0])
    if told.sum() < 5:
        return None
    best = np.array([_quantile(every[:, k]) for k in range(len(PAIRS))])
    return np.array([_most(inside[:, k]) for k in range(len(PAIRS))]), best


def _most(values: Array) -> float:
    told = values[np.isfinite(values)]
    return float(told.max()) if told.size else np.nan


def _quantile(values: Array) -> float:
    told = values[np.isfinite(values)]
    return float(np.quantile(told, GENTLEST)) if told.size >= 5 else np.nan


def _cut(
    luma: npt.NDArray[np.generic], centres: Sequence[tuple[float, float]]
) -> npt.NDArray[np.generic]:
    height, width = luma.shape
    tops = [min(max(int(y) - SIDE // 2, 0), height - SIDE) for y, _ in centres]
    lefts = [min(max(int(x) - SIDE // 2, 0), width - SIDE) for _, x in centres]
    return np.stack([luma[y : y + SIDE, x : x + SIDE] for y, x in zip(tops, lefts, strict=True)])


@lru_cache(maxsize=1)
def _tables() -> tuple[Any, Any, Any, list[tuple[Any, ...]], Any]:
    side = np.hanning(SIDE + 2)[1:-1]
    window = np.asarray(side[:, None] * side[None], np.float32)
    y, x = (v.ravel() for v in np.mgrid[-1 : 1 : SIDE * 1j, -1 : 1 : SIDE * 1j])
    terms = np.stack([np.ones_like(x), x, y, x * x, y * y, x * y]).astype(np.float32)
    inverse = np.linalg.pinv(terms.astype(float)).astype(np.float32)
    frequency = np.hypot(np.fft.fftfreq(SIDE)[:, None], np.fft.rfftfreq(SIDE)[None]).ravel()
    masks = [tuple((frequency >= low) & (frequency < high) for low, high in pair) for pair in PAIRS]
    return window, terms, inverse, masks, frequency > ONLY_NOISE
