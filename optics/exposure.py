"""Light on the sensor: APEX values, differences in stops, flash time."""

import math

import numpy as np

from optics.given import Limit, Values, formula

TENTH_OVER_HALF = math.log(10.0) / math.log(2.0)  # 3.32, for an exponential decay

TIME_VALUE = Limit(-20.0, 40.0)


@formula(apex=TIME_VALUE)
def exposure_s_from_shutter_speed_value(apex: Values) -> Values:
    """Return the exposure time of an Exif ShutterSpeedValue.

    Parameters
    ----------
    apex : float or ndarray
        Time value in APEX units, -20 to 40.

    Returns
    -------
    float or ndarray
        Seconds.

    Formula
    -------
    t = 2^-T

    References
    ----------
    CIPA DC-008, Exchangeable image file format, ShutterSpeedValue (0x9201).

    Examples
    --------
    >>> exposure_s_from_shutter_speed_value(7.0)
    0.0078125
    """
    return 2.0 ** (-np.asarray(apex))


@formula()
def exposure_value(f_number: Values, exposure_s: Values, iso: Values = 100.0) -> Values:
    """Return the exposure value, brought to ISO 100.

    Parameters
    ----------
    f_number : float or ndarray
        Marked f-number, or the effective one to compare across set-ups.
    exposure_s : float or ndarray
        Exposure time in seconds.
    iso : float or ndarray
        Sensitivity; 100 leaves the value as it is.

    Returns
    -------
    float or ndarray
        EV at ISO 100; larger means less light reached the sensor.

    Formula
    -------
    EV = log2(N^2 / t) - log2(ISO / 100)

    References
    ----------
    CIPA DC-008, Exchangeable image file format, annex C, APEX units.

    Examples
    --------
    >>> round(exposure_value(8.0, 1 / 125), 1)
    13.0
    """
    value: Values = np.log2(np.square(f_number) / exposure_s) - np.log2(np.asarray(iso) / 100.0)
    return value


@formula()
def exposure_s_for_light(
    exposure_value: Values, effective_f_number: Values, iso: Values = 100.0
) -> Values:
    """Return the exposure time that a light asks for.

    Parameters
    ----------
    exposure_value : float or ndarray
        The light as EV at ISO 100, -20 to 40.
    effective_f_number : float or ndarray
        Image-side f-number: what a set-up loses close up is in it.
    iso : float or ndarray
        Sensitivity set.

    Returns
    -------
    float or ndarray
        Seconds. The inverse of `exposure_value`.

    Formula
    -------
    t = N_e^2 100 / (ISO 2^EV)

    References
    ----------
    CIPA DC-008, Exchangeable image file format, annex C, APEX units.

    Examples
    --------
    >>> exposure_s_for_light(12.0, 16.0, 400.0)
    0.015625
    """
    in_all = 2.0 ** np.asarray(exposure_value) * np.asarray(iso) / 100.0
    time_s: Values = np.square(effective_f_number) / in_all
    return time_s


@formula()
def flash_stop_motion_s(half_power_s: Values) -> Values:
    """Return the flash time that stops motion, from the one makers print.

    Parameters
    ----------
    half_power_s : float or ndarray
        t0.5: how long the light is above half its peak, seconds.

    Returns
    -------
    float or ndarray
        t0.1 in seconds: above a tenth of the peak.

    Notes
    -----
    For a light that dies away exponentially, as at full power. A flash cut
    short by a switch at low power has the two nearly alike.

    Formula
    -------
    t0.1 = t0.5 ln 10 / ln 2

    References
    ----------
    ISO 2827:1988, electronic flash equipment, for the two terms (from
    memory); the factor follows from the exponential.

    Examples
    --------
    >>> round(flash_stop_motion_s(0.001), 5)
    0.00332
    """
    return TENTH_OVER_HALF * half_power_s


@formula()
def ambient_share(ambient_stops_below: Values) -> Values:
    """Return the share of the exposure that is not the flash.

    Parameters
    ----------
    ambient_stops_below : float or ndarray
        How many stops the ambient light lies below the exposure chosen;
        5 or more and the flash alone stops the motion. Not below 0.

    Returns
    -------
    float or ndarray
        From 1 down.

    Formula
    -------
    share = 2^-stops

    References
    ----------
    The definition of a stop; the line at 5 stops is common practice, no
    source.

    Examples
    --------
    >>> ambient_share(5.0)
    0.03125
    """
    share: Values = 2.0 ** (-np.asarray(ambient_stops_below))
    return share
