"""From a wish and a person's kit to set-ups in words. Pure: no Django, no files.

`optics.solve` does the arithmetic; here are the kit's combinations and the sentences.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations

from optics.best_stop import best_effective_f_number
from optics.solve import STOPS, Answer, Body, Kit, Lens, Subject, Way, solve
from shootlog.what_if import Asked, Found, what_if
from shootlog.wording import f_number, figures

MOST_SHOWN = 6
MOST_TUBES = 4  # four rings are fifteen lengths; more than that wobbles
MOST_STACKED = 2  # close-up lenses screwed into each other
USUAL_TUBES_MM = (12.0, 20.0, 36.0)  # lengths sold as sets; common practice, no source


@dataclass(frozen=True)
class Choice:
    """One way for the page: what to mount, what it gives, what it costs."""

    way: Way
    sensor_width_mm: float
    sensor_height_mm: float
    focal_length_mm: float
    lens_magnification: float
    subject_depth_mm: float
    pupil_ratio: float = 1.0
    rim_mm: float | None = None

    @property
    def found(self) -> Found:
        """The same set-up by the formulas of the other planning pages: one set of numbers."""
        return what_if(self.asked)

    @property
    def frames(self) -> int:
        return 1 if self.way.frames == 1 else max(2, self.found.frames)

    @property
    def mounted(self) -> str:
        """What stands in front of the sensor, from the body outwards."""
        parts = [self.way.body]
        if self.way.converter > 1:
            parts.append(f"{self.way.converter:g}× converter")
        if self.way.tube_mm:
            parts.append(f"{self.way.tube_mm:g} mm of tube")
        parts.append(self.way.lens)
        if self.way.close_up_dioptre:
            parts.append(f"close-up lens +{self.way.close_up_dioptre:g}")
        return ", ".join(parts)

    @property
    def ring_f_number(self) -> float:
        """The opening to use: of the one frame, or of each slice where slices are needed."""
        if self.way.frames == 1:
            return self.way.f_number
        light = self.way.effective_f_number / self.way.f_number
        best = best_effective_f_number(self.way.depth_mm, self.way.magnification) / light
        return min(STOPS, key=lambda stop: abs(stop / best - best / stop))

    @property
    def reason(self) -> str:
        """The first thing that decides, as a sentence with its number."""
        way = self.way
        if way.frames == 1:
            return (
                f"One frame at {f_number(way.f_number)} on the ring holds the depth: "
                f"{way.blur_um:.0f} µm of blur at its ends, {way.allowed_blur_um:.0f} µm is the "
                "line."
            )
        return (
            f"One frame leaves {way.blur_um:.0f} µm of blur at the ends of the depth, "
            f"{way.allowed_blur_um:.0f} µm is the line. {self.frames} slices, "
            f"{figures(self.found.step_mm)} mm apart, at {f_number(self.ring_f_number)} hold it."
        )

    @property
    def asked(self) -> Asked:
        """The same set-up for the pages that look closer at one."""
        return Asked(
            focal_length_mm=self.focal_length_mm,
            f_number=self.ring_f_number,
            sensor_width_mm=self.sensor_width_mm,
            sensor_height_mm=self.sensor_height_mm,
            subject_depth_mm=self.subject_depth_mm,
            lens_magnification=self.lens_magnification,
            tube_mm=self.way.tube_mm,
            close_up_dioptre=self.way.close_up_dioptre,
            converter=self.way.converter,
            pupil_ratio=self.pupil_ratio,
            rim_mm=self.rim_mm,
        )


def whole_kit(
    bodies: Iterable[Body],
    lenses: Iterable[Lens],
    tubes_mm: Iterable[float] = (),
    close_ups_dioptre: Iterable[float] = (),
    converters: Iterable[float] = (),
) -> Kit:
    """Return the kit with every sum that its rings and close-up lenses can make."""
    return Kit(
        tuple(bodies),
        tuple(lenses),
        sums_of(sorted(tubes_mm)[:MOST_TUBES], MOST_TUBES),
        sums_of(sorted(close_ups_dioptre)[:MOST_TUBES], MOST_STACKED),
        tuple(sorted(set(converters))),
    )


def sums_of(parts: list[float], most_together: int) -> tuple[float, ...]:
    """Every length that some of the parts make together, each once, the shortest first."""
    sums = {
        round(sum(some), 3)
        for count in range(1, most_together + 1)
        for some in combinations(parts, count)
    }
    return tuple(sorted(sums))


def choices(kit: Kit, subject: Subject) -> tuple[list[Choice], str]:
    """Return the ways worth showing, the best first, and why there is none."""
    answer = solve(kit, subject)
    shown = [_choice(kit, way, subject) for way in _least_tube(answer.ways)[:MOST_SHOWN]]
    return shown, "" if shown else why_none(kit, subject, answer)


def _least_tube(ways: list[Way]) -> list[Way]:
    """Of ways that differ by their tube alone keep the shortest: it wobbles least."""
    kept: dict[tuple[object, ...], Way] = {}
    for way in ways:
        alike = (way.body, way.lens, way.close_up_dioptre, way.converter, way.frames)
        if alike not in kept or way.tube_mm < kept[alike].tube_mm:
            kept[alike] = way
    return list(kept.values())


def why_none(kit: Kit, subject: Subject, answer: Answer) -> str:
    """An impossible wish in a sentence, and what would make it possible."""
    said = answer.why_not[:1].upper() + answer.why_not[1:] + "."
    return " ".join([said, _what_would_bring_it(kit, subject)]).strip()


def _what_would_bring_it(kit: Kit, subject: Subject) -> str:
    if subject.closest_mm:
        freely = Subject(subject.width_mm, subject.depth_mm)
        ways = solve(kit, freely).ways
        if ways:
            way = max(ways, key=lambda one: one.free_distance_mm)
            return (
                f"The most room any of your set-ups leaves is {way.free_distance_mm:.0f} mm, "
                f"with {_choice(kit, way, subject).mounted}."
            )
    body = max(kit.bodies, key=lambda one: one.width_mm)
    wanted = body.width_mm / subject.width_mm
    tubes = [
        (lens, (wanted - lens.closest_magnification) * _focal(lens), tube)
        for lens in kit.lenses
        for tube in USUAL_TUBES_MM
    ]
    enough = [row for row in tubes if 0 < row[1] <= row[2]]
    if not enough:
        return ""
    lens, _, tube = min(enough, key=lambda row: row[2])
    reached = lens.closest_magnification + tube / _focal(lens)
    return f"A {tube:g} mm tube on {lens.name} would bring {reached:.2f}."


def _focal(lens: Lens) -> float:
    return lens.closest_focal_length_mm or lens.focal_length_mm


def _choice(kit: Kit, way: Way, subject: Subject) -> Choice:
    """Put beside the way what it is made of: the sensor, and what the lens draws alone."""
    body = next(one for one in kit.bodies if one.name == way.body)
    lens = next(one for one in kit.lenses if one.name == way.lens)
    alone = max(way.lens_magnification - way.tube_mm / way.focal_length_mm, 0.0)
    return Choice(
        way=way,
        sensor_width_mm=body.width_mm,
        sensor_height_mm=body.height_mm,
        focal_length_mm=way.focal_length_mm,
        lens_magnification=alone,
        subject_depth_mm=subject.depth_mm,
        pupil_ratio=lens.pupil_magnification,
        rim_mm=lens.principal_plane_to_rim_mm,
    )
