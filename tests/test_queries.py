"""Every page with few and with many of everything: it asks the database as often.

The routes are those of `tests/who_may_see.py`, as the student whose things they are and as the
instructor, so that a page that is added later is counted without anybody thinking of it.
"""

import uuid
from datetime import timedelta

import pytest
from django.db import connection, reset_queries
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from course.models import Enrolment, Exercise, HandIn, Lesson, Meeting, Phrase, Week
from shootlog.models import Camera, FieldNote, KeptPlan, KeptSetUp, KitItem, Series
from tests.frames import make_frame
from tests.test_who_may_see_what import ask, lena, roles, things  # noqa: F401
from tests.who_may_see import ROUTES, expected

pytestmark = pytest.mark.django_db
NUMBERS = {
    "f_number": 22,
    "effective_f_number": (44, "worked out"),
    "coc_um": (28.8, "assumed"),
    "magnification": (1.0, "told"),
    "exposure_s": 0.05,
    "iso": 400,
}
A_FRAME = {"pictures": True, "numbers": NUMBERS, "flags": ["diffraction", "shake"]}


def one_more(t, ines, make_person, name):
    """Another student with a print that was answered, and one more of everything of Sam's."""
    now = timezone.now()
    student = make_person(name)
    Enrolment.objects.create(group=t.group, user=student)
    about = {"exercise": t.exercise, "group": t.group, "may_be_projected": True}
    for owner in (student, t.sam):
        frames = [make_frame(owner, taken_at=now, camera=t.camera, **A_FRAME) for _ in range(2)]
        row = HandIn.objects.hand_in(student=owner, frames=frames, **about)
        again = HandIn.objects.hand_in(student=owner, frames=frames[:1], reshoot_of=row, **about)
        waits = HandIn.objects.hand_in(student=owner, frames=frames, unsure="Closer?", **about)
        waits.crit_by(ines).save_said(revision=0, words="Held.")
        for each in (row, again):
            each.ask_reshoot(by=ines, one_thing="Nearer.")
            each.release(by=ines)
        Series.objects.of_frames(owner=owner, kind="burst", frames=frames)
    KeptSetUp.objects.create(owner=t.sam, name=name)
    KitItem.objects.create(owner=t.sam, kind="lens", name=name)
    KeptPlan.objects.create(owner=t.sam, name=name)
    FieldNote.objects.create(owner=t.sam, phone_id=uuid.uuid4(), noted_at=now)
    Camera.objects.create(owner=t.sam, make="Hollin", model=name)
    Phrase.objects.create(author=ines, about="any", words=name)
    Meeting.objects.create(group=t.group, starts_at=now, ends_at=now + timedelta(hours=2))
    number = Week.objects.filter(course=t.course, number__lt=9).count() + 1
    week = Week.objects.create(course=t.course, number=number, title=name)
    Lesson.objects.create(week=week, title=name, topics=["diffraction"])
    Exercise.objects.create(week=week, title=name)


def counted(people, t):
    """{(route, role): queries} of every page that opens, at its second opening."""
    found = {}
    for route, (_, method, _) in ROUTES.items():
        for role, person in people.items():
            if method != "get" or expected(route)[role] != "yes":
                continue
            for _ in range(2):
                reset_queries()  # the log holds nine thousand
                with CaptureQueriesContext(connection) as asked:
                    answer = ask(route, person, t)
                    if answer.streaming:
                        list(answer)
            if answer.status_code == 200:
                found[route, role] = len(asked)
    return found


def test_no_page_asks_more_for_more(roles, things, make_person):  # noqa: F811
    """More frames, students, hand-ins, series, kit, plans, notes, meetings and weeks."""
    people = {role: roles[role] for role in ("owner", "instructor")}
    asked = []
    for more in (2, 5):
        for k in range(more):
            one_more(things, roles["instructor"], make_person, f"student{more}{k}")
        asked.append(counted(people, things))
    few, many = asked
    print(f"{len(few)} pages as one role or the other, {min(few.values())} to {max(few.values())}")
    assert len(few) > 80
    more = {page: (n, many[page]) for page, n in few.items() if many[page] > n}
    assert more == {}
