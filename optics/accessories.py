"""Close-up accessories: tubes, close-up lenses, a reversed lens in front, teleconverters.

What each does to the magnification of a lens left at its focus setting.
Paraxial; `conjugates` has the lens by itself.
"""

import numpy as np

from optics.given import FROM_INFINITY, Values, formula


@formula(magnification_without=FROM_INFINITY)
def focal_length_from_tube_mm(
    magnification_without: Values, magnification_with: Values, tube_mm: Values
) -> Values:
    """Return the focal length that an added tube reveals.

    Parameters
    ----------
    magnification_without, magnification_with : float or ndarray
        Magnification at one focus setting, first without the tube.
    tube_mm : float or ndarray
        Length of the tube.

    Returns
    -------
    float or ndarray
        Focal length in that focus setting, in mm.

    Formula
    -------
    f = e / (m - m0)

    References
    ----------
    Rearranged from `magnification_with_tube`; checked against Canon's
    table for the EF 100mm f/2.8 Macro USM with EF12 and EF25.

    Examples
    --------
    >>> round(focal_length_from_tube_mm(1.0, 1.19, 12.0), 1)
    63.2
    """
    gained = np.asarray(magnification_with - magnification_without)
    if np.any(gained < 1e-6):
        raise ValueError(
            "magnification_with must be more than magnification_without, got a gain of "
            f"{np.min(gained):g}"
        )
    return tube_mm / gained


@formula(magnification=FROM_INFINITY)
def magnification_with_tube(
    magnification: Values, tube_mm: Values, focal_length_mm: Values
) -> Values:
    """Return the magnification once a tube or bellows is added.

    Parameters
    ----------
    magnification : float or ndarray
        Magnification of the same focus setting without it, 0 at infinity.
    tube_mm : float or ndarray
        Length added between camera and lens, 0 or more.
    focal_length_mm : float or ndarray
        Focal length in that focus setting; an internal-focus lens is
        shorter close up than its name says, and gains more.

    Returns
    -------
    float or ndarray
        Magnification, of the broadcast shape.

    Notes
    -----
    Exact for a lens left at its setting, whatever its pupils.

    Formula
    -------
    m = m0 + e / f

    References
    ----------
    Nikon, Micro-Nikkor 55mm f/2.8 manual (1:2 becomes 1:1 with PK-13).

    Examples
    --------
    >>> magnification_with_tube(0.5, 27.5, 55.0)
    1.0
    """
    return magnification + tube_mm / focal_length_mm


@formula(magnification=FROM_INFINITY)
def magnification_with_close_up_lens(
    magnification: Values,
    focal_length_mm: Values,
    power_dioptre: Values,
    separation_mm: Values = 0.0,
) -> Values:
    """Return the magnification once a close-up lens is screwed on.

    Parameters
    ----------
    magnification : float or ndarray
        Magnification of the same focus setting without it, 0 at infinity.
    focal_length_mm : float or ndarray
        Focal length in that focus setting.
    power_dioptre : float or ndarray
        Power of the close-up lens, 1000 over its focal length in mm; powers
        of stacked ones add.
    separation_mm : float or ndarray
        Close-up lens to front principal plane, 0 or more; plays no part at
        the infinity setting.

    Returns
    -------
    float or ndarray
        Magnification. For the light lost keep the one without, see
        `aperture.effective_f_number_with_close_up_lens`.

    Formula
    -------
    m = m0 + (f (1 + m0) - d m0) / f_c

    References
    ----------
    N. Wright, Ways of Obtaining Magnification (2007), +5 dioptre table.

    Examples
    --------
    >>> magnification_with_close_up_lens(0.0, 50.0, 5.0)
    0.25
    """
    power_per_mm = power_dioptre / 1000.0
    reach = np.asarray(
        focal_length_mm * (1.0 + magnification) - separation_mm * np.asarray(magnification)
    )
    if np.any(reach <= 0.0):
        raise ValueError(
            "separation_mm must be less than the distance to the subject, "
            f"f (1 + 1 / m), got {np.max(separation_mm):g}"
        )
    return magnification + reach * power_per_mm


