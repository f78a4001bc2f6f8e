"""Series that are no good series: each says so in words and nothing is guessed or lost."""

import json
import tracemalloc
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
    assert result["trouble"] == result["words"]
    assert "One frame is no series yet" in result["words"]
    assert result["findings"] == []
    json.dumps(result, allow_nan=False)


@pytest.mark.parametrize("kind", ["stack", "burst"])
def test_a_series_of_four_hundred(kind, shots):
    many = [small(shots[k % len(shots)], k) for k in range(400)]
    result = check(kind, many)
    assert [f["order"] for f in result["frames"]] == list(range(1, 401))
    json.dumps(result, allow_nan=False)


def test_memory_of_a_light_study_grows_by_less_than_the_small_picture_of_each_frame(shots):
    """What the check holds of a frame beyond what it was given; floats are 8 times it."""
    rng = np.random.default_rng(1)
    luma = shots[0].luma[:96, :144].astype(float)
    many = [
        replace(shots[0], luma=np.clip(luma + rng.normal(0, 2, luma.shape), 0, 255).astype("uint8"))
        for _ in range(20)
    ]
    few, more = (_peak_bytes("light", many[:count]) for count in (5, 20))
    assert check("light", many)["framing_held"] is True  # only then are they held together
    assert more - few < 15 * many[0].luma.nbytes


def _peak_bytes(kind, shots):
    tracemalloc.start()
    try:
        check(kind, shots)
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


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
    assert "The frames differ in size (400 x 600, 600 x 400 pixels)" in result["trouble"]
    assert "Some are upright and some lie." in result["trouble"]
    assert result.get("gaps", []) == []
    json.dumps(result, allow_nan=False)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_two_frames_of_different_size_tell_nothing_of_what_lies_between(kind, shots):
    """A light study of two frames, one cropped: each frame's own numbers stay, no step is told."""
    cut = replace(shots[1], luma=shots[1].luma[:, :400], colour=None, width_px=400)
    result = check(kind, [shots[0], cut])
    assert result["exposure_spread_ev"] is None
    assert result["exposure_jumps"] == []
    told = {f["finding"]: f["answer"] for f in result["findings"]}
    assert told.get("exposure-jump", "cannot tell") == "cannot tell"
    if kind == "light":
        assert told["framing-moved"] == "cannot tell"
        assert result["framing_drift_share"] is None
        assert all(row["contrast"] for row in result["light"])
    json.dumps(result, allow_nan=False)


def test_the_light_is_compared_within_frames_that_hang_together(shots):
    """Half a stop up on both sides of a frame of another size: half a stop, and not a whole one."""
    odd = replace(shots[2], luma=shots[2].luma[:, :400])
    result = check("burst", [darker(shots[0]), shots[0], odd, darker(shots[3]), shots[3]])
    assert result["exposure_spread_ev"] == pytest.approx(0.5, abs=0.1)


def darker(shot):
    """By half a stop, where 8-bit values go by the power of 2.2."""
    return replace(shot, luma=np.rint(shot.luma * 2 ** (-0.5 / 2.2)).astype(np.uint8))


def test_frames_in_the_dark_say_nothing_of_the_exposure(shots):
    """Light in no block: unknown, and not 'even'."""
    rng = np.random.default_rng(1)
    black = [
        replace(s, luma=rng.integers(0, 4, s.luma.shape, dtype=np.uint8), colour=None)
        for s in shots[:4]
    ]
    found = {f["finding"]: f for f in check("stack", black)["findings"]}
    assert found["exposure-jump"]["answer"] == "cannot tell"
    assert found["exposure-jump"]["words"] == "The light can't be compared."


def test_two_cameras_in_one_stack_are_put_in_order_by_their_clocks(shots):
    other = [
        replace(s, recorded=replace(s.recorded, make="Another", model="One")) if k % 2 else s
        for k, s in enumerate(shots)
    ]
    result = check("stack", other[::-1])
    assert [f["file"] for f in result["frames"]] == [s.file for s in shots]
    assert result["gaps"] == check("stack", shots)["gaps"]


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_two_cameras_are_named(kind, shots):
    cameras = [("Alder", "A1"), ("Birch", "B2")]
    mixed = [
        replace(s, recorded=replace(s.recorded, make=cameras[k == 2][0], model=cameras[k == 2][1]))
        for k, s in enumerate(shots[:6])
    ]
    result = check(kind, mixed)
    assert "The frames come from 2 cameras: Alder A1 (5), Birch B2 (1)." in result["trouble"]


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_frames_that_are_all_well_have_no_trouble(kind, shots):
    assert check(kind, shots)["trouble"] == ""


def test_wrong_order_with_times_is_put_right_and_without_times_is_said(shots):
    mixed = [shots[k] for k in (0, 3, 1, 4, 2, 5, 6, 7, 8, 9)]
    assert check("stack", mixed)["out_of_order"] == []
    plain = [replace(s, recorded=Recorded()) for s in mixed]
    result = check("stack", plain)
    assert result["out_of_order"] == [2, 3, 4, 5]
    assert "stand in another order than taken" in result["words"]
    assert "No frame holds a time" in result["trouble"]


def test_one_picture_twice_is_named(shots):
    twice = [*shots[:3], replace(shots[2], file="again.jpg"), *shots[3:6]]
    assert "The same picture stands in 3 and 4." in check("stack", twice)["trouble"]


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_the_same_frame_again_and_again(kind, shots):
    result = check(kind, [shots[3]] * 5)
    assert result.get("gaps", []) == []
    assert result["moved"] == []
    assert result["exposure_jumps"] == []
    assert "All 5 frames are the same picture" in result["words"]
    assert result["findings"] == []
    json.dumps(result, allow_nan=False)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_no_times_at_all(kind, shots):
    plain = [replace(s, recorded=Recorded()) for s in shots[:5]]
    result = check(kind, plain)
    assert "as given" in result["ordered_by"]
    assert "No frame holds a time" in result["trouble"]
    some = check(kind, [*shots[:3], *plain[3:5]])
    assert "2 of 5 frames lack a time" in some["trouble"]
    json.dumps(result, allow_nan=False)


def test_unknown_kinds_and_empty_series_are_refused(shots):
    with pytest.raises(ValueError, match="kind"):
        check("panorama", shots)
    with pytest.raises(ValueError, match="frames"):
        check("stack", [])
