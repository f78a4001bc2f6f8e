"""The pair: first print and reshoot, and what changed in numbers."""

import pytest
from django.urls import reverse

pytestmark = pytest.mark.django_db


@pytest.fixture
def pair(sam, ines, hand_in, make_frame):
    first = hand_in(sam, frames=[make_frame(sam, numbers={"f_number": 22, "iso": 400})])
    first.ask_reshoot(by=ines, one_thing="The same edge at f/8.")
    again = make_frame(sam, numbers={"f_number": 8, "iso": 400})
    return hand_in(sam, frames=[again], reshoot_of=first)


def test_it_names_what_changed_and_leaves_out_what_did_not(as_person, sam, pair):
    page = as_person(sam).get(reverse("course:pair", args=[pair.pk]))
    assert "f/22" in page.text
    assert "f/8" in page.text
    assert "ISO" not in page.text


def test_what_was_asked_shows_once_it_was_released(as_person, sam, ines, pair):
    address = reverse("course:pair", args=[pair.pk])
    assert "The same edge" not in as_person(sam).get(address).text
    pair.reshoot_of.release(by=ines)
    assert "The same edge" in as_person(sam).get(address).text


def test_it_is_for_its_maker_and_those_who_review(as_person, ines, arno, sam, noor, greta, pair):
    address = reverse("course:pair", args=[pair.pk])
    for person in (ines, arno, sam):
        assert as_person(person).get(address).status_code == 200
    for person in (noor, greta):
        assert as_person(person).get(address).status_code == 404


def test_a_print_that_is_no_reshoot_has_no_pair(as_person, sam, hand_in):
    address = reverse("course:pair", args=[hand_in(sam).pk])
    assert as_person(sam).get(address).status_code == 404
