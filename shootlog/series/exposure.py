"""Exposure from frame to frame: by the dials and by the pixels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from shootlog.findings.base import Outcome
from shootlog.series.outcomes import between, outcome
from shootlog.series.shot import Array, Shot, rounded

LIMIT_JUMP_EV = 0.08  # a tenth of a stop is found; light and shutters repeat to less
LIMIT_TIMES_USUAL = 5.0  # and it must stand out from the frames around it
BLOCK_PX = 16


@dataclass(frozen=True)
class Exposure:
    """Measured and recorded steps in stops from each frame to the next."""

    steps_ev: Array
    recorded_steps_ev: Array  # nan where the dials are not recorded
    jumps: list[list[int]]

    @property
    def spread_ev(self) -> float:
        level = np.concatenate([[0.0], np.cumsum(self.steps_ev)])
        return float(np.ptp(level))

    def as_json(self) -> dict[str, Any]:
        known = self.recorded_steps_ev[np.isfinite(self.recorded_steps_ev)]
        by_dials = None
        if len(known) == len(self.steps_ev):
            by_dials = float(np.ptp(np.concatenate([[0.0], np.cumsum(known)])))
        return {
            "exposure_spread_ev": rounded(self.spread_ev),
            "recorded_exposure_spread_ev": rounded(by_dials),
            "exposure_jumps": self.jumps,
        }

    def outcome(self) -> Outcome:
        if not self.jumps:
            return outcome("exposure-jump", "no", "measured", limit=LIMIT_JUMP_EV)
        sizes = [abs(float(self.steps_ev[a - 1])) for a, _ in self.jumps]
        return outcome(
            "exposure-jump",
            "yes",
            "measured",
            f"The light changes {between(self.jumps)}, by up to {max(sizes):.1f} stop.",
            "Set shutter, aperture, ISO and white balance by hand; give a flash time to recharge.",
            largest_ev=max(sizes),
            limit=LIMIT_JUMP_EV,
        )


def exposure(shots: Sequence[Shot]) -> Exposure:
    """Compare the brightness of neighbouring frames, block by block."""
    levels = [_block_light(shot.luma) for shot in shots]
    pairs = list(zip(levels, levels[1:], strict=False))
    steps = np.array([_step_ev(a, b) for a, b in pairs])
    dials = [shot.exposure_ev for shot in shots]
    recorded = np.array(
        [
            b - a if a is not None and b is not None else np.nan
            for a, b in zip(dials, dials[1:], strict=False)
        ]
    )
    return Exposure(steps, recorded, _jumps(steps))


def linear(luma: Array) -> Array:
    """Light of 8-bit sRGB values; a camera's own curve is steeper, so steps read a little high."""
    v = np.asarray(luma, np.float64) / 255
    light: Array = np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)
    return light


def _block_light(luma: Array) -> Array:
    height, width = (side // BLOCK_PX for side in luma.shape)
    cut = linear(luma)[: height * BLOCK_PX, : width * BLOCK_PX]
    blocks: Array = cut.reshape(height, BLOCK_PX, width, BLOCK_PX).mean(axis=(1, 3))
    return blocks


def _step_ev(first: Array, second: Array) -> float:
    if first.shape != second.shape:
        return 0.0
    usable = (first > 0.004) & (first < 0.85) & (second > 0.004) & (second < 0.85)
    if usable.sum() < 8:
        return 0.0
    return float(np.median(np.log2(second[usable] / first[usable])))


def _jumps(steps: Array) -> list[list[int]]:
    """Steps that stand out; light that drifts evenly, as the frame's content does, is none."""
    found = []
    for k, step in enumerate(steps):
        near = [steps[j] for j in range(max(0, k - 3), min(len(steps), k + 4)) if j != k]
        usual = float(np.median(near)) if len(near) >= 3 else 0.0
        scatter = float(np.median(np.abs(np.array(near) - usual))) if len(near) >= 3 else 0.0
        # flicker makes all steps large: then the scatter must not excuse them
        scatter = min(scatter, LIMIT_JUMP_EV / LIMIT_TIMES_USUAL)
        if abs(step - usual) > max(LIMIT_JUMP_EV, LIMIT_TIMES_USUAL * scatter):
            found.append([k + 1, k + 2])
    return found
