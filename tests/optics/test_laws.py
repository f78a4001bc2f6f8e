"""Laws of distance, light and depth whatever the numbers: inverses, limits, order."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optics import (
    accessories,
    aperture,
    best_stop,
    blur,
    circle_of_confusion,
    conjugates,
    depth,
    diffraction,
    shake,
)
from tests.optics.tried import COCS, F_NUMBERS, FOCALS, MAGNIFICATIONS, PUPILS


@given(F_NUMBERS, MAGNIFICATIONS, PUPILS)
def test_marked_and_effective_invert(f_number, m, p):
    effective = aperture.effective_f_number(f_number, m, p)
    assert aperture.marked_f_number(effective, m, p) == pytest.approx(f_number)
    stops = 2.0 * math.log2(effective / f_number)
    assert aperture.exposure_loss_stops(m, p) == pytest.approx(stops, abs=1e-12)
    assert aperture.exposure_factor(m, p) == pytest.approx(2.0**stops)


@given(FOCALS, st.floats(0.001, 1.0), st.floats(-50.0, 50.0))
def test_distance_and_magnification_invert(f, m, hiatus):
    distance = conjugates.sensor_to_subject_mm(f, m, hiatus)
    if distance > 0:
        back = conjugates.magnification_from_distance(distance, f, hiatus)
        assert back == pytest.approx(m, rel=1e-6, abs=3e-8 if m < 0.999 else 3e-6)
        again = conjugates.focal_length_from_distance_mm(distance, m, hiatus)
        assert again == pytest.approx(f)


@given(FOCALS, st.floats(1.01, 20.0))
def test_distance_cannot_tell_a_magnification_from_its_inverse(f, m):
    distance = conjugates.sensor_to_subject_mm(f, m)
    assert conjugates.magnification_from_distance(distance, f) == pytest.approx(1.0 / m, rel=1e-5)


@given(FOCALS, st.floats(0.05, 0.8))
def test_the_uncertainty_is_the_slope_of_the_distance(f, m):
    step = 1e-4 * f
    distance = conjugates.sensor_to_subject_mm(f, m)
    nearer = conjugates.magnification_from_distance(distance - step, f)
    farther = conjugates.magnification_from_distance(distance + step, f)
    slope = conjugates.magnification_uncertainty_from_distance(2.0 * step, f, m)
    assert nearer - farther == pytest.approx(slope, rel=1e-3)


@given(FOCALS, st.floats(0.0, 1.0), st.floats(1.0, 200.0))
def test_a_tube_reveals_the_focal_length_it_was_worked_out_with(f, m0, tube):
    m = accessories.magnification_with_tube(m0, tube, f)
    assert accessories.focal_length_from_tube_mm(m0, m, tube) == pytest.approx(f)
    assert conjugates.extension_mm(f, m) - conjugates.extension_mm(f, m0) == pytest.approx(tube)


@given(FOCALS, st.floats(0.01, 1.0), st.floats(1.0, 10.0), st.floats(0.0, 60.0))
def test_a_close_up_lens_as_the_two_lenses_refract_one_after_the_other(f, m0, power, gap):
    # Thin lenses in turn (textbook): the close-up lens's image is the lens's subject.
    u0 = f * (1.0 + 1.0 / m0)
    if gap > 0.9 * u0:
        return
    behind = u0 - gap
    in_front = 1.0 / (1.0 / behind + power / 1000.0)
    expected = m0 * behind / in_front
    got = accessories.magnification_with_close_up_lens(m0, f, power, gap)
    assert got == pytest.approx(expected)


def test_at_the_infinity_setting_the_gap_to_the_close_up_lens_plays_no_part():
    for gap in (0.0, 30.0, 300.0):
        assert accessories.magnification_with_close_up_lens(0.0, 100.0, 4.0, gap) == 0.4


def test_a_close_up_lens_costs_no_light_though_the_ratio_grows():
    m = accessories.magnification_with_close_up_lens(0.0, 200.0, 5.0)
    assert m == 1.0
    assert aperture.effective_f_number_with_close_up_lens(8.0, 0.0) == 8.0


@given(F_NUMBERS, MAGNIFICATIONS)
def test_reversing_a_symmetrical_lens_changes_nothing(f_number, m):
    reversed_ = aperture.effective_f_number_reversed(f_number, m, 1.0)
    assert reversed_ == pytest.approx(aperture.effective_f_number(f_number, m, 1.0))


@given(F_NUMBERS, MAGNIFICATIONS, PUPILS)
def test_reversing_is_the_plain_formula_with_the_pupils_changed_over(f_number, m, p):
    # The old exit pupil is the new entrance pupil: N / p, and 1 / p for the ratio.
    plain = aperture.effective_f_number(f_number / p, m, 1.0 / p)
    assert aperture.effective_f_number_reversed(f_number, m, p) == pytest.approx(plain)


def test_the_smaller_pupil_of_two_coupled_lenses_decides():
    # 150 mm at f/4 has 37.5 mm, 50 mm at f/2 has 25 mm: that one fills, as f/6 at 150 mm.
    assert aperture.effective_f_number_of_coupled_lenses(4.0, 2.0, 3.0) == 150.0 / 25.0
    assert aperture.effective_f_number_of_coupled_lenses(8.0, 2.0, 3.0) == 8.0


def test_a_converter_multiplies_ratio_and_f_number_alike_and_the_order_of_tubes_counts():
    assert aperture.effective_f_number_with_teleconverter(5.6, 1.4) == pytest.approx(7.84)
    tube_first = accessories.magnification_with_teleconverter(
        accessories.magnification_with_tube(0.5, 25.0, 50.0), 2.0
    )
    tube_last = accessories.magnification_with_tube_behind_teleconverter(0.5, 2.0, 25.0, 50.0)
    assert (tube_first, tube_last) == (2.0, 1.25)


@given(F_NUMBERS, st.floats(0.05, 10.0), PUPILS, COCS)
def test_two_equal_depths_make_the_close_up_depth(f_number, m, p, coc):
    effective = aperture.effective_f_number(f_number, m, p)
    total = depth.depth_of_field_mm(effective, m, coc)
    near, far = depth.near_and_far_depth_mm(f_number, m, coc, 1e5, p)
    assert near + far == pytest.approx(total, rel=1e-4)
    q = f_number * coc / (1e5 * m)
    assert far / near == pytest.approx((1.0 + q) / (1.0 - q), rel=1e-9)


@given(FOCALS, F_NUMBERS, COCS, st.floats(0.05, 0.95))
def test_far_away_the_two_depths_are_the_classical_limits(f, f_number, coc, share):
    # Conrad's close-up form and the far-field limits are the same law (p = 1).
    focus = f + share * (depth.hyperfocal_mm(f, f_number, coc) - f)
    m = f / (focus - f)
    before, behind = depth.near_and_far_depth_mm(f_number, m, coc, f)
    near, far = depth.near_and_far_limit_mm(focus, f, f_number, coc)
    assert focus - before == pytest.approx(near, rel=1e-9)
    assert focus + behind == pytest.approx(far, rel=1e-9)


@given(FOCALS, F_NUMBERS, COCS)
def test_at_the_hyperfocal_distance_the_far_limit_goes_to_infinity(f, f_number, coc):
    hyperfocal = depth.hyperfocal_mm(f, f_number, coc)
    assert depth.near_and_far_limit_mm(hyperfocal * 1.001, f, f_number, coc)[1] == math.inf
    near, far = depth.near_and_far_limit_mm(math.inf, f, f_number, coc)
    assert (near, far) == (pytest.approx(hyperfocal - f), math.inf)
    from_sensor = depth.near_limit_at_infinity_from_sensor_mm(f, f_number, coc, 5.0)
    assert from_sensor == pytest.approx(near + 2.0 * f + 5.0)


def test_circles_of_confusion_by_name():
    # A print of 20 x 25 cm with 0.2 mm allowed: 36 x 24 mm enlarged 7.4 times.
    assert circle_of_confusion.coc_mm_by_name("print 20 x 25 cm", 43.2666) == pytest.approx(
        circle_of_confusion.coc_mm_from_print(0.2, 320.156 / 43.2666)
    )
    assert circle_of_confusion.coc_mm_by_name("diagonal/1730", 43.25) == pytest.approx(
        0.025, rel=2e-3
    )
    # 2.75 minutes of arc at 25 cm is the usual 0.2 mm, one minute 0.073 mm.
    assert circle_of_confusion.print_coc_mm_from_viewing(250.0) == pytest.approx(0.2, rel=1e-3)
    assert circle_of_confusion.print_coc_mm_from_viewing(250.0, 1.0) == pytest.approx(
        0.073, rel=5e-3
    )
    assert circle_of_confusion.coc_mm_from_pixels(5.0, 3.0) == 0.015
    with pytest.raises(ValueError, match="convention must be one of diagonal/1500"):
        circle_of_confusion.coc_mm_by_name("ours", 43.0)


MONOTONE = [
    (aperture.effective_f_number, (4.0, 0.5, 1.0), (1, 1, -1)),
    (conjugates.magnification_from_distance, (600.0, 100.0, 0.0), (-1, 1, 1)),
    (accessories.magnification_with_tube, (0.3, 20.0, 60.0), (1, 1, -1)),
    (accessories.magnification_with_close_up_lens, (0.3, 60.0, 4.0, 10.0), (1, 1, 1, -1)),
    (depth.depth_of_field_mm, (16.0, 1.0, 0.03), (1, -1, 1)),
    (diffraction.airy_diameter_um, (16.0, 0.55), (1, 1)),
    (diffraction.diffraction_mtf, (20.0, 16.0, 0.55), (-1, -1, -1)),
    (blur.total_blur_um, (20.0, 16.0, 0.55), (1, 1, 1)),
    (best_stop.largest_depth_mm, (0.03, 1.0, 0.55), (1, -1, -1)),
    (shake.longest_exposure_s, (30.0, 100.0, 0.5, 1.0), (1, -1, -1, 1)),
    (shake.blur_from_rotation_um, (0.1, 100.0, 0.5, 1.0), (1, 1, 1, -1)),
]


@pytest.mark.parametrize(("function", "at", "directions"), MONOTONE, ids=lambda v: str(v)[:40])
def test_formulas_rise_or_fall_with_each_argument(function, at, directions):
    here = function(*at)
    for k, direction in enumerate(directions):
        more = [*at]
        more[k] = at[k] * 1.01 if at[k] else 1.0
        assert direction * (function(*more) - here) > 0


def test_a_published_pupil_ratio_gives_the_published_trap():
    # Canon 100 macro p = 0.28 at 1:1 with f/2.8 must give 12.8, a number the app must never use.
    assert aperture.effective_f_number(2.8, 1.0, 0.28) == pytest.approx(12.8)
