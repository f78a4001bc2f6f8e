"""Aperture series, light studies, approaches, bursts and grouping, on pictures made here."""

import datetime as dt
import json
from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter, zoom

from shootlog.reading import Quantity, Reading
from shootlog.recorded import Recorded
from shootlog.series import check
from shootlog.series.burst import frames_for_one
from shootlog.series.grouping import group
from shootlog.series.light import shadow_side
from tests.shootlog.series import stacks
from tests.shootlog.series.stacks import shots_of

STOPS = (2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0)


def still(frames):
    return stacks.Stack(np.zeros(len(frames)), np.zeros(stacks.SIZE), list(frames))


def at(k, **facts):
    moment = dt.datetime.fromisoformat("2026-05-01T10:00:00") + dt.timedelta(
        seconds=facts.pop("every_s", 8) * k
    )
    return Recorded(taken_at=moment.isoformat(), **facts)


def aperture_series(best, *, move_at=None):
    """Blur smallest at `best`, growing as a lens opens and as it closes."""
    rng = np.random.default_rng(5)
    picture = stacks.textured(rng, (440, 640))
    frames = []
    for k, f in enumerate(STOPS):
        off = 3 if move_at is not None and k >= move_at else 0
        blur = 0.8 * np.sqrt((best / f) ** 2 + (f / best) ** 2)
        seen = gaussian_filter(picture, blur)[20 + off : 420 + off, 20:620]
        frames.append(np.clip(seen + rng.normal(0, 1.5, stacks.SIZE), 0, 255).astype(np.float32))
    return shots_of(still(frames), recorded=[at(k, f_number=f) for k, f in enumerate(STOPS)])


@pytest.mark.parametrize("best", [5.6, 8.0, 9.5])
def test_best_stop_within_a_third_of_a_stop(best):
    result = check("apertures", aperture_series(best))
    assert abs(2 * np.log2(result["best_f_number"] / best)) < 1 / 3
    assert result["two_thirds_f_number"] > best
    json.dumps(result, allow_nan=False)


def test_a_moved_camera_draws_no_curve():
    result = check("apertures", aperture_series(8.0, move_at=3))
    assert result["best_f_number"] is None
    assert [m["between"] for m in result["moved"]] == [[3, 4]]
    assert "no curve" in result["words"]


def test_too_few_stops_draw_no_curve():
    assert check("apertures", aperture_series(8.0)[:3])["best_f_number"] is None


def test_the_shadow_lies_away_from_the_lamp():
    ramp = np.broadcast_to(np.linspace(0.8, 0.2, 300), (200, 300))
    assert shadow_side(ramp) == "right"
    assert shadow_side(ramp[:, ::-1]) == "left"
    assert shadow_side(np.broadcast_to(np.linspace(0.8, 0.2, 200)[:, None], (200, 300))) == "below"
    assert shadow_side(np.full((200, 300), 0.4)) is None


def test_a_light_study_holds_its_framing():
    rng = np.random.default_rng(2)
    picture = stacks.textured(rng, stacks.SIZE)
    ramp = np.linspace(0.5, 1.3, stacks.SIZE[1])
    frames = [picture * ramp, picture * ramp[::-1], picture]
    directions = ["right", "left", "front"]
    shots = shots_of(still(frames), recorded=[at(k) for k in range(3)])
    result = check("light", shots, {"directions": directions})
    assert result["framing_held"] is True
    assert [row["shadow_side"] for row in result["light"]][:2] == ["left", "right"]
    assert [row["direction"] for row in result["light"]] == directions
    json.dumps(result, allow_nan=False)


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
    return shots_of(still(frames), recorded=[at(k, every_s=12) for k in range(len(frames))])


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


def test_magnifications_serve_where_pictures_do_not_match():
    shots = approach((1.3,))
    other = np.random.default_rng(1).normal(120, 30, shots[1].luma.shape).clip(0, 255)
    sizes = [Reading({"magnification": Quantity.exactly(m, "told")}) for m in (0.2, 0.3)]
    shots = [replace(s, reading=r) for s, r in zip(shots, sizes, strict=True)]
    shots[1] = replace(shots[1], luma=other.astype(np.uint8))
    result = check("approach", shots)
    assert result["scale_steps"] == [1.5]
    assert result["scale_from"] == ["worked out"]


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
        still(frames), recorded=[at(k, exposure_s=1 / 125, every_s=1) for k in range(10)]
    )
    result = check("burst", shots)
    assert result["hits"] == 4
    assert [row["hit"] for row in result["per_frame"]] == [b < 1 for b in blurs]
    assert result["frames_for_one"] == 5
    json.dumps(result, allow_nan=False)


def test_few_frames_near_and_far_meet():
    rows = np.linspace(0, 1, stacks.SIZE[0])[::-1]
    depth = np.broadcast_to(rows[:, None], stacks.SIZE)
    focus = [0.2, 0.5, 0.8]
    near = stacks.make(3, focus=focus, depth=depth, blur_per_depth=3, scale_per_frame=1.001)
    result = check("landscape", shots_of(near))
    assert result["framing_held"] is True
    assert [o["answer"] for o in result["findings"]] == ["no"]
    far = stacks.make(3, focus=[0.05, 0.95], depth=depth, blur_per_depth=30, scale_per_frame=1.0)
    assert [o["answer"] for o in check("landscape", shots_of(far))["findings"]] == ["yes"]


def test_frames_are_grouped_by_time_camera_and_likeness():
    made, _ = stacks.random_stack(1)
    stack = shots_of(made)[:6]
    day = [replace(s, recorded=at(k, make="A", every_s=6)) for k, s in enumerate(stack)]
    later = [replace(s, recorded=at(k + 400, make="A", every_s=6)) for k, s in enumerate(stack)]
    other = [replace(s, recorded=at(k, make="B", every_s=1)) for k, s in enumerate(stack)]
    none = [replace(stack[0], recorded=Recorded())]
    proposals = group([*day, *later, *other, *none])
    assert [p.members for p in proposals] == [
        tuple(range(6)),
        tuple(range(6, 12)),
        tuple(range(12, 18)),
    ]
    assert [p.kind for p in proposals] == ["stack", "stack", "burst"]


def test_an_aperture_series_is_proposed_as_one():
    assert [p.kind for p in group(aperture_series(8.0))] == ["apertures"]


def test_unknown_kinds_and_empty_series_are_refused():
    with pytest.raises(ValueError, match="kind"):
        check("panorama", aperture_series(8.0))
    with pytest.raises(ValueError, match="frames"):
        check("stack", [])
