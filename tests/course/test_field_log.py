"""Three taps: taken once however often they are sent, offered by time, told only when confirmed."""

import json
import uuid
from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from shootlog.models import FieldNote, KeptSetUp
from shootlog.models.field_note import light_direction, match

NOW = datetime(2026, 5, 3, 9, 0, tzinfo=UTC)


def note(owner=None, minutes=0, **values):
    return FieldNote(
        owner=owner, phone_id=uuid.uuid4(), noted_at=NOW + timedelta(minutes=minutes), **values
    )


def sent(client, *notes, **more):
    body = json.dumps({"notes": notes} | more)
    return client.post("/field-log/send/", body, content_type="application/json")


def tapped(**values):
    now = timezone.now().isoformat()
    return {"phone_id": str(uuid.uuid4()), "noted_at": now} | values


@pytest.mark.parametrize(
    ("clock", "direction"),
    [(6, "front"), (5, "front"), (7, "front"), (3, "side"), (9, "side"), (2, "side"), (10, "side"),
     (12, "back"), (11, "back"), (1, "back"), (None, None)],
)  # fmt: skip
def test_the_clock_face_means_front_side_and_back(clock, direction):
    """The camera stands at 6, so light from 6 comes over the shoulder and from 12 against it."""
    assert light_direction(clock) == direction


def test_taps_are_kept_without_a_script(sam, as_person):
    kept = KeptSetUp.objects.create(owner=sam, name="Rail")
    taps = {"set_up": kept.pk, "support": "rail", "light_clock": "9", "diffuser": "yes"}
    taps["wind"] = "still"
    as_person(sam).post("/field-log/", taps)
    row = FieldNote.objects.get()
    assert (row.set_up, row.support, row.light_clock, row.diffuser, row.card, row.wind) == (
        kept, "rail", 9, True, None, "still",
    )  # fmt: skip
    assert row.in_words == "Rail, rail, light from 9 o'clock, side, diffuser, wind still"


def test_notes_sent_twice_are_kept_once(sam, as_person):
    client, first = as_person(sam), tapped(support="bag")
    assert sent(client, first).json() == {"kept": [first["phone_id"]], "refused": []}
    second = tapped(wind="gusty")
    assert len(sent(client, first, second).json()["kept"]) == 2
    assert FieldNote.objects.count() == 2


def test_two_people_may_send_the_same_id(sam, noor, as_person):
    same = tapped(support="bag")
    sent(as_person(sam), same)
    sent(as_person(noor), same)
    assert FieldNote.objects.count() == 2


def test_a_phone_whose_clock_is_wrong_is_put_right(sam, as_person):
    phone_now = timezone.now() - timedelta(hours=3)
    sent(
        as_person(sam),
        tapped(noted_at=(phone_now - timedelta(minutes=10)).isoformat()),
        sent_at=phone_now.isoformat(),
    )
    age = timezone.now() - FieldNote.objects.get().noted_at
    assert age.total_seconds() == pytest.approx(600, abs=5)


@pytest.mark.parametrize(
    "bad",
    [
        {"phone_id": "no id"},
        {"noted_at": "yesterday"},
        {"noted_at": "1970-01-01T00:00:00Z"},
        {"noted_at": "2999-01-01T00:00:00Z"},
        {"noted_at": "9999-12-31T23:59:59-12:00"},
        {"phone_id": None},
    ],
)
def test_a_note_that_cannot_be_is_named_and_the_rest_are_kept(sam, as_person, bad):
    good = tapped(support="bag")
    answer = sent(as_person(sam), tapped() | bad, good).json()
    assert answer["kept"] == [good["phone_id"]]
    assert len(answer["refused"]) == 1


@pytest.mark.parametrize(
    "body", ["", "[]", "{}", "null", '{"notes": 3}', '{"notes": [], "sent_at": "x"}']
)
def test_what_is_no_note_is_refused_in_words(sam, as_person, body):
    answer = as_person(sam).post("/field-log/send/", body, content_type="application/json")
    assert answer.status_code == 400
    assert b"no notes of the field log" in answer.content


