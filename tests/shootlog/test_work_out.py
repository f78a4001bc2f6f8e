"""What is worked out, held against makers' manuals and published tables.

`optics_values.json` and `frames/macro_lenses.csv` lie beside the project; each row there names
its source, and the ones used here are repeated where they are used.
"""

import csv
import json
import math
from pathlib import Path

import pytest

from shootlog.recorded import Recorded
from shootlog.set_up import SetUp
from shootlog.work_out import work_out

SHARED = Path(__file__).parents[2] / ".." / "shared"


def shared(name):
    path = SHARED / name
    if not path.exists():
        pytest.skip(f"{name} lies beside the project, not in a clone of it")
    return path


def recorded(**known):
    plain = {
        "f_number": 8.0, "exposure_s": 1 / 125, "iso": 200, "focal_length_mm": 100.0,
        "width_px": 6000, "height_px": 4000, "has_exif": True, "file_type": "JPEG",
        "f_number_habit": "marked", "lens": "100mm Macro",
    }  # fmt: skip
    return Recorded(**plain | known)


FULL_FRAME = {"sensor_width_mm": 36.0}


# the f-number trap


@pytest.mark.parametrize(
    ("magnification", "effective"), [(1, 5.6), (2, 8.4), (3, 11.2), (4, 14.0), (5, 16.8)]
)
def test_a_makers_table_of_marked_numbers(magnification, effective):
    """Canon MP-E 65mm f/2.8 1-5x, instruction manual p. ENG-7, which also states N (m + 1)."""
    reading = work_out(
        recorded(f_number=2.8, focal_length_mm=65.0, maker_magnification=float(magnification)),
        SetUp(**FULL_FRAME),
    )
    assert reading.value("effective_f_number") == pytest.approx(effective, rel=0.003)
    assert reading.value("marked_f_number") == 2.8


def test_the_table_in_the_shared_facts_is_the_one_used():
    with shared("frames/macro_lenses.csv").open() as file:
        rows = [r for r in csv.DictReader(file) if r["quantity"] == "effective_f_number"]
    mp_e = next(r for r in rows if r["lens"].startswith("Canon MP-E"))
    assert mp_e["value"] == "5.6 / 8.4 / 11.2 / 14.0 / 16.8"


@pytest.mark.parametrize(
    ("magnification", "effective"), [(1 / 5, 3.6), (1 / 2, 4.6), (1 / 1.5, 5.0), (1.0, 5.9)]
)
def test_an_internal_focus_lens_lies_in_the_range(magnification, effective):
    """Canon's table of the EF 100mm f/2.8 Macro USM (dangphoto.net quoting Canon)."""
    reading = work_out(
        recorded(f_number=2.8), SetUp(ruler_magnification=magnification, **FULL_FRAME)
    )
    found = reading["effective_f_number"]
    assert found.low - 0.05 <= effective <= found.high + 0.05  # printed to one place


@pytest.mark.parametrize("number", [2.8, 4.8, 57.0])
def test_an_effective_number_is_never_multiplied_again(number):
    """Nikon bodies record it: f/2.8 becomes f/4.8, f/32 becomes f/57 (60/2.8G table)."""
    reading = work_out(
        recorded(f_number=number, f_number_habit="effective"),
        SetUp(ruler_magnification=1.0, **FULL_FRAME),
    )
    found = reading["effective_f_number"]
    assert (found.low, found.value, found.high) == (number, number, number)
    assert reading["marked_f_number"].high <= number


def test_the_marked_number_behind_an_effective_one():
    """Nikkor Z MC 105 at 1:1 shows 4.5 of a marked 2.8 (digitalkamera.de test)."""
    reading = work_out(
        recorded(f_number=4.5, f_number_habit="effective"),
        SetUp(ruler_magnification=1.0, **FULL_FRAME),
    )
    marked = reading["marked_f_number"]
    assert marked.low <= 2.8 <= marked.high * 1.1


def test_an_unknown_habit_is_a_range_and_no_number():
    reading = work_out(
        recorded(f_number=16.0, f_number_habit=None),
        SetUp(ruler_magnification=1.0, **FULL_FRAME),
    )
    found = reading["effective_f_number"]
    assert found.value is None
    assert found.low <= 16.0
    assert found.high >= 32.0
    assert reading.question.key == "f_number_habit"


def test_the_student_may_settle_the_habit():
    reading = work_out(
        recorded(f_number=16.0, f_number_habit=None),
        SetUp(ruler_magnification=1.0, records_f_number="effective", **FULL_FRAME),
    )
    assert reading.value("effective_f_number") == 16.0


