"""Focus stacks: steps, frames, and what moves in the picture between them.

Overlap is the share of one frame's depth that the next covers again.
"""

import math

import numpy as np

from optics.given import Values, count_formula, formula

SPARE = 1e-9  # rounding must not cost a frame
MOST_FRAMES = 100_000


@formula()
def rail_step_mm(depth_of_field_mm: Values, overlap: Values = 0.25) -> Values:
    """Return how far to move the camera between two frames of a stack.

    Parameters
    ----------
    depth_of_field_mm : float or ndarray
        Depth of one frame.
    overlap : float or ndarray
        Share of the depth covered twice, 0 to 0.95; 0.2 to 0.5 in use.

    Returns
    -------
    float or ndarray
        Step in mm.

    Formula
    -------
    step = (1 - overlap) depth

    References
    ----------
    Common practice, no source; the convention of overlap is stated.

    Examples
    --------
    >>> rail_step_mm(0.64)
    0.48
    """
    return (1.0 - overlap) * depth_of_field_mm


@count_formula()
def rail_frames(
    subject_depth_mm: Values, depth_of_field_mm: Values, overlap: Values = 0.25
) -> Values:
    """Return how many frames cover a subject's depth.

    Parameters
    ----------
    subject_depth_mm : float or ndarray
        Front to back of what should be sharp, 0 or more.
    depth_of_field_mm : float or ndarray
        Depth of one frame.
    overlap : float or ndarray
        Share of the depth covered twice, 0 to 0.95.

    Returns
    -------
    int or ndarray
        Frames, at least 1.

    Formula
    -------
    n = ceil((T - depth) / step) + 1

    References
    ----------
    Common practice, no source; n frames cover depth + (n - 1) steps.

    Examples
    --------
    >>> rail_frames(5.0, 0.64)
    11
    """
    step = (1.0 - overlap) * depth_of_field_mm
    steps = np.ceil((subject_depth_mm - depth_of_field_mm) / np.asarray(step) - SPARE)
    return np.maximum(steps, 0.0) + 1.0


@formula()
def image_step_mm(effective_f_number: Values, coc_mm: Values, overlap: Values = 0.25) -> Values:
    """Return the focus step on the sensor's side, for stacks by the ring.

    Parameters
    ----------
    effective_f_number : float or ndarray
        Image-side f-number.
    coc_mm : float or ndarray
        Circle of confusion, diameter on the sensor.
    overlap : float or ndarray
        Share of the depth covered twice, 0 to 0.95.

    Returns
    -------
    float or ndarray
        Shift of the image plane in mm; at the subject it is that over m^2,
        and m changes through such a stack.

    Formula
    -------
    dz = (1 - overlap) 2 N_e c

    References
    ----------
    The depth of focus, as in J. Conrad, Depth of Field in Depth (2006).

    Examples
    --------
    >>> image_step_mm(16.0, 0.02, 0.0)
    0.64
    """
    return (1.0 - overlap) * 2.0 * effective_f_number * coc_mm


@count_formula()
def landscape_frames(
    focal_length_mm: Values,
    f_number: Values,
    coc_mm: Values,
    near_m: Values,
    far_m: Values = math.inf,
    overlap: Values = 0.0,
) -> Values:
    """Return how many frames hold a scene from near to far.

    Parameters
    ----------
    focal_length_mm : float or ndarray
        Focal length.
    f_number : float or ndarray
        Marked f-number.
    coc_mm : float or ndarray
        Circle of confusion, diameter on the sensor.
    near_m : float or ndarray
        Nearest thing that should be sharp, metres from the lens.
    far_m : float or ndarray
        Farthest in metres, not nearer than near_m; infinite by default.
    overlap : float or ndarray
        Share of one frame's depth, in dioptres, covered twice, 0 to 0.95.

    Returns
    -------
    int or ndarray
        Frames, at least 1.

    Notes
    -----
    Each frame holds the same number of dioptres, 2 / H. Valid while the
    distances are large against the focal length.

    Formula
    -------
    n = ceil((H / 2 (1 / near - 1 / far) - 1) / (1 - overlap)) + 1, H = f^2 / (N c)

    References
    ----------
    C. Welborne Piper, A First Book of the Lens (1901), consecutive depths.

    Examples
    --------
    >>> landscape_frames(24.0, 8.0, 0.03, 0.5)
    3
    """
    near, far = np.asarray(near_m), np.asarray(far_m)
    if np.any(far < near):
        raise ValueError(f"far_m must be no less than near_m, got {np.min(far):g}")
    bare_m = np.square(focal_length_mm) / (f_number * np.asarray(coc_mm)) / 1000.0
    depths = 0.5 * bare_m * (1.0 / near - 1.0 / far)
    steps = np.ceil((depths - 1.0) / (1.0 - np.asarray(overlap)) - SPARE)
    return np.minimum(np.maximum(steps, 0.0) + 1.0, 1e15)


