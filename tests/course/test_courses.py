"""Writing a course."""

import re

import pytest
from django.contrib.auth.models import User
from django.urls import reverse

from course.models import Course, Lesson, Person, Teaching, Week

pytestmark = pytest.mark.django_db


@pytest.fixture
def ines_course(client):
    ines = User.objects.create_user("ines-c", password="x")
    Person.objects.create(user=ines, display_name="Ines", may_teach=True)
    course = Course.objects.create(title="Small things")
    Teaching.objects.create(course=course, user=ines, role="instructor")
    client.force_login(ines)
    return course


def test_weeks_are_added_in_order_and_swap_places(client, ines_course):
    for title in ("One", "Two", "Three"):
        client.post(f"/course/{ines_course.pk}/week/", {"title": title})
    two = Week.objects.get(title="Two")
    client.post(f"/week/{two.pk}/move/", {"up": ""})
    assert [w.title for w in ines_course.weeks.all()] == ["Two", "One", "Three"]
    client.post(f"/week/{two.pk}/move/", {"up": ""})  # already first: nothing happens
    assert [w.title for w in ines_course.weeks.all()] == ["Two", "One", "Three"]


def test_a_lesson_is_cleaned_of_script_and_remote_pictures(client, ines_course):
    week = Week.objects.create(course=ines_course, number=1, title="One")
    text = (
        "# Hi\n<script>alert(1)</script>\n![x](https://far.example/x.png) [a](javascript:alert(1))"
    )
    client.post(
        f"/week/{week.pk}/lesson/", {"title": "L", "text": text, "topics": "shake, Thin depth"}
    )
    lesson = Lesson.objects.get()
    assert lesson.topics == ["shake", "thin-depth"]
    said = client.get(f"/lesson/{lesson.pk}/").content.decode()
    assert "HTML is left out: &lt;script&gt;" in said
    assert "The picture https://far.example/x.png is left out" in said
    assert "A link to javascript: is left out." in said
    page = client.get(f"/lesson/{lesson.pk}/").content.decode()
    assert "<script>alert" not in page
    assert "far.example" not in page
    assert 'href="javascript' not in page
    assert client.get("/topic/shake/").url == f"/lesson/{lesson.pk}/"
    assert "No lesson" in client.get("/topic/dust/").content.decode()


ROWS = {
    "row-TOTAL_FORMS": "2",
    "row-INITIAL_FORMS": "0",
    "row-MIN_NUM_FORMS": "0",
    "row-MAX_NUM_FORMS": "1000",
    "row-0-asks": "q:magnification",
    "row-0-low": "0.4",
    "row-0-high": "0.6",
    "row-1-asks": "n:manual focus",
}


def test_an_exercise_and_its_brief_are_written_on_one_page(client, ines_course):
    week = Week.objects.create(course=ines_course, number=1, title="One")
    page = client.get(f"/week/{week.pk}/exercise/").content.decode()
    assert "A quantity between two limits" in page
    sent = {"title": "Between", "kind": "single", "subject_depth_mm": "5"} | ROWS
    client.post(f"/week/{week.pk}/exercise/", sent)
    exercise = week.exercises.get()
    assert [row.in_words for row in exercise.criteria.all()] == [
        "Magnification: 0.40 to 0.60",
        "Manual focus",
    ]
    page = client.get(f"/exercise/{exercise.pk}/change/").content.decode()
    assert 'value="q:magnification" selected' in page


def test_an_exercise_says_what_it_does_not_raise(client, ines_course):
    week = Week.objects.create(course=ines_course, number=1, title="One")
    sent = {"title": "Series", "kind": "apertures", "waived": ["diffraction", "thin-depth"]} | ROWS
    client.post(f"/week/{week.pk}/exercise/", sent)
    exercise = week.exercises.get()
    assert exercise.waived == ["diffraction", "thin-depth"]
    page = client.get(f"/exercise/{exercise.pk}/change/").content.decode()
    assert page.count(" checked") == 2
    refused = client.post(f"/exercise/{exercise.pk}/change/", sent | {"waived": ["speed"]})
    assert "speed is not one of the available choices" in refused.content.decode()


def test_a_brief_that_contradicts_itself_is_sent_back_with_the_reason(client, ines_course):
    week = Week.objects.create(course=ines_course, number=1, title="One")
    sent = {"title": "Between", "kind": "single"} | ROWS | {"row-0-high": "0.2"}
    page = client.post(f"/week/{week.pk}/exercise/", sent).content.decode()
    assert "is more than high" in page
    assert not week.exercises.exists()


def test_a_row_is_taken_out_and_another_put_in(client, ines_course):
    week = Week.objects.create(course=ines_course, number=1, title="One")
    client.post(f"/week/{week.pk}/exercise/", {"title": "B", "kind": "single"} | ROWS)
    exercise = week.exercises.get()
    first, second = exercise.criteria.all()
    sent = {"title": "B", "kind": "single"} | ROWS
    sent |= {
        "row-INITIAL_FORMS": "2",
        "row-TOTAL_FORMS": "3",
        "row-0-id": first.pk,
        "row-0-DELETE": "on",
        "row-1-id": second.pk,
        "row-2-asks": "q:count",
        "row-2-low": "10",
    }
    client.post(f"/exercise/{exercise.pk}/change/", sent)
    assert [c.quantity or c.need for c in exercise.criteria.all()] == ["manual focus", "count"]


def test_what_is_not_told_of_the_mains_is_called_so(client, ines_course):
    page = client.get(reverse("course:edit-course", args=[ines_course.pk])).text
    choices = page.partition('name="mains_hz"')[2].partition("</select>")[0]
    assert re.findall(r">([^<\s][^<]*)</option>", choices) == ["not told", "50 Hz", "60 Hz"]
