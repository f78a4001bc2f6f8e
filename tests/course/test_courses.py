"""Writing a course."""

import pytest
from django.contrib.auth.models import User

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
    page = client.get(f"/lesson/{lesson.pk}/").content.decode()
    assert "<script>alert" not in page
    assert "far.example" not in page
    assert 'href="javascript' not in page
    assert client.get("/topic/shake/").url == f"/lesson/{lesson.pk}/"
    assert "No lesson" in client.get("/topic/dust/").content.decode()
