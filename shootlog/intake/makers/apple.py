"""Apple: the range of distances in focus, and whether several exposures were merged."""

from __future__ import annotations

from shootlog.intake.makers import Found, Note

MAKES = ("APPLE",)

HDR_KIND, DISTANCE_RANGE = 0x0A, 0x0C
MERGED = 3


def read(note: Note) -> Found:
    if not note.head.startswith(b"Apple iOS\x00"):
        return {}
    entries = note.entries(14, order=note.order_at(12), base=note.at)
    found: Found = {}
    if HDR_KIND in entries and "composite" not in note.facts:
        merged = entries[HDR_KIND].number() == MERGED
        found["composite"] = ("while shooting" if merged else None, "MakerNote HDRImageType")
    if DISTANCE_RANGE in entries:
        ends = [n for n in entries[DISTANCE_RANGE].numbers() if n is not None and 0 < n < 1000]
        if len(ends) == 2:
            tag = "MakerNote FocusDistanceRange"
            found["maker_focus_distance_low_m"] = (min(ends), tag)
            found["maker_focus_distance_high_m"] = (max(ends), tag)
    return found
