"""Which set-up frames this subject: every combination of a kit, worked out in one sweep.

A set-up reaches a span of magnifications: from the lens at infinity to its
closest focus, tube, close-up lens and converter included. Pupil
magnification is taken as 1 and separations as 0, so a free distance is
given from the front principal plane, not from the rim of the lens.
"""

from dataclasses import dataclass

import numpy as np

from optics.aperture import effective_f_number_with_close_up_lens
from optics.blur import largest_depth_mm, total_blur_um
from optics.given import LIMITS, Floats, take
from optics.stack import rail_frames, rail_step_mm

STOPS = (2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0, 32.0)
OVERLAP = 0.25
COC_DIVISOR = 1500.0  # of the diagonal, as `depth.coc_mm_from_diagonal`


@dataclass(frozen=True)
class Body:
    """A camera: its name and the sides of its sensor in mm."""

    name: str
    width_mm: float
    height_mm: float


@dataclass(frozen=True)
class Lens:
    """A lens: focal lengths in mm far away and at its closest, and its largest ratio."""

    name: str
    focal_length_mm: float
    closest_magnification: float
    closest_focal_length_mm: float | None = None
    smallest_f_number: float = 2.8
    largest_f_number: float = 22.0


@dataclass(frozen=True)
class Kit:
    """What a person owns: tube lengths in mm, close-up powers in dioptres, converter factors."""

    bodies: tuple[Body, ...]
    lenses: tuple[Lens, ...]
    tubes_mm: tuple[float, ...] = ()
    close_ups_dioptre: tuple[float, ...] = ()
    converters: tuple[float, ...] = ()


@dataclass(frozen=True)
class Subject:
    """Width to fill the frame and depth to be sharp, in mm, and how close one may come."""

    width_mm: float
    depth_mm: float
    closest_mm: float = 0.0


@dataclass(frozen=True)
class Way:
    """One set-up that frames the subject; lengths in mm, `reason` in words."""

    body: str
    lens: str
    tube_mm: float
    close_up_dioptre: float
    converter: float
    magnification: float
    free_distance_mm: float
    f_number: float
    effective_f_number: float
    stops_lost: float
    depth_mm: float
    blur_um: float
    allowed_blur_um: float
    frames: int
    step_mm: float
    reason: str


@dataclass(frozen=True)
class Answer:
    """All ways, the best first; `why_not` in words where there is none."""

    ways: list[Way]
    why_not: str


def sweep(kit: Kit, subject: Subject) -> dict[str, Floats]:
    """Return every number of every combination at every stop, as arrays.

    Parameters
    ----------
    kit : Kit
        At least one body and one lens, lengths in mm.
    subject : Subject
        Width more than 0, depth 0 or more, in mm.

    Returns
    -------
    dict of ndarray
        By name, all of the shape (bodies, lenses, tubes, close-up lenses,
        converters, stops), 'none' being the first of each attachment.

    References
    ----------
    The formulas of `conjugates`, `aperture` and `blur`, each with its own.

    Examples
    --------
    >>> kit = Kit((Body('full frame', 36.0, 24.0),), (Lens('macro', 100.0, 1.0),), (20.0,))
    >>> sweep(kit, Subject(36.0, 1.0))['reached'].shape
    (1, 1, 2, 1, 1, 8)
    """
    checked_kit(kit, subject)
    body, lens, tube, power, factor, stop = axes(kit)
    wanted = body[0] / subject.width_mm
    far, near = span(lens[0], 0.0, tube, power, factor), span(lens[1], lens[2], tube, power, factor)
    reached = (wanted >= far * (1.0 - 1e-9)) & (wanted <= near * (1.0 + 1e-9))
    share = np.clip((wanted - far) / np.maximum(near - far, 1e-12), 0.0, 1.0)
    focal = lens[0] + (lens[1] - lens[0]) * share
    close_up = focal * power / 1000.0
    # What the lens and tube draw by themselves; the close-up lens costs no light.
    bare = np.maximum((wanted / factor - close_up) / (1.0 + close_up), 0.0)
    effective = effective_f_number_with_close_up_lens(stop, bare) * factor
    together = focal / (1.0 + close_up)
    free = together * (1.0 + factor / wanted)
    disc_um = 1000.0 * wanted**2 * subject.depth_mm / 2.0 / effective
    blur_um = np.asarray(total_blur_um(disc_um, effective))
    fits = (stop >= lens[3] * (1.0 - 1e-9)) & (stop <= lens[4] * (1.0 + 1e-9))
    lost = 2.0 * np.log2(effective / stop)
    found = {
        "reached": reached & fits & (free >= subject.closest_mm),
        "in_ratio": reached,
        "nearest_ratio": near,
        "magnification": wanted,
        "free_distance_mm": free,
        "effective_f_number": effective,
        "stops_lost": lost,
        "blur_um": blur_um,
        "allowed_blur_um": 1000.0 * body[1] / COC_DIVISOR,
    }
    shape = np.broadcast_shapes(*(np.shape(value) for value in found.values()))
    return {name: np.broadcast_to(value, shape) for name, value in found.items()}


