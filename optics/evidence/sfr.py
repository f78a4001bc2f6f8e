"""Edge response from a slanted edge, after ISO 12233 (e-SFR, straight-line fit).

The luminance must be linear in light: undo the tone curve first. A picture sharpened in the
camera gives a response of the file, not of the lens; `overshoot` says how much.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

OVERSAMPLING = 4  # bins per pixel across the edge (ISO 12233)
DERIVATIVE = np.array([0.5, 0.0, -0.5])  # as np.convolve wants it: (next - previous) / 2
LARGEST_CORRECTION = 10.0  # the derivative correction is capped (common practice, no source)
LEAST_ROWS, LEAST_COLUMNS = 16, 16
LEAST_ANGLE_DEG, LARGEST_ANGLE_DEG = 1.0, 30.0
LEAST_STEP_TO_NOISE = 4.0  # the step across the edge over the row noise


@dataclass(frozen=True)
class EdgeProfile:
    """The edge spread function, dark side at negative positions."""

    position_px: Array  # along the normal of the edge
    level: Array
    angle_deg: float  # between the edge and the nearer of rows and columns


def slanted_edge(luminance: NDArray[np.generic]) -> tuple[Array, Array]:
    """Return the spatial frequency response across one slanted edge.

    Parameters
    ----------
    luminance : ndarray of shape (M, N)
        A crop with one straight edge, 1 to 30 degrees off the rows or the
        columns, linear in light, any scale.

    Returns
    -------
    frequencies : ndarray
        In cycles per pixel along the edge's normal, 0 to 1.
    response : ndarray
        1 at frequency 0.

    Notes
    -----
    The response holds the pixel's own aperture. The loss of the central
    difference and of the quarter-pixel bins is divided out.

    References
    ----------
    ISO 12233, Photography: electronic still picture imaging, resolution and
    spatial frequency responses, e-SFR.

    Examples
    --------
    >>> import numpy as np
    >>> rows, columns = np.mgrid[:80, :60]
    >>> distance = (columns - 30 - 0.1 * (rows - 40)) * np.cos(np.arctan(0.1))
    >>> f, response = slanted_edge(1 / (1 + np.exp(-1.702 * distance / 1.5)))
    >>> round(mtf50(f, response), 2)
    0.12
    """
    return response_of(edge_profile(luminance))


def edge_profile(luminance: NDArray[np.generic]) -> EdgeProfile:
    """Return the oversampled edge spread function of a crop with one slanted edge."""
    picture = np.asarray(luminance, dtype=np.float64)
    if picture.ndim != 2 or picture.shape[0] < LEAST_ROWS or picture.shape[1] < LEAST_COLUMNS:
        raise ValueError(f"luminance has shape {picture.shape}; give at least 16 rows and columns")
    if not np.isfinite(picture).all():
        raise ValueError("luminance holds values that are no finite numbers")
    picture = _upright(picture)
    slope, offset = _edge_line(picture)
    angle_deg = float(np.degrees(np.arctan(abs(slope))))
    if not LEAST_ANGLE_DEG <= angle_deg <= LARGEST_ANGLE_DEG:
        raise ValueError(f"the edge lies at {angle_deg:.1f} degrees; turn it to between 2 and 10")
    picture, middle = _whole_phases(picture, slope)
    rows = np.arange(picture.shape[0])[:, None] - middle
    across = np.arange(picture.shape[1])[None, :] - (offset + slope * rows)
    distance = across * np.cos(np.arctan(slope))
    reach = min(np.percentile(-distance[:, 0], 10), np.percentile(distance[:, -1], 10))
    if reach < 4:
        raise ValueError("the edge runs out of the crop; give room on both sides")
    return EdgeProfile(*_binned(distance, picture, reach), angle_deg)


def response_of(profile: EdgeProfile) -> tuple[Array, Array]:
    """Return frequencies (cycles/pixel) and response from an edge profile."""
    spread = np.convolve(profile.level, DERIVATIVE, mode="same") * OVERSAMPLING
    spread[[0, -1]] = 0.0
    spread = spread * _window(profile.position_px, spread)
    frequencies = np.arange(0, 257) / 256.0
    length = 4096 * -(-len(spread) // 4096)
    raw = np.abs(np.fft.rfft(spread, length))[:: length // 1024][:257]
    if raw[0] <= 0:
        raise ValueError("there is no step across the edge")
    step = 1.0 / OVERSAMPLING
    lost = np.abs(np.sinc(2 * step * frequencies) * np.sinc(step * frequencies))
    return frequencies, raw / raw[0] / np.maximum(lost, 1 / LARGEST_CORRECTION)


def mtf50(frequencies: Array, response: Array) -> float | None:
    """Return where the response first falls to one half, in cycles per pixel; None if nowhere."""
    below = np.flatnonzero(response < 0.5)
    if below.size == 0 or below[0] == 0:
        return None
    k = int(below[0])
    share = (response[k - 1] - 0.5) / (response[k - 1] - response[k])
    return float(frequencies[k - 1] + share * (frequencies[k] - frequencies[k - 1]))


def rise_px(profile: EdgeProfile) -> float:
    """Return the 10-90 % rise of the edge in pixels along its normal."""
    dark, bright = _ends(profile)
    level = (profile.level - dark) / (bright - dark)
    low = _last_crossing(profile.position_px, level, 0.1)
    return _first_crossing(profile.position_px, level, 0.9) - low


def overshoot(profile: EdgeProfile) -> float:
    """Return how far the profile rises over its bright end or dips under its dark one.

    A share of the step. Over about 0.05 the picture was sharpened after the lens (common
    practice, no source).
    """
    dark, bright = _ends(profile)
    near = np.abs(profile.position_px - _middle(profile)) < 4 * max(1.0, rise_px(profile))
    smooth = np.convolve(profile.level, np.ones(3) / 3, mode="same")[near]
    return float(max(smooth.max() - bright, dark - smooth.min(), 0.0) / (bright - dark))


def _upright(picture: Array) -> Array:
    """Turn the crop so that the edge runs down the rows, dark on the left."""
    # some of the rows and columns tell it as well
    across = np.abs(np.diff(_smooth(picture[::4]), axis=1)).max(axis=1).mean()
    down = np.abs(np.diff(_smooth(picture[:, ::4].T), axis=1)).max(axis=1).mean()
    if down > across:
        picture = picture.T
    quarter = max(1, picture.shape[1] // 4)
    if picture[:, :quarter].mean() > picture[:, -quarter:].mean():
        picture = picture[:, ::-1]
    return picture


def _smooth(picture: Array, width: int = 5) -> Array:
    total = np.cumsum(picture, axis=1)
    return (total[:, width:] - total[:, :-width]) / width


def _line(x: Array, y: Array, weight: Array | None = None) -> tuple[float, float]:
    """Slope and offset by least squares; weights count squared, as with np.polyfit."""
    share = np.ones(len(x)) if weight is None else weight**2
    share = share / share.sum()
    x_middle, y_middle = share @ x, share @ y
    away = share * (x - x_middle)
    slope = float(away @ (y - y_middle)) / max(float(away @ (x - x_middle)), 1e-12)
    return slope, float(y_middle - slope * x_middle)


def _edge_line(picture: Array) -> tuple[float, float]:
    """Fit column = offset + slope * (row - middle): a rough line, then windowed centroids.

    Without the window the centroid is pulled about by the noise of the whole row.
    """
    height, width = picture.shape
    row = np.arange(height) - (height - 1) / 2
    gradient = np.zeros_like(picture)
    gradient[:, 1:-1] = (picture[:, 2:] - picture[:, :-2]) / 2
    slope, offset = _rough_line(picture, row)
    half = _half_width(gradient, row, slope, offset)
    reach = np.arange(-int(half) - 1, int(half) + 2)[None, :]
    for _ in range(4):
        line = (offset + slope * row)[:, None]
        column = np.rint(line).astype(int) + reach
        away = column - line
        within = (np.abs(away) < half) & (column >= 0) & (column < width)
        window = np.where(within, 0.54 + 0.46 * np.cos(np.pi * away / half), 0.0)
        window *= np.take_along_axis(gradient, np.clip(column, 0, width - 1), axis=1)
        weight = np.clip(window.sum(axis=1), 0, None)
        if weight.max() <= 0:
            raise ValueError("there is no step across the edge")
        shift = (window * away).sum(axis=1) / np.maximum(weight, weight.max() * 1e-3)
        shift = np.clip(shift, -half, half)
        # rows whose step is weak count little
        change = _line(row, shift, weight)
        slope, offset = slope + change[0], offset + change[1]
    _refuse_noise(picture, gradient, row, slope, offset, half)
    return slope, offset


def _rough_line(picture: Array, row: Array) -> tuple[float, float]:
    """Middle of the strongest smoothed step of each row, then a line most rows agree on."""
    wide = min(9, picture.shape[1] // 3)
    smooth = _smooth(picture, wide)
    step = smooth[:, wide:] - smooth[:, :-wide]  # rises by the whole step over `wide` columns
    at = np.argmax(step, axis=1) + wide + 0.0
    apart = max(1, len(row) // 2)
    slope = float(np.median((at[apart:] - at[:-apart]) / (row[apart:] - row[:-apart])))
    offset = float(np.median(at - slope * row))
    for limit in (8.0, 4.0, 3.0):
        near = np.abs(at - offset - slope * row) < limit
        if near.sum() < max(8, 0.3 * len(row)):
            raise ValueError("no straight edge was found in the crop")
        slope, offset = _line(row[near], at[near])
    return slope, offset


def _half_width(gradient: Array, row: Array, slope: float, offset: float) -> float:
    """How far the centroid's window must reach: three times the edge's own half width."""
    height, width = gradient.shape
    at = np.rint(offset + slope * row).astype(int)
    reach = np.arange(-min(60, width // 3), min(60, width // 3) + 1)
    columns = np.clip(at[:, None] + reach[None, :], 0, width - 1)
    mean = np.take_along_axis(gradient, columns, axis=1).mean(axis=0)
    mean = np.convolve(mean, np.ones(3) / 3, mode="same")
    wide = np.flatnonzero(mean > mean.max() / 2)
    if mean.max() <= 0 or wide.size == 0:
        raise ValueError("there is no step across the edge")
    return float(np.clip(1.5 * (wide[-1] - wide[0] + 1) + 3, 5, width / 2))


def _refuse_noise(
    picture: Array, gradient: Array, row: Array, slope: float, offset: float, half: float
) -> None:
    some = slice(None, None, max(1, len(row) // 50))  # rows: a median needs no more
    picture, gradient, row = picture[some], gradient[some], row[some]
    away = np.arange(picture.shape[1])[None, :] - (offset + slope * row[:, None])
    left, right = picture[away < -half], picture[away > half]
    if left.size < 16 or right.size < 16:
        raise ValueError("the edge runs out of the crop; give room on both sides")
    noise = np.median(np.abs(gradient[np.abs(away) > half])) / 0.6745 * np.sqrt(2)
    if np.median(right) - np.median(left) < LEAST_STEP_TO_NOISE * max(noise, 1e-12):
        raise ValueError("the step across the edge is lost in the noise")


def _whole_phases(picture: Array, slope: float) -> tuple[Array, float]:
    """Trim to whole periods of the edge's phase; return the crop and its row origin."""
    height = picture.shape[0]
    period = 1 / abs(slope) if slope else float("inf")
    middle = (height - 1) / 2
    if period >= height:
        return picture, middle
    keep = int(round(int(height / period) * period))
    first = (height - keep) // 2
    return picture[first : first + keep], middle - first


