"""Sharpness of all frames at the same places of the subject, fine and coarse."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from optics.evidence.registration import Alignment, warped
from shootlog.series.moves import Chain
from shootlog.series.shot import Array, Shot

COARSER = (1, 2, 4)  # how often `luma` is reduced: coarse detail is seen far from the focus
PATCH_PX = 8  # side of a patch, in pixels of the reduced picture
AROUND = [(d, e) for d in (-2, -1, 0, 1, 2) for e in (-2, -1, 0, 1, 2)]


def registered_maps(shots: Sequence[Shot], links: Chain) -> Array | None:
    """The sharpness maps of all frames, brought onto the middle frame; nan outside."""
    if len({s.detail.shape for s in shots}) > 1:
        return None
    middle = len(shots) // 2
    cell = shots[0].luma.shape[1] / max(shots[0].detail.shape[1], 1)
    maps = (_brought(s.detail, links.to(middle, k), cell) for k, s in enumerate(shots))
    return np.stack(list(maps))


def coarser_maps(shots: Sequence[Shot], links: Chain) -> list[Array]:
    """The same from the small picture, in three steps of coarseness."""
    if len({s.luma.shape for s in shots}) > 1:
        return []
    middle = len(shots) // 2
    out: list[list[Array]] = [[] for _ in COARSER]
    for k, shot in enumerate(shots):
        there = links.to(middle, k)
        picture = shot.luma.astype(np.float32)
        for n, factor in enumerate(COARSER):
            reduced = _means(picture, factor) if factor > 1 else picture
            if min(reduced.shape) >= 4 * PATCH_PX:
                out[n].append(_brought(_detail(reduced), there, PATCH_PX * factor))
    return [np.stack(maps) for maps in out if maps]


def on_grid(maps: Array, shape: tuple[int, ...]) -> Array:
    """(K, *shape): the maps looked up in the middles of another grid's blocks."""
    rows, columns = (
        np.minimum(((np.arange(want) + 0.5) * have / want).astype(int), have - 1)
        for want, have in zip(shape, maps.shape[1:], strict=True)
    )
    found: Array = maps[:, rows][:, :, columns]
    return found


def everywhere(maps: Array) -> Array:
    """(K, N): the patches that all frames show."""
    flat = maps.reshape(len(maps), -1)
    found: Array = flat[:, np.isfinite(flat).all(axis=0)]
    return found


def coarse_contrast(shot: Shot) -> Array:
    """Contrast at the size of a few blocks, for each block: a blur of the focus leaves it."""
    rows, columns = shot.detail.shape
    height, width = shot.luma.shape
    y = np.linspace(0, height, rows + 1).astype(int)[:-1]
    x = np.linspace(0, width, columns + 1).astype(int)[:-1]
    value = np.log(shot.luma.astype(np.float64) + 4)
    sums = np.add.reduceat(np.add.reduceat(value, y, axis=0), x, axis=1)
    ones = np.add.reduceat(np.add.reduceat(np.ones_like(value), y, axis=0), x, axis=1)
    mean = np.pad(sums / ones, 2, mode="reflect")
    near = np.stack([mean[2 + d : 2 + d + rows, 2 + e : 2 + e + columns] for d, e in AROUND])
    spread: Array = near.std(axis=0)
    return spread


def _brought(detail: Array, there: Alignment | None, cell: float) -> Array:
    """A map brought onto the middle frame; `cell` is its block's side in pixels of `luma`."""
    if there is None:
        return np.full(detail.shape, np.nan, np.float32)
    here = Alignment((there.shift[0] / cell, there.shift[1] / cell), there.scale, there.turn_deg)
    seen = warped(np.ones(detail.shape, np.float32), here) > 0.99
    return np.where(seen, warped(detail, here), np.nan)


def _detail(picture: Array) -> Array:
    """Mean modified Laplacian in patches."""
    total = np.zeros_like(picture)
    twice = 2 * picture[1:-1, 1:-1]
    total[1:-1, 1:-1] = np.abs(twice - picture[:-2, 1:-1] - picture[2:, 1:-1])
    total[1:-1, 1:-1] += np.abs(twice - picture[1:-1, :-2] - picture[1:-1, 2:])
    return _means(total, PATCH_PX)


def _means(picture: Array, side: int) -> Array:
    height, width = (length // side for length in picture.shape)
    cut = picture[: height * side, : width * side]
    means: Array = cut.reshape(height, side, width, side).mean(axis=(1, 3))
    return means