def landscape_focus_distances_m(
    focal_length_mm: float,
    f_number: float,
    coc_mm: float,
    near_m: float,
    far_m: float = math.inf,
    overlap: float = 0.0,
) -> list[float]:
    """Return where to focus each frame of a scene, the farthest first.

    Parameters
    ----------
    focal_length_mm : float
        Focal length in mm.
    f_number : float
        Marked f-number.
    coc_mm : float
        Circle of confusion in mm, diameter on the sensor.
    near_m : float
        Nearest thing that should be sharp, metres from the lens.
    far_m : float
        Farthest in metres, not nearer than near_m; infinite by default.
    overlap : float
        Share of one frame's depth, in dioptres, covered twice, 0 to 0.95.

    Returns
    -------
    list of float
        Distances in metres: H, H / 3, H / 5 ... towards infinity without
        overlap. At most 100000 frames.

    Formula
    -------
    1 / s_k = 1 / far + (1 + 2 k (1 - overlap)) / H, k = 0, 1, ...

    References
    ----------
    C. Welborne Piper, A First Book of the Lens (1901), consecutive depths.

    Examples
    --------
    >>> [round(s, 2) for s in landscape_focus_distances_m(24.0, 8.0, 0.03, 0.5)]
    [2.4, 0.8, 0.48]
    """
    count = landscape_frames(focal_length_mm, f_number, coc_mm, near_m, far_m, overlap)
    if not isinstance(count, int):
        raise ValueError("landscape_focus_distances_m takes single numbers, not arrays")
    if count > MOST_FRAMES:
        raise ValueError(f"near_m must be larger: {count} frames, at most {MOST_FRAMES}")
    bare_m = focal_length_mm**2 / (f_number * coc_mm) / 1000.0
    step = 2.0 * (1.0 - overlap) / bare_m
    return [1.0 / (1.0 / far_m + 1.0 / bare_m + k * step) for k in range(count)]


@formula()
def scale_change_per_step(
    step_mm: Values,
    focal_length_mm: Values,
    magnification: Values,
    pupil_magnification: Values = 1.0,
) -> Values:
    """Return how much the picture grows in one step of a rail.

    Parameters
    ----------
    step_mm : float or ndarray
        Travel of the camera, 0 or more.
    focal_length_mm : float or ndarray
        Focal length at this focus setting.
    magnification : float or ndarray
        Image size over subject size, more than 0.
    pupil_magnification : float or ndarray
        Exit over entrance pupil diameter, 0.01 to 100; 1 if not known.

    Returns
    -------
    float or ndarray
        Share by which the plane in focus changes in scale.

    Formula
    -------
    change = dx / (f (1 / m + 1 / p))

    References
    ----------
    Perspective from the entrance pupil, see
    `conjugates.entrance_pupil_to_subject_mm`.

    Examples
    --------
    >>> round(scale_change_per_step(0.64, 100.0, 1.0), 4)
    0.0032
    """
    return step_mm / (focal_length_mm * (1.0 / magnification + 1.0 / pupil_magnification))


@formula()
def rail_drift_px(
    step_mm: Values, magnification: Values, pixel_pitch_um: Values, slope_deg: Values
) -> Values:
    """Return the sideways drift per step of a rail that is not in line.

    Parameters
    ----------
    step_mm : float or ndarray
        Travel of the camera, 0 or more.
    magnification : float or ndarray
        Image size over subject size, more than 0.
    pixel_pitch_um : float or ndarray
        Pixel pitch.
    slope_deg : float or ndarray
        Angle between rail and lens axis, 0 to 89 degrees.

    Returns
    -------
    float or ndarray
        Drift in pixels per step.

    Formula
    -------
    drift = m dx tan(angle) / pitch

    References
    ----------
    Plane geometry.

    Examples
    --------
    >>> round(rail_drift_px(0.5, 1.0, 4.4, 1.0), 2)
    1.98
    """
    across_mm = step_mm * magnification * np.tan(np.radians(slope_deg))
    return 1000.0 * across_mm / pixel_pitch_um
