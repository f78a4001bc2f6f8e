"""Light and dark bands from lamps that flicker while the shutter runs down the frame."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Frame32 = npt.NDArray[np.float32]
Mask = npt.NDArray[np.bool_]

#: Bands must repeat this often in the frame, or a slow gradient would count.
LEAST_PERIODS = 5
#: More of them are a fabric, not a lamp.
MOST_PERIODS = 25
#: Peak to peak, as a share of the light.
LIMIT_SHARE = 0.02
#: Stronger than any lamp: stripes of the subject.
MOST_SHARE = 0.5
#: The frame is asked in this many upright strips; a subject may hide the bands in some.
STRIPS = 9
#: Strips that must show one period, among them one near each side.
LEAST_STRIPS = 3
#: Power of that period against all others a lamp could have.
LIMIT_POWER = 0.5
#: How well the strips keep step with each other, 0 to 1.
LIMIT_IN_STEP = 0.8
#: Weakest against strongest quarter of the height: a rib or a rim is one stripe, no band.
LIMIT_EVEN = 0.3
#: Log of the light behind each 8-bit value, in 32 bits: short rows of them sort twice as fast.
LIGHT = (2.2 * np.log(np.maximum(np.arange(256.0), 1.0))).astype(np.float32)


def measure(luma: npt.NDArray[np.generic]) -> tuple[float, float] | None:
    """Return period (in rows) and strength (share, peak to peak) of bands along the rows.

    Parameters
    ----------
    luma : ndarray of shape (M, N)
        8-bit luminance of the whole frame, small (512 pixels is plenty), rows as the sensor read
        them: a frame held upright must be turned back first.

    Returns
    -------
    (float, float) or None
        None where no bands stand out.

    Notes
    -----
    From row to row the picture changes differently in every column, the lamp alike in all: the
    median over the columns of a strip keeps the lamp. Strips at the left and at the right must
    show the same period in step, and from top to bottom.
    """
    if luma.dtype != np.uint8:
        luma = np.clip(np.rint(luma), 0, 255).astype(np.uint8)
    values = np.asarray(luma, np.uint8)
    height, width = values.shape
    if height < 32 or width < 36:
        return None
    usable = (values > 12) & (values < 245)
    both = usable[1:] & usable[:-1]
    change = np.diff(LIGHT[values], axis=0)
    profiles = [p for j in range(STRIPS) if (p := _profile(change, both, j)) is not None]
    if len(profiles) < LEAST_STRIPS:
        return None
    best: tuple[float, int, float] | None = None
    strips = [(j, _strip(profile)) for j, profile in profiles]
    for k in range(LEAST_PERIODS, min(MOST_PERIODS, height // 4) + 1):
        same = [
            (j, s)
            for j, s in strips
            if abs(s[0] - k) <= 1 and s[1] > LIMIT_POWER and LIMIT_SHARE <= s[2] <= MOST_SHARE
        ]
        if len(same) < LEAST_STRIPS or same[0][0] > STRIPS // 4 or same[-1][0] < STRIPS * 2 // 3:
            continue
        step = float(np.abs(np.mean([np.exp(1j * np.angle(s[3][k])) for _, s in same])))
        together = np.mean([dict(profiles)[j] for j, _ in same], axis=0)
        if step < LIMIT_IN_STEP or _evenness(together, k) < LIMIT_EVEN:
            continue
        power = sum(float(np.abs(s[3][k]) ** 2) for _, s in same)
        if best is None or power > best[0]:
            best = (power, k, float(np.median([s[2] for _, s in same])))
    return None if best is None else (height / best[1], best[2])


def _medians(values: Frame32) -> Array:
    """Median of each row, NaN left out. Sorting whole short rows is the fastest way there is."""
    ranked = np.sort(values, axis=1)  # NaN last
    told = values.shape[1] - np.count_nonzero(np.isnan(ranked), axis=1)
    rows = np.arange(len(values))
    lower, upper = ranked[rows, (told - 1) // 2], ranked[rows, told // 2]
    return np.asarray((lower.astype(float) + upper) / 2.0)


def _profile(change: Frame32, both: Mask, strip: int) -> tuple[int, Array] | None:
    """Return the strip's number and its light down the rows; None where too much is cut off."""
    width = change.shape[1]
    columns = slice(strip * width // STRIPS, (strip + 1) * width // STRIPS)
    part, told = change[:, columns], both[:, columns]
    if told.sum(axis=1).min() < part.shape[1] // 4:
        return None
    middle = _medians(part if told.all() else np.where(told, part, np.float32(np.nan)))
    return strip, np.concatenate([[0.0], np.cumsum(middle)])


def _strip(profile: Array) -> tuple[int, float, float, npt.NDArray[np.complex128]]:
    """Return the strongest number of periods, its share of the power, its depth, the spectrum."""
    spectrum = _spectrum(profile)
    power = np.abs(spectrum) ** 2
    near = np.convolve(power, [1, 1, 1], mode="same")
    last = min(MOST_PERIODS + 1, len(power) - 2)
    k = int(near[LEAST_PERIODS:last].argmax()) + LEAST_PERIODS
    share = float(near[k] / max(float(power[: MOST_PERIODS + 2].sum()), 1e-12))
    # a Hann window halves the amplitude; both sides of the spectrum share it
    depth = float(np.sqrt(near[k]) * 4.0 / profile.size * 2.0 / np.sqrt(1.5))
    return k, share, depth, spectrum


def _evenness(profile: Array, k: int) -> float:
    """Return the bands' depth in the weakest quarter of the height over that in the strongest."""
    depths = []
    for rows in np.array_split(np.arange(profile.size), 4):
        turn = 2.0 * np.pi * k * rows / profile.size
        x = np.linspace(-1.0, 1.0, rows.size)
        terms = np.column_stack([np.cos(turn), np.sin(turn), np.ones_like(x), x])
        fit, *_ = np.linalg.lstsq(terms, profile[rows], rcond=None)
        depths.append(float(np.hypot(fit[0], fit[1])))
    return min(depths) / max(max(depths), 1e-12)


def _spectrum(profile: Array) -> npt.NDArray[np.complex128]:
    """Spectrum of a profile with its slow slope taken off, windowed; the slowest two left out."""
    slow = _slow(profile.size)
    smooth = slow @ (profile @ slow)
    result = np.fft.rfft((profile - smooth) * np.hanning(profile.size))
    result[:2] = 0.0
    return np.asarray(result)


@lru_cache(maxsize=8)
def _slow(size: int) -> Array:
    """Third-degree curves over so many rows, as columns at right angles to each other."""
    return np.asarray(np.linalg.qr(np.vander(np.linspace(-1.0, 1.0, size), 4))[0])
