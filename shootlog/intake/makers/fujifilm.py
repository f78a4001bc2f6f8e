"""Fujifilm: always little-endian, offsets from the note's start. F-number habit unknown."""

from __future__ import annotations

from shootlog.intake.makers import Found, Note

MAKES = ("FUJIFILM",)

FOCUS_MODE, SHUTTER, STABILISER = 0x1021, 0x1050, 0x1422
SHUTTERS = {0: "mechanical", 1: "electronic", 2: "electronic", 3: "electronic first curtain"}


def read(note: Note) -> Found:
    if not note.head.startswith(b"FUJIFILM"):
        return {}
    skip = int.from_bytes(note.head[8:12], "little")
    entries = note.entries(skip, order="<", base=note.at)
    found: Found = {}
    if FOCUS_MODE in entries:
        word = {0: "auto", 1: "manual"}.get(entries[FOCUS_MODE].number())  # type: ignore[arg-type]
        found["focus_mode"] = (word, "MakerNote FocusMode")
    if SHUTTER in entries:
        word = SHUTTERS.get(entries[SHUTTER].number())  # type: ignore[arg-type]
        found["shutter_type"] = (word, "MakerNote ShutterType")
    if STABILISER in entries:
        numbers = entries[STABILISER].numbers()
        if len(numbers) >= 2:
            word = {0: "off", 1: "on", 2: "on"}.get(numbers[1])  # type: ignore[arg-type]
            found["stabiliser"] = (word, "MakerNote ImageStabilization")
    return found