def test_tubes_are_added_to_an_effective_number_and_nothing_else():
    """e / f more magnification: N_e grows by (1 + m) / (1 + m0), Kenko-like tubes with contacts."""
    tube = SetUp(ring_magnification=0.5, tube_mm=50.0, focal_length_mm=100.0, **FULL_FRAME)
    reading = work_out(recorded(f_number=12.0, f_number_habit="effective"), tube)
    assert reading.value("magnification") == pytest.approx(1.0)
    assert reading.value("effective_f_number") == pytest.approx(12.0 * 2.0 / 1.5)


def test_a_close_up_lens_takes_no_light():
    """At infinity focus it gives m = f P / 1000 and costs nothing (optics.md 1.5, derived)."""
    lens = SetUp(ring_magnification=0.0, close_up_dioptre=5.0, focal_length_mm=200.0, **FULL_FRAME)
    reading = work_out(recorded(focal_length_mm=200.0), lens)
    assert reading.value("magnification") == pytest.approx(1.0)
    assert reading.value("effective_f_number") == pytest.approx(8.0, rel=1e-4)


def test_a_ruler_frame_through_a_close_up_lens_takes_no_light_either():
    """The ruler measures everything; only what the lens itself does costs light."""
    lens = SetUp(ruler_magnification=0.5, close_up_dioptre=5.0, focal_length_mm=100.0, **FULL_FRAME)
    reading = work_out(recorded(), lens)
    assert reading.value("effective_f_number") == pytest.approx(8.0, rel=1e-4)


def test_a_told_pupil_is_only_half_believed():
    """p = 0.28 beside a marked f/2.8 gives f/12.8, twice what such lenses do (optics.md 2.3)."""
    reading = work_out(
        recorded(f_number=2.8),
        SetUp(ruler_magnification=1.0, pupil_magnification=0.28, **FULL_FRAME),
    )
    found = reading["effective_f_number"]
    assert found.value == pytest.approx(12.8)
    assert found.low <= 5.9 <= found.high


def test_a_told_pupil_is_not_believed_of_a_lens_known_to_focus_inside():
    """EF 100mm f/2.8 Macro USM: Canon's table says f/5.9 at 1:1, p = 0.28 would say f/12.8."""
    reading = work_out(
        recorded(f_number=2.8, lens="EF100mm f/2.8 Macro USM"),
        SetUp(ruler_magnification=1.0, pupil_magnification=0.28, **FULL_FRAME),
    )
    assert reading.value("effective_f_number") == pytest.approx(5.6)
    assert reading["effective_f_number"].high >= 5.9


def test_a_converter_the_camera_knew_of_is_not_counted_again():
    both = {"teleconverter": 2.0, "focal_length_mm": 100.0, "ring_magnification": 0.5}
    knew = work_out(recorded(focal_length_mm=200.0), SetUp(**both, **FULL_FRAME))
    blind = work_out(recorded(focal_length_mm=100.0), SetUp(**both, **FULL_FRAME))
    assert knew.value("effective_f_number") == pytest.approx(8 * 1.5)
    assert blind.value("effective_f_number") == pytest.approx(16 * 1.5)
    assert knew.value("magnification") == pytest.approx(1.0)


# magnification


def test_every_route_is_kept_and_the_ruler_used():
    reading = work_out(
        recorded(maker_magnification=1.02, subject_distance_m=0.45),
        SetUp(ruler_magnification=1.0, ring_magnification=1.0, **FULL_FRAME),
    )
    given = [route.name for route in reading.routes if route.magnification]
    assert given == ["ruler frame", "maker's tag", "ring mark", "distance"]
    assert [route.name for route in reading.routes if route.used] == ["ruler frame"]
    assert reading["magnification"].origin == "measured"


def test_routes_that_contradict_are_said():
    reading = work_out(
        recorded(maker_magnification=3.0), SetUp(ruler_magnification=1.0, **FULL_FRAME)
    )
    assert reading.fact("disagreement").startswith("ruler frame gives")
    assert "maker's tag" in reading.fact("disagreement")


@pytest.mark.parametrize(
    ("lens", "distance_m", "focal_mm"),
    [("EF 100 USM Macro", 0.312, 100), ("Micro 105", 0.314, 105), ("Tamron 90 macro", 0.290, 90),
     ("EF 100mm f/2.8L Macro", 0.30, 100)],
)  # fmt: skip
def test_nearer_than_a_thin_lens_can_be_is_a_range_up_to_life_size(lens, distance_m, focal_mm):
    """Measured closest distances at 1:1 (frames/macro_lenses.csv): all below four focal lengths."""
    reading = work_out(
        recorded(lens=lens, subject_distance_m=distance_m, focal_length_mm=float(focal_mm)),
        SetUp(**FULL_FRAME),
    )
    found = reading["magnification"]
    assert found.value is None
    assert found.low < 1.0 <= found.high
    assert reading.question.key == "magnification"


