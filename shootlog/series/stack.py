"""A focus stack: steps, gaps, ends, movement, light. The merge stays with other software."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from optics.evidence.registration import Alignment, warped
from optics.evidence.stack_focus import FocusFit, NoFocus, focus_positions
from shootlog.findings.base import Outcome
from shootlog.series import moves as moving
from shootlog.series.coverage import Coverage, cover
from shootlog.series.exposure import exposure
from shootlog.series.outcomes import between, joined, outcome
from shootlog.series.shot import Array, Shot, common, rounded

LIMIT_STEP_RATIO = 1.6  # of a step to its neighbours: one frame missing makes about 2
LEAST_SCALE_STEP = 3e-4  # a scale is told to some 5e-5; smaller steps tell no lengths
AROUND = [(d, e) for d in (-2, -1, 0, 1, 2) for e in (-2, -1, 0, 1, 2)]


def check(shots: Sequence[Shot], told: Mapping[str, Any], timed: bool) -> dict[str, Any]:
    """Say what `manage.py series stack` says of frames in time order."""
    light = exposure(shots)
    links = moving.chain(shots)
    by_scale = _steps_by_scale(links)
    result = common(shots, timed) | light.as_json()
    fit, why = _focus(shots, links)
    steps = _steps(fit, by_scale, len(shots))
    moved = moving.moves(shots, links, by_scale)
    depth_mm = _depth_mm(shots)
    gaps = _gaps(steps)
    told_steps = np.where(np.isfinite(steps), steps, 1.0)
    order = _out_of_order(fit)
    coverage = _coverage(shots, fit, told.get("subject_box"), None if order else told_steps)
    planned = told.get("planned_step_mm")
    outcomes = [
        _gap_outcome(gaps, steps, fit),
        _short_outcome(coverage),
        moving.outcome_of(moved),
        light.outcome(),
        _order_outcome(order),
    ]
    return result | {
        "kind": "stack",
        "focus_position": _positions(fit, told_steps, order),
        "gaps": gaps,
        "covered_share": rounded(coverage.share),
        "starts_in_front": coverage.starts_in_front,
        "ends_behind": coverage.ends_behind,
        # not told by the pixels: ground behind the subject changes scale less than the subject
        "step_mm": None,
        "covered_of": "the marked subject" if told.get("subject_box") else "middle of the frame",
        "planned_step_mm": planned,
        "depth_of_field_mm": rounded(depth_mm, 4),
        "out_of_order": order,
        "moved": moved,
        "unmatched": [[k + 1, k + 2] for k, pair in enumerate(links.pairs) if pair is None],
        "scale_per_step": [rounded(p.scale, 5) if p else None for p in links.pairs],
        "findings": [o.as_json() for o in outcomes],
        "words": joined(outcomes, f"{len(shots)} slices, even steps, nothing moved.")
        if fit
        else why,
    }


def _focus(shots: Sequence[Shot], links: moving.Chain) -> tuple[FocusFit | None, str]:
    maps = registered_maps(shots, links)
    if maps is None:
        return None, "The frames differ in size or do not show the same thing."
    try:
        return focus_positions(maps), ""
    except NoFocus as reason:
        return None, f"Focus positions can't be told: {reason}."


def registered_maps(shots: Sequence[Shot], links: moving.Chain) -> Array | None:
    """The sharpness maps of all frames, brought onto the middle frame; nan outside."""
    if len({s.detail.shape for s in shots}) > 1:
        return None
    middle = len(shots) // 2
    maps = []
    for k, shot in enumerate(shots):
        there = links.to(middle, k)
        if there is None:
            maps.append(np.full(shot.detail.shape, np.nan))
            continue
        factor = shot.luma.shape[1] / shot.detail.shape[1]
        shift = (there.shift[0] / factor, there.shift[1] / factor)
        here = Alignment(shift, there.scale, there.turn_deg)
        seen = warped(np.ones(shot.detail.shape, np.float32), here) > 0.99
        maps.append(np.where(seen, warped(shot.detail, here), np.nan))
    return np.stack(maps)


def coarse_contrast(shot: Shot) -> Array:
    """Contrast at the size of a few blocks, for each block: a blur of the focus leaves it."""
    rows, columns = shot.detail.shape
    height, width = shot.luma.shape
    y = np.linspace(0, height, rows + 1).astype(int)[:-1]
    x = np.linspace(0, width, columns + 1).astype(int)[:-1]
    value = np.log(shot.luma.astype(np.float64) + 4)
    sums = np.add.reduceat(np.add.reduceat(value, y, axis=0), x, axis=1)
    ones = np.add.reduceat(np.add.reduceat(np.ones_like(value), y, axis=0), x, axis=1)
    mean = np.pad(sums / ones, 2, mode="reflect")
    near = np.stack([mean[2 + d : 2 + d + rows, 2 + e : 2 + e + columns] for d, e in AROUND])
    spread: Array = near.std(axis=0)
    return spread


def _steps_by_scale(links: moving.Chain) -> Array:
    """Length of each step against the two beside it, from the change of scale; nan if too small.

    Only the nearest: on ground far behind the subject the same travel changes the scale less.
    """
    scale = links.log_scale
    steps = np.full(len(scale), np.nan)
    for k in range(len(scale)):
        near = [scale[j] for j in (k - 1, k + 1) if 0 <= j < len(scale)]
        if not 0 < k < len(scale) - 1:  # an end has one side only: the two next to it
            near = [scale[j] for j in (1, 2) if j < len(scale)] if k == 0 else list(scale[-3:-1])
        usual = float(np.mean(near)) if len(near) == 2 else np.nan
        if np.isfinite(usual) and np.isfinite(scale[k]) and abs(usual) > LEAST_SCALE_STEP:
            steps[k] = scale[k] / usual
    return steps


def _steps(fit: FocusFit | None, by_scale: Array, count: int) -> Array:
    """Each step against its neighbours: by scale where that tells, else by sharpness."""
    by_focus = np.full(count - 1, np.nan)
    if fit is not None and (fit.order == np.arange(count)).all():
        by_focus = fit.step
    return np.where(np.isfinite(by_scale), by_scale, by_focus)


def _gaps(steps: Array) -> list[list[int]]:
    return [[k + 1, k + 2] for k, step in enumerate(steps) if step > LIMIT_STEP_RATIO]


def _depth_mm(shots: Sequence[Shot]) -> float | None:
    known = [v for v in (s.reading.value("depth_of_field_mm") for s in shots) if v]
    return float(np.median(known)) if known else None


def _coverage(
    shots: Sequence[Shot], fit: FocusFit | None, box: Any, steps: Array | None
) -> Coverage:
    if fit is None:
        return Coverage()
    position = None if steps is None else np.concatenate([[0.0], np.cumsum(steps)])
    coarse = coarse_contrast(shots[len(shots) // 2])
    return cover(fit, max(fit.half_depth, 0.5), coarse, tuple(box) if box else None, position)


def _out_of_order(fit: FocusFit | None) -> list[int]:
    """Positions in time whose focus lies on the far side of a frame taken after them."""
    if fit is None:
        return []
    rank = np.argsort(fit.order)
    return [int(k) + 1 for k in range(len(rank)) if rank[k] != k]


def _positions(fit: FocusFit | None, steps: Array, order: list[int]) -> list[float | None]:
    if fit is None:
        return [None] * (len(steps) + 1)
    position = fit.position if order else np.concatenate([[0.0], np.cumsum(steps)])
    return [round(float(v), 3) for v in position]


def _gap_outcome(gaps: list[list[int]], steps: Array, fit: FocusFit | None) -> Outcome:
    if gaps:
        largest = max(float(steps[a - 1]) for a, _ in gaps)
        return outcome(
            "stack-gap",
            "yes",
            "measured",
            f"There is a gap {between(gaps)}: the step there was {largest:.1f} times the others.",
            "Count the steps aloud, and shoot the missing slice again before the light changes.",
            step_ratio=largest,
            limit=LIMIT_STEP_RATIO,
        )
    if fit is None or not np.isfinite(steps).any():
        return outcome(
            "stack-gap", "cannot tell", "cannot tell", "The steps can't be told from these frames."
        )
    return outcome("stack-gap", "no", "measured", limit=LIMIT_STEP_RATIO)


def _short_outcome(coverage: Coverage) -> Outcome:
    if coverage.starts_in_front is False and coverage.ends_behind is False:
        words = "The stack begins and ends on the subject."
    elif coverage.starts_in_front is False:
        words = "You began on the subject; begin on the air before it."
    elif coverage.ends_behind is False:
        words = "The last slice still lies on the subject; go one step past it."
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
