"""Blur discs of known diameter: textures behind SciPy's Bessel function, an exact disc.

The transfer function of a disc is 2 J1(x) / x (Goodman, Introduction to Fourier Optics, 6.4).
"""

import numpy as np
import pytest
from scipy.special import j1

from optics.evidence.blur_growth import blur_growth

SIDE = 256
PATCH = 8


def texture(seed, steepness):
    """Random, its power falling with frequency; four times as fine as the pixels to come."""
    rng = np.random.default_rng(seed)
    f = np.hypot(np.fft.fftfreq(2 * SIDE)[:, None], np.fft.rfftfreq(2 * SIDE)[None, :])
    f[0, 0] = 1.0
    spectrum = np.fft.rfft2(rng.normal(size=(2 * SIDE, 2 * SIDE))) * f ** (-steepness / 2)
    spectrum[0, 0] = 0
    return spectrum / np.abs(spectrum).std(), f


def frames(seed, steepness, per_step_px, depths, count):
    """(fine, coarse) of patches in columns of the picture, each column at its own depth."""
    spectrum, f = texture(seed, steepness)
    fine, coarse = [], []
    for k in range(count):
        parts = []
        for depth in depths:
            disc = 2 * abs(k - depth) * per_step_px  # in the finer pixels
            x = np.maximum(np.pi * disc * f, 1e-9)
            parts.append(np.fft.irfft2(spectrum * 2 * j1(x) / x, (2 * SIDE, 2 * SIDE)))
        wide = 2 * SIDE // len(depths)
        whole = np.concatenate(
            [p[:, n * wide : (n + 1) * wide] for n, p in enumerate(parts)], axis=1
        )
        picture = 110 + 25 * means(whole, 2) / means(parts[0], 2).std()
        fine.append(sharpness(picture))
        half = sharpness(means(picture, 2))
        coarse.append(np.repeat(np.repeat(half, 2, 0), 2, 1))
    return [np.stack(level).reshape(count, -1) for level in (fine, coarse)]


def means(picture, side):
    height, width = (n // side for n in picture.shape)
    cut = picture[: height * side, : width * side]
    return cut.reshape(height, side, width, side).mean(axis=(1, 3))


def sharpness(picture):
    total = np.zeros_like(picture)
    twice = 2 * picture[1:-1, 1:-1]
    total[1:-1, 1:-1] = np.abs(twice - picture[:-2, 1:-1] - picture[2:, 1:-1])
    total[1:-1, 1:-1] += np.abs(twice - picture[1:-1, :-2] - picture[1:-1, 2:])
    return means(total, PATCH)


@pytest.mark.parametrize("steepness", [1.0, 2.0, 3.0])
@pytest.mark.parametrize("per_step_px", [0.5, 0.9])
def test_the_disc_of_a_step_is_found(steepness, per_step_px):
    fine, coarse = frames(3, steepness, per_step_px, depths=(3.0, 5.0, 6.4, 8.0), count=12)
    found = blur_growth(fine, coarse, np.arange(12.0))
    assert found.per_step_px == pytest.approx(per_step_px, rel=0.2)
    assert found.low_px <= per_step_px <= found.high_px


def test_a_gap_counts_as_long_as_it_is():
    fine, coarse = frames(5, 2.0, 0.6, depths=(3.0, 5.0, 7.0, 8.0), count=12)
    kept = [k for k in range(12) if k != 6]
    found = blur_growth(fine[kept], coarse[kept], np.array(kept, float))
    assert found.per_step_px == pytest.approx(0.6, rel=0.2)


def test_too_little_is_not_guessed():
    flat = np.full((12, 900), 3.0)
    assert blur_growth(flat, flat, np.arange(12.0)) is None
    fine, coarse = frames(3, 2.0, 0.6, depths=(1.0, 2.0), count=4)
    assert blur_growth(fine, coarse, np.arange(4.0)) is None
