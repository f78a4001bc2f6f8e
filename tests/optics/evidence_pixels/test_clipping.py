"""Black and burnt on pictures made here."""

import numpy as np
import pytest

from optics.evidence import clipping


def lit(shape=(600, 900)):
    rng = np.random.default_rng(4)
    return rng.integers(60, 180, (*shape, 3)).astype(np.uint8)


def test_black_within_the_frame_is_told_from_a_ground_that_runs_out_of_it():
    shadow = lit()
    shadow[200:400, 300:600] = 1
    found = clipping.measure(shadow, 32)
    assert found.blocked == pytest.approx(200 * 300 / (600 * 900), rel=0.03)
    assert found.blocked_inside == pytest.approx(found.blocked, rel=0.1)
    ground = np.zeros((600, 900, 3), np.uint8)
    ground[150:450, 250:650] = lit()[150:450, 250:650]
    found = clipping.measure(ground, 32)
    assert found.blocked > 0.7
    assert found.blocked_inside == 0.0


def test_one_channel_in_black_is_a_colour_and_no_black():
    red = lit()
    red[..., 1:] = 0
    assert clipping.measure(red, 32).blocked == 0.0


@pytest.mark.parametrize("shape", [(1, 1), (7, 300), (300, 7)])
def test_small_pictures_are_counted_too(shape):
    found = clipping.measure(np.zeros((*shape, 3), np.uint8), 32)
    assert found.blocked == 1.0
    assert 0.0 <= found.blocked_inside <= 1.0
