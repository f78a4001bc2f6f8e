"""From standard tags to plain facts: units, plausible ranges, and what each tag's nought means.

Tag meanings: CIPA DC-008 (Exif 3.0) section 4.6; the ranges are ours, wide enough for any lens
and any night, narrow enough to drop what a damaged or half-written file holds.
"""

from __future__ import annotations

import math
import re
from datetime import datetime
from typing import Any

from shootlog.intake.standard import Tags

PROGRAMS = {
    1: "manual",
    2: "program",
    3: "aperture priority",
    4: "shutter priority",
    5: "creative",
    6: "action",
    7: "portrait",
    8: "landscape",
    9: "bulb",
}
MODES = {0: "auto", 1: "manual", 2: "bracket"}
COMPOSITES = {1: "no", 2: "general", 3: "while shooting"}  # 0: not known
MOST_JOINED = 65_535  # then the count is not known
MM_PER_UNIT = {2: 25.4, 3: 10.0, 4: 1.0, 5: 0.001}
NO_LENS = re.compile(r"^[\s\-0.?*]*$|^65535$|^(none|unknown|n/?a|----)$", re.IGNORECASE)
DATE = re.compile(r"^(\d{4})[:\-/](\d\d)[:\-/](\d\d)[ T](\d\d):(\d\d):(\d\d)")
OFFSET = re.compile(r"^[+-]\d\d:\d\d$")

Facts = dict[str, Any]
Origins = dict[str, str]


class Taken:
    """Collects facts with the tag each came from."""

    def __init__(self, tags: Tags) -> None:
        self.tags = tags
        self.facts: Facts = {}
        self.origins: Origins = {}

    def keep(self, field: str, value: Any, tag: str, remark: str = "") -> bool:
        if value is None or field in self.facts:
            return False
        self.facts[field] = value
        self.origins[field] = (self.tags.place(tag) or tag) + remark
        return True

    def number(self, field: str, tag: str, low: float, high: float) -> None:
        value = self.tags.number(tag)
        if value is not None and low <= value <= high:
            self.keep(field, float(value), tag)

    def whole(self, field: str, tag: str, low: int, high: int) -> None:
        value = self.tags.whole(tag)
        if value is not None and low <= value <= high:
            self.keep(field, value, tag)

    def named(self, field: str, tag: str, names: dict[int, str]) -> None:
        self.keep(field, names.get(self.tags.whole(tag)), tag)  # type: ignore[arg-type]

    def text(self, field: str, tag: str) -> None:
        self.keep(field, self.tags.text(tag), tag)


def standard_facts(tags: Tags) -> tuple[Facts, Origins]:
    taken = Taken(tags)
    for step in (_exposure, _iso, _programs, _lens, _distance, _body, _time, _picture):
        step(taken)
    return taken.facts, taken.origins


def _exposure(taken: Taken) -> None:
    taken.number("f_number", "FNumber", 0.5, 1000)
    aperture = taken.tags.number("ApertureValue")
    if aperture is not None and 0 < aperture < 20:  # 0 is written where there is no lens chip
        taken.keep("f_number", round(2 ** (aperture / 2), 2), "ApertureValue", " (APEX)")
    taken.number("exposure_s", "ExposureTime", 1e-7, 86_400)
    speed = taken.tags.number("ShutterSpeedValue")
    if speed is not None and -17 < speed < 24:
        taken.keep("exposure_s", 2.0**-speed, "ShutterSpeedValue", " (APEX)")
    largest = taken.tags.number("MaxApertureValue")
    if largest is not None and 0 < largest < 14:
        taken.keep("max_aperture_f_number", round(2 ** (largest / 2), 2), "MaxApertureValue")
    taken.number("exposure_bias_ev", "ExposureBiasValue", -20, 20)
    flash = taken.tags.whole("Flash")
    if flash is not None and 0 <= flash < 256:
        taken.keep("flash_fired", bool(flash & 1), "Flash")


def _iso(taken: Taken) -> None:
    """Take the first number that is one; 65535 means "too high for this tag, see another"."""
    for tag in ("ISOSpeedRatings", "RecommendedExposureIndex", "ISOSpeed", "Tag 0x8831"):
        for value in taken.tags.values(tag):
            if isinstance(value, int) and 0 < value < 10_000_000 and value != 65535:
                taken.keep("iso", value, tag)
                return


