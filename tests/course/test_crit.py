"""The crit: kept while it is written, never overwritten, seen only when released."""

import json

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from course.models import Crit, HandIn
from course.models.crit import OldPage
from shootlog import store
from tests.frames import PAST_DIFFRACTION

pytestmark = pytest.mark.django_db


@pytest.fixture
def print_(sam, hand_in):
    return hand_in(sam)


def words_address(print_):
    return reverse("course:words", args=[print_.pk])


def test_words_are_kept_and_the_page_learns_its_new_revision(as_person, ines, print_):
    client = as_person(ines)
    answer = client.post(words_address(print_), {"revision": 0, "words": "You fixed the ring."})
    assert answer.json()["revision"] == 1
    answer = client.post(words_address(print_), {"revision": 1, "words": "And moved."})
    assert answer.json()["revision"] == 2
    assert Crit.objects.get().words == "And moved."


def test_an_old_page_overwrites_nothing_and_is_told_what_stands(as_person, ines, print_):
    client = as_person(ines)
    client.post(words_address(print_), {"revision": 0, "words": "The first tab."})
    answer = client.post(words_address(print_), {"revision": 0, "words": "The second tab."})
    assert answer.status_code == 409
    assert answer.json()["words"] == "The first tab."
    assert Crit.objects.get().words == "The first tab."


def test_the_same_words_sent_twice_are_no_other_page(as_person, ines, sam, print_):
    """A line that breaks off before the answer makes a page send the same once more."""
    frame = print_.first_frame
    marks = [{"frame": frame.pk, "kind": "ring", "at": [0.5, 0.5, 0.1], "words": "here"}]
    said = {"revision": 0, "words": "Held.", "one_thing": "Nearer.", "marks": json.dumps(marks)}
    client = as_person(ines)
    for _ in range(2):
        answer = client.post(words_address(print_), said)
        assert (answer.status_code, answer.json()["revision"]) == (200, 1)
    answer = client.post(words_address(print_), said | {"one_thing": "Lower."})
    assert answer.status_code == 409
    assert Crit.objects.get().one_thing == "Nearer."


def test_deciding_from_an_old_page_shows_both_texts(as_person, ines, print_):
    client = as_person(ines)
    client.post(words_address(print_), {"revision": 0, "words": "The first tab."})
    page = client.post(
        reverse("course:decide", args=[print_.pk]),
        {"revision": 0, "words": "The second tab.", "decision": "kept"},
    )
    assert page.status_code == 409
    assert "The first tab." in page.text
    assert "The second tab." in page.text
    print_.refresh_from_db()
    assert print_.state == "waiting"


def test_two_reviewers_each_have_their_own_crit(as_person, ines, arno, print_):
    as_person(ines).post(words_address(print_), {"revision": 0, "words": "From Ines."})
    as_person(arno).post(words_address(print_), {"revision": 0, "words": "From Arno."})
    assert set(print_.crits.values_list("words", flat=True)) == {"From Ines.", "From Arno."}


def test_save_said_refuses_what_a_page_may_not_set(ines, print_):
    crit = print_.crit_by(ines)
    with pytest.raises(ValueError, match="released_at"):
        crit.save_said(revision=0, released_at=None)


def test_save_said_carries_the_row_as_it_stands(ines, print_):
    crit = print_.crit_by(ines)
    crit.save_said(revision=0, words="Kept.")
    with pytest.raises(OldPage) as old:
        crit.save_said(revision=0, words="Not kept.")
    assert old.value.crit.words == "Kept."


def test_a_reshoot_needs_its_one_thing(as_person, ines, print_):
    with pytest.raises(ValueError, match="one thing"):
        print_.ask_reshoot(by=ines, one_thing=" ")
    client = as_person(ines)
    data = {"revision": 0, "words": "Again.", "decision": "reshoot asked"}
    client.post(reverse("course:decide", args=[print_.pk]), data)
    print_.refresh_from_db()
    assert print_.state == "waiting"
    assert Crit.objects.get().words == "Again."  # the words are kept all the same


def test_asking_for_a_reshoot_keeps_the_one_thing(as_person, ines, print_):
    data = {"revision": 0, "one_thing": "The same at f/8.", "decision": "reshoot asked"}
    as_person(ines).post(reverse("course:decide", args=[print_.pk]), data)
    print_.refresh_from_db()
    assert print_.state == "reshoot asked"
    assert Crit.objects.get().one_thing == "The same at f/8."


def test_a_decision_can_be_taken_back(as_person, ines, print_):
    print_.keep(by=ines)
    data = {"revision": 0, "decision": "nothing"}
    as_person(ines).post(reverse("course:decide", args=[print_.pk]), data)
    print_.refresh_from_db()
    assert print_.state == "waiting"


