"""Pentax and Ricoh's Pentax bodies. F-number habit unknown."""

from __future__ import annotations

from shootlog.intake.makers import Found, Note

MAKES = ("PENTAX", "RICOH IMAGING", "ASAHI")

FOCUS_MODE, SHAKE_REDUCTION, HDR, SHUTTER = 0x0D, 0x5C, 0x85, 0x87
MANUAL = 3
AUTO = (16, 17, 18, 32, 33, 272, 273, 274, 288, 289)
SHAKE = {0: "off", 4: "off", 1: "on", 7: "on", 15: "on"}


def read(note: Note) -> Found:
    head = note.head
    if head.startswith(b"PENTAX \x00"):
        entries = note.entries(10, order=note.order_at(8), base=note.at)
    elif head.startswith(b"AOC\x00"):
        entries = note.entries(6, order=note.likely_order(6))
    else:
        return {}
    found: Found = {}
    if FOCUS_MODE in entries and not note.make.startswith("ASAHI"):
        mode = entries[FOCUS_MODE].number()
        word = "manual" if mode == MANUAL else "auto" if mode in AUTO else None
        found["focus_mode"] = (word, "MakerNote FocusMode")
    if SHAKE_REDUCTION in entries and entries[SHAKE_REDUCTION].count == 4:
        word = SHAKE.get(entries[SHAKE_REDUCTION].raw(4)[1])
        found["stabiliser"] = (word, "MakerNote ShakeReduction")
    if SHUTTER in entries and entries[SHUTTER].number() == 1:
        found["shutter_type"] = ("electronic", "MakerNote ShutterType")
    if HDR in entries and entries[HDR].raw(1) not in (b"", b"\x00"):
        found["composite"] = ("while shooting", "MakerNote HDR")
    return found
