"""Briefs: three answers, ranges, needs, series, and a brief nobody can meet is refused."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from course.brief import for_exercise, judge
from course.brief_file import read_brief
from course.brief_rows import (
    NEEDS,
    SERIES_QUANTITIES,
    BriefError,
    Criterion,
    brief_quantities,
    check,
)
from shootlog.findings import examine
from shootlog.findings.base import Outcome
from shootlog.findings.samples import sample
from shootlog.reading import Reading
from shootlog.wording import unwanted_words


def row(quantity, low=None, high=None, words=""):
    return Criterion(kind="quantity", quantity=quantity, low=low, high=high, words=words)


def need(name, low=None):
    return Criterion(kind="need", need=name, low=low)


def judge_set(criteria, readings):
    return judge(criteria, readings, [[] for _ in readings])


def one(criterion, reading, outcomes=()):
    (verdict,) = judge([criterion], reading, outcomes)
    return verdict


HALF = row("magnification", 0.4, 0.6)


@pytest.mark.parametrize(
    ("found", "answer"),
    [(0.5, "met"), (0.4, "met"), (0.6, "met"), (0.27, "not yet"), (0.9, "not yet"),
     ((0.45, 0.55), "met"), ((0.35, 0.45), "can't tell"), ((0.1, 0.9), "can't tell"),
     ((0.7, 0.9), "not yet")],
)  # fmt: skip
def test_a_range_is_met_only_when_all_of_it_lies_within(found, answer):
    assert one(HALF, sample(magnification=found)).verdict == answer


def test_the_number_and_what_was_asked_are_said():
    """Teaching P20: 'You had 0.27; the brief asked for 0.4-0.6'."""
    why = one(HALF, sample(magnification=0.27)).why
    assert "0.27" in why
    assert "0.40 to 0.60" in why


def test_unknown_is_cant_tell_and_says_what():
    verdict = one(HALF, Reading())
    assert verdict.verdict == "can't tell"
    assert "magnification" in verdict.why


@pytest.mark.parametrize("found", [0.004, 1 / 256, 1 / 250])
def test_dials_are_rounded_and_forgiven(found):
    """1/250 s on the dial is 1/256 s in the shutter (powers of two, common practice)."""
    assert one(row("exposure_s", high=1 / 250), sample(exposure_s=found)).verdict == "met"
    assert one(row("exposure_s", low=1 / 250), sample(exposure_s=found)).verdict == "met"


@given(
    low=st.floats(0.01, 10), width=st.floats(0, 5), a=st.floats(0.001, 20), b=st.floats(0.001, 20)
)
def test_never_met_and_never_missed_by_a_range_that_straddles(low, width, a, b):
    found = (min(a, b), max(a, b))
    verdict = one(row("magnification", low, low + width), sample(magnification=found)).verdict
    inside = low <= found[0] and found[1] <= low + width
    outside = found[1] < low or found[0] > low + width
    assert verdict == ("met" if inside else "not yet" if outside else "can't tell")


@pytest.mark.parametrize(
    ("name", "fact", "met", "not_yet"),
    [("manual focus", "focus_mode", "manual", "auto"),
     ("manual exposure", "exposure_mode", "manual", "auto"),
     ("tripod", "support", "tripod", "hand")],
)  # fmt: skip
def test_a_need_missed_only_where_the_file_or_the_student_says_so(name, fact, met, not_yet):
    """R20: telling someone they did not follow the brief when they did is the dearest alarm."""
    assert one(need(name), Reading(facts={fact: met})).verdict == "met"
    assert one(need(name), Reading(facts={fact: not_yet})).verdict == "not yet"
    assert one(need(name), Reading()).verdict == "can't tell"


def test_a_ruler_frame_that_was_not_found_is_not_missing():
    assert one(need("ruler frame"), Reading(facts={"ruler_frame": True})).verdict == "met"
    assert one(need("ruler frame"), Reading()).verdict == "can't tell"


ORIGINAL = {
    "file_type": "JPEG", "has_exif": True, "has_exposure": True, "has_maker_note": True,
    "make": "Canon", "width_px": 6000, "height_px": 4000, "recorded_width_px": 6000,
    "recorded_height_px": 4000,
}  # fmt: skip


@pytest.mark.parametrize(
    ("changed", "answer"),
    [({}, "met"), ({"width_px": 3000, "height_px": 2000}, "not yet"),
     ({"has_exposure": False, "make": None, "has_exif": False}, "not yet"),
     ({"software": "Invented Darkroom"}, "can't tell")],
)  # fmt: skip
def test_the_uncropped_original(changed, answer):
    facts = {k: v for k, v in (ORIGINAL | changed).items() if v is not None}
    reading = Reading(facts=facts)
    assert one(need("uncropped original"), reading, examine(reading)).verdict == answer


# series


def taken(minute, **numbers):
    made = sample("recorded", taken_at=f"2026-05-03T09:{minute:02d}:00", **numbers)
    return made


def test_every_frame_must_meet_what_is_asked_of_a_frame():
    frames = [sample(magnification=0.5), sample(magnification=0.3), sample(magnification=0.5)]
    (verdict,) = judge_set([HALF], frames)
    assert verdict.verdict == "not yet"
    assert verdict.why.startswith("Frame 2:")


@pytest.mark.parametrize(
    ("asked", "answer"),
    [(row("count", 3), "met"), (row("count", 12), "not yet"), (row("time_span_s", 480), "met"),
     (row("time_span_s", 1200), "not yet"), (row("shortest_pause_s", 60), "met"),
     (row("magnification_step", 1.3), "met"), (row("magnification_step", 3.0), "not yet"),
     (row("f_number_count", 1, 1), "met"), (row("exposure_spread_ev", high=0.4), "met")],
)  # fmt: skip
def test_quantities_of_a_series(asked, answer):
    light = {"exposure_s": 1 / 60, "f_number": 8.0, "iso": 200}
    frames = [
        taken(0, magnification=0.2, **light),
        taken(4, magnification=0.3, **light),
        taken(10, magnification=0.6, **light),
    ]
    (verdict,) = judge_set([asked], frames)
    assert verdict.verdict == answer


def test_exposure_spread_in_stops():
    """Twice the time is one stop (definition)."""
    base = {"f_number": 8.0, "iso": 200}
    frames = [sample(exposure_s=1 / 60, **base), sample(exposure_s=1 / 30, **base)]
    (verdict,) = judge_set([need("same exposure")], frames)
    assert verdict.verdict == "not yet"
    assert "1.00 stops" in verdict.why
    (verdict,) = judge_set([need("same exposure")], frames[:1])
    assert verdict.verdict == "can't tell"


def test_light_directions_told():
    frames = [Reading(facts={"light": ["side"]}), Reading(facts={"light": "back"}), Reading()]
    assert judge_set([need("light directions", 2)], frames)[0].verdict == "met"
    assert judge_set([need("light directions", 4)], frames)[0].verdict == "can't tell"
    assert judge_set([need("light directions", 4)], frames[:2])[0].verdict == "not yet"


def test_no_frames_is_cant_tell():
    assert judge_set([HALF], [])[0].verdict == "can't tell"


# waivers and own lines


def test_an_exercise_may_waive_a_finding_or_draw_its_own_line():
    reading = sample(effective_f_number=30.0, coc_um=40.0)
    outcomes = examine(reading)
    said = {o.finding: o.answer for o in outcomes}
    assert said["diffraction"] == "yes"
    waived = for_exercise(outcomes, reading, waived=["diffraction"])
    assert "diffraction" not in {o.finding for o in waived}
    moved = for_exercise(outcomes, reading, limits={"diffraction": 45.0})
    assert {o.finding: o.answer for o in moved}["diffraction"] == "no"
    assert {o.finding: o for o in moved}["diffraction"].numbers["limit"] == (45.0,)


def test_a_retired_finding_is_left_alone():
    old = Outcome("a-retired-one", "yes", "measured")
    assert for_exercise([old], Reading(), limits={"a-retired-one": 1.0}) == [old]


# a brief nobody can meet


@pytest.mark.parametrize(
    ("criteria", "says"),
    [
        ([row("magnification", 0.6, 0.4)], "more than high"),
        ([row("magnification", 0.8), row("magnification", high=0.5)], "no frame has both"),
        ([row("magnification")], "low or a high limit"),
        ([row("magnification", math.nan)], "no limit"),
        ([row("magnificence", 1)], "cannot ask for 'magnificence'"),
        ([row("coc_um", 1)], "cannot ask for 'coc_um'"),
        ([need("patience")], "'patience' is no need"),
        ([row("count", 1, 1), row("time_span_s", 480)], "one frame has no"),
        ([row("magnification", 1.0), row("effective_f_number", high=8),
          row("depth_of_field_mm", 5)], "no frame is deeper"),
    ],
)  # fmt: skip
def test_a_brief_that_cannot_be_is_refused_with_the_reason(criteria, says):
    with pytest.raises(BriefError, match=says):
        check(criteria)


def test_briefs_of_the_course_are_taken():
    """Weeks 2, 5 and 6 as the syllabus has them."""
    check([HALF, need("uncropped original")])
    check([row("f_number_count", 6), need("tripod"), need("same exposure")])
    check([row("count", 4), row("magnification_step", 1.2), row("shortest_pause_s", 10)])
    with pytest.raises(BriefError, match="no finding"):
        check([HALF], waived=["no-such-thing"])


def test_words_are_kind():
    rows = [row(name, 1, 2) for name in brief_quantities()] + [need(name) for name in NEEDS]
    for criterion in rows:
        for reading in (Reading(), sample(magnification=0.27, support="hand")):
            (verdict,) = judge([criterion], reading, [])
            assert unwanted_words(f"{verdict.criterion} {verdict.why}") == []
            assert verdict.criterion[0].isupper() or not verdict.criterion[0].isalpha()


def test_every_series_quantity_can_be_judged():
    for name in SERIES_QUANTITIES:
        assert judge_set([row(name, 1)], [Reading(), Reading()])[0].verdict in (
            "met", "not yet", "can't tell",
        )  # fmt: skip


# as a file


def test_a_brief_file(tmp_path):
    path = tmp_path / "brief.toml"
    path.write_text(
        'title = "Between"\nsubject_depth_mm = 5\nwaived = ["diffraction"]\n'
        "[limits]\nhigh-iso = 6400\n"
        '[[criteria]]\nquantity = "magnification"\nlow = 0.4\nhigh = 0.6\nwords = "Half"\n'
        '[[criteria]]\nneed = "manual focus"\n'
    )
    brief = read_brief(path)
    assert brief.subject_depth_mm == 5.0
    assert brief.limits == {"high-iso": 6400.0}
    assert [r.said for r in brief.criteria] == ["Half", "Manual focus"]


@pytest.mark.parametrize(
    ("text", "says"),
    [("title = ", "not TOML"), ("tittle = 'x'", "'tittle' is not known"),
     ("[[criteria]]\nlow = 1", "either a quantity or a need"),
     ("[[criteria]]\nquantity = 'iso'\nlow = 'much'", "low = 'much' is no number"),
     ("criteria = 3", "give a list")],
)  # fmt: skip
def test_a_brief_file_that_is_none_says_why(tmp_path, text, says):
    path = tmp_path / "brief.toml"
    path.write_text(text)
    with pytest.raises(BriefError, match=says):
        read_brief(path)


@pytest.mark.parametrize(
    ("places", "named"),
    [
        ([3], "Frame 3"),
        ([1, 2], "Frames 1, 2"),
        ([2, 3, 4], "Frames 2 to 4"),
        ([1, 2, 3, 4, 5, 6, 9, 12], "Frames 1, 2, 3, 4, 5, 6 and 2 more"),
    ],
)
def test_frames_are_named_by_their_places(places, named):
    """Every place that is not there yet is named or counted; none is left out unsaid."""
    readings = [sample(magnification=0.3 if k in places else 0.5) for k in range(1, 13)]
    (verdict,) = judge_set([HALF], readings)
    assert verdict.verdict == "not yet"
    assert verdict.why.startswith(f"{named}: ")


def test_a_row_of_one_number_says_it_once_and_an_f_number_stays_small():
    assert row("count", 2, 2).said == "Frames handed in: 2"
    assert row("marked_f_number", 5.0, 6.3, "f/5.6 on the ring").said == "f/5.6 on the ring"
