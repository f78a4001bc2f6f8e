"""Our formulas against general-purpose libraries: prysm, astropy, scipy, optiland.

Not used as an oracle: prysm's `twolens_bfl` (divides by the focal length), its
`mag_to_object_dist` and `object_dist_to_mag` (mixed signs), and any library's
defocused transfer function that was found to disagree with a plain FFT.
"""

import warnings

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import j1, jn_zeros

from optics import accessories, aperture, best_stop, blur, conjugates, depth, diffraction

with warnings.catch_warnings():
    # prysm asks for setuptools' pkg_resources, which announces its own end.
    warnings.simplefilter("ignore")
    from prysm import otf, propagation, thinlens

WAVELENGTH_UM = 0.55


@pytest.mark.parametrize("pupil", [0.3, 0.9, 1.0, 1.5])
@pytest.mark.parametrize("magnification", [0.1, 1.0, 5.0])
def test_effective_f_number_is_prysms(magnification, pupil):
    theirs = thinlens.mag_to_fno(magnification, 4.0, pupil)
    assert aperture.effective_f_number(4.0, magnification, pupil) == pytest.approx(float(theirs))


def test_defocus_and_image_shift_are_prysms():
    theirs = thinlens.image_displacement_to_defocus(100.0, 8.0, WAVELENGTH_UM)
    assert blur.defocus_waves(0.1, 8.0) == pytest.approx(float(theirs))
    back = thinlens.defocus_to_image_displacement(0.25, 8.0, WAVELENGTH_UM)
    assert blur.image_shift_mm(0.25, 8.0) == pytest.approx(float(back) / 1000.0)


@pytest.mark.parametrize("separation", [0.0, 10.0, 60.0])
def test_two_lenses_are_prysms(separation):
    theirs = thinlens.twolens_efl(100.0, 250.0, separation)
    ours = accessories.combined_focal_length_mm(100.0, 250.0, separation)
    assert ours == pytest.approx(float(theirs))


@pytest.mark.parametrize("f_number", [2.8, 8.0, 32.0])
def test_diffraction_mtf_is_prysms(f_number):
    cycles = np.linspace(0.0, 0.98, 40) * diffraction.cutoff_cycles_per_mm(f_number)
    theirs = otf.diffraction_limited_mtf(f_number, WAVELENGTH_UM, frequencies=cycles)
    assert diffraction.diffraction_mtf(cycles, f_number) == pytest.approx(theirs, abs=1e-6)


def disc(samples):
    """A round stop on a grid: in where the sample's middle is; a grey rim would bias the OTF."""
    across = np.arange(samples) + 0.5 - samples / 2
    return (across[:, None] ** 2 + across[None, :] ** 2 <= (samples / 2) ** 2).astype(float)


@pytest.fixture(scope="module")
def stop():
    return disc(800)


@pytest.mark.parametrize("waves", [0.0, 0.1, 0.237, 0.5, 1.0, 2.0, 5.0])
def test_defocused_otf_is_the_fft_of_prysms_spot(stop, waves):
    samples = stop.shape[0]
    across = (np.arange(samples) + 0.5) / (samples / 2) - 1.0
    rho2 = across[:, None] ** 2 + across[None, :] ** 2
    spot = propagation.focus(stop * np.exp(2j * np.pi * waves * rho2), Q=2)
    transfer = np.fft.fft2(np.fft.ifftshift(spot)).real[0]
    shifts = np.arange(0, samples, 32)  # 25 frequencies, each a shift of whole samples
    theirs = transfer[shifts] / transfer[0]
    ours = blur.defocused_otf(1000.0 * shifts / samples, 1.0, waves, 1.0)
    assert np.abs(ours - theirs).max() < 2e-4


@pytest.mark.parametrize("waves", [0.05, 3.3, 40.0, 900.0])
def test_defocused_otf_is_hopkins_integral_by_scipy(waves):
    for nu in (0.01, 0.2, 0.6, 0.95):
        a = 8.0 * np.pi * waves * nu
        theirs = quad(
            lambda t, a=a, nu=nu: np.sin(a * (np.cos(t) - nu)) * np.cos(t),
            0.0,
            np.arccos(nu),
            limit=5000,
            epsabs=1e-12,
        )[0]
        ours = blur.defocused_otf(1000.0 * nu, 1.0, waves, 1.0)
        assert ours == pytest.approx(4.0 / (np.pi * a) * theirs, abs=1e-9)


@pytest.mark.parametrize("waves", [0.1, 0.25, 0.5, 1.3])
def test_strehl_is_the_peak_of_prysms_spot(stop, waves):
    samples = stop.shape[0]
    across = (np.arange(samples) + 0.5) / (samples / 2) - 1.0
    rho2 = across[:, None] ** 2 + across[None, :] ** 2
    field = stop * np.exp(2j * np.pi * waves * rho2)
    on_axis = abs(field.sum()) ** 2 / stop.sum() ** 2
    assert blur.strehl_ratio(waves) == pytest.approx(on_axis, abs=2e-4)


def test_the_airy_constant_is_scipys_bessel_zero():
    assert pytest.approx(jn_zeros(1, 1)[0] / np.pi, rel=1e-12) == diffraction.AIRY_FIRST_ZERO


