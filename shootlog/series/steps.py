"""How long each step of a stack was against the others: by the change of scale, by sharpness."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optics.evidence.stack_focus import FocusFit
from shootlog.series.moves import Chain
from shootlog.series.shot import Array

LIMIT_RATIO = 1.6  # of a step to its neighbours by scale: one frame missing makes about 2
LEAST_SCALE_STEP = 3e-4  # a scale is told to some 5e-5; smaller steps tell no lengths
#: by sharpness the likeliest length is drawn towards 1 where patches are few
LIMIT_BY_SHARPNESS = 1.5
LIMIT_GAIN = 0.75  # in log-likelihood for one patch, on both sides of the step
LIMIT_LIKE_OTHERS = 1.2  # a step that sharpness calls no longer than this is no gap by scale
LIMIT_NO_GAP = 1.3  # a scale that says this much or less clears a step


@dataclass(frozen=True)
class StackSteps:
    """One entry a step, in the order given; times the neighbours, nan where nothing tells."""

    length: Array
    long: NDArray[np.bool_]

    @property
    def gaps(self) -> list[list[int]]:
        return [[int(k) + 1, int(k) + 2] for k in np.flatnonzero(self.long)]

    @property
    def told(self) -> Array:
        """Lengths, those that nothing tells taken for one."""
        known: Array = np.where(np.isfinite(self.length), self.length, 1.0)
        return known

    @property
    def position(self) -> Array:
        along: Array = np.concatenate([[0.0], np.cumsum(self.told)])
        return along

    @property
    def even_position(self) -> Array:
        """The same with all steps alike but the long ones: a single length is good to a fifth."""
        steps = np.where(self.long, self.told, 1.0)
        along: Array = np.concatenate([[0.0], np.cumsum(steps)])
        return along


def stack_steps(
    fit: FocusFit | None, links: Chain, nudged: Sequence[Sequence[int]] = ()
) -> StackSteps:
    """Lengths by scale where it changes enough, else by sharpness; gaps where either is sure.

    A scale can stay still (a bellows, a telecentric lens) and sharpness can be crowded at one
    depth: what one of them cannot see the other mostly does. Where the camera was `nudged` its
    scale is not believed alone.
    """
    first = _steps_by_scale(links, np.zeros(len(links.pairs), bool))
    with np.errstate(invalid="ignore"):
        long, clear = first > LIMIT_RATIO, first <= LIMIT_NO_GAP
    long[[after - 2 for _, after in nudged]] = False
    scale = _steps_by_scale(links, long)
    # among long steps alone the first answer is all there is
    scale = np.where(long & np.isnan(scale), first, scale)
    if fit is None or not (fit.order == np.arange(len(scale) + 1)).all():
        return StackSteps(scale, long)
    sharp = fit.steps
    length = np.where(np.isfinite(scale), scale, np.where(sharp.told, sharp.length, np.nan))
    also = sharp.longer(LIMIT_BY_SHARPNESS, LIMIT_GAIN) & ~clear
    with np.errstate(invalid="ignore"):
        even = sharp.length < LIMIT_LIKE_OTHERS
    return StackSteps(
        np.where(also & ~long, np.fmax(length, sharp.length), length), (long & ~even) | also
    )


def _steps_by_scale(links: Chain, long: NDArray[np.bool_]) -> Array:
    """Length of each step against the two beside it, from the change of scale; nan if too small.

    Only the nearest: on ground far behind the subject the same travel changes the scale less.
    Steps known to be `long` are no measure for those beside them, nor are two that go to and fro.
    """
    scale = links.log_scale
    steps = np.full(len(scale), np.nan)
    for k in range(len(scale)):
        near = scale[_beside(k, long)]
        usual = float(np.mean(near)) if len(near) == 2 and near[0] * near[1] > 0 else np.nan
        if abs(usual) > LEAST_SCALE_STEP:
            steps[k] = scale[k] / usual
    return steps


def _beside(k: int, long: NDArray[np.bool_]) -> list[int]:
    """The step before and the one after; at an end, which has one side only, the next two."""
    usual = np.flatnonzero(~long)
    before, after = usual[usual < k][::-1], usual[usual > k]
    if before.size and after.size:
        return [int(before[0]), int(after[0])]
    return [int(j) for j in (before if before.size else after)[:2]]
