"""Sony: what is not scrambled. Its f-number habit is nowhere published: unknown."""

from __future__ import annotations

from shootlog.intake.makers import Found, Note

MAKES = ("SONY",)

HDR, MULTI_FRAME, FRONT_CURTAIN, FOCUS_MODE, STABILISER = 0x200A, 0x200B, 0x201A, 0x201B, 0xB026
MANUAL = 0
AUTO = (2, 3, 4, 7)  # 6 is autofocus with the ring live: neither
COMPACT = "DSC-"  # always writes 0 for the focus mode


def read(note: Note) -> Found:
    entries = note.entries(12 if note.head.startswith(b"SONY") else 0)
    number = {
        tag: entries[tag].number() for tag in entries if tag >= HDR and entries[tag].count < 3
    }
    found: Found = {}
    if FOCUS_MODE in number and not note.model.startswith(COMPACT):
        mode = number[FOCUS_MODE]
        word = "manual" if mode == MANUAL else "auto" if mode in AUTO else None
        found["focus_mode"] = (word, "MakerNote FocusMode")
    if STABILISER in number:
        word = {0: "off", 1: "on"}.get(number[STABILISER])  # type: ignore[arg-type]
        found["stabiliser"] = (word, "MakerNote ImageStabilization")
    if number.get(FRONT_CURTAIN) == 1:
        found["shutter_type"] = ("electronic first curtain", "MakerNote FrontCurtainShutter")
    if number.get(MULTI_FRAME) == 1 or _low_half(number.get(HDR)):
        found["composite"] = ("while shooting", "MakerNote HDR or MultiFrameNoiseReduction")
    return found


def _low_half(value: object) -> int:
    return value & 0xFFFF if isinstance(value, int) else 0
