"""Where a picture repeats along a line: directions, turned bands, local periods.

The first half of finding a ruler. A tick is a short line, so all ticks share one gradient
direction; along that direction their spacing is the first strong peak of the windowed,
normalised square difference function (McLeod and Wyvill, A smarter way to find pitch, 2005).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]  # of floats

DIRECTIONS = 4  # the strongest gradient directions that are tried
DIRECTION_SEPARATION_DEG = 8
LEAST_PERIOD_PX = 2.6
KEY_SHARE = 0.85  # a peak is "first" if it reaches this share of the highest
LEAST_STRENGTH = 0.45


@dataclass(frozen=True)
class Bands:
    """A picture turned by `angle_deg` and averaged over strips: profile[band, u]."""

    profile: Array  # 0 outside of the picture, local mean taken off
    inside: NDArray[np.bool_]
    angle_deg: float  # u runs this way: degrees from the rows, downwards positive
    band_px: int
    v0: float  # band index, as a float, of the picture's centre

    @property
    def u0(self) -> float:
        """Index along u of the picture's centre."""
        return float(self.profile.shape[1] - 1) / 2


def gradient_directions(luminance: Array) -> list[float]:
    """Return the strongest gradient directions in degrees, -90 to 90 from the rows."""
    step = 2 if luminance.size > 1_000_000 else 1
    # smoothed first: on a line of two pixels a plain difference is off by many degrees
    pairs = luminance[1:] + luminance[:-1]
    smooth = pairs[1:] + pairs[:-1]
    pairs = np.add(smooth[:, 1:], smooth[:, :-1], out=pairs[:-1, :-1])
    smooth = np.add(pairs[:, 1:], pairs[:, :-1], out=smooth[:, :-2])
    chosen = smooth[1:-1:step], smooth[:, 1:-1:step]
    across = chosen[0][:, 2::step] - chosen[0][:, :-2:step]
    down = chosen[1][2::step] - chosen[1][:-2:step]
    size = np.sqrt(across * across + down * down)
    strong = size > 2 * np.median(size)
    if not strong.any():
        return []
    size = size[strong]
    angle = np.degrees(np.arctan2(down[strong], across[strong]))
    angle[angle < 0] += 180
    # the square of the size counts edges and not the noise between them
    weight = np.minimum(size, np.percentile(size, 98)) ** 2
    histogram = np.bincount(angle.astype(int) % 180, weights=weight, minlength=180)
    near_ones = ((-2, 1), (-1, 2), (0, 3), (1, 2), (2, 1))
    counts: Array = np.sum([w * np.roll(histogram, k) for k, w in near_ones], axis=0)
    counts = counts - np.median(counts)
    found: list[float] = []
    for k in np.argsort(counts)[::-1]:
        if counts[k] <= 0 or len(found) == DIRECTIONS:
            break
        near = [(k + d) % 180 for d in range(-3, 4)]
        if counts[k] < max(counts[near]):
            continue
        offset = sum(d * max(counts[(k + d) % 180], 0) for d in range(-3, 4))
        centre = k + 0.5 + offset / sum(max(counts[i], 0) for i in near)
        far = [abs((centre - other + 90) % 180 - 90) for other in found]
        if not far or min(far) > DIRECTION_SEPARATION_DEG:
            found.append(centre)
    return [(a + 90) % 180 - 90 for a in found]


