"""A small house with something of everything, for what must carry all of it."""

import io

from course.marks import annotation
from course.marks_shown import source_of
from course.models import Crit, Exercise, HandIn, HandInFrame, Week
from shootlog.intake.receive import receive
from tests.frames import jpeg, make_frame


def furnish(course, group, sam, ines):
    """A course, frames read and waiting, a hand-in and a crit with numbers of every kind."""
    week = Week.objects.create(course=course, number=1, title="Seeing small")
    exercise = Exercise.objects.create(week=week, title="Ten minutes")
    read = make_frame(
        sam,
        numbers={"magnification": 1.0, "exposure_s": 1 / 3, "iso": 200},
        flags=["thin-depth"],
        pictures=True,
        note="Blüte, « 50 µm »",
    )
    receive(io.BytesIO(jpeg()), owner=sam, name="waiting.jpg")
    hand_in = HandIn.objects.create(exercise=exercise, group=group, student=sam)
    HandInFrame.objects.create(hand_in=hand_in, frame=read, position=1)
    ring = {"kind": "ring", "at": [0.5, 0.4, 0.1], "words": "here"}
    marks = [annotation(ring, source=source_of(read.pk))]
    Crit.objects.create(hand_in=hand_in, author=ines, words="Closer.", marks=marks)
    return read, hand_in
