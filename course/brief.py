"""Whether a frame or a series meets the rows of a brief. Pure.

Three answers: met, not yet, can't tell (and why). A frame whose file does not say is never held
against anyone: accusing someone who followed the brief is the dearest false alarm there is.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal, NamedTuple

from course.brief_rows import SERIES_QUANTITIES, Criterion, in_unit, kind_of
from shootlog.findings import finding
from shootlog.findings.base import Outcome
from shootlog.reading import Kind, Quantity, Reading

Answer = Literal["met", "not yet", "can't tell"]
SAME_EXPOSURE_EV = 1 / 3  # common practice, no source


@dataclass(frozen=True)
class Verdict:
    """Whether one row is met, and why."""

    criterion: str
    verdict: Answer
    why: str
    came: str = ""  # the number as it came out, and what was asked, for a teacher's own words
    asked: str = ""

    def as_json(self) -> dict[str, str]:
        return {
            "criterion": self.criterion,
            "verdict": self.verdict,
            "why": self.why,
            "came": self.came,
            "asked": self.asked,
        }


class Answered(NamedTuple):
    """One row asked of one frame."""

    answer: Answer
    why: str
    came: str = ""
    asked: str = ""


@dataclass(frozen=True, kw_only=True)
class SeriesFacts:
    """What is known of a hand-in as a whole; None where it is not."""

    count: int = 1
    time_span_s: float | None = None
    exposure_spread_ev: float | None = None
    magnification_step: float | None = None
    shortest_pause_s: float | None = None
    f_number_count: int | None = None
    light_directions: Collection[str] = field(default_factory=tuple)
    light_told_of_each: bool = True


def judge(
    criteria: Sequence[Criterion],
    reading: Reading | Sequence[Reading],
    outcomes: Sequence[Outcome] | Sequence[Sequence[Outcome]],
    *,
    series: SeriesFacts | None = None,
) -> list[Verdict]:
    """Hold a frame, or every frame of a hand-in, against a brief.

    For several frames `reading` and `outcomes` are lists of equal length, and a row is met where
    every frame meets it.
    """
    readings = [reading] if isinstance(reading, Reading) else list(reading)
    found = _each(outcomes, len(readings))
    whole = series or facts_of(readings)
    verdicts = []
    for row in criteria:
        if row.quantity in SERIES_QUANTITIES:
            answers = [_range(row, _of_series(row.quantity, whole))]
        elif row.need in ("same exposure", "light directions"):
            answers = [_need_of_series(row, whole)]
        elif row.kind == "quantity":
            answers = [_range(row, one[row.quantity]) for one in readings]
        else:
            answers = [
                _need(row.need, one, said) for one, said in zip(readings, found, strict=True)
            ]
        verdicts.append(Verdict(row.said, *_all_of(answers)))
    return verdicts


def facts_of(readings: Sequence[Reading]) -> SeriesFacts:
    """Work out of the single readings what can be said of them together."""
    moments = [r.fact("taken_at") for r in readings]
    span = pause = None
    if len(readings) > 1 and all(moments):
        times = sorted(datetime.fromisoformat(m) for m in moments)
        span = (times[-1] - times[0]).total_seconds()
        pause = min((b - a).total_seconds() for a, b in zip(times, times[1:], strict=False))
    openings = [r.value("f_number") for r in readings]
    sizes = [q.value for r in readings if (q := r["magnification"]) and q.value]
    step = None
    if len(sizes) == len(readings) > 1:
        ordered = sorted(sizes)
        step = min(b / a for a, b in zip(ordered, ordered[1:], strict=False))
    return SeriesFacts(
        count=len(readings),
        time_span_s=span,
        exposure_spread_ev=_exposure_spread_ev(readings),
        magnification_step=step,
        shortest_pause_s=pause,
        f_number_count=len({round(n, 1) for n in openings if n}) if all(openings) else None,
        light_directions=sorted({d for r in readings for d in _directions(r)}),
        light_told_of_each=all(_directions(r) for r in readings),
    )


def _directions(reading: Reading) -> list[str]:
    """Return the directions told of one frame: one word or several."""
    told = reading.fact("light") or []
    return [told] if isinstance(told, str) else list(told)


def for_exercise(
    outcomes: Sequence[Outcome],
    reading: Reading,
    *,
    waived: Collection[str] = (),
    limits: Mapping[str, float] | None = None,
) -> list[Outcome]:
    """Return the outcomes this exercise raises: its own lines drawn, what it waives left out."""
    lines = limits or {}
    kept = []
    for outcome in outcomes:
        about = finding(outcome.finding)
        if outcome.finding in waived:
            continue
        if about and outcome.finding in lines:
            outcome = about.with_limit(outcome, lines[outcome.finding], reading)
        kept.append(outcome)
    return kept


def _each(
    outcomes: Sequence[Outcome] | Sequence[Sequence[Outcome]], frames: int
) -> list[list[Outcome]]:
    if not outcomes:
        return [[] for _ in range(frames)]
    if isinstance(outcomes[0], Outcome):
        return [[o for o in outcomes if isinstance(o, Outcome)] for _ in range(frames)]
    return [[o for o in each if isinstance(o, Outcome)] for each in outcomes]  # type: ignore[union-attr]


def _all_of(answers: Sequence[Answered]) -> Answered:
    """Return not yet where one frame is not there yet, else can't tell, else met."""
    if not answers:
        return Answered("can't tell", "There is no frame.")
    if len(answers) == 1:
        return answers[0]
    for wanted in ("not yet", "can't tell"):
        these = [k for k, one in enumerate(answers, 1) if one.answer == wanted]
        if these:
            first = answers[these[0] - 1]
            return first._replace(why=f"{_frames_named(these)}: {first.why}")
    return answers[0]._replace(why=f"All {len(answers)} frames. {answers[0].why}")