def _binned(distance: Array, picture: Array, reach: float) -> tuple[Array, Array]:
    """Average the pixels into quarter-pixel bins along the normal."""
    count = int(reach * OVERSAMPLING)
    index = np.floor(distance * OVERSAMPLING + 0.5).astype(int) + count
    # what lies outside goes into one bin more at each end, and these are left out
    index = (np.clip(index, -1, 2 * count + 1) + 1).ravel()
    hits = np.bincount(index, minlength=2 * count + 3)[1:-1]
    total = np.bincount(index, weights=picture.ravel(), minlength=2 * count + 3)[1:-1]
    position = (np.arange(2 * count + 1) - count) / OVERSAMPLING
    filled = hits > 0
    level = np.interp(position, position[filled], total[filled] / hits[filled])
    return position, level


def _window(position: Array, spread: Array) -> Array:
    """A raised cosine with a flat top, centred on the line spread function.

    A plain Hamming window reads a wide edge a little too sharp; a flat top over the edge's
    own width does not, and still keeps the far noise out.
    """
    smooth = np.convolve(spread, np.ones(5) / 5, mode="same")
    centre = position[int(np.argmax(smooth))]
    wide = np.flatnonzero(smooth > smooth.max() / 2)
    width = (wide[-1] - wide[0] + 1) / OVERSAMPLING
    flat = max(4.0, 2.0 * width)
    end = min(position[-1] - centre, centre - position[0])
    reach = min(max(6 * flat, 32.0), max(end, 1.0))
    flat = min(flat, 0.6 * reach)
    away = np.abs(position - centre)
    slope = 0.5 + 0.5 * np.cos(np.pi * (away - flat) / (reach - flat))
    return np.where(away <= flat, 1.0, np.where(away < reach, slope, 0.0))


