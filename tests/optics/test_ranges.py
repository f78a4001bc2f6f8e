"""Ranges carried through formulas: the corners hold what lies between."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optics.aperture import effective_f_number
from optics.conjugates import magnification_from_distance
from optics.ranges import Range, exactly, through, within, within_stops

SHARES = st.floats(0.0, 1.0)


@given(SHARES, SHARES, SHARES)
def test_every_point_inside_stays_between_the_corners(a, b, c):
    f_number, m, p = Range(4.0, 5.0, 8.0), Range(0.2, 0.5, 1.4), Range(0.5, 1.0, 1.2)
    got = through(effective_f_number, f_number, m, p)
    ends = zip((f_number, m, p), (a, b, c), strict=True)
    inside = effective_f_number(*(r.low + (r.high - r.low) * share for r, share in ends))
    assert got.low - 1e-12 <= inside <= got.high + 1e-12
    assert got.value == effective_f_number(5.0, 0.5, 1.0)


def test_plain_numbers_are_ranges_of_no_width():
    assert through(effective_f_number, 8.0, 1.0) == exactly(16.0)
    assert exactly(16.0).is_exact


def test_allowances():
    assert within(200.0, 0.25) == Range(150.0, 200.0, 250.0)
    assert within(-2.0, 0.5) == Range(-3.0, -2.0, -1.0)
    # One stop is the step of the standard series 4, 5.6, 8.
    assert within_stops(5.6, 1.0).high == pytest.approx(7.92, abs=0.01)


def test_near_life_size_a_centimetre_leaves_almost_nothing_known():
    # optics: f = 100 mm, 0.41 m give or take 1 cm is anything from 0.64 to 1.
    got = through(magnification_from_distance, Range(400.0, 410.0, 420.0), 100.0)
    assert got.high == 1.0
    assert got.low == pytest.approx(0.642, abs=0.001)


def test_a_corner_outside_the_formula_is_said_by_the_formula():
    with pytest.raises(ValueError, match="sensor_to_subject_mm must be at least"):
        through(magnification_from_distance, Range(390.0, 410.0, 420.0), 100.0)


@pytest.mark.parametrize("bad", [(2.0, 1.0, 3.0), (1.0, 4.0, 3.0), (math.nan, 1.0, 2.0)])
def test_a_range_out_of_order_is_refused(bad):
    with pytest.raises(ValueError, match="a range must run low, value, high"):
        Range(*bad)


def test_nonsense_allowances_are_refused():
    with pytest.raises(ValueError, match="^share must be"):
        within(1.0, 1.0)
    with pytest.raises(ValueError, match="^value must be"):
        within(math.inf, 0.1)
    with pytest.raises(ValueError, match="^stops must be"):
        within_stops(8.0, -1.0)
    with pytest.raises(ValueError, match="^value must be"):
        within_stops(0.0, 1.0)
    with pytest.raises(ValueError, match="^given must hold at most 12"):
        through(lambda *a: sum(a), *[Range(0.0, 1.0, 2.0)] * 13)
