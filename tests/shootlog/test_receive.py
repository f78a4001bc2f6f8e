"""Files coming in: whole or not at all, recognised, limited, refused in words."""

import errno
import hashlib
import io
import os
import threading
from pathlib import Path

import pytest
from django.db import connection
from PIL import Image

from shootlog import store
from shootlog.intake import receive as module
from shootlog.intake.receive import NoRoom, NotAPicture, Refused, TooLarge, plain_name, receive
from shootlog.models import Frame, Job, KeptSetUp

pytestmark = pytest.mark.django_db


@pytest.fixture
def jpeg():
    out = io.BytesIO()
    Image.new("RGB", (32, 24), (90, 120, 60)).save(out, "JPEG")
    return out.getvalue()


def left_behind(settings):
    folders = (Path(settings.ARRIVING), Path(settings.MEDIA_ROOT))
    return [p for folder in folders if folder.exists() for p in folder.rglob("*") if p.is_file()]


def test_a_file_is_kept_byte_for_byte_and_its_reading_asked_for(sam, jpeg, settings):
    frame, created = receive(io.BytesIO(jpeg), owner=sam, name="DSC_0001.JPG", note="petal")
    assert created
    assert (frame.sent_name, frame.file_type, frame.size_bytes) == (
        "DSC_0001.JPG",
        "JPEG",
        len(jpeg),
    )
    assert frame.sha256 == hashlib.sha256(jpeg).hexdigest()
    assert (frame.state, frame.note) == (Frame.State.WAITING, "petal")
    with store.on_disk(frame.original_key) as path:
        assert path.read_bytes() == jpeg
        assert os.stat(path).st_mode & 0o077 == 0  # nobody else on this machine reads it
    assert [job.args for job in Job.objects.all()] == [[frame.pk]]
    assert left_behind(settings) == [store.disk_path(frame.original_key)]


def test_the_same_bytes_again_are_the_same_frame(sam, jpeg):
    first, _ = receive(io.BytesIO(jpeg), owner=sam, name="a.jpg", note="first")
    again, created = receive(io.BytesIO(jpeg), owner=sam, name="b.jpg", note="second")
    assert (again.pk, created) == (first.pk, False)
    assert (again.sent_name, again.note) == ("a.jpg", "first")
    assert Job.objects.count() == 1


def test_the_same_bytes_of_another_person_are_another_frame(sam, noor, jpeg):
    mine, _ = receive(io.BytesIO(jpeg), owner=sam, name="a.jpg")
    theirs, created = receive(io.BytesIO(jpeg), owner=noor, name="a.jpg")
    assert created
    assert mine.original_key != theirs.original_key


def test_a_lost_original_comes_back_with_the_same_bytes(sam, jpeg):
    frame, _ = receive(io.BytesIO(jpeg), owner=sam, name="a.jpg")
    store.disk_path(frame.original_key).unlink()
    receive(io.BytesIO(jpeg), owner=sam, name="a.jpg")
    assert store.holds(frame.original_key)


def test_the_name_says_nothing_about_the_kind(sam, jpeg):
    frame, _ = receive(io.BytesIO(jpeg), owner=sam, name="holiday.txt")
    assert frame.file_type == "JPEG"


@pytest.mark.parametrize(
    ("content", "refusal", "word"),
    [
        (b"", Refused, "empty"),
        (b"%PDF-1.7 not a picture", NotAPicture, "no picture|not a picture"),
        (b"<svg onload='alert(1)'/>", NotAPicture, "not a picture"),
        (b"\x00\x00\x00\x18ftypmp42" + b"\x00" * 64, NotAPicture, "not a picture"),
    ],
)
def test_what_is_no_picture_is_refused_in_words_and_leaves_nothing(
    sam, settings, content, refusal, word
):
    with pytest.raises(refusal, match=word) as told:
        receive(io.BytesIO(content), owner=sam, name="thing.jpg")
    assert "thing.jpg" in str(told.value)
    assert "Send" in str(told.value)
    assert Frame.objects.count() == Job.objects.count() == 0
    assert left_behind(settings) == []


def test_a_file_over_the_limit_is_refused_while_it_comes(sam, jpeg, settings):
    settings.LARGEST_FILE_BYTES = 3 << 20

    class Endless(io.RawIOBase):
        given = 0

        def read(self, count=-1):
            self.given += count
            assert self.given < 8 << 20, "it should have stopped long ago"
            return jpeg[:2] * (count // 2)

    with pytest.raises(TooLarge, match="larger than 3 MB"):
        receive(Endless(), owner=sam, name="pano.tif")
    assert left_behind(settings) == []


@pytest.mark.parametrize("where", ["fsync", "replace"])
def test_a_full_disk_gets_a_clear_word_and_nothing_is_half_written(
    sam, jpeg, settings, monkeypatch, where
):
    def full(*args, **kwargs):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, where, full)
    with pytest.raises(NoRoom, match="disk of this log is full"):
        receive(io.BytesIO(jpeg), owner=sam, name="a.jpg")
    monkeypatch.undo()
    assert Frame.objects.count() == Job.objects.count() == 0
    assert left_behind(settings) == []


