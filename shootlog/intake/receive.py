"""One way in for files, whoever brings them: a form, an upload in pieces, the API, a command.

A frame's row says "here" only when its bytes are whole, hashed and safe on disk. What is refused
is refused in words and leaves nothing behind.
"""

from __future__ import annotations

import hashlib
import logging
import os
import shutil
import uuid
from pathlib import Path, PurePosixPath
from typing import BinaryIO

from django.conf import settings
from django.db import DatabaseError, transaction

from shootlog import store
from shootlog.full_disk import is_full
from shootlog.intake.scan import NotAsked, Suspicious, scan
from shootlog.intake.sniff import ACCEPTED_WORDS, HEAD_BYTES, sniff
from shootlog.models import Frame

PIECE_BYTES = 1 << 20
LONGEST_NAME = 120
log = logging.getLogger(__name__)


class Refused(Exception):
    """A file is not taken; the words name it and the way out. ``status`` suits an HTTP answer."""

    status = 400


class TooLarge(Refused):
    status = 413


class NotAPicture(Refused):
    status = 415


class NoRoom(Refused):
    status = 507


class TooMany(Refused):
    status = 413


class NotChecked(Refused):
    status = 503


class StoreAway(Refused):
    status = 503  # the one refusal after which the same bytes are right


def receive(stream: BinaryIO, *, owner, name, set_up=None, note="") -> tuple[Frame, bool]:
    """Take one file in. Return the frame, and whether it is new: the same bytes are known again."""
    if set_up is not None and set_up.owner_id != owner.pk:
        raise ValueError("the set-up belongs to someone else")
    name = plain_name(name)
    arriving = Path(settings.ARRIVING) / f"{store.RECEIVING}{uuid.uuid4()}"
    try:
        sha256, size, head = _write(stream, arriving, name)
        kind = sniff(head)
        if kind is None:
            raise NotAPicture(
                f"{name} is not a picture file this log can read: what is inside it is of no "
                f"known kind. Send {ACCEPTED_WORDS}, as it left the camera."
            )
        _still_room_for(owner, name, sha256)
        _ask_scanner(arriving, name)
        frame = Frame(
            owner=owner,
            sha256=sha256,
            size_bytes=size,
            sent_name=name,
            file_type=kind,
            set_up=set_up,
            note=note or "",
        )
        if store.holds(frame.original_key):
            store.settle(frame.original_key)
        else:
            store.keep(arriving, frame.original_key)
        row, created = _row(frame)
        if not store.holds(row.original_key):
            _keep_again(arriving, row, created)
        return row, created
    except store.Away as trouble:
        raise StoreAway(
            f"{name} was not taken: where this log keeps its files does not answer just now. "
            "Nothing you sent before is touched. Send it again in a few minutes."
        ) from trouble
    except Refused as words:
        log.warning("a file was not taken (%s) by=%s", type(words).__name__, owner.pk)
        raise
    except (OSError, DatabaseError) as trouble:
        if is_full(trouble):
            raise NoRoom(no_room_words(name)) from trouble
        raise
    finally:
        arriving.unlink(missing_ok=True)


def _write(stream: BinaryIO, path: Path, name: str) -> tuple[str, int, bytes]:
    """Write the stream down, hashing as it goes. Return hash, size and first bytes."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    if shutil.disk_usage(path.parent).free < settings.KEPT_FREE_BYTES:
        raise NoRoom(no_room_words(name))
    digest, size, head = hashlib.sha256(), 0, b""
    with path.open("xb") as file:
        while piece := stream.read(PIECE_BYTES):
            size += len(piece)
            if size > settings.LARGEST_FILE_BYTES:
                most = settings.LARGEST_FILE_BYTES // (1 << 20)
                raise TooLarge(
                    f"{name} is larger than {most} MB, the most this log takes. "
                    "Send the camera's own file, not a panorama or a layered copy of it."
                )
            if len(head) < HEAD_BYTES:
                head += piece[: HEAD_BYTES - len(head)]
            digest.update(piece)
            file.write(piece)
        file.flush()
        os.fsync(file.fileno())
    if not size:
        raise Refused(
            f"{name} is empty (0 bytes): the copy broke off. Send the file again from the card."
        )
    return digest.hexdigest(), size, head


def _ask_scanner(path: Path, name: str) -> None:
    try:
        scan(path)
    except Suspicious:
        raise NotAPicture(
            f"{name} was not taken: the scanner of this house found something in it that does not "
            "belong in a picture. Copy the file from the card again, on another computer."
        ) from None
    except NotAsked:
        raise NotChecked(
            f"{name} was not taken: this house looks through every file first, and its scanner "
            "does not answer. Whoever runs the house has to see to it; then send the file again."
        ) from None


def _still_room_for(owner, name: str, sha256: str) -> None:
    most, own = settings.FRAMES_PER_PERSON, Frame.objects.owned_by(owner)
    if own.count() >= most and not own.filter(sha256=sha256).exists():
        raise TooMany(
            f"{name} was not taken: you keep {most} frames here, the most for one person. Delete "
            "some in your log, or ask whoever runs it for more."
        )


def _row(frame: Frame) -> tuple[Frame, bool]:
    """Write the row and ask for its reading in one step: neither stands without the other."""
    from shootlog.jobs import read_frame

    fields = ("size_bytes", "sent_name", "file_type", "set_up", "note")
    with transaction.atomic():
        row, created = Frame.objects.get_or_create(
            owner=frame.owner,
            sha256=frame.sha256,
            defaults={field: getattr(frame, field) for field in fields},
        )
        if created:
            if frame.set_up is not None:
                frame.set_up.touch()
            read_frame.enqueue(row.pk)
    return row, created


def _keep_again(arriving: Path, row: Frame, created: bool) -> None:
    """The same bytes were being deleted at this moment (`removal`): the row must not lie."""
    if arriving.exists():
        store.keep(arriving, row.original_key)
        return
    if created:
        row.delete()
    raise Refused(
        f"{row} was just being deleted from this log while it came in again. Send it once more."
    )


def plain_name(name: str | None) -> str:
    """Return a name for people: no folders, no control characters, not too long. Never a path."""
    last = PurePosixPath(str(name or "").replace("\\", "/")).name
    last = "".join(c for c in last if c.isprintable()).strip()
    if last in ("", ".", ".."):
        return "unnamed file"
    stem, dot, suffix = last.rpartition(".")
    if len(last) > LONGEST_NAME and dot and len(suffix) <= 8:
        return f"{stem[: LONGEST_NAME - len(suffix) - 1]}.{suffix}"
    return last[:LONGEST_NAME]


def no_room_words(name: str) -> str:
    return (
        f"{name} was not taken: the disk of this log is full. Nothing of it was kept and nothing "
        "else is lost. Whoever runs the log has to make room; then send the file again."
    )
