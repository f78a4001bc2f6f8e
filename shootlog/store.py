"""Where files lie: one store, on this machine's disk or anywhere Django's storages reach.

On disk a file is moved into place and stands there only when it is whole and safe from a power
cut; elsewhere the store itself promises that.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.core.files import File
from django.core.files.storage import FileSystemStorage, Storage, storages
from django.utils.http import content_disposition_header

READING, RECEIVING = "reading-", "receiving-"  # beginnings of what stands here for moments
LEFT_BEHIND_S = 24 * 3600


class Away(Exception):  # noqa: N818 - it will be back
    """The store on another machine does not answer, or not as it should. Nothing is lost by it."""


def store() -> Storage:
    return storages["default"]


@contextmanager
def _elsewhere() -> Iterator[None]:
    """Say of a store on another machine that it is away, whatever its own word for it is."""
    try:
        yield
    except (ConnectionError, TimeoutError) as why:
        raise Away(f"the store does not answer: {why}") from why
    except OSError:  # not there, or this machine's own disk is full
        raise
    except Exception as why:
        raise Away(f"the store does not answer: {why}") from why


def holds(key: str) -> bool:
    with _elsewhere():
        return store().exists(key)


def keep(source: Path, key: str) -> None:
    """Move a whole file into the store under this key, in place of what lay there."""
    target = disk_path(key)
    if target is None:
        with source.open("rb") as file, _elsewhere():
            # An object store puts the new in place of the old in one step; others need room first.
            if not getattr(store(), "file_overwrite", False) and store().exists(key):
                store().delete(key)
            store().save(key, File(file))
        source.unlink()
        return
    make_folder(target.parent)
    if not same_disk(source, target.parent):
        source = _beside(source, target)
    settle_file(source)
    os.chmod(source, 0o600)
    os.replace(source, target)
    settle_folder(target.parent)


def remove(key: str) -> None:
    """Take one file out of the store; one that is not there is gone already."""
    with contextlib.suppress(FileNotFoundError), _elsewhere():
        store().delete(key)


def remove_folder(key: str) -> None:
    """Take everything under this key out of the store, whatever it is."""
    target = disk_path(key)
    if target is not None:
        shutil.rmtree(target, ignore_errors=True)
        return
    for name in list(keys_under(key)):
        remove(name)


def keys_under(key: str) -> Iterator[str]:
    """Name every file under this key, deepest folders last."""
    try:
        with _elsewhere():
            folders, files = store().listdir(key)
    except FileNotFoundError:
        return
    yield from (f"{key}/{name}" for name in files)
    for folder in folders:
        yield from keys_under(f"{key}/{folder}")


def settle(key: str) -> None:
    """Make sure of a file that is there already: whoever put it there may have been killed between
    giving it its name and settling the folder.
    """
    path = disk_path(key)
    if path is not None:
        settle_file(path)
        settle_folder(path.parent)


def same_disk(one: Path, other: Path) -> bool:
    return os.stat(one).st_dev == os.stat(other).st_dev


def _beside(source: Path, target: Path) -> Path:
    """Bring a file to the target's own disk, so that the last step is one rename."""
    copy = target.with_name(f".{target.name}.{os.getpid()}")
    try:
        shutil.copyfile(source, copy)
    except BaseException:
        copy.unlink(missing_ok=True)
        raise
    source.unlink()
    return copy


def link(key: str, name: str) -> str | None:
    """Return a signed link that gives this one file as a download for a minute.

    None where people's browsers do not reach the store: the pages then hand the file out.
    """
    if "links" not in settings.STORAGES:
        return None
    asks = {
        "ResponseContentType": "application/octet-stream",
        "ResponseContentDisposition": content_disposition_header(True, name),
        "ResponseCacheControl": "private, no-store",
    }
    return storages["links"].url(key, parameters=asks)  # type: ignore[call-arg]  # an S3 store


@contextmanager
def on_disk(key: str) -> Iterator[Path]:
    """Give a path to the file: its own place, or a copy for as long as the block runs."""
    path = disk_path(key)
    if path is not None:
        yield path
        return
    with arriving_folder() as folder:
        copy = folder / "original"
        with _elsewhere(), store().open(key, "rb") as source, copy.open("wb") as target:
            shutil.copyfileobj(source, target)
        yield copy


@contextmanager
def arriving_folder() -> Iterator[Path]:
    """Give a private folder beside the store; gone afterwards, whatever happened."""
    arriving = Path(settings.ARRIVING)
    arriving.mkdir(mode=0o700, parents=True, exist_ok=True)
    sweep_leftovers(arriving)
    with tempfile.TemporaryDirectory(dir=arriving, prefix=READING) as folder:
        yield Path(folder)


def sweep_leftovers(arriving: Path) -> None:
    """Remove what processes that were killed left behind; nothing of ours takes a day."""
    old = time.time() - LEFT_BEHIND_S
    for prefix in (READING, RECEIVING):
        for left in arriving.glob(f"{prefix}*"):
            with contextlib.suppress(OSError):  # another process was quicker
                if left.stat().st_mtime > old:
                    continue
                shutil.rmtree(left) if left.is_dir() else left.unlink()


def disk_path(key: str) -> Path | None:
    """Return where the key lies on this machine; None where the store is elsewhere."""
    here = store()
    return Path(here.path(key)) if isinstance(here, FileSystemStorage) else None


def make_folder(folder: Path) -> None:
    """Make a folder, and make sure that its parents remember it after a power cut."""
    missing = [f for f in (folder, *folder.parents) if not f.exists()]
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    for made in missing:
        settle_folder(made.parent)


def settle_file(path: Path) -> None:
    with path.open("rb") as file:
        os.fsync(file.fileno())


def settle_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
