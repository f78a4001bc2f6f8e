"""The planner's numbers against makers' and textbooks' tables (fixtures/published/*.csv)."""

import json

import pytest

from shootlog.stack_plan import close_plan, landscape_plan
from shootlog.what_if import Asked, what_if
from tests.published import rows

DIAGONAL_50 = {"sensor_width_mm": 40.0, "sensor_height_mm": 30.0}  # a circle of 1/30 mm
DIAGONAL_30 = {"sensor_width_mm": 24.0, "sensor_height_mm": 18.0}  # a circle of 0.02 mm


def near(row):
    return pytest.approx(float(row["value"]), rel=float(row["rel_tol"]))


def asked(**values):
    common = {"focal_length_mm": 100.0, "f_number": 8.0, "subject_depth_mm": 5.0}
    return Asked(**common | DIAGONAL_30 | values)


@pytest.mark.parametrize("row", rows("magnification", "magnification_with_extension_tube"))
def test_a_tube_brings_what_its_maker_prints(row):
    told = json.loads(row["inputs"])
    found = what_if(
        asked(
            focal_length_mm=told["focal_length_mm"],
            lens_magnification=told["magnification_without_tube"],
            tube_mm=told["tube_length_mm"],
        )
    )
    assert found.magnification == near(row)


@pytest.mark.parametrize("row", rows("magnification", "magnification_with_close_up_lens"))
def test_a_close_up_lens_brings_what_its_table_prints_and_costs_no_light(row):
    told = json.loads(row["inputs"])
    found = what_if(
        asked(
            focal_length_mm=told["focal_length_mm"],
            lens_magnification=told["magnification_without"],
            close_up_dioptre=told["close_up_power_dpt"],
        )
    )
    assert found.magnification == near(row)
    # "close-up lenses do not affect exposure": only what the lens draws by itself counts
    assert found.effective_f_number == pytest.approx(8.0 * (1 + told["magnification_without"]))


@pytest.mark.parametrize("row", rows("depth_of_field", "dof_total_from_effective_f_number"))
def test_depth_is_what_the_maker_prints(row):
    told = json.loads(row["inputs"])
    m, effective = told["magnification"], told["effective_f_number"]
    found = what_if(
        asked(
            focal_length_mm=told["focal_length_mm"],
            f_number=effective / (1 + m),
            lens_magnification=m,
            **DIAGONAL_50,
        )
    )
    # the planner's close-up form leaves out 1 / (1 - q^2), q = N c / (f m), which the table has
    q = effective * told["coc_mm"] / (told["focal_length_mm"] * m)
    assert found.depth_mm / (1 - q**2) == near(row)


@pytest.mark.parametrize("row", rows("effective_aperture", "exposure_loss_stops"))
def test_light_lost_is_what_the_manual_says(row):
    told = json.loads(row["inputs"])
    found = what_if(asked(lens_magnification=told["magnification"]))
    # the manuals print whole and half stops
    assert found.light_lost_stops == pytest.approx(float(row["value"]), rel=float(row["rel_tol"]))


def test_a_rail_stack_has_the_published_step_count_and_growth():
    """fixtures/published/stacks.csv, stack.rail.frames and stack.rail.scale (computed)."""
    found = what_if(asked(lens_magnification=1.0))
    assert found.depth_mm == pytest.approx(0.64)
    assert found.step_mm == pytest.approx(0.48)
    assert found.frames == 11
    plan = close_plan(asked(lens_magnification=1.0, overlap=0.0), way="rail")
    assert ("Growth from frame to frame", "0.3 %") in plan.rows


@pytest.mark.parametrize("row", rows("stacks", "landscape_stack_frames_to_infinity"))
def test_a_landscape_takes_the_published_number_of_frames(row):
    told = json.loads(row["inputs"])
    plan = landscape_plan(
        focal_length_mm=told["focal_length_mm"],
        f_number=told["f_number"],
        sensor_width_mm=36.0 * 45.0 / 43.2666,  # 3:2 with a diagonal of 45 mm: a circle of 0.03
        near_m=told["near_m"],
        overlap=told["overlap"],
    )
    assert plan.frames == float(row["value"])
    assert plan.distances_m == sorted(plan.distances_m)


def test_the_hand_meters_time_grows_with_the_light_lost_and_the_count_is_said_aloud():
    plan = close_plan(asked(lens_magnification=1.0), way="rail", metered_s=1 / 60)
    assert ("Exposure", "1/15 s where a hand meter says 1/60 s") in plan.rows  # two stops
    assert plan.frames == 13  # eleven and one in the air at either end
    assert "11 12 13" in plan.count


def test_a_ring_stack_says_its_step_on_either_side_of_the_lens():
    plan = close_plan(asked(lens_magnification=0.5), way="ring")
    words = dict(plan.rows)["Step of the focus"]
    # depth 2 N_e c / m^2 = 1.92 mm, three quarters of it; on the sensor that times m^2
    assert words == "1.4 mm at the subject, which is 0.36 mm of travel of the lens"


def test_a_rail_that_changes_the_viewpoint_much_is_said():
    long = close_plan(asked(lens_magnification=0.2, subject_depth_mm=200.0), way="rail")
    assert any("moves the viewpoint" in note for note in long.notes)
    short = close_plan(asked(lens_magnification=1.0), way="rail")
    assert not any("moves the viewpoint" in note for note in short.notes)


def test_a_lens_at_infinity_frames_nothing_near():
    with pytest.raises(ValueError, match="frames nothing near"):
        what_if(asked())
