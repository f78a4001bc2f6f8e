"""A closer look at the few places of a picture that tell most: blur, smear, noise."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from optics.evidence import edges, noise, smear

if TYPE_CHECKING:
    from shootlog.intake.pixels import Small

Array = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]

TILE_PX = 144
GRID = 4  # the frame is looked at in 4 x 4 parts, so that all of it is heard
MOST_TILES = 12
QUIET_BLOCKS = 64
BLOCK_PX = 32
#: Reads low by this much: the quietest tenth of blocks was chosen by the same noise.
QUIET_BIAS = 0.96
LEAST_EDGES = 25
CROP_PX = 512

_LINEAR = (
    np.where(
        np.arange(256) <= 10.31,
        np.arange(256) / 12.92,
        255.0 * ((np.arange(256) / 255.0 + 0.055) / 1.055) ** 2.4,
    )
).astype(np.float32)


@dataclass
class Closer:
    """Lengths in pixels of the stored picture; boxes [x, y, width, height] in shares of it."""

    blur_px: float | None = None
    blur_low_px: float | None = None
    blur_high_px: float | None = None
    smear: smear.Smear | None = None
    smear_where: str | None = None
    boxes: list[tuple[str, list[float]]] = field(default_factory=list)


def luma_of(rgb: Pixels) -> Pixels:
    weighted = rgb[..., 0] * np.uint16(77) + rgb[..., 1] * np.uint16(150)
    return ((weighted + rgb[..., 2] * np.uint16(29)) >> 8).astype(np.uint8)


def noise_sigma(rgb: Pixels, detail: Array, small_luma: Pixels) -> float | None:
    """Return the noise of the quietest blocks that are neither black nor burnt."""
    if not detail.size:
        return None
    rows = (np.arange(detail.shape[0]) * small_luma.shape[0] // detail.shape[0])[:, None]
    columns = (np.arange(detail.shape[1]) * small_luma.shape[1] // detail.shape[1])[None]
    light = small_luma[rows, columns]
    usable = np.flatnonzero((light > noise.DARKEST) & (light < noise.BRIGHTEST))
    if usable.size < 8:
        return None
    order = usable[np.argsort(detail.ravel()[usable])]
    quiet = order[: max(order.size // 10, 8)]
    quiet = quiet[:: max(quiet.size // QUIET_BLOCKS, 1)]
    tiles = []
    for k in quiet:
        top, left = (int(v) * BLOCK_PX for v in divmod(int(k), detail.shape[1]))
        tiles.append(luma_of(rgb[top : top + BLOCK_PX, left : left + BLOCK_PX]))
    return float(noise.sigma_of_flat(np.stack(tiles)) / QUIET_BIAS)


def look_closer(rgb: Pixels, small: Small, sigma: float | None) -> Closer:
    """Return blur and smear from the tiles with the finest detail of every part of the frame."""
    found = Closer()
    if small.detail is None or not small.detail.any():
        return found
    places = _places(small.detail)
    tiles = [_tile(rgb, place, small.detail.shape) for place in places]
    level = 1
    sets: list[edges.Edges] = []
    for level in (1, 2, 4):
        sets = [edges.find_edges(_averaged(t, level), _linear_noise(sigma, level)) for t in tiles]
        if not _too_soft(sets):
            break
    _set_blur(found, sets, level)
    _set_smear(found, sets, level)
    _set_boxes(found, sets, places, small.detail.shape, rgb.shape)
    return found


def _places(detail: Array) -> list[tuple[int, int]]:
    """The block with most detail in each part of the frame that has some."""
    height, width = detail.shape
    chosen = []
    for down in range(GRID):
        for across in range(GRID):
            rows = slice(down * height // GRID, (down + 1) * height // GRID)
            columns = slice(across * width // GRID, (across + 1) * width // GRID)
            part = detail[rows, columns]
            if part.size and part.max() > 0.0:
                k = int(part.argmax())
                row, column = divmod(k, part.shape[1])
                chosen.append((float(part.max()), rows.start + row, columns.start + column))
    chosen.sort(reverse=True)
    return [(row, column) for _, row, column in chosen[:MOST_TILES]]


def _tile(rgb: Pixels, place: tuple[int, int], shape: tuple[int, ...]) -> npt.NDArray[np.float32]:
    height, width = rgb.shape[:2]
    side = min(TILE_PX, height, width)
    top = int((place[0] + 0.5) / shape[0] * height) - side // 2
    left = int((place[1] + 0.5) / shape[1] * width) - side // 2
    top, left = max(min(top, height - side), 0), max(min(left, width - side), 0)
    return _LINEAR[luma_of(rgb[top : top + side, left : left + side])]


def _averaged(tile: npt.NDArray[np.float32], factor: int) -> npt.NDArray[np.float32]:
    if factor == 1:
        return tile
    height, width = (side // factor * factor for side in tile.shape)
    cut = tile[:height, :width].reshape(height // factor, factor, width // factor, factor)
    return cut.mean(axis=(1, 3))


def _linear_noise(sigma: float | None, level: int) -> float:
    return max((sigma or 1.0) / level, 0.4)


def _too_soft(sets: list[edges.Edges]) -> bool:
    found = edges.join(sets)
    if len(found) < 2 * LEAST_EDGES:
        return True
    return float(np.median(found.disc_px())) > 6.0


def _set_blur(found: Closer, sets: list[edges.Edges], level: int) -> None:
    """The sharpest places: the PSF can be no wider than the sharpest edges drawn by it."""
    discs = []
    for own in sets:
        if len(own) < LEAST_EDGES:
            continue
        strong = own.where(own.contrast >= np.median(own.contrast))
        discs.append(float(np.percentile(strong.disc_px(), 40)) * level)
    if not discs:
        return
    discs.sort()
    best = discs[: max(len(discs) // 3, 1)]
    value = float(np.mean(best))
    wide = max(0.15 * value, 0.4, float(np.std(best)))
    found.blur_px, found.blur_low_px, found.blur_high_px = (
        value,
        max(value - wide, 0.0),
        value + wide,
    )


def _set_smear(found: Closer, sets: list[edges.Edges], level: int) -> None:
    place = np.concatenate([np.full(len(s), k) for k, s in enumerate(sets)] or [np.empty(0, int)])
    whole = smear.fit(edges.join(sets), place)
    if whole is None:
        return
    found.smear = smear.scaled(whole, level)
    if whole.length_px > 0.0:
        found.smear_where = "frame"


def _set_boxes(
    found: Closer,
    sets: list[edges.Edges],
    places: list[tuple[int, int]],
    shape: tuple[int, ...],
    size: tuple[int, ...],
) -> None:
    ranked = sorted(range(len(sets)), key=lambda k: -len(sets[k]))
    if not ranked:
        return
    row, column = places[ranked[0]]
    found.boxes.append(("finest detail", _crop(row, column, shape, size)))


def _crop(row: int, column: int, shape: tuple[int, ...], size: tuple[int, ...]) -> list[float]:
    width, height = min(CROP_PX / size[1], 1.0), min(CROP_PX / size[0], 1.0)
    x = min(max((column + 0.5) / shape[1] - width / 2, 0.0), 1.0 - width)
    y = min(max((row + 0.5) / shape[0] - height / 2, 0.0), 1.0 - height)
    return [x, y, width, height]
