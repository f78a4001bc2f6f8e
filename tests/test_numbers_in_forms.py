"""A form shows a number as people write it: 100 and not 100.0, on every page that keeps numbers."""

import re

import pytest
from django.urls import reverse

from course.models import Criterion, Exercise, Week
from shootlog.models import Camera, KeptSetUp


@pytest.fixture
def pages(sam, ines, course):
    """(person, address, the whole numbers it shows) for each page whose form keeps numbers."""
    set_up = KeptSetUp.objects.create(
        owner=sam, name="A ninety", focal_length_mm=90, tube_mm=20, sensor_width_mm=23.5
    )
    camera = Camera.objects.create(owner=sam, make="Maker", model="Model", sensor_width_mm=36)
    week = Week.objects.create(course=course, number=1)
    exercise = Exercise.objects.create(week=week, title="One", subject_depth_mm=8)
    Criterion.objects.create(
        exercise=exercise, kind="quantity", quantity="magnification", low=1, high=2
    )
    return [
        (sam, reverse("shootlog:set-up", args=[set_up.pk]), {"90", "20", "23.5"}),
        (sam, reverse("shootlog:camera", args=[camera.pk]), {"36"}),
        (ines, reverse("course:edit-exercise", args=[exercise.pk]), {"8", "1", "2"}),
    ]


def test_whole_numbers_stand_without_a_point(as_person, pages):
    for person, address, numbers in pages:
        page = as_person(person).get(address).text
        shown = set(re.findall(r'<input type="number"[^>]* value="([^"]*)"', page))
        assert numbers <= shown, address
        assert not [one for one in shown if one.endswith(".0")], address


def test_what_was_typed_stays_as_typed(as_person, sam):
    asked = {"focal_length_mm": "90.0", "f_number": "not a number"}
    page = as_person(sam).get("/plan/what-if/", asked).text
    assert 'value="90.0"' in page
