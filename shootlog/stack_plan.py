"""A stack before it is shot: step, count, light, and what to count aloud. Pure: no Django."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from optics.stack import (
    image_step_mm,
    landscape_focus_distances_m,
    scale_change_per_step,
)
from shootlog.what_if import Asked, Found, coc_mm_of_sensor, what_if
from shootlog.wording import f_number, figures, seconds, share

SPARE_FRAMES = 2  # one in the air before the subject, one in the air after it
MOST_COUNTED = 200
PERSPECTIVE_SHARE = 0.05  # common practice, no source: above it the ring is the better choice


@dataclass(frozen=True, kw_only=True)
class StackPlan:
    """What to do, as rows for a table and lines to say aloud."""

    way: str  # "rail" | "ring" | "landscape"
    frames: int
    step_mm: float | None
    rows: list[tuple[str, str]]
    count: list[str]
    notes: list[str] = field(default_factory=list)
    distances_m: list[float] = field(default_factory=list)

    def as_json(self) -> dict[str, object]:
        """What is kept of a plan, for a series to be laid beside it later."""
        return {
            "way": self.way,
            "frames": self.frames,
            "step_mm": self.step_mm,
            "rows": [list(row) for row in self.rows],
            "count": self.count,
            "notes": self.notes,
            "distances_m": self.distances_m,
        }


def close_plan(
    asked: Asked, *, way: str, metered_s: float | None = None, pause_s: float = 2.0
) -> StackPlan:
    """Plan a stack by rail or by ring.

    `metered_s` is the time a meter in the hand gives for the f-number on the ring: it knows
    nothing of what coming close costs. The camera's own meter already does.
    """
    found = what_if(asked)
    frames = found.frames + SPARE_FRAMES
    exposure_s = metered_s * 2**found.light_lost_stops if metered_s else None
    rows = [
        ("Magnification", f"{figures(found.magnification)} times"),
        ("Depth of one frame", f"{figures(found.depth_mm)} mm"),
        _step_row(found, asked, way),
        ("Frames", f"{found.frames} for the subject, {frames} with one in the air at either end"),
        (
            "Opening",
            f"{f_number(asked.f_number)} on the ring works as {f_number(found.effective_f_number)}",
        ),
        ("Light lost", f"{found.light_lost_stops:.1f} stops"),
    ]
    if exposure_s:
        rows.append(
            ("Exposure", f"{seconds(exposure_s)} where a hand meter says {seconds(metered_s or 0)}")
        )
    rows.append(("Time", _duration(frames * ((exposure_s or 0.0) + pause_s))))
    if way == "rail" and frames > 1:
        rows.append(("Growth from frame to frame", share(_growth(asked, found))))
    return StackPlan(
        way=way,
        frames=frames,
        step_mm=found.step_mm,
        rows=rows,
        count=_count_aloud(way, frames, found, pause_s),
        notes=_notes(asked, found, way),
    )


def landscape_plan(
    *,
    focal_length_mm: float,
    f_number: float,
    sensor_width_mm: float,
    near_m: float,
    far_m: float = math.inf,
    overlap: float = 0.1,
) -> StackPlan:
    """Plan the few frames that hold a scene from near to far, nearest first."""
    coc_mm = coc_mm_of_sensor(sensor_width_mm)
    far_first = landscape_focus_distances_m(
        focal_length_mm, f_number, coc_mm, near_m, far_m, overlap
    )
    distances = far_first[::-1]
    where = "the horizon" if math.isinf(far_m) else f"{figures(far_m)} m"
    return StackPlan(
        way="landscape",
        frames=len(distances),
        step_mm=None,
        rows=[
            ("Frames", str(len(distances))),
            ("Sharp from", f"{figures(near_m)} m to {where}"),
            ("Circle of confusion", f"{figures(1000 * coc_mm)} µm, the diagonal over 1500"),
        ],
        count=[
            "Tripod, manual exposure, manual focus; nothing moves but the ring.",
            *(
                f"{k}: focus at {figures(distance)} m, release."
                for k, distance in enumerate(distances[:MOST_COUNTED], 1)
            ),
            "Hand in front of the lens: one dark frame says that the set is whole.",
        ],
        notes=["Focus the nearest frame by eye on the nearest thing, then go outwards."],
        distances_m=distances,
    )


def _step_row(found: Found, asked: Asked, way: str) -> tuple[str, str]:
    if way == "rail":
        return "Step of the rail", f"{figures(found.step_mm)} mm"
    on_sensor_mm = image_step_mm(found.effective_f_number, found.coc_um / 1000, asked.overlap)
    return (
        "Step of the focus",
        f"{figures(found.step_mm)} mm at the subject, which is {figures(on_sensor_mm)} mm of "
        "travel of the lens",
    )


def _growth(asked: Asked, found: Found) -> float:
    return scale_change_per_step(found.step_mm, asked.focal_length_mm, found.magnification)


def _notes(asked: Asked, found: Found, way: str) -> list[str]:
    notes = []
    if found.diffraction_rules:
        notes.append(
            f"{f_number(found.effective_f_number)} at the sensor blurs more by diffraction than "
            "the sharpness asked for allows. Open up two stops: more frames, each with its fine "
            "hairs."
        )
    if found.one_frame_holds_it:
        notes.append("One frame holds this subject. A stack would only cost time.")
    depth_over_distance = _growth(asked, found) * max(found.frames - 1, 0)
    if way == "rail" and depth_over_distance > PERSPECTIVE_SHARE:
        notes.append(
            f"From first to last frame the picture grows by {share(depth_over_distance)}: the rail "
            "moves the viewpoint. The focus ring keeps it; try that if it turns finely enough."
        )
    if found.step_mm < 0.05 and way == "rail":
        notes.append(
            "A step under 0.05 mm is finer than a hand can turn most screws. Stop down, or come "
            "less close."
        )
    return notes


def _count_aloud(way: str, frames: int, found: Found, pause_s: float) -> list[str]:
    move = (
        f"turn the screw on by {figures(found.step_mm)} mm"
        if way == "rail"
        else f"turn the ring on by {figures(found.step_mm)} mm at the subject"
    )
    lines = [
        "Manual focus, manual exposure, stabiliser off, release by cable or timer.",
        "Begin in the air in front: in frame 1 nothing is sharp yet.",
        f"Say the number, release, {move}, wait {figures(pause_s)} s. One direction only.",
    ]
    if frames <= MOST_COUNTED:
        tens = [range(k, min(k + 10, frames + 1)) for k in range(1, frames + 1, 10)]
        lines += [" ".join(str(k) for k in ten) for ten in tens]
    lines.append(f"{frames} is in the air at the back: nothing is sharp any more. If not, go on.")
    return lines


def _duration(total_s: float) -> str:
    if total_s < 90:
        return f"about {total_s:.0f} s"
    return f"about {math.ceil(total_s / 60)} minutes"
