"""The file is not as the camera made it, by evidence in the file itself.

Four traces, none of them a program's name: an edit history; pixel counts that are not the
camera's; a maker that always writes its own notes, and none there; a software tag that is no
firmware. The last two alone are no proof and leave the answer open.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from shootlog.findings.base import Finding, Sure
from shootlog.findings.samples import sample
from shootlog.reading import Reading
from shootlog.wording import Spread, say

SAME_SIZE = 0.02  # a few rows cut by a maker's own borders are no edit
#: Makers whose cameras always write notes of their own into JPEG and HEIC; phones need not.
NOTES_ALWAYS = re.compile(
    r"^(canon|nikon|sony|olympus|om digital|panasonic|pentax|ricoh|fuji)", re.IGNORECASE
)
#: What firmware tags look like: version words, a bare number, one token with a figure in it.
FIRMWARE = re.compile(
    r"^(?:v(?:er)?\.?\s?\d[\w.\-]*|[\d.\-_ ]+[a-z]?|\S*\d\S*|firmware\b.*|.*\bver(?:sion)?\b.*\d.*"
    r"|hdr\+.*|digital camera.*|.*\bfirmware\b.*)$",
    re.IGNORECASE,
)


class EditedFile(Finding):
    slug = "edited-file"
    topic = "editing"
    needs_facts = ("has_exif", "file_type")
    weight = 0.7
    file_trouble = True
    title = "Not as the camera made it"
    why = "After a crop or a new size, what is measured in pixels means something else."
    wording = say("{traces:.0f} traces of a later save: {named}.")
    remedy = say("Send the file as the camera made it, beside this one.")

    fires_on = sample(
        file_type="JPEG", has_exif=True, has_exposure=True, has_maker_note=True,
        make="Canon", edit_history=True, width_px=1200, height_px=900,
        recorded_width_px=6000, recorded_height_px=4000,
    )  # fmt: skip
    quiet_on = sample(
        file_type="JPEG", has_exif=True, has_exposure=True, has_maker_note=True,
        make="Canon", edit_history=False, width_px=4000, height_px=6000,
        recorded_width_px=6000, recorded_height_px=4000, software="Ver.1.00",
    )  # fmt: skip

    def not_for(self, reading: Reading) -> str:
        if not reading.fact("has_exif"):
            return "Nothing the camera wrote is left to compare with."
        return ""

    def numbers(self, at: Mapping[str, float], reading: Reading) -> dict[str, float]:
        strong, weak = strong_traces(reading), weak_traces(reading)
        return {
            "traces": float(len(strong) + len(weak)),
            "strong_traces": float(len(strong)),
            "size_known": float(size_differs(reading) is not None),
            "notes_kept": float(bool(reading.fact("has_maker_note"))),
        }

    def is_raised(self, numbers: Mapping[str, float]) -> bool | None:
        if numbers["strong_traces"] or numbers["traces"] >= 2:
            return True
        if numbers["traces"]:
            return None
        # Nothing found proves little where there is nothing to find it by.
        return False if numbers["size_known"] or numbers["notes_kept"] else None

    def undecided(self, reading: Reading, numbers: Mapping[str, Spread]) -> str:
        weak = weak_traces(reading)
        if weak:
            return f"One trace alone proves nothing: {weak[0]}."
        return "The file says too little about itself."

    def say(self, reading: Reading, numbers: Mapping[str, Spread]) -> str:
        traces = [*strong_traces(reading), *weak_traces(reading)]
        if len(traces) == 1:
            return f"1 trace of a later save: {traces[0]}."
        return self.wording.format(traces=numbers["traces"], named="; ".join(traces))

    def how_sure(self, reading: Reading) -> Sure:
        if not strong_traces(reading) and weak_traces(reading):
            return "likely"
        return "measured"


def strong_traces(reading: Reading) -> Sequence[str]:
    traces = []
    if size_differs(reading):
        was = f"{reading.fact('recorded_width_px')} x {reading.fact('recorded_height_px')}"
        now = f"{reading.fact('width_px')} x {reading.fact('height_px')}"
        traces.append(f"{now} pixels where the camera wrote {was}")
    if reading.fact("edit_history"):
        traces.append("an edit history inside")
    return traces


def weak_traces(reading: Reading) -> Sequence[str]:
    traces = []
    make = reading.fact("make") or ""
    own = reading.fact("file_type") in ("JPEG", "HEIC", "HEIF")
    if own and NOTES_ALWAYS.match(make) and reading.fact("has_maker_note") is False:
        traces.append("the maker's own notes gone")
    if not is_firmware(reading):
        traces.append("a software tag that is no firmware")
    return traces


def size_differs(reading: Reading) -> bool | None:
    """Say whether the file's sides are not the camera's; None where one of them is not known.

    Only JPEG and HEIC: a RAW file's tags speak of its preview or its masked border.
    """
    names = ("width_px", "height_px", "recorded_width_px", "recorded_height_px")
    sides = [reading.fact(name) for name in names]
    if reading.fact("file_type") not in ("JPEG", "HEIC", "HEIF") or not all(sides):
        return None
    mine, cameras = sorted(sides[:2]), sorted(sides[2:])
    return any(abs(a / b - 1) > SAME_SIZE for a, b in zip(mine, cameras, strict=True))


def is_firmware(reading: Reading) -> bool:
    software = (reading.fact("software") or "").strip()
    if not software or FIRMWARE.match(software):
        return True
    words = software.lower().split()
    own = f"{reading.fact('make') or ''} {reading.fact('model') or ''}".lower()
    return any(word in own for word in words)
