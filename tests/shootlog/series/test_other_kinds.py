"""Aperture series, light studies, approaches, bursts and grouping, on pictures made here."""

import datetime as dt
import json
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image
from scipy.ndimage import gaussian_filter, zoom

from shootlog.findings.samples import sample
from shootlog.intake.shots import coarse_of
from shootlog.reading import Quantity, Reading
from shootlog.recorded import Recorded
from shootlog.series import check
from shootlog.series.burst import frames_for_one
from shootlog.series.grouping import group
from shootlog.series.landscape import frames_enough
from shootlog.series.light import shadow_side
from shootlog.series.shot import Shot
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


def test_a_ring_turned_between_two_stops_draws_no_curve():
    """Sensor still, lens moved: the picture grows by a tenth of a per cent and more."""
    shots = aperture_series(8.0)
    turned = [
        replace(
            s,
            luma=np.asarray(
                Image.fromarray(s.luma).transform(
                    s.luma.shape[::-1],
                    Image.Transform.AFFINE,
                    (1 / 1.004, 0, 0.002 * s.luma.shape[1], 0, 1 / 1.004, 0.002 * s.luma.shape[0]),
                    Image.Resampling.BICUBIC,
                )
            ),
        )
        for s in shots[3:]
    ]
    result = check("apertures", [*shots[:3], *turned])
    assert result["best_f_number"] is None
    assert result["focus_changed"] is True
    assert "The focus changed between 3 and 4, so no curve is drawn." in result["words"]


def test_too_few_stops_draw_no_curve():
    result = check("apertures", aperture_series(8.0)[:3])
    assert result["best_f_number"] is None
    assert "4 or more different apertures" in result["words"]


def test_places_that_disagree_name_no_one_stop():
    """Half the picture lies in the plane of focus, half far behind: no stop is best for both."""
    shots = [
        replace(
            near, detail=np.where(np.arange(near.detail.shape[1]) < 18, near.detail, far.detail)
        )
        for near, far in zip(aperture_series(3.5), aperture_series(14.0), strict=True)
    ]
    result = check("apertures", shots)
    assert result["best_f_number"] is None
    assert "No one stop is best" in result["words"]
    assert "Mark the flat thing" in result["words"]


def test_plain_paper_draws_no_curve():
    rng = np.random.default_rng(1)
    frames = [np.full(stacks.SIZE, 120.0) + rng.normal(0, 1.5, stacks.SIZE) for _ in STOPS]
    shots = shots_of(still(frames), recorded=[at(k, f_number=f) for k, f in enumerate(STOPS)])
    assert check("apertures", shots)["best_f_number"] is None


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
    assert [row["as_told"] for row in result["light"]] == [True, True, None]
    assert result["words"].startswith("Framing held; contrast from")
    json.dumps(result, allow_nan=False)
    # the same frames given in another order: each direction stays with its frame
    again = check("light", shots[::-1], {"directions": directions[::-1]})
    assert again["light"] == result["light"]
    # told the wrong way round, the dark side gives it away; light from the front leaves it open
    wrong = check("light", shots, {"directions": ["below", "left", "front"]})
    assert [row["as_told"] for row in wrong["light"]] == [False, True, None]
    assert (
        "Frame 1 was told as lit from below, but its dark side lies on the left" in wrong["words"]
    )


def test_a_thing_dark_on_one_side_is_not_held_against_what_was_told():
    """The albedo of the thing is the same in all frames; the other frames say the rest."""
    rng = np.random.default_rng(3)
    picture = stacks.textured(rng, stacks.SIZE) * np.linspace(0.45, 1.3, stacks.SIZE[1])
    down = np.linspace(0.93, 1.07, stacks.SIZE[0])[:, None]
    shots = shots_of(
        still([picture * down, picture * down[::-1], picture]), recorded=[at(k) for k in range(3)]
    )
    told = check("light", shots, {"directions": ["below", "above", "front"]})
    assert [row["shadow_side"] for row in told["light"]] == ["left"] * 3
    assert [row["as_told"] for row in told["light"]] == [True, True, None]


def test_a_light_study_of_two_sizes_holds_no_framing():
    shots = aperture_series(8.0)[:3]
    shots[1] = replace(shots[1], luma=shots[1].luma[:, :400])
    result = check("light", shots)
    assert result["framing_held"] is None
    assert "The framing can't be compared" in result["words"]


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


def test_what_is_sharp_of_the_wanted_place_in_the_last_frame_is_told():
    first, last = approach((1.25,))
    assert check("approach", [first, last])["last_sharp_share"] is None
    last = replace(last, reading=sample(wanted_sharp_share=0.4))
    assert check("approach", [first, last])["last_sharp_share"] == 0.4


def test_burnt_out_is_what_every_pixel_of_the_file_says():
    """Glints as small as a pixel are gone from the small picture."""
    shots = [replace(s, reading=sample(clipped_share=0.02)) for s in aperture_series(8.0)[:2]]
    rows = check("light", shots)["light"]
    assert [row["clipped_share"] for row in rows] == [0.02, 0.02]


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
    assert result["findings"][1]["answer"] == "no"
    assert "would have been enough" not in result["words"]  # no frame says where it was focused
    told = [
        replace(shot, reading=focused_at(metres).reading)
        for shot, metres in zip(shots_of(near), (1.0, 1.1, 1.2), strict=True)
    ]
    words = check("landscape", told)["words"]
    assert "From the nearest to the farthest focus 2 would have been enough." in words
    far = stacks.make(3, focus=[0.05, 0.95], depth=depth, blur_per_depth=30, scale_per_frame=1.0)
    assert check("landscape", shots_of(far))["findings"][1]["answer"] == "yes"


