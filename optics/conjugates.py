"""Where the subject is and how large it is drawn: a lens, its image and its subject.

Paraxial. Magnification is positive. Distances from the sensor, from the
lens and from the entrance pupil are different names, never a flag.
"""

import numpy as np

# They live in `accessories`; promised here too, to callers outside (tests/optics/test_promised.py).
from optics.accessories import close_up_working_distance_mm as close_up_working_distance_mm
from optics.accessories import combined_focal_length_mm as combined_focal_length_mm
from optics.accessories import magnification_of_coupled_lenses as magnification_of_coupled_lenses
from optics.accessories import magnification_with_close_up_lens as magnification_with_close_up_lens
from optics.accessories import magnification_with_teleconverter as magnification_with_teleconverter
from optics.accessories import magnification_with_tube as magnification_with_tube
from optics.given import FROM_INFINITY, Values, formula


@formula()
def magnification_from_distance(
    sensor_to_subject_mm: Values, focal_length_mm: Values, hiatus_mm: Values = 0.0
) -> Values:
    """Return the magnification (life size or less) at a focus distance.

    Parameters
    ----------
    sensor_to_subject_mm : float or ndarray
        Sensor plane to subject, at least 4 focal lengths plus the hiatus.
    focal_length_mm : float or ndarray
        Focal length at this focus setting.
    hiatus_mm : float or ndarray
        Front to rear principal plane, may be negative; 0 is the thin lens.

    Returns
    -------
    float or ndarray
        Magnification, 1 or less. Above life size the same distance stands
        for 1 / m: the distance alone cannot tell the two apart.

    Notes
    -----
    A lens that moves as a whole. A relative error of the distance comes out
    (1 + m) / (1 - m) times as large: threefold at half life size, without
    bound at life size.

    Formula
    -------
    m = (t - sqrt(t^2 - 4)) / 2, t = (D - HH') / f - 2

    References
    ----------
    M. Born and E. Wolf, Principles of Optics, 7th ed. (1999), section 4.4,
    thick lens conjugates.

    Examples
    --------
    >>> round(magnification_from_distance(450.0, 100.0), 3)
    0.5
    """
    t = np.asarray((sensor_to_subject_mm - hiatus_mm) / focal_length_mm - 2.0)
    # Rounding may put a distance of exactly four focal lengths a hair short.
    if np.any(t < 2.0 - 1e-9):
        raise ValueError(
            "sensor_to_subject_mm must be at least 4 focal_length_mm + hiatus_mm, got "
            f"{np.min(sensor_to_subject_mm):g} with {np.max(focal_length_mm):g}: "
            "no lens of this focal length focuses that close"
        )
    t = np.maximum(t, 2.0)
    # The root written so that no digits are lost far away.
    magnification: Values = 2.0 / (t + np.sqrt(t * t - 4.0))
    return magnification


@formula()
def sensor_to_subject_mm(
    focal_length_mm: Values, magnification: Values, hiatus_mm: Values = 0.0
) -> Values:
    """Return the distance from the sensor to the subject.

    Parameters
    ----------
    focal_length_mm : float or ndarray
        Focal length at this focus setting.
    magnification : float or ndarray
        Image size over subject size, more than 0.
    hiatus_mm : float or ndarray
        Front to rear principal plane, may be negative; 0 is the thin lens.

    Returns
    -------
    float or ndarray
        Distance in mm, of the broadcast shape.

    Formula
    -------
    D = f (2 + m + 1 / m) + HH'

    References
    ----------
    M. Born and E. Wolf, Principles of Optics, 7th ed. (1999), section 4.4.

    Examples
    --------
    >>> sensor_to_subject_mm(100.0, 1.0)
    400.0
    """
    return focal_length_mm * (2.0 + magnification + 1.0 / magnification) + hiatus_mm


@formula()
def magnification_uncertainty_from_distance(
    distance_uncertainty_mm: Values, focal_length_mm: Values, magnification: Values
) -> Values:
    """Return how far off a magnification worked out from distance may be.

    Parameters
    ----------
    distance_uncertainty_mm : float or ndarray
        How far off the distance may be, either way.
    focal_length_mm : float or ndarray
        Focal length at this focus setting.
    magnification : float or ndarray
        Magnification worked out, not within 0.0001 of life size, where the
        distance says nothing.

    Returns
    -------
    float or ndarray
        Uncertainty of the magnification, first order, either way.

    Formula
    -------
    dm = m^2 dD / (f |1 - m^2|)

    References
    ----------
    The derivative of the thick-lens distance, see `sensor_to_subject_mm`.

    Examples
    --------
    >>> round(magnification_uncertainty_from_distance(10.0, 100.0, 0.5), 4)
    0.0333
    """
    if np.any(abs(np.asarray(magnification) - 1.0) < 1e-4):
        raise ValueError("magnification must not be 1 (0.9999 to 1.0001): distance says nothing")
    squared = np.asarray(magnification) ** 2
    return squared * distance_uncertainty_mm / (focal_length_mm * abs(1.0 - squared))


