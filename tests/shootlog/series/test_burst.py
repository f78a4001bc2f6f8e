"""Bursts: hits, frames for one hit, the slowest time that mostly hits."""

import json

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from shootlog.series import check
from shootlog.series.burst import frames_for_one
from tests.shootlog.series import stacks
from tests.shootlog.series.stacks import recorded_at, shots_of, still


@pytest.mark.parametrize(
    # teaching notes: frames for 90 % at a chance of 5, 10, 20, 30, 50 %, from 1 - (1 - p)^n
    ("rate", "frames"),
    [(0.05, 45), (0.10, 22), (0.20, 11), (0.30, 7), (0.50, 4), (1.0, 1), (0.0, None)],
)
def test_frames_for_one_hit(rate, frames):
    assert frames_for_one(rate) == frames


def test_hits_of_ten():
    rng = np.random.default_rng(4)
    picture = stacks.textured(rng, stacks.SIZE)
    blurs = [0.7, 0.7, 3, 3, 0.8, 4, 5, 0.7, 3, 6]
    frames = [gaussian_filter(picture, b).astype(np.float32) for b in blurs]
    shots = shots_of(
        still(frames), recorded=[recorded_at(k, exposure_s=1 / 125, every_s=1) for k in range(10)]
    )
    result = check("burst", shots)
    assert result["hits"] == 4
    assert [row["hit"] for row in result["per_frame"]] == [b < 1 for b in blurs]
    assert result["frames_for_one"] == 5
    json.dumps(result, allow_nan=False)


def test_the_floor_of_a_hand_from_one_burst():
    """Three of four hit at 1/250, none of four at 1/30: the slowest time that mostly hits."""
    rng = np.random.default_rng(4)
    picture = stacks.textured(rng, stacks.SIZE)
    blurs = [0.7, 0.7, 0.8, 4, 5, 4, 6, 4]
    frames = [gaussian_filter(picture, b).astype(np.float32) for b in blurs]
    times = [1 / 250] * 4 + [1 / 30] * 4
    shots = shots_of(
        still(frames),
        recorded=[recorded_at(k, exposure_s=t, every_s=1) for k, t in enumerate(times)],
    )
    assert check("burst", shots)["own_floor_s"] == 1 / 250
