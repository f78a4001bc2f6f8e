"""Did the thing that was wanted sharp move while all else stood still?

A thing that moves in a straight line is smeared like the picture of a shaken camera (`smear`): its
spectrum loses sin(pi f L) / (pi f L) along the movement (Jain, Fundamentals of Digital Image
Processing, 1989, section 8.3). But it fills a few tiles only, and a thing has a grain of its own:
ribs, barbs and threads run one way and are soft one way. Three things part the two. What a grain
does, it does at all frequencies alike, so of every direction its own mean is taken off and only
the dark bands remain, which a movement sets at 1/L, 2/L and so on. A movement is one length and
one direction wherever the thing is looked at, to a step of the search; ribs grow and turn. And
what stands elsewhere does not have the same bands, or the camera moved.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from optics.evidence import smear
from optics.evidence.smear import WAYS, Spectra

Array = npt.NDArray[np.float64]
Tiles = Sequence[npt.NDArray[Any]]

#: Lengths asked, far beyond those told: grain drawn out for long looks like the longest of them.
LENGTHS_PX = np.geomspace(4.5, 40.0, 32)
SHORTEST_PX, LONGEST_PX = 6.2, 17.0
#: Correlation of what is left with the bands of the movement, over all tiles near the wanted point.
LIMIT_ALIKE = 0.45
#: How deep the bands are, 1: every tile is smeared as the movement would. What is deeper than a
#: movement can be is a grain drawn out for long.
LIMIT_DEPTH, DEEPEST = 0.38, 1.15
#: A tile follows when its own bands are at least so deep.
LIMIT_FOLLOWS = 0.35
#: The tiles that follow are asked again in four quarters, those with so many of them.
LEAST_OF_A_QUARTER, LEAST_QUARTERS = 4, 2
#: Share of these that must tell the same length and direction, to within this many steps.
LIMIT_SAME, STEPS = 0.75, 1.5
#: Correlation of what stands elsewhere with the same bands, above which it may have moved too.
LIMIT_ELSEWHERE = 0.36
#: Tiles elsewhere that must show detail at those frequencies, and how far above their noise.
LEAST_ELSEWHERE, LIMIT_ABLE = 6, 1.5
#: Where the first band lies, in parts of 1/L: there detail must show.
BAND = (0.6, 2.2)
#: Between these times what is measured lies the length of a movement found.
LOW, HIGH = 0.85, 1.2


@dataclass(frozen=True)
class Movement:
    """The straight smear that correlates best with the bands near the wanted point."""

    length_px: float
    angle_deg: float  # of the movement, from x towards y (down), 0 to 180
    alike: float  # correlation, up to 1
    depth: float  # of the bands: 0 none, 1 as a movement of all that was looked at
    quarters: int = 0  # that have enough tiles to tell
    same: int = 0  # of these, how many tell this length and direction

    @property
    def may_stand(self) -> bool:
        """Whether the place as a whole shows it; its quarters were not heard."""
        return (
            SHORTEST_PX <= self.length_px <= LONGEST_PX
            and self.alike >= LIMIT_ALIKE
            and LIMIT_DEPTH <= self.depth <= DEEPEST
        )

    @property
    def stands(self) -> bool:
        """Whether it is a movement of what was looked at; of the thing or the camera is open."""
        heard = self.quarters >= LEAST_QUARTERS and self.same >= LIMIT_SAME * self.quarters
        return self.may_stand and heard


def find(there: Tiles, places: list[tuple[int, int]]) -> Movement | None:
    """Return the movement that explains most of what lies near the wanted point.

    Parameters
    ----------
    there : list of ndarrays of shape (N, N)
        8-bit luminance round the wanted point, of one size, N at least 64; they may overlap.
    places : list of (row, column)
        Where each lies, in pixels.

    Returns
    -------
    Movement or None
        None where too few tiles show anything. Lengths in pixels of the tiles.
    """
    seen = smear.spectra([*there])
    if seen is None:
        return None
    found, follows = _nearest(seen)
    if not found.may_stand:
        return found
    own = np.asarray(places, np.float64)[seen.shows]
    told = [_nearest(seen.only(quarter))[0] for quarter in _quarters(own, follows)]
    same = sum(_is_the_same(found, part) for part in told)
    return replace(found, quarters=len(told), same=same)


def shared_elsewhere(elsewhere: Tiles, movement: Movement) -> float | None:
    """Return how far what stands elsewhere has the bands of the movement, as a correlation.

    Parameters
    ----------
    elsewhere : list of ndarrays of shape (N, N)
        8-bit luminance from the rest of the frame.
    movement : Movement

    Returns
    -------
    float or None
        About 0 where the rest stood still; None where too few tiles show detail that fine.
    """
    seen = smear.spectra([*elsewhere])
    if seen is None:
        return None
    peak = np.sort(np.where(seen.heard > 0, seen.each, -99.0), axis=2)[:, :, -5]
    over = np.clip(peak - seen.noise[:, None] - 0.3, 0.0, 2.0)
    turns = smear.ring_centres() * movement.length_px
    able = over[:, (turns > BAND[0]) & (turns < BAND[1])].mean(axis=1) > LIMIT_ABLE
    if able.sum() < LEAST_ELSEWHERE:
        return None
    seen = seen.only(able)
    weight, filled = smear.weights(seen)
    angle = np.radians(movement.angle_deg)
    model = _bands(smear.log_response(movement.length_px, _ways() - angle, filled), weight)
    left = _bands(seen.each.mean(axis=0), weight)
    whole = float((weight * model**2).sum() * (weight * left**2).sum())
    return float((weight * left * model).sum() / np.sqrt(max(whole, 1e-18)))


def _bands(values: Array, weight: Array) -> Array:
    """What is uneven between directions, less what each direction has at all frequencies."""
    left = smear.uneven(values, weight)
    total = np.maximum(weight.sum(axis=0), 1e-9)
    return np.asarray(left - ((weight * left).sum(axis=-2) / total)[..., None, :])


def _nearest(seen: Spectra) -> tuple[Movement, Array]:
    """The movement that correlates best, and how far each tile follows it."""
    weight, filled = smear.weights(seen)
    each = _bands(seen.each, weight)
    left = each.mean(axis=0)
    whole = max(float((weight * left**2).sum()), 1e-9)
    models = smear.log_response(LENGTHS_PX[:, None, None], _ways(), filled)
    best: tuple[float, float, int, Array] = (-np.inf, 0.0, 0, left)
    for way in range(WAYS):
        turned = _bands(np.roll(models, way, axis=2), weight)
        own = np.maximum((weight * turned**2).sum(axis=(1, 2)), 1e-9)
        alike = (weight * turned * left).sum(axis=(1, 2)) / np.sqrt(own * whole)
        at = int(alike.argmax())
        if alike[at] > best[0]:
            best = (float(alike[at]), float(LENGTHS_PX[at]), way, turned[at])
    alike_best, length, way, model = best
    own_best = max(float((weight * model**2).sum()), 1e-9)
    follows = (weight * each * model).sum(axis=(1, 2)) / own_best
    return Movement(length, way * 180.0 / WAYS, alike_best, float(follows.mean())), follows


def _quarters(places: Array, follows: Array) -> list[npt.NDArray[np.bool_]]:
    """The tiles that follow, parted at their middle; quarters of too few are left out."""
    good = follows > LIMIT_FOLLOWS
    if good.sum() < LEAST_OF_A_QUARTER:
        return []
    low, right = (places >= np.median(places[good], axis=0)).T
    parts = [good & a & b for a in (~low, low) for b in (~right, right)]
    return [part for part in parts if part.sum() >= LEAST_OF_A_QUARTER]


def _is_the_same(one: Movement, other: Movement) -> bool:
    step = np.log(LENGTHS_PX[1] / LENGTHS_PX[0])
    apart = abs(one.angle_deg - other.angle_deg) % 180.0
    near = abs(np.log(one.length_px / other.length_px)) < STEPS * step
    return bool(near and min(apart, 180.0 - apart) < STEPS * 180.0 / WAYS)


@lru_cache(maxsize=1)
def _ways() -> Array:
    return np.asarray(np.arange(WAYS) * np.pi / WAYS)
