"""How steeply fine detail falls off against coarse: one number for a place, in decades.

Texture of any kind falls off on its own, differently for every thing; so one place alone says
little, and only a very steep fall beside places that fall gently is defocus. A disc of d pixels
takes out everything beyond 1.22 / d cycles per pixel (first zero of its response, 2 J1(x) / x).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

#: Cycles per pixel.
COARSE, FINE, ONLY_NOISE = (0.05, 0.10), (0.24, 0.34), (0.50, 0.71)
#: Coarse power, in squared 8-bit steps: less shows nothing to judge by.
LEAST_POWER = 50.0
SMALLEST_SIDE_PX = 40


def fall_off(luma: npt.NDArray[np.generic]) -> float | None:
    """Return log10 of fine power over coarse power of a tile, None where it shows nothing.

    Parameters
    ----------
    luma : ndarray of shape (M, N)
        8-bit luminance; what lies in the corners of the spectrum counts as noise and is taken off.
    """
    tile = np.asarray(luma, float)
    if min(tile.shape) < SMALLEST_SIDE_PX:
        return None
    tile = _levelled(tile)
    height, width = tile.shape
    window = np.hanning(height + 2)[1:-1, None] * np.hanning(width + 2)[None, 1:-1]
    power = np.abs(np.fft.fft2(tile * window)) ** 2 / (window**2).sum()
    frequency = np.hypot(np.fft.fftfreq(height)[:, None], np.fft.fftfreq(width)[None])

    def mean(low: float, high: float) -> float:
        return float(power[(frequency >= low) & (frequency < high)].mean())

    noise = mean(*ONLY_NOISE)
    coarse, fine = mean(*COARSE) - noise, mean(*FINE) - noise
    return float(np.log10(max(fine, 1e-3) / coarse)) if coarse >= LEAST_POWER else None


def _levelled(tile: Array) -> Array:
    """Take a curved slope of light off, which would leak into every frequency."""
    y, x = np.mgrid[-1 : 1 : tile.shape[0] * 1j, -1 : 1 : tile.shape[1] * 1j]
    terms = np.column_stack([v.ravel() for v in (np.ones_like(x), x, y, x * x, y * y, x * y)])
    fit, *_ = np.linalg.lstsq(terms, tile.ravel(), rcond=None)
    return np.asarray(tile - (terms @ fit).reshape(tile.shape))


def against_the_rest(luma: npt.NDArray[np.generic], box: list[float]) -> tuple[float, float] | None:
    """Return the fall-off inside a box of shares and that of the frame's best places.

    The best is the gentlest tenth of all tiles of the box's size.
    """
    height, width = luma.shape
    tall = max(int(box[3] * height), SMALLEST_SIDE_PX)
    wide = max(int(box[2] * width), SMALLEST_SIDE_PX)
    tall, wide = min(tall, 96), min(wide, 96)
    row, column = int((box[1] + box[3] / 2) * height), int((box[0] + box[2] / 2) * width)
    inside = fall_off(
        luma[
            max(row - tall // 2, 0) : max(row + tall // 2, 0),
            max(column - wide // 2, 0) : max(column + wide // 2, 0),
        ]
    )
    if inside is None:
        return None
    every = [
        fall_off(luma[top : top + tall, left : left + wide])
        for top in range(0, height - tall + 1, tall)
        for left in range(0, width - wide + 1, wide)
    ]
    told = [value for value in every if value is not None]
    return (inside, float(np.quantile(told, 0.9))) if len(told) > 4 else None
