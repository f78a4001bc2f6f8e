"""Blur from a hand that moves, and how many frames a burst needs.

At life size a lens is as sensitive to being shifted as to being turned,
which is why a stabiliser that only counters turning helps less close up.
"""

import math

import numpy as np

from optics.given import FROM_INFINITY, Values, count_formula, formula

# The reciprocal rule, 1 / f seconds for 0.03 mm of blur, is 0.03 rad/s.
RECIPROCAL_RULE_DEG_PER_S = 1.7188733853924697
# Surgeons holding an instrument still (Riviere, Rader and Khosla 1997).
HAND_TREMOR_RMS_UM = 49.0
# Its peak speed if all of it were at 10 Hz: an upper bound, most of a tremor
# is slower.
HAND_TRANSLATION_UM_PER_S = 2.0 * math.pi * 10.0 * math.sqrt(2.0) * HAND_TREMOR_RMS_UM
STABILISER_BLUR_UM = 63.0  # ISO 20954-1:2019, clause 3.5, on 36 x 24 mm


@formula(magnification=FROM_INFINITY)
def blur_from_rotation_um(
    rotation_deg: Values,
    focal_length_mm: Values,
    magnification: Values,
    pupil_magnification: Values = 1.0,
) -> Values:
    """Return the smear on the sensor when the camera turns.

    Parameters
    ----------
    rotation_deg : float or ndarray
        Angle turned about the entrance pupil during the exposure, degrees,
        small.
    focal_length_mm : float or ndarray
        Focal length at this focus setting.
    magnification : float or ndarray
        Image size over subject size, 0 at infinity.
    pupil_magnification : float or ndarray
        Exit over entrance pupil diameter, 0.01 to 100; 1 if not known.

    Returns
    -------
    float or ndarray
        Length in micrometres on the sensor.

    Notes
    -----
    Turning about a point L mm behind the entrance pupil also shifts it by
    L times the angle: add `blur_from_translation_um`.

    Formula
    -------
    b = angle f (1 + m / p)

    References
    ----------
    ISO 20954-1:2019 for the quantity; m times the distance from entrance
    pupil to subject, see `conjugates.entrance_pupil_to_subject_mm`.

    Examples
    --------
    >>> round(blur_from_rotation_um(0.0722, 50.0, 0.0))
    63
    """
    reach_mm = focal_length_mm * (1.0 + magnification / pupil_magnification)
    return 1000.0 * np.radians(rotation_deg) * reach_mm


@formula()
def blur_from_translation_um(translation_um: Values, magnification: Values) -> Values:
    """Return the smear on the sensor when the camera shifts sideways.

    Parameters
    ----------
    translation_um : float or ndarray
        Shift during the exposure, parallel to the sensor, 0 or more.
    magnification : float or ndarray
        Image size over subject size, more than 0.

    Returns
    -------
    float or ndarray
        Length in micrometres on the sensor.

    Formula
    -------
    b = m x

    References
    ----------
    The definition of magnification.

    Examples
    --------
    >>> blur_from_translation_um(49.0, 1.0)
    49.0
    """
    return magnification * translation_um


@formula(magnification=FROM_INFINITY)
def longest_exposure_s(
    blur_um: Values,
    focal_length_mm: Values,
    magnification: Values,
    pupil_magnification: Values = 1.0,
    rotation_deg_per_s: Values = RECIPROCAL_RULE_DEG_PER_S,
    translation_um_per_s: Values = 0.0,
) -> Values:
    """Return the longest hand-held exposure that keeps the smear so short.

    Parameters
    ----------
    blur_um : float or ndarray
        Smear allowed on the sensor.
    focal_length_mm : float or ndarray
        Focal length at this focus setting.
    magnification : float or ndarray
        Image size over subject size, 0 at infinity.
    pupil_magnification : float or ndarray
        Exit over entrance pupil diameter, 0.01 to 100; 1 if not known.
    rotation_deg_per_s : float or ndarray
        How fast the hand turns the camera; the default is what the
        reciprocal rule takes for granted, 0.03 radians a second.
    translation_um_per_s : float or ndarray
        How fast it shifts the camera; 0 leaves it out, 4400 is an upper
        bound from measured tremor. Not both 0.

    Returns
    -------
    float or ndarray
        Seconds. The two smears are added, the least favourable case.

    Notes
    -----
    With the defaults and 30 um it is the trade's rule with (1 + m) in it:
    1 / (f (1 + m)) seconds, f in mm. Hands differ a great deal.

    Formula
    -------
    t = b / (rate of turning f (1 + m / p) + m rate of shifting)

    References
    ----------
    The reciprocal rule is common practice, no source. C. N. Riviere,
    R. S. Rader and P. K. Khosla, Characteristics of hand motion of eye
    surgeons (1997), for the tremor.

    Examples
    --------
    >>> round(1 / longest_exposure_s(30.0, 100.0, 1.0))
    200
    """
    reach_mm = focal_length_mm * (1.0 + magnification / pupil_magnification)
    rate = 1000.0 * np.radians(np.asarray(rotation_deg_per_s)) * reach_mm
    rate = np.asarray(rate + translation_um_per_s * np.asarray(magnification))
    if np.any(rate < 1e-9):
        raise ValueError("rotation_deg_per_s and translation_um_per_s must not both be 0")
    longest: Values = blur_um / rate
    return longest


@formula()
def burst_hit_chance(hit_share: Values, frames: Values) -> Values:
    """Return the chance that a burst holds at least one sharp frame.

    Parameters
    ----------
    hit_share : float or ndarray
        Share of single frames that hit, more than 0, up to 1.
    frames : float or ndarray
        Frames in the burst, 1 or more.

    Returns
    -------
    float or ndarray
        Chance from 0 to 1, if one frame says nothing about the next.

    Formula
    -------
    chance = 1 - (1 - p)^n

    References
    ----------
    Elementary probability, independent trials.

    Examples
    --------
    >>> round(burst_hit_chance(0.2, 10.0), 2)
    0.89
    """
    # Written so that a rare hit in few frames keeps its digits.
    certain = np.asarray(hit_share) >= 1.0
    miss = np.log1p(-np.where(certain, 0.5, hit_share))
    chance: Values = np.where(certain, 1.0, -np.expm1(np.asarray(frames) * miss))
    return chance


@count_formula()
def burst_frames(hit_share: Values, wanted_share: Values = 0.9) -> Values:
    """Return how many frames make a hit as likely as wanted.

    Parameters
    ----------
    hit_share : float or ndarray
        Share of single frames that hit, more than 0, up to 1.
    wanted_share : float or ndarray
        Chance wanted of at least one hit, 0 up to below 1.

    Returns
    -------
    int or ndarray
        Frames, at least 1.

    Formula
    -------
    n = ceil(log(1 - wanted) / log(1 - p))

    References
    ----------
    Elementary probability, independent trials.

    Examples
    --------
    >>> burst_frames(0.2, 0.9)
    11
    """
    hit = np.asarray(hit_share)
    certain = hit >= 1.0
    per_frame = np.log1p(-np.where(certain, 0.5, hit))
    needed = np.ceil(np.log1p(-np.asarray(wanted_share)) / per_frame - 1e-9)
    return np.where(certain, 1.0, np.maximum(needed, 1.0))