def test_the_student_sees_neither_words_nor_decision_before_release(as_person, ines, sam, print_):
    print_.keep(by=ines)
    Crit.objects.update(words="The hairs hold.")
    address = reverse("course:came-back", args=[print_.pk])
    page = as_person(sam).get(address)
    assert "The hairs hold." not in page.text
    assert "Kept." not in page.text
    print_.release(by=ines)
    page = as_person(sam).get(address)
    assert "The hairs hold." in page.text
    assert "Kept." in page.text


def test_what_was_wanted_is_read_before_any_finding(as_person, ines, sam, hand_in, make_frame):
    """On the student's page and on the instructor's alike."""
    frame = make_frame(sam, numbers=PAST_DIFFRACTION, flags=["diffraction", "stripped-file"])
    row = hand_in(sam, frames=[frame], wanted="Every hair sharp.")
    row.keep(by=ines)
    row.release(by=ines)
    for user, name in ((sam, "came-back"), (ines, "look")):
        page = as_person(user).get(reverse(f"course:{name}", args=[row.pk])).text
        assert 'class="finding"' in page
        assert page.index("Every hair sharp.") < page.index('class="finding"'), name


def test_this_week_begins_with_what_came_back_and_what_to_change(as_person, ines, sam, print_):
    print_.ask_reshoot(by=ines, one_thing="Rest the lens on the bean bag.")
    page = as_person(sam).get(reverse("course:this-week")).text
    assert "bean bag" not in page
    print_.release(by=ines)
    page = as_person(sam).get(reverse("course:this-week")).text
    assert "one thing changed: Rest the lens on the bean bag." in page
    assert page.index("Came back") < page.index("Hand in")


def test_this_week_asks_no_more_of_the_database_for_more_prints(
    as_person, ines, sam, hand_in, django_assert_max_num_queries
):
    client, place = as_person(sam), reverse("course:this-week")

    def come_back():
        row = hand_in(sam)
        row.ask_reshoot(by=ines, one_thing="Nearer.")
        row.release(by=ines)

    come_back()
    with CaptureQueriesContext(connection) as one:
        client.get(place)
    come_back()
    come_back()
    with django_assert_max_num_queries(len(one)):
        client.get(place)


def test_a_release_can_be_taken_back(as_person, ines, sam, print_):
    print_.keep(by=ines)
    client = as_person(ines)
    client.post(reverse("course:release", args=[print_.pk]))
    client.post(reverse("course:release", args=[print_.pk]), {"take_back": "yes"})
    assert not Crit.objects.get().is_released


def test_marks_are_kept_as_annotations_and_drawn_for_the_student(as_person, ines, sam, print_):
    frame = print_.first_frame
    marks = [{"frame": frame.pk, "kind": "ring", "at": [0.5, 0.5, 0.1], "words": "here"}]
    data = {"revision": 0, "marks": json.dumps(marks)}
    as_person(ines).post(words_address(print_), data)
    (kept,) = Crit.objects.get().marks
    assert kept["type"] == "Annotation"
    assert kept["target"]["source"] == f"urn:frame:{frame.pk}"
    print_.keep(by=ines)
    print_.release(by=ines)
    page = as_person(sam).get(reverse("course:came-back", args=[print_.pk]))
    assert 'cx="50.0%"' in page.text
    assert "here" in page.text


def test_marks_on_another_picture_are_refused_in_words(as_person, ines, print_, make_frame, sam):
    other = make_frame(sam)
    marks = [{"frame": other.pk, "kind": "ring", "at": [0.5, 0.5, 0.1]}]
    answer = as_person(ines).post(
        words_address(print_), {"revision": 0, "marks": json.dumps(marks)}
    )
    assert answer.status_code == 422
    assert "not in this hand-in" in answer.json()["trouble"]


@pytest.mark.parametrize("marks", ["{", "7", '{"kind": "ring"}', "[1]", '[{"kind": "star"}]'])
def test_marks_that_are_none_are_refused_in_words(as_person, ines, print_, marks):
    answer = as_person(ines).post(words_address(print_), {"revision": 0, "marks": marks})
    assert answer.status_code == 422
    assert answer.json()["trouble"]


def test_a_page_that_sends_no_marks_changes_none(as_person, ines, print_):
    frame = print_.first_frame
    marks = [{"frame": frame.pk, "kind": "line", "at": [0, 0.5, 1, 0.5]}]
    client = as_person(ines)
    client.post(words_address(print_), {"revision": 0, "marks": json.dumps(marks)})
    client.post(words_address(print_), {"revision": 1, "words": "Level."})
    assert len(Crit.objects.get().marks) == 1


def test_not_so_takes_one_tap_and_can_be_undone(as_person, ines, sam, hand_in, make_frame):
    frame = make_frame(sam, flags=["diffraction"])
    print_ = hand_in(sam, frames=[frame])
    address = reverse("course:not-so", args=[print_.pk, frame.pk, "diffraction"])
    client = as_person(ines)
    client.post(address, {"why": "the blur is the wind"})
    flag = frame.flags.get()
    assert flag.set_aside_by == ines
    assert flag.set_aside_why == "the blur is the wind"
    client.post(address, {"stand": "yes"})
    flag.refresh_from_db()
    assert flag.set_aside_at is None


