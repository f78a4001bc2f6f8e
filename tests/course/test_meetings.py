"""Meetings and their calendar, read back by an independent iCalendar library (RFC 5545)."""

import re
from datetime import UTC, datetime, timedelta

import icalendar
import pytest
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from course.calendar import LINE_OCTETS, Entry, calendar_text
from course.models import Attendance, Meeting

START = datetime(2026, 5, 7, 17, 30, tzinfo=UTC)
words = st.text(st.characters(exclude_categories=["Cs", "Cc", "Zl", "Zp"]), max_size=120)


@given(words, words, words)
def test_what_is_written_is_read_back_by_another_library(title, place, said):
    entry = Entry(
        uid="meeting-1@here",
        starts_at=START,
        ends_at=START + timedelta(hours=2),
        changed_at=START,
        title=title,
        place=place,
        words=f"first; line, \\ here\n{said}",
    )
    text = calendar_text("Thursday, 18:30", [entry])
    (event,) = icalendar.Calendar.from_ical(text).walk("VEVENT")
    kept = {k: "".join(c for c in v if c.isprintable()) for k, v in (("t", title), ("p", place))}
    assert str(event["SUMMARY"]) == kept["t"]
    assert str(event.get("LOCATION", "")) == kept["p"]
    assert str(event["DESCRIPTION"]).startswith("first; line, \\ here\n")
    assert event.decoded("DTSTART") == START
    # RFC 5545, 3.1: lines of at most 75 octets, ended by CR LF.
    lines = text.encode().split(b"\r\n")
    assert max(map(len, lines)) <= LINE_OCTETS
    assert all(line.decode() is not None for line in lines)


@pytest.fixture
def meeting(group):
    return Meeting.objects.create(
        group=group, starts_at=START, ends_at=START + timedelta(hours=2), place="The mill"
    )


def feed_of(client, group):
    page = client.get(f"/groups/{group.pk}/meetings/")
    return page.context["feed"].removeprefix("http://testserver")


def test_the_feed_works_without_signing_in_until_one_leaves(client, as_person, sam, group, meeting):
    address = feed_of(as_person(sam), group)
    answer = client.get(address)
    assert answer["Content-Type"].startswith("text/calendar")
    (event,) = icalendar.Calendar.from_ical(answer.content).walk("VEVENT")
    assert str(event["LOCATION"]) == "The mill"
    sam.enrolments.get().leave()
    assert client.get(address).status_code == 404
    assert client.get("/feed/made-up/meetings.ics").status_code == 404


def test_a_student_says_whether_they_come_and_the_teacher_counts_heads(
    as_person, ines, sam, noor, otto, meeting
):
    as_person(sam).post(f"/meetings/{meeting.pk}/coming/", {"coming": "yes"})
    as_person(sam).post(f"/meetings/{meeting.pk}/coming/", {"coming": "no"})
    assert Attendance.objects.get().coming is False
    assert as_person(otto).post(f"/meetings/{meeting.pk}/coming/").status_code == 404
    assert as_person(sam).post(f"/meetings/{meeting.pk}/came/").status_code == 404
    heads = {"here": [sam.pk, otto.pk]}
    as_person(ines).post(f"/meetings/{meeting.pk}/came/", heads)
    came = dict(Attendance.objects.values_list("user__username", "came"))
    assert came == {"sam": True, "noor": False}
    assert Attendance.objects.get(user=sam).coming is False  # what sam said stays


def test_the_number_of_queries_does_not_grow_with_meetings(
    as_person, ines, sam, noor, meeting, django_assert_max_num_queries
):
    group = meeting.group
    for week in range(1, 9):
        Meeting.objects.create(
            group=group,
            starts_at=START + timedelta(weeks=week),
            ends_at=START + timedelta(weeks=week, hours=2),
        ).count_heads({sam.pk})
    client = as_person(ines)
    with django_assert_max_num_queries(14):
        assert client.get(f"/groups/{group.pk}/meetings/").status_code == 200


def test_one_sheet_holds_what_whoever_leads_needs(as_person, ines, sam, noor, group, meeting):
    from course.models import Criterion, Exercise, Week

    week = Week.objects.create(
        course=group.course, number=1, title="Close", aim="Near.", sayings="- Lean, do not turn."
    )
    exercise = Exercise.objects.create(week=week, title="A seed head", cautions="Lamps burn.")
    Criterion.objects.create(exercise=exercise, kind="need", need="tripod")
    as_person(sam).post(f"/meetings/{meeting.pk}/coming/", {"coming": "yes"})
    meeting.kind, meeting.safety = "field", "Pairs near water."
    meeting.save()
    page = as_person(ines).get(f"/meetings/{meeting.pk}/sheet/").content.decode()
    for said in ("Sam", "coming", "Noor", "Pairs near water.", "Lean, do not turn.", "Tripod"):
        assert said in page
    assert "Count heads at the start and at the end" in page
    assert page.count('class="box"') == 4  # two for each of two people
    assert as_person(sam).get(f"/meetings/{meeting.pk}/sheet/").status_code == 404


def test_a_meeting_says_its_week_and_what_was_shown(as_person, ines, sam, group, meeting):
    from course.models import Week

    week = Week.objects.create(course=group.course, number=2, title="Ladder")
    sent = {
        "kind": "evening",
        "week": week.pk,
        "starts_at": "2026-05-07T18:30",
        "ends_at": "2026-05-07T20:30",
        "shown": "One subject on every rung.",
    }
    as_person(ines).post(f"/groups/{group.pk}/meetings/{meeting.pk}/", sent)
    page = as_person(sam).get(f"/groups/{group.pk}/meetings/").content.decode()
    assert "Week 2: Ladder" in page
    assert "One subject on every rung." in page


def test_what_is_to_come_stands_first_and_the_last_one_past_above_those_before(
    as_person, sam, group
):
    """Nobody is asked whether they come to a meeting that was; one that goes on is not past."""
    now = timezone.now()
    for place, hours in (("first", -90), ("second", -40), ("goes on", -1), ("next", 30)):
        begins = now + timedelta(hours=hours)
        Meeting.objects.create(
            group=group, place=place, starts_at=begins, ends_at=begins + timedelta(hours=2)
        )
    page = as_person(sam).get(f"/groups/{group.pk}/meetings/").text
    places = re.findall("· (first|second|goes on|next)<", page)
    assert places == ["goes on", "next", "second", "first"]
    coming, _, past = page.partition("Past meetings")
    assert coming.count("Are you coming?") == 2
    assert "Are you coming?" not in past
    assert "<details open>" not in page


def test_where_all_meetings_are_past_they_lie_open(as_person, sam, meeting):
    page = as_person(sam).get(f"/groups/{meeting.group_id}/meetings/").text
    assert "<details open><summary>Past meetings" in page
    assert "No meeting is set yet after the last one." in page