def _ends(profile: EdgeProfile) -> tuple[float, float]:
    """Levels of the two flat sides: the outer thirds, medians."""
    third = max(2, len(profile.level) // 6)
    dark, bright = np.median(profile.level[:third]), np.median(profile.level[-third:])
    if bright <= dark:
        raise ValueError("there is no step across the edge")
    return float(dark), float(bright)


def _middle(profile: EdgeProfile) -> float:
    dark, bright = _ends(profile)
    return _first_crossing(profile.position_px, (profile.level - dark) / (bright - dark), 0.5)


def _first_crossing(position: Array, level: Array, at: float) -> float:
    """Where the level first reaches `at` after the last time it was under a half of it."""
    start = int(np.flatnonzero(level < at)[0]) if (level < at).any() else 0
    low = np.flatnonzero(level < at * 0.5)
    start = int(low[-1]) if low.size else start
    k = start + int(np.argmax(level[start:] >= at))
    return _between(position, level, k, at)


def _last_crossing(position: Array, level: Array, at: float) -> float:
    """Where the level last rises through `at` before the first time it passes a half."""
    half = int(np.argmax(level >= 0.5))
    under = np.flatnonzero(level[: half + 1] < at)
    return _between(position, level, int(under[-1]) + 1 if under.size else 1, at)


def _between(position: Array, level: Array, k: int, at: float) -> float:
    k = max(1, k)
    rise = level[k] - level[k - 1]
    share = (at - level[k - 1]) / rise if rise else 0.0
    return float(position[k - 1] + share * (position[k] - position[k - 1]))
