"""Pixels: their pitch, what they can hold, and corrections of the slanted edge."""

import math

import numpy as np

from optics.given import LIMITS, Values, formula, plain, take

# Exif FocalPlaneResolutionUnit: mm in one unit. 4 and 5 are met in files
# though the standard stops at 3; 1 means 'no unit' and gives no pitch.
MM_PER_UNIT = {2: 25.4, 3: 10.0, 4: 1.0, 5: 0.001}


def pixel_pitch_um(focal_plane_resolution: Values, unit: int) -> Values:
    """Return the pixel pitch from what the camera wrote.

    Parameters
    ----------
    focal_plane_resolution : float or ndarray
        Exif FocalPlaneXResolution, pixels to the unit, more than 0.
    unit : int
        Exif FocalPlaneResolutionUnit: 2 inch, 3 cm, 4 mm, 5 micrometre.

    Returns
    -------
    float or ndarray
        Pitch in micrometres; of the sensor only if the frame was not
        resized.

    Formula
    -------
    pitch = unit / resolution

    References
    ----------
    CIPA DC-008, Exchangeable image file format, FocalPlaneXResolution
    (0xA20E) and FocalPlaneResolutionUnit (0xA210).

    Examples
    --------
    >>> round(pixel_pitch_um(5798.6577, 2), 2)
    4.38
    """
    if isinstance(unit, bool) or not isinstance(unit, int | float) or unit not in MM_PER_UNIT:
        raise ValueError(f"unit must be 2 (inch), 3 (cm), 4 (mm) or 5 (um), got {unit!s:.40}")
    resolution = take(
        "focal_plane_resolution", focal_plane_resolution, LIMITS["focal_plane_resolution"]
    )
    pitch: Values = plain(1000.0 * MM_PER_UNIT[int(unit)] / resolution)
    return pitch


@formula()
def pixel_pitch_um_from_width(sensor_width_mm: Values, width_px: Values) -> Values:
    """Return the pixel pitch from the width of the sensor.

    Parameters
    ----------
    sensor_width_mm : float or ndarray
        Width of the sensor area recorded.
    width_px : float or ndarray
        Pixels across it, 1 or more.

    Returns
    -------
    float or ndarray
        Pitch in micrometres.

    Formula
    -------
    pitch = width / pixels

    References
    ----------
    The definition of pixel pitch.

    Examples
    --------
    >>> pixel_pitch_um_from_width(36.0, 6000.0)
    6.0
    """
    return 1000.0 * sensor_width_mm / width_px


@formula()
def nyquist_cycles_per_mm(pixel_pitch_um: Values) -> Values:
    """Return the finest frequency the pixels can hold.

    Parameters
    ----------
    pixel_pitch_um : float or ndarray
        Pixel pitch.

    Returns
    -------
    float or ndarray
        Cycles per mm on the sensor, half of one over the pitch.

    Formula
    -------
    Nyquist = 1 / (2 P)

    References
    ----------
    C. E. Shannon, Communication in the Presence of Noise, Proc. IRE 37
    (1949), theorem 1.

    Examples
    --------
    >>> nyquist_cycles_per_mm(5.0)
    100.0
    """
    return 500.0 / pixel_pitch_um


@formula()
def slanted_edge_correction(cycles_per_pixel: Values, oversampling: Values = 4.0) -> Values:
    """Return the factor that undoes the central difference of the edge.

    Parameters
    ----------
    cycles_per_pixel : float or ndarray
        Frequency, 0 to 0.5.
    oversampling : float or ndarray
        Bins to a pixel, more than 1; 4 in the standard.

    Returns
    -------
    float or ndarray
        Multiply the response by it; held below 10.

    Formula
    -------
    correction = x / sin x, x = 2 pi frequency / oversampling

    References
    ----------
    ISO 12233:2014, annex D.8; the formula printed there is misprinted,
    this is the one that fits the difference [-1/2, 0, 1/2].

    Examples
    --------
    >>> round(slanted_edge_correction(0.5), 4)
    1.1107
    """
    x = 2.0 * math.pi * np.asarray(cycles_per_pixel) / oversampling
    return 1.0 / np.maximum(np.sinc(x / math.pi), 0.1)


@formula()
def edge_angle_factor(slope_deg: Values) -> Values:
    """Return the factor from frequency along a row to across the edge.

    Parameters
    ----------
    slope_deg : float or ndarray
        Angle between edge and columns, 0 to 89 degrees; 2 to 10 in use.

    Returns
    -------
    float or ndarray
        The pixel's side seen across the edge, 1 or less.

    Formula
    -------
    factor = cos(angle)

    References
    ----------
    J. Roland, A study of slanted-edge MTF stability and repeatability,
    Proc. SPIE 9396 (2015), erratum.

    Examples
    --------
    >>> round(edge_angle_factor(5.0), 4)
    0.9962
    """
    return np.cos(np.radians(slope_deg))
