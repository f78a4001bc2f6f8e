"""Our spot against poppy's: its peak out of focus, and the energy inside the first dark ring."""

import math
import warnings

import pytest

from optics import blur, diffraction

with warnings.catch_warnings():
    # poppy looks for accelerators that are not there and says so.
    warnings.simplefilter("ignore")
    import poppy

WAVELENGTH_M, RADIUS_M = 0.55e-6, 1.0


def spot(waves, samples=512, field_arcsec=0.105):
    """The intensity far behind a round stop with so many waves of defocus at its rim."""
    system = poppy.OpticalSystem(npix=samples, oversample=1)
    system.add_pupil(poppy.CircularAperture(radius=RADIUS_M))
    if waves:
        system.add_pupil(
            poppy.ThinLens(nwaves=waves, reference_wavelength=WAVELENGTH_M, radius=RADIUS_M)
        )
    system.add_detector(pixelscale=0.005, fov_arcsec=field_arcsec)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return system.calc_psf(wavelength=WAVELENGTH_M)


@pytest.fixture(scope="module")
def in_focus():
    return spot(0.0, field_arcsec=1.605)


def middle(picture):
    """The sample on the axis: the grid has an odd number."""
    data = picture[0].data
    assert data.shape[0] % 2
    return float(data[data.shape[0] // 2, data.shape[1] // 2])


def strehl(waves, samples):
    return middle(spot(waves, samples)) / middle(spot(0.0, samples))


@pytest.mark.parametrize("waves", [0.1, 0.25, 0.5, 0.75])
def test_strehl_out_of_focus_is_poppys(waves):
    # Their stop is made of samples and its rim errs as one over their number: twice as many
    # samples halve the error, so twice the finer less the coarser is without it.
    theirs = 2.0 * strehl(waves, 1024) - strehl(waves, 512)
    assert blur.strehl_ratio(waves) == pytest.approx(theirs, abs=1e-4)


def test_the_energy_inside_the_airy_disc_is_poppys(in_focus):
    # 83.8 %: 1 - J0(3.832)^2. At 1 rad = 206 265 arcsec, N = 1 / (2 R) for a focal length of 1 m.
    f_number = 1.0 / (2.0 * RADIUS_M)
    airy_um = diffraction.airy_diameter_um(f_number, 1e6 * WAVELENGTH_M)
    radius_arcsec = math.degrees(airy_um * 1e-6 / 2.0) * 3600.0
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        inside = float(poppy.measure_ee(in_focus)(radius_arcsec))
        wide = float(poppy.measure_ee(in_focus)(0.78))
    # The field ends at some 11 rings; 1.6 % of the light lies beyond it (1 - J0^2 - J1^2).
    from scipy.special import j0, j1

    edge = math.pi * (0.78 / 3600.0 * math.pi / 180.0) * 2.0 * RADIUS_M / WAVELENGTH_M
    assert inside / wide * (1.0 - j0(edge) ** 2 - j1(edge) ** 2) == pytest.approx(0.8378, abs=4e-3)
