"""Sheets on paper: a whole shoot in time order, the prints of an evening, and their twins."""

import io
from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from tests.frames import jpeg

pytestmark = pytest.mark.django_db

NOON = datetime(2026, 5, 3, 12, 0, tzinfo=UTC)
DAY = "2026-05-03"


@pytest.fixture
def shoot(sam, make_frame):
    """Return a function that makes a shoot of so many frames, taken a minute apart, shuffled."""

    def make(count):
        for k in sorted(range(count), key=lambda k: (k * 7) % count):
            make_frame(
                sam,
                data=jpeg(grey=100 + k),  # the same picture twice would be kept once
                pictures=True,
                sent_name=f"F{k:04d}.JPG",
                caption=f"f/{k}",
                taken_at=NOON + timedelta(minutes=k),
                own_mark=("keep", "", "no")[k % 3],
            )

    return make


def leaves(answer):
    assert answer.headers["Content-Type"] == "application/pdf"
    return PdfReader(io.BytesIO(answer.content)).pages


def words_on(page):
    return " ".join(page.extract_text().split())


def test_the_whole_shoot_is_on_leaves_of_twenty_in_time_order(as_person, sam, shoot):
    shoot(23)
    pages = leaves(as_person(sam).get(reverse("course:contact-sheet-paper", args=[DAY])))
    assert [len(page.images) for page in pages] == [20, 3]
    said = " ".join(words_on(page) for page in pages)
    places = [said.index(f"F{k:04d}.JPG") for k in range(23)]
    assert places == sorted(places)
    assert "1 · keep · 12:00:00" in said
    assert "3 · no · 12:02:00" in said
    assert "Contact sheet, Sunday 3 May 2026" in said


def test_its_twin_says_the_same_in_words(as_person, sam, shoot):
    shoot(4)
    client = as_person(sam)
    page = client.get(reverse("course:contact-sheet", args=[DAY])).text
    paper = words_on(leaves(client.get(reverse("course:contact-sheet-paper", args=[DAY])))[0])
    for k in range(4):
        for said in (f"F{k:04d}.JPG", f"12:0{k}:00", f"f/{k}"):
            assert said in page
            assert said in paper


def test_a_picture_goes_onto_paper_as_it_is(as_person, sam, make_frame):
    data = jpeg(grey=77)
    make_frame(sam, data=data, pictures=True, taken_at=NOON)
    (page,) = leaves(as_person(sam).get(reverse("course:contact-sheet-paper", args=[DAY])))
    (image,) = page.images
    assert image.data == data  # no second compression


def test_frames_of_other_days_and_other_people_are_not_on_it(as_person, sam, noor, make_frame):
    make_frame(sam, pictures=True, sent_name="MINE.JPG", taken_at=NOON)
    make_frame(sam, pictures=True, sent_name="LATER.JPG", taken_at=NOON + timedelta(days=1))
    make_frame(noor, pictures=True, sent_name="HERS.JPG", taken_at=NOON)
    (page,) = leaves(as_person(sam).get(reverse("course:contact-sheet-paper", args=[DAY])))
    assert "MINE.JPG" in words_on(page)
    assert len(page.images) == 1


@pytest.mark.parametrize("day", ["2026-05-04", "2026-13-01", "yesterday"])
def test_a_day_without_frames_is_not_there(as_person, sam, shoot, day):
    shoot(1)
    for name in ("contact-sheet", "contact-sheet-paper"):
        assert as_person(sam).get(reverse(f"course:{name}", args=[day])).status_code == 404


def test_a_frame_without_a_picture_keeps_its_place(as_person, sam, make_frame):
    make_frame(sam, state="waiting", sent_name="WAITS.JPG", taken_at=NOON)
    (page,) = leaves(as_person(sam).get(reverse("course:contact-sheet-paper", args=[DAY])))
    assert "WAITS.JPG" in words_on(page)
    assert len(page.images) == 0


# --- the evening ---


@pytest.fixture
def evening(sam, noor, hand_in, make_frame):
    for k, student in enumerate((sam, noor, sam)):
        frame = make_frame(student, data=jpeg(grey=90 + k), pictures=True, caption=f"caption {k}")
        hand_in(student, frames=[frame], may_be_projected=True)
    hand_in(noor, frames=[make_frame(noor, pictures=True, caption="not to be shown")])


def test_two_prints_a_leaf_with_room_to_write_and_no_name(as_person, ines, group, evening):
    pages = leaves(as_person(ines).get(reverse("course:evening-paper", args=[group.pk])))
    assert [len(page.images) for page in pages] == [2, 1]
    said = " ".join(words_on(page) for page in pages)
    assert "caption 2" in said
    assert "not to be shown" not in said
    assert "Sam" not in said
    assert "Noor" not in said


def test_whose_is_whose_is_a_leaf_of_its_own_when_asked_for(as_person, ines, group, evening):
    address = reverse("course:evening-paper", args=[group.pk])
    *prints, key = leaves(as_person(ines).get(address, {"names": "yes"}))
    assert "Sam" in words_on(key)
    assert "Noor" in words_on(key)
    assert not any("Sam" in words_on(page) for page in prints)


def test_the_list_of_an_evening_names_people_only_when_asked(as_person, ines, group, evening):
    client, address = as_person(ines), reverse("course:evening", args=[group.pk])
    page = client.get(address).text
    assert "caption 1" in page
    assert "Noor" not in page
    assert "Noor" in client.get(address, {"names": "yes"}).text


def test_sheets_ask_no_more_for_more_frames(as_person, sam, shoot, ines, group, evening):
    asked = []
    for more in (3, 9):
        shoot(more)
        for person, address in (
            (sam, reverse("course:contact-sheet", args=[DAY])),
            (sam, reverse("course:contact-sheet-paper", args=[DAY])),
            (ines, reverse("course:evening", args=[group.pk])),
        ):
            client = as_person(person)
            with CaptureQueriesContext(connection) as queries:
                client.get(address)
            asked.append(len(queries))
    assert asked[:3] == asked[3:]