@pytest.mark.parametrize("distance_mm", [450, 500, 600, 800, 1000, 2000])
def test_a_makers_distance_table_lies_in_the_range(distance_mm):
    """Nikon PC Micro-Nikkor 85mm f/2.8D manual p. 84, read: distance and reproduction ratio."""
    rows = json.loads(shared("optics_values.json").read_text())
    row = next(
        r for r in rows
        if r["quantity"] == "magnification_from_distance_thick_lens"
        and r["inputs"]["sensor_to_subject_mm"] == distance_mm
    )  # fmt: skip
    reading = work_out(
        recorded(subject_distance_m=distance_mm / 1000, focal_length_mm=85.0), SetUp(**FULL_FRAME)
    )
    found = reading["magnification"]
    assert found.low <= row["value"] <= found.high


def test_a_tube_on_an_unknown_ring_is_a_range():
    """50 mm and 25 mm of tube: 0.5 at infinity, more as the ring turns (m0 + e / f)."""
    reading = work_out(
        recorded(focal_length_mm=50.0, lens="50mm f/1.8"), SetUp(tube_mm=25.0, **FULL_FRAME)
    )
    found = reading["magnification"]
    assert found.value is None
    assert found.low == pytest.approx(0.5)
    assert 0.75 < found.high < 1.1


@pytest.mark.parametrize(("tube_mm", "magnification"), [(12.0, 1.19), (25.0, 1.39)])
def test_a_makers_tube_table_lies_in_the_range(tube_mm, magnification):
    """Canon EF 100mm f/2.8 Macro USM with EF12 and EF25 at closest focus (dangphoto.net)."""
    reading = work_out(recorded(), SetUp(ring_magnification=1.0, tube_mm=tube_mm, **FULL_FRAME))
    found = reading["magnification"]
    assert found.low <= magnification <= found.high


def test_a_reversed_lens_needs_a_ruler():
    told = SetUp(reversed=True, ring_magnification=1.0, tube_mm=20.0, **FULL_FRAME)
    assert work_out(recorded(), told)["magnification"] is None
    measured = SetUp(reversed=True, ruler_magnification=2.1, **FULL_FRAME)
    assert work_out(recorded(), measured).value("magnification") == 2.1


def test_ticks_in_the_frame_give_the_magnification():
    """A 36 mm sensor, 6000 pixels: 166.7 pixels for a millimetre is life size (definition)."""
    evidence = {"ruler": {"px_per_mm": 6000 / 36, "low": 165.0, "high": 168.0, "tilt_deg": 1.0}}
    reading = work_out(recorded(), SetUp(**FULL_FRAME), evidence)
    assert reading.value("magnification") == pytest.approx(1.0)
    assert reading["magnification"].origin == "measured"


def test_ticks_in_a_cut_or_shrunk_file_are_a_range():
    evidence = {"ruler": {"px_per_mm": 83.3, "low": 83.0, "high": 84.0}}
    smaller = recorded(width_px=3000, height_px=2000, recorded_width_px=6000)
    found = work_out(smaller, SetUp(**FULL_FRAME), evidence)["magnification"]
    assert found.value is None
    assert found.low <= 0.5 <= 1.0 <= found.high * 1.01


# depth, diffraction, shake, light


@pytest.mark.parametrize(
    ("f_number", "magnification", "depth_mm"), [(16, 1, 2.240), (8**0.5, 5, 0.048), (16, 5, 0.269)]
)
def test_a_makers_depth_table_with_its_own_circle(f_number, magnification, depth_mm):
    """Canon MP-E 65, published depths: 2 N c (m + 1) / m^2 with c = 0.035 mm; 2.8 is root 8."""
    reading = work_out(
        recorded(f_number=float(f_number), focal_length_mm=65.0,
                 maker_magnification=float(magnification)),
        SetUp(**FULL_FRAME), finished_width_mm=36.0 * 0.2 / 0.035,
    )  # fmt: skip
    assert reading.value("coc_um") == pytest.approx(35.0)
    assert reading.value("depth_of_field_mm") == pytest.approx(depth_mm, abs=0.0006)


def test_the_circle_of_confusion_is_named():
    """Diagonal / 1500: just under 0.03 mm for 36 x 24 (rule of thumb, three texts)."""
    reading = work_out(recorded(), SetUp(**FULL_FRAME))
    assert reading.value("coc_um") == pytest.approx(28.8, abs=0.1)
    assert reading["coc_um"].from_ == "frame diagonal / 1500"
    assert reading.fact("coc_convention") == "diagonal/1500"


