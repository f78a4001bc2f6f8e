"""One's own past in numbers: hits of ten, how slow the hand can go. Pure: plain rows in and out.

Nobody else's frames are ever among the rows, and nothing is summed into one number for a person.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from shootlog.findings.shake import LIMIT_SMEAR_PX
from shootlog.series.burst import SURE, frames_for_one
from shootlog.wording import figures, seconds

LAST_BURSTS = 5  # the rate advice is given from: the hand of late, not of years
LEAST_FRAMES = 3  # of one shutter time, before it says anything
HELD_WORDS = "two of three"
HELD_SHARE = 2 / 3  # of them held still: the time is safe for this hand
#: Where one close distance ends and the next begins, in times life-size.
BANDS = (
    (0.0, 0.25, "farther than 1:4"),
    (0.25, 0.5, "1:4 to 1:2"),
    (0.5, 0.95, "1:2 to nearly 1:1"),
    (0.95, math.inf, "1:1 and closer"),
)


@dataclass(frozen=True, kw_only=True)
class Burst:
    """One burst as it was looked at."""

    pk: int
    name: str
    day: date | None
    hits: int
    of: int
    place: str = ""

    @property
    def of_ten(self) -> float:
        return 10.0 * self.hits / self.of


@dataclass(frozen=True, kw_only=True)
class HandFrame:
    """One frame by hand; `hit` where it was one of a burst's hits."""

    exposure_s: float | None
    magnification: float | None
    smear_px: float | None
    hit: bool = False

    @property
    def held(self) -> bool | None:
        """Whether the camera was still: a hit was; a smear beyond the line was not."""
        if self.smear_px is not None:
            return self.smear_px <= LIMIT_SMEAR_PX
        return True if self.hit else None


@dataclass(frozen=True)
class Advice:
    """How many frames give one, with the sum that says so."""

    hits: int
    of: int
    bursts: int
    frames: int
    chance: float

    @property
    def formula(self) -> str:
        return chance_in_words(self.hits, self.of, self.frames)

    @property
    def sure(self) -> str:
        return f"{100 * SURE:.0f} times of a hundred"


@dataclass(frozen=True)
class Step:
    """One shutter time at one closeness: how many frames were held of those that can be told."""

    stop: int  # whole stops: the time is two to the minus this
    held: int
    of: int

    @property
    def time(self) -> str:
        return seconds(2.0**-self.stop)

    @property
    def counts(self) -> bool:
        return self.of >= LEAST_FRAMES

    @property
    def is_safe(self) -> bool:
        return self.counts and self.held >= HELD_SHARE * self.of


@dataclass(frozen=True)
class Floor:
    """The slowest time that held, at one closeness; None where no time did yet."""

    band: str
    steps: list[Step]
    slowest: Step | None


def chance_in_words(hits: int, of: int, frames: int) -> str:
    """Write the sum out: 1 - (1 - 3/10)^7 = 0.92."""
    chance = 1 - (1 - hits / of) ** frames
    return f"1 − (1 − {hits}/{of})^{frames} = {chance:.2f}"  # noqa: RUF001


def advice(bursts: Sequence[Burst]) -> Advice | None:
    """Return the burst that nearly always gives one, from the last few; None without a hit."""
    last = bursts[-LAST_BURSTS:]
    hits, of = sum(b.hits for b in last), sum(b.of for b in last)
    frames = frames_for_one(hits / of) if of else None
    if frames is None:
        return None
    return Advice(hits, of, len(last), frames, 1 - (1 - hits / of) ** frames)


def floors(frames: Sequence[HandFrame]) -> list[Floor]:
    """Return what each closeness says of each shutter time; what cannot be told is left out.

    Safe is the slowest time with no unsafe faster one above it: a lucky slow frame proves nothing.
    """
    found: dict[str, dict[int, list[bool]]] = {}
    for frame in frames:
        if not frame.exposure_s or frame.magnification is None or frame.held is None:
            continue
        stop = round(-math.log2(frame.exposure_s))
        band = next(name for low, high, name in BANDS if low <= frame.magnification < high)
        found.setdefault(band, {}).setdefault(stop, []).append(frame.held)
    rows = []
    for _, _, band in BANDS:
        if band in found:
            by_stop = sorted(found[band].items(), reverse=True)  # fastest first
            steps = [Step(stop, sum(held), len(held)) for stop, held in by_stop]
            rows.append(Floor(band, steps, _slowest(steps)))
    return rows


def _slowest(fastest_first: Sequence[Step]) -> Step | None:
    slowest = None
    for step in fastest_first:
        if not step.counts:
            continue
        if not step.is_safe:
            break
        slowest = step
    return slowest


# --- drawings ---

LEFT, RIGHT, TOP, BOTTOM = 44.0, 468.0, 14.0, 150.0


def hits_plot(bursts: Sequence[Burst]) -> dict[str, Any] | None:
    """Hits of ten, burst after burst, as numbers for an SVG; None for fewer than two."""
    if len(bursts) < 2:
        return None
    apart = (RIGHT - LEFT) / len(bursts)
    every = -(-len(bursts) // 8)  # days written under the line; more would run together
    dots = [
        {
            "x": LEFT + apart * (k + 0.5),
            "y": _down(burst.of_ten / 10),
            "day": burst.day if k % every == 0 else None,
        }
        for k, burst in enumerate(bursts)
    ]
    return {
        "dots": dots,
        "points": " ".join(f"{d['x']:.1f},{d['y']:.1f}" for d in dots),
        "ticks": [(_down(n / 10), n) for n in (0, 5, 10)],
    }


def floors_plot(rows: Sequence[Floor]) -> dict[str, Any] | None:
    """Shutter times along, closeness down; a full dot held, an open one did not."""
    stops = sorted({step.stop for row in rows for step in row.steps if step.counts}, reverse=True)
    if not stops:
        return None
    apart = (RIGHT - 130.0) / len(stops)
    at = {stop: 130.0 + apart * (k + 0.5) for k, stop in enumerate(stops)}
    lines = [
        {
            "y": 24.0 + 34.0 * k,
            "words_y": 28.0 + 34.0 * k,
            "band": row.band,
            "dots": [
                {"x": at[step.stop], "held": step.is_safe} for step in row.steps if step.counts
            ],
        }
        for k, row in enumerate(rows)
    ]
    height = 24.0 + 34.0 * len(rows)
    return {
        "lines": lines,
        "times": [{"x": at[stop], "words": seconds(2.0**-stop)} for stop in stops],
        "times_y": height,
        "height": height + 12.0,
    }


def _down(share: float) -> float:
    return BOTTOM - (BOTTOM - TOP) * share


def hits_words(burst: Burst) -> str:
    """Hits of ten in words, also where the burst was not of ten."""
    if burst.of == 10:
        return f"{burst.hits} of 10"
    return f"{burst.hits} of {burst.of}, which is {figures(burst.of_ten)} of ten"
