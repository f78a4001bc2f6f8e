"""Canon: a directory of number arrays; focus distances in whole centimetres.

The f-number is the marked one: "the aperture displayed by the camera assumes that the focus is set
to infinity" (instruction manual of the MP-E 65, p. ENG-7; support article ART110189 says the same
of the EF 100 macro). It never follows the focus.
"""

from __future__ import annotations

from typing import Any

from shootlog.intake.ifd import Field
from shootlog.intake.makers import Found, Note

MAKES = ("CANON",)

SETTINGS, SHOT_INFO, SERIAL, FILE_INFO, LENS_NAME = 0x0001, 0x0004, 0x000C, 0x0093, 0x0095
FOCUS_MODE, LENS_TYPE, STABILISER = 7, 22, 34  # places in the settings
DISTANCE_FAR, DISTANCE_NEAR = 19, 20  # places in the shot info
FILE_MAGNIFICATION, FILE_FAR, FILE_NEAR, FILE_SHUTTER = 16, 20, 21, 23
MANUAL_FOCUS = (3, 6)
AUTO_FOCUS = (0, 1, 2, 4, 5)
LENS_1X_TO_5X = 124
NO_MAGNIFICATION = ("40D", "450D", "REBEL XSi", "Kiss X2")  # always write the same number
FARTHEST_CM = 65534  # 65535 is infinity or not known
SHUTTERS = {0: "mechanical", 1: "electronic first curtain", 2: "electronic"}


def read(note: Note) -> Found:
    entries = note.entries()
    settings = Array(entries.get(SETTINGS))
    file_info = Array(entries.get(FILE_INFO))
    found: Found = {}
    mode = settings[FOCUS_MODE]
    if mode in MANUAL_FOCUS:
        found["focus_mode"] = ("manual", "MakerNote FocusMode")
    elif mode in AUTO_FOCUS:
        found["focus_mode"] = ("auto", "MakerNote FocusMode")
    stabiliser = settings[STABILISER]
    if stabiliser is not None and stabiliser >= 0:
        on = bool(stabiliser & 0xFF)
        found["stabiliser"] = ("on" if on else "off", "MakerNote ImageStabilization")
    found |= _distances(Array(entries.get(SHOT_INFO)), file_info)
    found |= _magnification(note, settings, file_info)
    if (shutter := SHUTTERS.get(file_info[FILE_SHUTTER])) is not None:  # type: ignore[arg-type]
        found["shutter_type"] = (shutter, "MakerNote ShutterMode")
    if LENS_NAME in entries and "lens" not in note.facts:
        found["lens"] = (entries[LENS_NAME].text() or None, "MakerNote LensModel")
    if SERIAL in entries and "body_serial" not in note.facts:
        serial = entries[SERIAL].number()
        found["body_serial"] = (str(serial) if serial else None, "MakerNote SerialNumber")
    return found


def habit(facts: dict[str, Any]) -> Found:
    """The manuals speak of interchangeable lenses; nothing is known of the compacts."""
    if "EOS" not in str(facts.get("model")).upper():
        return {}
    return {"f_number_habit": ("marked", "Image Make (its EOS bodies write the set f-number)")}


class Array:
    """An array of 16-bit numbers; places beyond its end are None."""

    def __init__(self, entry: Field | None) -> None:
        numbers = entry.numbers() if entry is not None and entry.kind in (3, 8) else []
        self.numbers = [n if n is None or n < 0x8000 else int(n) - 0x10000 for n in numbers]

    def __getitem__(self, place: int) -> int | None:
        value = self.numbers[place] if place < len(self.numbers) else None
        return value if isinstance(value, int) else None

    def unsigned(self, place: int) -> int | None:
        value = self[place]
        return None if value is None else value & 0xFFFF


def _distances(shot: Array, file_info: Array) -> Found:
    """Newer bodies repeat the pair in the file info; there it is the one kept up to date.

    Compacts write one end only, the oldest of them in millimetres: that alone spans ten to one.
    """
    tag = "MakerNote FocusDistanceLower/Upper"
    for array, far, near in (
        (file_info, FILE_FAR, FILE_NEAR),
        (shot, DISTANCE_FAR, DISTANCE_NEAR),
    ):
        ends = [array.unsigned(far), array.unsigned(near)]
        if not ends[0]:
            continue
        known = sorted(cm / 100 for cm in ends if cm is not None and 0 < cm <= FARTHEST_CM)
        if len(known) == 2:
            return {
                "maker_focus_distance_low_m": (known[0], tag),
                "maker_focus_distance_high_m": (known[1], tag),
                "maker_focus_distance_m": (sum(known) / 2, tag),
            }
        if known and not ends[1]:
            return {
                "maker_focus_distance_low_m": (known[0] / 10, tag),
                "maker_focus_distance_high_m": (known[0], tag),
            }
        if known:  # the far end is infinity
            return {"maker_focus_distance_low_m": (known[0], tag)}
    return {}


def _magnification(note: Note, settings: Array, file_info: Array) -> Found:
    """Only the 1x to 5x lens writes it: 75 stands for 1x, 44 for 5x, on a log scale."""
    code = file_info[FILE_MAGNIFICATION]
    if settings[LENS_TYPE] != LENS_1X_TO_5X or not code or not 40 <= code <= 80:
        return {}
    if any(name in note.model for name in NO_MAGNIFICATION):
        return {}
    return {"maker_magnification": (2 ** ((75 - code) * 3 / 40), "MakerNote MacroMagnification")}
