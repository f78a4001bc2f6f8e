"""A disk that really is full: a small file system of its own, with less and less room left.

For every amount of room, page by page from none at all, a file is handed in, read, or a row
written. What is refused is refused in words that name the file and the way out; what was taken
is there byte for byte; and with room again the same file arrives.
"""

import hashlib
import io
import itertools
import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.db import DatabaseError, connection

from config import inventory
from shootlog import store
from shootlog.full_disk import is_full
from shootlog.intake.receive import NoRoom, receive
from shootlog.jobs import read_frame
from shootlog.models import Frame, Job
from tests.frames import jpeg
from tests.house import BASE, environment

PAGE = 4096


@pytest.fixture
def small_disk(tmp_path):
    """Give a function that makes a file system of this size and returns its folder."""
    mounted = []

    def make(size_kb):
        place = tmp_path / f"small-{len(mounted)}"
        place.mkdir()
        line = ["mount", "-t", "tmpfs", "-o", f"size={size_kb}k", "tmpfs", str(place)]
        try:
            done = subprocess.run(line, capture_output=True, text=True)
        except FileNotFoundError:
            pytest.skip("there is no mount here")
        if done.returncode:
            pytest.skip(f"no file system may be mounted here: {done.stderr.strip()}")
        mounted.append(place)
        return place

    yield make
    for place in mounted:
        subprocess.run(["umount", "-l", str(place)], check=True)


def leave_room(folder, pages):
    """Fill the disk but for so many pages; gives the file that fills it."""
    filler = folder / "filler"
    filler.unlink(missing_ok=True)
    free = os.statvfs(folder).f_bavail * PAGE
    filler.write_bytes(bytes(max(0, free - pages * PAGE)))
    return filler


def refusal(data, owner):
    """What is said when there is no room; None where the file was taken."""
    try:
        receive(io.BytesIO(data), owner=owner, name="DSC_0042.JPG")
    except NoRoom as words:
        return str(words)
    return None


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("full", ["arriving", "store", "both"])
def test_whatever_room_is_left_a_file_is_taken_whole_or_refused_in_words(
    small_disk, sam, settings, full
):
    disk = small_disk(1024)
    settings.KEPT_FREE_BYTES = 0  # or nothing would ever come so far
    if full in ("arriving", "both"):
        settings.ARRIVING = disk / "arriving"
    if full in ("store", "both"):
        default = settings.STORAGES["default"]
        default = default | {"OPTIONS": default["OPTIONS"] | {"location": disk / "files"}}
        settings.STORAGES = settings.STORAGES | {"default": default}
    refused = took = 0
    for pages in itertools.count():
        filler = leave_room(disk, pages)
        data = jpeg(900, 600, grey=pages) + os.urandom(40_000)
        words = refusal(data, sam)
        if words is None:
            took += 1
        else:
            refused += 1
            assert "DSC_0042.JPG was not taken: the disk of this log is full" in words
            assert "make room; then send the file again" in words
            assert not Frame.objects.exists()
        assert [p for p in Path(settings.ARRIVING).rglob("*") if p.is_file()] == []
        assert inventory.look_through().lost == []
        filler.unlink()
        frame, _ = receive(io.BytesIO(data), owner=sam, name="DSC_0042.JPG")
        with store.on_disk(frame.original_key) as path:
            assert hashlib.sha256(path.read_bytes()).digest() == hashlib.sha256(data).digest()
        Frame.objects.filter(pk=frame.pk).delete()
        store.remove(frame.original_key)
        if took == 3:
            break
        assert pages < 60
    assert refused > 8


