"""A whole kit at once: every combination at every stop, as arrays.

Axes: bodies, lenses, tubes, close-up lenses, converters, stops; the first
tube, close-up lens and converter are 'none'. A tube behind a converter acts
as one of its length over the converter's factor squared at the lens.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from optics.aperture import effective_f_number_with_close_up_lens
from optics.blur import disc_for_blur_um, total_blur_um
from optics.exposure import exposure_s_for_light
from optics.given import Floats
from optics.kit import Kit, Lens, Light, Subject, check_kit
from optics.shake import longest_exposure_s

STOPS = (1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0, 32.0)
COC_DIVISOR = 1500.0  # of the diagonal, as `circle_of_confusion.coc_mm_from_diagonal`
STEPS = 4  # of Newton's method: one is exact for a lens that moves as a whole
SLACK = 1e-9  # a set-up at the very end of its reach still counts


def sweep(kit: Kit, subject: Subject, light: Light | None = None) -> dict[str, Floats]:
    """Return every number of every combination at every stop, as arrays.

    Parameters
    ----------
    kit : Kit
        At least one body and one lens; lengths in mm, within the ranges of
        the formulas.
    subject : Subject
        Width more than 0, depth 0 or more, in mm.
    light : Light or None
        EV at ISO 100, -20 to 40, and the ISO set; None leaves exposure out.

    Returns
    -------
    dict of ndarray
        By name, all of the shape (bodies, lenses, tubes, close-up lenses,
        converters, stops), 'none' being the first of each attachment;
        lengths in mm. Tubes behind a converter follow the others.

    Notes
    -----
    Paraxial. Free distance runs from the front rim where the lens tells it,
    from the close-up lens where one is mounted there, else from the front
    principal plane. A close-up lens costs no light.

    Formula
    -------
    m = k (m_t + (f (1 + m_t) - d m_t) / f_c), m_t = m_0 + e / f

    References
    ----------
    The formulas of `conjugates`, `aperture`, `blur` and `shake`, each with
    its own.

    Examples
    --------
    >>> from optics.kit import Body
    >>> kit = Kit((Body('full frame', 36.0, 24.0),), (Lens('macro', 100.0, 1.0),), (20.0,))
    >>> sweep(kit, Subject(36.0, 1.0))['reached'].shape
    (1, 1, 2, 1, 1, 10)
    """
    check_kit(kit, subject, light)
    body, lens, tube, power, factor, stop = axes(kit)
    there = places(kit, tube, factor)
    wanted = body[0] / subject.width_mm
    reach, f, drawn = at_the_lens(wanted, lens, tube, power, factor)
    in_ratio = there & (wanted >= reach[0] * (1.0 - SLACK)) & (wanted <= reach[1] * (1.0 + SLACK))
    along, free = distances(f, drawn, lens, power)
    pupil = lens[6]
    marked = np.minimum(np.maximum(stop, lens[4]), lens[5])
    effective = effective_f_number_with_close_up_lens(marked, drawn, pupil) * factor
    allowed_um = 1000.0 * body[1] / COC_DIVISOR
    at_subject = wanted**2 * 500.0  # micrometres of disc, for each mm of depth at f/1
    to_pupil = np.maximum(along + f * (1.0 / pupil - 1.0), 1e-3)
    found: dict[str, Any] = {
        "in_ratio": in_ratio,
        "reached": in_ratio & (free > 0.0) & (free >= subject.closest_mm),
        "nearest_ratio": reach[1],
        "focal_length_mm": f,
        # With its tube, without close-up lens and converter: what decides the light.
        "lens_magnification": drawn,
        "magnification": wanted,
        "free_distance_mm": free,
        "f_number": marked,
        "effective_f_number": effective,
        "stops_lost": 2.0 * np.log2(effective / marked),
        "blur_um": total_blur_um(at_subject * subject.depth_mm / effective, effective),
        "allowed_blur_um": allowed_um,
        "depth_mm": disc_for_blur_um(allowed_um, effective) * effective / at_subject,
        "longest_by_hand_s": longest_exposure_s(
            allowed_um, to_pupil * wanted / (1.0 + wanted), wanted
        ),
    }
    if light is not None:
        found["exposure_s"] = exposure_s_for_light(light.ev, effective, light.iso)
    shape = np.broadcast_shapes(*(np.shape(value) for value in found.values()))
    return {name: np.broadcast_to(value, shape) for name, value in found.items()}


def axes(kit: Kit) -> tuple[Floats, Floats, Floats, Floats, Floats, Floats]:
    """The kit as arrays, each along its own axis; bodies and lenses with a row to a fact."""
    bodies = np.array([(b.width_mm, np.hypot(b.width_mm, b.height_mm)) for b in kit.bodies]).T
    lenses = np.array([facts(lens) for lens in kit.lenses]).T
    factor = np.array([1.0, *kit.converters]).reshape(-1, 1)
    tube = np.array([0.0, *kit.tubes_mm]).reshape(-1, 1, 1, 1)
    if kit.tubes_behind_converter:
        in_front = np.broadcast_to(tube, (len(tube), 1, *factor.shape))
        tube = np.concatenate([in_front, in_front[1:] / factor**2])
    return (
        bodies.reshape(2, -1, 1, 1, 1, 1, 1),
        lenses.reshape(8, 1, -1, 1, 1, 1, 1),
        tube,
        np.array([0.0, *kit.close_ups_dioptre]).reshape(-1, 1, 1) / 1000.0,
        factor,
        np.array(STOPS),
    )


def places(kit: Kit, tube: Floats, factor: Floats) -> NDArray[np.bool_]:
    """Whether there is such a place: behind no converter there is none."""
    behind = np.arange(len(tube)).reshape(-1, 1, 1, 1) > len(kit.tubes_mm)
    real: NDArray[np.bool_] = ~behind | (factor != 1.0)
    return real


def facts(lens: Lens) -> tuple[float, ...]:
    """A lens as a column of numbers."""
    rim = lens.principal_plane_to_rim_mm
    return (
        lens.focal_length_mm,
        lens.closest_focal_length_mm or lens.focal_length_mm,
        lens.farthest_magnification,
        lens.closest_magnification,
        lens.smallest_f_number,
        lens.largest_f_number,
        lens.pupil_magnification,
        0.0 if rim is None else rim,
    )


def at_the_lens(
    wanted: Floats, lens: Floats, tube: Floats, power: Floats, factor: Floats
) -> tuple[tuple[Floats, Floats], Floats, Floats]:
    """Least and largest ratio; focal length and ratio of lens and tube where it is wanted.

    Newton's method on the ratio the lens draws by itself, for its focal
    length changes with it; exact at once where it does not.
    """
    far, near = lens[2], lens[3]
    slope = (lens[1] - lens[0]) / np.maximum(near - far, 1e-12)
    gap = np.maximum(lens[7], 0.0)

    def all_mounted(own: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        focal = lens[0] + slope * (own - far)
        drawn = own + tube / focal
        gained = 1.0 - tube * slope / focal**2
        ratio = factor * (drawn + (focal * (1.0 + drawn) - gap * drawn) * power)
        rise = factor * (gained + (slope * (1.0 + drawn) + (focal - gap) * gained) * power)
        return focal, drawn, ratio, rise

    least, most = all_mounted(far)[2], all_mounted(near)[2]
    own = far + (near - far) * np.clip((wanted - least) / np.maximum(most - least, 1e-12), 0.0, 1.0)
    for _ in range(STEPS if np.any(slope) else 1):
        _, _, ratio, rise = all_mounted(own)
        own = np.clip(own + (wanted - ratio) / rise, far, near)
    focal, drawn, _, _ = all_mounted(own)
    return (least, most), focal, drawn


def distances(focal: Floats, drawn: Floats, lens: Floats, power: Floats) -> tuple[Floats, Floats]:
    """Subject to front principal plane, and what of it is free, in mm."""
    bare = focal * (1.0 + 1.0 / np.maximum(drawn, 1e-12))
    gap = np.maximum(lens[7], 0.0)  # the close-up lens sits at the rim
    behind = bare - gap
    inside = behind <= 0.0  # the subject would have to stand inside the lens
    in_front = np.where(inside, behind, 1.0 / (power + 1.0 / np.where(inside, 1.0, behind)))
    worn = power > 0.0
    return np.where(worn, in_front + gap, bare), np.where(worn, in_front, bare - lens[7])
