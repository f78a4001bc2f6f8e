"""Defocus and diffraction together: the exact transfer function and what follows.

One equation carries the module: the transfer function of a round stop out
of focus, as a single integral. With W waves of defocus at the rim of the
pupil the disc of geometry is 8 W wavelengths times the f-number across.
"""

import functools

import numpy as np

# They live in `best_stop`; promised here too, to callers outside (tests/optics/test_promised.py).
from optics.best_stop import best_effective_f_number as best_effective_f_number
from optics.best_stop import largest_depth_mm as largest_depth_mm
from optics.diffraction import MTF50_OF_CUTOFF
from optics.given import Floats, Values, formula
from optics.transfer import normalised_otf

MTF50_OF_DISC = 0.7050848  # diameter times frequency where a plain disc passes half
DIFFRACTION_DISC = MTF50_OF_DISC / MTF50_OF_CUTOFF  # 1.745, in wavelengths times f-number
TABLE_END_WAVES = 64.0


@formula()
def defocus_waves(
    image_shift_mm: Values, effective_f_number: Values, wavelength_um: Values = 0.55
) -> Values:
    """Return the defocus at the rim of the pupil, in waves.

    Parameters
    ----------
    image_shift_mm : float or ndarray
        Sensor plane to sharp image, either sign; m^2 times the shift at
        the subject.
    effective_f_number : float or ndarray
        Image-side f-number.
    wavelength_um : float or ndarray
        Wavelength in air; 0.55 is mid green.

    Returns
    -------
    float or ndarray
        Wavefront error W020 in waves, with the sign of the shift.

    Formula
    -------
    W = dz / (8 lambda N_e^2)

    References
    ----------
    H. H. Hopkins, The frequency response of a defocused optical system,
    Proc. R. Soc. A 231 (1955), 91-103.

    Examples
    --------
    >>> round(defocus_waves(0.1, 8.0), 3)
    0.355
    """
    return 1000.0 * image_shift_mm / (8.0 * wavelength_um * effective_f_number**2)


@formula()
def image_shift_mm(
    waves: Values, effective_f_number: Values, wavelength_um: Values = 0.55
) -> Values:
    """Return the shift of the image plane that makes so much defocus.

    Parameters
    ----------
    waves : float or ndarray
        Wavefront error W020 at the rim, -1000 to 1000 waves.
    effective_f_number : float or ndarray
        Image-side f-number.
    wavelength_um : float or ndarray
        Wavelength in air.

    Returns
    -------
    float or ndarray
        Shift in mm at the sensor. The inverse of `defocus_waves`.

    Formula
    -------
    dz = 8 lambda N_e^2 W

    References
    ----------
    H. H. Hopkins, The frequency response of a defocused optical system,
    Proc. R. Soc. A 231 (1955), 91-103.

    Examples
    --------
    >>> round(image_shift_mm(0.25, 8.0), 4)
    0.0704
    """
    return 8.0 * wavelength_um * effective_f_number**2 * waves / 1000.0


@formula()
def defocus_disc_um(image_shift_mm: Values, effective_f_number: Values) -> Values:
    """Return the diameter of the disc geometry draws of a point.

    Parameters
    ----------
    image_shift_mm : float or ndarray
        Sensor plane to sharp image, either sign.
    effective_f_number : float or ndarray
        Image-side f-number.

    Returns
    -------
    float or ndarray
        Diameter on the sensor in micrometres.

    Formula
    -------
    c = |dz| / N_e

    References
    ----------
    J. Conrad, Depth of Field in Depth (2006), blur spots.

    Examples
    --------
    >>> defocus_disc_um(0.16, 8.0)
    20.0
    """
    return 1000.0 * np.abs(image_shift_mm) / effective_f_number


@formula()
def defocused_otf(
    cycles_per_mm: Values,
    effective_f_number: Values,
    waves: Values,
    wavelength_um: Values = 0.55,
) -> Values:
    """Return the signed transfer function of a round stop out of focus.

    Parameters
    ----------
    cycles_per_mm : float or ndarray
        Frequency on the sensor, 0 or more.
    effective_f_number : float or ndarray
        Image-side f-number.
    waves : float or ndarray
        Wavefront error W020 at the rim, -1000 to 1000 waves.
    wavelength_um : float or ndarray
        Wavelength in air.

    Returns
    -------
    float or ndarray
        From 1 down; below 0 dark and light change places.

    Notes
    -----
    Exact for one wavelength and a lens without aberrations. Hopkins'
    integral over the half angle is taken in y with cos = 1 - (1 - nu) y^2,
    where it has no root to lose digits in.

    Formula
    -------
    OTF = 4 / (pi a) integral from 0 to acos nu of sin(a (cos t - nu)) cos t dt,
    a = 8 pi W nu, nu = lambda N_e frequency

    References
    ----------
    H. H. Hopkins, The frequency response of a defocused optical system,
    Proc. R. Soc. A 231 (1955), 91-103.

    Examples
    --------
    >>> round(defocused_otf(45.0, 16.0, 1.0), 3)
    -0.038
    """
    nu = wavelength_um * effective_f_number * np.asarray(cycles_per_mm) / 1000.0
    nu, rim = np.broadcast_arrays(np.minimum(nu, 1.0), np.abs(waves))
    return normalised_otf(nu.ravel(), rim.ravel()).reshape(nu.shape)