def _programs(taken: Taken) -> None:
    taken.named("exposure_program", "ExposureProgram", PROGRAMS)
    taken.named("exposure_mode", "ExposureMode", MODES)
    program = taken.facts.get("exposure_program")
    if program is not None:
        mode = "manual" if program in ("manual", "bulb") else "auto"
        taken.keep("exposure_mode", mode, "ExposureProgram")
    taken.named("white_balance", "WhiteBalance", {0: "auto", 1: "manual"})


def _lens(taken: Taken) -> None:
    taken.number("focal_length_mm", "FocalLength", 0.1, 10_000)
    taken.number("focal_length_35mm", "FocalLengthIn35mmFilm", 1, 50_000)  # 0: not known
    lens = taken.tags.text("LensModel")
    if lens and not NO_LENS.match(lens):
        taken.keep("lens", lens, "LensModel")
    taken.text("lens_make", "LensMake")
    values = [taken.tags.number("LensSpecification", k) for k in range(4)]
    if values[0] and values[1]:
        taken.keep("lens_shortest_mm", values[0], "LensSpecification")
        taken.keep("lens_longest_mm", values[1], "LensSpecification")
    openings = [v for v in values[2:] if v and 0.5 <= v <= 64]
    if openings:
        taken.keep("lens_largest_f_number", min(openings), "LensSpecification")


def _distance(taken: Taken) -> None:
    if taken.tags.is_infinite("SubjectDistance"):
        taken.origins["subject_distance_m"] = "EXIF SubjectDistance (infinity)"
        return
    taken.number("subject_distance_m", "SubjectDistance", 0.001, 100_000)  # 0: not known


def _body(taken: Taken) -> None:
    taken.text("make", "Make")
    taken.text("model", "Model")
    taken.text("body_serial", "BodySerialNumber")
    taken.text("software", "Software")


def _time(taken: Taken) -> None:
    for tag in ("DateTimeOriginal", "DateTimeDigitized"):
        taken.keep("taken_at", moment(taken.tags.text(tag)), tag)
    taken.keep("modified_at", moment(taken.tags.text("DateTime")), "DateTime")
    digits = (taken.tags.text("SubSecTimeOriginal") or "").strip()
    if digits.isascii() and digits.isdigit() and len(digits) <= 9:
        taken.keep("taken_subsec_s", int(digits) / 10 ** len(digits), "SubSecTimeOriginal")
    for tag in ("OffsetTimeOriginal", "OffsetTime"):
        offset = taken.tags.text(tag)
        if offset and OFFSET.match(offset):
            taken.keep("utc_offset", offset, tag)


def moment(text: str | None) -> str | None:
    """Return ISO 8601 without a zone; year 0000, month 13 and blanks are no moment."""
    match = DATE.match(text or "")
    if match is None:
        return None
    try:
        year, month, day, hour, minute, second = (int(part) for part in match.groups())
        return datetime(year, month, day, hour, minute, second).isoformat()  # noqa: DTZ001
    except ValueError:
        return None


def _picture(taken: Taken) -> None:
    taken.whole("recorded_width_px", "ExifImageWidth", 1, 1_000_000)
    taken.whole("recorded_height_px", "ExifImageLength", 1, 1_000_000)
    taken.whole("orientation", "Orientation", 1, 8)
    zoom = taken.tags.number("DigitalZoomRatio")
    if zoom == 0:
        taken.keep("digital_zoom_ratio", 1.0, "DigitalZoomRatio", " (not used)")
    taken.number("digital_zoom_ratio", "DigitalZoomRatio", 1, 100)
    taken.named("composite", "Tag 0xA460", COMPOSITES)
    joined = taken.tags.number("Tag 0xA461", 1)  # taken in all, and then those used
    if joined is not None and joined == int(joined) and 1 < joined < MOST_JOINED:
        taken.keep("composite_count", int(joined), "Tag 0xA461")
    _focal_plane(taken)


def _focal_plane(taken: Taken) -> None:
    resolution = taken.tags.number("FocalPlaneXResolution")
    unit = MM_PER_UNIT.get(taken.tags.whole("FocalPlaneResolutionUnit") or 2)  # default: inch
    if not resolution or resolution < 0 or unit is None or not math.isfinite(unit / resolution):
        return
    pitch_um = 1000 * unit / resolution
    if 0.1 <= pitch_um <= 1000:
        taken.keep("focal_plane_pitch_um", pitch_um, "FocalPlaneXResolution")
        width = taken.facts.get("recorded_width_px")
        if width:
            taken.keep("focal_plane_width_mm", pitch_um * width / 1000, "FocalPlaneXResolution")
