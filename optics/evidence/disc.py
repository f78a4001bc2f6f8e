"""How wide a round blur is, from the rings it leaves in the spectrum. Widths in pixels.

An edge says how soft it is, not why: a rounded thing is soft in the best focus, and crowded
texture looks crisp out of it. A lens out of focus leaves something no thing has by itself: it
takes out whole rings of the spectrum, the first at 1.22 / d cycles per pixel for a disc of d
pixels (zeros of 2 J1(x) / x; Gennery, Determination of optical transfer function by inspection
of frequency-domain plot, JOSA 63, 1973, cited from memory). So a smooth texture times a disc is
fitted to what a tile shows; told is only a disc without which the tile cannot be explained.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from optics.evidence.disc_response import disc_response

Array = npt.NDArray[np.float64]

SIDE = 48
#: The discs that are tried: from none to what a tile of this size can still show.
DISCS_PX = np.concatenate([[0.0, 0.5, 1.0], np.arange(1.5, 8.0, 0.25), np.arange(8.0, 20.1, 0.5)])
#: Smaller ones leave no ring that a pixel can show.
SMALLEST_PX = 2.4
#: Texture falls off as the frequency to this power, give or take, and bends by so much (decades).
FALL, FALL_GIVE, BEND_GIVE = -2.6, 0.7, 0.35
#: How far the power in a ring strays from a smooth texture, and one sample of it, in decades.
STRAY, STRAY_OF_ONE = 0.12, 0.46
MOST_STRAY = 16.0  # one ring that fits nothing must not decide alone
#: Of the power in the corners of the spectrum, what counts as noise.
NOISE_SHARE, CORNER_RINGS = 0.7, 4
#: Discs within so much of the best misfit are as good; told ones are better than none by so much.
AS_GOOD, BETTER = 6.0, 10.0
MOST_MISFIT = 3.2  # for each ring: more, and it is no texture that this knows
FIRST_RING, SPREAD = 2, 0.1
WAYS, ALIKE = 4, 0.25  # directions that are asked, and how far they may differ


@dataclass(frozen=True)
class Discs:
    """What tiles tell; arrays of one length. Only where `told` are the widths more than a fit."""

    width_px: Array
    low_px: Array
    high_px: Array
    told: npt.NDArray[np.bool_]


def find_discs(tiles: npt.NDArray[Any]) -> Discs:
    """Return the disc of equal blur that each tile shows.

    Parameters
    ----------
    tiles : ndarray of shape (K, SIDE, SIDE)
        Linear luminance, on a scale of 0 to 255.

    Returns
    -------
    Discs
        Widths of 0 to 20 pixels. A tile of plain texture tells discs of about 3 to 14 pixels.
    """
    ring, weight, _, _ = _rings()
    power = _power(tiles).reshape(len(tiles), -1) * weight
    return _fitted(_pooled(power, ring), _pooled(weight[None], ring)[0])


def round_ones(tiles: npt.NDArray[Any]) -> npt.NDArray[np.bool_]:
    """Return which tiles tell the same disc whichever direction of the spectrum is asked.

    Movement takes out stripes, not rings: across it nothing is lost. Shape as `find_discs`.
    """
    ring, weight, way, _ = _rings()
    power = _power(tiles).reshape(len(tiles), -1) * weight
    left, widths = np.arange(len(tiles)), np.empty((0, len(tiles)))
    for k in range(WAYS):  # only those that told a disc so far are asked on
        mine = way == k
        many = _pooled(np.where(mine, weight, 0.0)[None], ring)[0]
        found = _fitted(_pooled(np.where(mine, power[left], 0.0), ring), many)
        widths = np.vstack([widths, found.width_px])[:, found.told]
        left = left[found.told]
        if not len(left):
            break
    result = np.zeros(len(tiles), bool)
    if len(left):
        middle = np.median(widths, axis=0)
        result[left] = np.abs(widths - middle).max(axis=0) <= ALIKE * middle
    return result


def _fitted(total: Array, many: Array) -> Discs:
    """Fit texture times disc to ring totals (K, rings) of `many` samples each."""
    _, _, _, frequency = _rings()
    many = np.maximum(many, 1e-6)  # a ring without samples weighs nothing
    power = total / many + 1e-6
    noise = NOISE_SHARE * np.median(power[:, -CORNER_RINGS:], axis=1, keepdims=True) + 1e-4
    power, many = power[:, FIRST_RING:], many[FIRST_RING:]
    lost = _lost()[:, FIRST_RING:]
    certain = 1.0 / (STRAY**2 + STRAY_OF_ONE**2 / many)
    weight = np.clip(1.0 - noise / power, 0.0, 1.0) ** 2 * certain
    x = np.log10(frequency[FIRST_RING:]) + 1.0
    terms = np.stack([np.ones_like(x), x, x * x])
    give = np.array([1e-6, 1.0 / FALL_GIVE**2, 1.0 / BEND_GIVE**2])
    # (K, discs, rings): what a disc does not explain, texture must
    left = np.log10(np.maximum(power - noise, 1e-6))[:, None] - lost[None]
    normal = np.einsum("kr,ar,br->kab", weight, terms, terms) + np.diag(give)
    right = (left * weight[:, None]) @ terms.T
    right[..., 1] += FALL * give[1]
    texture = right @ np.linalg.inv(normal)  # symmetric
    drawn = 10.0 ** np.minimum(texture @ terms + lost[None], 9.0)
    stray = (np.log10(drawn + noise[:, None]) - np.log10(power)[:, None]) ** 2 * certain
    misfit = np.minimum(stray, MOST_STRAY).sum(axis=2)
    misfit += (texture[..., 1] - FALL) ** 2 * give[1] + texture[..., 2] ** 2 * give[2]
    return _judged(misfit, len(x))


def _judged(misfit: Array, rings: int) -> Discs:
    best = misfit.min(axis=1)
    good = misfit < best[:, None] + AS_GOOD
    low = DISCS_PX[good.argmax(axis=1)]
    high = DISCS_PX[len(DISCS_PX) - 1 - good[:, ::-1].argmax(axis=1)]
    without = misfit[:, SMALLEST_PX > DISCS_PX].min(axis=1)
    told = (low >= SMALLEST_PX) & (without - best > BETTER) & (best < MOST_MISFIT * rings)
    return Discs(DISCS_PX[misfit.argmin(axis=1)], low, high, told)


def _power(tiles: npt.NDArray[Any]) -> Array:
    """Spectral power of each tile, its slope of light taken off."""
    window, terms, inverse = _window()
    flat = np.asarray(tiles, float).reshape(-1, SIDE * SIDE)
    level = (flat - (flat @ inverse) @ terms).reshape(-1, SIDE, SIDE)
    return np.asarray(np.abs(np.fft.rfft2(level * window)) ** 2 / (window**2).sum())


def _pooled(values: Array, ring: npt.NDArray[np.intp]) -> Array:
    """Sum over each ring of the spectrum; the outermost corners are left out."""
    rings = int(0.71 * SIDE)
    return np.stack([np.bincount(ring, own, ring.max() + 1)[:rings] for own in values])


@lru_cache(maxsize=1)
def _rings() -> tuple[npt.NDArray[np.intp], Array, npt.NDArray[np.intp], Array]:
    """Ring, weight and way of every sample of a half spectrum; mean frequency of each ring."""
    x, y = np.fft.rfftfreq(SIDE)[None], np.fft.fftfreq(SIDE)[:, None]
    frequency = np.hypot(x, y)
    ring = np.rint(frequency * SIDE).astype(int).ravel()
    weight = (np.where((x > 0.0) & (x < 0.5), 2.0, 1.0) + 0.0 * y).ravel()
    angle = np.mod(np.arctan2(y + 0.0 * x, x + 0.0 * y), np.pi)
    way = np.rint(angle / (np.pi / WAYS)).astype(int).ravel() % WAYS
    total = _pooled((frequency.ravel() * weight)[None], ring)[0]
    return ring, weight, way, total / _pooled(weight[None], ring)[0]


@lru_cache(maxsize=1)
def _window() -> tuple[Array, Array, Array]:
    side = np.hanning(SIDE + 2)[1:-1]
    y, x = (v.ravel() for v in np.mgrid[-1 : 1 : SIDE * 1j, -1 : 1 : SIDE * 1j])
    terms = np.stack([np.ones_like(x), x, y, x * x, y * y, x * y])
    return side[:, None] * side[None], terms, np.linalg.pinv(terms)


@lru_cache(maxsize=1)
def _lost() -> Array:
    """Decades of power that each disc takes from each ring, shape (discs, rings).

    The window mixes neighbours, and the blur of a tile is never quite the same all over: both
    fill the zeros.
    """
    own = np.fft.fftfreq(SIDE)
    frequency = np.hypot(own[:, None], own[None])
    ring = np.rint(frequency * SIDE).astype(int).ravel()
    texture = np.maximum(frequency, 1.0 / SIDE) ** FALL
    texture[0, 0] = 0.0
    pixel = (np.sinc(own)[:, None] * np.sinc(own)[None]) ** 2
    waves = np.linspace(0.0, 0.75 * DISCS_PX[-1] * (1.0 + SPREAD), 600)  # frequency times disc
    response = disc_response(waves)

    def seen(drawn: Array) -> Array:
        for axis in (0, 1):
            sides = np.roll(drawn, 1, axis) + np.roll(drawn, -1, axis)
            drawn = drawn * (2.0 / 3.0) + sides / 6.0
        return np.asarray(_pooled(drawn.ravel()[None], ring)[0])

    rows = []
    for disc in DISCS_PX:
        widths = disc * np.array([1.0 - SPREAD, 1.0, 1.0 + SPREAD])
        power = sum(np.interp(frequency * width, waves, response) ** 2 for width in widths) / 3.0
        rows.append(np.log10(seen(texture * pixel * power) / seen(texture)))
    return np.array(rows)