def solve(kit: Kit, subject: Subject) -> Answer:
    """Return the set-ups that frame a subject, ranked, or why none does.

    Parameters
    ----------
    kit : Kit
        At least one body and one lens, lengths in mm.
    subject : Subject
        Width more than 0, depth 0 or more, in mm.

    Returns
    -------
    Answer
        One way for each combination, at the stop with the least blur at the
        limits. Fewest frames first, then fewest attachments, then the
        larger free distance.

    Notes
    -----
    Where one frame cannot hold the depth, depth and step are those of the
    stop that holds most at the allowed blur, the diagonal over 1500.

    References
    ----------
    The formulas of `conjugates`, `aperture` and `blur`, each with its own.

    Examples
    --------
    >>> kit = Kit((Body('full frame', 36.0, 24.0),), (Lens('macro', 100.0, 0.31),), (33.0,))
    >>> [way.tube_mm for way in solve(kit, Subject(60.0, 2.0)).ways]
    [33.0]
    """
    swept = sweep(kit, subject)
    blur = np.where(swept["reached"], swept["blur_um"], np.inf)
    best = np.expand_dims(blur.argmin(axis=-1), -1)
    there = np.take_along_axis(swept["reached"], best, -1)[..., 0]
    ways = [
        way_at(kit, subject, swept, (*where, int(best[where][0])))
        for where in zip(*np.nonzero(there), strict=True)
    ]
    ways.sort(key=lambda way: (way.frames, attachments(way), -way.free_distance_mm))
    return Answer(ways, "" if ways else why_not(swept, subject))


def span(focal: Floats, own: Floats | float, tube: Floats, power: Floats, factor: Floats) -> Floats:
    """Magnification with everything mounted, the lens drawing `own` by itself."""
    bare = own + tube / focal
    drawn: Floats = factor * (bare + (1.0 + bare) * focal * power / 1000.0)
    return drawn


def axes(kit: Kit) -> tuple[Floats, Floats, Floats, Floats, Floats, Floats]:
    """The kit as arrays, each along its own axis; bodies and lenses with a row to a fact."""
    bodies = np.array([(b.width_mm, np.hypot(b.width_mm, b.height_mm)) for b in kit.bodies]).T
    lenses = np.array(
        [
            (
                lens.focal_length_mm,
                lens.closest_focal_length_mm or lens.focal_length_mm,
                lens.closest_magnification,
                lens.smallest_f_number,
                lens.largest_f_number,
            )
            for lens in kit.lenses
        ]
    ).T
    return (
        bodies.reshape(2, -1, 1, 1, 1, 1, 1),
        lenses.reshape(5, 1, -1, 1, 1, 1, 1),
        np.array([0.0, *kit.tubes_mm]).reshape(-1, 1, 1, 1),
        np.array([0.0, *kit.close_ups_dioptre]).reshape(-1, 1, 1),
        np.array([1.0, *kit.converters]).reshape(-1, 1),
        np.array(STOPS),
    )


def way_at(kit: Kit, subject: Subject, swept: dict[str, Floats], at: tuple[int, ...]) -> Way:
    """One combination in words and plain numbers."""
    numbers = {name: float(value[at]) for name, value in swept.items()}
    m, allowed_um = numbers["magnification"], numbers["allowed_blur_um"]
    one_frame = numbers["blur_um"] <= allowed_um
    holds = largest_depth_mm(allowed_um / 1000.0, m)
    frames = 1 if one_frame else max(2, rail_frames(subject.depth_mm, holds, OVERLAP))
    body, lens, tube, close_up, converter, stop = at
    if one_frame:
        reason = f"one frame holds {subject.depth_mm:g} mm at f/{STOPS[stop]:g}"
    else:
        reason = (
            f"one frame leaves {numbers['blur_um']:.0f} \u00b5m of blur at the limits, "
            f"{allowed_um:.0f} is the line: take {frames} slices"
        )
    return Way(
        kit.bodies[body].name,
        kit.lenses[lens].name,
        (0.0, *kit.tubes_mm)[tube],
        (0.0, *kit.close_ups_dioptre)[close_up],
        (1.0, *kit.converters)[converter],
        m,
        numbers["free_distance_mm"],
        STOPS[stop],
        numbers["effective_f_number"],
        numbers["stops_lost"],
        holds,
        numbers["blur_um"],
        allowed_um,
        frames,
        0.0 if one_frame else rail_step_mm(holds, OVERLAP),
        reason,
    )


def attachments(way: Way) -> int:
    """How many things are mounted beside the lens."""
    return (way.tube_mm > 0) + (way.close_up_dioptre > 0) + (way.converter > 1)


def why_not(swept: dict[str, Floats], subject: Subject) -> str:
    """Say in one sentence what stands in the way, with its number."""
    wanted = float(swept["magnification"].min())
    most = float(swept["nearest_ratio"].max())
    if wanted > most:
        return f"your closest is {most:.2f} life-size; {subject.width_mm:g} mm needs {wanted:.2f}"
    if not swept["in_ratio"].any():
        return (
            f"no set-up of this kit draws {wanted:.2f} life-size: each starts above or ends below"
        )
    return f"what draws it stands nearer than {subject.closest_mm:g} mm"


def checked_kit(kit: Kit, subject: Subject) -> None:
    """Refuse nonsense by name, as a formula does."""
    if not kit.bodies or not kit.lenses:
        raise ValueError("kit must hold at least one body and one lens")
    given = [("subject_width_mm", subject.width_mm), ("subject_depth_mm", subject.depth_mm)]
    given += [("sensor_width_mm", side) for b in kit.bodies for side in (b.width_mm, b.height_mm)]
    for lens in kit.lenses:
        given.append(("focal_length_mm", lens.focal_length_mm))
        given.append(("closest_magnification", lens.closest_magnification))
        given.append(("f_number", lens.smallest_f_number))
    given += [("tube_mm", tube) for tube in kit.tubes_mm]
    given += [("power_dioptre", power) for power in kit.close_ups_dioptre]
    given += [("factor", factor) for factor in kit.converters]
    for name, value in given:
        take(name, value, LIMITS[name])
    if not 0.0 <= subject.closest_mm < 1e9:
        raise ValueError(f"closest_mm must be from 0 to 1e+09, got {subject.closest_mm}")
