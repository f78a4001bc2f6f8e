"""Approaches: how much larger from frame to frame, and what is sharp in the last."""

import json
from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter, zoom

from shootlog.findings.samples import sample
from shootlog.reading import Quantity, Reading
from shootlog.series import check
from tests.shootlog.series import stacks
from tests.shootlog.series.stacks import recorded_at, shots_of, still


def approach(factors):
    rng = np.random.default_rng(9)
    picture = stacks.textured(rng, (1000, 1500))
    picture = gaussian_filter(picture, 1.0)
    frames, total = [], 1.0
    for factor in (1.0, *factors):
        total *= factor
        height, width = (int(side / total) for side in (800, 1200))
        top, left = (1000 - height) // 2, (1500 - width) // 2
        cut = picture[top : top + height, left : left + width]
        seen = zoom(cut, (stacks.SIZE[0] / height, stacks.SIZE[1] / width), order=1)
        frames.append(np.clip(seen[: stacks.SIZE[0], : stacks.SIZE[1]], 0, 255).astype(np.float32))
    return shots_of(
        still(frames), recorded=[recorded_at(k, every_s=12) for k in range(len(frames))]
    )


def test_scale_of_an_approach_within_three_percent():
    factors = (1.25, 1.4, 1.3)
    result = check("approach", approach(factors))
    assert result["scale_steps"] == pytest.approx(factors, rel=0.03)
    assert result["rising"] is True
    assert result["seconds_between"] == [12, 12, 12]
    json.dumps(result, allow_nan=False)


def test_a_step_too_small_is_said_with_its_number():
    result = check("approach", approach((1.25, 1.1)))
    assert result["rising"] is True
    assert [o["answer"] for o in result["findings"]] == ["yes"]
    assert "From frame 2" in result["words"]


def test_what_is_sharp_of_the_wanted_place_in_the_last_frame_is_told():
    first, last = approach((1.25,))
    assert check("approach", [first, last])["last_sharp_share"] is None
    last = replace(last, reading=sample(wanted_sharp_share=0.4))
    assert check("approach", [first, last])["last_sharp_share"] == 0.4


def test_magnifications_serve_where_pictures_do_not_match():
    shots = approach((1.3,))
    other = np.random.default_rng(1).normal(120, 30, shots[1].luma.shape).clip(0, 255)
    sizes = [Reading({"magnification": Quantity.exactly(m, "told")}) for m in (0.2, 0.3)]
    shots = [replace(s, reading=r) for s, r in zip(shots, sizes, strict=True)]
    shots[1] = replace(shots[1], luma=other.astype(np.uint8))
    result = check("approach", shots)
    assert result["scale_steps"] == [1.5]
    assert result["scale_from"] == ["worked out"]
