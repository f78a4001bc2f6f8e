"""Frames for tests: rows as the background reading would leave them, with numbers one chooses."""

import hashlib
import io
import itertools

import numpy as np
from django.core.files.base import ContentFile
from django.utils import timezone
from PIL import Image

from shootlog import store
from shootlog.models import Flag, Frame
from shootlog.reading import Quantity, Reading

_count = itertools.count(1)
#: numbers at which diffraction is found: the blur of f/44 against an assumed circle of confusion
PAST_DIFFRACTION = {"effective_f_number": (44, "worked out"), "coc_um": (28.8, "assumed")}


def jpeg(width=60, height=40, grey=128):
    """A plain grey JPEG; each call gives other bytes through its comment."""
    out = io.BytesIO()
    picture = Image.new("RGB", (width, height), (grey, grey, grey))
    picture.save(out, "JPEG", comment=f"frame {next(_count)}".encode())
    return out.getvalue()


def maps():
    """Maps of blocks as kept beside the pictures: sharp in the middle, a corner burnt out."""
    sharp, burnt = np.zeros((8, 12), bool), np.zeros((8, 12), np.uint8)
    sharp[3:6, 4:8] = True
    burnt[:3, :4] = 255
    out = io.BytesIO()
    np.savez(out, sharp=sharp, burnt=burnt, black=np.zeros((8, 12), np.uint8))
    return out.getvalue()


def make_frame(owner, *, numbers=None, flags=(), facts=None, pictures=False, **columns):
    data = columns.pop("data", None) or jpeg()
    quantities = {name: _quantity(value) for name, value in (numbers or {}).items()}
    values = {
        "sha256": hashlib.sha256(data).hexdigest(),
        "size_bytes": len(data),
        "sent_name": "DSC_0001.JPG",
        "file_type": "JPEG",
        "state": Frame.State.READY,
        "read_at": timezone.now(),
        "recorded": {"width_px": 60, "height_px": 40, "origins": {}},
        "reading": Reading(quantities=quantities, facts=facts or {}).as_json(),
        "evidence": {"crops": {}} if pictures else None,
    }
    frame = Frame.objects.create(owner=owner, **values | columns)
    for flag in flags:
        finding, sure = flag if isinstance(flag, tuple) else (flag, "told")
        Flag.objects.create(frame=frame, finding=finding, sure=sure)
    if pictures:
        store.store().save(frame.original_key, ContentFile(data))
        for name in ("screen.jpg", "thumb.jpg"):
            store.store().save(f"{frame.shown_key}/{name}", ContentFile(data))
        store.store().save(f"{frame.shown_key}/map.npz", ContentFile(maps()))
    return frame


def _quantity(value):
    number, origin = value if isinstance(value, tuple) else (value, "recorded")
    return Quantity.exactly(number, origin)
