"""Out of one house and into another: everything, the same, or nothing.

What is compared is SHA-256 over every table and every file; hashlib and zipfile are Python's own.
"""

import hashlib
import json
import os
import subprocess
import sys
import zipfile

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from config import backup, cluster, inventory, rows
from shootlog import backup_notes, store
from shootlog.models import Frame
from tests.every_table import empty_tables, fill_empty_tables
from tests.house import BASE, environment
from tests.whole_house import furnish

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def house(course, group, sam, ines, settings, tmp_path):
    settings.SECRET_FILE = tmp_path / "secret-key"
    settings.SECRET_FILE.write_text("the secret of the house")
    made = furnish(course, group, sam, ines)
    fill_empty_tables()
    return made


@pytest.fixture
def archive(house, tmp_path):
    path = tmp_path / "house.zip"
    call_command("backup", str(path), verbosity=0)
    return path


def manage(*words, env):
    line = [sys.executable, str(BASE / "manage.py"), *map(str, words)]
    return subprocess.run(line, env=env, cwd=BASE, capture_output=True, text=True, timeout=300)


def head_of(path):
    with zipfile.ZipFile(path) as opened:
        return json.loads(opened.read("house.json"))


def changed(path, name, content):
    """The archive again, with one entry replaced."""
    other = path.with_name("changed.zip")
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(other, "w") as new:
        for entry in old.namelist():
            new.writestr(entry, content if entry == name else old.read(entry))
    return other


def test_every_table_there_is_has_a_row_to_carry(house):
    """A table added later is carried by every test here, or fails this one."""
    assert set(empty_tables()) <= {"auth.group"}  # Django's, which nothing here uses


def test_the_archive_holds_every_row_and_file_as_they_are(house, archive):
    read, _ = house
    assert head_of(archive)["tables"] == rows.fingerprints()
    assert os.stat(archive).st_mode & 0o077 == 0
    with zipfile.ZipFile(archive) as opened:
        for frame in Frame.objects.all():
            data = opened.read(f"files/{frame.original_key}")
            assert hashlib.sha256(data).hexdigest() == frame.sha256
        assert f"files/{read.shown_key}/thumb.jpg" in opened.namelist()
        assert opened.read("secret-key") == b"the secret of the house"
        assert opened.testzip() is None
    assert backup.last()["name"] == "house.zip"


@pytest.mark.slow
def test_a_restored_house_equals_the_first_by_checksum_and_verifies(archive, tmp_path):
    env = environment(tmp_path / "new")
    done = manage("restore", archive, env=env)
    assert done.returncode == 0, done.stderr
    assert manage("verify", env=env).stdout.endswith("2 frames, 4 files: 0 lost, 0 not needed.\n")
    assert (tmp_path / "new" / "secret-key").read_text() == "the secret of the house"
    again = tmp_path / "again.zip"
    assert manage("backup", again, env=env).returncode == 0
    assert head_of(again)["tables"] == head_of(archive)["tables"]
    with zipfile.ZipFile(archive) as one, zipfile.ZipFile(again) as two:
        names = [n for n in one.namelist() if n.startswith("files")]
        assert sorted(names) == sorted(n for n in two.namelist() if n.startswith("files"))
        assert all(one.read(n) == two.read(n) for n in names)
    full = manage("restore", archive, env=env)
    assert full.returncode == 1
    assert "database is not empty" in full.stderr


@pytest.mark.slow
def test_from_one_database_to_the_other_and_back_nothing_changes(archive, course, tmp_path):
    """SQLite to PostgreSQL to SQLite, or the other way round where the suite runs there."""
    try:
        with cluster.private_cluster() as url:
            before, path = head_of(archive), archive
            on_postgres = environment(tmp_path / "pg", WD_DATABASE_URL=url)
            for name, env in [("pg", on_postgres), ("lite", environment(tmp_path / "lite"))]:
                done = manage("restore", path, env=env)
                assert done.returncode == 0, done.stderr
                path = tmp_path / f"{name}.zip"
                done = manage("backup", path, env=env)
                assert done.returncode == 0, done.stderr
                assert head_of(path)["tables"] == before["tables"]
            assert head_of(tmp_path / "pg.zip")["from"] == "postgresql"
            # what waited to be read when the backup was made is handed to the engine there
            done = manage("work", "--once", env=on_postgres)
            assert done.returncode == 0, done.stderr
            ask = (
                "from shootlog.models import Job as J;"
                "print(*sorted(set(J.objects.values_list('state', flat=True))))"
            )
            states = manage("shell", "-v", "0", "-c", ask, env=on_postgres)
            assert states.stdout.split() == ["done"], states.stderr
            count_on = (
                "from course.models import Course as C; print(C.objects.create(title='x').pk)"
            )
            made = manage("shell", "-v", "0", "-c", count_on, env=on_postgres)
            assert int(made.stdout) == course.pk + 1, made.stderr
    except cluster.NoCluster as why:
        pytest.skip(str(why))


def test_it_is_put_back_into_an_empty_place_only(archive):
    with pytest.raises(CommandError, match="database is not empty .*--data another folder"):
        call_command("restore", str(archive))


