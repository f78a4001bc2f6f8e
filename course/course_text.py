"""A whole course as plain texts, as its archive holds it. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any


class ArchiveTrouble(ValueError):
    """The archive is no course, or a damaged one; names the file and the way out."""


@dataclass(frozen=True, kw_only=True)
class CriterionText:
    kind: str
    quantity: str = ""
    need: str = ""
    low: float | None = None
    high: float | None = None
    words: str = ""


@dataclass(frozen=True, kw_only=True)
class LessonText:
    title: str
    topics: list[str] = field(default_factory=list)
    hidden: bool = False
    text: str = ""


@dataclass(frozen=True, kw_only=True)
class ExerciseText:
    title: str
    kind: str = "single"
    key: str = ""
    subject_width_mm: float | None = None
    subject_depth_mm: float | None = None
    finished_width_mm: float | None = None
    in_the_field: bool = False
    self_check: bool = False
    hidden: bool = False
    cautions: str = ""
    indoor_twin: str = ""
    from_a_chair: str = ""
    waived: list[str] = field(default_factory=list)
    limits: dict[str, Any] = field(default_factory=dict)
    criteria: list[CriterionText] = field(default_factory=list)
    text: str = ""


@dataclass(frozen=True, kw_only=True)
class WeekText:
    title: str
    aim: str = ""
    demonstration: str = ""
    problems: str = ""  # what usually happens; for who teaches
    sayings: str = ""  # sentences to say aloud; for who teaches
    in_six_weeks: int = 0  # the week it falls into in the six-week cut; 0: as numbered
    six_weeks_title: str = ""  # the title of that week, where two become one
    hidden: bool = False
    lessons: list[LessonText] = field(default_factory=list)
    exercises: list[ExerciseText] = field(default_factory=list)


@dataclass(frozen=True, kw_only=True)
class CourseText:
    title: str
    summary: str = ""
    advice_at_once: bool = False
    weeks_gate_findings: bool = True
    mains_hz: int | None = None
    limits: dict[str, Any] = field(default_factory=dict)
    glossary: str = ""
    weeks: list[WeekText] = field(default_factory=list)
    pictures: dict[str, bytes] = field(default_factory=dict)