@formula()
def defocused_mtf(
    cycles_per_mm: Values,
    effective_f_number: Values,
    waves: Values,
    wavelength_um: Values = 0.55,
) -> Values:
    """Return the contrast a round stop keeps out of focus.

    Parameters
    ----------
    cycles_per_mm : float or ndarray
        Frequency on the sensor, 0 or more.
    effective_f_number : float or ndarray
        Image-side f-number.
    waves : float or ndarray
        Wavefront error W020 at the rim, -1000 to 1000 waves.
    wavelength_um : float or ndarray
        Wavelength in air.

    Returns
    -------
    float or ndarray
        Modulation from 1 to 0, the size of `defocused_otf` without sign.

    Formula
    -------
    MTF = |OTF|

    References
    ----------
    H. H. Hopkins, The frequency response of a defocused optical system,
    Proc. R. Soc. A 231 (1955), 91-103.

    Examples
    --------
    >>> round(defocused_mtf(30.0, 8.0, 0.25), 3)
    0.78
    """
    return abs(defocused_otf(cycles_per_mm, effective_f_number, waves, wavelength_um))


@formula()
def strehl_ratio(waves: Values) -> Values:
    """Return the peak of a defocused spot over that of a sharp one.

    Parameters
    ----------
    waves : float or ndarray
        Wavefront error W020 at the rim, -1000 to 1000 waves.

    Returns
    -------
    float or ndarray
        1 in focus, 0.81 at a quarter wave.

    Formula
    -------
    Strehl = (sin(pi W) / (pi W))^2

    References
    ----------
    M. Born and E. Wolf, Principles of Optics, 7th ed. (1999), section 8.8.2.

    Examples
    --------
    >>> round(strehl_ratio(0.25), 2)
    0.81
    """
    return np.sinc(waves) ** 2


@formula()
def total_blur_um(
    defocus_disc_um: Values, effective_f_number: Values, wavelength_um: Values = 0.55
) -> Values:
    """Return the plain disc that is as soft as defocus and diffraction are.

    Parameters
    ----------
    defocus_disc_um : float or ndarray
        Diameter of the disc of geometry on the sensor, 0 in focus.
    effective_f_number : float or ndarray
        Image-side f-number.
    wavelength_um : float or ndarray
        Wavelength in air.

    Returns
    -------
    float or ndarray
        Diameter in micrometres of the disc with the same MTF50.

    Notes
    -----
    From the exact transfer function, held to 0.1 %. Adding the Airy
    diameter in quadrature reads 40 % high in focus; the cube root of the
    summed cubes of the disc and 1.745 lambda N_e is within 3 %.

    Formula
    -------
    b = 0.705 / f50, where the defocused MTF at f50 is one half

    References
    ----------
    H. H. Hopkins, The frequency response of a defocused optical system,
    Proc. R. Soc. A 231 (1955), 91-103.

    Examples
    --------
    >>> round(total_blur_um(0.0, 16.0), 1)
    15.4
    """
    unit = np.asarray(wavelength_um * effective_f_number)
    waves, discs = disc_table()
    defocus = np.asarray(defocus_disc_um) / (8.0 * unit)
    # Past the table the two discs differ by a constant, see the tests.
    beyond = np.maximum(defocus - TABLE_END_WAVES, 0.0) * 8.0
    return unit * (np.interp(defocus, waves, discs) + beyond)


@formula()
def disc_for_blur_um(
    blur_um: Values, effective_f_number: Values, wavelength_um: Values = 0.55
) -> Values:
    """Return the disc of defocus that leaves a given total blur.

    Parameters
    ----------
    blur_um : float or ndarray
        Total blur on the sensor, as the plain disc of equal MTF50.
    effective_f_number : float or ndarray
        Image-side f-number.
    wavelength_um : float or ndarray
        Wavelength in air.

    Returns
    -------
    float or ndarray
        Diameter of the disc of geometry in micrometres; 0 where diffraction
        alone is as much as the blur or more.

    Notes
    -----
    The inverse of `total_blur_um`, from the same table.

    Formula
    -------
    b(c, N_e) = b, where b(c, N_e) is the total blur and c is looked for

    References
    ----------
    H. H. Hopkins, The frequency response of a defocused optical system,
    Proc. R. Soc. A 231 (1955), 91-103.

    Examples
    --------
    >>> round(disc_for_blur_um(30.0, 16.0), 1)
    29.5
    """
    unit = np.asarray(wavelength_um * effective_f_number)
    waves, discs = disc_table()
    disc = np.asarray(blur_um) / unit
    beyond = np.maximum(disc - discs[-1], 0.0)
    defocus: Values = unit * (8.0 * np.interp(disc, discs, waves) + beyond)
    return defocus


@functools.cache
def disc_table() -> tuple[Floats, Floats]:
    """Defocus in waves, and the disc of equal MTF50 in wavelengths times f-number."""
    waves = np.concatenate(
        [np.linspace(0.0, 3.0, 301), np.geomspace(3.0, TABLE_END_WAVES, 200)[1:]]
    )
    low = np.zeros(waves.shape)
    high = np.minimum(MTF50_OF_CUTOFF + 1e-3, 0.9 / (8.0 * np.maximum(waves, 1e-3)))
    for _ in range(45):
        middle = 0.5 * (low + high)
        above = normalised_otf(middle, waves) > 0.5
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return waves, MTF50_OF_DISC / low
