"""A closer look at the few places of a picture that tell most: blur, smear, noise."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from optics.evidence import edges, noise, smear

if TYPE_CHECKING:
    from shootlog.intake.pixels import Small

Array = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]

#: Averaging factor and side of the tiles, in stored pixels.
LEVELS = ((1, 128), (2, 192), (4, 320), (8, 512))
#: Softer, or smeared longer, than this at one level: the next is asked too.
SOFT_PX, REACHED_PX = 5.5, 4.0
GRID = 4  # the frame is looked at in 4 x 4 parts, so that all of it is heard
#: A part with less detail than this share of the richest is left out.
LEAST_DETAIL = 0.1
FINEST, APART = 4, 3  # places, and blocks between two of them
QUIET_BLOCKS = 64
BLOCK_PX = 32
#: Reads low by this much: the quietest tenth of blocks was chosen by the same noise.
QUIET_BIAS = 0.96
LEAST_EDGES = 25
STRONG = 0.04  # of what the widest tile spans from dark to light

_LINEAR = (
    np.where(
        np.arange(256) <= 10.31,
        np.arange(256) / 12.92,
        255.0 * ((np.arange(256) / 255.0 + 0.055) / 1.055) ** 2.4,
    )
).astype(np.float32)


@dataclass
class Closer:
    """Lengths in pixels of the stored picture."""

    blur_px: float | None = None
    blur_low_px: float | None = None
    blur_high_px: float | None = None
    smear: smear.Smear | None = None
    by_way: Array | None = None  # softness of the sharpest edges, by the way they face


def luma_of(rgb: Pixels) -> Pixels:
    weighted = rgb[..., 0] * np.uint16(77) + rgb[..., 1] * np.uint16(150)
    return ((weighted + rgb[..., 2] * np.uint16(29)) >> 8).astype(np.uint8)


def noise_sigma(
    rgb: Pixels, detail: Array, small_luma: Pixels, quantisation: Array | None
) -> float | None:
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
        tiles.append(rgb[top : top + BLOCK_PX, left : left + BLOCK_PX])
    return float(noise.sigma_of_flat(luma_of(np.stack(tiles)), quantisation) / QUIET_BIAS)


def look_closer(rgb: Pixels, small: Small, sigma: float | None) -> Closer:
    """Return blur and smear from the tiles with the finest detail of every part of the frame."""
    found = Closer()
    if small.detail is None or small.coarse is None or not small.coarse.any():
        return found
    places = _places(small.detail, small.coarse)
    sets: list[edges.Edges] = []
    for level, side in LEVELS:
        tiles = [averaged(_luma_tile(rgb, p, small.detail.shape, side), level) for p in places]
        sets = [edges.find_edges(linear(tile), _linear_noise(sigma, level)) for tile in tiles]
        if _tells_enough(found, sets, tiles, level):
            break
    return found


def _tells_enough(found: Closer, sets: list[edges.Edges], tiles: list[Pixels], level: int) -> bool:
    """Take what this level shows; say whether a coarser one could show more.

    What is softer than a level's reach looks less soft there than it is, never more: of two
    levels the longer smear is right, unless only the shorter one is sure.
    """
    by_way = edges.sharpest_by_way(sets, tiles[0].shape[0] / 2.0 if level == 1 else None)
    if found.by_way is None:
        found.by_way = by_way * level
    smeared = smear.judge([*tiles], by_way)
    if smeared is not None and (found.smear is None or _tops(smeared, found.smear, level)):
        found.smear = smeared.scaled(level)
    if sum(len(own) for own in sets) < LEAST_EDGES:
        return False
    blurred = _blur(sets, tiles, level)
    if blurred is not None and (
        found.blur_px is None or (blurred[0] > found.blur_px and blurred[0] > SOFT_PX * level / 2)
    ):
        found.blur_px, found.blur_low_px, found.blur_high_px = blurred
    done = smeared is None or smeared.sure or smeared.length_px < REACHED_PX
    return done and blurred is not None and blurred[0] <= SOFT_PX * level


def _tops(new: smear.Smear, old: smear.Smear, level: int) -> bool:
    if new.sure != old.sure:
        return new.sure
    return new.length_px * level > old.length_px


def _places(fine: Array, coarse: Array) -> list[tuple[int, int]]:
    """Where to look: the finest detail of the frame, then the richest block of every part.

    The finest alone would pass by what moved; the richest alone what is sharpest.
    """
    height, width = fine.shape
    chosen: list[tuple[int, int]] = []
    for k in np.argsort(-fine, axis=None)[: FINEST * 40]:
        row, column = divmod(int(k), width)
        if all(max(abs(row - r), abs(column - c)) > APART for r, c in chosen):
            chosen.append((row, column))
        if len(chosen) == FINEST:
            break
    least = LEAST_DETAIL * float(coarse.max())
    for down in range(GRID):
        for across in range(GRID):
            top, left = down * height // GRID, across * width // GRID
            part = coarse[top : (down + 1) * height // GRID, left : (across + 1) * width // GRID]
            if not part.size or part.max() < least:
                continue
            row, column = divmod(int(part.argmax()), part.shape[1])
            place = (top + row, left + column)
            if all(max(abs(place[0] - r), abs(place[1] - c)) > APART for r, c in chosen):
                chosen.append(place)
    return chosen


def _luma_tile(rgb: Pixels, place: tuple[int, int], shape: tuple[int, ...], side: int) -> Pixels:
    height, width = rgb.shape[:2]
    side = min(side, height, width)
    top = int((place[0] + 0.5) / shape[0] * height) - side // 2
    left = int((place[1] + 0.5) / shape[1] * width) - side // 2
    top, left = max(min(top, height - side), 0), max(min(left, width - side), 0)
    return luma_of(rgb[top : top + side, left : left + side])


def linear(tile: npt.NDArray[Any]) -> npt.NDArray[np.float32]:
    """Undo the sRGB curve of 8-bit luminance, or of averages of it."""
    if tile.dtype == np.uint8:
        return _LINEAR[tile]
    return np.asarray(np.interp(tile, np.arange(256), _LINEAR), np.float32)


def averaged(tile: npt.NDArray[Any], factor: int) -> npt.NDArray[Any]:
    """Return the means over factor x factor pixels; what is left over at the rim is cut off."""
    if factor == 1:
        return tile
    height, width = (side // factor * factor for side in tile.shape)
    cut = tile[:height, :width].reshape(height // factor, factor, width // factor, factor)
    return np.asarray(cut.mean(axis=(1, 3), dtype=np.float32))


def _ends(tile: npt.NDArray[Any]) -> Array:
    """Return what 2 and 98 per cent of a tile lie below; `percentile` takes four times as long."""
    ranked = np.sort(tile, axis=None, kind="stable" if tile.dtype == np.uint8 else None)
    at = np.array([0.02, 0.98]) * (ranked.size - 1)
    lower, upper = (ranked[whole.astype(int)].astype(float) for whole in (at, np.ceil(at)))
    return np.asarray(lower + (upper - lower) * (at % 1.0))


def _linear_noise(sigma: float | None, level: int) -> float:
    return max((sigma or 1.0) / level, 0.4)


def _blur(
    sets: list[edges.Edges], tiles: list[npt.NDArray[Any]], level: int
) -> tuple[float, float, float] | None:
    """The sharpest places: no edge is drawn sharper than the lens and the hand allow."""
    discs = []
    # JPEG draws faint sharp edges of its own where there is nothing
    ends = [linear(_ends(tile)) for tile in tiles]
    least = STRONG * max((float(light - dark) for dark, light in ends), default=0.0)
    for own in sets:
        if len(own) < LEAST_EDGES:
            continue
        strong = own.where(own.contrast >= max(np.median(own.contrast), least))
        if len(strong) < LEAST_EDGES // 2:
            continue
        discs.append(float(np.percentile(strong.disc_px(), 40)) * level)
    if not discs:
        return None
    best = sorted(discs)[: max(len(discs) // 3, 1)]
    value = float(np.mean(best))
    wide = max(0.15 * value, 0.4 * level, float(np.std(best)))
    return value, max(value - wide, 0.0), value + wide