@pytest.mark.django_db(transaction=True)
def test_a_frame_that_found_no_room_to_be_read_waits_and_is_read_later(
    small_disk, sam, settings, as_person, work
):
    """Never 'cannot be decoded': the file is not to blame."""
    frame, _ = receive(io.BytesIO(jpeg(1800, 1200) + os.urandom(9)), owner=sam, name="a.jpg")
    disk = small_disk(256)
    arriving = settings.ARRIVING
    settings.ARRIVING = disk / "arriving"
    waited = 0
    for pages in itertools.count():
        filler = leave_room(disk, pages)
        Job.objects.all().delete()
        read_frame.func(frame.pk)
        filler.unlink()
        frame.refresh_from_db()
        if frame.state == Frame.State.READY:
            break
        waited += 1
        assert frame.state == Frame.State.WAITING
        assert "disk of this log is full" in frame.trouble
        (job,) = Job.objects.all()
        assert job.run_after > frame.received_at
        assert job.troubles == []
        assert pages < 256  # the whole disk
    assert waited > 2
    assert frame.trouble == ""
    settings.ARRIVING = arriving
    assert as_person(sam).get(f"/log/{frame.pk}/screen.jpg").status_code == 200


#: Run in a process of its own, whose tables lie on the small disk and whose files do not.
FILL_THE_DATABASE = """
import hashlib, io, itertools, os, sys
from pathlib import Path
from django.conf import settings
from django.contrib.auth import get_user_model
from django.core.management import call_command
from django.db import connection
from django.test import Client
from config import inventory
from shootlog.intake.receive import NoRoom, receive
from shootlog.models import Frame, Job
from tests.frames import jpeg
from tests.test_full_disk import leave_room
call_command('migrate', verbosity=0)
settings.KEPT_FREE_BYTES = 0
sam = get_user_model().objects.create_user('sam', password='sam')
disk, promised, refused, took = Path(DISK), [], 0, 0
connection.close()
filler = leave_room(disk, 0)
client = Client(raise_request_exception=False)
page = client.post('/sign-in/', {'username': 'sam', 'password': 'sam'}, HTTP_HOST='localhost')
filler.unlink()
for pages in range(80):
    connection.close()  # its files beside the database shrink, and have to grow again
    filler = leave_room(disk, pages)
    data = jpeg()
    try:
        frame, _ = receive(io.BytesIO(data), owner=sam, name='a.jpg')
        took += 1
        promised.append(hashlib.sha256(data).hexdigest())
    except NoRoom as words:
        refused += 1
        assert 'a.jpg was not taken: the disk of this log is full' in str(words)
    connection.close()
    filler.unlink()
    assert Frame.objects.count() == Job.objects.count() == len(promised)
    assert set(Frame.objects.values_list('sha256', flat=True)) == set(promised)
    assert inventory.look_through().lost == []
    with connection.cursor() as cursor:
        assert cursor.execute('PRAGMA integrity_check').fetchone() == ('ok',)
    if took >= 3:
        break
print('REFUSED', refused, 'TOOK', took, 'PAGE', page.status_code, page.content.decode())
"""


@pytest.mark.slow
def test_a_database_without_room_refuses_in_words_and_keeps_what_it_has(small_disk, tmp_path):
    disk = small_disk(6000)
    env = environment(tmp_path / "data", WD_DATABASE_URL=f"sqlite://{disk}/house.sqlite3")
    line = [sys.executable, "manage.py", "shell", "-v", "0", "-c"]
    code = FILL_THE_DATABASE.replace("DISK", repr(str(disk)))
    done = subprocess.run(
        [*line, code], env=env, cwd=BASE, capture_output=True, text=True, timeout=300
    )
    assert done.returncode == 0, done.stderr
    assert "TOOK 3 PAGE 507" in done.stdout
    assert int(done.stdout.split()[1]) > 3
    assert "The disk of this house is full" in done.stdout


@pytest.mark.django_db
def test_a_fault_that_is_no_full_disk_is_not_called_one():
    with pytest.raises(DatabaseError) as trouble, connection.cursor() as cursor:
        cursor.execute("SELECT * FROM there_is_no_such_table")
    assert not is_full(trouble.value)
    assert not is_full(OSError("encoder error -2"))
    assert is_full(OSError(28, "No space left on device"))
