"""One page to carry: this week's brief and this person's own numbers. Pure: no Django.

The page, the phone and the paper are all written from one `Card`, so their words are the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from course.plain_text import lines
from shootlog.set_up import SetUp
from shootlog.what_if import Asked, what_if
from shootlog.wording import f_number, figures

USUAL_STOP = 8.0  # where nothing better is known of the set-up


@dataclass(frozen=True)
class Block:
    """A heading with its lines."""

    title: str
    lines: list[str]


@dataclass(frozen=True)
class Card:
    """What is printed and what is shown, word for word."""

    title: str
    person: str
    made_at: datetime
    blocks: list[Block]
    address: str  # what the square code leads back to
    footer: str = field(default="Local rules, and whoever is in charge on the day, come first.")

    @property
    def made(self) -> str:
        day = self.made_at
        return f"Made {day.day} {day:%B %Y, %H:%M}"

    @property
    def words(self) -> list[str]:
        """Every line of the card in order."""
        said = [self.title, self.person, self.made]
        for block in self.blocks:
            said += [block.title, *block.lines]
        return [*said, self.footer]


def exercise_block(title: str, text: str, asked: Sequence[str], subject: str) -> Block:
    """The brief of one exercise."""
    rows = [*lines(text), *(f"– {row}" for row in asked)]  # noqa: RUF001
    return Block(title, [*rows, subject] if subject else rows)


def subject_words(width_mm: float | None, depth_mm: float | None) -> str:
    """Say how large the subject of an exercise is, where it says."""
    parts = []
    if width_mm:
        parts.append(f"{width_mm:g} mm wide")
    if depth_mm:
        parts.append(f"{depth_mm:g} mm deep")
    return f"Subject {', '.join(parts)}." if parts else ""


def cautions_block(texts: Sequence[str]) -> Block | None:
    """Every caution once, however many exercises give it."""
    said: list[str] = []
    for text in texts:
        said += [line for line in lines(text) if line not in said]
    return Block("Mind", said) if said else None


def meeting_block(
    when: str, place: str, *, tide: str = "", sun: str = "", wind: str = "", safety: str = ""
) -> Block:
    """Where and when, with what the instructor wrote of tide, sun and wind."""
    rows = [f"{when}, {place}" if place else when]
    rows += [
        f"{word}: {text}" for word, text in [("Tide", tide), ("Sun", sun), ("Wind", wind)] if text
    ]
    return Block("We meet", [*rows, *lines(safety)])


def numbers_block(
    set_ups: Sequence[tuple[str, SetUp, float | None]],
    depth_mm: float | None,
    plans: Sequence[tuple[str, str]] = (),
) -> Block:
    """One person's numbers: each set-up as (its name, its values, its best f-number)."""
    rows = []
    for name, set_up, best in set_ups:
        rows += set_up_lines(name, set_up, best or USUAL_STOP, depth_mm, own_best=bool(best))
    rows += [f"{name}: {words}" for name, words in plans]
    if not rows:
        rows = ["Tell your set-up in your log, and its numbers stand here."]
    return Block("Your numbers", rows)


def set_up_lines(
    name: str, set_up: SetUp, stop: float, depth_mm: float | None, *, own_best: bool = False
) -> list[str]:
    """What one set-up does, in three short lines; what is not known is said so."""
    asked = asked_of(set_up, stop, depth_mm or 1.0)
    if asked is None:
        return [f"{name}: its ratio is not told. A ruler frame settles it."]
    try:
        found = what_if(asked)
    except ValueError:
        return [f"{name}: at infinity it frames nothing near."]
    said = [
        f"{name}: {figures(found.magnification)} times life-size, "
        f"{figures(found.frame_width_mm)} mm across.",
        f"{f_number(stop)} on the ring{', your own best,' if own_best else ''} works as "
        f"{f_number(found.effective_f_number)}, "
        f"{found.light_lost_stops:.1f} stops darker.",
    ]
    if not depth_mm:
        return [*said, f"One frame is {figures(found.depth_mm)} mm deep."]
    if found.one_frame_holds_it:
        return [*said, f"One frame holds {depth_mm:g} mm."]
    return [
        *said,
        f"One frame is {figures(found.depth_mm)} mm deep; {depth_mm:g} mm takes {found.frames} "
        f"slices, {figures(found.step_mm)} mm apart.",
    ]


def asked_of(set_up: SetUp, stop: float, depth_mm: float) -> Asked | None:
    """The set-up as the planner takes it; None where its magnification cannot be known."""
    if set_up.reversed or not set_up.sensor_width_mm:
        return None
    converter = set_up.teleconverter or 1.0
    tube, power = set_up.tube_mm or 0.0, set_up.close_up_dioptre or 0.0
    focal = set_up.focal_length_mm
    if set_up.ruler_magnification and (focal or not (tube or power)):
        focal = focal or 100.0  # plays no part where nothing is mounted beside the lens
        close_up = focal * power / 1000.0
        bare = (set_up.ruler_magnification / converter - close_up) / (1.0 + close_up)
        alone = bare - tube / focal
    elif focal and set_up.ring_magnification is not None:
        alone = set_up.ring_magnification
    else:
        return None
    if alone < 0:
        return None  # the ruler frame and what was told do not go together
    return Asked(
        focal_length_mm=focal,
        f_number=stop,
        sensor_width_mm=set_up.sensor_width_mm,
        subject_depth_mm=depth_mm,
        lens_magnification=alone,
        tube_mm=tube,
        close_up_dioptre=power,
        converter=converter,
        pupil_ratio=set_up.pupil_magnification or 1.0,
    )
