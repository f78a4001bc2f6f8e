"""Series that are no good series: each says so in words and nothing is guessed or lost."""

import json
from dataclasses import replace

import numpy as np
import pytest

from shootlog.recorded import Recorded
from shootlog.series import KINDS, check
from tests.shootlog.series import stacks


@pytest.fixture(scope="module")
def shots():
    made, _ = stacks.random_stack(11)
    return stacks.shots_of(made)


def small(shot, k):
    """A very small picture, so that hundreds cost little."""
    rng = np.random.default_rng(k)
    luma = np.clip(shot.luma[:60, :80] + rng.normal(0, 2, (60, 80)), 0, 255).astype(np.uint8)
    at = Recorded(taken_at=f"2026-05-01T{10 + k // 3600:02d}:{k // 60 % 60:02d}:{k % 60:02d}")
    return replace(shot, luma=luma, detail=shot.detail[:3, :5], recorded=at)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_series_of_one(kind, shots):
    result = check(kind, shots[:1])
    assert len(result["frames"]) == 1
    json.dumps(result, allow_nan=False)


@pytest.mark.parametrize("kind", ["stack", "burst"])
def test_a_series_of_four_hundred(kind, shots):
    many = [small(shots[k % len(shots)], k) for k in range(400)]
    result = check(kind, many)
    assert [f["order"] for f in result["frames"]] == list(range(1, 401))
    json.dumps(result, allow_nan=False)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_one_frame_held_upright_among_others(kind, shots):
    turned = replace(
        shots[4],
        luma=np.rot90(shots[4].luma),
        detail=np.rot90(shots[4].detail),
        width_px=shots[4].height_px,
        height_px=shots[4].width_px,
    )
    result = check(kind, [*shots[:4], turned, *shots[5:]])
    assert len(result["frames"]) == len(shots)
    assert result.get("gaps", []) == []
    json.dumps(result, allow_nan=False)


def test_two_cameras_in_one_stack_are_put_in_order_by_their_clocks(shots):
    other = [
        replace(s, recorded=replace(s.recorded, make="Another", model="One")) if k % 2 else s
        for k, s in enumerate(shots)
    ]
    result = check("stack", other[::-1])
    assert [f["file"] for f in result["frames"]] == [s.file for s in shots]
    assert result["gaps"] == check("stack", shots)["gaps"]


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_the_same_frame_again_and_again(kind, shots):
    result = check(kind, [shots[3]] * 5)
    assert result.get("gaps", []) == []
    assert result["moved"] == []
    assert result["exposure_jumps"] == []
    json.dumps(result, allow_nan=False)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_no_times_at_all(kind, shots):
    plain = [replace(s, recorded=Recorded()) for s in shots[:5]]
    result = check(kind, plain)
    assert "as given" in result["ordered_by"]
    json.dumps(result, allow_nan=False)
