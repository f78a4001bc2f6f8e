"""A course as plain files: read, written, read back; damaged ones refused with the file's name."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from course.archive import (
    ArchiveTrouble,
    CourseText,
    CriterionText,
    ExerciseText,
    LessonText,
    WeekText,
    read_archive,
    write_archive,
)

HEAD = b'format = 1\ntitle = "Small things"\n'
WEEK = b'+++\ntitle = "One"\n+++\n'


def lesson(header):
    page = b'+++\ntitle = "L"\n' + header + b"\n+++\n"
    return {"course.toml": HEAD, "week-01/week.md": WEEK, "week-01/lesson-1.md": page}


def exercise(header):
    page = b'+++\ntitle = "E"\n' + header + b"\n+++\n"
    return {"course.toml": HEAD, "week-01/week.md": WEEK, "week-01/exercise-1.md": page}


def test_a_hand_written_folder_is_read():
    course = read_archive(
        {
            "course.toml": HEAD,
            "week-01/week.md": WEEK,
            "week-01/lesson-1-a.md": b'+++\ntitle = "L"\ntopics = ["shake"]\n+++\n\n## Hold still',
            "week-01/exercise-1-a.md": b"+++\ntitle = 'E'\nkind = 'stack'\n"
            b"[[criteria]]\nkind = 'quantity'\nquantity = 'count'\nlow = 12\n+++\nTwelve slices.",
        }
    )
    week = course.weeks[0]
    assert week.lessons[0].text == "## Hold still"
    assert week.exercises[0].criteria[0].low == 12


@pytest.mark.parametrize(
    ("files", "says"),
    [
        ({}, "no course.toml"),
        ({"course.toml": b"title = 'x'"}, "format must be 1"),
        ({"course.toml": b"format = 1"}, "title is missing"),
        ({"course.toml": b"format = "}, "cannot be read"),
        ({"course.toml": b"\xff\xfe"}, "not UTF-8"),
        ({"course.toml": HEAD, "../../etc/passwd": b""}, "no such file"),
        ({"course.toml": HEAD, "week-01/lesson-1.md": WEEK}, "week.md is missing"),
        ({"course.toml": HEAD, "week-01/week.md": b"hello"}, "must begin with a header"),
        ({"course.toml": HEAD, "week-01/week.md": b"+++\ntitle = 3\n+++\n"}, "title = 3"),
        (
            {"course.toml": HEAD, "week-01/week.md": b"+++\nmark = 'A'\n+++\n"},
            "'mark' is not a key",
        ),
        (
            {
                "course.toml": HEAD,
                "week-01/week.md": WEEK,
                "week-01/lesson-1.md": WEEK + b"![x](pictures/none.svg)",
            },
            "which is not there",
        ),
        (
            {
                "course.toml": HEAD,
                "week-01/week.md": WEEK,
                "week-01/exercise-1.md": b"+++\ntitle='a'\nkind='quiz'\n+++\n",
            },
            "kind is 'quiz'",
        ),
        ({"course.toml": HEAD, "week-01/week.md": WEEK + b"lost words"}, "belongs in a lesson"),
        ({"course.toml": HEAD, "week-01/week.md": WEEK + b"\0"}, "holds a sign that no text has"),
        ({"course.toml": b"format = 1\ntitle = '" + b"x" * 121 + b"'"}, "longer than 120"),
        ({"course.toml": HEAD + b"mains_hz = 55"}, "give 50 or 60"),
        ({"course.toml": HEAD + b"[limits]\nspeed = 3"}, "is no finding"),
        ({"course.toml": HEAD + b"[limits]\ndiffraction = nan"}, "is no number"),
        (lesson(b'topics = ["Two words"]'), "is no topic"),
        (lesson(b"topics = [3]"), "is no topic"),
        (exercise(b"subject_depth_mm = -1"), "cannot be"),
        (exercise(b"subject_depth_mm = nan"), "cannot be"),
        (exercise(b"waived = ['speed']"), "is no finding"),
        (exercise(b"[[criteria]]\nkind='quantity'\nquantity='magnification'"), "low or a high"),
        (
            exercise(b"[[criteria]]\nkind='quantity'\nquantity='magnification'\nlow=2\nhigh=1"),
            "is more than high",
        ),
        (exercise(b"[[criteria]]\nkind='need'\nneed='wings'"), "is no need"),
        (exercise(b"[[criteria]]\nkind='wish'"), "kind is 'wish'"),
    ],
)
def test_what_is_no_course_is_refused_with_the_reason(files, says):
    with pytest.raises(ArchiveTrouble, match=says):
        read_archive(files)


words = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=30)
titles = words.filter(str.strip)
numbers = st.none() | st.floats(0.01, 1e4)
rows = st.builds(
    CriterionText,
    kind=st.just("quantity"),
    quantity=st.just("count"),
    low=st.floats(1, 1e4),
    words=words,
)
texts = words.map(str.strip).filter(lambda t: "+++" not in t and "](" not in t)
paragraphs = st.lists(words, max_size=3).map("\n".join)
courses = st.builds(
    CourseText,
    title=titles,
    summary=words,
    mains_hz=st.sampled_from([None, 50, 60]),
    glossary=paragraphs.map(str.strip),
    weeks=st.lists(
        st.builds(
            WeekText,
            title=titles,
            aim=words,
            problems=paragraphs,
            six_weeks_title=words,
            lessons=st.lists(st.builds(LessonText, title=titles, text=texts), max_size=2),
            exercises=st.lists(
                st.builds(
                    ExerciseText,
                    title=titles,
                    text=texts,
                    subject_depth_mm=numbers,
                    cautions=words,
                    criteria=st.lists(rows, max_size=2),
                    limits=st.dictionaries(st.just("diffraction"), st.just({"limit": 6.0})),
                ),
                max_size=2,
            ),
        ),
        max_size=3,
    ),
)


@settings(max_examples=60, deadline=None)
@given(courses)
def test_what_is_written_is_read_back_the_same(course):
    assert read_archive(write_archive(course)) == course
