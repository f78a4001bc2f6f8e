"""The numbers worked out for one frame: a number, a range or nothing, each with its origin.

Every quantity stands here once, with its label, its unit and how it is written; charts, the
choices of a brief and the command's output follow from the line. Pure: no Django, no files.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from shootlog.wording import Spread

Origin = Literal["recorded", "measured", "told", "worked out", "assumed"]
ORIGINS: tuple[Origin, ...] = ("recorded", "measured", "told", "worked out", "assumed")


@dataclass(frozen=True, slots=True)
class Kind:
    """What a quantity is called, its unit, how it is written, whether a brief may ask for it."""

    label: str
    unit: str = ""
    style: str = "two"
    brief: bool = False
    slack: float = 0.0  # what a limit forgives, as a share of it: rounded dials


#: name -> what it is. One line is all a new quantity needs; `work_out` fills it.
QUANTITIES: dict[str, Kind] = {
    # as recorded
    "f_number": Kind("f-number in the file", style="f", brief=True, slack=0.03),
    "exposure_s": Kind("exposure time", "s", "seconds", brief=True, slack=0.03),
    "iso": Kind("ISO", style=".0f", brief=True, slack=0.01),
    "exposure_bias_ev": Kind("exposure compensation", "EV", "+.1f", brief=True),
    "focal_length_mm": Kind("focal length", "mm", ".0f", brief=True, slack=0.01),
    "subject_distance_mm": Kind("distance from the sensor, by the lens", "mm", ".0f"),
    "digital_zoom_ratio": Kind("digital zoom", "times", ".2g"),
    # the sensor
    "sensor_width_mm": Kind("sensor width", "mm", "three"),
    "pixel_pitch_um": Kind("pixel pitch of the camera", "µm"),
    "file_pixel_um": Kind("sensor width under one pixel of this file", "µm"),
    # close-up geometry
    "magnification": Kind("magnification", "times", brief=True),
    "lens_magnification": Kind("magnification of the lens alone", "times"),
    "subject_width_mm": Kind("subject across the long side", "mm", brief=True),
    "subject_depth_mm": Kind("depth of the subject", "mm"),
    # light
    "marked_f_number": Kind("f-number as marked", style="f", brief=True, slack=0.03),
    "effective_f_number": Kind("effective f-number", style="f", brief=True, slack=0.03),
    "light_lost_stops": Kind("light lost by coming close", "stops", ".1f", brief=True),
    # depth and blur
    "coc_um": Kind("circle of confusion", "µm"),
    "depth_of_field_mm": Kind("depth of field", "mm", brief=True),
    "wave_depth_of_field_mm": Kind("depth that light itself allows", "mm"),
    "airy_diameter_um": Kind("smallest spot of light", "µm"),
    "airy_diameter_px": Kind("smallest spot of light", "pixels", ".1f"),
    "diffraction_blur_um": Kind("blur from diffraction alone", "µm"),
    "blur_at_depth_limits_um": Kind("blur at the ends of the depth of field", "µm"),
    "blur_at_subject_ends_um": Kind("blur at the subject's near and far end", "µm"),
    "best_f_number": Kind("effective f-number that holds the subject best", style="f"),
    "shake_limit_s": Kind("longest exposure by hand", "s", "seconds"),
    # from the pixels
    "sharp_share": Kind("share of the frame in the sharp band", "", "share", brief=True),
    "wanted_sharp_share": Kind("share of the wanted area that is sharp", "", "share", brief=True),
    "wanted_blur_px": Kind("blur where it was wanted sharp", style="pixels"),
    "wanted_round_share": Kind("share of the wanted place whose blur is round", "", "share"),
    "moved_px": Kind("smear of what was wanted sharp", "pixels", ".1f"),
    "blur_px": Kind("blur where it is sharpest", style="pixels"),
    "crisp_px": Kind("blur of the sharpest edges, half of the ways they face", style="pixels"),
    "soft_way_px": Kind("blur of the sharpest edges, facing their softest way", style="pixels"),
    "smear_px": Kind("length of the smear", "pixels", ".1f", brief=True),
    "smear_angle_deg": Kind("direction of the smear", "degrees", ".0f"),
    "clipped_share": Kind("share of the frame burnt out", "", "share", brief=True),
    "clipped_in_sharp_share": Kind("share of the sharp part burnt out", "", "share", brief=True),
    "glint_share": Kind("share of the frame that is small glints", "", "share"),
    "blocked_share": Kind("share of the frame blocked up", "", "share", brief=True),
    "blocked_inside_share": Kind("share of the frame black, a black ground left out", "", "share"),
    "mean_luminance": Kind("mean brightness", "", "share", brief=True),
    "contrast": Kind("contrast", "", brief=True),
    "noise_sigma": Kind("noise", "", "three"),
    "noise_expected_sigma": Kind("noise this ISO should give", "", "three"),
    "banding_period_px": Kind("distance between bands", "pixels", ".0f"),
    "banding_share": Kind("depth of the bands", "", "share"),
    "dust_frames": Kind("frames with a dark spot in the same place", "", ".0f"),
    "ruler_px_per_mm": Kind("pixels for one millimetre", "px/mm", "three"),
    "ruler_tilt_deg": Kind("tilt of the ruler", "degrees", ".1f", brief=True),
}


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its range, or a range with no best value in it, and where it comes from.

    `basis` names the kinds of facts it rests on, so that a finding knows how sure it may be.
    """

    value: float | None
    low: float
    high: float
    origin: Origin
    from_: str = ""
    basis: tuple[Origin, ...] = ()

    def __post_init__(self) -> None:
        ends = (self.low, self.high) if self.value is None else (self.low, self.value, self.high)
        if not all(math.isfinite(end) for end in ends) or list(ends) != sorted(ends):
            raise ValueError(f"a quantity needs low <= value <= high, all finite; got {ends!r}")

    @classmethod
    def exactly(cls, value: float, origin: Origin, from_: str = "") -> Quantity:
        """Make a quantity known as one number."""
        number = float(value)
        return cls(number, number, number, origin, from_, (origin,))

    @property
    def rests_on(self) -> frozenset[Origin]:
        return frozenset(self.basis or (self.origin,))

    @property
    def middle(self) -> float:
        """The best single number for a sum where one is needed; never shown as a fact."""
        if self.value is not None:
            return self.value
        if self.low > 0:
            return math.sqrt(self.low * self.high)
        return (self.low + self.high) / 2

    @property
    def spread(self) -> Spread:
        return Spread((self.low, self.high))

    def as_json(self) -> dict[str, Any]:
        return {
            "value": self.value,
            "low": self.low,
            "high": self.high,
            "origin": self.origin,
            "from": self.from_,
            "basis": list(self.basis or (self.origin,)),
        }

    @classmethod
    def from_json(cls, values: Mapping[str, Any]) -> Quantity:
        return cls(
            values["value"],
            values["low"],
            values["high"],
            values["origin"],
            values.get("from", ""),
            tuple(values.get("basis", ())),
        )


