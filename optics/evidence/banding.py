"""Light and dark bands from lamps that flicker while the shutter runs down the frame."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

#: Bands must repeat this often in the frame, or a slow gradient would count.
LEAST_PERIODS = 4
#: More of them are a fabric, not a lamp.
MOST_PERIODS = 25
#: Peak to peak, as a share of the light.
LIMIT_SHARE = 0.02
#: Stronger than any lamp: stripes of the subject.
MOST_SHARE = 0.35
#: How well the columns keep step with each other, 0 to 1.
LIMIT_IN_STEP = 0.55
#: Power of the one period against all others, in each third of the frame.
LIMIT_POWER = 0.30
LIMIT_PHASE_RAD = 0.7


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
    median over columns keeps the lamp. The left, middle and right third must each show the same
    period in step.
    """
    values = np.asarray(luma, float)
    height, width = values.shape
    if height < 32 or width < 32:
        return None
    usable = (values > 12.0) & (values < 245.0)
    light = 2.2 * np.log(np.maximum(values, 1.0))
    change = np.where(usable[1:] & usable[:-1], light[1:] - light[:-1], np.nan)
    # every third column is enough for a median
    thirds = [change[:, k * width // 3 : (k + 1) * width // 3 : 3] for k in range(3)]
    spectra = []
    for third in thirds:
        if np.isfinite(third).sum(axis=1).min() < third.shape[1] // 4:
            return None
        profile = np.concatenate([[0.0], np.cumsum(np.nanmedian(third, axis=1))])
        spectra.append(_spectrum(profile))
    power = np.min([np.abs(s) ** 2 / max(float((np.abs(s) ** 2).sum()), 1e-12) for s in spectra], 0)
    near = np.convolve(power, [1, 1, 1], mode="same")
    k = int(near.argmax())
    if near[k] < LIMIT_POWER or not LEAST_PERIODS <= k <= MOST_PERIODS:
        return None
    phases = np.angle([s[k] for s in spectra])
    apart = np.abs(np.angle(np.exp(1j * (phases[:, None] - phases[None]))))
    if apart.max() > LIMIT_PHASE_RAD:
        return None
    # a Hann window halves the amplitude; both sides of the spectrum share it
    sizes = [np.sqrt((np.abs(s[max(k - 1, 0) : k + 2]) ** 2).sum()) for s in spectra]
    share = float(np.median(sizes)) * 4.0 / height * 2.0 / np.sqrt(1.5)
    if not LIMIT_SHARE <= share <= MOST_SHARE or _in_step(change, k) < LIMIT_IN_STEP:
        return None
    return height / k, share


def _in_step(change: Array, k: int) -> float:
    """Return how alike the columns' own phases at this period are: 1 for a lamp."""
    turns = np.exp(-2j * np.pi * k * np.arange(change.shape[0]) / change.shape[0])
    each = turns @ np.nan_to_num(change - np.nanmean(change, axis=0))
    size = np.abs(each)
    return float(np.abs(np.mean(each[size > 0] / size[size > 0]))) if (size > 0).any() else 0.0


def _spectrum(profile: Array) -> npt.NDArray[np.complex128]:
    """Spectrum of a profile with its slow slope taken off, windowed; the slowest two left out."""
    x = np.linspace(-1.0, 1.0, profile.size)
    smooth = np.polyval(np.polyfit(x, profile, 3), x)
    result = np.fft.rfft((profile - smooth) * np.hanning(profile.size))
    result[:2] = 0.0
    return np.asarray(result)
