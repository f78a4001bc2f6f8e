"""The spacing of a ruler's ticks: at any angle, partly out of focus, slightly tilted.

Gradient directions, turned bands and local periods (`ruler_bands`) propose; the phase of the
ticks and the longer ones among them (`ruler_comb`) decide. A fence, a keyboard or a weave
repeats too, but has no longer line at every fifth and tenth: without that, it is no scale.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TypeGuard

import numpy as np
from numpy.typing import NDArray

from optics.evidence.ruler_bands import (
    Bands,
    Periods,
    gradient_directions,
    local_periods,
    turned_bands,
)
from optics.evidence.ruler_comb import Comb, follow, leaned, tick_mm

LONGEST_SIDE_PX = 2048  # larger pictures are reduced by whole pixels first
LEAST_TICKS = 7
LARGEST_SPREAD = 0.04  # ticks may stand this share of their spacing off the fit,
LARGEST_SPREAD_PX = 0.4  # or so many pixels: plainly resized files shift fine ticks about
WINDOWS_PX = (256, 1024)  # short ones for fine ticks and perspective, long ones for wide ticks
MOST_TURNS = 3
LARGEST_DOUBT = 0.006  # relative: a spacing known less well is no finding
LEAST_TURN = 0.01  # radians that are not worth turning again for
FLOOR_OF_RANGE = 0.001  # of the spacing: no claim is finer than this


class NoScale(ValueError):
    """No ruler was found; the message says what was."""


@dataclass(frozen=True)
class Ticks:
    """What was found: spacing at the ruler's nearest point to the picture's centre."""

    spacing_px: float  # between neighbouring ticks
    low_px: float
    high_px: float
    tick_mm: float  # 1, or 0.5 where every second tick is longer
    angle_deg: float  # of the ruler against the rows; anticlockwise positive, -90 to 90
    perspective_per_px: float  # relative change of the spacing per pixel along the ruler, halved
    ticks: int

    @property
    def px_per_mm(self) -> float:
        return self.spacing_px / self.tick_mm

    def __float__(self) -> float:
        return self.spacing_px


def tick_spacing(luminance: NDArray[np.generic]) -> Ticks:
    """Return the spacing of the ticks of a ruler in the picture.

    Parameters
    ----------
    luminance : ndarray of shape (M, N)
        Any scale; tone curve as it is. At least three pixels per tick.

    Returns
    -------
    Ticks
        The spacing in pixels of `luminance` with its range, and the
        ruler's angle.

    Raises
    ------
    NoScale
        Where nothing repeats evenly, or what repeats is no scale.

    Examples
    --------
    >>> import numpy as np
    >>> picture = np.full((200, 400), 220.0)
    >>> for n in range(40):
    ...     long = 80 if n % 10 == 0 else 60 if n % 5 == 0 else 40
    ...     picture[50 : 50 + long, n * 10 + 4 : n * 10 + 6] = 30.0
    >>> round(tick_spacing(picture).spacing_px, 2)
    10.0
    """
    picture = np.asarray(luminance, dtype=np.float32)
    if picture.ndim != 2 or min(picture.shape) < 32:
        raise ValueError(f"luminance has shape {picture.shape}; give at least 32 rows and columns")
    if not np.isfinite(picture).all():
        raise ValueError("luminance holds values that are no finite numbers")
    factor = int(np.ceil(max(picture.shape) / LONGEST_SIDE_PX))
    found = _best(_reduced(picture, factor))
    return replace(
        found,
        spacing_px=found.spacing_px * factor,
        low_px=found.low_px * factor,
        high_px=found.high_px * factor,
        perspective_per_px=found.perspective_per_px / factor,
    )


def _reduced(picture: NDArray[np.float32], factor: int) -> NDArray[np.float32]:
    if factor == 1:
        return picture
    height, width = (side // factor * factor for side in picture.shape)
    blocks = picture[:height, :width].reshape(height // factor, factor, width // factor, factor)
    reduced: NDArray[np.float32] = blocks.mean(axis=(1, 3), dtype=np.float32)
    return reduced


def _best(picture: NDArray[np.float32]) -> Ticks:
    return _ticks(*found_scale(picture))


def found_scale(picture: NDArray[np.float32]) -> tuple[Bands, Comb, float]:
    """Return the turned picture, the ticks followed in it and the millimetres between two.

    The clearest repeats, of the strongest directions, are tried until one proves to be a scale;
    `NoScale` as in `tick_spacing`. `picture` is at most `LONGEST_SIDE_PX` long.
    """
    regular = False
    band_px = max(2, min(8, min(picture.shape) // 100))
    for angle_deg in gradient_directions(picture):
        bands = turned_bands(picture, angle_deg, band_px)
        for window_px in WINDOWS_PX:
            for seed in _seeds(bands, local_periods(bands, window_px)):
                found = _followed(picture, seed)
                if found is None:
                    continue
                regular = True
                millimetres = tick_mm(*found)
                if millimetres:
                    return *found, millimetres
    if regular:
        raise NoScale("lines repeat evenly, but none is longer at every fifth or tenth")
    raise NoScale("nothing repeats evenly enough to be the ticks of a ruler")


def _followed(picture: NDArray[np.float32], seed: _Seed) -> tuple[Bands, Comb] | None:
    """Follow the ticks from a seed; turn the picture along the ruler and follow them again."""
    bands, band, centre, spacing = seed.bands, seed.band, float(seed.centre), seed.period_px
    comb = follow(bands, band, int(centre), spacing)
    if not _is_even(comb, 2.0):
        return None
    for _ in range(MOST_TURNS):
        comb = leaned(bands, comb)
        if bands is not seed.bands and abs(comb.run) < LEAST_TURN:
            break
        turn = float(np.arctan(comb.run))
        u = centre - bands.u0
        u, v = u * np.cos(turn) + comb.v * np.sin(turn), comb.v * np.cos(turn) - u * np.sin(turn)
        spacing = comb.spacing_px(centre - bands.u0)
        # the longer ticks may be longer by a third of a spacing only
        fine_px = int(np.clip(spacing / 4, 2, 12))
        reach = 10 * spacing + 16
        angle_deg = bands.angle_deg + float(np.degrees(turn))
        step = max(1, int(bands.band_px / 2 / fine_px))
        bands = turned_bands(picture, angle_deg, fine_px, (v - reach, v + reach))
        band = int(np.clip(np.rint(v / fine_px + bands.v0), 0, len(bands.profile) - 1))
        centre = u + bands.u0
        near = [band + k * step for k in (0, 1, -1) if 0 <= band + k * step < len(bands.profile)]
        combs = [follow(bands, k, int(centre), spacing) for k in near]
        even = [c for c in combs if _is_even(c, 1.0)]
        if not even:
            return None
        comb = max(even, key=lambda c: c.ticks * (1 - c.spread))
    return bands, comb


def _is_even(comb: Comb | None, slack: float) -> TypeGuard[Comb]:
    """Whether the ticks are enough, and stand evenly enough, to be a ruler's."""
    if comb is None or comb.ticks < LEAST_TICKS:
        return False
    if 3 * comb.slope_error > slack * LARGEST_DOUBT:
        return False
    return comb.spread <= slack * float(np.hypot(LARGEST_SPREAD, LARGEST_SPREAD_PX * abs(comb.b)))