def landscape(focus, blur_per_depth, seed):
    """The bottom of the frame at 0, the top at 1: a meadow seen from a tripod."""
    rows = np.linspace(1, 0, stacks.SIZE[0])
    depth = np.broadcast_to(rows[:, None], stacks.SIZE)
    made = stacks.make(
        seed,
        focus=focus,
        depth=depth,
        blur_per_depth=blur_per_depth,
        scale_per_frame=1.001,
        noise=0.4,
    )
    return [
        replace(shot, coarse=coarse_of(np.rint(frame).astype(np.uint8)))
        for shot, frame in zip(shots_of(made), made.frames, strict=True)
    ]


@pytest.mark.parametrize("seed", [3, 8])
def test_near_and_far_are_sharp_or_said_to_be_soft(seed):
    """The truth: 0.7 pixels of blur at a frame's focus, growing with the distance from it."""
    whole = check("landscape", landscape([0.15, 0.5, 0.85], 6, seed))
    assert (whole["near_sharp"], whole["far_sharp"]) == (True, True)
    assert [o["answer"] for o in whole["findings"]] == ["no"] * 4 + ["cannot tell"]
    begun_late = check("landscape", landscape([0.6, 0.8, 0.95], 10, seed))
    assert (begun_late["near_sharp"], begun_late["far_sharp"]) == (False, True)
    assert "The near third of the picture is sharp in no frame." in begun_late["words"]
    ended_early = check("landscape", landscape([0.05, 0.2, 0.35], 10, seed))
    assert (ended_early["near_sharp"], ended_early["far_sharp"]) == (True, False)
    # so far off that hardly anything shows there: neither is claimed
    hardly = check("landscape", landscape([0.8, 0.9, 0.97], 10, seed))
    assert (hardly["near_sharp"], hardly["far_sharp"]) == (None, True)


@pytest.mark.parametrize(
    ("shares", "enough"),
    [
        ((1, 3, 5), 3),  # each begins where the one before ends
        ((1, 2, 3, 4, 5), 3),  # twice as many hold no more
        ((1,), 1),
        ((1, 2), 2),  # overlapping, yet one frame holds no more than from half of H
        ((1, 3, 6), 4),  # from a seventh of H: no longer three
    ],
)
def test_how_many_frames_would_have_been_enough(shares, enough):
    """Consecutive depths: focused at H, H/3, H/5 frames reach from infinity to H/6.

    C. Welborne Piper, A First Book of the Lens (1901), from memory.
    """
    hyperfocal_m = 24.0**2 / (8.0 * 0.03) / 1000
    shots = [focused_at(hyperfocal_m / share) for share in shares]
    assert frames_enough(shots) == enough


def test_of_an_unsure_circle_of_confusion_the_finer_end_counts():
    """H is 4.8 m at 0.015 mm and 1.2 m at 0.06 mm, where two frames would do."""
    shots = [focused_at(4.8 / share, coc_um=(15.0, 60.0)) for share in (1, 3, 5)]
    assert frames_enough(shots) == 3


def test_frames_that_do_not_say_where_they_were_focused_are_not_counted():
    known, unknown = focused_at(2.4), focused_at(None)
    assert frames_enough([known, unknown]) is None
    assert frames_enough([known, focused_at(1.0, f_number=11.0)]) is None
    assert frames_enough([focused_at(0.1)]) is None  # close up the formula does not hold


def focused_at(metres, f_number=8.0, coc_um=30.0):
    """A frame of 24 mm and a circle of 0.03 mm, as far as its facts go."""
    facts = {"focal_length_mm": 24.0, "f_number": f_number, "coc_um": coc_um}
    if metres:
        facts["subject_distance_mm"] = metres * 1000
    blank = np.zeros((4, 4))
    return Shot("a.jpg", Recorded(), sample(**facts), blank, blank, 4, 4)


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


def test_two_cameras_at_work_at_once_are_two_series():
    """Turn by turn by the clock: each camera's frames stay together, in their own order."""
    made, _ = stacks.random_stack(1)
    stack = shots_of(made)[:10]
    mixed = [
        replace(s, recorded=at(k, make="AB"[k % 2], body_serial=str(k % 2), every_s=5))
        for k, s in enumerate(stack)
    ]
    proposals = group(mixed)
    assert [p.members for p in proposals] == [(0, 2, 4, 6, 8), (1, 3, 5, 7, 9)]
    # a clock an hour off, put right by the clock frame, joins nothing and loses nothing
    behind = [
        replace(s, recorded=at(k - 720 * (k % 2), make="AB"[k % 2], every_s=5))
        for k, s in enumerate(stack)
    ]
    assert sorted(p.members for p in group(behind)) == [(0, 2, 4, 6, 8), (1, 3, 5, 7, 9)]


def test_the_floor_of_a_hand_from_one_burst():
    """Three of four hit at 1/250, none of four at 1/30: the slowest time that mostly hits."""
    rng = np.random.default_rng(4)
    picture = stacks.textured(rng, stacks.SIZE)
    blurs = [0.7, 0.7, 0.8, 4, 5, 4, 6, 4]
    frames = [gaussian_filter(picture, b).astype(np.float32) for b in blurs]
    times = [1 / 250] * 4 + [1 / 30] * 4
    shots = shots_of(
        still(frames), recorded=[at(k, exposure_s=t, every_s=1) for k, t in enumerate(times)]
    )
    assert check("burst", shots)["own_floor_s"] == 1 / 250


def test_an_aperture_series_is_proposed_as_one():
    assert [p.kind for p in group(aperture_series(8.0))] == ["apertures"]


def test_unknown_kinds_and_empty_series_are_refused():
    with pytest.raises(ValueError, match="kind"):
        check("panorama", aperture_series(8.0))
    with pytest.raises(ValueError, match="frames"):
        check("stack", [])
