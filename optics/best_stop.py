"""The best stop for a depth, between defocus and diffraction.

Close up, with the focus between both ends of the subject.
"""

import numpy as np

from optics.given import Limit, Values, formula

# The defocus at both limits of a depth that leaves the highest MTF50 there,
# and the disc of equal MTF50 at that defocus; found from `blur.defocused_otf`.
BEST_WAVES = 0.236846
BEST_DISC = 2.276499

SOME_DEPTH = Limit(1e-9, 1e9)


@formula(subject_depth_mm=SOME_DEPTH)
def best_effective_f_number(
    subject_depth_mm: Values, magnification: Values, wavelength_um: Values = 0.55
) -> Values:
    """Return the f-number that keeps both ends of a subject sharpest.

    Parameters
    ----------
    subject_depth_mm : float or ndarray
        Front to back of what should be sharp, more than 0, focus between.
    magnification : float or ndarray
        Image size over subject size, more than 0.
    wavelength_um : float or ndarray
        Wavelength in air.

    Returns
    -------
    float or ndarray
        Effective f-number with the highest MTF50 at the two limits.

    Notes
    -----
    Close up, where the subject's depth is small against its distance. The
    optimum is flat: half a stop either way costs a few per cent.

    Formula
    -------
    N_e = sqrt(m^2 T / (16 W lambda)), W = 0.237

    References
    ----------
    P. K. Hansma, View Camera Focusing in Practice, Photo Techniques
    (1996), has sqrt(375 s) from another sum of blurs; this one is
    sqrt(483 s) at 546 nm.

    Examples
    --------
    >>> round(best_effective_f_number(5.0, 0.5), 1)
    24.5
    """
    spread_um = 1000.0 * subject_depth_mm * magnification**2
    return np.sqrt(spread_um / (16.0 * BEST_WAVES * np.asarray(wavelength_um)))


@formula()
def largest_depth_mm(
    total_blur_mm: Values, magnification: Values, wavelength_um: Values = 0.55
) -> Values:
    """Return the deepest subject one frame can hold at a given blur.

    Parameters
    ----------
    total_blur_mm : float or ndarray
        Blur allowed at the limits, as the disc of equal MTF50.
    magnification : float or ndarray
        Image size over subject size, more than 0.
    wavelength_um : float or ndarray
        Wavelength in air.

    Returns
    -------
    float or ndarray
        Depth in mm, at the effective f-number b / (2.276 lambda); no focal
        length or pupil enters.

    Formula
    -------
    T = 16 W b^2 / (2.276^2 lambda m^2), W = 0.237

    References
    ----------
    H. H. Hopkins, The frequency response of a defocused optical system,
    Proc. R. Soc. A 231 (1955), 91-103, evaluated at the best stop.

    Examples
    --------
    >>> round(largest_depth_mm(0.02, 0.5), 1)
    2.1
    """
    in_waves = 1000.0 * np.asarray(total_blur_mm) ** 2 / (wavelength_um * np.square(magnification))
    return 16.0 * BEST_WAVES / BEST_DISC**2 * in_waves


@formula()
def hansma_f_number(image_shift_mm: Values, wavelength_um: Values = 0.546) -> Values:
    """Return the f-number of the view-camera rule, for comparison.

    Parameters
    ----------
    image_shift_mm : float or ndarray
        Whole focus spread at the image, either sign, not 0.
    wavelength_um : float or ndarray
        Wavelength in air; the published table used 0.546.

    Returns
    -------
    float or ndarray
        Effective f-number, 0.36 stop below `best_effective_f_number`
        because the rule adds the Airy diameter in quadrature.

    Formula
    -------
    N = sqrt(s / (4.88 lambda))

    References
    ----------
    P. K. Hansma, View Camera Focusing in Practice, Photo Techniques
    (1996), as tabulated by Q.-T. Luong, How to select the f-stop.

    Examples
    --------
    >>> round(hansma_f_number(1.0), 1)
    19.4
    """
    spread_um = 1000.0 * np.abs(image_shift_mm)
    if np.any(spread_um < 1e-6):
        raise ValueError("image_shift_mm must not be 0")
    return np.sqrt(spread_um / (2.0 * 2.44 * np.asarray(wavelength_um)))
