"""The store: on disk and elsewhere, the same words."""

import os

import pytest
from django.core.files.storage import storages

from shootlog import store


@pytest.fixture(params=["disk", "elsewhere", "s3"])
def any_store(request, settings):
    """The disk, a store without paths, and one that speaks S3 over the network."""
    if request.param == "elsewhere":
        settings.STORAGES = settings.STORAGES | {
            "default": {"BACKEND": "django.core.files.storage.InMemoryStorage"}
        }
    if request.param == "s3":
        request.getfixturevalue("on_s3")
    assert (store.disk_path("x") is None) == (request.param != "disk")
    return storages["default"]


def made(tmp_path, content):
    path = tmp_path / "made"
    path.write_bytes(content)
    return path


def test_what_is_kept_is_there_and_the_source_is_gone(any_store, tmp_path):
    source = made(tmp_path, b"one")
    store.keep(source, "shown/1/2/thumb.jpg")
    assert not source.exists()
    assert store.holds("shown/1/2/thumb.jpg")
    with store.on_disk("shown/1/2/thumb.jpg") as path:
        assert path.read_bytes() == b"one"


def test_keeping_again_replaces(any_store, tmp_path):
    store.keep(made(tmp_path, b"one"), "shown/1/2/thumb.jpg")
    store.keep(made(tmp_path, b"two"), "shown/1/2/thumb.jpg")
    with store.on_disk("shown/1/2/thumb.jpg") as path:
        assert path.read_bytes() == b"two"
    folders, files = any_store.listdir("shown/1/2")
    assert (folders, files) == ([], ["thumb.jpg"])


def test_a_missing_key_is_a_missing_file(any_store):
    with pytest.raises(FileNotFoundError), store.on_disk("originals/1/ab/abc") as path:
        path.read_bytes()


def test_a_private_folder_is_gone_afterwards_even_after_a_trouble(settings):
    def break_off():
        with store.arriving_folder() as folder:
            seen.append(folder)
            (folder / "half").write_bytes(b"h")
            assert os.stat(folder).st_mode & 0o077 == 0
            raise RuntimeError

    seen = []
    with pytest.raises(RuntimeError):
        break_off()
    assert not seen[0].exists()


def test_a_file_from_another_disk_is_brought_over_before_it_takes_its_place(tmp_path, monkeypatch):
    source = made(tmp_path, b"one")
    monkeypatch.setattr(store, "same_disk", lambda one, other: False)
    store.keep(source, "shown/9/9/thumb.jpg")
    target = store.disk_path("shown/9/9/thumb.jpg")
    assert target.read_bytes() == b"one"
    assert [p.name for p in target.parent.iterdir()] == ["thumb.jpg"]
    assert not source.exists()


def test_what_killed_processes_left_is_swept_after_a_day_and_nothing_else(tmp_path, settings):
    arriving = tmp_path / "arriving"
    (arriving / "reading-old").mkdir(parents=True)
    (arriving / "reading-old" / "thumb.jpg").write_bytes(b"t")
    for name in ("receiving-old", "receiving-new", "an-upload-in-pieces"):
        (arriving / name).write_bytes(b"x")
    for name in ("reading-old", "receiving-old", "an-upload-in-pieces"):
        os.utime(arriving / name, (1, 1))
    with store.arriving_folder():
        left = {p.name for p in arriving.iterdir() if not p.name.startswith("reading-")}
    assert left == {"receiving-new", "an-upload-in-pieces"}
    assert [p.name for p in arriving.iterdir() if p.name.startswith("reading-")] == []
