"""My log: the contact sheet, its marks, and sending files with a plain form."""

from datetime import UTC, datetime

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shootlog.models import Frame, KeptSetUp
from tests.frames import jpeg

pytestmark = pytest.mark.django_db
LOG = reverse("shootlog:log")


def names(page):
    return [[frame.sent_name for frame in frames] for _, frames in page.context["days"]]


def test_frames_lie_in_the_order_they_were_taken_the_newest_day_first(as_person, sam, make_frame):
    for name, day, hour in [("c", 3, 10), ("a", 2, 9), ("b", 2, 11), ("d", 3, 12)]:
        make_frame(sam, sent_name=name, taken_at=datetime(2026, 5, day, hour, tzinfo=UTC))
    assert names(as_person(sam).get(LOG)) == [["c", "d"], ["a", "b"]]


def test_a_frame_without_a_clock_lies_where_it_arrived(as_person, sam, make_frame):
    make_frame(sam, sent_name="no clock", received_at=datetime(2026, 5, 2, 10, tzinfo=UTC))
    make_frame(sam, sent_name="clock", taken_at=datetime(2026, 5, 2, 9, tzinfo=UTC))
    assert names(as_person(sam).get(LOG)) == [["clock", "no clock"]]


def test_the_sheet_is_ones_own(as_person, sam, noor, make_frame):
    make_frame(noor, sent_name="hers.jpg")
    assert "hers.jpg" not in as_person(sam).get(LOG).text


def test_many_files_at_once_without_scripts(as_person, sam):
    files = [SimpleUploadedFile(f"{k}.jpg", jpeg()) for k in range(3)]
    page = as_person(sam).post(reverse("shootlog:send"), {"files": files}, follow=True)
    assert sorted(Frame.objects.values_list("sent_name", flat=True)) == ["0.jpg", "1.jpg", "2.jpg"]
    assert "0.jpg: kept." in page.text


def test_one_file_refused_leaves_the_others(as_person, sam):
    files = [SimpleUploadedFile("a.jpg", jpeg()), SimpleUploadedFile("b.txt", b"a letter")]
    page = as_person(sam).post(reverse("shootlog:send"), {"files": files}, follow=True)
    assert Frame.objects.get().sent_name == "a.jpg"
    assert "b.txt" in page.text


def test_bytes_known_already_are_said_so(as_person, sam):
    data = jpeg()
    client = as_person(sam)
    for words in ("kept.", "was here already."):
        file = SimpleUploadedFile("a.jpg", data)
        page = client.post(reverse("shootlog:send"), {"files": [file]}, follow=True)
        assert f"a.jpg: {words}" in page.text
    assert Frame.objects.count() == 1


def test_nothing_chosen_is_asked_for_in_words(as_person, sam):
    page = as_person(sam).post(reverse("shootlog:send"), {}, follow=True)
    assert "Choose one file or more" in page.text


def test_the_set_up_used_last_is_offered_first(as_person, sam):
    KeptSetUp.objects.create(owner=sam, name="old")
    new = KeptSetUp.objects.create(owner=sam, name="new")
    new.touch()
    assert as_person(sam).get(LOG).context["form"].initial["set_up"] == new


def test_ones_own_mark_is_set_changed_and_taken_away(as_person, sam, make_frame):
    frame = make_frame(sam)
    client = as_person(sam)
    for value, now in [("keep", "keep"), ("maybe", "maybe"), ("maybe", "")]:
        client.post(reverse("shootlog:mark", args=[frame.pk]), {"own_mark": value})
        frame.refresh_from_db()
        assert frame.own_mark == now


def test_a_mark_that_is_none_is_refused(as_person, sam, make_frame):
    address = reverse("shootlog:mark", args=[make_frame(sam).pk])
    assert as_person(sam).post(address, {"own_mark": "star"}).status_code == 400


def test_the_sheet_can_show_only_what_was_marked(as_person, sam, make_frame):
    make_frame(sam, sent_name="a", own_mark="keep")
    make_frame(sam, sent_name="b")
    assert names(as_person(sam).get(LOG, {"mark": "keep"})) == [["a"]]


def test_queries_do_not_grow_with_the_frames(as_person, sam, make_frame):
    client = as_person(sam)
    counts = []
    for more in (2, 20):
        for _ in range(more):
            make_frame(sam, flags=["diffraction"])
        with CaptureQueriesContext(connection) as asked:
            client.get(LOG)
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_a_print_being_read_asks_again_and_a_settled_one_does_not(as_person, sam, make_frame):
    waiting = make_frame(sam, state=Frame.State.WAITING)
    ready = make_frame(sam)
    client = as_person(sam)
    ask = reverse("shootlog:on-the-sheet", args=[waiting.pk])
    assert f'data-again="{ask}"' in client.get(ask).text
    assert "data-again" not in client.get(reverse("shootlog:on-the-sheet", args=[ready.pk])).text


def test_an_empty_log_says_how_to_begin(as_person, sam):
    assert "Send the first ones" in as_person(sam).get(LOG).text


def test_what_a_file_has_lost_is_said_on_the_sheet_with_the_way_out(as_person, sam, make_frame):
    make_frame(sam, flags=["stripped-file", "shake"])
    page = as_person(sam).get("/log/").text
    assert "The shooting data is gone." in page
    assert page.count("#send-original") == 1  # what is no file trouble is not said here
    assert "send it again as a file or document" in page


def test_the_sheet_asks_the_same_of_the_database_for_more_frames(as_person, sam, make_frame):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    def count():
        client = as_person(sam)
        client.get("/log/")
        with CaptureQueriesContext(connection) as queries:
            client.get("/log/")
        return len(queries)

    make_frame(sam, flags=["stripped-file"])
    few = count()
    for _ in range(12):
        make_frame(sam, flags=["stripped-file"])
    assert count() == few


def test_one_empty_file_among_others_is_named_and_the_others_are_kept(as_person, sam):
    files = [SimpleUploadedFile("a.jpg", jpeg()), SimpleUploadedFile("broke-off.jpg", b"")]
    files.append(SimpleUploadedFile("c.jpg", jpeg()))
    page = as_person(sam).post("/log/send/", {"files": files}, follow=True).content.decode()
    assert "broke-off.jpg is empty (0 bytes)" in page
    assert sorted(map(str, Frame.objects.owned_by(sam))) == ["a.jpg", "c.jpg"]
