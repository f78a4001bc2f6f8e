"""Sensor width: every route, the order of trust, and the 8 % line.

Truth: `cameras.csv` beside the project (377 models; crop factors by Lensfun's own library with
strict matching, and by the tags of real files), and the makers' published sensor sizes.
"""

import csv
from pathlib import Path

import pytest

from shootlog.cameras import camera_table, differ, find_cameras, sensor_width_candidates, settle
from shootlog.intake.tags import read_recorded
from shootlog.recorded import Recorded

FRAMES = Path(__file__).parents[2] / ".." / "shared" / "frames"
needs_frames = pytest.mark.skipif(
    not FRAMES.is_dir(), reason="real frames (../shared/frames) are not beside this clone"
)
needs_table = pytest.mark.skipif(
    not camera_table(), reason="the camera table (extra 'cameras') is not installed"
)


def rows_of(name):
    with (FRAMES / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@needs_frames
@needs_table
def test_the_table_finds_what_its_own_library_finds_and_nothing_else():
    # Variants by picture shape: the library returns one of four; we keep all four.
    variants = {("Panasonic", "DMC-LX3")}
    found = 0
    for row in rows_of("cameras.csv"):
        crops = [c.crop_factor for c in find_cameras(row["make"], row["model"])]
        if (row["make"], row["model"]) in variants:
            assert len(crops) == 4
        elif row["lensfun_crop_strict"]:
            assert crops[0] == pytest.approx(float(row["lensfun_crop_strict"]), abs=0.001), row
            found += 1
        else:
            assert crops == [], row
    assert found == 190


@needs_table
@pytest.mark.parametrize(
    ("make", "model", "sides", "width_mm"),
    [  # sensor sizes as the makers publish them (from memory)
        ("Canon", "Canon EOS 5D Mark II", (5616, 3744), 36.0),
        ("Canon", "Canon EOS 650D", (5184, 3456), 22.3),
        ("NIKON CORPORATION", "NIKON D60", (3872, 2592), 23.6),
        ("Panasonic", "DC-G91", (5184, 3888), 17.3),
        ("Panasonic", "DC-G91", (5184, 2920), 17.3),  # 16:9 crops the height only
    ],
)
def test_widths_of_well_known_bodies(make, model, sides, width_mm):
    recorded = Recorded(make=make, model=model, width_px=sides[0], height_px=sides[1])
    (candidate,) = sensor_width_candidates(recorded)
    assert candidate.width_mm == pytest.approx(width_mm, rel=0.015)
    assert candidate.low < candidate.width_mm < candidate.high


@needs_table
def test_a_variant_is_taken_by_the_pictures_shape():
    wide = Recorded(make="Panasonic", model="DMC-LX3", width_px=3968, height_px=2232)
    (candidate,) = sensor_width_candidates(wide)
    assert "5.7528" in candidate.from_
    assert "4.7" not in candidate.from_


@needs_table
def test_a_shape_the_table_does_not_have_leaves_all_variants():
    odd = Recorded(make="Panasonic", model="DMC-LX3", width_px=4000, height_px=1000)
    (candidate,) = sensor_width_candidates(odd)
    assert candidate.high / candidate.low > 1.1


def test_what_the_owner_set_comes_first_and_settles_it():
    recorded = Recorded(
        make="Canon", model="Canon EOS 650D", focal_length_mm=100.0, focal_length_35mm=160.0
    )
    candidates = sensor_width_candidates(recorded, told_mm=35.9)
    best, rivals = settle(candidates)
    assert best is candidates[0]
    assert (best.width_mm, best.origin, rivals) == (35.9, "told", [])


def test_the_35mm_tag_alone():
    recorded = Recorded(focal_length_mm=50.0, focal_length_35mm=75.0, width_px=6000, height_px=4000)
    (candidate,) = sensor_width_candidates(recorded)
    assert candidate.width_mm == pytest.approx(24.0, rel=0.001)
    assert candidate.low < 23.5 < candidate.high  # makers write 1.5 for 1.53


def test_nothing_recorded_gives_no_route():
    assert sensor_width_candidates(Recorded()) == []
    assert settle([]) == (None, [])


def test_a_focal_plane_tag_without_support_is_not_believed():
    # A Canon in-camera smaller JPEG keeps the full-size density: 10.6 mm on a full-frame body.
    recorded = Recorded(focal_plane_width_mm=10.6, recorded_width_px=2400, recorded_height_px=1600)
    assert sensor_width_candidates(recorded) == []


@needs_frames
@needs_table
def test_crop_mode_of_a_full_frame_body_is_shown_and_asked_about():
    recorded = read_recorded(FRAMES / "raw" / "Canon-R6-pruned.CR3")
    table, plane = sensor_width_candidates(recorded)
    assert table.width_mm == pytest.approx(36, rel=0.01)
    assert plane.width_mm == pytest.approx(22.35, rel=0.01)  # index.csv
    best, rivals = settle([table, plane])
    assert rivals == [plane]
    assert best.low < 22.35 < 36 < best.high


@needs_frames
@needs_table
def test_the_35mm_tag_agrees_with_the_table_on_nearly_every_intact_file():
    # README of the frames: within 5 % in 97 % of files; the two larger gaps it names are real.
    agree, apart = 0, set()
    for row in rows_of("index.csv"):
        if not row["focal_35mm"] or row["category"].startswith("corrupt"):
            continue
        recorded = read_recorded(FRAMES / row["path"])
        routes = {c.from_.split()[0]: c for c in sensor_width_candidates(recorded)}
        if {"camera", "35"} <= routes.keys():
            if differ(routes["camera"].width_mm, routes["35"].width_mm):
                apart.add(recorded.model)
            else:
                agree += 1
    assert apart == {"LEICA Q2", "HERO4 Silver"}  # digital crop 1.8x; a narrow field of view
    assert agree >= 70