@dataclass(frozen=True, slots=True)
class Route:
    """One way to the magnification: its number or why there is none."""

    name: str  # "ruler frame", "maker's tag", ...
    magnification: Quantity | None
    words: str
    used: bool = False

    def as_json(self) -> dict[str, Any]:
        found = self.magnification.as_json() if self.magnification else None
        return {"name": self.name, "magnification": found, "words": self.words, "used": self.used}


@dataclass(frozen=True, slots=True)
class Question:
    """The one thing to ask whose answer would settle most."""

    key: str
    words: str
    settles: tuple[str, ...] = ()
    choices: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        return {
            "key": self.key,
            "words": self.words,
            "settles": list(self.settles),
            "choices": list(self.choices),
        }


#: Facts that are no quantities, carried for findings, briefs and the caption.
FACTS = (
    "file_type", "make", "model", "lens", "software", "taken_at",
    "has_exif", "has_maker_note", "has_exposure", "edit_history", "composite",
    "width_px", "height_px", "recorded_width_px", "recorded_height_px",
    "exposure_mode", "exposure_program", "focus_mode", "flash_fired", "white_balance",
    "stabiliser", "shutter_type", "support", "light", "f_number_habit", "coc_convention",
    "sensor_doubt", "ruler_frame", "smear_where", "smear_share", "smear_alike", "smear_low_px",
    "smear_high_px", "moved_elsewhere", "blur_low_px", "blur_high_px", "shadow_side",
    "disagreement", "crops", "dust_beside", "by_itself",
)  # fmt: skip


@dataclass(frozen=True)
class Reading:
    """Everything worked out for one frame."""

    quantities: Mapping[str, Quantity] = field(default_factory=dict)
    facts: Mapping[str, Any] = field(default_factory=dict)
    routes: Sequence[Route] = ()
    question: Question | None = None

    def __post_init__(self) -> None:
        strange = [*(set(self.quantities) - set(QUANTITIES)), *(set(self.facts) - set(FACTS))]
        if strange:
            raise ValueError(f"no such quantity or fact of a reading: {sorted(strange)[0]!r}")

    def __getitem__(self, name: str) -> Quantity | None:
        if name not in QUANTITIES:
            raise KeyError(f"no such quantity: {name!r}")
        return self.quantities.get(name)

    def value(self, name: str) -> float | None:
        """Return the best number, or None where there is none or only a range."""
        quantity = self[name]
        return quantity.value if quantity else None

    def fact(self, name: str) -> Any:
        if name not in FACTS:
            raise KeyError(f"no such fact: {name!r}")
        return self.facts.get(name)

    def corners(self, names: Iterable[str]) -> Iterator[dict[str, float]]:
        """Yield the named numbers at every combination of the ends of their ranges.

        That bounds the truth where a result rises or falls steadily in each of them.
        """
        known = [(name, self.quantities[name]) for name in names]
        ends = [tuple(dict.fromkeys((q.low, q.high))) for _, q in known]
        for corner in itertools.product(*ends):
            yield {name: end for (name, _), end in zip(known, corner, strict=True)}

    def as_json(self) -> dict[str, Any]:
        """Return the shape of the `read` command: every quantity named, unknown ones None."""
        numbers = {
            name: self.quantities[name].as_json() if name in self.quantities else None
            for name in QUANTITIES
        }
        return numbers | {
            "facts": {name: self.facts.get(name) for name in FACTS},
            "magnification_routes": [route.as_json() for route in self.routes],
            "question": self.question.as_json() if self.question else None,
        }

    @classmethod
    def from_json(cls, values: Mapping[str, Any]) -> Reading:
        """Read back what `as_json` wrote; names of a later or older version are left out."""
        asked = values.get("question")
        return cls(
            quantities={
                name: Quantity.from_json(values[name]) for name in QUANTITIES if values.get(name)
            },
            facts={
                name: value
                for name, value in (values.get("facts") or {}).items()
                if name in FACTS and value is not None
            },
            routes=[
                Route(
                    found["name"],
                    Quantity.from_json(found["magnification"]) if found["magnification"] else None,
                    found["words"],
                    found["used"],
                )
                for found in values.get("magnification_routes") or ()
            ],
            question=Question(
                asked["key"], asked["words"], tuple(asked["settles"]), tuple(asked["choices"])
            )
            if asked
            else None,
        )
