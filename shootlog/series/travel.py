"""How long a stack's steps were against the depth that is sharp in one frame, and in millimetres.

The depth of field is where the blur disc stays within the circle of confusion; how much the disc
grows from step to step is seen in the pictures. So a step against the depth needs no set-up, and
millimetres need only the depth of one frame, which the set-up gives.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot
from typing import Any

import numpy as np

from optics.conjugates import entrance_pupil_to_subject_mm
from optics.evidence.blur_growth import Growth, blur_growth
from shootlog.findings.base import Outcome
from shootlog.reading import Quantity
from shootlog.series.coverage import Reach
from shootlog.series.detail import on_grid
from shootlog.series.outcomes import outcome
from shootlog.series.shot import Array, Shot, rounded
from shootlog.series.steps import LEAST_SCALE_STEP
from shootlog.wording import figures

DIVISOR = 1500.0  # the house's circle of confusion: the diagonal over this (Conrad)
FROM = "how fast the blur grows from frame to frame, and the depth of one frame"
FROM_RAIL = "how much the picture grows from frame to frame along the rail"
#: What the travel of a rail may be off by: a lens that focuses inside is shorter than it says,
#: pupils are seldom alike, and ground far behind grows less (0.08 too short on a rendered beetle).
RAIL_LOW, RAIL_HIGH = 0.7, 1.2
LEAST_STEPS = 4
EVEN = 0.1  # the longer steps lie within this share of each other


@dataclass(frozen=True)
class Travel:
    """A step as a share of the depth that is sharp; all None where it cannot be told."""

    reach: Reach | None = None
    depth_mm: Quantity | None = None
    rail_mm: float | None = None  # by the change of scale; None where no rail was told

    @property
    def of_depth(self) -> tuple[float, float, float] | None:
        """Low, middle, high: two reaches make one depth."""
        if self.reach is None:
            return None
        return tuple(1 / (2 * r) for r in (self.reach.high, self.reach.middle, self.reach.low))  # type: ignore[return-value]

    @property
    def mm(self) -> tuple[float, float | None, float] | None:
        """Low, middle, high in millimetres; the middle only where the depth has one."""
        share, depth = self.of_depth, self.depth_mm
        if share is None or depth is None or not depth.low > 0:
            return None
        low, high = share[0] * depth.low, share[2] * depth.high
        if self.by_rail:
            assert self.rail_mm
            return (
                max(low, RAIL_LOW * self.rail_mm),
                self.rail_mm,
                min(high, RAIL_HIGH * self.rail_mm),
            )
        return low, share[1] * depth.value if depth.value else None, high

    @property
    def by_rail(self) -> bool:
        """Whether the rail's travel is believed: only where the blur does not speak against it."""
        share, depth = self.of_depth, self.depth_mm
        if not self.rail_mm or share is None or depth is None:
            return False
        return share[0] * depth.low <= self.rail_mm <= share[2] * depth.high

    def as_json(self) -> dict[str, Any]:
        """The keys of the step; `step_mm` as the contract has it, the ranges beside it."""
        share, mm = self.of_depth, self.mm
        return {
            "step_mm": rounded(mm[1], 4) if mm and mm[1] else None,
            "step_mm_range": [rounded(mm[0], 4), rounded(mm[2], 4)] if mm else None,
            "step_mm_from": (FROM_RAIL if self.by_rail else FROM) if mm else None,
            "step_of_depth": rounded(share[1]) if share else None,
            "step_of_depth_range": [rounded(share[0]), rounded(share[2])] if share else None,
            "step_words": self.words(),
        }

    def words(self) -> str | None:
        """'Each step was about 0.42 mm, 0.7 of the depth that is sharp (0.5 to 0.9).'"""
        share, mm = self.of_depth, self.mm
        if share is None:
            return None
        low, middle, high = share
        depth = f"{figures(middle)} of the depth that is sharp ({figures(low)} to {figures(high)})"
        if mm and mm[1]:
            return f"Each step was about {figures(mm[1])} mm, {depth}."
        if mm:
            return f"Each step was {figures(mm[0])} to {figures(mm[2])} mm, {depth}."
        return f"Each step was about {depth}."

    def outcome(self) -> Outcome:
        """Say whether the steps were longer than the depth that is sharp."""
        share = self.of_depth
        if share is None:
            return outcome("stack-step", "cannot tell", "cannot tell", "The step can't be told.")
        low, middle, high = share
        if high <= 1:
            return outcome("stack-step", "no", "measured", share=middle, limit=1.0)
        if low <= 1:
            return outcome("stack-step", "cannot tell", "cannot tell", share=middle, limit=1.0)
        return outcome(
            "stack-step",
            "yes",
            "measured",
            f"Each step was about {figures(middle)} times the depth that is sharp, so soft bands "
            "lie between the slices.",
            "Take shorter steps, three quarters of the depth at most, or close the aperture.",
            share=middle,
            limit=1.0,
        )


def travel(
    shots: Sequence[Shot], coarser: Sequence[Array], position: Array | None, log_scale: Array
) -> Travel:
    """How long the steps were; `coarser` as `detail.coarser_maps` has it, in order of focus."""
    depth = _depth(shots)
    if position is None or len(coarser) < 2:
        return Travel(None, depth)
    fine = coarser[0]
    coarse = on_grid(coarser[1], fine.shape[1:])
    seen = np.isfinite(fine).all(axis=0) & np.isfinite(coarse).all(axis=0)
    reach = _reach(shots[0], blur_growth(fine[:, seen], coarse[:, seen], position))
    return Travel(reach, depth, _rail_mm(shots[len(shots) // 2], log_scale))


def _reach(shot: Shot, growth: Growth | None) -> Reach | None:
    if growth is None:
        return None
    disc = _circle_px(shot)
    return Reach(disc / growth.high_px, disc / growth.per_step_px, disc / growth.low_px)


def _rail_mm(shot: Shot, log_scale: Array) -> float | None:
    """Travel of a step from the change of scale, the pupils taken for alike.

    Three quarters of the steps are shorter: where ground far behind fills the picture, it grows
    less than the subject does. Told only where many steps agree: a rail's steps are even.
    """
    reading = shot.reading
    focal_mm, magnification = reading.value("focal_length_mm"), reading.value("magnification")
    known = np.abs(log_scale[np.isfinite(log_scale)])
    if reading.facts.get("support") != "rail" or not focal_mm or not magnification:
        return None
    if len(known) < LEAST_STEPS or np.median(known) < LEAST_SCALE_STEP:
        return None
    few, usual, many = np.quantile(known, [0.6, 0.75, 0.9])
    if many - few > EVEN * usual:
        return None
    away_mm = entrance_pupil_to_subject_mm(focal_mm, magnification, 1.0)
    return float(away_mm * usual)


def _circle_px(shot: Shot) -> float:
    """Circle of confusion in pixels of `luma`: the reading's own where the sensor is known."""
    high, wide = shot.luma.shape
    circle_um, sensor_mm = shot.reading.value("coc_um"), shot.reading.value("sensor_width_mm")
    if circle_um and sensor_mm and wide >= high:
        return circle_um / 1000 / sensor_mm * wide
    return hypot(high, wide) / DIVISOR


def _depth(shots: Sequence[Shot]) -> Quantity | None:
    """Depth of field of the middle frame that has one."""
    known = [q for q in (s.reading["depth_of_field_mm"] for s in shots) if q]
    return known[len(known) // 2] if known else None
