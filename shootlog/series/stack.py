"""A focus stack: steps, gaps, ends, movement, light. The merge stays with other software."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from optics.evidence.stack_focus import FocusFit, NoFocus, focus_positions
from shootlog.findings.base import Outcome
from shootlog.series import moves as moving
from shootlog.series import softened as softening
from shootlog.series.colour import colour
from shootlog.series.coverage import Coverage, cover
from shootlog.series.detail import (
    coarse_contrast,
    coarser_maps,
    everywhere,
    on_grid,
    registered_maps,
)
from shootlog.series.exposure import exposure
from shootlog.series.outcomes import between, joined, outcome
from shootlog.series.shot import Array, Shot, common, rounded
from shootlog.series.steps import LIMIT_RATIO, StackSteps, stack_steps
from shootlog.series.travel import Travel, travel


def check(shots: Sequence[Shot], told: Mapping[str, Any], timed: bool) -> dict[str, Any]:
    """Say what `manage.py series stack` says of frames in time order."""
    links = moving.chain(shots)
    light, tint = exposure(shots, links.unlike), colour(shots, links.unlike)
    result = common(shots, timed) | light.as_json() | tint.as_json()
    maps = registered_maps(shots, links)
    coarser = coarser_maps(shots, links) if maps is not None else []
    fit, why = _focus(maps, coarser)
    soft = softening.softened(maps) if maps is not None and not _out_of_order(fit) else []
    steps = stack_steps(fit, links)
    moved = moving.moves(shots, links, steps.length)
    if moved:
        steps = stack_steps(fit, links, [m["between"] for m in moved])
    depth_mm = _depth_mm(shots)
    order = _out_of_order(fit)
    along = _Along.of(maps, coarser, fit, None if order else steps)
    step = travel(
        shots,
        along.coarser if along else [],
        along.position if along else None,
        links.log_scale,
    )
    coverage = _coverage(shots, along, step, told.get("subject_box"))
    planned = told.get("planned_step_mm")
    outcomes = [
        moving.unlike_outcome(links),
        _gap_outcome(steps, fit),
        _short_outcome(coverage),
        step.outcome(),
        moving.outcome_of(moved),
        softening.outcome_of(soft),
        light.outcome(),
        tint.outcome(),
        _order_outcome(order),
    ]
    return result | {
        "kind": "stack",
        "focus_position": _positions(fit, steps, order),
        "gaps": steps.gaps,
        "covered_share": rounded(coverage.share),
        "covered_share_range": [rounded(coverage.low), rounded(coverage.high)]
        if coverage.low is not None
        else None,
        "covered_words": _covered_words(coverage),
        "starts_in_front": coverage.starts_in_front,
        "ends_behind": coverage.ends_behind,
        **step.as_json(),
        "covered_of": "the marked subject" if told.get("subject_box") else "middle of the frame",
        "planned_step_mm": planned,
        "depth_of_field_mm": rounded(depth_mm, 4),
        "out_of_order": order,
        "moved": moved,
        "softened": soft,
        "unmatched": links.unlike,
        "scale_per_step": [rounded(p.scale, 5) if p else None for p in links.pairs],
        "findings": [o.as_json() for o in outcomes],
        "words": joined(outcomes, f"{len(shots)} slices, even steps, nothing moved.")
        if fit
        else why,
    }


@dataclass(frozen=True)
class _Along:
    """Maps and places in order of focus."""

    maps: Array
    coarser: list[Array]
    position: Array

    @classmethod
    def of(
        cls,
        maps: Array | None,
        coarser: list[Array],
        fit: FocusFit | None,
        steps: StackSteps | None,
    ) -> _Along | None:
        """Steps where the frames lie in order of focus; else all steps count as alike."""
        if maps is None or fit is None:
            return None
        position = np.arange(len(maps), dtype=float) if steps is None else steps.even_position
        return cls(maps[fit.order], [level[fit.order] for level in coarser], position)


def _focus(maps: Array | None, coarser: list[Array]) -> tuple[FocusFit | None, str]:
    if maps is None:
        return None, "The frames differ in size or do not show the same thing."
    try:
        return focus_positions(maps, [everywhere(level) for level in coarser]), ""
    except NoFocus as reason:
        return None, f"Focus positions can't be told: {reason}."


def _depth_mm(shots: Sequence[Shot]) -> float | None:
    known = [v for v in (s.reading.value("depth_of_field_mm") for s in shots) if v]
    return float(np.median(known)) if known else None


def _coverage(shots: Sequence[Shot], along: _Along | None, step: Travel, box: Any) -> Coverage:
    if along is None or step.reach is None or len(along.coarser) < 2:
        return Coverage()
    shape = along.maps.shape[1:]
    levels = [along.maps, *(on_grid(level, shape) for level in along.coarser[:2])]
    coarse = coarse_contrast(shots[len(shots) // 2])
    return cover(levels, along.position, step.reach, coarse, tuple(box) if box else None)


def _covered_words(coverage: Coverage) -> str | None:
    """'between 71 and 90 %'; None where nothing can be told."""
    if coverage.low is None or coverage.high is None:
        return None
    if coverage.high - coverage.low < 0.08 and coverage.share is not None:
        return f"about {100 * coverage.share:.0f} %"
    return f"between {100 * coverage.low:.0f} and {100 * coverage.high:.0f} %"


def _out_of_order(fit: FocusFit | None) -> list[int]:
    """Positions in time whose focus lies on the far side of a frame taken after them."""
    if fit is None:
        return []
    rank = np.argsort(fit.order)
    return [int(k) + 1 for k in range(len(rank)) if rank[k] != k]


def _positions(fit: FocusFit | None, steps: StackSteps, order: list[int]) -> list[float | None]:
    if fit is None:
        return [None] * len(steps.position)
    position = fit.position if order else steps.position
    return [round(float(v), 3) for v in position]


def _gap_outcome(steps: StackSteps, fit: FocusFit | None) -> Outcome:
    gaps = steps.gaps
    if gaps:
        largest = max(float(steps.length[a - 1]) for a, _ in gaps)
        return outcome(
            "stack-gap",
            "yes",
            "measured",
            f"There is a gap {between(gaps)}: the step there was {largest:.1f} times the others.",
            "Count the steps aloud, and shoot the missing slice again before the light changes.",
            step_ratio=largest,
            limit=LIMIT_RATIO,
        )
    if fit is None or not np.isfinite(steps.length).any():
        return outcome(
            "stack-gap", "cannot tell", "cannot tell", "The steps can't be told from these frames."
        )
    return outcome("stack-gap", "no", "measured", limit=LIMIT_RATIO)


def _short_outcome(coverage: Coverage) -> Outcome:
    if coverage.starts_in_front is False and coverage.ends_behind is False:
        words = "The stack begins and ends on the subject."
    elif coverage.starts_in_front is False:
        words = "You began on the subject; begin on the air before it."
    elif coverage.ends_behind is False:
        words = (
            "The last slice still lies within the subject; go one step past it, "
            "unless only ground is left there."
        )
    elif coverage.starts_in_front is None and coverage.ends_behind is None:
        return outcome("stack-short", "cannot tell", "cannot tell", "The ends can't be told.")
    else:
        return outcome("stack-short", "no", "measured", covered_share=coverage.share)
    remedy = "Add one step of nothing at each end."
    # the far end may lie on ground that was never wanted: only a person knows
    return outcome("stack-short", "yes", "likely", words, remedy, covered_share=coverage.share)


def _order_outcome(order: list[int]) -> Outcome:
    if not order:
        return outcome("stack-order", "no", "measured")
    return outcome(
        "stack-order",
        "yes",
        "measured",
        f"The focus did not travel one way: {len(order)} frames stand in another order than taken.",
        "Travel in one direction only; a rail turned back has play in it.",
        frames=float(len(order)),
    )
