"""Olympus and OM System: a directory of directories; the body knows about its own tubes and merges.

Whether the recorded f-number follows the focus is nowhere published: unknown.
"""

from __future__ import annotations

from shootlog.intake.ifd import Directory, Field, directory
from shootlog.intake.makers import Found, Note

MAKES = ("OLYMPUS", "OM DIGITAL")

EQUIPMENT, SETTINGS, FOCUS = 0x2010, 0x2020, 0x2050
LENS_NAME, EXTENDER_NAME = 0x203, 0x303
FOCUS_MODE, STABILISER, STACKED, DISTANCE = 0x301, 0x604, 0x804, 0x305
MANUAL = 10
AUTO = (0, 1, 2, 3, 4)
FARTHEST_MM = 100_000  # infinity is written as the largest number; some compacts write noise
IN_BODY_STACK = 9
OTHER_MERGES = (1, 3, 4, 5, 6, 8, 11)  # live composite, graduated light, HDR, high resolution


def read(note: Note) -> Found:
    head = note.head
    if head.startswith(b"OM SYSTEM\x00"):
        skip, base = 16, note.at
    elif head.startswith(b"OLYMPUS\x00"):
        skip, base = 12, note.at
    else:
        skip, base = 8, 0
    order = {b"II": "<", b"MM": ">"}.get(head[skip - 4 : skip - 2], note.order)
    main = note.entries(skip, order=order, base=base)
    equipment = _inside(note, main.get(EQUIPMENT), order, base)
    settings = _inside(note, main.get(SETTINGS), order, base)
    focus = _inside(note, main.get(FOCUS), order, base)
    return _glass(note, equipment) | _settings(settings) | _distance(focus)


def _inside(note: Note, pointer: Field | None, order: str, base: int) -> Directory:
    """Return a directory inside the note: older bodies give its bytes, newer ones its place."""
    if pointer is None:
        return {}
    if pointer.kind in (4, 13):
        offset = pointer.number()
        if not isinstance(offset, int):
            return {}
        return directory(note.window, base + offset, order, base)
    return directory(note.window, pointer.at, order, base)


def _glass(note: Note, equipment: Directory) -> Found:
    found: Found = {}
    if LENS_NAME in equipment and "lens" not in note.facts:
        found["lens"] = (equipment[LENS_NAME].text() or None, "MakerNote LensModel")
    if EXTENDER_NAME in equipment:
        name = equipment[EXTENDER_NAME].text() or None
        found["extension_tube"] = (name, "MakerNote ExtenderModel")
    return found


def _settings(settings: Directory) -> Found:
    found: Found = {}
    if FOCUS_MODE in settings:
        mode = settings[FOCUS_MODE].number()
        word = "manual" if mode == MANUAL else "auto" if mode in AUTO else None
        found["focus_mode"] = (word, "MakerNote FocusMode")
    if STABILISER in settings:
        on = settings[STABILISER].number()
        word = None if on is None else "on" if on else "off"
        found["stabiliser"] = (word, "MakerNote ImageStabilization")
    if STACKED in settings:
        kind = settings[STACKED].number()
        word = "stacked" if kind == IN_BODY_STACK else None
        word = "while shooting" if kind in OTHER_MERGES else word
        found["composite"] = (word, "MakerNote StackedImage")
    return found


def _distance(focus: Directory) -> Found:
    """The numerator counts millimetres, whatever the denominator says."""
    entry = focus.get(DISTANCE)
    block = entry.raw(4) if entry is not None else b""
    if entry is None or len(block) < 4:
        return {}
    mm = int.from_bytes(block, "little" if entry.order == "<" else "big")
    if not 0 < mm <= FARTHEST_MM:
        return {}
    return {"maker_focus_distance_m": (mm / 1000, "MakerNote FocusDistance")}
