"""Colour from frame to frame: where the white balance, or the lamp, is another than before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from optics.evidence.srgb import light_of
from shootlog.findings.base import Outcome
from shootlog.series.outcomes import between, outcome
from shootlog.series.shot import Array, Shot, rounded, standing_out

#: Stops between two channels. Clean rendered stacks repeat to 0.02; 300 K at 5500 K makes 0.1.
LIMIT_COLOUR_EV = 0.06
LEAST_LIGHT, MOST_LIGHT = 0.01, 0.85  # of white: below is noise, above a channel is cut off
LEAST_PATCHES = 12


@dataclass(frozen=True)
class Colour:
    """Steps in stops from each frame to the next; nan where the colour can't be compared.

    `red_over_blue` is what a white balance moves along daylight and lamps, `green_over_both` what
    fluorescent tubes and leaves move.
    """

    red_over_blue: Array
    green_over_both: Array
    jumps: list[list[int]]

    def as_json(self) -> dict[str, Any]:
        return {
            "colour_steps": [rounded(v) for v in self.red_over_blue],
            "colour_jumps": self.jumps,
        }

    def outcome(self) -> Outcome:
        if not np.isfinite(self.red_over_blue).any():
            words = "The colour can't be compared."
            return outcome("colour-jump", "cannot tell", "cannot tell", words)
        if not self.jumps:
            return outcome("colour-jump", "no", "measured", limit=LIMIT_COLOUR_EV)
        at = [pair[0] - 1 for pair in self.jumps]
        k = max(at, key=self._size)
        amber, green = float(self.red_over_blue[k]), float(self.green_over_both[k])
        if abs(amber) >= abs(green):
            way = "redder" if amber > 0 else "bluer"
        else:
            way = "greener" if green > 0 else "more magenta"
        size = self._size(k)
        where = between(self.jumps)
        first = f"{k + 1} and {k + 2}"
        told = way if len(self.jumps) == 1 else f"most between {first}, where it grows {way}"
        return outcome(
            "colour-jump",
            "yes",
            "measured",
            f"The colour changes {where}: {told}, by {size:.2f} stop between the channels.",
            "Set the white balance by hand, and keep window and lamp apart.",
            largest_ev=size,
            limit=LIMIT_COLOUR_EV,
        )

    def _size(self, k: int) -> float:
        return max(abs(float(self.red_over_blue[k])), abs(float(self.green_over_both[k])))


def colour(shots: Sequence[Shot], unlike: Sequence[Sequence[int]] = ()) -> Colour:
    """Compare the channels of neighbouring frames, patch by patch; the middle half counts.

    A subject that moves through some patches leaves the others alone. `unlike` pairs (from 1)
    show different things and are not compared.
    """
    pairs = list(zip(shots, shots[1:], strict=False))
    steps = np.array([_step(a.colour, b.colour) for a, b in pairs]).reshape(-1, 2)
    steps[[first - 1 for first, _ in unlike]] = np.nan
    found = {k for way in steps.T for k in standing_out(way, LIMIT_COLOUR_EV)}
    return Colour(steps[:, 0], steps[:, 1], [[k + 1, k + 2] for k in sorted(found)])


def _step(first: Array | None, second: Array | None) -> tuple[float, float]:
    if first is None or second is None or first.shape != second.shape:
        return np.nan, np.nan
    a, b = light_of(first), light_of(second)
    low = np.minimum(a, b).min(axis=2)
    high = np.maximum(a, b).max(axis=2)
    usable = (low > LEAST_LIGHT) & (high < MOST_LIGHT)
    if usable.sum() < LEAST_PATCHES:
        return np.nan, np.nan
    red, green, blue = np.log2(b[usable] / a[usable]).T
    return _middle_half(red - blue), _middle_half(green - (red + blue) / 2)


def _middle_half(values: Array) -> float:
    """Mean of the middle half: as hard to move as a median, finer than the steps of 8 bits."""
    ordered = np.sort(values)
    quarter = len(ordered) // 4
    return float(ordered[quarter : len(ordered) - quarter].mean())
