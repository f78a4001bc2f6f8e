"""How wide the lens works: marked and effective f-numbers, light lost.

Effective means image-side: what the sensor sees. Work everything else out
from it, once; a recorded number that is already effective is never
multiplied again.
"""

import numpy as np

from optics.given import FROM_INFINITY, Values, formula


@formula()
def effective_f_number(
    f_number: Values, magnification: Values, pupil_magnification: Values = 1.0
) -> Values:
    """Return the f-number the lens works at when focused close.

    Parameters
    ----------
    f_number : float or ndarray
        Marked f-number: focal length over entrance pupil at this setting.
    magnification : float or ndarray
        Image size over subject size, more than 0.
    pupil_magnification : float or ndarray
        Exit over entrance pupil diameter, 0.01 to 100; 1 if not known.

    Returns
    -------
    float or ndarray
        Effective f-number, of the broadcast shape.

    Notes
    -----
    Exact for a lens that moves as a whole. For an internal-focus lens the
    marked number is not focal length over pupil any more: use pupil
    magnification 1 and allow 0.4 stop, or the effective number a body
    recorded. Never put a measured pupil magnification of such a lens in.

    Formula
    -------
    N_e = N (1 + m / p)

    References
    ----------
    J. Conrad, Depth of Field in Depth (2006), close-up photography.
    Canon, MP-E 65mm f/2.8 1-5x instruction booklet, p. 7 (p = 1).

    Examples
    --------
    >>> effective_f_number(8.0, 1.0)
    16.0
    """
    return f_number * (1.0 + magnification / pupil_magnification)


@formula()
def marked_f_number(
    effective_f_number: Values, magnification: Values, pupil_magnification: Values = 1.0
) -> Values:
    """Return the f-number to set so that the lens works at a wanted one.

    Parameters
    ----------
    effective_f_number : float or ndarray
        Image-side f-number that is wanted.
    magnification : float or ndarray
        Image size over subject size, more than 0.
    pupil_magnification : float or ndarray
        Exit over entrance pupil diameter, 0.01 to 100; 1 if not known.

    Returns
    -------
    float or ndarray
        Marked f-number, of the broadcast shape.

    Notes
    -----
    The inverse of `effective_f_number`, with the same validity.

    Formula
    -------
    N = N_e / (1 + m / p)

    References
    ----------
    B. Brown, Cinematography: Theory and Practice, close focus exposure.

    Examples
    --------
    >>> round(marked_f_number(8.0, 0.5), 1)
    5.3
    """
    return effective_f_number / (1.0 + magnification / pupil_magnification)


@formula()
def exposure_loss_stops(magnification: Values, pupil_magnification: Values = 1.0) -> Values:
    """Return the light lost to close focus, in stops.

    Parameters
    ----------
    magnification : float or ndarray
        Image size over subject size, more than 0.
    pupil_magnification : float or ndarray
        Exit over entrance pupil diameter, 0.01 to 100; 1 if not known.

    Returns
    -------
    float or ndarray
        Stops below the exposure at infinity, of the broadcast shape.

    Notes
    -----
    A meter behind the lens has already allowed for it. Valid as
    `effective_f_number` is.

    Formula
    -------
    stops = 2 log2(1 + m / p)

    References
    ----------
    Canon, MP-E 65mm f/2.8 1-5x instruction booklet, p. 7, exposure factors.
    M. Langford, Basic Photography, appendix on close-up exposure.

    Examples
    --------
    >>> exposure_loss_stops(1.0)
    2.0
    """
    return 2.0 * np.log2(1.0 + magnification / pupil_magnification)


@formula()
def exposure_factor(magnification: Values, pupil_magnification: Values = 1.0) -> Values:
    """Return how many times longer the exposure is than at infinity.

    Parameters
    ----------
    magnification : float or ndarray
        Image size over subject size, more than 0.
    pupil_magnification : float or ndarray
        Exit over entrance pupil diameter, 0.01 to 100; 1 if not known.

    Returns
    -------
    float or ndarray
        A factor, 1 or more, of the broadcast shape.

    Formula
    -------
    factor = (1 + m / p)^2

    References
    ----------
    US Army Signal School, subcourse SS0512, bellows extension factor.

    Examples
    --------
    >>> exposure_factor(0.5)
    2.25
    """
    return (1.0 + magnification / pupil_magnification) ** 2


@formula()
def f_number_from_aperture_value(apex: Values) -> Values:
    """Return the f-number of an Exif ApertureValue.

    Parameters
    ----------
    apex : float or ndarray
        Aperture value in APEX units, -20 to 40.

    Returns
    -------
    float or ndarray
        The f-number.

    Formula
    -------
    N = 2^(A / 2)

    References
    ----------
    CIPA DC-008, Exchangeable image file format, ApertureValue (0x9202).

    Examples
    --------
    >>> f_number_from_aperture_value(6.0)
    8.0
    """
    return 2.0 ** (apex / 2.0)


