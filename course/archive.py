"""A course as plain files, so that it can be written by hand, kept, and carried away. Pure.

`README` says how the files are written; it lies in every archive the house makes.
"""

from __future__ import annotations

import json
import math
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import MISSING, fields
from typing import Any

from course.brief_rows import BriefError, Criterion, check
from course.course_text import (
    ArchiveTrouble,
    CourseText,
    CriterionText,
    ExerciseText,
    LessonText,
    WeekText,
)

FORMAT = 1
README = """# A course in plain files

    course.toml                      format = 1, title, summary
    glossary.md                      words explained, one a line: term, another form: its meaning
    week-01/week.md                  header: title, aim, demonstration, problems, sayings
    week-01/lesson-1-anything.md     header: title, topics; below it the text in Markdown
    week-01/exercise-1-anything.md   header: title, kind, cautions, indoor_twin, from_a_chair,
                                     and the rows of the brief; below it the brief in Markdown
    pictures/name.svg                drawings the texts show as ![words](pictures/name.svg)

A header is TOML between two lines of `+++`. Weeks, lessons and exercises come in the order of
their names. A row of a brief is a table headed `[[criteria]]` with kind = "quantity" (quantity,
low, high) or kind = "need" (need). Nothing else may lie in the folder: a strange file is named
and refused, and then nothing is changed. This page may be left out.
"""
LONGEST_TITLE = 120
LONGEST_ROW = 200
TITLES = {"title", "six_weeks_title"}
TOPIC = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
PICTURE = re.compile(r"pictures/[a-z0-9][a-z0-9-]{0,60}\.(svg|png|jpg)")
PLACES = re.compile(r"(week-(\d\d))/(week|lesson-[a-z0-9-]+|exercise-[a-z0-9-]+)\.md")
KINDS = ("single", "stack", "apertures", "light", "approach", "burst", "ladder", "landscape")


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
    if "glossary.md" in files:
        head["glossary"] = _text("glossary.md", files["glossary.md"]).strip()
    for name in sorted(set(files) - {"course.toml", "glossary.md", "README.md"}):
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
    _lines_are_known("course.toml", course.limits)
    if course.mains_hz not in (None, 50, 60):
        raise ArchiveTrouble(f"course.toml: mains_hz = {course.mains_hz}; give 50 or 60.")
    return course


def write_archive(course: CourseText) -> dict[str, bytes]:
    """Return the files of a course; `read_archive` gives the same course back."""
    head = _plain(course, leave_out=("weeks", "pictures", "glossary"))
    files = {"course.toml": _toml_text({"format": FORMAT} | head).encode()}
    if course.glossary:
        files["glossary.md"] = f"{course.glossary}\n".encode()
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
        if text:
            raise ArchiveTrouble(f"{name}: has text below its header; that belongs in a lesson.")
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
        _brief_can_be_met(name, exercise)
        week.setdefault("exercises", []).append(exercise)


def _brief_can_be_met(name: str, exercise: ExerciseText) -> None:
    """Refuse what the page for writing an exercise would refuse, too."""
    rows = []
    for row in exercise.criteria:
        if row.kind == "quantity":
            asked = Criterion(kind="quantity", quantity=row.quantity, low=row.low, high=row.high)
        elif row.kind == "need":
            asked = Criterion(kind="need", need=row.need, low=row.low, high=row.high)
        else:
            raise ArchiveTrouble(f"{name}: a row's kind is {row.kind!r}; quantity or need.")
        rows.append(asked)
        if len(row.words) > LONGEST_ROW:
            raise ArchiveTrouble(f"{name}: a row's words are longer than {LONGEST_ROW} letters.")
    for key in ("subject_width_mm", "subject_depth_mm", "finished_width_mm"):
        value = getattr(exercise, key)
        if value is not None and not 0 < value < 1e6:
            raise ArchiveTrouble(f"{name}: {key} = {value:g} cannot be; give more than 0.")
    try:
        check(rows, waived=exercise.waived)
    except BriefError as trouble:
        raise ArchiveTrouble(f"{name}: {trouble}.") from None
    _lines_are_known(name, exercise.limits)


def _lines_are_known(name: str, limits: Mapping[str, Any]) -> None:
    """A line is a number, or {limit = number}, for a finding there is."""
    for slug, line in limits.items():
        number = line.get("limit") if isinstance(line, dict) and len(line) == 1 else line
        if not _fits(number, "float") or number is None or not math.isfinite(number):
            raise ArchiveTrouble(f"{name}: the line of {slug!r} is no number.")
        try:
            check((), limits={slug: number})
        except BriefError as trouble:
            raise ArchiveTrouble(f"{name}: {trouble}.") from None


def _week(folder: str, parts: dict[str, Any]) -> WeekText:
    if "head" not in parts:
        raise ArchiveTrouble(f"{folder}: its week.md is missing; it holds the week's title.")
    values = parts["head"] | {k: parts.get(k, []) for k in ("lessons", "exercises")}
    week: WeekText = _build(WeekText, f"{folder}/week.md", values)
    return week


def _pictures_are_there(course: CourseText) -> None:
    for page in _pages(course):
        for name in pictures_named_in(page.text):
            if name not in course.pictures:
                raise ArchiveTrouble(f"“{page.title}” shows {name}, which is not there.")


def _pages(course: CourseText) -> Iterator[LessonText | ExerciseText]:
    for week in course.weeks:
        yield from week.lessons
        yield from week.exercises


def _text(name: str, content: bytes) -> str:
    if b"\0" in content:
        raise ArchiveTrouble(f"{name}: holds a sign that no text has; it is damaged.")
    try:
        return content.decode("utf-8-sig").replace("\r\n", "\n")
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
    for key in TITLES & set(values):
        if len(values[key]) > LONGEST_TITLE:
            raise ArchiveTrouble(f"{name}: {key} is longer than {LONGEST_TITLE} letters.")
    for topic in values.get("topics", []):
        if not (isinstance(topic, str) and TOPIC.fullmatch(topic)):
            raise ArchiveTrouble(f"{name}: {topic!r} is no topic; write it as light-loss is.")
    return kind(**values)


def _fits(value: Any, wanted: str) -> bool:
    if wanted.endswith("| None") and value is None:
        return True
    kind = re.split(r"[ \[]", wanted)[0]
    if kind in ("float", "int"):
        numbers = (int, float) if kind == "float" else (int,)
        return isinstance(value, numbers) and not isinstance(value, bool)
    return isinstance(value, {"str": str, "bool": bool, "list": list, "dict": dict}[kind])


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
    if "\n" not in str(value):
        return _escaped(value)
    return '"""\n' + "\n".join(_escaped(line)[1:-1] for line in str(value).split("\n")) + '"""'


def _escaped(value: Any) -> str:
    return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007F")


def _slug(title: str) -> str:
    words = re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-")
    return words[:40].strip("-") or "page"
