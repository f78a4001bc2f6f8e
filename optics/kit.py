"""What a person owns, what they want to photograph, and the light there is.

Plain facts for the solver: lengths in mm, powers in dioptres, light in EV.
"""

from dataclasses import dataclass

from optics.given import LIMITS, Limit, take


@dataclass(frozen=True)
class Body:
    """A camera: its name and the sides of its sensor in mm."""

    name: str
    width_mm: float
    height_mm: float


@dataclass(frozen=True)
class Lens:
    """A lens: focal lengths in mm far away and at its closest, and its largest ratio.

    `farthest_magnification` is more than 0 for a lens that never reaches
    infinity. `pupil_magnification` is for a lens that moves as a whole; one
    whose focal length shrinks close up keeps 1, see
    `aperture.effective_f_number`. `principal_plane_to_rim_mm` runs forward
    from the front principal plane to the front rim; None where not known,
    and then free distances count from the principal plane.
    """

    name: str
    focal_length_mm: float
    closest_magnification: float
    closest_focal_length_mm: float | None = None
    smallest_f_number: float = 2.8
    largest_f_number: float = 22.0
    pupil_magnification: float = 1.0
    principal_plane_to_rim_mm: float | None = None
    farthest_magnification: float = 0.0


@dataclass(frozen=True)
class Kit:
    """What a person owns: tube lengths in mm, close-up powers in dioptres, converter factors.

    Tubes stand between converter and lens; with `tubes_behind_converter`
    those between body and converter are tried as well.
    """

    bodies: tuple[Body, ...]
    lenses: tuple[Lens, ...]
    tubes_mm: tuple[float, ...] = ()
    close_ups_dioptre: tuple[float, ...] = ()
    converters: tuple[float, ...] = ()
    tubes_behind_converter: bool = False


@dataclass(frozen=True)
class Subject:
    """Width to fill the frame and depth to be sharp, in mm, and how close one may come."""

    width_mm: float
    depth_mm: float
    closest_mm: float = 0.0
    name: str = ""

    @property
    def called(self) -> str:
        """The subject as a sentence names it."""
        return self.name or f"{self.width_mm:g} mm"


@dataclass(frozen=True)
class Light:
    """The light on the subject as EV at ISO 100, and the ISO one is willing to set."""

    ev: float
    iso: float = 100.0


RIM = Limit(-1e4, 1e4)  # a principal plane may lie in front of the rim


def check_kit(kit: Kit, subject: Subject, light: Light | None = None) -> None:
    """Refuse nonsense by name, as a formula does."""
    if not kit.bodies or not kit.lenses:
        raise ValueError("kit must hold at least one body and one lens")
    given = [("subject_width_mm", subject.width_mm), ("subject_depth_mm", subject.depth_mm)]
    given += [("sensor_width_mm", side) for b in kit.bodies for side in (b.width_mm, b.height_mm)]
    given += [("tube_mm", tube) for tube in kit.tubes_mm]
    given += [("power_dioptre", power) for power in kit.close_ups_dioptre]
    given += [("factor", factor) for factor in kit.converters]
    if light is not None:
        given += [("exposure_value", light.ev), ("iso", light.iso)]
    for name, value in given:
        take(name, value, LIMITS[name])
    take("closest_mm", subject.closest_mm, Limit(0.0, 1e9))
    for lens in kit.lenses:
        check_lens(lens)


def check_lens(lens: Lens) -> None:
    """Refuse a lens that cannot be, naming what is wrong with it."""
    given = [
        ("focal_length_mm", lens.focal_length_mm),
        ("closest_magnification", lens.closest_magnification),
        ("f_number", lens.smallest_f_number),
        ("f_number", lens.largest_f_number),
        ("pupil_magnification", lens.pupil_magnification),
        ("magnification_without", lens.farthest_magnification),
    ]
    if lens.closest_focal_length_mm is not None:
        given.append(("closest_focal_length_mm", lens.closest_focal_length_mm))
    for name, value in given:
        take(name, value, LIMITS[name])
    if lens.principal_plane_to_rim_mm is not None:
        take("principal_plane_to_rim_mm", lens.principal_plane_to_rim_mm, RIM)
    if lens.smallest_f_number > lens.largest_f_number:
        raise ValueError(
            f"smallest_f_number must not be more than largest_f_number, got "
            f"{lens.smallest_f_number:g} and {lens.largest_f_number:g}"
        )
    if lens.farthest_magnification > lens.closest_magnification:
        raise ValueError(
            f"farthest_magnification must not be more than closest_magnification, got "
            f"{lens.farthest_magnification:g} and {lens.closest_magnification:g}"
        )
    shrinks = lens.closest_focal_length_mm not in (None, lens.focal_length_mm)
    if shrinks and lens.pupil_magnification != 1.0:
        raise ValueError(
            "pupil_magnification must be 1 for a lens whose focal length changes close up, got "
            f"{lens.pupil_magnification:g}: its marked f-number is not focal length over pupil"
        )
