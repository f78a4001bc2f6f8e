"""Where a picture is sharp, and how wide its blur is there. Widths in pixels of the picture.

The map is the modified Laplacian (Nayar and Nakagawa, Shape from Focus, IEEE PAMI 16, 1994),
pooled in blocks. Divided by the same measure of the picture made coarser it no longer depends
on contrast or light, and nearly not on texture: an edge blurred over many pixels loses almost
nothing by being made coarser, a sharp one does.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Luma = npt.NDArray[np.generic]

BLOCK_PX = 32
ROWS_AT_ONCE = 32
#: Mean modified Laplacian of white noise of sigma 1: two absolute second differences, each a
#: normal deviate of sigma sqrt(6).
NOISE_DETAIL = 2.0 * np.sqrt(6.0) * np.sqrt(2.0 / np.pi)
#: A block with less detail than this many times its noise shows nothing to judge by.
LIMIT_DETAIL = 1.6
LARGEST_DISC_PX = 60.0


def block_rows(
    rows: npt.NDArray[np.int16], block_px: int, scratch: list[npt.NDArray[np.int16]]
) -> Array:
    """Return the pooled modified Laplacian of a few rows of blocks.

    Parameters
    ----------
    rows : ndarray of int16, shape (K block_px + 2, N)
        8-bit luminance with one row more above and below.
    block_px : int
        Side of a block, at most 32: the sum over a column must fit 16 bits.
    scratch : list of ndarrays
        As `scratch_for` gives it for so many rows or more. Overwritten, so that a whole picture
        needs no fresh memory.

    Returns
    -------
    ndarray of shape (K, N // block_px)
        Mean over each block, in the units of the luminance.
    """
    middle = rows[1:-1]
    steps, total, across = (each[: len(middle) + (k == 0)] for k, each in enumerate(scratch))
    np.subtract(rows[1:], rows[:-1], out=steps)
    np.subtract(steps[:-1], steps[1:], out=total)  # second difference down the columns
    np.abs(total, out=total)
    # as one long row, which is much quicker than row by row; the ends of rows are set after
    flat = middle.reshape(-1)
    step = steps.reshape(-1)[: flat.size - 1]
    np.subtract(flat[1:], flat[:-1], out=step)
    np.subtract(step[:-1], step[1:], out=across.reshape(-1)[1:-1])
    # the two outermost columns have one neighbour: the picture is continued by itself
    np.subtract(middle[:, 0], middle[:, 1], out=across[:, 0])
    np.subtract(middle[:, -1], middle[:, -2], out=across[:, -1])
    np.abs(across, out=across)
    np.add(total, across, out=total)
    down = len(middle) // block_px
    columns = np.add.reduce(total.reshape(down, block_px, -1), axis=1, dtype=np.int16)
    blocks = rows.shape[1] // block_px
    by_block = columns[:, : blocks * block_px].reshape(down, blocks, block_px)
    return np.asarray(by_block.sum(axis=2, dtype=np.int64) / float(block_px * block_px))


def scratch_for(height: int, width: int) -> list[npt.NDArray[np.int16]]:
    """Return memory for `block_rows`: int16 of (height + 1, N) and twice (height, N)."""
    return [np.empty((height + extra, width), np.int16) for extra in (1, 0, 0)]


def sharpness_map(luminance: Luma, block_px: int = BLOCK_PX) -> Array:
    """Return the mean modified Laplacian of each block of a picture.

    Parameters
    ----------
    luminance : ndarray of shape (M, N)
        8-bit luminance (other numbers are rounded to 0..255).
    block_px : int
        Side of a block, 1 to 32.

    Returns
    -------
    ndarray of shape (M // block_px, N // block_px)
        In units of the luminance. Compare it within one scene, or between frames of the same
        scene; to compare scenes use `blur_map`.

    References
    ----------
    Nayar and Nakagawa, Shape from Focus, IEEE PAMI 16 (1994), section 4.
    """
    if luminance.ndim != 2:
        raise ValueError(f"luminance must have rows and columns only, not shape {luminance.shape}")
    if not 1 <= block_px <= 32:
        raise ValueError(f"block_px must be 1 to 32, not {block_px}")
    if luminance.dtype != np.uint8:
        luminance = np.clip(np.rint(luminance), 0, 255).astype(np.uint8)
    height, width = luminance.shape
    result = np.zeros((height // block_px, width // block_px))
    if width < 2 or not result.size:
        return result
    several = ROWS_AT_ONCE // block_px  # rows of blocks: fewer calls where blocks are small
    rows = np.empty((several * block_px + 2, width), np.int16)
    scratch = scratch_for(several * block_px, width)
    for k in range(0, len(result), several):
        top, bottom = k * block_px, min(k + several, len(result)) * block_px
        part = rows[: bottom - top + 2]
        first, last = max(top - 1, 0), min(bottom + 1, height)
        part[first - top + 1 : last - top + 1] = luminance[first:last]
        if top == 0:
            part[0] = part[1]
        if bottom == height:
            part[-1] = part[-2]
        result[k : k + several] = block_rows(part, block_px, scratch)
    return result


def blur_map(
    fine: Array, coarse: Array, factor: int, noise_fine: float, noise_coarse: float
) -> Array:
    """Return the blur of each block as a disc of equal effect, NaN where nothing shows it.

    Parameters
    ----------
    fine, coarse : ndarrays of one shape
        Modified Laplacian of a picture and of the same picture averaged over factor x factor
        pixels, pooled over the same blocks of the scene.
    factor : int
        2 or more.
    noise_fine, noise_coarse : float
        What noise alone adds to each (`noise_floor`).

    Returns
    -------
    ndarray
        Diameter in pixels of the fine picture, 0 to `LARGEST_DISC_PX`.

    Notes
    -----
    Exact for steps of any height and direction; rounded things read softer than they are, fine
    regular texture sharper. A map to find where, not a measurement: that is `edges`.
    """
    left = np.sqrt(np.maximum(fine**2 - noise_fine**2, 0.0))
    base = np.sqrt(np.maximum(coarse**2 - noise_coarse**2, 1e-9))
    discs, ratios = _ratio_table(factor)
    blur = np.interp(left / base, ratios[::-1], discs[::-1])
    shows = (coarse > LIMIT_DETAIL * noise_coarse) & (coarse > LIMIT_DETAIL)
    # had it been sharp, would noise have let it be seen?
    shows &= ratios[0] * base > LIMIT_DETAIL * noise_fine
    return np.where(shows, blur, np.nan)


def noise_floor(detail: Array) -> float:
    """Return the detail of the quietest blocks: what noise alone gives, or less."""
    quiet = detail[detail > 0.0]
    return float(np.percentile(quiet, 3.0)) if quiet.size else 0.0


def edge_detail(disc_px: float) -> float:
    """Return the modified Laplacian summed across a unit edge blurred by a disc and the pixel.

    Mean over the directions of the edge; per pixel of its length.
    """
    step_px = 0.02
    reach = disc_px / 2.0 + 3.0
    at = np.arange(-reach, reach + step_px / 2, step_px)
    # the integral of a disc's line spread, 4 / (pi d) sqrt(1 - (2 t / d)^2)
    t = np.clip(2.0 * at / max(disc_px, 1e-3), -1.0, 1.0)
    edge = 0.5 + (t * np.sqrt(1.0 - t**2) + np.arcsin(t)) / np.pi
    total, angles = 0.0, np.radians(np.arange(2.5, 45.0, 5.0))
    for angle in angles:
        sides = [max(round(float(side) / step_px), 1) for side in (np.cos(angle), np.sin(angle))]
        seen = edge
        for side in sides:  # the pixel, seen along the edge's normal, is two boxes
            padded = np.pad(seen, (side // 2, side - 1 - side // 2), mode="edge")
            seen = np.convolve(padded, np.full(side, 1.0 / side), mode="valid")
        for side in sides:  # its neighbour along the row, and along the column
            padded = np.pad(seen, side, mode="edge")
            second = 2.0 * seen - padded[: -2 * side] - padded[2 * side :]
            total += float(np.abs(second).sum()) * step_px
    return total / len(angles)


@lru_cache(maxsize=8)
def _ratio_table(factor: int) -> tuple[Array, Array]:
    """Discs and the ratio fine / coarse they give, falling."""
    discs = np.concatenate([np.arange(0.0, 4.0, 0.25), np.geomspace(4.0, LARGEST_DISC_PX, 25)])
    details = np.array([edge_detail(disc) for disc in discs])
    coarse = np.interp(discs / factor, discs, details)
    return discs, np.asarray(details / (factor * coarse))
