"""Against pictures drawn here, blurred by the exact response of a disc, a movement or nothing.

The response of a disc is 2 J1(x) / x, that of a straight, even movement sinc (Goodman,
Introduction to Fourier Optics), with SciPy's J1 and not this project's.
"""

import numpy as np
import pytest

from optics.evidence import disc
from tests.optics.evidence_pixels import truth


def tiles_of(picture):
    side, step = disc.SIDE, disc.SIDE // 2
    rows, columns = picture.shape
    return np.stack(
        [
            picture[y : y + side, x : x + side]
            for y in range(0, rows - side + 1, step)
            for x in range(0, columns - side + 1, step)
        ]
    )


@pytest.fixture(scope="module")
def light():
    return truth.dead_leaves(240, 288, smallest_px=5, seed=11)


def seen(light, response=1.0):
    grey = truth.as_8_bit(truth.sampled(light, response), noise=0.5, quality=92)
    return tiles_of(truth.linear(grey.astype(float)))


@pytest.mark.parametrize("width_px", [4.0, 5.0, 6.0, 8.0, 10.0, 12.0])
def test_a_disc_is_told_within_ten_per_cent(light, width_px):
    found = disc.find_discs(seen(light, truth.disc(light.shape, width_px)))
    assert found.told.mean() > 0.4
    assert np.median(found.width_px[found.told]) == pytest.approx(width_px, rel=0.1)
    assert (found.low_px <= found.width_px).all()
    assert (found.width_px <= found.high_px).all()


@pytest.mark.parametrize("width_px", [0.0, 1.0, 2.0])
def test_no_disc_is_told_where_there_is_hardly_one(light, width_px):
    response = truth.disc(light.shape, width_px) if width_px else 1.0
    assert disc.find_discs(seen(light, response)).told.mean() < 0.05


@pytest.mark.parametrize("angle_deg", [0.0, 30.0, 90.0, 135.0])
def test_a_movement_is_not_round_and_a_disc_is(light, angle_deg):
    moved = disc.round_ones(seen(light, truth.smear(light.shape, 9.0, angle_deg)))
    round_ = disc.round_ones(seen(light, truth.disc(light.shape, 8.0)))
    assert moved.mean() < 0.02
    assert round_.mean() > 5 * max(moved.mean(), 0.02)


def test_nothing_is_told_of_a_plain_or_noisy_place():
    rng = np.random.default_rng(4)
    plain = np.full((3, disc.SIDE, disc.SIDE), 90.0)
    assert not disc.find_discs(plain).told.any()
    assert not disc.find_discs(plain + rng.normal(0.0, 3.0, plain.shape)).told.any()
    assert not disc.round_ones(plain).any()
