"""The course that comes with the house: whole, sound, and in words we would say aloud."""

import re
from dataclasses import fields
from pathlib import Path

import pytest
from django.core.management import call_command

from course import carry
from course.archive import read_archive, write_archive
from course.brief_rows import Criterion, check
from course.glossary import lines_amiss, read_glossary
from course.markdown import left_out, to_html, with_words
from course.models import Lesson, Week
from course.plain_text import lines
from course.reading_ease import measure, syllables
from course.six_weeks import in_six_weeks
from shootlog.findings import all_findings
from shootlog.wording import unwanted_words

FOLDER = Path(__file__).parents[2] / "fixtures" / "demo" / "course"
COURSE = read_archive(carry.files_of_folder(FOLDER))
LESSONS = [lesson for week in COURSE.weeks for lesson in week.lessons]
EXERCISES = [exercise for week in COURSE.weeks for exercise in week.exercises]


def test_eight_weeks_each_with_aim_demonstration_lesson_and_exercises():
    assert len(COURSE.weeks) == 8
    for week in COURSE.weeks:
        assert week.aim, week.title
        assert week.demonstration, week.title
        assert week.lessons, week.title
        assert week.exercises, week.title
        assert len(lines(week.problems)) >= 3, week.title
        assert len(lines(week.sayings)) >= 3, week.title
    assert sorted({week.in_six_weeks for week in COURSE.weeks}) == [1, 2, 3, 4, 5, 6]


@pytest.mark.parametrize("lesson", LESSONS, ids=lambda lesson: lesson.title)
def test_a_lesson_is_long_enough_to_teach_and_easy_to_read(lesson):
    told = measure(lesson.text)
    assert 600 <= told.words <= 1200
    # Plain English begins at 60 (Flesch 1949, The art of readable writing; from memory).
    assert told.ease >= 65


def test_reading_ease_is_the_published_one():
    """Worked examples widely printed beside the formula (sources from memory)."""
    assert measure("The cat sat on the mat.").ease == pytest.approx(116, abs=0.5)
    long = "The Australian platypus is seemingly a hybrid of a mammal and reptilian creature."
    assert measure(long).ease == pytest.approx(37.5, abs=0.5)
    known = {"make": 1, "moves": 1, "turned": 1, "table": 2, "pages": 2, "wanted": 2, "lens": 1}
    known |= {"aperture": 3, "focus": 2, "magnification": 5, "diffraction": 3, "picture": 2}
    assert {word: syllables(word) for word in known} == known


def test_the_command_prints_a_line_for_every_page(capsys):
    call_command("reading_ease")
    printed = capsys.readouterr().out
    assert len(printed.splitlines()) == 1 + len(LESSONS) + len(EXERCISES)
    assert "Seeing small" in printed


def test_every_finding_waits_for_a_lesson_that_teaches_it():
    taught = {topic for lesson in LESSONS for topic in lesson.topics}
    for slug, finding in all_findings().items():
        assert finding.topic in taught, slug


def test_every_word_explained_is_used_and_explained_once():
    words = read_glossary(COURSE.glossary)
    assert lines_amiss(COURSE.glossary) == []
    forms = [form.lower() for word in words for form in word.forms]
    assert len(forms) == len(set(forms))
    used = {
        word.term
        for page in [*LESSONS, *EXERCISES]
        for word in with_words(page.text, "/", words)[1]
    }
    assert used == {word.term for word in words}


def test_nothing_of_its_texts_is_left_out():
    for page in [*LESSONS, *EXERCISES]:
        assert left_out(page.text, COURSE.pictures, lambda path: path == "/plan/ladder/") == []


def test_six_weeks_lose_no_page():
    short = in_six_weeks(COURSE)
    assert [len(week.lessons) for week in short.weeks] == [2, 1, 1, 1, 1, 2]
    assert sum(len(week.exercises) for week in short.weeks) == len(EXERCISES)
    assert short.weeks[0].title == "Seeing small, and the gear ladder"
    assert short.weeks[5].problems.count("- ") == 8
    assert read_archive(write_archive(short)) == short


@pytest.mark.parametrize("exercise", EXERCISES, ids=lambda exercise: exercise.key)
def test_a_brief_can_be_met_and_a_field_exercise_has_its_twins(exercise):
    check(
        [
            Criterion(**{f.name: getattr(r, f.name) for f in fields(Criterion)})
            for r in exercise.criteria
        ]
    )
    assert exercise.from_a_chair
    if exercise.in_the_field:
        assert exercise.indoor_twin
        assert exercise.cautions
    if exercise.cautions:  # every one says where it is said
        assert re.search(r"\([A-Z][^)]+\.\)$", exercise.cautions.strip())


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


def test_it_loads_in_six_weeks(client, ines):
    client.force_login(ines)
    client.post("/course/load-ours/", {"weeks": "6"})
    assert Week.objects.count() == 6
    assert Lesson.objects.count() == 8


def test_it_loads_with_one_press(client, ines):
    client.force_login(ines)
    client.post("/course/load-ours/")
    assert Lesson.objects.count() == 8
    lesson = Lesson.objects.filter(title__startswith="Light").get()
    page = client.get(f"/lesson/{lesson.pk}/").content.decode()
    assert f'src="/course/{lesson.week.course_id}/pictures/light-directions.svg"' in page
