"""What stood in front of the sensor, as the student told it. Pure: no Django, no files."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

SUPPORTS = ("tripod", "hand", "rail", "bag")


class SetUpError(ValueError):
    """A set-up value is out of its range; the message names it and the way out."""


@dataclass(frozen=True, kw_only=True)
class SetUp:
    """The keys of a set-up file (design contract 5.2); None where nothing was told."""

    body: str | None = None
    lens: str | None = None
    focal_length_mm: float | None = None
    tube_mm: float | None = None  # all rings together
    close_up_dioptre: float | None = None  # all close-up lenses together
    teleconverter: float | None = None
    reversed: bool | None = None
    ring_magnification: float | None = None  # the mark on the focus ring, before tubes
    ruler_magnification: float | None = None  # measured with everything mounted
    ruler_low: float | None = None
    ruler_high: float | None = None
    pupil_magnification: float | None = None
    records_f_number: str | None = None  # "marked" | "effective"
    pixel_pitch_um: float | None = None
    sensor_width_mm: float | None = None
    support: str | None = None  # one of SUPPORTS

    _ranges = {
        "focal_length_mm": (1, 3000),
        "tube_mm": (0, 1000),
        "close_up_dioptre": (0, 50),
        "teleconverter": (1, 4),
        "ring_magnification": (0, 30),
        "ruler_magnification": (0.001, 100),
        "ruler_low": (0.001, 100),
        "ruler_high": (0.001, 100),
        "pupil_magnification": (0.05, 20),
        "pixel_pitch_um": (0.3, 50),
        "sensor_width_mm": (1, 120),
    }

    @classmethod
    def from_mapping(cls, values: Mapping[str, Any]) -> SetUp:
        """Check and take a mapping (a TOML file, a form, JSON); unknown keys are refused."""
        known = {f.name for f in fields(cls)}
        strange = sorted(set(values) - known)
        if strange:
            raise SetUpError(
                f"set-up key {strange[0]!r} is not known; known keys: {', '.join(sorted(known))}"
            )
        return cls(**{k: cls._checked(k, v) for k, v in values.items() if v is not None})

    @classmethod
    def _checked(cls, key: str, value: Any) -> Any:
        if key in cls._ranges:
            low, high = cls._ranges[key]
            if isinstance(value, bool) or not isinstance(value, int | float):
                raise SetUpError(f"{key} = {value!r} is no number; give {low} to {high}")
            if not (math.isfinite(value) and low <= value <= high):
                raise SetUpError(f"{key} = {value!r} is outside {low} to {high}")
            return float(value)
        if key == "reversed":
            if not isinstance(value, bool):
                raise SetUpError(f"reversed = {value!r}; give true or false")
            return value
        if key == "support" and value not in SUPPORTS:
            raise SetUpError(f"support = {value!r}; give one of {', '.join(SUPPORTS)}")
        if key == "records_f_number" and value not in ("marked", "effective"):
            raise SetUpError(f"records_f_number = {value!r}; give 'marked' or 'effective'")
        if not isinstance(value, str):
            raise SetUpError(f"{key} = {value!r} is no text")
        return value
