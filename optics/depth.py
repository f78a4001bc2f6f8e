"""How much is sharp: depth of field, limits, circles of confusion.

The circle of confusion is a diameter on the sensor and always a named
convention; published tables differ twofold because theirs differ.
"""

import numpy as np

from optics.given import Values, formula, pair_formula

FULL_FRAME_DIAGONAL_MM = 43.2666  # 36 x 24 mm
AS_GOOD_AS_INFINITE_MM = 1e15


@formula()
def depth_of_field_mm(effective_f_number: Values, magnification: Values, coc_mm: Values) -> Values:
    """Return the total depth of field close up, front and back together.

    Parameters
    ----------
    effective_f_number : float or ndarray
        Image-side f-number.
    magnification : float or ndarray
        Image size over subject size, more than 0.
    coc_mm : float or ndarray
        Circle of confusion, diameter on the sensor.

    Returns
    -------
    float or ndarray
        Depth in mm, of the broadcast shape.

    Notes
    -----
    Relative error q^2 with q = N c / (f m): under 1 % while q < 0.1, that
    is, close up. Meaningless once c is less than 1.745 wavelengths times
    the effective f-number: then see `wave_depth_of_field_mm`.

    Formula
    -------
    depth = 2 N_e c / m^2

    References
    ----------
    J. Conrad, Depth of Field in Depth (2006), close-up photography.

    Examples
    --------
    >>> depth_of_field_mm(16.0, 1.0, 0.03)
    0.96
    """
    return 2.0 * effective_f_number * coc_mm / magnification**2


@pair_formula()
def near_and_far_depth_mm(
    f_number: Values,
    magnification: Values,
    coc_mm: Values,
    focal_length_mm: Values,
    pupil_magnification: Values = 1.0,
) -> tuple[Values, Values]:
    """Return the depth in front of and behind the plane of focus.

    Parameters
    ----------
    f_number : float or ndarray
        Marked f-number: focal length over entrance pupil at this setting.
    magnification : float or ndarray
        Image size over subject size, more than 0.
    coc_mm : float or ndarray
        Circle of confusion, diameter on the sensor.
    focal_length_mm : float or ndarray
        Focal length at this focus setting.
    pupil_magnification : float or ndarray
        Exit over entrance pupil diameter, 0.01 to 100; 1 if not known.

    Returns
    -------
    tuple of float or ndarray
        Near side and far side in mm; the far side is infinite when the
        focus is at the hyperfocal distance or beyond.

    Notes
    -----
    Exact in paraxial optics for any pupil magnification.

    Formula
    -------
    near, far = B N c / (m^2 (1 + q)), B N c / (m^2 (1 - q)), B = 1 + m / p, q = N c / (f m)

    References
    ----------
    J. Conrad, Depth of Field in Depth (2006), asymmetrical lenses.

    Examples
    --------
    >>> near, far = near_and_far_depth_mm(8.0, 0.1, 0.03, 100.0)
    >>> round(near, 1), round(far, 1)
    (25.8, 27.0)
    """
    half = (1.0 + magnification / pupil_magnification) * f_number * coc_mm / magnification**2
    q = np.asarray(f_number * coc_mm / (focal_length_mm * magnification))
    bounded = q < 1.0
    far = np.where(bounded, half / np.where(bounded, 1.0 - q, 1.0), np.inf)
    return half / (1.0 + q), far


@formula()
def hyperfocal_mm(focal_length_mm: Values, f_number: Values, coc_mm: Values) -> Values:
    """Return the nearest focus that still holds infinity.

    Parameters
    ----------
    focal_length_mm : float or ndarray
        Focal length.
    f_number : float or ndarray
        Marked f-number.
    coc_mm : float or ndarray
        Circle of confusion, diameter on the sensor.

    Returns
    -------
    float or ndarray
        Distance from the lens in mm. Older tables leave out the last f.

    Formula
    -------
    H = f^2 / (N c) + f

    References
    ----------
    The Sinclair Handbook of Photography, Lens Facts (without the last f).

    Examples
    --------
    >>> round(hyperfocal_mm(50.0, 8.0, 0.03))
    10467
    """
    return focal_length_mm**2 / (f_number * coc_mm) + focal_length_mm


