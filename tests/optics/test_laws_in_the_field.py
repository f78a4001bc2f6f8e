"""Laws of stacks, shake, bursts and exposure, and the rules of the trade they bear out."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optics import aperture, conjugates, depth, exposure, sampling, shake, stack
from tests.optics.tried import COCS, F_NUMBERS, FOCALS, MAGNIFICATIONS, PUPILS


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


@given(st.floats(-6.0, 20.0), F_NUMBERS, st.floats(25.0, 25600.0))
def test_a_light_and_the_time_it_asks_for_invert(ev, f_number, iso):
    time_s = exposure.exposure_s_for_light(ev, f_number, iso)
    assert exposure.exposure_value(f_number, time_s, iso) == pytest.approx(ev, abs=1e-9)