@formula()
def close_up_working_distance_mm(power_dioptre: Values) -> Values:
    """Return the farthest a close-up lens lets you stand, lens at infinity.

    Parameters
    ----------
    power_dioptre : float or ndarray
        Power of the close-up lens.

    Returns
    -------
    float or ndarray
        Close-up lens to subject in mm, whatever lens is behind it.

    Formula
    -------
    distance = 1000 mm / P

    References
    ----------
    Canon and Nikon name achromats by this distance (250D, 500D).

    Examples
    --------
    >>> close_up_working_distance_mm(4.0)
    250.0
    """
    return 1000.0 / power_dioptre


@formula()
def combined_focal_length_mm(
    focal_length_mm: Values, close_up_focal_length_mm: Values, separation_mm: Values = 0.0
) -> Values:
    """Return the focal length of a lens and a close-up lens together.

    Parameters
    ----------
    focal_length_mm : float or ndarray
        Focal length of the lens.
    close_up_focal_length_mm : float or ndarray
        Focal length of the close-up lens, 1000 over its dioptres.
    separation_mm : float or ndarray
        Between their facing principal planes, less than the sum of both.

    Returns
    -------
    float or ndarray
        Focal length in mm.

    Formula
    -------
    1 / f' = 1 / f + 1 / f_c - d / (f f_c)

    References
    ----------
    M. Born and E. Wolf, Principles of Optics, 7th ed. (1999), section 4.4.3.

    Examples
    --------
    >>> round(combined_focal_length_mm(100.0, 250.0), 2)
    71.43
    """
    free = np.asarray(focal_length_mm + close_up_focal_length_mm - separation_mm)
    if np.any(free <= 0.0):
        raise ValueError(
            "separation_mm must be less than the sum of both focal lengths, "
            f"got {np.max(separation_mm):g}"
        )
    return focal_length_mm * close_up_focal_length_mm / free


@formula()
def magnification_of_coupled_lenses(
    rear_focal_length_mm: Values, front_focal_length_mm: Values
) -> Values:
    """Return the magnification of a lens reversed on another.

    Parameters
    ----------
    rear_focal_length_mm : float or ndarray
        Focal length of the lens on the camera, focused at infinity.
    front_focal_length_mm : float or ndarray
        Focal length of the reversed lens, focused at infinity.

    Returns
    -------
    float or ndarray
        Magnification.

    Formula
    -------
    m = f_rear / f_front

    References
    ----------
    R. Flake, Reversed Lens Article.

    Examples
    --------
    >>> magnification_of_coupled_lenses(150.0, 50.0)
    3.0
    """
    return rear_focal_length_mm / front_focal_length_mm


@formula(magnification=FROM_INFINITY)
def magnification_with_teleconverter(magnification: Values, factor: Values) -> Values:
    """Return the magnification behind a teleconverter.

    Parameters
    ----------
    magnification : float or ndarray
        Of everything in front of the converter, tubes there included.
    factor : float or ndarray
        Factor of the converter.

    Returns
    -------
    float or ndarray
        Magnification; the subject stays where it was.

    Notes
    -----
    The order matters: k (m0 + e / f) with the tube in front of the
    converter; `magnification_with_tube_behind_teleconverter` otherwise.

    Formula
    -------
    m' = k m

    References
    ----------
    Nikon, Micro-Nikkor 55mm f/2.8 manual (1:2 becomes 1:1 with TC-201).

    Examples
    --------
    >>> magnification_with_teleconverter(0.5, 2.0)
    1.0
    """
    return factor * magnification


@formula(magnification=FROM_INFINITY)
def magnification_with_tube_behind_teleconverter(
    magnification: Values, factor: Values, tube_mm: Values, focal_length_mm: Values
) -> Values:
    """Return the magnification with a tube between camera and converter.

    Parameters
    ----------
    magnification : float or ndarray
        Of the lens alone, 0 at infinity.
    factor : float or ndarray
        Factor of the converter.
    tube_mm : float or ndarray
        Length of the tube at the camera.
    focal_length_mm : float or ndarray
        Focal length of the lens alone in that focus setting.

    Returns
    -------
    float or ndarray
        Magnification.

    Formula
    -------
    m' = k m + e / (k f)

    References
    ----------
    Follows from `magnification_with_tube` with the combined focal length
    k f of lens and converter.

    Examples
    --------
    >>> magnification_with_tube_behind_teleconverter(0.5, 2.0, 25.0, 50.0)
    1.25
    """
    return factor * magnification + tube_mm / (factor * focal_length_mm)
