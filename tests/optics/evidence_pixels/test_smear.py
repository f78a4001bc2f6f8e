"""Smear, noise and bands on pictures whose truth is known by construction."""

import numpy as np
import pytest

from optics.evidence import banding, edges, noise, smear
from tests.optics.evidence_pixels import truth


def tiles_of(length_px, angle_deg, disc_px, bend=0.0):
    light = truth.dead_leaves(384, 512, smallest_px=14, seed=9)
    path = truth.bent_smear if bend else truth.smear
    how = (length_px, angle_deg, bend) if bend else (length_px, angle_deg)
    response = truth.disc(light.shape, disc_px) * path(light.shape, *how)
    grey = truth.as_8_bit(truth.sampled(light, response), noise=2, quality=92)
    corners = [(r, c) for r in range(0, 257, 128) for c in range(0, 385, 128)]
    tiles = [grey[r : r + 128, c : c + 128] for r, c in corners]
    found = [edges.find_edges(truth.linear(tile), 2.0) for tile in tiles]
    return tiles, edges.sharpest_by_way(found, 64.0)


@pytest.mark.parametrize(
    ("length_px", "angle_deg"), [(4, 75), (6, 30), (6, 120), (7, 0), (9, 160), (14, 100), (19, 45)]
)
def test_a_smear_tells_its_length_and_direction(length_px, angle_deg):
    found = smear.judge(*tiles_of(length_px, angle_deg, 2.0))
    assert found.sure
    assert found.length_px == pytest.approx(length_px, rel=0.1)
    assert abs((found.angle_deg - angle_deg + 90) % 180 - 90) <= 4
    assert found.low_px <= length_px <= found.high_px


@pytest.mark.parametrize(
    ("length_px", "angle_deg", "bend"), [(6, 20, 0.8), (8, 110, 0.6), (9, 75, 0.9), (12, 150, 0.7)]
)
def test_a_smear_in_an_arc_tells_the_length_and_direction_of_its_chord(length_px, angle_deg, bend):
    found = smear.judge(*tiles_of(length_px, angle_deg, 1.0, bend))
    assert found.sure
    assert found.low_px <= length_px <= found.high_px
    assert abs((found.angle_deg - angle_deg + 90) % 180 - 90) <= 8


def test_all_parts_of_a_moved_frame_are_alike_and_those_out_of_focus_are_not():
    moved, soft = (smear.spectra(tiles_of(*how)[0]) for how in ((5, 40, 1.0), (0, 0, 5.0)))
    assert smear.alike(moved) > 0.4
    assert abs(smear.alike(soft)) < 0.15


@pytest.mark.parametrize("disc_px", [1.0, 3.0, 6.0, 9.0])
def test_defocus_is_no_smear(disc_px):
    found = smear.judge(*tiles_of(0, 0, disc_px))
    assert found.length_px == 0.0
    assert not found.sure


def test_the_sharpest_edges_say_how_soft_all_of_a_frame_is():
    """A smear softens edges that face along it and leaves those that face across."""
    _, still = tiles_of(0, 0, 0.5)
    _, smeared = tiles_of(6, 0, 0.5)
    assert np.nanmax(still) < 1.5
    assert smeared[0] > 4.0
    assert smeared[4] < 1.5
    _, soft = tiles_of(0, 0, 6.0)
    assert np.nanmin(soft) > 3.5


def test_a_texture_that_runs_one_way_in_one_place_is_no_smear():
    tiles, _ = tiles_of(0, 0, 1.0)
    rows = np.random.default_rng(1).integers(40, 200, 16)
    stripes = np.repeat(rows, 8)[:, None].repeat(128, 1).astype(np.uint8)
    assert not smear.judge([stripes] * 4 + tiles[:6], None).sure


def test_one_texture_over_and_over_is_one_witness():
    """A net at 45 degrees in every tile, unevenly drawn: all tiles agree, and it is no smear."""
    y, x = np.mgrid[0:128, 0:128]
    rng = np.random.default_rng(8)
    net = 120 + 40 * np.sin((x + y) / 3.2) + 25 * np.sign(np.sin((x - y) / 9.0))
    tiles = [
        np.clip(np.roll(net, (k, 2 * k), (0, 1)) + rng.normal(0, 3, net.shape), 0, 255)
        for k in range(9)
    ]
    found = smear.judge([tile.astype(np.uint8) for tile in tiles], None)
    assert found is None or not found.sure


def test_too_little_to_see_is_nothing_told():
    flat = np.full((128, 128), 120, np.uint8)
    assert smear.judge([flat] * 9, None) is None
    assert smear.judge([], None) is None


@pytest.mark.parametrize("sigma", [1.0, 3.0, 8.0])
def test_noise_of_flat_pictures(sigma):
    flat = np.random.default_rng(2).normal(120, sigma, (512, 512))
    assert noise.sigma(flat) == pytest.approx(sigma, rel=0.05)


def test_bands_are_found_and_a_plain_picture_has_none():
    grey = np.random.default_rng(5).normal(130, 2, (256, 384)) + np.linspace(-40, 40, 384)
    wave = 1 + 0.05 * np.sin(2 * np.pi * np.arange(256) / 32)[:, None]
    period, share = banding.measure(grey * wave ** (1 / 2.2))
    assert period == pytest.approx(32, rel=0.05)
    assert share == pytest.approx(0.1, rel=0.5)
    assert banding.measure(grey) is None


def test_bands_behind_a_subject_are_found_and_one_stripe_is_none():
    rows = np.arange(256)[:, None]
    rng = np.random.default_rng(6)
    wave = (1 + 0.1 * np.sin(2 * np.pi * rows / 32)) ** (1 / 2.2)
    lit = rng.normal(130, 2, (256, 384)) * wave
    lit[:, 128:256] = rng.normal(130, 30, (256, 128))
    assert banding.measure(lit)[0] == pytest.approx(32, rel=0.07)
    rib = rng.normal(130, 2, (256, 384)) * (1 + 0.3 * np.exp(-(((rows - 128) / 9.0) ** 2)))
    assert banding.measure(rib) is None
