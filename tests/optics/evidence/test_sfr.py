"""Slanted edges whose response is known: analytic ones, and a third-party renderer's."""

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from scipy.special import erf

from optics.evidence import sfr

FRAMES = Path(__file__).parents[3] / ".." / "shared" / "frames"
needs_frames = pytest.mark.skipif(
    not FRAMES.is_dir(), reason="the shared frames lie beside the project only on our machines"
)


def edge(sigma_px, angle_deg, *, noise=0.0, size=(400, 400), seed=0, low=30.0, high=200.0):
    """A Gaussian-blurred edge, averaged over each pixel's square."""
    rows, columns = np.mgrid[: size[0], : size[1]] - np.array(size)[:, None, None] / 2 + 0.3
    slant = np.radians(angle_deg)
    total = np.zeros(size)
    for dy in (-0.375, -0.125, 0.125, 0.375):
        for dx in (-0.375, -0.125, 0.125, 0.375):
            away = (columns + dx) * np.cos(slant) - (rows + dy) * np.sin(slant)
            total += 0.5 * (1 + erf(away / sigma_px / np.sqrt(2)))
    grain = np.random.default_rng(seed).normal(0, noise, size) if noise else 0.0
    return low + (high - low) * total / 16 + grain


def true_mtf50(sigma_px, angle_deg):
    """Gaussian times the pixel's aperture (optics.md 9), solved on a fine grid."""
    f = np.linspace(0, 1, 20001)
    slant = np.radians(angle_deg)
    response = np.exp(-2 * np.pi**2 * sigma_px**2 * f**2)
    # the sixteen samples above stand at quarter pixels: sinc(f) / sinc(f / 4)
    for part in (np.cos(slant), np.sin(slant)):
        response = response * np.sinc(f * part) / np.sinc(f * part / 4)
    return f[np.argmax(response < 0.5)]


@pytest.mark.parametrize("angle_deg", [3, 5, 8, 11, 14])
@pytest.mark.parametrize("sigma_px", [0.5, 0.8, 1.5, 3.0])
@pytest.mark.parametrize("noise", [0.0, 1.0])
def test_mtf50_of_analytic_edges_within_two_percent(sigma_px, angle_deg, noise):
    f, response = sfr.slanted_edge(edge(sigma_px, angle_deg, noise=noise))
    assert sfr.mtf50(f, response) == pytest.approx(true_mtf50(sigma_px, angle_deg), rel=0.02)


@pytest.mark.parametrize("sigma_px", [0.8, 1.5, 3.0])
def test_noise_of_four_levels_does_not_mislead_the_centroid(sigma_px):
    off = []
    for seed in range(6):
        f, response = sfr.slanted_edge(edge(sigma_px, 4 + seed, noise=4.0, seed=seed))
        off.append(sfr.mtf50(f, response) / true_mtf50(sigma_px, 4 + seed) - 1)
    assert abs(np.median(off)) < 0.02
    assert np.abs(off).max() < 0.05


@pytest.mark.parametrize("turn", ["as is", "mirrored", "turned", "upside down", "dark right"])
def test_the_edge_may_lie_any_way_round(turn):
    picture = edge(1.2, 6, size=(200, 160))
    turned = {
        "as is": picture,
        "mirrored": picture[:, ::-1],
        "turned": picture.T,
        "upside down": picture[::-1],
        "dark right": 255 - picture,
    }[turn]
    f, response = sfr.slanted_edge(turned)
    assert sfr.mtf50(f, response) == pytest.approx(true_mtf50(1.2, 6), rel=0.02)


def test_rise_of_a_gaussian_edge():
    # 10 to 90 % of a normal distribution is 2.5631 standard deviations; the pixel's own
    # aperture and the quarter-pixel bins add their variances of 1/12 and 1/192
    sigma = np.sqrt(2.0**2 + 1 / 12 + 1 / 192)
    profile = sfr.edge_profile(edge(2.0, 5))
    assert sfr.rise_px(profile) == pytest.approx(2.5631 * sigma, rel=0.02)
    assert sfr.overshoot(profile) < 0.01


def test_sharpening_shows_as_overshoot():
    soft = edge(1.5, 5)
    blurred = edge(3.0, 5)
    profile = sfr.edge_profile(soft + 1.0 * (soft - blurred))
    # what the unsharp mask adds, on the profile itself: max of Phi(x/1.5) + Phi(x/1.5) - Phi(x/3)
    x = np.linspace(0, 20, 2001)
    phi = 0.5 * (1 + erf(x / 1.5 / np.sqrt(2)))
    expected = (2 * phi - 0.5 * (1 + erf(x / 3.0 / np.sqrt(2)))).max() - 1
    assert sfr.overshoot(profile) == pytest.approx(expected, rel=0.1)


@pytest.mark.parametrize(
    ("picture", "word"),
    [
        (np.full((100, 100), 80.0), "no s"),
        (np.random.default_rng(1).normal(100, 5, (100, 100)), "edge|noise"),
        (np.tile(np.where(np.arange(100) > 50, 200.0, 20.0), (100, 1)), "degrees"),
        (np.zeros((8, 8)), "16 rows"),
        (np.full((50, 50), np.nan), "finite"),
    ],
)
def test_what_is_no_slanted_edge_is_refused(picture, word):
    with pytest.raises(ValueError, match=word):
        sfr.slanted_edge(picture)


def linear(path):
    picture = np.asarray(Image.open(path)).astype(float)
    picture = picture[..., :3].mean(axis=2) if picture.ndim == 3 else picture
    if path.stem.endswith("b16"):
        return picture / 65535
    picture = picture / 255
    if path.stem.endswith("_l"):
        return picture
    return np.where(picture <= 0.04045, picture / 12.92, ((picture + 0.055) / 1.055) ** 2.4)


def the_four_sides(picture):
    """Crops around the middle of each side of the turned dark square in those frames."""
    dark = np.argwhere(picture < (picture.max() + picture.min()) / 2)
    (top, left), (bottom, right) = dark.min(axis=0), dark.max(axis=0)
    y, x = (top + bottom) // 2, (left + right) // 2
    half, deep = 36, 44
    for row, column, tall in (
        (y, left, True),
        (y, right, True),
        (top, x, False),
        (bottom, x, False),
    ):
        dy, dx = (half, deep) if tall else (deep, half)
        yield picture[max(0, row - dy) : row + dy, max(0, column - dx) : column + dx]


@needs_frames
def test_the_rendered_squares_of_the_shared_frames():
    """`mtf/truth_mtf.json`: exact curves of the renderer, and a second program's measurement.

    The frames of small apertures carry less of the Airy disc's far rings than the formula has:
    the second program reads them 3 to 6 % over it too. There its mean is the truth.
    """
    off = {}
    for truth in json.loads((FRAMES / "mtf" / "truth_mtf.json").read_text()):
        picture = linear(FRAMES / "mtf" / truth["file"])
        found = [sfr.mtf50(*sfr.slanted_edge(crop)) for crop in the_four_sides(picture)]
        exact = truth["mtf50_analytic"]
        other = np.mean(truth["mtf50_measured_edges"])
        target = exact if abs(other / exact - 1) < 0.015 else other
        off[truth["file"]] = float(np.mean(found)) / target - 1
    print("\n" + "\n".join(f"{name:45s} {100 * value:+6.2f} %" for name, value in off.items()))
    assert len(off) == 24
    assert np.abs(list(off.values())).max() < 0.02