@formula()
def focal_length_from_distance_mm(
    sensor_to_subject_mm: Values, magnification: Values, hiatus_mm: Values = 0.0
) -> Values:
    """Return the focal length a lens has when it focuses this close.

    Parameters
    ----------
    sensor_to_subject_mm : float or ndarray
        Sensor plane to subject, more than the hiatus.
    magnification : float or ndarray
        Image size over subject size there, more than 0.
    hiatus_mm : float or ndarray
        Front to rear principal plane, may be negative; 0 if not known.

    Returns
    -------
    float or ndarray
        Focal length in mm. With the hiatus not known it may be 20 % off.

    Formula
    -------
    f = (D - HH') / (2 + m + 1 / m)

    References
    ----------
    M. Born and E. Wolf, Principles of Optics, 7th ed. (1999), section 4.4.

    Examples
    --------
    >>> focal_length_from_distance_mm(300.0, 1.0)
    75.0
    """
    free = np.asarray(sensor_to_subject_mm - hiatus_mm)
    if np.any(free <= 0.0):
        raise ValueError(
            f"sensor_to_subject_mm must be more than hiatus_mm, got {np.min(free):g} mm between"
        )
    return free / (2.0 + magnification + 1.0 / magnification)


@formula(magnification=FROM_INFINITY)
def internal_focus_focal_length_mm(
    magnification: Values,
    focal_length_mm: Values,
    closest_focal_length_mm: Values,
    closest_magnification: Values,
) -> Values:
    """Return the focal length of an internal-focus lens, part way in.

    Parameters
    ----------
    magnification : float or ndarray
        Where the lens is focused now, 0 at infinity.
    focal_length_mm : float or ndarray
        Focal length at infinity.
    closest_focal_length_mm : float or ndarray
        Focal length at the closest focus.
    closest_magnification : float or ndarray
        Largest magnification the lens reaches by itself, more than 0.

    Returns
    -------
    float or ndarray
        Focal length in mm, a straight line between the two ends. Measured
        focal lengths lie within a few per cent of it; beyond the closest
        focus the closest focal length is returned.

    Formula
    -------
    f(m) = f_inf + (f_close - f_inf) m / m_max

    References
    ----------
    W. J. Claff, Optics Primer 12 (104, 94 and 75 mm at 0, 0.5 and 1:1).

    Examples
    --------
    >>> internal_focus_focal_length_mm(0.5, 104.0, 75.0, 1.0)
    89.5
    """
    share = np.minimum(np.asarray(magnification) / closest_magnification, 1.0)
    return focal_length_mm + (closest_focal_length_mm - focal_length_mm) * share


@formula()
def magnification_from_frame_width(sensor_width_mm: Values, subject_width_mm: Values) -> Values:
    """Return the magnification from how much of a ruler fills the frame.

    Parameters
    ----------
    sensor_width_mm : float or ndarray
        Width of the sensor area recorded; less than the sensor when the
        frame was cropped in the camera.
    subject_width_mm : float or ndarray
        What fills that width at the subject.

    Returns
    -------
    float or ndarray
        Magnification. Needs no lens model: as good as the ruler.

    Formula
    -------
    m = sensor width / subject width

    References
    ----------
    The definition of magnification; ISO 517:2008 gives the terms (from
    memory).

    Examples
    --------
    >>> magnification_from_frame_width(36.0, 72.0)
    0.5
    """
    return sensor_width_mm / subject_width_mm


@formula()
def subject_width_mm(sensor_width_mm: Values, magnification: Values) -> Values:
    """Return the width of subject that fills the frame.

    Parameters
    ----------
    sensor_width_mm : float or ndarray
        Width of the sensor area recorded.
    magnification : float or ndarray
        Image size over subject size, more than 0.

    Returns
    -------
    float or ndarray
        Width in mm at the subject.

    Formula
    -------
    subject width = sensor width / m

    References
    ----------
    The definition of magnification.

    Examples
    --------
    >>> subject_width_mm(36.0, 3.0)
    12.0
    """
    return sensor_width_mm / magnification


@formula(magnification=FROM_INFINITY)
def extension_mm(focal_length_mm: Values, magnification: Values) -> Values:
    """Return how far the whole lens stands out from its infinity setting.

    Parameters
    ----------
    focal_length_mm : float or ndarray
        Focal length.
    magnification : float or ndarray
        Image size over subject size, 0 at infinity.

    Returns
    -------
    float or ndarray
        Extension in mm: focus travel, tubes and bellows together.

    Formula
    -------
    e = m f

    References
    ----------
    Schaefter + Kirchhoff, Lens extension, example 1.

    Examples
    --------
    >>> round(extension_mm(50.0, 0.099), 2)
    4.95
    """
    return magnification * focal_length_mm


@formula()
def entrance_pupil_to_subject_mm(
    focal_length_mm: Values, magnification: Values, pupil_magnification: Values = 1.0
) -> Values:
    """Return the distance that sets the perspective.

    Parameters
    ----------
    focal_length_mm : float or ndarray
        Focal length at this focus setting.
    magnification : float or ndarray
        Image size over subject size, more than 0.
    pupil_magnification : float or ndarray
        Exit over entrance pupil diameter, 0.01 to 100; 1 if not known.

    Returns
    -------
    float or ndarray
        Entrance pupil to subject in mm.

    Formula
    -------
    s = f (1 / m + 1 / p)

    References
    ----------
    J. Conrad, Depth of Field in Depth (2006), pupil magnification.

    Examples
    --------
    >>> entrance_pupil_to_subject_mm(100.0, 1.0)
    200.0
    """
    return focal_length_mm * (1.0 / magnification + 1.0 / pupil_magnification)
