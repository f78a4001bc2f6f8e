"""How fast a leaning ruler goes out of focus: the depth of field, measured.

One millimetre of ticks is one frequency. A disc of blur takes of it what 2 J1(x) / x says,
whatever the ticks look like; along a ruler that leans away the disc grows evenly from where it is
sharp. How fast it grows is found from several frames of the same ruler at different apertures.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optics.diffraction import AIRY_FIRST_ZERO
from optics.evidence.disc_response import disc_response
from optics.evidence.ruler import NoScale, found_scale
from optics.evidence.ruler_bands import Bands, turned_bands
from optics.evidence.ruler_comb import Comb
from optics.evidence.srgb import light_of

Array = NDArray[Any]

CLEAREST_F_NUMBER, TRIES = 16.0, 3
WINDOW_TICKS = 1.5  # standard deviation of the window in which the ticks are weighed
LEAST_TICKS = 10
LEAST_LEFT, MOST_LEFT = 0.25, 1.2  # of the ticks' contrast: below is noise, above another thing
LEAST_FALL = 0.25  # the contrast must fall by so much somewhere, to tell anything
LEAST_PLACES = 20
LARGEST_ERROR = 0.12  # of the contrast, between the fit and what is seen
GROWTHS = np.geomspace(0.003, 0.6, 160)  # ticks of blur for a tick along the ruler


@dataclass(frozen=True)
class Growth:
    """`disc_per_tick` of each frame: diameters of blur, in ticks, gained over one tick along.

    None where a frame loses too little contrast, or not as a disc would. `spacing_px` and
    `tick_mm` are of the ruler at its sharpest tick.
    """

    disc_per_tick: list[float | None]
    spacing_px: float
    tick_mm: float


def blur_growth(pictures: Sequence[Array], f_numbers: Sequence[float]) -> Growth:
    """Return how fast the blur grows along a ruler, in frames taken from one place.

    Parameters
    ----------
    pictures : sequence of ndarrays of one shape (M, N)
        8-bit luminance, sRGB; the ruler in the same place in all of them.
    f_numbers : sequence of float
        Of each frame. Only their ratios count, and those only for the frame compared with.

    Raises
    ------
    NoScale
        Where no ruler is found in any of the frames that are clear enough.

    Notes
    -----
    The ruler is found in a frame near f/16, where most ticks are clear; the contrast of all is
    held against that frame's, in linear light, where blur adds up.
    """
    best, bands, comb, tick_mm = _found(pictures, f_numbers)
    reach = float(comb.spacing_px(0.5 * (comb.first_u + comb.last_u)))
    within = (comb.v - reach / 2, comb.v + reach / 2)
    rows = [_line(_light(picture), bands.angle_deg, within) for picture in pictures]
    u = np.arange(len(rows[0]), dtype=np.float64) - (len(rows[0]) - 1) / 2
    ticks = np.asarray(comb.phase(u))
    along = (u > comb.first_u) & (u < comb.last_u)
    place = ticks[along]
    if np.ptp(place) < LEAST_TICKS:
        return Growth([None] * len(pictures), reach, tick_mm)
    contrast = np.stack([_contrast(row, ticks)[along] for row in rows])
    left = contrast / np.maximum(contrast[best], 1e-9)
    centre = _sharpest(left, place, f_numbers, best)
    found = [
        _fitted(left[k], place - centre, n / f_numbers[best]) if n < f_numbers[best] else None
        for k, n in enumerate(f_numbers)
    ]
    order = np.argsort(place)
    middle = float(np.interp(centre, place[order], u[along][order]))
    return Growth(found, float(comb.spacing_px(middle)), tick_mm)


def _found(pictures: Sequence[Array], f_numbers: Sequence[float]) -> tuple[int, Bands, Comb, float]:
    """The frame in which a ruler is found, nearest to f/16 first, and the ruler."""
    trouble = NoScale("no frame")
    nearest = np.argsort([abs(np.log(n / CLEAREST_F_NUMBER)) for n in f_numbers])
    for k in nearest[:TRIES]:
        # pale ticks are clearer in linear light, dark corners as the picture is
        for seen in (np.asarray(pictures[k], np.float32), 255 * _light(pictures[k])):
            try:
                return int(k), *found_scale(seen)
            except NoScale as reason:
                trouble = reason
    raise trouble


def _light(picture: Array) -> Array:
    return light_of(np.asarray(picture, np.float32))


def _line(picture: Array, angle_deg: float, within: tuple[float, float]) -> Array:
    high = max(int(round(within[1] - within[0])), 2)
    rows: Array = turned_bands(picture, angle_deg, high, within).profile.mean(axis=0)
    return rows


def _contrast(row: Array, ticks: Array) -> Array:
    """Size of the wave of the ticks about each place."""
    per_px = float(np.median(np.abs(np.diff(ticks))))
    sigma = WINDOW_TICKS / max(per_px, 1e-6)
    window = np.exp(-0.5 * (np.arange(-int(4 * sigma), int(4 * sigma) + 1) / sigma) ** 2)
    window /= window.sum()
    level = row - np.convolve(row, window, mode="same")
    wave = level * np.exp(-2j * np.pi * ticks)
    size: Array = np.abs(np.convolve(wave, window, mode="same"))
    return size


def _sharpest(left: Array, place: Array, f_numbers: Sequence[float], best: int) -> float:
    """The tick at which the widest frames keep most."""
    wide = [k for k in np.argsort(f_numbers)[:2] if k != best]
    kept = np.clip(np.mean([left[k] for k in wide], axis=0), 0, None)
    clear = kept > 0.7 * np.percentile(kept, 98)
    return float((place[clear] * kept[clear]).sum() / kept[clear].sum())


def _fitted(left: Array, away: Array, share: float) -> float | None:
    """Growth that leaves what is seen; `share` of it is the growth of the frame held against."""
    usable = (left > LEAST_LEFT) & (left < MOST_LEFT)
    if usable.sum() < LEAST_PLACES:
        return None
    best: tuple[float, float, float] | None = None
    for growth in GROWTHS:
        here = usable & (growth * np.abs(away) < 0.8 * AIRY_FIRST_ZERO)
        if here.sum() < LEAST_PLACES:
            continue
        model = disc_response(growth * away[here])
        model = model / np.maximum(disc_response(growth * share * away[here]), 0.05)
        scale = float((model * left[here]).sum() / (model**2).sum())
        off = float(np.sqrt(np.mean((left[here] - scale * model) ** 2)))
        # places beyond the first zero that still show contrast speak against a growth
        missed = float((usable & (growth * np.abs(away) >= 0.8 * AIRY_FIRST_ZERO)).mean())
        cost = off + 0.3 * missed
        if best is None or cost < best[0]:
            best = (cost, float(growth), float(1 - model.min()))
    if best is None or best[0] > LARGEST_ERROR or best[2] < LEAST_FALL:
        return None
    return best[1]


def depth_mm(
    growth: float, spacing_px: float, coc_px: float, tick_mm: float, lean_deg: float
) -> float:
    """Depth of field in mm: where the blur fills the circle, before and behind, squarely in.

    Parameters
    ----------
    growth : float
        Diameters in ticks over one tick along the ruler.
    spacing_px, coc_px : float
        Ticks and circle of confusion in pixels of one picture.
    tick_mm : float
        Millimetres between two ticks.
    lean_deg : float
        Of the ruler against the sensor: 45 in a ruler that leans halfway.
    """
    ticks = coc_px / spacing_px / growth
    return 2 * ticks * tick_mm * math.sin(math.radians(lean_deg))