def turned_bands(
    luminance: Array, angle_deg: float, band_px: int, within_px: tuple[float, float] | None = None
) -> Bands:
    """Turn the picture so that u runs along `angle_deg`, and average strips of `band_px`.

    `within_px` keeps the strips whose distance from the picture's centre lies in that range,
    and interpolates along u; the whole picture is turned to the nearest pixel.
    """
    height, width = luminance.shape
    slant = np.radians(angle_deg)
    cos, sin = float(np.cos(slant)), float(np.sin(slant))
    long = int(width * abs(cos) + height * abs(sin))
    bands = max(1, int(width * abs(sin) + height * abs(cos)) // band_px)
    first, v0 = -(bands * band_px) / 2, (bands - 1) / 2
    if within_px:
        low = min(max(0, int((within_px[0] - first) // band_px)), bands - 1)
        high = min(bands, int(np.ceil((within_px[1] - first) / band_px)))
        first, v0, bands = first + low * band_px, v0 - low, max(1, high - low)
    step = 2 if band_px >= 6 else 1
    u = np.arange(long, dtype=np.float32) - (long - 1) / 2
    profile = np.zeros((bands, long), np.float32)
    count = np.zeros((bands, long), np.int16)
    sample = _interpolated if within_px else _nearest
    flat = np.ascontiguousarray(luminance).ravel()
    for offset in np.arange(step / 2, band_px, step):
        v = (first + offset + np.arange(bands) * band_px).astype(np.float32)
        inside = _inside(u, v, (cos, sin), (height, width))
        value = sample(flat, u, v, (cos, sin), (height, width))
        value *= inside
        profile += value
        count += inside
    filled = count >= band_px / step / 2
    profile /= np.maximum(count, 1)
    profile *= filled
    return Bands(profile, filled, angle_deg, band_px, v0)


Turn = tuple[float, float]


def _inside(u: Array, v: Array, turn: Turn, size: tuple[int, int]) -> NDArray[np.bool_]:
    """Which of the turned places lie in the picture: one stretch of u for each v."""
    cos, sin = turn
    lowest, highest = np.full(len(v), -np.inf), np.full(len(v), np.inf)
    for along, across, side in ((cos, -sin, size[1]), (sin, cos, size[0])):
        half = (side - 1) / 2 - 1.01
        if abs(along) < 1e-6:
            out = np.abs(across * v) > half
            lowest[out] = np.inf
            continue
        ends = (np.array([[-half], [half]]) - across * v) / along
        lowest = np.maximum(lowest, ends.min(axis=0))
        highest = np.minimum(highest, ends.max(axis=0))
    # by number and not by place: small whole numbers compare fastest
    number = np.arange(len(u), dtype=np.int16)
    first = np.searchsorted(u, lowest, "left").astype(np.int16)
    last = np.searchsorted(u, highest, "right").astype(np.int16)
    return (number >= first[:, None]) & (number < last[:, None])


def _nearest(flat: Array, u: Array, v: Array, turn: Turn, size: tuple[int, int]) -> Array:
    """Picture values to within a pixel: rows and columns are rounded along u and v apart."""
    cos, sin = turn
    middle_y, middle_x = (size[0] - 1) // 2, (size[1] - 1) // 2
    by_u = np.rint(u * sin).astype(np.int32) * size[1] + np.rint(u * cos).astype(np.int32)
    by_v = np.rint(v * cos).astype(np.int32) * size[1] - np.rint(v * sin).astype(np.int32)
    index = by_v[:, None] + (by_u + (middle_y * size[1] + middle_x))
    value: Array = flat.take(index, mode="clip")
    return value


def _interpolated(flat: Array, u: Array, v: Array, turn: Turn, size: tuple[int, int]) -> Array:
    """Picture values, nearest across and linear along the axis that lies nearer to u."""
    cos, sin = turn
    x = (size[1] - 1) / 2 + u * np.float32(cos) - v[:, None] * np.float32(sin)
    y = (size[0] - 1) / 2 + u * np.float32(sin) + v[:, None] * np.float32(cos)
    steep = abs(cos) < abs(sin)
    along, across, apart = (y, x, size[1]) if steep else (x, y, 1)
    whole = np.floor(along)
    along -= whole
    place = whole * size[1] + np.rint(across) if steep else np.rint(across) * size[1] + whole
    index = place.astype(np.int32)
    value = flat.take(index, mode="clip")
    value += along * (flat.take(index + apart, mode="clip") - value)
    return value


@dataclass(frozen=True)
class Periods:
    """Local periods: one row per band, one column per window along u; 0 where there is none."""

    period_px: Array
    strength: Array
    centre: NDArray[Any]  # of each window, as an index along u
    window_px: int


def local_periods(bands: Bands, window_px: int) -> Periods:
    """Return the first strong period in each window of each band."""
    profile = bands.profile
    long = profile.shape[1]
    window_px = min(window_px, long)
    starts = np.unique(np.linspace(0, long - window_px, max(1, 2 * long // window_px)).astype(int))
    cut = np.stack([profile[:, s : s + window_px] for s in starts], axis=1)
    seen = np.stack([bands.inside[:, s : s + window_px] for s in starts], axis=1)
    period = np.zeros(cut.shape[:2], np.float32)
    strength = np.zeros(cut.shape[:2], np.float32)
    use = seen.mean(axis=2) > 0.7
    if use.any():
        level = _levelled(cut[use], seen[use])
        contrast = np.abs(level).mean(axis=1)
        # plain ground needs no looking at
        busy = contrast > 0.25 * np.percentile(contrast, 90)
        place = np.argwhere(use)[busy]
        found = _first_peaks(level[busy])
        period[place[:, 0], place[:, 1]], strength[place[:, 0], place[:, 1]] = found
    return Periods(period, strength, starts + window_px // 2, window_px)


def _levelled(cut: Array, seen: NDArray[np.bool_]) -> Array:
    """Take off each window's mean and slope, so that shading does not look like a period."""
    weight = seen.astype(np.float32)
    count = weight.sum(axis=1, keepdims=True)
    u = np.arange(cut.shape[1], dtype=np.float32) - cut.shape[1] / 2
    cut = (cut - (cut * weight).sum(axis=1, keepdims=True) / count) * weight
    centred = (u - (u * weight).sum(axis=1, keepdims=True) / count) * weight
    slope = (cut * centred).sum(axis=1, keepdims=True) / (centred**2).sum(axis=1, keepdims=True)
    level: Array = cut - slope * centred
    return level


def _first_peaks(rows: Array) -> tuple[Array, Array]:
    """The first key maximum of the normalised square difference of each row."""
    length = rows.shape[1]
    lags = length // 2
    padded = 1 << int(np.ceil(np.log2(length + lags)))
    # numpy transforms 32-bit floats in 64 bits unless it scales them: three times as slow
    spectrum = np.fft.rfft(rows, padded, axis=1, norm="forward") * np.float32(padded)
    product = np.fft.irfft(spectrum.real**2 + spectrum.imag**2, padded, axis=1)[:, :lags]
    energy = np.cumsum(rows**2, axis=1)
    total = energy[:, -1:]
    head = energy[:, ::-1][:, :lags]  # sum of squares of x[0 : length - lag]
    tail = np.concatenate([total, total - energy[:, : lags - 1]], axis=1)
    score = 2 * product / np.maximum(head + tail, 1e-6 * np.maximum(total, 1e-9))
    peak = np.zeros_like(score, bool)
    peak[:, 1:-1] = (score[:, 1:-1] >= score[:, :-2]) & (score[:, 1:-1] > score[:, 2:])
    # only after the first fall through zero: before it lies the picture's own smoothness
    peak &= np.cumsum(score < 0, axis=1) > 0
    peak[:, : int(LEAST_PERIOD_PX)] = False
    height = np.where(peak, score, -1)
    best = height.max(axis=1)
    first = np.argmax(height >= KEY_SHARE * best[:, None], axis=1)
    first = np.clip(first, 1, lags - 2)
    row = np.arange(len(rows))
    a, b, c = score[row, first - 1], score[row, first], score[row, first + 1]
    bend = a - 2 * b + c
    shift = np.where(bend < 0, 0.5 * (a - c) / np.where(bend < 0, bend, -1), 0)
    good = (best > LEAST_STRENGTH) & (first >= LEAST_PERIOD_PX - 0.5)
    return np.where(good, first + shift, 0), np.where(good, b, 0)
