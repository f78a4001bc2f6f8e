"""What the brief says of its subject counts for the frames handed in to it."""

import io

import pytest
from PIL import Image

from course.models import Exercise, HandIn, Week
from shootlog.intake.receive import receive

pytestmark = pytest.mark.django_db


@pytest.fixture
def exercise(course):
    week = Week.objects.create(course=course, number=1, title="One")
    return Exercise.objects.create(week=week, title="Beetle", subject_depth_mm=5)


def frame_of(owner, **told):
    out = io.BytesIO()
    Image.new("RGB", (64, 48), (90, 120, 60)).save(out, "JPEG")
    frame, _ = receive(io.BytesIO(out.getvalue()), owner=owner, name="a.jpg")
    frame.told = told
    frame.save(update_fields=["told"])
    return frame


@pytest.mark.parametrize("read_before", [True, False])
def test_the_briefs_depth_reaches_the_reading(sam, group, exercise, work, read_before):
    frame = frame_of(sam)
    if read_before:
        work()
        frame.refresh_from_db()
    HandIn.objects.hand_in(exercise=exercise, group=group, student=sam, frames=[frame])
    work()
    frame.refresh_from_db()
    assert frame.reading["subject_depth_mm"]["value"] == 5


def test_what_the_student_told_goes_before_the_brief(sam, group, exercise, work):
    frame = frame_of(sam, subject_depth_mm=8)
    HandIn.objects.hand_in(exercise=exercise, group=group, student=sam, frames=[frame])
    work()
    frame.refresh_from_db()
    assert frame.reading["subject_depth_mm"]["value"] == 8
