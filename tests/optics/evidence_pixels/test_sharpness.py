"""The sharpness map and the softness of edges, on pictures whose blur is known by construction."""

import numpy as np
import pytest
from scipy.ndimage import convolve

from optics.evidence import edges, sharpness
from tests.optics.evidence_pixels import truth


def straight_edge(diameter_px, angle, offset, side=64):
    """One edge, blurred by a disc and by the pixel, by direct summing of 8 x 8 points a pixel."""
    points = (np.arange(side * 8) + 0.5) / 8 - side / 2
    at = points[None] * np.cos(angle) + points[:, None] * np.sin(angle) - offset
    t = np.clip(2 * at / max(diameter_px, 1e-3), -1, 1)
    edge = 0.5 + (t * np.sqrt(1 - t * t) + np.arcsin(t)) / np.pi
    return edge.reshape(side, 8, side, 8).mean((1, 3)) * 150 + 50


def test_the_map_equals_the_convolution_it_stands_for():
    picture = np.random.default_rng(5).integers(0, 256, (131, 170), np.uint8)
    line = np.array([[-1.0, 2.0, -1.0]])
    floats = picture.astype(float)
    reference = abs(convolve(floats, line, mode="nearest"))
    reference += abs(convolve(floats, line.T, mode="nearest"))
    pooled = reference[:128, :160].reshape(4, 32, 5, 32).mean((1, 3))
    np.testing.assert_allclose(sharpness.sharpness_map(picture), pooled, rtol=1e-12)


def test_white_noise_gives_the_detail_it_should():
    noise = np.random.default_rng(2).normal(128, 9, (640, 640))
    found = sharpness.sharpness_map(noise).mean()
    assert found == pytest.approx(9 * sharpness.NOISE_DETAIL, rel=0.02)


@pytest.mark.parametrize("shape", [(0, 0), (5, 5), (40, 1), (32, 40)])
def test_small_pictures_give_what_blocks_they_hold(shape):
    found = sharpness.sharpness_map(np.zeros(shape, np.uint8))
    assert found.shape == (shape[0] // 32, shape[1] // 32)


@pytest.mark.parametrize("diameter_px", [2.0, 3.0, 4.0, 6.0, 8.0])
def test_a_straight_edge_tells_its_disc(diameter_px):
    discs = [
        np.median(edges.find_edges(straight_edge(diameter_px, a, o), 0.5).disc_px())
        for a in np.radians([0, 7, 15, 26, 37, 45])
        for o in (0, 0.13, 0.31, 0.5)
    ]
    assert np.median(discs) == pytest.approx(diameter_px, rel=0.08)


def test_edges_know_which_way_they_face():
    for degrees in (0, 20, 45, 70, 90, 135):
        found = edges.find_edges(straight_edge(3.0, np.radians(degrees), 0.2), 0.5)
        apart = np.degrees(found.normal_rad) - degrees
        assert np.abs((apart + 90) % 180 - 90).max() < 2.0


@pytest.mark.parametrize("diameter_px", [2.0, 3.0, 4.0, 6.0])
@pytest.mark.parametrize("noise", [0.0, 3.0])
def test_leaves_tell_the_disc_that_blurred_them(diameter_px, noise):
    light = truth.dead_leaves(320, 384, smallest_px=14)
    seen = truth.sampled(light, truth.disc(light.shape, diameter_px))
    grey = truth.as_8_bit(seen, noise=noise, quality=92)
    found = edges.find_edges(truth.linear(grey), noise)
    strong = found.where(found.contrast >= np.median(found.contrast))
    assert np.median(strong.disc_px()) == pytest.approx(diameter_px, rel=0.12, abs=0.15)


def test_a_flat_tile_has_no_edges():
    noise = np.random.default_rng(4).normal(90, 2, (160, 160))
    assert len(edges.find_edges(noise, 2.0)) == 0