@pytest.mark.parametrize(("marked", "airy_um"), [(8, 21), (11, 30), (16, 43), (32, 86)])
def test_the_smallest_spot_as_courses_print_it(marked, airy_um):
    """f/16 effective 21 um, f/22 30, f/32 43, f/64 86: 2.44 x 0.55 um x N (Born and Wolf 8.5.2)."""
    reading = work_out(
        recorded(f_number=float(marked)), SetUp(ruler_magnification=1.0, **FULL_FRAME)
    )
    assert reading.value("airy_diameter_um") == pytest.approx(airy_um, abs=0.6)


@pytest.mark.parametrize(("magnification", "one_over"), [(0.001, 100), (0.5, 150), (1.0, 200)])
def test_the_longest_exposure_by_hand(magnification, one_over):
    """The trade's rule with (1 + m) in it, 100 mm on 36 x 24 (common practice, no source)."""
    reading = work_out(recorded(), SetUp(ruler_magnification=magnification, **FULL_FRAME))
    assert 1 / reading.value("shake_limit_s") == pytest.approx(one_over, rel=0.05)


def test_a_stabiliser_makes_the_limit_a_range():
    steady = recorded(stabiliser="on")
    found = work_out(steady, SetUp(ruler_magnification=1.0, **FULL_FRAME))["shake_limit_s"]
    assert found.value is None
    assert found.high / found.low > 3.9  # two stops at life size


@pytest.mark.parametrize(("magnification", "stops"), [(0.5, 1.2), (1, 2.0), (2, 3.2), (5, 5.2)])
def test_light_lost(magnification, stops):
    """2 log2 (1 + m), the course's table; Canon prints 'about 5 1/3 stops' at 5x."""
    reading = work_out(recorded(), SetUp(ruler_magnification=magnification, **FULL_FRAME))
    assert reading.value("light_lost_stops") == pytest.approx(stops, abs=0.05)


def test_the_subject_across_the_frame():
    """At 1:2 a sensor 36 mm wide sees 72 mm (definition)."""
    reading = work_out(recorded(), SetUp(ruler_magnification=0.5, **FULL_FRAME))
    assert reading.value("subject_width_mm") == pytest.approx(72.0)


def test_wave_depth_is_the_resolution_formula():
    """lambda / NA^2 with NA = m / 2 N_e: 4 x 0.55e-3 x 32^2 = 2.25 mm at 1:1, f/32."""
    reading = work_out(recorded(f_number=16.0), SetUp(ruler_magnification=1.0, **FULL_FRAME))
    assert reading.value("wave_depth_of_field_mm") == pytest.approx(2.253, rel=1e-3)


# what is not known


@pytest.mark.parametrize(
    "missing", ["f_number", "focal_length_mm", "exposure_s", "iso", "width_px", "lens"]
)
def test_a_missing_tag_takes_numbers_away_and_adds_none(missing):
    told = SetUp(ruler_magnification=1.0, **FULL_FRAME)
    whole = work_out(recorded(), told, subject_depth_mm=3.0)
    less = work_out(recorded(**{missing: None}), told, subject_depth_mm=3.0)
    assert set(less.quantities) <= set(whole.quantities)


@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf, 1e12])
@pytest.mark.parametrize(
    "name", ["f_number", "exposure_s", "focal_length_mm", "subject_distance_m",
             "maker_magnification", "effective_aperture_ratio", "maker_focus_distance_m"]
)  # fmt: skip
def test_absurd_tags_stay_unknown(name, value):
    for habit in ("marked", "effective", None):
        reading = work_out(
            recorded(**{name: value, "f_number_habit": habit}),
            SetUp(**FULL_FRAME, tube_mm=12.0, close_up_dioptre=2.0),
            subject_depth_mm=value,
        )
        json.dumps(reading.as_json(), allow_nan=False)


def test_nothing_recorded_gives_nothing():
    reading = work_out(Recorded())
    assert reading.quantities == {}
    assert reading.question is None


def test_the_lowest_question_is_about_the_subject():
    told = SetUp(ruler_magnification=1.0, support="tripod", **FULL_FRAME)
    assert work_out(recorded(), told).question.key == "subject_depth_mm"
    assert work_out(recorded(), told, subject_depth_mm=2.0).question is None


def test_an_unknown_sensor_is_asked_first():
    assert work_out(recorded(make="Invented", model="One")).question.key == "sensor"


def test_support_is_asked_where_the_time_is_long():
    slow = recorded(exposure_s=0.5)
    asked = work_out(slow, SetUp(ruler_magnification=1.0, **FULL_FRAME)).question
    assert asked.key == "support"
    assert "tripod" in asked.choices
