"""What the camera wrote, each value with the tag it came from. Pure: no Django, no files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from typing import Any, Literal

Habit = Literal["marked", "effective"]


@dataclass(frozen=True, kw_only=True)
class Recorded:
    """One file's recorded facts. Every value is None where the file does not say.

    Lengths are in the unit of the name; times in seconds; ``taken_at`` is the camera's own
    clock as ISO 8601 without a zone, ``utc_offset`` as "+01:00" where it was written.
    """

    # exposure
    f_number: float | None = None
    exposure_s: float | None = None
    iso: int | None = None
    exposure_mode: Literal["manual", "auto", "bracket"] | None = None
    exposure_program: str | None = None  # "manual", "aperture priority", ...
    exposure_bias_ev: float | None = None
    flash_fired: bool | None = None
    white_balance: Literal["auto", "manual"] | None = None
    # lens and distance
    focal_length_mm: float | None = None
    focal_length_35mm: float | None = None
    max_aperture_f_number: float | None = None
    lens: str | None = None
    lens_make: str | None = None
    lens_shortest_mm: float | None = None  # focal lengths and largest opening the lens has,
    lens_longest_mm: float | None = None  # as its own specification says
    lens_largest_f_number: float | None = None
    subject_distance_m: float | None = None  # inf is written as None + the origin says so
    maker_focus_distance_m: float | None = None
    maker_focus_distance_low_m: float | None = None
    maker_focus_distance_high_m: float | None = None
    maker_magnification: float | None = None
    effective_aperture_ratio: float | None = None  # effective / marked, where the maker tells
    extension_tube: str | None = None  # its name, where the body recognised one
    focus_mode: Literal["manual", "auto"] | None = None
    # body
    make: str | None = None
    model: str | None = None
    body_serial: str | None = None  # never shown to others
    f_number_habit: Habit | None = None  # None: unknown, so a range
    stabiliser: Literal["on", "off"] | None = None
    shutter_type: Literal["mechanical", "electronic first curtain", "electronic"] | None = None
    # time
    taken_at: str | None = None
    utc_offset: str | None = None
    taken_subsec_s: float | None = None  # the fraction after `taken_at`, where it was written
    modified_at: str | None = None  # when the file was last written, by the camera or a program
    # picture
    width_px: int | None = None  # of the stored file, before orientation is applied
    height_px: int | None = None
    recorded_width_px: int | None = None  # what the tags say the camera made
    recorded_height_px: int | None = None
    orientation: int | None = None  # as Exif says it; decoders of HEIC have turned already
    container_turned: int | None = None  # HEIC's own rotation, as an Exif orientation
    focal_plane_pitch_um: float | None = None
    focal_plane_width_mm: float | None = None
    digital_zoom_ratio: float | None = None
    composite: Literal["no", "general", "while shooting", "stacked"] | None = None
    composite_count: int | None = None  # exposures that went into it, where written
    # traces
    file_type: str | None = None  # "JPEG", "HEIC", "DNG", "CR2", ...
    software: str | None = None
    has_exif: bool = False
    has_maker_note: bool = False
    has_position: bool = False  # the position itself is not kept here
    edit_history: bool = False  # XMP history or a derived-from record
    #: field name -> the tag it was read from, e.g. {"f_number": "EXIF FNumber"}
    origins: Mapping[str, str] = field(default_factory=dict)

    def as_json(self) -> dict[str, Any]:
        """Plain values for the database and the API; unknown values are None, none left out."""
        return asdict(self) | {"origins": dict(self.origins)}

    @classmethod
    def from_json(cls, values: Mapping[str, Any]) -> Recorded:
        """Read back what `as_json` wrote; keys of a later version are ignored."""
        known = {f.name for f in fields(cls)}
        return cls(**{k: v for k, v in values.items() if k in known})