@pytest.mark.parametrize("name", ["not-so", "say-first"])
def test_the_frame_that_was_looked_at_comes_back(as_person, ines, sam, hand_in, make_frame, name):
    frames = [make_frame(sam, flags=["diffraction"]) for _ in range(3)]
    print_ = hand_in(sam, frames=frames)
    args = [print_.pk, frames[2].pk] if name == "not-so" else [print_.pk]
    address = reverse(f"course:{name}", args=[*args, "diffraction"])
    answer = as_person(ines).post(address, {"frame": "3"})
    assert answer.url == reverse("course:look", args=[print_.pk]) + "?frame=3"


def test_the_page_asks_why_once_and_shows_the_reason(as_person, ines, sam, hand_in, make_frame):
    frame = make_frame(sam, numbers=PAST_DIFFRACTION, flags=["diffraction"])
    print_ = hand_in(sam, frames=[frame])
    look, address = (
        reverse("course:look", args=[print_.pk]),
        reverse("course:not-so", args=[print_.pk, frame.pk, "diffraction"]),
    )
    client = as_person(ines)
    page = client.get(look)
    assert page.context["shown"].told.main.finding == "diffraction"
    assert "Why is it not so?" not in page.text
    client.post(address)
    page = client.get(look)
    assert page.context["shown"].told.main is None
    assert "Why is it not so?" in page.text
    client.post(address, {"why": "It was meant so"})
    page = client.get(look)
    assert "Not so: it was meant so." in page.text
    assert "Why is it not so?" not in page.text
    assert frame.flags.get().set_aside_by == ines


@pytest.mark.parametrize("name", ["words", "decide", "release"])
def test_others_cannot_say_anything(as_person, greta, sam, noor, print_, name):
    for person in (greta, sam, noor):
        answer = as_person(person).post(
            reverse(f"course:{name}", args=[print_.pk]), {"revision": 0}
        )
        assert answer.status_code == 404
    assert not Crit.objects.exists()


def test_phrases_are_ones_own(as_person, ines, arno):
    client = as_person(ines)
    client.post(reverse("course:phrases"), {"about": "any", "words": "Lean, don't turn."})
    assert "Lean, don&#x27;t turn." in client.get(reverse("course:phrases")).text
    assert "Lean" not in as_person(arno).get(reverse("course:phrases")).text


def test_the_crit_of_a_withdrawn_print_is_still_there(as_person, ines, print_):
    print_.withdraw()
    assert as_person(ines).get(reverse("course:look", args=[print_.pk])).status_code == 200
    assert HandIn.objects.to_look_at(ines).count() == 0


WEBM = b"\x1a\x45\xdf\xa3" + b"\0" * 60  # EBML head, RFC 8794 section 8.1


def voice(client, print_, data=WEBM):
    file = SimpleUploadedFile("note", data)
    return client.post(
        reverse("course:keep-voice", args=[print_.pk]),
        {"voice": file},
        headers={"X-Requested-With": "fetch"},
    )


def test_a_voice_note_is_heard_only_by_those_who_may_read_the_crit(
    as_person, ines, arno, greta, sam, noor, print_
):
    address = voice(as_person(ines), print_).json()["hear"]
    heard = as_person(ines).get(address)
    assert heard.content == WEBM
    assert heard["Content-Type"] == "audio/webm"
    assert heard["X-Content-Type-Options"] == "nosniff"
    assert as_person(arno).get(address).status_code == 200
    for person in (greta, sam, noor):
        assert as_person(person).get(address).status_code == 404
    print_.release(by=ines)
    assert as_person(sam).get(address).status_code == 200
    assert as_person(noor).get(address).status_code == 404


@pytest.mark.parametrize("data", [b"<script>alert(1)</script>", b"\xff\xd8\xff\xe0 a picture"])
def test_what_is_no_recording_is_refused_in_words(as_person, ines, print_, data):
    answer = voice(as_person(ines), print_, data)
    assert answer.status_code == 422
    assert "no recording" in answer.json()["trouble"]


def test_a_new_voice_note_takes_the_place_of_the_old(as_person, ines, print_):
    client = as_person(ines)
    voice(client, print_)
    before = Crit.objects.get().voice_key
    voice(client, print_)
    assert Crit.objects.get().voice_key != before
    assert not store.holds(before)


def test_others_cannot_leave_a_voice_note(as_person, greta, sam, print_):
    for person in (greta, sam):
        assert voice(as_person(person), print_).status_code == 404


def test_looking_at_a_print_writes_no_crit(as_person, ines, print_):
    as_person(ines).get(reverse("course:look", args=[print_.pk]))
    assert not Crit.objects.exists()
