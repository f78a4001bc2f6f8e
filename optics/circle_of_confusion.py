"""How large a blur still counts as sharp: circles of confusion.

A diameter on the sensor and always a named convention; published tables
differ twofold because theirs differ.
"""

import numpy as np

from optics.given import Values, formula

FULL_FRAME_DIAGONAL_MM = 43.2666  # 36 x 24 mm


@formula()
def coc_mm_from_diagonal(diagonal_mm: Values, divisor: Values = 1500.0) -> Values:
    """Return the circle of confusion as a share of the sensor's diagonal.

    Parameters
    ----------
    diagonal_mm : float or ndarray
        Diagonal of the sensor.
    divisor : float or ndarray
        A plain number: 1500 is the usual rule, 1440 and 1730 are met too.

    Returns
    -------
    float or ndarray
        Diameter on the sensor in mm.

    Notes
    -----
    A rule of thumb; no standard that prescribes it was found.

    Formula
    -------
    c = d / 1500

    References
    ----------
    W. Timmermann, Zerstreuungskreis (Z = d / 1500).

    Examples
    --------
    >>> round(coc_mm_from_diagonal(43.27), 4)
    0.0288
    """
    return diagonal_mm / divisor


@formula()
def coc_mm_from_print(print_coc_mm: Values, enlargement: Values) -> Values:
    """Return the circle of confusion from what is allowed on a print.

    Parameters
    ----------
    print_coc_mm : float or ndarray
        Diameter allowed on the print; 0.2 or 0.25 at 25 cm.
    enlargement : float or ndarray
        Print width over sensor width, a plain factor.

    Returns
    -------
    float or ndarray
        Diameter on the sensor in mm.

    Formula
    -------
    c = c_print / enlargement

    References
    ----------
    V. Bockaert, Circle of Confusion, in an on-line photographic glossary.

    Examples
    --------
    >>> round(coc_mm_from_print(0.25, 7.5), 3)
    0.033
    """
    return print_coc_mm / enlargement


@formula()
def print_coc_mm_from_viewing(viewing_distance_mm: Values, acuity_arcmin: Values = 2.75) -> Values:
    """Return the spot on a print the eye still takes for a point.

    Parameters
    ----------
    viewing_distance_mm : float or ndarray
        Eye to print.
    acuity_arcmin : float or ndarray
        Angle in minutes of arc; 2.75 is the usual 0.2 mm at 25 cm, 1 is a
        sharp eye.

    Returns
    -------
    float or ndarray
        Diameter on the print in mm.

    Formula
    -------
    c_print = d tan(angle)

    References
    ----------
    S. F. Ray, Applied Photographic Optics (0.2 mm at 250 mm; from memory).

    Examples
    --------
    >>> round(print_coc_mm_from_viewing(250.0), 2)
    0.2
    """
    return viewing_distance_mm * np.tan(np.radians(np.asarray(acuity_arcmin) / 60.0))


@formula()
def coc_mm_from_pixels(pixel_pitch_um: Values, pixels: Values = 2.0) -> Values:
    """Return the circle of confusion as a number of pixels.

    Parameters
    ----------
    pixel_pitch_um : float or ndarray
        Pixel pitch.
    pixels : float or ndarray
        Pixels across, 1.5 to 3 in use; 2 by default.

    Returns
    -------
    float or ndarray
        Diameter on the sensor in mm.

    Formula
    -------
    c = k pitch

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> round(coc_mm_from_pixels(4.4), 4)
    0.0088
    """
    return pixels * pixel_pitch_um / 1000.0


# Each convention as a divisor of the diagonal. The makers' figures are those
# of their tables for 36 x 24 mm and go with the sensor's size.
COC_DIVISORS = {
    "diagonal/1500": 1500.0,
    "diagonal/1440": 1440.0,
    "diagonal/1730": 1730.0,
    "maker 1/30 mm": 30.0 * FULL_FRAME_DIAGONAL_MM,
    "maker 0.035 mm": FULL_FRAME_DIAGONAL_MM / 0.035,
    # 0.2 mm on a print whose diagonal is 320 mm, seen from 25 cm.
    "print 20 x 25 cm": 320.156 / 0.2,
}


def coc_mm_by_name(convention: str, diagonal_mm: float) -> float:
    """Return the circle of confusion of a named convention.

    Parameters
    ----------
    convention : str
        One of `COC_DIVISORS`: 'diagonal/1500', 'diagonal/1440',
        'diagonal/1730', 'maker 1/30 mm', 'maker 0.035 mm' and 'print 20 x
        25 cm' (0.2 mm on the print, seen from 25 cm).
    diagonal_mm : float
        Diagonal of the sensor, 0.01 to 10000 mm.

    Returns
    -------
    float
        Diameter on the sensor in mm.

    References
    ----------
    See `coc_mm_from_diagonal` and `coc_mm_from_print`. 1/30 mm reproduces
    Nikon's and Leica's tables for 36 x 24 mm, 0.035 mm Canon's.

    Examples
    --------
    >>> round(coc_mm_by_name('maker 1/30 mm', 43.267), 4)
    0.0333
    """
    if convention not in COC_DIVISORS:
        known = ", ".join(COC_DIVISORS)
        raise ValueError(f"convention must be one of {known}, got {convention!s:.40}")
    return coc_mm_from_diagonal(diagonal_mm, COC_DIVISORS[convention])