def test_taps_outside_the_choices_are_left_open(sam, noor, as_person):
    theirs = KeptSetUp.objects.create(owner=noor, name="Not mine")
    sent(as_person(sam), tapped(set_up=str(theirs.pk), support="drone", light_clock="13", wind="x"))
    row = FieldNote.objects.get()
    assert (row.set_up, row.support, row.light_clock, row.wind) == (None, "", None, "")


# --- matched by time ---


def test_a_frame_is_offered_with_its_nearest_note(sam, make_frame):
    notes = [note(sam, 0), note(sam, 30)]
    for row in notes:
        row.save()
    frames = [
        make_frame(sam, taken_at=NOW + timedelta(minutes=minutes))
        for minutes in (-25, -5, 14, 16, 49, 51)
    ]
    offered = match(notes, frames)
    assert offered[notes[0].pk] == frames[1:3]
    assert offered[notes[1].pk] == frames[3:5]


def test_nothing_is_told_until_it_is_confirmed(sam, as_person, make_frame):
    kept = KeptSetUp.objects.create(owner=sam, name="Rail", focal_length_mm=90)
    row = note(sam, support="rail", light_clock=9, wind="still", set_up=kept)
    row.save()
    taken = make_frame(sam, taken_at=NOW + timedelta(minutes=2))
    left = make_frame(sam, taken_at=NOW + timedelta(minutes=3))
    client = as_person(sam)
    page = client.get("/field-log/notes/").content.decode()
    assert page.count('name="frames"') == 2
    taken.refresh_from_db()
    assert taken.told == {}
    client.post(f"/field-log/notes/{row.pk}/settle/", {"frames": [taken.pk]})
    taken.refresh_from_db()
    left.refresh_from_db()
    assert taken.told == {"support": "rail", "light": "side", "light_clock": 9, "wind": "still"}
    assert taken.set_up == kept
    assert taken.what_was_read.fact("support") == "rail"
    assert taken.what_was_read.fact("light") == ["side"]
    assert (left.told, left.set_up) == ({}, None)
    assert "No note is waiting for its frames" in client.get("/field-log/notes/").content.decode()


def test_what_was_told_before_goes_before_the_note(sam, as_person, make_frame):
    row = note(sam, support="rail", wind="still")
    row.save()
    frame = make_frame(sam, taken_at=NOW, told={"support": "hand"})
    as_person(sam).post(f"/field-log/notes/{row.pk}/settle/", {"frames": [frame.pk]})
    frame.refresh_from_db()
    assert frame.told == {"support": "hand", "wind": "still"}


def test_a_note_may_belong_to_no_frame(sam, as_person, make_frame):
    row = note(sam, support="rail")
    row.save()
    frame = make_frame(sam, taken_at=NOW)
    as_person(sam).post(f"/field-log/notes/{row.pk}/settle/", {"frames": [frame.pk], "none": "yes"})
    frame.refresh_from_db()
    row.refresh_from_db()
    assert frame.told == {}
    assert row.settled_at is not None


def test_notes_and_frames_of_others_are_not_there(sam, noor, as_person, make_frame):
    row = note(sam, support="rail")
    row.save()
    theirs = make_frame(noor, taken_at=NOW)
    assert as_person(noor).post(f"/field-log/notes/{row.pk}/settle/").status_code == 404
    as_person(sam).post(f"/field-log/notes/{row.pk}/settle/", {"frames": [theirs.pk]})
    theirs.refresh_from_db()
    row.refresh_from_db()
    assert theirs.told == {}
    assert row.settled_at is None


def test_the_notes_page_asks_as_often_for_many(sam, as_person, make_frame):
    client = as_person(sam)
    note(sam).save()
    make_frame(sam, taken_at=NOW)
    client.get("/field-log/notes/")
    with CaptureQueriesContext(connection) as few:
        client.get("/field-log/notes/")
    for k in range(6):
        note(sam, k).save()
        make_frame(sam, taken_at=NOW + timedelta(minutes=k))
    with CaptureQueriesContext(connection) as many:
        client.get("/field-log/notes/")
    assert len(many) == len(few)
