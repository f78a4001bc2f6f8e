"""Exposure from frame to frame: by the dials and by the pixels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from optics.evidence.srgb import light_of
from shootlog.findings.base import Outcome
from shootlog.series.outcomes import between, outcome
from shootlog.series.shot import Array, Shot, rounded, standing_out

LIMIT_JUMP_EV = 0.08  # a tenth of a stop is found; light and shutters repeat to less
#: So many of the steps, one up and the next down: no single jump but a flicker.
FLICKER_STEPS, FLICKER_SHARE = 3, 1 / 3
BLOCK_PX = 16
LEAST_BLOCKS = 8  # neither black nor burnt in both frames


@dataclass(frozen=True)
class Exposure:
    """Measured and recorded steps in stops from each frame to the next."""

    steps_ev: Array  # nan where two frames can't be compared
    recorded_steps_ev: Array  # nan where the dials are not recorded
    jumps: list[list[int]]

    @property
    def spread_ev(self) -> float | None:
        """The largest within frames that hang together; None where no two can be compared."""
        unknown = np.isnan(self.steps_ev)
        if unknown.all():
            return None
        level = np.concatenate([[0.0], np.cumsum(np.nan_to_num(self.steps_ev))])
        stretch = np.concatenate([[0], np.cumsum(unknown)])
        return max(float(np.ptp(level[stretch == k])) for k in range(stretch[-1] + 1))

    @property
    def flickers(self) -> bool:
        """Whether the jumps go up and down by turns and are more than a few."""
        jumped = np.array([self.steps_ev[a - 1] for a, _ in self.jumps])
        turns = int((np.diff(np.sign(jumped)) != 0).sum())
        many = len(jumped) >= max(FLICKER_STEPS, FLICKER_SHARE * len(self.steps_ev))
        return many and turns >= (len(jumped) - 1) / 2

    def as_json(self) -> dict[str, Any]:
        known = self.recorded_steps_ev[np.isfinite(self.recorded_steps_ev)]
        by_dials = None
        if len(known) == len(self.steps_ev):
            by_dials = float(np.ptp(np.concatenate([[0.0], np.cumsum(known)])))
        return {
            "exposure_spread_ev": rounded(self.spread_ev),
            "recorded_exposure_spread_ev": rounded(by_dials),
            "exposure_jumps": self.jumps,
            "flickers": self.flickers,
        }

    def outcome(self) -> Outcome:
        if np.isnan(self.steps_ev).all():
            words = "The light can't be compared."
            return outcome("exposure-jump", "cannot tell", "cannot tell", words)
        if not self.jumps:
            return outcome("exposure-jump", "no", "measured", limit=LIMIT_JUMP_EV)
        sizes = [abs(float(self.steps_ev[a - 1])) for a, _ in self.jumps]
        if self.flickers:
            return outcome(
                "exposure-jump",
                "yes",
                "measured",
                f"The light flickers: up and down in {len(self.jumps)} of {len(self.steps_ev)} "
                f"steps, by up to {max(sizes):.1f} stop.",
                "Under lamps give a tenth of a second or more; at a window wait for an even sky.",
                largest_ev=max(sizes),
                limit=LIMIT_JUMP_EV,
            )
        return outcome(
            "exposure-jump",
            "yes",
            "measured",
            f"The light changes {between(self.jumps)}, by up to {max(sizes):.1f} stop.",
            "Set shutter, aperture, ISO and white balance by hand; give a flash time to recharge.",
            largest_ev=max(sizes),
            limit=LIMIT_JUMP_EV,
        )


def exposure(shots: Sequence[Shot], unlike: Sequence[Sequence[int]] = ()) -> Exposure:
    """Compare the brightness of neighbouring frames, block by block.

    `unlike` pairs (from 1) show different things: their light says nothing of the exposure.
    """
    levels = [_block_light(shot.luma) for shot in shots]
    pairs = list(zip(levels, levels[1:], strict=False))
    steps = np.array([_step_ev(a, b) for a, b in pairs])
    steps[[first - 1 for first, _ in unlike]] = np.nan
    dials = [shot.exposure_ev for shot in shots]
    recorded = np.array(
        [
            b - a if a is not None and b is not None else np.nan
            for a, b in zip(dials, dials[1:], strict=False)
        ]
    )
    jumps = [[k + 1, k + 2] for k in standing_out(steps, LIMIT_JUMP_EV)]
    return Exposure(steps, recorded, jumps)


def _block_light(luma: Array) -> Array:
    height, width = (side // BLOCK_PX for side in luma.shape)
    cut = light_of(luma)[: height * BLOCK_PX, : width * BLOCK_PX]
    blocks: Array = cut.reshape(height, BLOCK_PX, width, BLOCK_PX).mean(axis=(1, 3))
    return blocks


def _step_ev(first: Array, second: Array) -> float:
    if first.shape != second.shape:
        return np.nan
    usable = (first > 0.004) & (first < 0.85) & (second > 0.004) & (second < 0.85)
    if usable.sum() < LEAST_BLOCKS:
        return np.nan
    return float(np.median(np.log2(second[usable] / first[usable])))
