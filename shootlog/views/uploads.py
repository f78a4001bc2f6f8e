"""Files on their way in, piece by piece: the tus protocol 1.0.0 (2016-03-25).

Core, creation, checksum and termination. A piece is on the disk before it is acknowledged, the
number of bytes there is the offset, and whoever else asks for an upload is told it is not there.
"""

import base64
import binascii
import hashlib
import logging
import os
from functools import wraps

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse, UnreadablePostError
from django.shortcuts import get_object_or_404
from django.urls import reverse

from shootlog.intake.receive import Refused, StoreAway, plain_name, receive
from shootlog.models import KeptSetUp, Upload
from shootlog.models.upload import OPEN_AT_MOST, Busy

VERSION = "1.0.0"
EXTENSIONS = "creation,checksum,termination"
CHECKSUMS = {"sha1": hashlib.sha1, "sha256": hashlib.sha256, "md5": hashlib.md5}
READ_AT_ONCE = 256 * 1024
CHECKSUM_MISMATCH = 460
log = logging.getLogger(__name__)


def says(status, words="", **headers):
    answer = HttpResponse(words, status=status, content_type="text/plain; charset=utf-8")
    for name, value in headers.items():
        answer[name.replace("_", "-")] = str(value)
    answer["Tus-Resumable"] = VERSION
    answer["Cache-Control"] = "no-store"
    return answer


def speaks_tus(view):
    """Refuse another version of the protocol, except when asked what we speak."""

    @wraps(view)
    def wrapped(request, *args, **kwargs):
        if request.method != "OPTIONS" and request.headers.get("Tus-Resumable") != VERSION:
            return says(412, "This address speaks tus 1.0.0.", Tus_Version=VERSION)
        return view(request, *args, **kwargs)

    return wrapped


@login_required
@speaks_tus
def uploads(request):
    if request.method == "OPTIONS":
        return says(
            204,
            Tus_Version=VERSION,
            Tus_Extension=EXTENSIONS,
            Tus_Max_Size=settings.LARGEST_FILE_BYTES,
            Tus_Checksum_Algorithm=",".join(CHECKSUMS),
        )
    if request.method != "POST":
        return says(405, Allow="OPTIONS, POST")
    return _create(request)


def _create(request):
    length = _number(request.headers.get("Upload-Length"))
    if length is None:
        return says(400, "Upload-Length must say how many bytes will come.")
    if length == 0:
        return says(400, "The file is empty: nothing in it could be kept.")
    if length > settings.LARGEST_FILE_BYTES:
        most = settings.LARGEST_FILE_BYTES // 1024**2
        return says(413, f"The file is larger than {most} MB, the most this house takes.")
    Upload.objects.sweep()
    if Upload.objects.owned_by(request.user).open().count() >= OPEN_AT_MOST:
        return says(429, "Too many files are half sent. Finish or cancel some of them first.")
    told = _metadata(request.headers.get("Upload-Metadata", ""))
    row = Upload.objects.create(
        owner=request.user,
        length=length,
        sent_name=plain_name(told.get("filename")),
        set_up=_own_set_up(request.user, told.get("set_up")),
        note=told.get("note", "").replace("\0", "")[:2000],  # PostgreSQL keeps no NUL
    )
    return says(201, Location=reverse("shootlog:upload", args=[row.pk]), Upload_Offset=0)


@login_required
@speaks_tus
def upload(request, pk):
    row = get_object_or_404(
        Upload.objects.owned_by(request.user).select_related("set_up", "frame"), pk=pk
    )
    act = {"HEAD": _where, "PATCH": _append, "DELETE": _forget}.get(request.method)
    return act(request, row) if act else says(405, Allow="HEAD, PATCH, DELETE")


def _where(request, row):
    offset = row.length if row.frame_id else row.offset
    return says(200, Upload_Offset=offset, Upload_Length=row.length, **_frame_of(row))


def _forget(request, row):
    if row.frame_id is None:
        row.path.unlink(missing_ok=True)
    row.delete()
    return says(204)


