"""A course out of files into the tables, and back: what the archive is to the database."""

import io
import lzma
import re
import struct
import zipfile
import zlib
from pathlib import Path

from django.db import transaction

from course.archive import README, read_archive, write_archive
from course.course_text import (
    ArchiveTrouble,
    CourseText,
    CriterionText,
    ExerciseText,
    LessonText,
    WeekText,
)
from course.models import Course, CoursePicture, Criterion, Exercise, Lesson, Teaching, Week
from course.models.revision import CRITERION, EXERCISE, LESSON

LIMIT_FILES = 500
LIMIT_BYTES = 30_000_000  # of an archive, unpacked

COURSE = (
    *("title", "summary", "advice_at_once", "weeks_gate_findings", "mains_hz", "limits"),
    "glossary",
)
WEEK = ("title", "aim", "demonstration", "problems", "sayings", "hidden")
#: What a computer adds to a folder when it makes a zip of it.
LITTER = re.compile(r"__MACOSX/|(.*/)?(\.DS_Store|Thumbs\.db|desktop\.ini)$")


def files_of_folder(folder: Path) -> dict[str, bytes]:
    """Read a course folder."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


#: What reading a damaged or a strange zip may raise, each from another corner of the library.
NO_ZIP = (
    *(zipfile.BadZipFile, zlib.error, lzma.LZMAError, struct.error, NotImplementedError),
    *(RuntimeError, EOFError, OSError, ValueError),
)


def files_of_zip(stream) -> dict[str, bytes]:
    """Read a zip without trusting it: no more files or bytes than a course could have."""
    try:
        with zipfile.ZipFile(stream) as archive:
            entries = [entry for entry in archive.infolist() if not entry.is_dir()]
            if len(entries) > LIMIT_FILES:
                raise ArchiveTrouble(f"The archive holds {len(entries)} files; {LIMIT_FILES} go.")
            files, left = {}, LIMIT_BYTES
            for entry in entries:
                # The size in the directory may lie, so the reading itself is bounded.
                with archive.open(entry) as inside:
                    content = inside.read(left + 1)
                left -= len(content)
                if left < 0:
                    raise ArchiveTrouble(f"The archive unpacks to over {LIMIT_BYTES} bytes.")
                files[entry.filename] = content
            return _without_wrapping(files)
    except ArchiveTrouble:
        raise
    except NO_ZIP as trouble:
        raise ArchiveTrouble(f"This is no zip archive that can be opened ({trouble}).") from None


def _without_wrapping(files):
    """Take off a folder around everything, and the litter: a folder zipped by hand has both."""
    files = {name: content for name, content in files.items() if not LITTER.match(name)}
    tops = {name.partition("/")[0] for name in files}
    if len(tops) == 1 and (around := f"{tops.pop()}/course.toml") in files:
        cut = len(around) - len("course.toml")
        return {name[cut:]: content for name, content in files.items()}
    return files


def to_zip(text: CourseText) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in ({"README.md": README.encode()} | write_archive(text)).items():
            archive.writestr(zipfile.ZipInfo(name, (2026, 1, 1, 0, 0, 0)), content)
    return out.getvalue()


@transaction.atomic
def load(text: CourseText, *, owner) -> Course:
    """Make a new course of this text, led by its owner. All of it, or nothing."""
    course = Course.objects.create(**_values(text, COURSE))
    Teaching.objects.create(course=course, user=owner, role=Teaching.INSTRUCTOR)
    CoursePicture.objects.bulk_create(
        CoursePicture(course=course, name=name, content=content)
        for name, content in text.pictures.items()
    )
    for number, week_text in enumerate(text.weeks, start=1):
        week = Week.objects.create(course=course, number=number, **_values(week_text, WEEK))
        Lesson.objects.bulk_create(
            Lesson(week=week, position=k, **_values(lesson, LESSON))
            for k, lesson in enumerate(week_text.lessons)
        )
        for k, exercise_text in enumerate(week_text.exercises):
            exercise = Exercise.objects.create(
                week=week, position=k, **_values(exercise_text, EXERCISE)
            )
            Criterion.objects.bulk_create(
                Criterion(exercise=exercise, position=i, **_values(row, CRITERION))
                for i, row in enumerate(exercise_text.criteria)
            )
    return course


def load_files(files: dict[str, bytes], *, owner) -> Course:
    return load(read_archive(files), owner=owner)


def as_text(course: Course) -> CourseText:
    """The course as plain texts; `load` makes the same course of it."""
    weeks = course.weeks.prefetch_related("lessons", "exercises__criteria")
    return CourseText(
        **_values(course, COURSE),
        weeks=[_week_text(week) for week in weeks],
        pictures={p.name: bytes(p.content) for p in course.pictures.order_by("name")},
    )


def _week_text(week):
    return WeekText(
        **_values(week, WEEK),
        lessons=[LessonText(**_values(lesson, LESSON)) for lesson in week.lessons.all()],
        exercises=[
            ExerciseText(
                **_values(exercise, EXERCISE),
                criteria=[
                    CriterionText(**_values(row, CRITERION)) for row in exercise.criteria.all()
                ],
            )
            for exercise in week.exercises.all()
        ],
    )


def _values(thing, names):
    return {name: getattr(thing, name) for name in names}