@dataclass(frozen=True)
class _Seed:
    """Where a period is clearest, and how much of the picture repeats with it."""

    bands: Bands
    band: int
    centre: int
    period_px: float
    support: float


def _seeds(bands: Bands, periods: Periods) -> list[_Seed]:
    """For each of the commonest periods the place where it is clearest."""
    good = periods.strength > 0
    if not good.any():
        return []
    log = np.log(np.where(good, periods.period_px, 1.0)) / 0.06
    weight = np.where(good, periods.strength**2, 0.0)
    single = np.bincount(log.astype(int)[good], weights=weight[good])
    counts = np.convolve(single, [0.5, 1, 0.5], mode="same")
    found = []
    for _ in range(3):
        k = int(np.argmax(counts))
        if counts[k] < 1.0:
            break
        near = good & (np.abs(log - k - 0.5) <= 1.5)
        # neighbouring bands must agree: one row of letters repeats by chance
        support = np.where(near, periods.strength, 0)
        both = support.copy()
        both[1:] += support[:-1]
        both[:-1] += support[1:]
        band, column = divmod(int(np.argmax(np.where(near, both, 0))), log.shape[1])
        period = float(periods.period_px[band, column])
        # an area: as many bands as it fills, times the window's length
        area = float(counts[k]) * periods.window_px
        found.append(_Seed(bands, int(band), int(periods.centre[column]), period, area / period))
        counts[max(0, k - 2) : k + 3] = 0
    return found


def _ticks(bands: Bands, comb: Comb, millimetres: float) -> Ticks:
    u = float(np.clip(0.0, comb.first_u, comb.last_u))
    spacing = comb.spacing_px(u)
    wide = max(FLOOR_OF_RANGE, 3 * comb.slope_error)
    angle = -(bands.angle_deg + float(np.degrees(np.arctan(comb.run))))
    return Ticks(
        spacing_px=spacing,
        low_px=spacing * (1 - wide),
        high_px=spacing * (1 + wide),
        tick_mm=millimetres,
        angle_deg=float((angle + 90) % 180 - 90),
        perspective_per_px=float(comb.k),
        ticks=int(round(comb.ticks)),
    )
