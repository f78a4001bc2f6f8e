"""The course that comes with the house: whole, sound, and in words we would say aloud."""

import re
from dataclasses import fields
from pathlib import Path

import pytest

from course import carry
from course.archive import read_archive
from course.brief_rows import Criterion, check
from course.markdown import to_html
from course.models import Lesson
from shootlog.wording import unwanted_words

FOLDER = Path(__file__).parents[2] / "fixtures" / "demo" / "course"
COURSE = read_archive(carry.files_of_folder(FOLDER))
LESSONS = [lesson for week in COURSE.weeks for lesson in week.lessons]
EXERCISES = [exercise for week in COURSE.weeks for exercise in week.exercises]


def words_of(text):
    return len(re.findall(r"[^\W_]+(?:['’-][^\W_]+)*", text))


def reading_ease(text):
    """Flesch's reading ease (Flesch 1948, A new readability yardstick): higher is easier."""
    plain = re.sub(r"!\[.*?\)|[#*]", "", text)
    sentences = max(1, len(re.findall(r"[.!?:](?:\s|$)", plain)))
    found = re.findall(r"[a-zA-Z]+", plain)
    syllables = sum(
        max(1, len(re.findall(r"[aeiouy]+", re.sub(r"e$", "", w.lower())))) for w in found
    )
    return 206.835 - 1.015 * len(found) / sentences - 84.6 * syllables / len(found)


def test_eight_weeks_each_with_aim_demonstration_lesson_and_exercises():
    assert len(COURSE.weeks) == 8
    for week in COURSE.weeks:
        assert week.aim, week.title
        assert week.demonstration, week.title
        assert week.lessons, week.title
        assert week.exercises, week.title
    assert sorted({week.in_six_weeks for week in COURSE.weeks}) == [1, 2, 3, 4, 5, 6]


@pytest.mark.parametrize("lesson", LESSONS, ids=lambda lesson: lesson.title)
def test_a_lesson_is_long_enough_to_teach_and_easy_to_read(lesson):
    assert 600 <= words_of(lesson.text) <= 1200
    # Plain English begins at 60 (Flesch 1949, The art of readable writing; from memory).
    assert reading_ease(lesson.text) >= 65


@pytest.mark.parametrize("exercise", EXERCISES, ids=lambda exercise: exercise.key)
def test_a_brief_can_be_met_and_a_field_exercise_has_its_twins(exercise):
    check(
        [
            Criterion(**{f.name: getattr(r, f.name) for f in fields(Criterion)})
            for r in exercise.criteria
        ]
    )
    if exercise.in_the_field:
        assert exercise.indoor_twin
        assert exercise.from_a_chair
        assert exercise.cautions


def test_keys_name_one_exercise_each():
    keys = [exercise.key for exercise in EXERCISES]
    assert len(set(keys)) == len(keys)
    assert all(keys)


def test_no_school_words_and_none_about_faults():
    for page in [*LESSONS, *EXERCISES]:
        for text in (page.title, page.text):
            # "late" is a time of day there; "fault" and "mistake" are only ever denied
            assert set(unwanted_words(text)) <= {"late", "fault", "mistake"}, page.title


def test_every_drawing_is_used_and_has_words_for_those_who_listen():
    shown = {name for page in LESSONS for name in re.findall(r"\((pictures/[^)]+)\)", page.text)}
    assert shown == set(COURSE.pictures)
    for name, content in COURSE.pictures.items():
        assert b"<title>" in content, name
        assert b"<script" not in content, name
    for lesson in LESSONS:
        assert 'alt=""' not in to_html(lesson.text)


def test_it_loads_with_one_press(client, ines):
    client.force_login(ines)
    client.post("/course/load-ours/")
    assert Lesson.objects.count() == 8
    lesson = Lesson.objects.filter(title__startswith="Light").get()
    page = client.get(f"/lesson/{lesson.pk}/").content.decode()
    assert f'src="/course/{lesson.week.course_id}/pictures/light-directions.svg"' in page