def test_the_first_dark_ring_is_astropys():
    from astropy.modeling.models import AiryDisk2D

    radius = diffraction.airy_diameter_um(16.0) / 2.0
    pattern = AiryDisk2D(amplitude=1.0, x_0=0.0, y_0=0.0, radius=radius)
    near_ring = np.linspace(0.8, 1.2, 401) * radius
    darkest = near_ring[np.argmin(pattern(near_ring, 0.0))]
    assert darkest == pytest.approx(radius, rel=1e-3)
    assert pattern(radius, 0.0) < 1e-12


def test_the_constants_of_equal_mtf50_are_the_roots_scipy_finds():
    from scipy.optimize import brentq, minimize_scalar

    of_disc = brentq(lambda x: 2.0 * j1(np.pi * x) / (np.pi * x) - 0.5, 0.5, 0.9)
    assert of_disc == pytest.approx(blur.MTF50_OF_DISC, rel=1e-5)
    closed = brentq(lambda nu: diffraction.diffraction_mtf(1000.0 * nu, 1.0, 1.0) - 0.5, 0.3, 0.5)
    assert closed == pytest.approx(diffraction.MTF50_OF_CUTOFF, rel=1e-6)

    def half(waves):
        return brentq(lambda nu: blur.defocused_otf(1000.0 * nu, 1.0, waves, 1.0) - 0.5, 1e-3, 0.41)

    # At a fixed focus spread W goes as 1 / N^2, so the MTF50 goes as nu50 sqrt(W).
    best = minimize_scalar(
        lambda waves: -half(waves) * waves**0.5, bounds=(0.1, 0.5), method="bounded"
    )
    assert best.x == pytest.approx(best_stop.BEST_WAVES, rel=1e-3)
    assert of_disc / half(best_stop.BEST_WAVES) == pytest.approx(best_stop.BEST_DISC, rel=1e-5)


class Lens:
    """A published prescription in optiland, and paraxial rays through it."""

    def __init__(self, name):
        from optiland.samples import objectives

        lens = getattr(objectives, name)()
        self.paraxial, self.wavelength = lens.paraxial, lens.primary_wavelength
        self.image_z = float(np.ravel(lens.surfaces.positions)[-1])
        self.focal_mm = self.of("f2")
        self.front, self.rear = self.of("P1"), self.image_z + self.of("P2")
        self.hiatus_mm = self.rear - self.front
        self.pupil_z, self.pupil_mm = self.of("EPL"), self.of("EPD")
        self.pupil_ratio = self.of("XPD") / self.pupil_mm
        self.f_number = self.focal_mm / self.pupil_mm

    def of(self, name):
        return float(np.ravel(getattr(self.paraxial, name)())[0])

    def object_z(self, magnification):
        return self.front - self.focal_mm * (1.0 + 1.0 / magnification)

    def marginal(self, z):
        """Where the ray from the axis through the pupil's rim crosses again, and its slope."""
        slope = 0.5 * self.pupil_mm / (self.pupil_z - z)
        y, u = self.paraxial.trace_generic(0.0, slope, z, self.wavelength)
        height, steep = float(np.ravel(y)[-1]), float(np.ravel(u)[-1])
        return self.image_z - height / steep, steep

    def disc_mm(self, z, sensor_z):
        """Diameter on the sensor of a point on the axis at z."""
        crossing, steep = self.marginal(z)
        return 2.0 * abs(steep * (sensor_z - crossing))


LENSES = ["DoubleGauss", "Telephoto", "ReverseTelephoto", "TessarLens", "PetzvalLens"]


@pytest.fixture(scope="module")
def lenses():
    return {name: Lens(name) for name in LENSES}


@pytest.mark.parametrize("magnification", [0.1, 0.5, 1.0, 2.0])
@pytest.mark.parametrize("name", LENSES)
def test_distances_and_working_f_number_are_optilands_rays(lenses, name, magnification):
    lens = lenses[name]
    z = lens.object_z(magnification)
    sensor_z, steep = lens.marginal(z)
    ours = conjugates.sensor_to_subject_mm(lens.focal_mm, magnification, lens.hiatus_mm)
    assert sensor_z - z == pytest.approx(ours, rel=1e-6)
    effective = aperture.effective_f_number(lens.f_number, magnification, lens.pupil_ratio)
    assert 0.5 / abs(steep) == pytest.approx(effective, rel=1e-5)
    to_pupil = conjugates.entrance_pupil_to_subject_mm(
        lens.focal_mm, magnification, lens.pupil_ratio
    )
    assert lens.pupil_z - z == pytest.approx(to_pupil, rel=1e-5)


@pytest.mark.parametrize("magnification", [0.1, 0.5, 1.0])
@pytest.mark.parametrize("name", LENSES)
def test_near_and_far_limits_blur_optilands_rays_to_the_circle(lenses, name, magnification):
    lens = lenses[name]
    coc = lens.focal_mm / 4000.0
    z = lens.object_z(magnification)
    sensor_z, _ = lens.marginal(z)
    near, far = depth.near_and_far_depth_mm(
        lens.f_number, magnification, coc, lens.focal_mm, lens.pupil_ratio
    )
    assert lens.disc_mm(z + near, sensor_z) == pytest.approx(coc, rel=1e-4)
    assert lens.disc_mm(z - far, sensor_z) == pytest.approx(coc, rel=1e-4)