def _append(request, row):
    if request.content_type != "application/offset+octet-stream":
        return says(415, "A piece is sent as application/offset+octet-stream.")
    offset = _number(request.headers.get("Upload-Offset"))
    if offset is None:
        return says(400, "Upload-Offset must say where this piece belongs.")
    try:
        with row.held() as bytes_so_far:
            row.refresh_from_db(fields=["frame"])
            if row.frame_id:  # finished before; only the answer was lost on its way
                row.path.unlink(missing_ok=True)
                return says(204, Upload_Offset=row.length, **_frame_of(row))
            began = os.fstat(bytes_so_far.fileno()).st_size
            if offset != began:
                return says(409, f"This piece belongs at {offset}; {began} bytes are here.")
            try:
                _take(request, row, bytes_so_far, began)
            except NotKept as trouble:
                bytes_so_far.truncate(began)  # what stood before this piece stands again
                return says(trouble.status, trouble.words)
            return _received(row, os.fstat(bytes_so_far.fileno()).st_size)
    except Busy:
        return says(423, "Another piece of this file is just being written. Try again.")


class NotKept(Exception):
    """A piece could not be kept: the status and the words to answer with."""

    def __init__(self, status, words):
        super().__init__(words)
        self.status, self.words = status, words


def _take(request, row, bytes_so_far, at):
    """Append the body to the bytes so far and have it on the disk."""
    check = _checksum(request.headers.get("Upload-Checksum"))
    try:
        while piece := request.read(READ_AT_ONCE):
            at += len(piece)
            if at > row.length:
                raise NotKept(413, "More came than Upload-Length said.")
            if bytes_so_far.write(piece) != len(piece):
                raise OSError("short write")
            if check:
                check[0].update(piece)
        row.settle(bytes_so_far)
    except UnreadablePostError:
        if check:  # a part of a piece cannot be checked
            raise NotKept(400, "The connection was lost.") from None
        row.settle(bytes_so_far)
    except OSError:
        log.exception("a piece of an upload could not be written")
        raise NotKept(507, "The house's disk is full. What came before is kept.") from None
    if check and check[0].digest() != check[1]:
        raise NotKept(CHECKSUM_MISMATCH, "The piece came out different. Send it again.")


def _received(row, offset):
    """Answer with how far we are; a complete file becomes a frame."""
    if offset < row.length:
        return says(204, Upload_Offset=offset)
    try:
        with row.path.open("rb") as whole:
            frame, created = receive(
                whole, owner=row.owner, name=row.sent_name, set_up=row.set_up, note=row.note
            )
    except StoreAway as words:
        return says(words.status, str(words))  # all pieces stay here; the last is asked for again
    except Refused as words:
        row.forget()
        return says(words.status, str(words))
    row.frame = frame
    row.save(update_fields=["frame"])
    row.path.unlink(missing_ok=True)
    return says(204, Upload_Offset=offset, **_frame_of(row, created))


def _frame_of(row, created=None):
    if row.frame_id is None:
        return {}
    told = {"Frame_Location": reverse("shootlog:frame", args=[row.frame_id])}
    return told if created is None else told | {"Frame_Known": "no" if created else "yes"}


def _number(text):
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 16 else None


def _metadata(header):
    """`key base64,key base64` as the protocol writes it; what cannot be read is left out."""
    told = {}
    for pair in header.split(","):
        key, _, value = pair.strip().partition(" ")
        try:
            told[key] = base64.b64decode(value, validate=True).decode()
        except (binascii.Error, UnicodeDecodeError):
            continue
    return told


def _checksum(header):
    """Return (running digest, expected bytes), or None where no checksum was sent."""
    if not header:
        return None
    name, _, value = header.partition(" ")
    try:
        return CHECKSUMS[name](usedforsecurity=False), base64.b64decode(value, validate=True)
    except (KeyError, binascii.Error):
        raise NotKept(400, f"Checksums here are {', '.join(CHECKSUMS)}, in base64.") from None


def _own_set_up(user, pk):
    if not (pk and pk.isascii() and pk.isdigit()):
        return None
    return KeptSetUp.objects.offered_to(user).filter(pk=pk).first()
