"""The f-number trap: what the recorded number means, and what the sensor saw. Pure.

Per lens and body the recorded f-number is marked, effective or unknown. Effective is never
multiplied again; unknown makes a range. Every corner of what is not known is kept as one
`State`, so that depth and blur are worked out from numbers that belong together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from optics.aperture import effective_f_number, marked_f_number
from shootlog.lenses import find_lens
from shootlog.magnification import Accessories, Found, Span
from shootlog.recorded import Recorded
from shootlog.set_up import SetUp

#: Published tables of macro lenses lie within 0.4 stop of N (1 + m) at life size.
PUPIL_STOPS = 0.4
FULL_DOUBT_AT = 0.3  # magnification from which all of it applies
CONVERTER_RECORDED = 0.05  # how near recorded and told focal length count as the same


@dataclass(frozen=True)
class State:
    """One possible truth: magnification, and the f-number as marked and as it worked."""

    magnification: float
    marked: float
    effective: float


@dataclass(frozen=True)
class Opening:
    """All possible truths, and the likeliest where there is one."""

    states: Sequence[State]
    best: State | None
    words: str


def find_opening(recorded: Recorded, set_up: SetUp, found: Found) -> Opening | None:
    """Return what the recorded f-number can mean at this magnification; None without one."""
    number = recorded.f_number
    total = found.magnification
    if not number or not 0.5 <= number <= 500 or total is None:
        return None
    habit = set_up.records_f_number or recorded.f_number_habit
    lens = found.lens_alone or Span(0.0, None, total.high)
    light = [(total.low, lens.low), (total.high, lens.high)]
    if found.accessories.any:  # then the two do not hang together as one
        light += [(total.low, lens.high), (total.high, lens.low)]
    states = [
        state
        for magnification, alone in light
        for state in _states(number, magnification, alone, habit, recorded, set_up, found)
    ]
    best = None
    if habit and total.value is not None and lens.mid is not None:
        best = _states(number, total.value, lens.mid, habit, recorded, set_up, found)[0]
    return Opening(states, best, _words(habit))


def _words(habit: str | None) -> str:
    if habit == "effective":
        return "the file holds the effective number already"
    if habit == "marked":
        return "f-number times (1 + magnification)"
    return "not known whether this file holds the marked or the effective number"


def _states(
    number: float,
    magnification: float,
    lens_magnification: float,
    habit: str | None,
    recorded: Recorded,
    set_up: SetUp,
    found: Found,
) -> list[State]:
    """Return the best state first, then the ends of what is not known about it."""
    if habit is None:
        args = (number, magnification, lens_magnification)
        return [
            *_states(*args, "marked", recorded, set_up, found),
            *_states(*args, "effective", recorded, set_up, found),
        ]
    light = _without_close_up(magnification, lens_magnification, found.accessories, found.focal_mm)
    light = max(light, 1e-6)
    alone = max(min(lens_magnification, light), 1e-6)
    factors = _converter_factors(recorded, set_up)
    if habit == "marked":
        lens = find_lens(set_up.lens or recorded.lens)
        worked = _worked(number, light, set_up, lens.internal_focus if lens else None)
        pairs = [(number, e * k) for e in worked for k in factors]
    else:
        pairs = [
            (marked, _tubes_added(number, marked, light, alone, set_up) * k)
            for marked in _set_on_the_lens(number, alone, recorded, set_up)
            for k in factors
        ]
    return [State(magnification, marked, effective) for marked, effective in pairs]


def _without_close_up(
    magnification: float, lens: float, accessories: Accessories, focal: Span | None
) -> float:
    """Return the magnification that costs light: a close-up lens costs none."""
    without_converter = magnification / accessories.converter
    if not accessories.dioptre:
        return without_converter
    if not accessories.tube_mm or focal is None:
        return lens
    return lens + accessories.tube_mm / focal.high


def _doubt(magnification: float) -> float:
    """Return the factor either way that an unknown pupil magnification may bring."""
    share = min(1.0, magnification / FULL_DOUBT_AT)
    return float(2.0 ** (PUPIL_STOPS / 2 * share))


def _worked(marked: float, light: float, set_up: SetUp, focuses_inside: bool | None) -> list[float]:
    """Return the effective number of a marked one: the best first, then the ends.

    A told pupil magnification of a lens that focuses inside must not be put beside the marked
    number (its focal length has changed too), so the plain rule stays within the range.
    """
    plain = effective_f_number(marked, light)
    if set_up.reversed:
        return [plain, plain / _doubt(1.0), plain * _doubt(1.0)]
    if set_up.pupil_magnification and not focuses_inside:
        told = effective_f_number(marked, light, set_up.pupil_magnification)
        return [told, min(told, plain), max(told, plain)]
    return [plain, plain / _doubt(light), plain * _doubt(light)]


def _set_on_the_lens(number: float, alone: float, recorded: Recorded, set_up: SetUp) -> list[float]:
    """Return the marked number behind an effective one: the best first, then the ends."""
    told = recorded.effective_aperture_ratio
    if told and 1.0 <= told <= 6.0:
        return [number / told]
    pupil = set_up.pupil_magnification or 1.0
    best = marked_f_number(number, alone, pupil)
    if set_up.pupil_magnification:
        return [best]
    return [best, best / _doubt(alone), min(best * _doubt(alone), number)]


def _tubes_added(number: float, marked: float, light: float, alone: float, set_up: SetUp) -> float:
    """Add the tubes to a number that already holds the lens's own part. Nothing else."""
    if light <= alone * 1.001:
        return number
    pupil = set_up.pupil_magnification or 1.0
    before = effective_f_number(marked, alone, pupil)
    return number * effective_f_number(marked, light, pupil) / before


def _converter_factors(recorded: Recorded, set_up: SetUp) -> list[float]:
    """Return what a converter still multiplies: nothing where the camera knew of it."""
    factor = set_up.teleconverter or 1.0
    if factor == 1.0:
        return [1.0]
    told, written = set_up.focal_length_mm, recorded.focal_length_mm
    if told and written:
        if abs(written / (told * factor) - 1) < CONVERTER_RECORDED:
            return [1.0]
        if abs(written / told - 1) < CONVERTER_RECORDED:
            return [factor]
    return [1.0, factor]
