"""How much is sharp: depth of field, its limits, hyperfocal distance.

By geometry, for a named circle of confusion, or by the waves of light.
"""

import numpy as np

# They live in `circle_of_confusion`; promised here too, to callers outside
# (tests/optics/test_promised.py).
from optics.circle_of_confusion import coc_mm_from_diagonal as coc_mm_from_diagonal
from optics.circle_of_confusion import coc_mm_from_print as coc_mm_from_print
from optics.given import Values, formula, pair_formula

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