@formula(magnification_without=FROM_INFINITY)
def effective_f_number_with_close_up_lens(
    f_number: Values, magnification_without: Values, pupil_magnification: Values = 1.0
) -> Values:
    """Return the effective f-number of a lens wearing a close-up lens.

    Parameters
    ----------
    f_number : float or ndarray
        Marked f-number of the lens itself.
    magnification_without : float or ndarray
        Magnification the same focus setting gives *without* the close-up
        lens; 0 at infinity.
    pupil_magnification : float or ndarray
        Exit over entrance pupil diameter, 0.01 to 100; 1 if not known.

    Returns
    -------
    float or ndarray
        Effective f-number, of the broadcast shape.

    Notes
    -----
    The image distance and the entrance pupil stay as they were, so a
    close-up lens costs no light: its own magnification must not go into
    the factor. A common slip.

    Formula
    -------
    N_e = N (1 + m0 / p)

    References
    ----------
    S. F. Ray, Applied Photographic Optics, supplementary lenses (from
    memory; the rule follows from the definition of the f-number).

    Examples
    --------
    >>> effective_f_number_with_close_up_lens(8.0, 0.0)
    8.0
    """
    return f_number * (1.0 + magnification_without / pupil_magnification)


@formula()
def effective_f_number_reversed(
    f_number: Values, magnification: Values, pupil_magnification: Values = 1.0
) -> Values:
    """Return the effective f-number of a lens mounted back to front.

    Parameters
    ----------
    f_number : float or ndarray
        f-number marked on the lens.
    magnification : float or ndarray
        Image size over subject size as set up, more than 0.
    pupil_magnification : float or ndarray
        Exit over entrance pupil diameter of the lens the right way round.

    Returns
    -------
    float or ndarray
        Effective f-number, of the broadcast shape.

    Notes
    -----
    Reversed, the old exit pupil faces the subject. The magnification itself
    hangs on the mount and cannot be had from the focal length: measure it.

    Formula
    -------
    N_e = N (1 / p + m)

    References
    ----------
    J. Conrad, Depth of Field in Depth (2006), reversed lenses (the formula
    follows from N / p as the f-number of the reversed lens).

    Examples
    --------
    >>> effective_f_number_reversed(4.0, 2.0, 2.0)
    10.0
    """
    return f_number * (1.0 / pupil_magnification + magnification)


@formula()
def effective_f_number_of_coupled_lenses(
    rear_f_number: Values, front_f_number: Values, magnification: Values
) -> Values:
    """Return the effective f-number of a lens reversed on another.

    Parameters
    ----------
    rear_f_number : float or ndarray
        f-number set on the lens at the camera, focused at infinity.
    front_f_number : float or ndarray
        f-number set on the reversed front lens, focused at infinity.
    magnification : float or ndarray
        Rear over front focal length, more than 0.

    Returns
    -------
    float or ndarray
        Effective f-number: the smaller pupil decides.

    Formula
    -------
    N_e = max(N_rear, m N_front)

    References
    ----------
    R. Flake, Reversed Lens Article (the magnification; the f-number follows
    from the pupil diameters f / N of the two lenses).

    Examples
    --------
    >>> effective_f_number_of_coupled_lenses(4.0, 2.0, 3.0)
    6.0
    """
    return np.maximum(rear_f_number, magnification * front_f_number)


@formula()
def effective_f_number_with_teleconverter(effective_f_number: Values, factor: Values) -> Values:
    """Return the effective f-number behind a teleconverter.

    Parameters
    ----------
    effective_f_number : float or ndarray
        Effective f-number of everything in front of the converter.
    factor : float or ndarray
        Factor of the converter, such as 1.4 or 2.

    Returns
    -------
    float or ndarray
        Effective f-number, of the broadcast shape.

    Formula
    -------
    N_e' = k N_e

    References
    ----------
    Nikon, Micro-Nikkor 55mm f/2.8 manual, use with TC-201 (magnification
    and light lost go together).

    Examples
    --------
    >>> effective_f_number_with_teleconverter(8.0, 2.0)
    16.0
    """
    return factor * effective_f_number


@formula()
def numerical_aperture(effective_f_number: Values, magnification: Values) -> Values:
    """Return the numerical aperture on the subject's side, in air.

    Parameters
    ----------
    effective_f_number : float or ndarray
        Image-side f-number.
    magnification : float or ndarray
        Image size over subject size, less than 2 effective f-numbers.

    Returns
    -------
    float or ndarray
        Sine of the half angle the lens takes in, below 1.

    Formula
    -------
    NA = m / (2 N_e)

    References
    ----------
    M. Born and E. Wolf, Principles of Optics, 7th ed. (1999), section
    4.5.1, sine condition.

    Examples
    --------
    >>> numerical_aperture(20.0, 4.0)
    0.1
    """
    aperture = np.asarray(magnification / (2.0 * np.asarray(effective_f_number)))
    if np.any(aperture >= 1.0):
        raise ValueError(
            "magnification must be less than 2 effective_f_number in air, got a numerical "
            f"aperture of {np.max(aperture):g}"
        )
    return aperture