def _frames_named(numbers: Sequence[int]) -> str:
    """Name frames by their places: one, a run, or the first few of many."""
    if len(numbers) == 1:
        return f"Frame {numbers[0]}"
    if len(numbers) > 2 and numbers[-1] - numbers[0] == len(numbers) - 1:
        return f"Frames {numbers[0]} to {numbers[-1]}"
    named = ", ".join(str(k) for k in numbers[:6])
    return f"Frames {named}" + (f" and {len(numbers) - 6} more" if len(numbers) > 6 else "")


def _of_series(name: str, whole: SeriesFacts) -> Quantity | None:
    value = getattr(whole, name)
    return None if value is None else Quantity.exactly(value, "worked out")


def _range(row: Criterion, quantity: Quantity | None) -> Answered:
    """Compare the whole range with the limits; only what lies wholly in or out is decided."""
    kind = kind_of(row.quantity)
    asked = _asked(row, kind)
    if quantity is None:
        return Answered(
            "can't tell", f"Not known: {kind.label}; the brief asked for {asked}.", "", asked
        )
    low = -math.inf if row.low is None else row.low - abs(row.low) * kind.slack
    high = math.inf if row.high is None else row.high + abs(row.high) * kind.slack
    came = _came(quantity, kind)
    if low <= quantity.low and quantity.high <= high:
        return Answered("met", f"Came out at {came}.", came, asked)
    if quantity.high < low or quantity.low > high:
        return Answered("not yet", f"Came out at {came}; the brief asked for {asked}.", came, asked)
    return Answered(
        "can't tell", f"Lies somewhere in {came}; the brief asked for {asked}.", came, asked
    )


def _came(quantity: Quantity, kind: Kind) -> str:
    low, high = in_unit(quantity.low, kind), in_unit(quantity.high, kind)
    return low if low == high else f"{low} to {high}"


def _asked(row: Criterion, kind: Kind) -> str:
    low = None if row.low is None else in_unit(row.low, kind)
    high = None if row.high is None else in_unit(row.high, kind)
    if low and high:
        return low if low == high else f"{low} to {high}"
    return f"{low} or more" if low else f"{high} or less"


def _need(need: str, reading: Reading, outcomes: Sequence[Outcome]) -> Answered:
    if need == "manual focus":
        return _recorded_as(reading.fact("focus_mode"), "manual", "focus mode")
    if need == "manual exposure":
        return _recorded_as(reading.fact("exposure_mode"), "manual", "exposure mode")
    if need == "tripod":
        support = reading.fact("support")
        if support is None:
            return Answered("can't tell", "Nobody said yet what held the camera.")
        if support in ("tripod", "rail"):
            return Answered("met", f"You said: {support}.")
        return Answered("not yet", f"You said: {support}.")
    if need == "ruler frame":
        if reading.fact("ruler_frame"):
            return Answered("met", "A millimetre scale was measured.")
        return Answered(
            "can't tell", "No scale was found; tap two millimetre marks if there is one."
        )
    return _uncropped(reading, outcomes)


def _recorded_as(value: Any, wanted: str, label: str) -> Answered:
    if value is None:
        return Answered("can't tell", f"This file does not say the {label}.")
    if value == wanted:
        return Answered("met", f"Recorded {label}: {value}.")
    return Answered("not yet", f"Recorded {label}: {value}.")


def _uncropped(reading: Reading, outcomes: Sequence[Outcome]) -> Answered:
    """Met where neither finding about the file speaks against it and both could look."""
    said = {o.finding: o for o in outcomes}
    for slug in ("stripped-file", "edited-file"):
        outcome = said.get(slug)
        if outcome and outcome.answer == "yes" and outcome.sure != "likely":
            return Answered("not yet", outcome.words)
    open_ones = [
        o
        for slug in ("stripped-file", "edited-file")
        if (o := said.get(slug)) is None or o.answer != "no"
    ]
    if open_ones:
        words = next((o.words for o in open_ones if o and o.words), "The file says too little.")
        return Answered("can't tell", words)
    return Answered("met", "The file is as the camera made it.")


def _need_of_series(row: Criterion, whole: SeriesFacts) -> Answered:
    if row.need == "same exposure":
        spread = whole.exposure_spread_ev
        if spread is None:
            return Answered("can't tell", "The exposure of every frame is not known.")
        line = SAME_EXPOSURE_EV if row.high is None else row.high
        words = (
            f"The exposure spreads over {spread:.2f} stops; up to {line:.2f} counts as the same."
        )
        return Answered(("met" if spread <= line + 1e-9 else "not yet"), words)
    asked = row.low or 2
    told = sorted(set(whole.light_directions))
    if not told:
        return Answered("can't tell", "Where did the light come from? Tell it with each frame.")
    words = f"{len(told)} directions told: {', '.join(told)}; the brief asked for {asked:.0f}."
    if len(told) < asked and not whole.light_told_of_each:
        return Answered(
            "can't tell", "Say for each frame where the light came from; one tap is enough."
        )
    return Answered(("met" if len(told) >= asked else "not yet"), words)


def _exposure_spread_ev(readings: Sequence[Reading]) -> float | None:
    """Return the largest difference in exposure as set: time, effective opening and ISO."""
    values = []
    for one in readings:
        time, opening, iso = one.value("exposure_s"), one.value("f_number"), one.value("iso")
        if not (time and opening and iso):
            return None
        values.append(math.log2(time * iso / opening**2))
    return max(values) - min(values) if len(values) > 1 else None
