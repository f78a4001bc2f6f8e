"""A course as plain files, so that it can be written by hand, kept, and carried away. Pure.

A course is a folder (or a zip of one)::

    course.toml                      format = 1, title, summary
    week-01/week.md                  header: title, aim, demonstration
    week-01/lesson-1-anything.md     header: title, topics; below it the text in Markdown
    week-01/exercise-1-anything.md   header: title, kind, the rows; below it the brief
    pictures/name.svg                drawings the texts show as ![words](pictures/name.svg)

A header is TOML between two lines of ``+++``. Weeks, lessons and exercises come in the order of
their names. Nothing else may lie in the folder: a strange file is named and refused.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping
from dataclasses import MISSING, dataclass, field, fields
from typing import Any

FORMAT = 1
PICTURE = re.compile(r"pictures/[a-z0-9][a-z0-9-]{0,60}\.(svg|png|jpg)")
PLACES = re.compile(r"(week-(\d\d))/(week|lesson-[a-z0-9-]+|exercise-[a-z0-9-]+)\.md")
KINDS = ("single", "stack", "apertures", "light", "approach", "burst", "ladder", "landscape")


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
    in_six_weeks: int = 0  # the week it falls into in the six-week cut; 0: as numbered
    hidden: bool = False
    lessons: list[LessonText] = field(default_factory=list)
    exercises: list[ExerciseText] = field(default_factory=list)


@dataclass(frozen=True, kw_only=True)
class CourseText:
    title: str
    summary: str = ""
    advice_at_once: bool = False
    weeks_gate_findings: bool = True
    weeks: list[WeekText] = field(default_factory=list)
    pictures: dict[str, bytes] = field(default_factory=dict)


def read_archive(files: Mapping[str, bytes]) -> CourseText:
    """Return the course these files hold.

    Parameters
    ----------
    files : mapping
        Name inside the archive, with forward slashes, to content.

    Raises
    ------
    ArchiveTrouble
        Naming the first file that does not fit and what to do about it.
    """
    if "course.toml" not in files:
        raise ArchiveTrouble("There is no course.toml: this is not a course archive.")
    head = _toml("course.toml", _text("course.toml", files["course.toml"]))
    if head.pop("format", None) != FORMAT:
        raise ArchiveTrouble(f"course.toml: format must be {FORMAT}; this archive has another one.")
    pictures: dict[str, bytes] = {}
    weeks: dict[str, dict[str, Any]] = {}
    for name in sorted(set(files) - {"course.toml"}):
        place = PLACES.fullmatch(name)
        if PICTURE.fullmatch(name):
            pictures[name] = files[name]
        elif place:
            _take_page(weeks.setdefault(place[1], {}), name, place[3], files[name])
        else:
            raise ArchiveTrouble(f"{name}: a course archive holds no such file; take it out.")
    texts = [_week(folder, parts) for folder, parts in sorted(weeks.items())]
    course: CourseText = _build(
        CourseText, "course.toml", head | {"weeks": texts, "pictures": pictures}
    )
    _pictures_are_there(course)
    return course


def write_archive(course: CourseText) -> dict[str, bytes]:
    """Return the files of a course; `read_archive` gives the same course back."""
    head = _plain(course, leave_out=("weeks", "pictures"))
    files = {"course.toml": _toml_text({"format": FORMAT} | head).encode()}
    for number, week in enumerate(course.weeks, start=1):
        folder = f"week-{number:02d}"
        header = _plain(week, leave_out=("lessons", "exercises"))
        files[f"{folder}/week.md"] = _page(header, "")
        for k, lesson in enumerate(week.lessons, start=1):
            name = f"{folder}/lesson-{k:02d}-{_slug(lesson.title)}.md"
            files[name] = _page(_plain(lesson, leave_out=("text",)), lesson.text)
        for k, exercise in enumerate(week.exercises, start=1):
            header = _plain(exercise, leave_out=("text", "criteria"))
            header["criteria"] = [_plain(row) for row in exercise.criteria]
            name = f"{folder}/exercise-{k:02d}-{_slug(exercise.title)}.md"
            files[name] = _page(header, exercise.text)
    return files | course.pictures


def pictures_named_in(text: str) -> list[str]:
    """The archive pictures a Markdown text shows."""
    return re.findall(r"!\[[^\]]*\]\((pictures/[^)\s]+)", text)


def _take_page(week: dict[str, Any], name: str, what: str, content: bytes) -> None:
    header, text = _split(name, _text(name, content))
    if what == "week":
        week["head"] = header
    elif what.startswith("lesson"):
        week.setdefault("lessons", []).append(_build(LessonText, name, header | {"text": text}))
    else:
        rows = header.pop("criteria", [])
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            raise ArchiveTrouble(f"{name}: criteria must be rows, each headed [[criteria]].")
        criteria = [_build(CriterionText, name, row) for row in rows]
        exercise = _build(ExerciseText, name, header | {"text": text, "criteria": criteria})
        if exercise.kind not in KINDS:
            raise ArchiveTrouble(
                f"{name}: kind is {exercise.kind!r}; give one of {', '.join(KINDS)}."
            )
        week.setdefault("exercises", []).append(exercise)


def _week(folder: str, parts: dict[str, Any]) -> WeekText:
    if "head" not in parts:
        raise ArchiveTrouble(f"{folder}: its week.md is missing; it holds the week's title.")
    values = parts["head"] | {k: parts.get(k, []) for k in ("lessons", "exercises")}
    week: WeekText = _build(WeekText, f"{folder}/week.md", values)
    return week


def _pictures_are_there(course: CourseText) -> None:
    for week in course.weeks:
        pages: list[LessonText | ExerciseText] = [*week.lessons, *week.exercises]
        for page in pages:
            for name in pictures_named_in(page.text):
                if name not in course.pictures:
                    raise ArchiveTrouble(f"“{page.title}” shows {name}, which is not there.")


def _text(name: str, content: bytes) -> str:
    try:
        return content.decode("utf-8").replace("\r\n", "\n")
    except UnicodeDecodeError:
        raise ArchiveTrouble(f"{name}: not UTF-8 text; save it as UTF-8.") from None


def _split(name: str, text: str) -> tuple[dict[str, Any], str]:
    parts = re.match(r"\+\+\+\n(.*?)\n\+\+\+\n?(.*)", text, flags=re.S)
    if not parts:
        raise ArchiveTrouble(f"{name}: must begin with a header between two lines of +++.")
    return _toml(name, parts[1]), parts[2].strip()


def _toml(name: str, text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as trouble:
        raise ArchiveTrouble(f"{name}: its header cannot be read ({trouble}).") from None


def _build(kind: type, name: str, values: dict[str, Any]) -> Any:
    """Make one of the texts; a strange key, a missing title or another type is named."""
    known = {f.name: f for f in fields(kind)}
    for key, value in values.items():
        if key not in known:
            raise ArchiveTrouble(f"{name}: {key!r} is not a key here.")
        if not _fits(value, str(known[key].type)):
            raise ArchiveTrouble(f"{name}: {key} = {value!r} should be {known[key].type}.")
    for key, f in known.items():
        if f.default is MISSING and f.default_factory is MISSING and not values.get(key):
            raise ArchiveTrouble(f"{name}: {key} is missing.")
    return kind(**values)


def _fits(value: Any, wanted: str) -> bool:
    if wanted.startswith("float"):
        return value is None or (isinstance(value, int | float) and not isinstance(value, bool))
    kinds = {"str": str, "bool": bool, "int": int, "list": list, "dict": dict}
    return isinstance(value, kinds[wanted.partition("[")[0]])


def _plain(text: Any, leave_out: tuple[str, ...] = ()) -> dict[str, Any]:
    """Only what differs from the default, so that the files stay short."""
    out = {}
    for f in fields(text):
        value = getattr(text, f.name)
        empty = value in (None, "", [], {}) or value == f.default
        if f.name not in leave_out and not empty:
            out[f.name] = value
    return out


def _page(header: dict[str, Any], text: str) -> bytes:
    return f"+++\n{_toml_text(header)}+++\n\n{text}\n".encode()


def _toml_text(values: dict[str, Any]) -> str:
    """Write the little TOML we use: plain values first, then tables, then rows."""
    plain = {k: v for k, v in values.items() if not _is_table(v)}
    lines = [f"{k} = {_toml_value(v)}\n" for k, v in plain.items()]
    for key, value in values.items():
        if isinstance(value, dict):
            lines += [f"\n[{key}]\n"]
            lines += [f"{_toml_value(k)} = {_toml_value(v)}\n" for k, v in value.items()]
        elif _is_table(value):
            for row in value:
                lines += [f"\n[[{key}]]\n", *(f"{k} = {_toml_value(v)}\n" for k, v in row.items())]
    return "".join(lines)


def _is_table(value: Any) -> bool:
    return isinstance(value, dict) or (
        isinstance(value, list) and bool(value) and isinstance(value[0], dict)
    )


def _toml_value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, list):
        return "[" + ", ".join(_toml_value(v) for v in value) + "]"
    if isinstance(value, dict):
        return (
            "{ "
            + ", ".join(f"{_toml_value(k)} = {_toml_value(v)}" for k, v in value.items())
            + " }"
        )
    # TOML's basic string takes JSON's escapes, which json writes for us; DEL it wants escaped too.
    return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007F")


def _slug(title: str) -> str:
    words = re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-")
    return words[:40].strip("-") or "page"
