"""Laws of diffraction and defocus whatever the numbers: limits, symmetry, scale."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import j1

from optics import aperture, best_stop, blur, depth, diffraction, sampling, transfer
from tests.optics.tried import F_NUMBERS, MAGNIFICATIONS, WAVELENGTHS


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
    best = best_stop.best_effective_f_number(subject, m)
    disc = 1000.0 * m**2 * subject / 2.0

    def soft(f_number):
        return blur.total_blur_um(disc / f_number, f_number)

    assert soft(best) <= min(soft(best * 1.1), soft(best / 1.1))
    assert soft(best) == pytest.approx(best_stop.BEST_DISC * 0.55 * best, rel=2e-3)
    held = best_stop.largest_depth_mm(soft(best) / 1000.0, m)
    assert held == pytest.approx(subject, rel=5e-3)


def test_the_view_camera_rule_lies_a_third_of_a_stop_below_the_exact_one():
    # Hansma 1996 adds the Airy diameter in quadrature: 375 against 483 under the root.
    exact = best_stop.best_effective_f_number(1.0, 1.0, 0.546)
    apart = 2.0 * math.log2(exact / best_stop.hansma_f_number(1.0))
    assert apart == pytest.approx(0.36, abs=0.01)


@given(st.floats(2.0, 64.0), MAGNIFICATIONS)
def test_wave_depth_is_lambda_over_na_squared(f_number, m):
    na = aperture.numerical_aperture(f_number, min(m, 1.9 * f_number))
    macro = depth.wave_depth_of_field_mm(f_number, min(m, 1.9 * f_number))
    assert macro * 1000.0 == pytest.approx(depth.wave_depth_of_field_um_from_na(na))


def test_a_numerical_aperture_of_one_is_refused():
    with pytest.raises(ValueError, match="magnification must be less than 2 effective"):
        aperture.numerical_aperture(1.0, 2.0)


@given(st.floats(0.0, 400.0), st.floats(1.0, 45.0), WAVELENGTHS)
def test_a_disc_and_its_total_blur_invert(disc, f_number, wavelength):
    total = blur.total_blur_um(disc, f_number, wavelength)
    # Near focus the total hardly moves with the disc, so a few digits go.
    alone = blur.DIFFRACTION_DISC * wavelength * f_number
    back = blur.disc_for_blur_um(total, f_number, wavelength)
    assert back == pytest.approx(disc, rel=1e-6, abs=1e-4 * alone)
    assert blur.disc_for_blur_um(0.9 * alone, f_number, wavelength) == 0.0


def test_many_points_at_once_are_the_same_points_one_by_one():
    # Many go by the cells' polynomials, few by the quadrature itself.
    random = np.random.default_rng(3)
    cycles, waves = random.uniform(0.0, 1100.0, 20_000), random.uniform(-8.0, 8.0, 20_000)
    together = blur.defocused_otf(cycles, 1.0, waves, 1.0)
    parts = [slice(k, k + 2000) for k in range(0, 20_000, 2000)]
    apart = np.concatenate([blur.defocused_otf(cycles[p], 1.0, waves[p], 1.0) for p in parts])
    assert together == pytest.approx(apart, abs=3e-12)
    # Where cells meet, and at the ends of both axes.
    corners = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
    nu, phase = np.meshgrid(corners, np.arange(0.0, 32.0))
    at_corners = transfer.by_cells(nu.ravel(), phase.ravel())
    assert at_corners == pytest.approx(transfer.by_quadrature(nu.ravel(), phase.ravel()), abs=3e-12)
