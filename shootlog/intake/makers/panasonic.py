"""Panasonic, and the Leica models it builds. Its f-number habit is nowhere published: unknown."""

from __future__ import annotations

from shootlog.intake.makers import Found, Note

MAKES = ("PANASONIC", "LEICA")

FOCUS_MODE, STABILISER, SERIAL, LENS_NAME, HDR, SHUTTER = 0x07, 0x1A, 0x25, 0x51, 0x9E, 0x9F
MANUAL = 2
AUTO = (1, 4, 5, 6, 7, 8)
STABILISER_OFF = 3
STABILISER_ON = (2, 4, 5, 6, 7, 9, 10, 11, 12)
SHUTTERS = {0: "mechanical", 1: "electronic", 2: "electronic first curtain"}
STARTS = {b"Panasonic\x00": 12, b"LEICA CAMERA AG\x00": 18}  # where the directory begins


def read(note: Note) -> Found:
    skip = next((n for start, n in STARTS.items() if note.head.startswith(start)), None)
    if skip is None:
        return {}
    entries = note.entries(skip)
    numbers = {tag: entries[tag].number() if tag in entries else None for tag in (7, 26, 158, 159)}
    mode, stabiliser = numbers[FOCUS_MODE], numbers[STABILISER]
    found: Found = {
        "focus_mode": (
            "manual" if mode == MANUAL else "auto" if mode in AUTO else None,
            "MakerNote FocusMode",
        ),
        "stabiliser": (
            "off"
            if stabiliser == STABILISER_OFF
            else "on"
            if stabiliser in STABILISER_ON
            else None,
            "MakerNote ImageStabilization",
        ),
        "shutter_type": (SHUTTERS.get(numbers[SHUTTER]), "MakerNote ShutterType"),  # type: ignore[arg-type]
    }
    if numbers[HDR]:
        found["composite"] = ("while shooting", "MakerNote HDR")
    if LENS_NAME in entries and "lens" not in note.facts:
        name = entries[LENS_NAME].text()
        found["lens"] = (None if name in ("", "n/a") else name, "MakerNote LensType")
    return found
