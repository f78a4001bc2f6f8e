"""What the camera wrote into one file: `read_recorded`.

Sniffed by content, opened by its container, the standard tags through ExifRead, the maker's note
through `makers`. Every value passes a plausible range or stays unknown; nothing is guessed.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, BinaryIO

from shootlog.intake import boxes, ciff, containers, old_raw
from shootlog.intake.containers import Container
from shootlog.intake.facts import standard_facts
from shootlog.intake.ifd import Window, directory, first_directory
from shootlog.intake.makers import Note, maker_facts
from shootlog.intake.sniff import ACCEPTED_WORDS, HEAD_BYTES, RAW_TYPES, sniff
from shootlog.intake.standard import Tags, standard_tags
from shootlog.recorded import Recorded

TAG_EXIF, TAG_GPS, TAG_MAKER_NOTE, TAG_LATITUDE = 0x8769, 0x8825, 0x927C, 2
DESCRIBES_PREVIEW = frozenset({"RAF", "RW2", "X3F"})  # their Exif block is the inner JPEG's
#: IPTC NewsCodes, digitalsourcetype: how many captures a picture was made of.
DIGITAL_SOURCE = re.compile(
    rb"digitalsourcetype/(digitalCapture|computationalCapture|compositeCapture)\b"
)
SOURCES = {
    b"digitalCapture": "no",
    b"computationalCapture": "while shooting",
    b"compositeCapture": "while shooting",
}
EDIT_HISTORY = re.compile(rb"<xmpMM:(History|DerivedFrom)|stEvt:action")

OPENERS: dict[str, Callable[[Window], Container]] = {
    "JPEG": containers.open_jpeg,
    "PNG": containers.open_png,
    "WebP": containers.open_webp,
    "HEIC": boxes.open_heif,
    "HEIF": boxes.open_heif,
    "AVIF": boxes.open_heif,
    "CR3": boxes.open_cr3,
    "RW2": containers.open_rw2,
    "RAF": old_raw.open_raf,
    "MRW": old_raw.open_mrw,
    "X3F": old_raw.open_x3f,
}


class Unreadable(Exception):
    """A file cannot be read; the words are for the person who sent it."""


def read_recorded(path: Path) -> Recorded:
    """Return what the camera wrote into the file. Reads a few kilobytes, whatever its size."""
    name = Path(path).name
    try:
        with open(path, "rb") as file:
            return read_recorded_from(file, name)
    except OSError as trouble:
        reason = trouble.strerror or "unknown reason"
        raise Unreadable(f"{name} cannot be opened ({reason}). Send it again.") from trouble


def read_recorded_from(file: BinaryIO, name: str) -> Recorded:
    """Read from an open file; ``name`` is only for the words."""
    window = Window(file)
    head = window.read(0, HEAD_BYTES)
    if not head:
        raise Unreadable(
            f"{name} is empty (0 bytes): the copy broke off. Send the file again from the card."
        )
    kind = sniff(head)
    if kind is None:
        raise Unreadable(
            f"{name} is not a picture file this log can read: what is inside it is of no known "
            f"kind. Send {ACCEPTED_WORDS}, as it left the camera."
        )
    if kind == "CRW":
        found, tags = ciff.open_crw(window)
    else:
        found = _opened(OPENERS.get(kind, containers.open_tiff), window)
        tags = _tags(found)
    if not found.holds_anything and not tags:
        raise Unreadable(
            f"{name} begins like a {kind} file, but the part that says how large the picture is "
            "and how it was taken is missing: the copy is damaged or broke off. Send the file "
            "again from the card."
        )
    return _recorded(kind, found, tags)


def _opened(opener: Callable[[Window], Container], window: Window) -> Container:
    try:
        return opener(window.part(0))
    except Exception:  # a damaged container must not stop the rest; it counts as holding nothing
        return Container()


def _tags(found: Container) -> Tags:
    if not found.blocks:
        return Tags(standard_tags(found.exif)) if found.exif else Tags()
    tags: dict[str, Any] = {}
    for block, directory_name in (("CMT1", "Image"), ("CMT2", "EXIF")):
        if block in found.blocks:
            for name, values in standard_tags(found.blocks[block]).items():
                tags[name.replace("Image ", f"{directory_name} ", 1)] = values
    return Tags(tags)


def _recorded(kind: str, found: Container, tags: Tags) -> Recorded:
    facts, origins = standard_facts(tags)
    note = _note(found, tags)
    if note is not None:
        note.facts = facts
    for field, (value, origin) in maker_facts(note, tags, facts).items():
        if value is not None:
            facts[field], origins[field] = value, origin
    source = DIGITAL_SOURCE.search(found.xmp)
    if source and "composite" not in facts:
        facts["composite"] = SOURCES[source[1]]
        origins["composite"] = "XMP DigitalSourceType"
    width, height = found.width_px, found.height_px
    if kind in RAW_TYPES:
        if width is None:
            width, height = facts.get("recorded_width_px"), facts.get("recorded_height_px")
        if kind in DESCRIBES_PREVIEW:
            for field in ("recorded_width_px", "recorded_height_px"):
                facts.pop(field, None)
                origins.pop(field, None)
    return Recorded(
        **facts,
        width_px=width,
        height_px=height,
        file_type=kind,
        has_exif=bool(tags),
        has_maker_note=note is not None,
        has_position=_has_position(found, tags),
        edit_history=EDIT_HISTORY.search(found.xmp) is not None,
        container_turned=found.turned,
        origins=origins,
    )


def _note(found: Container, tags: Tags) -> Note | None:
    """Find the maker's note: an entry of the Exif directory, or CR3's own block."""
    try:
        if "CMT3" in found.blocks:
            window = found.blocks["CMT3"]
            order = "<" if window.read(0, 2) == b"II" else ">"
            start = int.from_bytes(window.read(4, 4), "little" if order == "<" else "big")
            return Note(window, start, window.length - start, order, tags)
        if found.exif is None:
            return None
        first = first_directory(found.exif)
        pointer = first.get(TAG_EXIF)
        offset = pointer.number() if pointer else None
        if pointer is None or not isinstance(offset, int):
            return None
        entry = directory(found.exif, offset, pointer.order).get(TAG_MAKER_NOTE)
        if entry is None or entry.size < 8:
            return None
        return Note(found.exif, entry.at, entry.size, entry.order, tags)
    except Exception:  # a damaged block: no note
        return None


def _has_position(found: Container, tags: Tags) -> bool:
    if any(tags.found.get("GPS GPSLatitude") or ()):
        return True
    block = found.blocks.get("CMT4")
    latitude = first_directory(block).get(TAG_LATITUDE) if block else None
    return latitude is not None and any(latitude.numbers())
