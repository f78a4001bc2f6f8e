"""Following the ticks of a ruler: their phase along the ruler, and which of them are longer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optics.evidence.ruler_bands import Bands

Array = NDArray[Any]  # of floats

WINDOW_PERIODS = 6  # a phase is measured over so many ticks
LEAST_COHERENCE = 0.25  # of the window's contrast that the comb must explain
MISSES_ALLOWED = 3  # windows without ticks that are stepped over
LONGER_EVERY = (2, 5, 10, 20)  # a longer tick at every so many
LEAST_ALIKE = 0.85  # share of the ticks that must behave as a scale's do
LEAST_CLEAR = 0.92  # the same, for the longer ticks and the ground between them
LEAST_TICKS_FOR_A_PATTERN = 8
MIXED_ALLOWED = 2  # bands, a quarter of a spacing high, across the end of a tick
LARGEST_LEAN_DEG = 15  # of the ticks against square to the ruler: perspective leans them


@dataclass(frozen=True)
class Comb:
    """phase(u, v) in ticks: (a + b u) / (1 + k u) + lean v + fan u v, u and v in pixels."""

    a: float
    b: float
    k: float
    lean: float
    fan: float
    v: float  # where it was fitted, pixels from the picture's centre
    first_u: float
    last_u: float
    spread: float  # residual, in ticks
    slope_error: float  # relative standard error of the spacing
    run: float = (
        0.0  # slope of the ruler against the bands; seen aslant, ticks are not square to it
    )

    def phase(self, u: Array | float, v: float = 0.0) -> Array:
        """Tick count at u, on the band `v` pixels from the fitted one."""
        u = np.asarray(u, dtype=np.float64)
        count: Array = (self.a + self.b * u) / (1 + self.k * u) + (self.lean + self.fan * u) * v
        return count

    def spacing_px(self, u: float) -> float:
        """Distance between neighbouring ticks at u, along the ruler."""
        along = (self.b - self.k * self.a) / (1 + self.k * u) ** 2
        return float(np.hypot(1, self.run) / abs(along + self.run * (self.lean + self.fan * u)))

    @property
    def ticks(self) -> float:
        return float(abs(self.phase(self.last_u) - self.phase(self.first_u)))


def follow(bands: Bands, band: int, centre: int, period_px: float) -> Comb | None:
    """Follow the ticks of one band both ways from the window they were found in."""
    row = bands.profile[band].astype(np.float64)
    inside = bands.inside[band]
    u, phase, weight = _tracked(row, inside, centre, period_px)
    if len(u) < 3:
        return None
    u = u - bands.u0
    a, b, k = _moebius(u, phase, weight)
    for _ in range(2):
        more = _remeasured(row, inside, bands.u0, u, (a, b, k))
        phase = (a + b * u) / (1 + k * u) + more[0]
        weight = more[1]
        a, b, k = _moebius(u, phase, weight)
    left = phase - (a + b * u) / (1 + k * u)
    spread = float(np.sqrt(np.average(left**2, weights=weight)))
    reach = np.sqrt(np.average((u - np.average(u, weights=weight)) ** 2, weights=weight))
    # neighbouring windows overlap by two thirds: only every third is news
    error = spread / max(np.sqrt(len(u) / 3), 1) / max(reach * abs(b), 1e-9)
    half = WINDOW_PERIODS / 2 * period_px
    v = (band - bands.v0) * bands.band_px
    edges = float(u.min() - half), float(u.max() + half)
    return Comb(a, b, k, 0.0, 0.0, v, *edges, spread, float(error))


def _window_sum(
    row: Array, inside: NDArray[np.bool_], at: float, half: float, model: tuple[float, float, float]
) -> tuple[complex, float]:
    """Complex amplitude of the comb around `at`, and the share of the contrast it explains.

    The model is phase = (a + b u) / (1 + k u), u being the index along the row.
    """
    lo, hi = max(0, int(at - half)), min(len(row), int(at + half) + 1)
    if hi - lo < half or np.count_nonzero(inside[lo:hi]) < 0.8 * (hi - lo):
        return 0j, 0.0
    u = np.arange(lo, hi)
    window = 0.5 + 0.5 * np.cos(np.pi * (u - at) / (half + 1))
    piece = row[lo:hi]
    piece = window * (piece - np.dot(window, piece) / window.sum())
    a, b, k = model
    amplitude = np.dot(piece, np.exp(-2j * np.pi * (a + b * u) / (1 + k * u)))
    power = np.sqrt(np.dot(piece, row[lo:hi]) * np.sum(window) / 2)
    return complex(amplitude), float(abs(amplitude) / power) if power > 0 else 0.0


def _tracked(
    row: Array, inside: NDArray[np.bool_], centre: int, period_px: float
) -> tuple[Array, Array, Array]:
    """Phase of windows outwards from the first, each predicted from the ones before it."""
    half = WINDOW_PERIODS / 2 * period_px
    start, coherence = _window_sum(row, inside, centre, half, (0.0, 1 / period_px, 0.0))
    if coherence < LEAST_COHERENCE:
        return np.zeros(0), np.zeros(0), np.zeros(0)
    points = [(float(centre), centre / period_px + np.angle(start) / 2 / np.pi, coherence)]
    for way in (1, -1):
        at, slope, misses = float(centre), 1 / period_px, 0
        last_at, last_phase = points[0][0], points[0][1]
        while misses <= MISSES_ALLOWED:
            at += way * 2 * period_px
            if not 0 <= at < len(row):
                break
            line = (last_phase - last_at * slope, slope, 0.0)
            amplitude, coherence = _window_sum(row, inside, at, half, line)
            if coherence < LEAST_COHERENCE:
                misses += 1
                continue
            misses = 0
            off = np.angle(amplitude) / 2 / np.pi
            phase = last_phase + (at - last_at) * slope + off
            slope += 0.5 * off / (at - last_at)
            points.append((at, phase, coherence))
            last_at, last_phase = at, phase
    points.sort()
    at_, phase_, weight_ = np.array(points).T
    return at_, phase_, weight_


def _moebius(u: Array, phase: Array, weight: Array) -> tuple[float, float, float]:
    """Fit phase (1 + k u) = a + b u: ticks seen in perspective."""
    scale = max(np.abs(u).max(), 1.0)
    x = u / scale
    if len(u) < 6:  # too few for the perspective
        b, a = np.polyfit(x, phase, 1, w=weight)
        return float(a), float(b / scale), 0.0
    keep = np.ones(len(u), bool)
    for _ in range(3):
        columns = np.stack([np.ones_like(x), x, -x * phase], axis=1) * weight[:, None]
        fit = np.linalg.lstsq(columns[keep], (phase * weight)[keep], rcond=None)[0]
        left = np.abs(phase - (fit[0] + fit[1] * x) / (1 + fit[2] * x))
        keep = left <= max(4 * float(np.median(left)), 0.02)
    return float(fit[0]), float(fit[1] / scale), float(fit[2] / scale)


def _remeasured(
    row: Array,
    inside: NDArray[np.bool_],
    u0: float,
    u: Array,
    model: tuple[float, float, float],
) -> tuple[Array, Array]:
    """Phase left over against the model, window by window."""
    a, b, k = model
    along = np.arange(len(row)) - u0
    wave = np.exp(-2j * np.pi * (a + b * along) / (1 + k * along))
    half = WINDOW_PERIODS / 2 / abs(b)
    amplitude, coherence = _summed(row[None, :], wave, *_edges(u + u0, half, len(row)))
    filled = inside[np.clip(np.rint(u + u0).astype(int), 0, len(row) - 1)]
    return np.angle(amplitude[0]) / 2 / np.pi, np.where(
        filled, np.maximum(coherence[0], 1e-3), 1e-3
    )


def _edges(centre: Array, half: float, length: int) -> tuple[NDArray[Any], NDArray[Any]]:
    lo = np.clip(np.rint(centre - half).astype(np.int64), 0, length - 1)
    return lo, np.clip(np.rint(centre + half).astype(np.int64), lo + 1, length)


def _summed(rows: Array, wave: Array, lo: NDArray[Any], hi: NDArray[Any]) -> tuple[Array, Array]:
    """Amplitude of `wave` in each window of each row, and the share of the contrast it explains."""

    def window(values: Array) -> Array:
        total = np.zeros((len(values), values.shape[1] + 1), values.dtype)
        np.cumsum(values, axis=1, out=total[:, 1:])
        return total[:, hi] - total[:, lo]

    length = (hi - lo)[None, :]
    mean = window(rows) / length
    amplitude = window(rows * wave) - mean * window(wave[None, :])
    power = np.maximum(window(rows**2) / length - mean**2, 1e-12)
    return amplitude, np.abs(amplitude) / length / np.sqrt(power / 2)


def leaned(bands: Bands, comb: Comb) -> Comb:
    """Let neighbouring bands say how the ticks lean and fan out, and which way the ruler runs."""
    middle = int(round(comb.v / bands.band_px + bands.v0))
    reach = int(np.ceil(8 * comb.spacing_px(0.0) / bands.band_px)) + 1
    rows = np.arange(max(0, middle - reach), min(len(bands.profile), middle + reach + 1))
    centre, amplitude, coherence = _comb_map(bands, comb, rows)
    v = ((rows - middle) * bands.band_px).astype(np.float64)
    seen = _joined(coherence > LEAST_COHERENCE, int(middle - rows[0]))
    phase = np.angle(amplitude)
    at = int(middle - rows[0])
    phase[at:] = np.unwrap(phase[at:], axis=0)
    phase[: at + 1] = np.unwrap(phase[at::-1], axis=0)[::-1]
    off = (phase - phase[at]) / 2 / np.pi
    v_, u_ = np.broadcast_arrays(v[:, None], centre[None, :])
    weight = np.where(seen, coherence, 0.0).ravel()
    if np.count_nonzero(weight) < 6 or np.ptp(v_[seen]) == 0:
        return comb
    columns = np.stack([v_.ravel(), (u_ * v_).ravel()], axis=1) * weight[:, None]
    lean, fan = np.linalg.lstsq(columns, off.ravel() * weight, rcond=None)[0]
    run = _ridge(centre, v, np.where(seen, np.abs(amplitude) ** 2, 0.0))
    return replace(comb, lean=float(lean), fan=float(fan), run=run)


def _comb_map(bands: Bands, comb: Comb, rows: NDArray[Any]) -> tuple[Array, Array, Array]:
    """Amplitude and coherence of the comb, band by band and window by window."""
    along = np.arange(bands.profile.shape[1]) - bands.u0
    half = max((comb.last_u - comb.first_u) / 14, WINDOW_PERIODS / 2 * comb.spacing_px(0.0))
    count = max(1, int((comb.last_u - comb.first_u) / half) - 1)
    centre = comb.first_u + half + np.arange(count) * half
    lo, hi = _edges(centre + bands.u0, half, len(along))
    wave = np.exp(-2j * np.pi * comb.phase(along))
    amplitude, coherence = _summed(bands.profile[rows].astype(np.float64), wave, lo, hi)
    total = np.cumsum(np.pad(bands.inside[rows], ((0, 0), (1, 0))), axis=1)
    filled = (total[:, hi] - total[:, lo]) > 0.9 * (hi - lo)
    return centre, amplitude, np.where(filled, coherence, 0.0)


def _joined(seen: NDArray[np.bool_], middle: int) -> NDArray[np.bool_]:
    """Keep only what hangs together with the middle band, column by column."""
    kept = seen.copy()
    for k in range(middle + 1, len(seen)):
        kept[k] &= kept[k - 1]
    for k in range(middle - 1, -1, -1):
        kept[k] &= kept[k + 1]
    return kept


def _ridge(u: Array, v: Array, energy: Array) -> float:
    """Slope of the middle of the ticks along the ruler: which way the ruler runs."""
    strong = np.where(energy > 0.3 * energy.max(axis=0, keepdims=True), energy, 0.0)
    total = strong.sum(axis=0)
    good = total > 0.05 * total.max() if total.size else total > 0
    if good.sum() < 4:
        return 0.0
    middle = (strong * v[:, None]).sum(axis=0)[good] / total[good]
    x = u[good]
    keep = np.ones(len(x), bool)
    slope = 0.0
    for _ in range(3):
        slope, offset = np.polyfit(x[keep], middle[keep], 1)
        left = np.abs(middle - offset - slope * x)
        keep = left <= max(2.5 * float(np.median(left)), 1.0)
        if keep.sum() < 4:
            break
    return float(slope)


def tick_mm(bands: Bands, comb: Comb) -> float | None:
    """Return what one tick stands for, 1 or 0.5 mm, from the longer ones; None if no scale.

    Fifth and tenth longer: millimetres. Every second longer, and every tenth or twentieth
    again: half millimetres. Every second and no more: fifth and tenth marks whose
    millimetres are lost, or a fence.
    """
    if abs(np.degrees(np.arctan(comb.lean / comb.b))) > LARGEST_LEAN_DEG:
        return None
    middle = int(round(comb.v / bands.band_px + bands.v0))
    count = len(bands.profile)
    for dark in (0.0, 0.5):
        own = next(_contrasts(bands, comb, dark, range(middle, middle + 1)), None)
        if own is None or not _even(own):
            continue
        for outwards in (range(middle + 1, count), range(middle - 1, -1, -1)):
            beside = _contrasts(bands, comb, dark, outwards)
            clear = _walked(_ratio(contrast, own) for contrast in beside)
            if 2 in clear and clear & {10, 20}:
                return 0.5
            if 2 not in clear and clear & {5, 10}:
                return 1.0
    return None


def _walked(ratios: Iterable[Array]) -> set[int]:
    """Which ticks are left, band after band away from the ruler's edge, ending with none.

    A scale's longer ticks grow out of the row of all ticks; a pattern found apart from it
    is something else.
    """
    clear: set[int] = set()
    mixed = 0
    for ratio in ratios:
        known = ratio[np.isfinite(ratio)]
        if known.size < LEAST_TICKS_FOR_A_PATTERN:
            break
        left = {every for every in LONGER_EVERY if _longer(ratio, every)}
        clear |= left
        mixed = 0 if left or np.mean(known > 0.5) >= LEAST_ALIKE else mixed + 1
        if mixed > MIXED_ALLOWED:
            break
    return clear


def _even(contrast: Array) -> bool:
    """Whether ticks stand at all places, alike, and one way: dark or bright."""
    known = contrast[np.isfinite(contrast)]
    middle = float(np.median(known))
    # neighbours are compared, so that a slow fall of the sharpness does not count
    box = np.ones(min(9, len(known)))
    near = np.convolve(known, box, mode="same") / np.convolve(np.ones(len(known)), box, mode="same")
    alike = (known > 0.4 * near) & (known > 0.1 * middle)
    pairs = min(len(known) // 2 * 2, 200)
    even, odd = known[:pairs:2].mean(), known[1:pairs:2].mean()
    return bool(middle > 0 and alike.mean() >= LEAST_ALIKE and 0.5 < even / odd < 2)


def _ratio(contrast: Array, own: Array) -> Array:
    """Each tick's contrast beside the ruler's edge against its contrast in the comb's own band."""
    strong = own > 0.3 * np.nanmedian(own)
    ratio: Array = np.where(strong, contrast / np.where(strong, own, 1.0), np.nan)
    return ratio