def test_a_disk_that_is_nearly_full_takes_nothing_so_that_the_database_can_write(
    sam, jpeg, settings
):
    settings.KEPT_FREE_BYTES = 1 << 60
    with pytest.raises(NoRoom):
        receive(io.BytesIO(jpeg), owner=sam, name="a.jpg")
    assert left_behind(settings) == []


def test_a_stream_that_breaks_off_leaves_nothing(sam, jpeg, settings):
    class Broken(io.RawIOBase):
        calls = 0

        def read(self, count=-1):
            self.calls += 1
            if self.calls > 1:
                raise ConnectionResetError
            return jpeg

    with pytest.raises(ConnectionResetError):
        receive(Broken(), owner=sam, name="a.jpg")
    assert Frame.objects.count() == 0
    assert left_behind(settings) == []


def test_no_row_without_the_bytes_safe_on_disk(sam, jpeg, monkeypatch):
    """The order of the steps is the promise: file, folder, then the row."""
    steps = []
    monkeypatch.setattr(store, "settle_file", lambda path: steps.append("file"))
    monkeypatch.setattr(store, "settle_folder", lambda path: steps.append("folder"))
    row = module._row
    monkeypatch.setattr(module, "_row", lambda frame: steps.append("row") or row(frame))
    receive(io.BytesIO(jpeg), owner=sam, name="a.jpg")
    assert steps.index("file") < len(steps) - 2
    assert steps[-2:] == ["folder", "row"]


def test_bytes_that_a_killed_hand_in_left_are_settled_before_the_row(sam, jpeg, monkeypatch):
    """It may have been killed after the rename and before its folder was on the disk."""
    sha256 = hashlib.sha256(jpeg).hexdigest()
    left = store.disk_path(Frame(owner=sam, sha256=sha256).original_key)
    store.make_folder(left.parent)
    left.write_bytes(jpeg)
    steps = []
    monkeypatch.setattr(store, "settle_folder", lambda path: steps.append(path))
    row = module._row
    monkeypatch.setattr(module, "_row", lambda frame: steps.append("row") or row(frame))
    receive(io.BytesIO(jpeg), owner=sam, name="a.jpg")
    assert steps[-2:] == [left.parent, "row"]


@pytest.mark.django_db(transaction=True)
def test_the_same_bytes_twice_at_the_same_moment_are_one_frame(sam, jpeg):
    together = threading.Barrier(4)
    answers = []

    def send():
        together.wait()
        try:
            answers.append(receive(io.BytesIO(jpeg), owner=sam, name="a.jpg"))
        finally:
            connection.close()

    senders = [threading.Thread(target=send) for _ in range(4)]
    for sender in senders:
        sender.start()
    for sender in senders:
        sender.join()
    assert len({frame.pk for frame, _ in answers}) == 1
    assert sum(created for _, created in answers) == 1
    assert Frame.objects.count() == Job.objects.count() == 1


def test_a_set_up_comes_along_and_moves_up(sam, noor, jpeg):
    set_up = KeptSetUp.objects.create(owner=sam, name="tubes")
    before = set_up.last_used_at
    frame, _ = receive(io.BytesIO(jpeg), owner=sam, name="a.jpg", set_up=set_up)
    set_up.refresh_from_db()
    assert frame.set_up == set_up
    assert set_up.last_used_at > before
    with pytest.raises(ValueError, match="someone else"):
        receive(io.BytesIO(jpeg), owner=noor, name="a.jpg", set_up=set_up)


@pytest.mark.parametrize(
    ("sent", "kept"),
    [
        ("../../etc/passwd", "passwd"),
        ("C:\\Users\\sam\\DSC_1.NEF", "DSC_1.NEF"),
        ("a\x00b\n.jpg", "ab.jpg"),
        ("..", "unnamed file"),
        ("", "unnamed file"),
        (None, "unnamed file"),
        ("x" * 400 + ".jpeg", "x" * 115 + ".jpeg"),
        ("Blüte 1.jpg", "Blüte 1.jpg"),
    ],
)
def test_names_are_for_people_and_never_paths(sent, kept):
    assert plain_name(sent) == kept