def empty_the_database():
    call_command("flush", interactive=False, verbosity=0)


def test_a_store_that_holds_something_else_is_refused(archive):
    empty_the_database()
    store.make_folder(store.disk_path("originals/9/ab").parent)
    store.disk_path("originals/9/ab").write_bytes(b"somebody's")
    with pytest.raises(CommandError, match="originals/9/ab lies there"):
        call_command("restore", str(archive))
    assert not Frame.objects.exists()


def test_a_restore_that_broke_off_goes_on(archive, tmp_path):
    told = head_of(archive)["tables"]
    empty_the_database()
    store.store().delete(backup_notes.KEY)  # the rest of the files is there already
    call_command("restore", str(archive), verbosity=0)
    assert rows.fingerprints() == told


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (None, "is not there"),
        (b"", "no whole archive"),
        (b"PK\x03\x04 half of one", "no whole archive"),
    ],
)
def test_what_is_no_archive_is_refused_by_name(tmp_path, db, content, words):
    path = tmp_path / "thing.zip"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(CommandError, match=f"thing.zip .*{words}"):
        call_command("restore", str(path))


def test_a_damaged_file_or_row_stops_it_and_no_row_is_written(archive, house):
    key = f"files/{house[0].original_key}"
    empty_the_database()
    for name in inventory.files():
        store.store().delete(name)
    with pytest.raises(CommandError, match="in the archive is damaged"):
        call_command("restore", str(changed(archive, key, b"other bytes")))
    row = "rows/course.course.jsonl"
    with zipfile.ZipFile(archive) as opened:
        bent = opened.read(row).replace(b"Small worlds", b"Smell worlds")
    with pytest.raises(CommandError, match="course.course came back different"):
        call_command("restore", str(changed(archive, row, bent)))
    assert rows.first_with_rows() is None


def test_an_archive_of_a_newer_version_is_refused(archive):
    empty_the_database()
    head = head_of(archive)
    head["migrations"].append(["shootlog", "9999_from_the_future"])
    with pytest.raises(CommandError, match="newer version .*9999_from_the_future"):
        call_command("restore", str(changed(archive, "house.json", json.dumps(head))))


def test_a_backup_that_cannot_be_finished_leaves_the_old_one(archive, monkeypatch, tmp_path):
    before = archive.read_bytes()

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(CommandError, match="could not be written: No space left"):
        call_command("backup", str(archive))
    assert archive.read_bytes() == before
    assert [p.name for p in tmp_path.glob(".house.zip*")] == []


def test_a_frame_deleted_while_the_backup_ran_is_gone_from_it(house, tmp_path, monkeypatch):
    read, _ = house
    write_files = backup._write_files

    def delete_first(*words):
        store.store().delete(read.original_key)
        Frame.objects.filter(pk=read.pk).delete()
        return write_files(*words)

    monkeypatch.setattr(backup, "_write_files", delete_first)
    call_command("backup", str(tmp_path / "house.zip"), verbosity=0)
    assert head_of(tmp_path / "house.zip")["gone"] == [read.pk]
    empty_the_database()
    for name in inventory.files():
        store.store().delete(name)
    call_command("restore", str(tmp_path / "house.zip"), verbosity=0)
    assert not Frame.objects.filter(pk=read.pk).exists()
    assert Frame.objects.count() == 1


def test_what_is_lost_damaged_or_left_over_is_named(house, capsys):
    read, _ = house
    waiting = Frame.objects.exclude(pk=read.pk).get()
    store.disk_path(read.original_key).write_bytes(b"x" * read.size_bytes)
    store.store().delete(f"{read.shown_key}/thumb.jpg")
    store.store().delete(waiting.original_key)
    stray = store.disk_path("originals/77/ab/abc")
    stray.parent.mkdir(parents=True)
    stray.write_bytes(b"left")
    with pytest.raises(CommandError, match="sent again"):
        call_command("verify")
    said = capsys.readouterr().out
    assert f"frame {read.pk}, {read.original_key}): the original's bytes have changed" in said
    assert f"frame {read.pk}): no thumb.jpg" in said
    assert f"frame {waiting.pk}, {waiting.original_key}): the original is not there" in said
    assert "Not needed: originals/77/ab/abc" in said
    assert "3 lost, 1 not needed" in said


def test_a_backup_says_which_original_is_not_whole(house, tmp_path, capsys):
    read, _ = house
    store.disk_path(read.original_key).write_bytes(b"short")
    with pytest.raises(CommandError, match="originals named above are not whole"):
        call_command("backup", str(tmp_path / "house.zip"))
    assert read.original_key in capsys.readouterr().err
    assert backup.last()["whole"] is False


def test_dates_keep_every_digit(house):
    """JSON encoders like to drop microseconds; two databases would then differ."""
    for row in rows.lines_of(Frame):
        frame = Frame.objects.get(pk=row["id"])
        assert row["received_at"] == frame.received_at.isoformat()
    assert connection.vendor in {"sqlite", "postgresql"}
