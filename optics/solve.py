"""Which set-up frames this subject: the ways in order, each with its reason.

The arithmetic is in `sweep`; here the ways are chosen, put in order and
said, and an impossible wish is explained with what would make it possible.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optics.depth import wave_depth_of_field_mm
from optics.given import Floats
from optics.kit import Body, Kit, Lens, Light, Subject
from optics.stack import rail_frames, rail_step_mm
from optics.sweep import STOPS, sweep

__all__ = [
    "OVERLAP",
    "STOPS",
    "Answer",
    "Body",
    "Kit",
    "Lens",
    "Light",
    "Subject",
    "Way",
    "solve",
    "sweep",
]

OVERLAP = 0.25
# What shops sell, tried where the kit does not reach; common practice, no source.
USUAL_TUBES_MM = (10.0, 12.0, 16.0, 20.0, 25.0, 36.0, 48.0, 56.0, 68.0)
USUAL_CLOSE_UPS = (1.0, 2.0, 3.0, 4.0, 5.0, 8.0, 10.0)
USUAL_CONVERTERS = (1.4, 2.0)
PLANE, RIM, CLOSE_UP = (
    "from the lens's front principal plane",
    "from the front rim",
    "from the close-up lens",
)


@dataclass(frozen=True)
class Way:
    """One set-up that frames the subject; lengths in mm, `reason` and `ranked` in words.

    `lens_magnification` is what the lens with its tube draws, without
    close-up lens and converter; `focal_length_mm` is that of the lens at
    this setting. `exposure_s` and `by_hand` are None where no light was
    told.
    """

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
    free_from: str = PLANE
    tube_place: str = ""
    focal_length_mm: float = 0.0
    lens_magnification: float = 0.0
    slice_f_number: float = 0.0
    longest_by_hand_s: float = 0.0
    exposure_s: float | None = None
    by_hand: bool | None = None
    ranked: str = ""


@dataclass(frozen=True)
class Answer:
    """All ways, the best first; `why_not` in words where there is none, and what would help."""

    ways: list[Way]
    why_not: str
    what_brings_it: str = ""

    @property
    def explained(self) -> str:
        """Why there is none and what would bring it, as one sentence."""
        return "; ".join(part for part in (self.why_not, self.what_brings_it) if part)


def solve(kit: Kit, subject: Subject, light: Light | None = None) -> Answer:
    """Return the set-ups that frame a subject, ranked, or why none does.

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
    Answer
        One way for each combination, lengths in mm, at the stop with the
        least blur at the limits. Fewest frames first, then what a hand can
        hold in this light, then fewest things mounted, then the larger free
        distance.

    Notes
    -----
    Where one frame cannot hold the depth, depth and step are those of the
    lens's own stop that holds most at the allowed blur, the diagonal over
    1500, and the exposure is that of this stop.

    References
    ----------
    The formulas of `conjugates`, `aperture`, `blur` and `shake`, each with
    its own.

    Examples
    --------
    >>> kit = Kit((Body('full frame', 36.0, 24.0),), (Lens('macro', 100.0, 0.31),), (33.0,))
    >>> [way.tube_mm for way in solve(kit, Subject(60.0, 2.0)).ways]
    [33.0]
    """
    swept = sweep(kit, subject, light)
    ways = [way_at(kit, subject, swept, light, at) for at in zip(*reached(swept), strict=True)]
    ways.sort(key=place_of)
    ways = [replace(way, ranked=ranked(way, k, ways)) for k, way in enumerate(ways)]
    if ways:
        return Answer(ways, "")
    return Answer([], why_not(swept, subject), what_brings_it(kit, subject, swept))


def reached(swept: dict[str, Floats]) -> tuple[NDArray[Any], ...]:
    """Places of the combinations that frame the subject, at any stop."""
    return np.nonzero(swept["reached"].any(axis=-1))


def place_of(way: Way) -> tuple[float, ...]:
    """What ranks before what."""
    return way.frames, way.by_hand is False, attachments(way), -way.free_distance_mm


def attachments(way: Way) -> int:
    """How many things are mounted beside the lens."""
    return (way.tube_mm > 0) + (way.close_up_dioptre > 0) + (way.converter > 1)


def way_at(
    kit: Kit,
    subject: Subject,
    swept: dict[str, Floats],
    light: Light | None,
    at: tuple[int, ...],
) -> Way:
    """One combination in plain numbers, at its best stop, with its reason."""
    rows = {name: value[at] for name, value in swept.items()}
    best, deepest = int(rows["blur_um"].argmin()), int(rows["depth_mm"].argmax())
    numbers = {name: float(row[best]) for name, row in rows.items()}
    one_frame = numbers["blur_um"] <= numbers["allowed_blur_um"]
    used = best if one_frame else deepest
    holds = float(rows["depth_mm"][deepest])
    if holds <= 0.0:
        # Diffraction alone is over the line at every stop: what a wave holds at the widest.
        holds = wave_depth_of_field_mm(
            float(rows["effective_f_number"][0]), numbers["magnification"]
        )
        frames = rail_frames(subject.depth_mm, holds, OVERLAP)
    else:
        frames = 1 if one_frame else max(2, rail_frames(subject.depth_mm, holds, OVERLAP))
    body, lens, tube, close_up, converter = at
    lengths = (0.0, *kit.tubes_mm)
    behind = tube >= len(lengths)
    tube_mm = kit.tubes_mm[tube - len(lengths)] if behind else lengths[tube]
    told = kit.lenses[lens].principal_plane_to_rim_mm is not None
    factor = (1.0, *kit.converters)[converter]
    way = Way(
        body=kit.bodies[body].name,
        lens=kit.lenses[lens].name,
        tube_mm=tube_mm,
        close_up_dioptre=(0.0, *kit.close_ups_dioptre)[close_up],
        converter=factor,
        magnification=numbers["magnification"],
        free_distance_mm=numbers["free_distance_mm"],
        f_number=numbers["f_number"],
        effective_f_number=numbers["effective_f_number"],
        stops_lost=numbers["stops_lost"],
        depth_mm=holds,
        blur_um=numbers["blur_um"],
        allowed_blur_um=numbers["allowed_blur_um"],
        frames=frames,
        step_mm=0.0 if frames == 1 else rail_step_mm(holds, OVERLAP),
        reason="",
        free_from=(CLOSE_UP if close_up else RIM) if told else PLANE,
        tube_place=tube_place(tube_mm, factor, behind),
        focal_length_mm=numbers["focal_length_mm"],
        lens_magnification=numbers["lens_magnification"],
        slice_f_number=float(rows["f_number"][used]),
        longest_by_hand_s=numbers["longest_by_hand_s"],
    )
    if light is not None:
        exposure_s = float(rows["exposure_s"][used])
        way = replace(
            way, exposure_s=exposure_s, by_hand=frames == 1 and exposure_s <= way.longest_by_hand_s
        )
    return replace(way, reason=reason(way, subject, light, over=rows["depth_mm"].max() <= 0.0))


def tube_place(tube_mm: float, factor: float, behind: bool) -> str:
    """Where a tube goes when there is a converter too."""
    if not tube_mm or factor <= 1.0:
        return ""
    return "between body and converter" if behind else "between converter and lens"


def reason(way: Way, subject: Subject, light: Light | None, *, over: bool) -> str:
    """What decides about this way, each with its number."""
    if over:
        words = (
            f"diffraction leaves {way.blur_um:.0f} \u00b5m of blur even at f/{way.f_number:g}, "
            f"{way.allowed_blur_um:.0f} is the line"
        ) + (f": {way.frames} slices cannot mend that" if way.frames > 1 else "")
    elif way.frames == 1:
        words = f"one frame holds {subject.depth_mm:g} mm at f/{way.f_number:g}"
    else:
        words = (
            f"one frame leaves {way.blur_um:.0f} \u00b5m of blur at the limits, "
            f"{way.allowed_blur_um:.0f} is the line: take {way.frames} slices"
        )
    if way.exposure_s is None or light is None:
        return words
    time, limit = seconds(way.exposure_s), seconds(way.longest_by_hand_s)
    if way.frames > 1:
        held = "on a support, as slices must be"
    elif way.by_hand:
        held = f"a hand holds up to {limit}"
    else:
        held = f"a hand holds only {limit}: use a support, a flash or a higher ISO"
    return f"{words}; {time} at ISO {light.iso:g}, {held}"


def seconds(time_s: float) -> str:
    """A time as photographers say it."""
    return f"{time_s:.2g} s" if time_s >= 0.4 else f"1/{1.0 / time_s:.0f} s"


def ranked(way: Way, k: int, ways: list[Way]) -> str:
    """Why this way stands where it does, against the one before it."""
    if k == 0:
        mounted = ("the lens alone", "one thing to mount", "two things to mount")
        parts = ["one frame" if way.frames == 1 else f"{way.frames} slices"]
        parts += ["by hand"] if way.by_hand else []
        parts += [*mounted, "three things to mount"][attachments(way) :][:1]
        return f"first: {', '.join(parts)}, {way.free_distance_mm:.0f} mm {way.free_from}"
    before = ways[k - 1]
    if way.frames != before.frames:
        return f"after it: {way.frames} frames, not {before.frames}"
    if way.by_hand != before.by_hand:
        return "after it: too slow for the hand in this light"
    if attachments(way) != attachments(before):
        return f"after it: {attachments(way)} things to mount, not {attachments(before)}"
    if way.free_distance_mm < before.free_distance_mm:
        nearer = before.free_distance_mm - way.free_distance_mm
        return f"after it: {nearer:.0f} mm less room before the subject"
    return "level with the one before it"


def why_not(swept: dict[str, Floats], subject: Subject) -> str:
    """Say in one sentence what stands in the way, with its number."""
    wanted = float(swept["magnification"].min())
    most = float(np.nanmax(swept["nearest_ratio"]))
    if wanted > most:
        return f"your closest is {most:.2f} life-size; {subject.called} needs {wanted:.2f}"
    if not swept["in_ratio"].any():
        return (
            f"no set-up of this kit draws {wanted:.2f} life-size: each starts above or ends below"
        )
    return f"what draws it stands nearer than {subject.closest_mm:g} mm"


def what_brings_it(kit: Kit, subject: Subject, swept: dict[str, Floats]) -> str:
    """Name the one thing to add that would frame the subject, owned or not."""
    bare = Kit(kit.bodies, kit.lenses)
    beside = [(new, new + own) for new in USUAL_TUBES_MM for own in kit.tubes_mm]
    for more, sizes, name in (
        (replace(bare, tubes_mm=USUAL_TUBES_MM), USUAL_TUBES_MM, "the {:g} mm tube"),
        (
            replace(bare, close_ups_dioptre=USUAL_CLOSE_UPS),
            USUAL_CLOSE_UPS,
            "a close-up lens of {:g} dioptres",
        ),
        (replace(bare, converters=USUAL_CONVERTERS), USUAL_CONVERTERS, "a {:g}\u00d7 converter"),
        (
            replace(kit, tubes_mm=tuple(length for _, length in beside) or USUAL_TUBES_MM),
            tuple(new for new, _ in beside) or USUAL_TUBES_MM,
            "the {:g} mm tube with what you own",
        ),
    ):
        tried = sweep(more, subject)
        found = list(zip(*reached(tried), strict=True))
        if found:
            # The least of it that does, on whatever body and lens.
            at = min(found, key=lambda place: place[2:])
            # Tubes behind the converter are listed once more after those before it.
            size = sizes[((at[2] or at[3] or at[4]) - 1) % len(sizes)]
            on = f" on the {kit.lenses[at[1]].name}" if len(kit.lenses) > 1 else ""
            return f"{name.format(size)}{on} brings {tried['nearest_ratio'][(*at, 0)]:.2f}"
    room = np.where(swept["in_ratio"], swept["free_distance_mm"], 0.0).max()
    return f"the most room any of your set-ups leaves is {room:.0f} mm" if room > 0.0 else ""