@pair_formula()
def near_and_far_limit_mm(
    focus_mm: Values, focal_length_mm: Values, f_number: Values, coc_mm: Values
) -> tuple[Values, Values]:
    """Return the nearest and the farthest distance that is sharp.

    Parameters
    ----------
    focus_mm : float or ndarray
        Lens to the plane of focus, more than the focal length; may be
        infinite.
    focal_length_mm : float or ndarray
        Focal length.
    f_number : float or ndarray
        Marked f-number.
    coc_mm : float or ndarray
        Circle of confusion, diameter on the sensor.

    Returns
    -------
    tuple of float or ndarray
        Near and far limit in mm from the lens, the far one possibly
        infinite. Thin lens; measured from the entrance pupil.

    Formula
    -------
    near, far = s h / (h + (s - f)), s h / (h - (s - f)), h = f^2 / (N c)

    References
    ----------
    C. Welborne Piper, A First Book of the Lens (1901), via The Sinclair
    Handbook of Photography.

    Examples
    --------
    >>> near, far = near_and_far_limit_mm(10467.0, 50.0, 8.0, 0.03)
    >>> round(near), far
    (5233, inf)
    """
    focus = np.asarray(focus_mm)
    if np.any(focus <= focal_length_mm):
        raise ValueError(
            f"focus_mm must be more than focal_length_mm, got {np.min(focus):g} "
            f"with {np.max(focal_length_mm):g}"
        )
    bare = focal_length_mm**2 / (f_number * coc_mm)
    at_infinity = focus > AS_GOOD_AS_INFINITE_MM
    finite = np.where(at_infinity, 2.0 * np.asarray(focal_length_mm), focus)
    beyond = finite - focal_length_mm
    near = np.where(at_infinity, bare, finite * bare / (bare + beyond))
    bounded = ~at_infinity & (beyond < bare)
    far = np.where(bounded, finite * bare / np.where(bounded, bare - beyond, 1.0), np.inf)
    return near, far


@formula()
def near_limit_at_infinity_from_sensor_mm(
    focal_length_mm: Values, f_number: Values, coc_mm: Values, hiatus_mm: Values = 0.0
) -> Values:
    """Return the near limit, from the sensor, of a lens set to infinity.

    Parameters
    ----------
    focal_length_mm : float or ndarray
        Focal length.
    f_number : float or ndarray
        Marked f-number.
    coc_mm : float or ndarray
        Circle of confusion, diameter on the sensor.
    hiatus_mm : float or ndarray
        Front to rear principal plane.

    Returns
    -------
    float or ndarray
        Distance in mm from the sensor plane, as makers print it.

    Formula
    -------
    distance = f^2 / (N c) + 2 f + HH'

    References
    ----------
    Nikon, PC Micro-Nikkor 85mm f/2.8D instruction manual, p. 84.

    Examples
    --------
    >>> round(near_limit_at_infinity_from_sensor_mm(85.3, 11.0, 1 / 30, 8.0) / 1000, 2)
    20.02
    """
    return focal_length_mm**2 / (f_number * coc_mm) + 2.0 * focal_length_mm + hiatus_mm


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


@formula()
def wave_depth_of_field_mm(
    effective_f_number: Values, magnification: Values, wavelength_um: Values = 0.55
) -> Values:
    """Return the depth within a quarter wave of focus, both sides.

    Parameters
    ----------
    effective_f_number : float or ndarray
        Image-side f-number.
    magnification : float or ndarray
        Image size over subject size, more than 0.
    wavelength_um : float or ndarray
        Wavelength in air; 0.55 is mid green.

    Returns
    -------
    float or ndarray
        Total depth in mm.

    Notes
    -----
    The figure to state when the circle of confusion is smaller than the
    diffraction blur. The two depths are equal at N_e = c / (2 wavelength).

    Formula
    -------
    depth = 4 lambda N_e^2 / m^2 = lambda / NA^2

    References
    ----------
    G. Keiser, Biophotonics: Concepts to Applications (2016), example 8.4.

    Examples
    --------
    >>> round(wave_depth_of_field_mm(24.0, 5.0), 4)
    0.0507
    """
    return 4.0 * wavelength_um * effective_f_number**2 / magnification**2 / 1000.0


@formula()
def wave_depth_of_field_um_from_na(
    numerical_aperture: Values, wavelength_um: Values = 0.55, refractive_index: Values = 1.0
) -> Values:
    """Return the wave-optics depth of a microscope objective.

    Parameters
    ----------
    numerical_aperture : float or ndarray
        Numerical aperture, not more than the refractive index.
    wavelength_um : float or ndarray
        Wavelength in air.
    refractive_index : float or ndarray
        Of what is between objective and subject; 1 for air.

    Returns
    -------
    float or ndarray
        Total depth in micrometres.

    Formula
    -------
    depth = n lambda / NA^2

    References
    ----------
    G. Keiser, Biophotonics: Concepts to Applications (2016), example 8.4.

    Examples
    --------
    >>> round(wave_depth_of_field_um_from_na(0.2), 2)
    13.75
    """
    if np.any(np.asarray(numerical_aperture) > refractive_index):
        raise ValueError(
            "numerical_aperture must be no more than refractive_index, got "
            f"{np.max(numerical_aperture):g}"
        )
    return refractive_index * wavelength_um / np.asarray(numerical_aperture) ** 2


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
