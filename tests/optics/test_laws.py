"""Laws the formulas must obey whatever the numbers: inverses, limits, order, scale."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import j1

from optics import aperture, blur, conjugates, depth, diffraction, exposure, sampling, shake, stack

F_NUMBERS = st.floats(1.0, 64.0)
MAGNIFICATIONS = st.floats(0.01, 10.0)
PUPILS = st.floats(0.2, 3.0)
FOCALS = st.floats(10.0, 600.0)
COCS = st.floats(0.003, 0.06)
WAVELENGTHS = st.floats(0.4, 0.7)


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
    m = conjugates.magnification_with_tube(m0, tube, f)
    assert conjugates.focal_length_from_tube_mm(m0, m, tube) == pytest.approx(f)
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
    got = conjugates.magnification_with_close_up_lens(m0, f, power, gap)
    assert got == pytest.approx(expected)


def test_at_the_infinity_setting_the_gap_to_the_close_up_lens_plays_no_part():
    for gap in (0.0, 30.0, 300.0):
        assert conjugates.magnification_with_close_up_lens(0.0, 100.0, 4.0, gap) == 0.4


def test_a_close_up_lens_costs_no_light_though_the_ratio_grows():
    m = conjugates.magnification_with_close_up_lens(0.0, 200.0, 5.0)
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
    tube_first = conjugates.magnification_with_teleconverter(
        conjugates.magnification_with_tube(0.5, 25.0, 50.0), 2.0
    )
    tube_last = conjugates.magnification_with_tube_behind_teleconverter(0.5, 2.0, 25.0, 50.0)
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
    assert depth.coc_mm_by_name("print 20 x 25 cm", 43.2666) == pytest.approx(
        depth.coc_mm_from_print(0.2, 320.156 / 43.2666)
    )
    assert depth.coc_mm_by_name("diagonal/1730", 43.25) == pytest.approx(0.025, rel=2e-3)
    # 2.75 minutes of arc at 25 cm is the usual 0.2 mm, one minute 0.073 mm.
    assert depth.print_coc_mm_from_viewing(250.0) == pytest.approx(0.2, rel=1e-3)
    assert depth.print_coc_mm_from_viewing(250.0, 1.0) == pytest.approx(0.073, rel=5e-3)
    assert depth.coc_mm_from_pixels(5.0, 3.0) == 0.015
    with pytest.raises(ValueError, match="convention must be one of diagonal/1500"):
        depth.coc_mm_by_name("ours", 43.0)


@given(st.floats(1.0, 64.0), WAVELENGTHS)
def test_an_airy_disc_of_three_pixels_and_the_cut_off_at_nyquist(f_number, wavelength):
    airy = diffraction.airy_diameter_um(f_number, wavelength)
    asked = diffraction.effective_f_number_at_airy_pixels(airy / 3.0, 3.0, wavelength)
    assert asked == pytest.approx(f_number)
    pitch = 500.0 / diffraction.cutoff_cycles_per_mm(f_number, wavelength)
    assert diffraction.effective_f_number_at_pixel_cutoff(pitch, wavelength) == pytest.approx(
        f_number
    )
    assert sampling.nyquist_cycles_per_mm(pitch) == pytest.approx(
        diffraction.cutoff_cycles_per_mm(f_number, wavelength)
    )


@given(st.floats(0.0, 1.2), F_NUMBERS, WAVELENGTHS)
def test_without_defocus_only_diffraction_is_left(share, f_number, wavelength):
    cycles = share * diffraction.cutoff_cycles_per_mm(f_number, wavelength)
    pure = diffraction.diffraction_mtf(cycles, f_number, wavelength)
    assert blur.defocused_mtf(cycles, f_number, 0.0, wavelength) == pytest.approx(pure, abs=1e-9)


@pytest.mark.parametrize("waves", [50.0, 400.0])
def test_far_out_of_focus_the_response_is_that_of_a_plain_disc(waves):
    # Disc of diameter 8 W lambda N; Bessel function from scipy.
    x = np.linspace(0.05, 1.1, 12)  # diameter times frequency
    ours = blur.defocused_otf(1000.0 * x / (8.0 * waves), 1.0, waves, 1.0)
    disc = 2.0 * j1(np.pi * x) / (np.pi * x)
    assert ours == pytest.approx(disc, abs=0.4 / waves)
    assert blur.defocused_mtf(1000.0 * x / (8.0 * waves), 1.0, waves, 1.0) == pytest.approx(
        np.abs(ours)
    )


@given(st.floats(-5.0, 5.0), st.floats(0.01, 0.99))
def test_either_side_of_focus_is_alike(waves, share):
    cycles = 1000.0 * share
    before = blur.defocused_otf(cycles, 1.0, waves, 1.0)
    assert before == blur.defocused_otf(cycles, 1.0, -waves, 1.0)
    assert abs(before) <= 1.0


@given(st.floats(0.0, 1.0), st.floats(0.0, 6.0), st.floats(1.5, 4.0))
def test_frequencies_and_f_numbers_trade_one_for_one(share, waves, scale):
    one = blur.defocused_otf(200.0 * share, 8.0, waves)
    assert blur.defocused_otf(200.0 * share / scale, 8.0 * scale, waves) == pytest.approx(
        one, abs=1e-9
    )


@given(st.floats(-2.0, 2.0), F_NUMBERS, WAVELENGTHS)
def test_defocus_and_image_shift_invert(waves, f_number, wavelength):
    shift = blur.image_shift_mm(waves, f_number, wavelength)
    assert blur.defocus_waves(shift, f_number, wavelength) == pytest.approx(waves)
    disc = blur.defocus_disc_um(shift, f_number)
    assert disc == pytest.approx(8.0 * abs(waves) * wavelength * f_number, abs=1e-12)


@settings(deadline=None)
@given(st.floats(0.0, 400.0), st.floats(1.0, 45.0), WAVELENGTHS)
def test_total_blur_lies_between_the_larger_part_and_the_sum(disc, f_number, wavelength):
    alone = blur.DIFFRACTION_DISC * wavelength * f_number
    total = blur.total_blur_um(disc, f_number, wavelength)
    # The exact figure dips 1.3 % under the plain disc far from focus.
    assert 0.97 * max(disc, alone) < total <= (disc + alone) * (1.0 + 1e-6)


def test_the_cube_rule_is_within_three_per_cent_and_the_airy_quadrature_is_not():
    # optics: Hopkins' integral against two sums in use (common practice, no source).
    disc = np.linspace(0.0, 100.0, 201)
    exact = blur.total_blur_um(disc, 16.0)
    diffraction_um = blur.DIFFRACTION_DISC * 0.55 * 16.0
    cubes = (disc**3 + diffraction_um**3) ** (1.0 / 3.0)
    assert np.abs(cubes / exact - 1.0).max() < 0.03
    quadrature = np.hypot(disc, diffraction.airy_diameter_um(16.0))
    assert quadrature[0] / exact[0] == pytest.approx(1.4, rel=0.01)


def test_total_blur_is_the_disc_whose_half_contrast_the_defocused_lens_shares():
    for disc_um in (5.0, 20.0, 60.0, 5000.0):
        total = blur.total_blur_um(disc_um, 11.0)
        waves = disc_um / (8.0 * 0.55 * 11.0)
        at_half = 1000.0 * blur.MTF50_OF_DISC / total
        assert blur.defocused_mtf(at_half, 11.0, waves) == pytest.approx(0.5, abs=0.003)


@given(st.floats(0.1, 50.0), st.floats(0.1, 5.0))
def test_the_best_stop_is_a_maximum_of_the_half_contrast_frequency(subject, m):
    best = blur.best_effective_f_number(subject, m)
    disc = 1000.0 * m**2 * subject / 2.0

    def soft(f_number):
        return blur.total_blur_um(disc / f_number, f_number)

    assert soft(best) <= min(soft(best * 1.1), soft(best / 1.1))
    assert soft(best) == pytest.approx(blur.BEST_DISC * 0.55 * best, rel=2e-3)
    held = blur.largest_depth_mm(soft(best) / 1000.0, m)
    assert held == pytest.approx(subject, rel=5e-3)


def test_the_view_camera_rule_lies_a_third_of_a_stop_below_the_exact_one():
    # Hansma 1996 adds the Airy diameter in quadrature: 375 against 483 under the root.
    exact = blur.best_effective_f_number(1.0, 1.0, 0.546)
    apart = 2.0 * math.log2(exact / blur.hansma_f_number(1.0))
    assert apart == pytest.approx(0.36, abs=0.01)


@given(st.floats(2.0, 64.0), MAGNIFICATIONS)
def test_wave_depth_is_lambda_over_na_squared(f_number, m):
    na = conjugates.numerical_aperture(f_number, min(m, 1.9 * f_number))
    macro = depth.wave_depth_of_field_mm(f_number, min(m, 1.9 * f_number))
    assert macro * 1000.0 == pytest.approx(depth.wave_depth_of_field_um_from_na(na))


def test_a_numerical_aperture_of_one_is_refused():
    with pytest.raises(ValueError, match="magnification must be less than 2 effective"):
        conjugates.numerical_aperture(1.0, 2.0)


@given(st.floats(0.0, 100.0), st.floats(0.01, 10.0), st.floats(0.0, 0.9))
def test_a_stack_covers_its_subject_and_one_frame_fewer_does_not(subject, one, overlap):
    frames = stack.rail_frames(subject, one, overlap)
    step = stack.rail_step_mm(one, overlap)
    assert one + (frames - 1) * step >= subject - 1e-6
    if frames > 1:
        assert one + (frames - 2) * step < subject


@settings(deadline=None)
@given(st.floats(14.0, 200.0), st.floats(2.8, 22.0), st.floats(0.3, 20.0), st.floats(0.0, 0.6))
def test_landscape_frames_hold_every_distance(f, f_number, near, overlap):
    far = 1000.0
    got = stack.landscape_focus_distances_m(f, f_number, 0.03, near, far, overlap)
    assert len(got) == stack.landscape_frames(f, f_number, 0.03, near, far, overlap)
    half = 1000.0 * f_number * 0.03 / f**2  # dioptres either side of a focus
    ends = [(1.0 / s - half, 1.0 / s + half) for s in got]
    assert ends[0][0] <= 1.0 / far + 1e-9
    assert ends[-1][1] >= 1.0 / near - 1e-6
    assert all(b[0] <= a[1] + 1e-9 for a, b in zip(ends, ends[1:], strict=False))


def test_pipers_consecutive_depths():
    # Piper 1901: H, H / 3, H / 5 hold infinity to H / 2, H / 2 to H / 4, H / 4 to H / 6.
    got = stack.landscape_focus_distances_m(50.0, 8.0, 0.03, 2.0)
    hyperfocal = 50.0**2 / (8.0 * 0.03) / 1000.0
    assert got == pytest.approx([hyperfocal / k for k in (1, 3, 5)])


def test_a_rail_step_grows_the_picture_by_the_way_it_went_to_the_pupil():
    to_pupil = conjugates.entrance_pupil_to_subject_mm(100.0, 1.0, 0.5)
    assert stack.scale_change_per_step(0.3, 100.0, 1.0, 0.5) == pytest.approx(0.3 / to_pupil)
    # Half a millimetre at life size, rail one degree out, pixels of 5 um: 8.7 um of drift.
    assert stack.rail_drift_px(0.5, 1.0, 5.0, 1.0) == pytest.approx(1.7455, rel=1e-4)


@given(F_NUMBERS, MAGNIFICATIONS, COCS)
def test_a_step_at_the_sensor_is_the_step_at_the_subject_times_m_squared(f_number, m, coc):
    at_subject = stack.rail_step_mm(depth.depth_of_field_mm(f_number, m, coc), 0.25)
    assert stack.image_step_mm(f_number, coc, 0.25) == pytest.approx(m * m * at_subject)


@given(FOCALS, MAGNIFICATIONS, PUPILS)
def test_shake_is_the_angle_times_the_way_from_pupil_to_subject_drawn_at_m(f, m, p):
    to_pupil = conjugates.entrance_pupil_to_subject_mm(f, m, p)
    shifted = 1000.0 * math.radians(0.01) * to_pupil
    turned = shake.blur_from_rotation_um(0.01, f, m, p)
    assert turned == pytest.approx(shake.blur_from_translation_um(shifted, m))


def test_the_reciprocal_rule_and_what_close_up_makes_of_it():
    # Common practice, no source: 1/f far away; 1/150 at half life size, 1/200 at life size, 100 mm.
    for m, rule in ((0.0, 100.0), (0.5, 150.0), (1.0, 200.0)):
        assert 1.0 / shake.longest_exposure_s(30.0, 100.0, m) == pytest.approx(rule)
    # Riviere 1997, 49 um rms all at 10 Hz: 1/220 s at life size for 0.02 mm, shifting alone.
    shifting = shake.longest_exposure_s(20.0, 100.0, 1.0, 1.0, 0.0, shake.HAND_TRANSLATION_UM_PER_S)
    assert 1.0 / shifting == pytest.approx(220.0, rel=0.02)
    with pytest.raises(ValueError, match="must not both be 0"):
        shake.longest_exposure_s(20.0, 100.0, 1.0, 1.0, 0.0, 0.0)


@given(st.floats(0.01, 1.0), st.floats(0.0, 0.999))
def test_a_burst_is_long_enough_and_one_frame_fewer_is_not(hit, wanted):
    frames = shake.burst_frames(hit, wanted)
    assert shake.burst_hit_chance(hit, frames) >= wanted - 1e-6
    if frames > 1:
        assert shake.burst_hit_chance(hit, frames - 1) < wanted


def test_bursts_counted_by_hand():
    # One die, one six wanted with even chances: four throws (de Mere's problem).
    assert shake.burst_frames(1.0 / 6.0, 0.5) == 4
    assert shake.burst_hit_chance(1.0 / 6.0, 4.0) == pytest.approx(671.0 / 1296.0)


def test_exposure_values_of_the_apex_tables():
    # APEX: f/8 at 1/125 s is EV 13 (A 6, T 7); twice the ISO is one EV less.
    assert exposure.exposure_value(8.0, 1.0 / 128.0) == 13.0
    assert exposure.exposure_value(8.0, 1.0 / 128.0, 200.0) == 12.0


def test_ambient_light_five_stops_down_is_a_thirty_second_part():
    assert exposure.ambient_share(5.0) == 1.0 / 32.0
    assert exposure.ambient_share(0.0) == 1.0


def test_pixels_of_a_sensor_by_two_routes():
    # 6000 pixels on 36 mm are 166.67 to the mm, 4233.3 to the inch.
    assert sampling.pixel_pitch_um(6000.0 / 36.0 * 25.4, 2) == pytest.approx(
        sampling.pixel_pitch_um_from_width(36.0, 6000.0)
    )
    assert sampling.pixel_pitch_um(2000.0, 3) == sampling.pixel_pitch_um(200.0, 4) == 5.0


MONOTONE = [
    (aperture.effective_f_number, (4.0, 0.5, 1.0), (1, 1, -1)),
    (conjugates.magnification_from_distance, (600.0, 100.0, 0.0), (-1, 1, 1)),
    (conjugates.magnification_with_tube, (0.3, 20.0, 60.0), (1, 1, -1)),
    (conjugates.magnification_with_close_up_lens, (0.3, 60.0, 4.0, 10.0), (1, 1, 1, -1)),
    (depth.depth_of_field_mm, (16.0, 1.0, 0.03), (1, -1, 1)),
    (diffraction.airy_diameter_um, (16.0, 0.55), (1, 1)),
    (diffraction.diffraction_mtf, (20.0, 16.0, 0.55), (-1, -1, -1)),
    (blur.total_blur_um, (20.0, 16.0, 0.55), (1, 1, 1)),
    (blur.largest_depth_mm, (0.03, 1.0, 0.55), (1, -1, -1)),
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


def test_the_millimetre_step_holds_only_where_it_is_said_to():
    # Common practice, no source: 'about a millimetre a step', 25 % overlap. Full frame c = 0.030:
    # f/11 at life size just fits; f/8 up to 0.81, f/5.6 up to 0.64. Smaller sensor, c = 0.020:
    # f/11 up to 0.76, f/8 up to 0.62, f/5.6 up to 0.50.
    def largest(f_number, coc):
        m = np.linspace(0.2, 1.5, 13_001)
        effective = aperture.effective_f_number(f_number, m)
        steps = stack.rail_step_mm(depth.depth_of_field_mm(effective, m, coc), 0.25)
        return float(m[steps >= 1.0].max())

    assert largest(11.0, 0.03) == pytest.approx(1.0, abs=0.01)
    for f_number, coc, said in [
        (8.0, 0.03, 0.81),
        (5.6, 0.03, 0.64),
        (11.0, 0.02, 0.76),
        (8.0, 0.02, 0.62),
        (5.6, 0.02, 0.50),
    ]:
        assert largest(f_number, coc) == pytest.approx(said, abs=0.011)


def test_three_frames_from_half_a_metre_to_the_horizon():
    # Common practice, no source: 24 mm at f/8.
    assert stack.landscape_frames(24.0, 8.0, 0.03, 0.5) == 3
    assert stack.landscape_frames(24.0, 8.0, 0.03, 0.5, 30_000.0) == 3


def test_a_published_pupil_ratio_gives_the_published_trap():
    # Canon 100 macro p = 0.28 at 1:1 with f/2.8 must give 12.8, a number the app must never use.
    assert aperture.effective_f_number(2.8, 1.0, 0.28) == pytest.approx(12.8)
