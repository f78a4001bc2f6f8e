"""A reading is kept and read back whole, and its numbers are written one way."""

import json
import math

import pytest

from shootlog.caption import caption
from shootlog.reading import FACTS, ORIGINS, QUANTITIES, Quantity, Question, Reading, Route
from shootlog.recorded import Recorded
from shootlog.set_up import SetUp
from shootlog.wording import NEVER, Spread, f_number, ratio, seconds, share, unwanted_words
from shootlog.work_out import work_out


def full_reading():
    recorded = Recorded(
        f_number=16.0, exposure_s=1 / 60, iso=200, focal_length_mm=100.0, width_px=6000,
        height_px=4000, recorded_width_px=6000, recorded_height_px=4000, has_exif=True,
        file_type="JPEG", f_number_habit="marked", focus_mode="auto", flash_fired=False,
    )  # fmt: skip
    set_up = SetUp(ruler_magnification=1.0, sensor_width_mm=36.0, support="hand")
    evidence = {"clipped_share": 0.02, "smear_px": 4.0, "smear_low_px": 3.5, "smear_high_px": 5.0}
    return recorded, work_out(recorded, set_up, evidence, subject_depth_mm=5.0)


def test_what_is_kept_is_read_back():
    _, reading = full_reading()
    kept = json.loads(json.dumps(reading.as_json(), allow_nan=False))
    again = Reading.from_json(kept)
    assert again.as_json() == reading.as_json()
    assert again.quantities == reading.quantities


def test_unknown_is_null_and_never_left_out():
    shown = Reading().as_json()
    assert all(shown[name] is None for name in QUANTITIES)
    assert set(shown["facts"]) == set(FACTS)
    assert shown["question"] is None


def test_names_of_another_version_are_left_out():
    kept = Reading().as_json() | {"an_old_quantity": {"value": 1}}
    kept["facts"]["an_old_fact"] = True
    assert Reading.from_json(kept).quantities == {}


def test_every_quantity_has_its_label_and_a_way_to_be_written():
    for name, kind in QUANTITIES.items():
        assert kind.label, name
        assert format(Spread((0.5, 2.0)), kind.style), name
        assert unwanted_words(kind.label) == []


@pytest.mark.parametrize("ends", [(2, 1, 3), (1, 2, 1.5), (1, math.nan, 3), (1, 2, math.inf)])
def test_a_quantity_out_of_order_is_refused(ends):
    low, value, high = ends
    with pytest.raises(ValueError, match="low <= value <= high"):
        Quantity(value, low, high, "recorded")


def test_strange_names_are_refused():
    with pytest.raises(ValueError, match="magnificence"):
        Reading({"magnificence": Quantity.exactly(1, "told")})
    with pytest.raises(KeyError):
        Reading()["magnificence"]
    with pytest.raises(KeyError):
        Reading().fact("mood")


def test_corners_are_every_combination_of_ends():
    reading = Reading(
        {
            "magnification": Quantity(None, 0.5, 1.0, "worked out"),
            "coc_um": Quantity(None, 20.0, 30.0, "assumed"),
            "f_number": Quantity.exactly(8, "recorded"),
        }
    )
    corners = list(reading.corners(["magnification", "coc_um", "f_number"]))
    assert len(corners) == 4
    assert {(c["magnification"], c["coc_um"]) for c in corners} == {
        (0.5, 20.0), (0.5, 30.0), (1.0, 20.0), (1.0, 30.0),
    }  # fmt: skip


def test_origins_are_the_five_of_the_house():
    _, reading = full_reading()
    assert {q.origin for q in reading.quantities.values()} <= set(ORIGINS)
    assert reading["clipped_share"].origin == "measured"
    assert reading["f_number"].origin == "recorded"
    assert reading["subject_depth_mm"].origin == "told"
    assert reading["effective_f_number"].origin == "worked out"
    assert reading["coc_um"].origin == "assumed"


def test_the_caption_says_what_was_going_on():
    """Set f/16 at life size is f/32 at the sensor: the maker's rule N (m + 1), MP-E 65 manual."""
    recorded, reading = full_reading()
    line = caption(recorded, reading)
    assert line.startswith("1:1 · f/16 set = f/32 effective · 1/60 s hand-held")
    assert " · AF · " in line
    assert line.endswith("sharp band 1.8 mm")


def test_the_caption_of_nothing_says_so():
    assert caption(Recorded(), Reading()) == "magnification not known"


def test_routes_and_question_survive():
    reading = Reading(
        routes=[Route("ruler frame", Quantity.exactly(1, "measured"), "x", True)],
        question=Question("support", "What held it?", ("shake",), ("hand", "tripod")),
    )
    assert Reading.from_json(reading.as_json()).as_json() == reading.as_json()


@pytest.mark.parametrize(
    ("value", "text"),
    [(1 / 60, "1/60 s"), (0.008, "1/125 s"), (1 / 64, "1/60 s"), (1 / 250, "1/250 s"),
     (0.5, "0.5 s"), (2.0, "2 s"), (30.0, "30 s"), (1 / 12000, "1/12000 s"), (0.25, "1/4 s")],
)  # fmt: skip
def test_exposure_times_as_on_the_dial(value, text):
    assert seconds(value) == text


def test_other_numbers_as_photographers_write_them():
    assert f_number(5.6) == "f/5.6"
    assert f_number(8.0) == "f/8"
    assert f_number(31.9) == "f/32"
    assert ratio(0.5) == "1:2"
    assert ratio(1.0) == "1:1"
    assert ratio(2.5) == "2.5:1"
    assert share(0.0004) == "under 0.1 %"
    assert share(0.059) == "5.9 %"
    assert f"{Spread((1.0, 1.001)):.1f}" == "1.0"
    assert f"{Spread((3.0, 4.0)):.0f}" == "3 to 4"


def test_the_word_list_finds_its_words():
    assert unwanted_words("This is Wrong, a bad error") == ["error", "wrong", "bad"]
    assert unwanted_words("She said the plate is laid again") == []
    assert len(NEVER) == len(set(NEVER))
