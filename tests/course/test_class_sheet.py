"""The class sheet counts and names nobody; projection shows only what may be shown."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from course.models import Enrolment, Exercise, HandIn, Week
from course.sheet import sheet_of

pytestmark = pytest.mark.django_db


def test_findings_are_counted_per_print_and_person(sam, noor, ines, hand_in, make_frame):
    for student in (sam, sam, noor):
        hand_in(student, frames=[make_frame(student, flags=["diffraction"])])
    aside = make_frame(noor, flags=["shake"])
    hand_in(noor, frames=[aside])
    aside.flags.get().set_aside(by=ines)
    sheet = sheet_of(HandIn.objects.all())
    assert (sheet.hand_ins, sheet.people) == (4, 2)
    ((title, prints, people, squares),) = sheet.findings
    assert "iffraction" in title
    assert (prints, people) == (3, 2)
    assert squares == "■■"


def test_verdicts_are_counted_most_missed_first(sam, hand_in):
    for answer in ("met", "not yet", "not yet"):
        row = hand_in(sam)
        row.verdicts = [
            {"criterion": "manual focus", "verdict": answer, "why": ""},
            {"criterion": "tripod", "verdict": "met", "why": ""},
        ]
        row.save()
    sheet = sheet_of(HandIn.objects.all())
    assert sheet.verdicts == [("manual focus", 1, 2, 0), ("tripod", 3, 0, 0)]


def test_it_opens_on_the_week_being_taught_and_shows_every_week_when_asked(
    as_person, ines, sam, course, group, week, exercise, hand_in
):
    later = Week.objects.create(course=course, number=2, title="Light")
    hand_in(sam)
    hand_in(sam, exercise=Exercise.objects.create(week=later, title="A shell"))
    client, address = as_person(ines), reverse("course:class-sheet", args=[group.pk])
    assert client.get(address).context["sheet"].hand_ins == 1
    assert client.get(address, {"week": "2"}).context["sheet"].hand_ins == 1
    assert client.get(address, {"week": "every"}).context["sheet"].hand_ins == 2


def test_no_name_is_on_the_sheet(as_person, ines, sam, group, hand_in, make_frame):
    hand_in(sam, frames=[make_frame(sam, flags=["diffraction"])], wanted="My own words")
    page = as_person(ines).get(reverse("course:class-sheet", args=[group.pk]))
    assert "Sam" not in page.text
    assert "My own words" not in page.text


def test_queries_do_not_grow_with_frames_or_people(
    as_person, make_person, ines, sam, group, hand_in, make_frame
):
    """The class sheet, the evening, the groups, and what came back: one count for few and many."""
    first = hand_in(sam, frames=[make_frame(sam, pictures=True)], may_be_projected=True)
    first.keep(by=ines)
    first.release(by=ines)
    asked = {}
    for more in (1, 6):
        for k in range(more):
            student = make_person(f"student{more}{k}")
            Enrolment.objects.create(group=group, user=student)
            frames = [make_frame(student, pictures=True, flags=["diffraction"]) for _ in range(3)]
            row = hand_in(student, frames=frames, may_be_projected=True)
            again = hand_in(sam, frames=[make_frame(sam, pictures=True, flags=["shake"])])
            for each in (row, again):
                each.keep(by=ines)
                each.release(by=ines)
        for person, address in (
            (ines, reverse("course:class-sheet", args=[group.pk])),
            (ines, reverse("course:projection", args=[group.pk])),
            (ines, reverse("course:evening", args=[group.pk])),
            (ines, reverse("course:group", args=[group.pk])),
            (ines, reverse("course:groups")),
            (ines, reverse("course:meetings", args=[group.pk])),
            (ines, reverse("course:look", args=[first.pk])),
            (sam, reverse("course:came-back", args=[first.pk])),
            (sam, reverse("course:this-week")),
            (sam, reverse("course:people")),
        ):
            client = as_person(person)
            client.get(address)  # the brief is asked once
            with CaptureQueriesContext(connection) as queries:
                assert client.get(address).status_code == 200
            asked.setdefault(address, []).append(len(queries))
    assert {a: n for a, n in asked.items() if n[0] != n[1]} == {}


@pytest.mark.parametrize("name", ["class-sheet", "projection"])
def test_it_is_for_those_who_teach_the_group(as_person, greta, sam, otto, arno, group, name):
    address = reverse(f"course:{name}", args=[group.pk])
    for person in (greta, sam, otto):
        assert as_person(person).get(address).status_code == 404
    assert as_person(arno).get(address).status_code == 200


def test_projection_shows_only_what_its_maker_allowed(
    as_person, ines, sam, group, hand_in, make_frame
):
    hand_in(sam, frames=[make_frame(sam, pictures=True)])
    page = as_person(ines).get(reverse("course:projection", args=[group.pk]))
    assert "No print may be shown yet" in page.text
    shown = hand_in(sam, frames=[make_frame(sam, pictures=True)], may_be_projected=True)
    page = as_person(ines).get(reverse("course:projection", args=[group.pk]))
    assert page.context["hand_in"] == shown
    assert page.context["of"] == 1


def test_projection_has_no_places_and_no_name_in_sight(
    as_person, ines, sam, group, hand_in, make_frame
):
    hand_in(sam, frames=[make_frame(sam, pictures=True)], may_be_projected=True)
    page = as_person(ines).get(reverse("course:projection", args=[group.pk])).text
    assert 'class="strap"' not in page
    assert "data-with-name hidden>Sam" in page
