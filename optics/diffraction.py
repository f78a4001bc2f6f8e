"""How small a spot a perfect lens can draw. Spots in micrometres."""

import math

import numpy as np

from optics.given import Values, formula

AIRY_FIRST_ZERO = 1.2196698912665045  # first zero of J1 over pi
MTF50_OF_CUTOFF = 0.40397276  # where the diffraction MTF is one half


@formula()
def airy_diameter_um(effective_f_number: Values, wavelength_um: Values = 0.55) -> Values:
    """Return the diameter of the Airy disc, to its first dark ring.

    Parameters
    ----------
    effective_f_number : float or ndarray
        Image-side f-number; the marked one understates the spot.
    wavelength_um : float or ndarray
        Wavelength in air; 0.55 is mid green.

    Returns
    -------
    float or ndarray
        Diameter on the sensor in micrometres.

    Formula
    -------
    d = 2.44 lambda N_e

    References
    ----------
    M. Born and E. Wolf, Principles of Optics, 7th ed. (1999), section 8.5.2.
    Edmund Optics, Imaging Resource Guide 2.4, table 1.

    Examples
    --------
    >>> round(airy_diameter_um(16.0), 1)
    21.5
    """
    return 2.0 * AIRY_FIRST_ZERO * wavelength_um * effective_f_number


@formula()
def cutoff_cycles_per_mm(effective_f_number: Values, wavelength_um: Values = 0.55) -> Values:
    """Return the frequency beyond which nothing is drawn.

    Parameters
    ----------
    effective_f_number : float or ndarray
        Image-side f-number.
    wavelength_um : float or ndarray
        Wavelength in air.

    Returns
    -------
    float or ndarray
        Cycles per mm on the sensor.

    Formula
    -------
    cut-off = 1 / (lambda N_e)

    References
    ----------
    J. W. Goodman, Introduction to Fourier Optics, 3rd ed. (2005), section
    6.3 (from memory).

    Examples
    --------
    >>> round(cutoff_cycles_per_mm(8.0), 1)
    227.3
    """
    return 1000.0 / (wavelength_um * effective_f_number)


@formula()
def diffraction_mtf(
    cycles_per_mm: Values, effective_f_number: Values, wavelength_um: Values = 0.55
) -> Values:
    """Return the contrast a perfect lens with a round stop keeps.

    Parameters
    ----------
    cycles_per_mm : float or ndarray
        Frequency on the sensor, 0 or more.
    effective_f_number : float or ndarray
        Image-side f-number.
    wavelength_um : float or ndarray
        Wavelength in air.

    Returns
    -------
    float or ndarray
        Modulation from 1 down to 0 at the cut-off and beyond.

    Formula
    -------
    MTF = (2 / pi) (acos nu - nu sqrt(1 - nu^2)), nu = lambda N_e frequency

    References
    ----------
    J. W. Goodman, Introduction to Fourier Optics, 3rd ed. (2005), section
    6.3 (from memory).

    Examples
    --------
    >>> round(diffraction_mtf(30.0, 8.0), 4)
    0.8324
    """
    nu = np.minimum(wavelength_um * effective_f_number * np.asarray(cycles_per_mm) / 1000.0, 1.0)
    modulation: Values = (2.0 / math.pi) * (np.arccos(nu) - nu * np.sqrt(1.0 - nu * nu))
    return modulation


@formula()
def mtf50_cycles_per_mm(effective_f_number: Values, wavelength_um: Values = 0.55) -> Values:
    """Return the frequency at which half the contrast is left.

    Parameters
    ----------
    effective_f_number : float or ndarray
        Image-side f-number.
    wavelength_um : float or ndarray
        Wavelength in air.

    Returns
    -------
    float or ndarray
        Cycles per mm on the sensor, diffraction alone.

    Formula
    -------
    MTF50 = 0.404 / (lambda N_e)

    References
    ----------
    W. J. Smith, Modern Optical Engineering (50 % near 40 % of the cut-off),
    as quoted by R. Littlefield.

    Examples
    --------
    >>> round(mtf50_cycles_per_mm(16.0), 1)
    45.9
    """
    return MTF50_OF_CUTOFF * 1000.0 / (wavelength_um * effective_f_number)


@formula()
def effective_f_number_at_pixel_cutoff(
    pixel_pitch_um: Values, wavelength_um: Values = 0.55
) -> Values:
    """Return the f-number whose cut-off is the finest the pixels can hold.

    Parameters
    ----------
    pixel_pitch_um : float or ndarray
        Pixel pitch.
    wavelength_um : float or ndarray
        Wavelength in air.

    Returns
    -------
    float or ndarray
        Effective f-number; beyond it the pixels are finer than the light.

    Formula
    -------
    N_e = 2 P / lambda

    References
    ----------
    The cut-off set equal to the Nyquist frequency 1 / (2 P).

    Examples
    --------
    >>> round(effective_f_number_at_pixel_cutoff(4.38), 1)
    15.9
    """
    return 2.0 * pixel_pitch_um / wavelength_um


@formula()
def effective_f_number_at_airy_pixels(
    pixel_pitch_um: Values, pixels: Values = 3.0, wavelength_um: Values = 0.55
) -> Values:
    """Return the f-number whose Airy disc spans so many pixels.

    Parameters
    ----------
    pixel_pitch_um : float or ndarray
        Pixel pitch.
    pixels : float or ndarray
        Pixels across the disc.
    wavelength_um : float or ndarray
        Wavelength in air.

    Returns
    -------
    float or ndarray
        Effective f-number.

    Formula
    -------
    N_e = k P / (2.44 lambda)

    References
    ----------
    M. Born and E. Wolf, Principles of Optics, 7th ed. (1999), section 8.5.2.

    Examples
    --------
    >>> round(effective_f_number_at_airy_pixels(4.38), 1)
    9.8
    """
    return pixels * pixel_pitch_um / (2.0 * AIRY_FIRST_ZERO * wavelength_um)


@formula()
def subject_resolution_um(numerical_aperture: Values, wavelength_um: Values = 0.55) -> Values:
    """Return the finest line pair a lens can draw of the subject.

    Parameters
    ----------
    numerical_aperture : float or ndarray
        On the subject's side, see `aperture.numerical_aperture`.
    wavelength_um : float or ndarray
        Wavelength in air.

    Returns
    -------
    float or ndarray
        Width of the line pair in micrometres at the subject.

    Formula
    -------
    finest = lambda / (2 NA)

    References
    ----------
    E. Abbe (1873), as in M. Born and E. Wolf, Principles of Optics, 7th ed.
    (1999), section 8.6.3.

    Examples
    --------
    >>> round(subject_resolution_um(0.42), 2)
    0.65
    """
    return wavelength_um / (2.0 * numerical_aperture)