def _longer(ratio: Array, every: int) -> bool:
    """Whether one tick in `every`, and no other, reaches as far as this band."""
    number = np.arange(len(ratio))
    known = np.isfinite(ratio)
    reaches = ratio[known] > 0.5
    group = number[known] % every
    count = np.bincount(group, minlength=every)
    share = np.bincount(group, weights=reaches, minlength=every) / np.maximum(count, 1)
    o = int(np.argmax(np.where(count >= 2, share, -1)))
    if count[o] < 2 or known.sum() < LEAST_TICKS_FOR_A_PATTERN:
        return False
    long = ratio[known][group == o]
    rest = ratio[known][group != o]
    # clearly there, clearly not there: a lattice seen aslant only fades in and out
    right = 0.5 * (np.mean(long > 0.6) + np.mean(np.abs(rest) < 0.4))
    return bool(right >= LEAST_CLEAR)


def _contrasts(bands: Bands, comb: Comb, dark: float, which: range) -> Iterator[Array]:
    """For each of these bands: tick against the ground on both sides, tick by tick."""
    along = np.arange(bands.profile.shape[1]) - bands.u0
    keep = (along >= comb.first_u) & (along <= comb.last_u)
    middle = int(round(comb.v / bands.band_px + bands.v0))
    along = along[keep]
    base = comb.phase(along)
    drift = comb.lean + comb.fan * along
    way = 1.0 if base[-1] > base[0] else -1.0
    ticks = _tick_numbers(way * base) + dark
    for band in which:
        if not 0 <= band < len(bands.profile):
            continue
        v = (band - middle) * bands.band_px
        count = way * (base + drift * v)
        if not (np.diff(count) > 0).all():
            continue
        there = np.interp(ticks, count, bands.inside[band][keep].astype(float)) > 0.9
        there &= (ticks > count[0] + 0.5) & (ticks < count[-1] - 0.5)
        if there.sum() < 6:
            continue
        row = bands.profile[band][keep].astype(np.float64)
        at = [np.interp(ticks + shift, count, row) for shift in (-0.5, 0.0, 0.5)]
        yield np.where(there, (at[0] + at[2]) / 2 - at[1], np.nan)


def _tick_numbers(count: Array) -> Array:
    return np.arange(np.ceil(count[0] + 0.5), np.floor(count[-1] - 0.5))
