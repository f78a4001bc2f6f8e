"""What a brief asks of a set. Expected numbers come from the rows, or from APEX where named."""

import pytest

from course.brief import facts_of, judge
from course.brief_rows import Criterion
from shootlog.reading import Quantity, Reading


def reading(facts=None, **numbers):
    made = {name: Quantity.exactly(value, "recorded") for name, value in numbers.items()}
    return Reading(quantities=made, facts=facts or {})


def answer(quantity, readings, **limits):
    row = Criterion(kind="quantity", quantity=quantity, **limits)
    return judge([row], readings, [])[0].verdict


TIMES = [f"2026-05-03T09:{minute:02d}:00" for minute in (0, 3, 9)]


def test_time_span_and_pauses_of_a_set():
    frames = [reading({"taken_at": moment}) for moment in TIMES]
    assert answer("time_span_s", frames, low=480) == "met"
    assert answer("shortest_pause_s", frames, low=200) == "not yet"
    assert answer("shortest_pause_s", frames, low=180) == "met"
    assert answer("count", frames, low=3) == "met"
    assert answer("shortest_pause_s", [*frames, reading()], low=10) == "can't tell"


def test_different_f_numbers_are_counted_as_the_dial_shows_them():
    frames = [reading(f_number=n) for n in (4.0, 5.6, 5.6000001, 8.0)]
    assert answer("f_number_count", frames, low=3) == "met"
    assert answer("f_number_count", frames, low=4) == "not yet"
    assert answer("f_number_count", [*frames, reading()], low=3) == "can't tell"


def test_a_spread_of_exposure_counts_time_opening_and_iso():
    # APEX (Exif 2.32, annex C): one stop is twice the time, the ISO, or the area of the opening.
    settings = [(8, 1 / 60, 100), (8, 1 / 30, 100), (8 / 2**0.5, 1 / 60, 100), (8, 1 / 60, 200)]
    frames = [reading(f_number=n, exposure_s=t, iso=iso) for n, t, iso in settings]
    for brighter in frames[1:]:
        spread = facts_of([frames[0], brighter]).exposure_spread_ev
        assert spread == pytest.approx(1)
