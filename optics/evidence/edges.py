"""How soft single edges are, and which way they face. Widths in pixels.

The slope of an edge is taken three times, each with a wider Gaussian; it falls the less the
softer the edge already was (the idea of Zhuo and Sim, Defocus map estimation from a single
image, Pattern Recognition 44, 2011). What slope a given blur leaves is known in closed form,
so widths come out in calibrated units: the disc of equal effect, or a disc and a straight
smear. The Gaussians are repeated sums of two neighbours, one addition a step.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from optics.evidence.disc_response import disc_response

Array = npt.NDArray[np.float64]
Frame32 = npt.NDArray[np.float32]
Mask = npt.NDArray[np.bool_]
Places = npt.NDArray[np.intp]

#: Sums of two neighbours each way; every one adds a quarter to the variance.
NARROW, MIDDLE, WIDE = 4, 10, 20
#: What `find_edges` cannot judge at each side of a tile.
MARGIN_PX = WIDE // 2 + 2
#: A tile must be this much larger than what `WIDE` and two differences take.
LEAST_INSIDE_PX = 6
#: Softer edges than this look alike to the widest Gaussian: average the tile down first.
LARGEST_DISC_PX = 9.0
#: An edge must stand this many times above the noise of its own slope.
LIMIT_CONTRAST = 8.0
#: Sigma of the narrow slope of white noise of sigma 1: binomial of 4 both ways, differenced.
NOISE_SLOPE = 0.11
SMALLEST_SLOPE = 0.4
#: Ways an edge may face, and when one is heard: edges in a place, places in the frame.
WAYS, LEAST_OF_A_WAY, LEAST_PLACES = 8, 10, 4
#: Quantile of the slope ratio: high is sharp.
SHARPER_ONES = 0.7


@dataclass(frozen=True)
class Edges:
    """Edges found in one or more tiles; arrays of one length."""

    row: Array
    column: Array
    normal_rad: Array  # across the edge, from the columns' axis x towards y (down), 0 to pi
    ratio: Array  # narrow slope over wide slope: 1 for a very soft edge, about 2 for a sharp one
    contrast: Array  # height of the step, about, in the units of the luminance

    def __len__(self) -> int:
        return len(self.row)

    def where(self, chosen: npt.NDArray[np.bool_] | npt.NDArray[np.intp]) -> Edges:
        """Return only the chosen edges."""
        return Edges(*(getattr(self, f.name)[chosen] for f in fields(self)))

    def disc_px(self) -> Array:
        """Return each edge's blur as a disc of equal effect, the pixel's own share taken off."""
        discs, ratios = _ratios(NARROW, WIDE)
        return np.interp(self.ratio, ratios[::-1], discs[::-1])


NO_EDGES = Edges(*(np.empty(0) for _ in range(5)))


def join(parts: list[Edges]) -> Edges:
    """Return all edges of several tiles as one."""
    if not parts:
        return NO_EDGES
    return Edges(*(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Edges)))


def sharpest_by_way(tiles: list[Edges], split_px: float | None = None) -> Array:
    """Return how soft the sharpest edges of a frame are, by the way they face; NaN: none heard.

    Things are often softer than the lens drew them and most of a frame lies out of focus, so in
    each small place the sharper edges count, and of all places the third sharpest.

    Parameters
    ----------
    tiles : list of Edges
    split_px : float, optional
        Where each tile is cut into four places, from its upper left corner.

    Returns
    -------
    ndarray of shape (WAYS,)
        Discs of equal effect in pixels; the k-th for normals near k pi / WAYS.
    """
    every = join(tiles)
    place = np.concatenate([np.full(len(t), k) for k, t in enumerate(tiles)] or [np.empty(0, int)])
    count = len(tiles)
    if split_px is not None:
        place = 4 * place + 2 * (every.row > split_px) + (every.column > split_px)
        count *= 4
    if not count or not len(every):
        return np.full(WAYS, np.nan)
    key = place * WAYS + np.floor(every.normal_rad / np.pi * WAYS + 0.5).astype(int) % WAYS
    order = np.lexsort((every.ratio, key))
    first = np.searchsorted(key[order], np.arange(count * WAYS + 1))
    many = np.diff(first)
    own = np.full(count * WAYS, np.nan)
    told = many >= LEAST_OF_A_WAY
    own[told] = every.ratio[order][first[:-1][told] + ((many[told] - 1) * SHARPER_ONES).astype(int)]
    ranked = -np.sort(-own.reshape(count, WAYS), axis=0)  # NaN last
    heard = np.isfinite(ranked).sum(axis=0) >= LEAST_PLACES
    best = np.where(heard, ranked[min(2, count - 1)], np.nan)
    return np.where(heard, np.interp(best, *_falling()), np.nan)


def find_edges(tile: npt.NDArray[np.generic], noise_sigma: float = 1.0) -> Edges:
    """Return the single, straight enough edges of a tile with the softness of each.

    Parameters
    ----------
    tile : ndarray of shape (M, N)
        Linear luminance, on a scale of 0 to 255.
    noise_sigma : float
        Of one pixel, on the same scale.

    Returns
    -------
    Edges
        Positions in the tile. Softness is trustworthy up to `LARGEST_DISC_PX`.

    Notes
    -----
    An edge must be the steepest place along its own normal; all three slopes must point the
    same way and tell the same width. Corners, hairs and crowded texture fail.
    """
    width = tile.shape[1]
    rows, columns = (side - WIDE - 2 for side in tile.shape)  # where slopes are known
    if min(rows, columns) < LEAST_INSIDE_PX:
        return NO_EDGES
    narrow, middle, wide = _levels(np.asarray(tile, np.float32))
    every = (rows - 1) * width + columns
    across = narrow[width + 2 :][:every] - narrow[width:][:every]
    down = narrow[2 * width + 1 :][:every] - narrow[1:][:every]
    square = np.zeros((rows + 1) * width, np.float32)
    np.add(across * across, down * down, out=square[:every])
    least = 2.0 * max(NOISE_SLOPE * noise_sigma * LIMIT_CONTRAST, SMALLEST_SLOPE)
    at = _above(least**2, square.reshape(-1, width)[:rows, :columns])
    x, y = across[at], down[at]
    for sign in (1, -1):  # one side after the other: most are gone after the first
        value = sign * np.sqrt(square[at])
        top = square[at] >= _between(square, width, at, y / value, x / value)
        at, x, y = at[top], x[top], y[top]
    value = np.sqrt(square[at])
    x, y = x / value, y / value
    by_middle, by_wide = (_ratio(level, width, at, (x, y, value)) for level in (middle, wide))
    kept = np.isfinite(by_middle + by_wide)
    kept[kept] = _tell_the_same(by_middle[kept], by_wide[kept])
    at, ratio = at[kept], by_wide[kept]
    x, y, value = x[kept], y[kept], value[kept]
    spread = np.sqrt(NARROW / 4.0 + 0.25 + (np.interp(ratio, *_falling()) / 3.76) ** 2)
    return Edges(
        at // width + float(MARGIN_PX - 1),
        at % width + float(MARGIN_PX - 1),
        np.mod(np.arctan2(y, x), np.pi).astype(float),
        ratio.astype(float),
        np.asarray(value * spread * np.sqrt(np.pi / 2.0), float),
    )


def _tell_the_same(middle_ratio: npt.NDArray[Any], wide_ratio: npt.NDArray[Any]) -> Mask:
    """An edge by itself has one width, whichever Gaussian asks."""
    discs, ratios = _ratios(NARROW, MIDDLE)
    by_middle = np.interp(middle_ratio, ratios[::-1], discs[::-1])
    by_wide = np.interp(wide_ratio, *_falling())
    return np.asarray(np.abs(by_middle - by_wide) < 0.15 * by_wide + 0.6)


def _falling() -> tuple[Array, Array]:
    discs, ratios = _ratios(NARROW, WIDE)
    return ratios[::-1], discs[::-1]


def _levels(tile: Frame32) -> list[Frame32]:
    """Return the tile under the three Gaussians, from the corner all of them reach.

    Each as one long row, which is added much quicker than row by row; what is summed over the ends
    of rows lies beyond what the widest reaches.
    """
    width, level, done, levels = tile.shape[1], tile.ravel(), 0, []
    for passes in (NARROW, MIDDLE, WIDE):
        for step in (width, 1):
            for _ in range(passes - done):
                level = level[step:] + level[:-step]
        level *= np.float32(0.25 ** (passes - done))
        done = passes
        levels.append(level[(WIDE - passes) // 2 * (width + 1) :])
    return levels


def _above(limit: float, square: Frame32) -> Places:
    """Return where it is above, as places in one long row, the rim left out."""
    width = square.strides[0] // square.itemsize
    row, column = np.divmod(np.flatnonzero(square[1:-1, 1:-1] > limit), square.shape[1] - 2)
    return np.asarray((row + 1) * width + column + 1)


def _between(values: Frame32, width: int, at: Places, down: Frame32, across: Frame32) -> Array:
    """Read values up to a pixel down and across from places, linearly between the pixels."""
    top, left = np.floor(down), np.floor(across)
    corner = at + (top * width + left).astype(np.intp)
    fr, fc = down - np.asarray(top, float), across - np.asarray(left, float)
    upper = values[corner] * (1 - fc) + values[corner + 1] * fc
    corner += width
    lower = values[corner] * (1 - fc) + values[corner + 1] * fc
    return np.asarray(upper * (1 - fr) + lower * fr)


def _ratio(
    level: Frame32, width: int, at: Places, edge: tuple[Frame32, Frame32, Frame32]
) -> Frame32:
    """Return how much steeper edges were than on this level; NaN where that faces elsewhere.

    ``edge`` is the normal, x and y, and twice the slope.
    """
    x = level[at + (width + 2)] - level[at + width]
    y = level[at + (2 * width + 1)] - level[at + 1]
    size = np.maximum(np.hypot(x, y), 2e-6)
    alike = edge[0] * x + edge[1] * y > 0.985 * size
    return np.where(alike, edge[2] / size, np.float32(np.nan))


# -- what slope a known blur leaves -------------------------------------------------------------

_FREQUENCY = np.arange(0.002, 1.4, 0.004)  # cycles per pixel
_ANGLES = np.radians([2.5, 12.0, 22.0, 33.0, 42.0])  # of the edge to the pixel grid


def _kernel(passes: int) -> Array:
    """Response of the pixel, the sums and the difference along an edge's normal, mean angle."""
    f, total = _FREQUENCY, np.zeros_like(_FREQUENCY)
    for angle in _ANGLES:
        c, s = np.cos(angle), np.sin(angle)
        pixel = np.sinc(f * c) * np.sinc(f * s)
        sums = (np.cos(np.pi * f * c) * np.cos(np.pi * f * s)) ** passes
        difference = c * c * np.sinc(2.0 * f * c) + s * s * np.sinc(2.0 * f * s)
        # the steepest pixel lies up to half a pixel beside the edge
        total += pixel * sums * difference * np.sinc(f * max(c, s))
    return total / len(_ANGLES)


@lru_cache(maxsize=4)
def _ratios(narrow: int, wide: int) -> tuple[Array, Array]:
    """Discs and the slope ratio each gives, falling."""
    discs = np.concatenate([np.arange(0.0, 6.0, 0.25), np.arange(6.0, 20.1, 1.0)])
    response = disc_response(np.outer(discs, _FREQUENCY))
    ratios = (response @ _kernel(narrow)) / (response @ _kernel(wide))
    return discs, np.minimum.accumulate(np.asarray(ratios))
