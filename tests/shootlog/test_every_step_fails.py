"""Fail the n-th operation of a hand-in, for every n: nothing half written, a clear word.

The method is that of SQLite's own I/O-error and out-of-memory tests (sqlite.org/testing.html,
section 3, from memory): run with the first operation failing, then the second, and so on until a
run goes through untouched. Operations here are every file call of the way in and every statement
sent to the database.
"""

import errno
import hashlib
import io
import itertools
import os
import shutil
from pathlib import Path

import pytest
from django.db import connection
from django.db.utils import DatabaseError, OperationalError

from config import inventory
from shootlog import store
from shootlog.intake.receive import NoRoom, receive
from shootlog.models import Frame, Job, Upload
from tests.frames import jpeg

pytestmark = pytest.mark.django_db(transaction=True)
MORE_THAN_ENOUGH = 200


class Countdown:
    """Lets n - 1 operations pass and fails the n-th, once."""

    def __init__(self, n, trouble):
        self.left, self.trouble, self.failed_at = n, trouble, None

    def step(self, name, trouble=None):
        self.left -= 1
        if self.left == 0:
            self.failed_at = name
            raise trouble or self.trouble

    def before(self, call, name):
        def counted(*args, **kwargs):
            self.step(name)
            return call(*args, **kwargs)

        return counted


FILE_CALLS = [
    (os, "fsync"),
    (os, "replace"),
    (os, "chmod"),
    (os, "open"),
    (shutil, "disk_usage"),
    (Path, "mkdir"),
    (Path, "open"),
    (Path, "stat"),
]


class CountedFile:
    """An open file whose every write may fail."""

    def __init__(self, file, counter):
        self.file, self.counter = file, counter

    def write(self, piece):
        self.counter.step("write")
        return self.file.write(piece)

    def __getattr__(self, name):
        return getattr(self.file, name)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.file.close()


def failing_files(monkeypatch, n, number):
    counter = Countdown(n, OSError(number, os.strerror(number)))
    for home, name in FILE_CALLS:
        monkeypatch.setattr(home, name, counter.before(getattr(home, name), name))
    opened = Path.open

    def open_counted(path, mode="r", *args, **kwargs):
        file = opened(path, mode, *args, **kwargs)
        return CountedFile(file, counter) if set(mode) & set("xaw") else file

    monkeypatch.setattr(Path, "open", open_counted)
    return counter


class FailingStatements:
    """A wrapper around every statement; the n-th fails as a lost or full database would."""

    def __init__(self, counter):
        self.counter = counter

    def __call__(self, execute, sql, params, many, context):
        self.counter.step(sql[:40], OperationalError("disk I/O error"))
        return execute(sql, params, many, context)


def the_house_is_whole(data=None):
    """No row without its bytes, no job without its row, nothing half written anywhere.

    A whole original whose row failed may lie in the store: the same bytes sent again find it.
    """
    found = inventory.look_through()
    assert found.lost == []
    assert Frame.objects.count() == Job.objects.count()
    for key in found.strays:
        with store.store().open(key) as file:
            assert hashlib.sha256(file.read()).hexdigest() == key.rpartition("/")[2]
    for path in Path(store.disk_path("x")).parent.rglob("*"):
        assert not path.name.startswith("."), path  # a copy from another disk that broke off


def arriving(settings):
    folder = Path(settings.ARRIVING)
    return [p for p in folder.rglob("*") if p.is_file()] if folder.exists() else []


@pytest.mark.parametrize("number", [errno.EIO, errno.ENOSPC])
def test_every_file_operation_fails_once(sam, settings, number):
    for n in itertools.count(1):
        assert n < MORE_THAN_ENOUGH
        data = jpeg()
        frames = Frame.objects.count()
        with pytest.MonkeyPatch.context() as patch:
            counter = failing_files(patch, n, number)
            try:
                receive(io.BytesIO(data), owner=sam, name="a.jpg")
                took, told = True, None
            except (OSError, NoRoom) as trouble:
                took, told = False, trouble
        assert took or counter.failed_at, n
        if number == errno.ENOSPC and not took:
            assert isinstance(told, NoRoom), counter.failed_at
            assert "disk of this log is full" in str(told)
        assert Frame.objects.count() == frames + took
        assert arriving(settings) == []
        the_house_is_whole()
        frame, _ = receive(io.BytesIO(data), owner=sam, name="a.jpg")  # sent again it arrives
        assert frame.sha256 == hashlib.sha256(data).hexdigest()
        the_house_is_whole()
        if counter.failed_at is None:
            break
    assert n > 6  # it did fail somewhere: write, sync, rename, folder


def test_every_statement_to_the_database_fails_once(sam, settings):
    for n in itertools.count(1):
        assert n < MORE_THAN_ENOUGH
        data = jpeg()
        frames = Frame.objects.count()
        counter = Countdown(n, None)
        try:
            with connection.execute_wrapper(FailingStatements(counter)):
                receive(io.BytesIO(data), owner=sam, name="a.jpg")
        except DatabaseError:
            assert Frame.objects.count() == frames
        assert arriving(settings) == []
        the_house_is_whole()
        receive(io.BytesIO(data), owner=sam, name="a.jpg")
        assert Frame.objects.count() == frames + 1
        the_house_is_whole()
        if counter.failed_at is None:
            break
    assert n > 3


def send_in_pieces(client, data):
    """What the page's client does: create, two pieces, and again from where it broke off."""
    head = {"HTTP_TUS_RESUMABLE": "1.0.0"}
    where = client.post(
        "/log/upload/", HTTP_UPLOAD_LENGTH=str(len(data)), content_type="text/plain", **head
    )
    if where.status_code != 201:
        return where
    half = len(data) // 2
    for at, piece in ((0, data[:half]), (half, data[half:])):
        answer = client.patch(
            where["Location"],
            piece,
            content_type="application/offset+octet-stream",
            HTTP_UPLOAD_OFFSET=str(at),
            **head,
        )
        if answer.status_code != 204:
            return answer
    return answer


def finish(client, data):
    """Resume what is half sent, as the client does after a trouble."""
    head = {"HTTP_TUS_RESUMABLE": "1.0.0"}
    for row in Upload.objects.filter(frame=None, length=len(data)):
        url = f"/log/upload/{row.pk}/"
        offset = client.head(url, **head)["Upload-Offset"]
        client.patch(
            url,
            data[int(offset) :],
            content_type="application/offset+octet-stream",
            HTTP_UPLOAD_OFFSET=offset,
            **head,
        )


def test_every_step_of_an_upload_in_pieces_fails_and_it_is_finished_afterwards(sam, as_person):
    client = as_person(sam)
    client.raise_request_exception = False  # an answer 500, as the phone gets it
    acknowledged = set()
    for n in itertools.count(1):
        assert n < MORE_THAN_ENOUGH
        data = jpeg()
        with pytest.MonkeyPatch.context() as patch:
            counter = failing_files(patch, n, errno.EIO)
            with connection.execute_wrapper(FailingStatements(counter)):  # one count for both
                answer = send_in_pieces(client, data)
        if answer.status_code == 204:
            acknowledged.add(hashlib.sha256(data).hexdigest())
        finish(client, data)
        the_house_is_whole()
        assert acknowledged <= set(Frame.objects.values_list("sha256", flat=True))
        if counter.failed_at is None:
            break
    assert n > 10
