"""What a set-up would do to a subject, from numbers alone. Pure: no Django, no files.

`config/static/plan.js` holds the same few lines for the page that recomputes while one types; a
browser test holds the two against each other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from optics.accessories import (
    magnification_with_close_up_lens,
    magnification_with_teleconverter,
    magnification_with_tube,
)
from optics.aperture import effective_f_number_with_close_up_lens
from optics.best_stop import best_effective_f_number
from optics.blur import defocus_disc_um, total_blur_um
from optics.circle_of_confusion import coc_mm_from_diagonal
from optics.conjugates import subject_width_mm
from optics.depth import depth_of_field_mm
from optics.diffraction import airy_diameter_um
from optics.stack import rail_frames, rail_step_mm

#: The openings a lens ring clicks into, in whole and half stops.
STOPS = (1.4, 2, 2.8, 4, 5.6, 8, 11, 16, 22, 32)
#: What diffraction alone blurs, as a disc of equal sharpness: 1.745 wavelengths times f-number.
DIFFRACTION_DISC = 1.745 * 0.55
#: Height over width of a sensor: 3:2 unless it is one of the 4:3 kind.
FOUR_THIRDS_WIDTHS_MM = (12.0, 18.5)


@dataclass(frozen=True, kw_only=True)
class Asked:
    """A set-up and a subject. Lengths in mm; the lens's own magnification is without the rest."""

    focal_length_mm: float
    f_number: float
    sensor_width_mm: float
    subject_depth_mm: float
    sensor_height_mm: float | None = None
    lens_magnification: float = 0.0
    tube_mm: float = 0.0
    close_up_dioptre: float = 0.0
    converter: float = 1.0
    overlap: float = 0.25
    pupil_ratio: float = 1.0  # exit over entrance pupil
    rim_mm: float | None = None  # from the front principal plane forward to the rim


@dataclass(frozen=True, kw_only=True)
class Found:
    """What it gives and what it costs."""

    magnification: float
    frame_width_mm: float
    effective_f_number: float
    light_lost_stops: float
    coc_um: float
    depth_mm: float
    blur_um: float  # at the subject's near and far end, focus between
    airy_um: float
    best_f_number: float  # on the ring
    step_mm: float
    frames: int
    lens_to_subject_mm: float  # from the front principal plane
    free_mm: float  # from the rim where it is told, else from the front principal plane

    @property
    def diffraction_rules(self) -> bool:
        """Whether the blur of light itself is larger than the blur that is allowed."""
        return DIFFRACTION_DISC * self.effective_f_number > self.coc_um

    @property
    def one_frame_holds_it(self) -> bool:
        return self.frames == 1


def what_if(asked: Asked) -> Found:
    """Work out one set-up; ValueError where its lens reaches no magnification at all."""
    magnification, light = _magnification_and_light(asked)
    if magnification <= 0:
        raise ValueError(
            "This lens alone, at infinity, frames nothing near: give the ratio it reaches, a "
            "tube or a close-up lens."
        )
    if _distances(asked)[1] <= 0:
        raise ValueError(
            "The subject would have to stand inside the lens: less tube, or another lens, brings "
            "it out in front."
        )
    effective = asked.f_number * light
    coc_mm = coc_mm_of_sensor(asked.sensor_width_mm, asked.sensor_height_mm)
    depth = depth_of_field_mm(effective, magnification, coc_mm)
    along, free = _distances(asked)
    return Found(
        magnification=magnification,
        frame_width_mm=subject_width_mm(asked.sensor_width_mm, magnification),
        effective_f_number=effective,
        light_lost_stops=2.0 * math.log2(light),
        coc_um=1000.0 * coc_mm,
        depth_mm=depth,
        blur_um=blur_at_ends_um(effective, magnification, asked.subject_depth_mm),
        airy_um=airy_diameter_um(effective),
        best_f_number=best_effective_f_number(asked.subject_depth_mm, magnification) / light,
        step_mm=rail_step_mm(depth, asked.overlap),
        frames=rail_frames(asked.subject_depth_mm, depth, asked.overlap),
        lens_to_subject_mm=along,
        free_mm=free,
    )


def blur_at_ends_um(
    effective_f_number: float, magnification: float, subject_depth_mm: float
) -> float:
    """Return the blur of both ends of a subject in one frame focused between them."""
    image_shift_mm = magnification**2 * subject_depth_mm / 2.0
    disc_um = defocus_disc_um(image_shift_mm, effective_f_number)
    return total_blur_um(abs(disc_um), effective_f_number)


def coc_mm_of_sensor(sensor_width_mm: float, sensor_height_mm: float | None = None) -> float:
    """Return the circle of confusion a planner uses: the sensor's diagonal over 1500.

    Where the height was not told it is the usual one for the width.
    """
    height = sensor_height_mm or usual_height_mm(sensor_width_mm)
    return coc_mm_from_diagonal(math.hypot(sensor_width_mm, height))


def usual_height_mm(sensor_width_mm: float) -> float:
    """Return how high a sensor of this width is: 3:2, or 4:3 for the widths of that kind."""
    low, high = FOUR_THIRDS_WIDTHS_MM
    return sensor_width_mm * (3 / 4 if low <= sensor_width_mm <= high else 2 / 3)


def _magnification_and_light(asked: Asked) -> tuple[float, float]:
    """Magnification with everything mounted, and the f-number's factor.

    A close-up lens costs no light: the factor is taken before it is put on.
    """
    bare = _with_tube(asked)
    light = effective_f_number_with_close_up_lens(1.0, bare, asked.pupil_ratio) * asked.converter
    whole = bare
    if asked.close_up_dioptre:
        whole = magnification_with_close_up_lens(
            bare, asked.focal_length_mm, asked.close_up_dioptre, _gap_mm(asked)
        )
    if asked.converter != 1.0 and whole > 0:
        whole = magnification_with_teleconverter(whole, asked.converter)
    return whole, light


def _distances(asked: Asked) -> tuple[float, float]:
    """From the front principal plane to the subject, and what of it is free."""
    bare = _with_tube(asked)
    along = asked.focal_length_mm * (1.0 + 1.0 / bare) if bare > 0 else math.inf
    if not asked.close_up_dioptre:
        return along, along - (asked.rim_mm or 0.0)
    gap = _gap_mm(asked)
    in_front = 1.0 / (asked.close_up_dioptre / 1000.0 + 1.0 / (along - gap))
    return in_front + gap, in_front


def _with_tube(asked: Asked) -> float:
    if not asked.tube_mm:
        return asked.lens_magnification
    return magnification_with_tube(asked.lens_magnification, asked.tube_mm, asked.focal_length_mm)


def _gap_mm(asked: Asked) -> float:
    """Where the close-up lens sits: at the rim, in front of the lens's plane."""
    return max(asked.rim_mm or 0.0, 0.0)
