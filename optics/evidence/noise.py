"""How much noise a picture has, and how much its ISO lets expect. In 8-bit steps.

Immerkaer, Fast Noise Variance Estimation, Computer Vision and Image Understanding 64 (1996),
with texture rejected: only the quietest places count.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

TILE_PX = 16
#: Of all tiles, the quietest that count.
QUIET_SHARE = 0.1
#: The quietest tenth of tiles of pure noise reads low by this (16 x 16 pixels, by simulation).
QUIET_BIAS = 0.835
#: Share of the noise that must survive JPEG before the rest is worked out from it.
LEAST_KEPT = 0.6
DARKEST, BRIGHTEST = 16.0, 240.0

#: Electrons a square micrometre of sensor holds at ISO 100: common practice, no source.
FULL_WELL_PER_UM2 = 1800.0
READ_NOISE_E = 4.0
#: What a camera's JPEG leaves of the noise its RAW had: common practice, no source.
LEFT_BY_JPEG = 0.55
MID_GREY = 0.18


def sigma(luminance: npt.NDArray[np.generic]) -> float:
    """Return the standard deviation of the noise of a picture.

    Parameters
    ----------
    luminance : ndarray of shape (M, N), at least 3 x 3
        Whole pictures or a pile of tiles of shape (K, M, N).

    Returns
    -------
    float
        In the units of the luminance. Noise that is smeared over neighbours (in-camera noise
        reduction, strong compression) reads low.

    References
    ----------
    Immerkaer, CVIU 64 (1996), pages 300 to 302.
    """
    given = np.asarray(luminance, np.float32)
    tiles = np.asarray(tiles_of(given) if given.ndim == 2 else given, np.float32)
    if not tiles.shape[0]:
        raise ValueError(f"luminance must be 3 x 3 or more, not {np.shape(luminance)}")
    return _quietest(tiles)


def tiles_of(luminance: npt.NDArray[np.generic], side: int = TILE_PX) -> npt.NDArray[np.generic]:
    """Cut a picture into square tiles, shape (K, side, side); one tile if it is smaller."""
    height, width = luminance.shape
    if min(height, width) < side:
        return luminance[None] if min(height, width) >= 3 else np.empty((0, 3, 3))
    down, across = height // side, width // side
    cut = luminance[: down * side, : across * side].reshape(down, side, across, side)
    return cut.swapaxes(1, 2).reshape(down * across, side, side)


def sigma_of_flat(tiles: npt.NDArray[np.generic], steps: Array | None = None) -> float:
    """Return the noise of tiles known to be flat, as it was before JPEG rounded it away.

    Parameters
    ----------
    tiles : ndarray of shape (K, M, N)
    steps : ndarray of shape (8, 8), optional
        The file's quantisation steps for luminance, rows down in frequency. What they leave of
        white noise is known, so the noise before them follows from what is left. Where less than
        `LEAST_KEPT` of it is left nothing can be told of it: then the answer is what is left.
    """
    values = np.asarray(tiles, np.float32)
    across = 2.0 * values[:, :, 1:-1] - values[:, :, :-2] - values[:, :, 2:]
    both = 2.0 * across[:, 1:-1] - across[:, :-2] - across[:, 2:]
    left = float(np.sqrt(np.median((both**2).mean(axis=(1, 2))) / 36.0))
    if steps is None:
        return left
    trial, kept = _kept_of(tuple(steps.ravel().tolist()))
    before = float(np.interp(left, kept, trial, left=left))
    return before if left >= LEAST_KEPT * before else left


@lru_cache(maxsize=32)
def _kept_of(steps: tuple[float, ...]) -> tuple[Array, Array]:
    """Return noise before and after rounding to these steps; cameras use few tables."""
    trial = np.geomspace(0.2, 40.0, 60)
    table = np.reshape(np.array(steps), (8, 8))
    kept = np.array([_left_by(float(sigma), table) for sigma in trial])
    return trial, np.asarray(np.maximum.accumulate(kept))


def _left_by(sigma: float, steps: Array) -> float:
    """Return what the operator reads of white noise after rounding to the steps."""
    # Laplacian response at each cosine's frequency, and the power rounding leaves of it
    response = (2.0 - 2.0 * np.cos(np.pi * np.arange(8) / 8.0)) ** 2
    weight = response[:, None] * response[None]
    levels = np.arange(1, 40)[:, None, None]
    upper = (levels + 0.5) * steps / (sigma * math.sqrt(2.0))
    lower = (levels - 0.5) * steps / (sigma * math.sqrt(2.0))
    share = _erf(upper) - _erf(lower)
    power = ((levels * steps) ** 2 * share).sum(axis=0)
    return float(np.sqrt((power * weight).sum() / weight.sum()))


def _erf(x: Array) -> Array:
    """Error function, to 1.5e-7 (Abramowitz and Stegun, 7.1.26)."""
    t = 1.0 / (1.0 + 0.3275911 * x)
    series = t * (
        0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429)))
    )
    return np.asarray(1.0 - series * np.exp(-x * x))


def _each(tiles: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    across = 2.0 * tiles[:, :, 1:-1] - tiles[:, :, :-2] - tiles[:, :, 2:]
    both = 2.0 * across[:, 1:-1] - across[:, :-2] - across[:, 2:]
    return np.asarray(np.abs(both).mean(axis=(1, 2)) * math.sqrt(math.pi / 2.0) / 6.0)


def _quietest(tiles: npt.NDArray[np.float32]) -> float:
    mean = tiles.mean(axis=(1, 2))
    usable = (mean > DARKEST) & (mean < BRIGHTEST)
    if usable.sum() >= max(4, len(tiles) // 50):
        tiles = tiles[usable]
    each = _each(tiles)
    if len(each) < 10:
        return float(np.median(each))
    each = np.sort(each)
    quiet = each[: max(int(len(each) * QUIET_SHARE), 5)]
    return float(np.mean(quiet) / QUIET_BIAS)


def expected_sigma(
    iso: float, pixel_pitch_um: float | None, *, compressed: bool = True
) -> float | None:
    """Return the noise a camera's picture may be expected to have at mid grey, in 8-bit steps.

    Parameters
    ----------
    iso : float
        Recorded sensitivity.
    pixel_pitch_um : float or None
        None: cannot tell.
    compressed : bool
        The camera's own JPEG, smoothed by it; else a developed RAW.

    Notes
    -----
    Photon and read noise of an assumed sensor (`FULL_WELL_PER_UM2`), through the sRGB curve at
    18 per cent. Good to a factor of two: an origin 'assumed', never a fact.
    """
    if not pixel_pitch_um or iso <= 0:
        return None
    full = FULL_WELL_PER_UM2 * pixel_pitch_um**2 * 100.0 / iso
    electrons = MID_GREY * full
    relative = math.sqrt(electrons + READ_NOISE_E**2) / full
    # slope of the sRGB curve at mid grey, in 8-bit steps a unit of light
    slope = 255.0 * 1.055 / 2.4 * MID_GREY ** (1.0 / 2.4 - 1.0)
    return float(relative * slope * (LEFT_BY_JPEG if compressed else 1.0))
