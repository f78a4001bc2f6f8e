"""Recorded + set-up + evidence -> Reading: the numbers, their ranges, their origins. Pure.

Each step fills its own quantities; what the opening makes of light and depth is `light_and_depth`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from optics.circle_of_confusion import coc_mm_from_diagonal, coc_mm_from_print
from optics.shake import longest_exposure_s
from shootlog.by_itself import by_itself
from shootlog.cameras import sensor_width_candidates, settle
from shootlog.light_and_depth import fill_light_and_depth
from shootlog.magnification import Found, Span, find_magnification
from shootlog.opening import find_opening
from shootlog.question import one_question
from shootlog.reading import Origin, Quantity, Reading
from shootlog.recorded import Recorded
from shootlog.set_up import SetUp

PRINT_COC_MM = 0.2  # what the eye resolves at 25 cm, 5 line pairs for a millimetre
DIVISOR = 1500.0
#: Stops a stabiliser may bring far away, and how they melt to life size: one maker's claim.
STABILISER_STOPS, STABILISER_STOPS_LOST = 4.0, 2.0


def work_out(
    recorded: Recorded,
    set_up: SetUp | None = None,
    evidence: Mapping[str, Any] | None = None,
    *,
    subject_depth_mm: float | None = None,
    support: str | None = None,
    finished_width_mm: float | None = None,
    light: Sequence[str] | None = None,
) -> Reading:
    """Work out everything that can be known of one frame; what cannot be known stays out.

    `finished_width_mm` is the width of the print for which sharpness is judged, `light` the
    directions the student told.
    """
    set_up = set_up or SetUp()
    seen = evidence or {}
    q: dict[str, Quantity] = {}
    _recorded(q, recorded, set_up)
    doubt = _sensor(q, recorded, set_up)
    _circle_of_confusion(q, recorded, finished_width_mm)
    _pixels(q, seen)
    found = find_magnification(
        recorded,
        set_up,
        in_frame_px_per_mm=_ruler_span(seen),
        file_pixel_um=_span(q.get("file_pixel_um")),
    )
    if found.magnification:
        _closeness(q, found)
    opening = find_opening(recorded, set_up, found)
    depth = _positive(subject_depth_mm)
    if depth:
        q["subject_depth_mm"] = Quantity.exactly(depth, "told", "depth of the subject, told")
    if opening and found.magnification:
        fill_light_and_depth(q, opening, found.magnification, depth)
    elif "f_number" in q and _holds_what_the_sensor_saw(recorded, set_up):
        q["effective_f_number"] = q["f_number"]
    _shake(q, recorded, found)
    facts = _facts(recorded, set_up, seen, support, light, finished_width_mm)
    facts |= {"sensor_doubt": doubt, "disagreement": found.disagreement}
    kept = {name: value for name, value in facts.items() if value is not None}
    asked = one_question(q, kept, recorded, found)
    return Reading(q, kept, found.routes, asked)


def _holds_what_the_sensor_saw(recorded: Recorded, set_up: SetUp) -> bool:
    """Say whether the recorded number is effective, whatever the distance was."""
    habit = set_up.records_f_number or recorded.f_number_habit
    added = set_up.tube_mm or set_up.teleconverter or set_up.reversed
    return habit == "effective" and not added


def _positive(value: float | None, most: float = 1e6) -> float | None:
    return value if value and math.isfinite(value) and 0 < value <= most else None


def _span(quantity: Quantity | None) -> Span | None:
    return Span(quantity.low, quantity.value, quantity.high) if quantity else None


def _recorded(q: dict[str, Quantity], recorded: Recorded, set_up: SetUp) -> None:
    for name in ("f_number", "exposure_s", "iso", "focal_length_mm", "digital_zoom_ratio"):
        value = _positive(getattr(recorded, name), 1e7)
        if value:
            q[name] = Quantity.exactly(value, "recorded", recorded.origins.get(name, ""))
    if recorded.exposure_bias_ev is not None and abs(recorded.exposure_bias_ev) < 20:
        tag = recorded.origins.get("exposure_bias_ev", "")
        q["exposure_bias_ev"] = Quantity.exactly(recorded.exposure_bias_ev, "recorded", tag)
    if set_up.focal_length_mm:
        q["focal_length_mm"] = Quantity.exactly(set_up.focal_length_mm, "told", "set-up")
    distance_m = _positive(recorded.subject_distance_m, 1e4)
    if distance_m:
        tag = recorded.origins.get("subject_distance_m", "")
        q["subject_distance_mm"] = Quantity.exactly(distance_m * 1000, "recorded", tag)


def _sensor(q: dict[str, Quantity], recorded: Recorded, set_up: SetUp) -> str | None:
    """Fill sensor width and pixel pitch; return the doubt where the routes contradict."""
    file_px = max(recorded.width_px or 0, recorded.height_px or 0)
    camera_px = max(recorded.recorded_width_px or 0, recorded.recorded_height_px or 0) or file_px
    told = set_up.sensor_width_mm
    if told is None and set_up.pixel_pitch_um and camera_px:
        told = set_up.pixel_pitch_um * camera_px / 1000
    best, rivals = settle(sensor_width_candidates(recorded, told))
    if best is None or not best.low <= best.width_mm <= best.high or best.low <= 0:
        return None
    origin: Origin = best.origin  # type: ignore[assignment]
    value = None if rivals else best.width_mm
    width = Quantity(value, best.low, best.high, origin, best.from_, (origin,))
    q["sensor_width_mm"] = width
    if camera_px:
        q["pixel_pitch_um"] = _scaled(width, 1000 / camera_px, "sensor width over pixels")
    if set_up.pixel_pitch_um:
        q["pixel_pitch_um"] = Quantity.exactly(set_up.pixel_pitch_um, "told", "set-up")
    if file_px:
        _file_pixel(q, width, file_px, camera_px)
    if not rivals:
        return None
    routes = [f"{best.width_mm:.3g} mm ({best.from_})"]
    routes += [f"{r.width_mm:.3g} mm ({r.from_})" for r in rivals]
    return " or ".join(routes)


def _scaled(quantity: Quantity, factor: float, from_: str) -> Quantity:
    value = quantity.value * factor if quantity.value is not None else None
    ends = (quantity.low * factor, quantity.high * factor)
    return Quantity(value, *ends, "worked out", from_, tuple(quantity.rests_on))


def _file_pixel(q: dict[str, Quantity], width: Quantity, file_px: int, camera_px: int) -> None:
    """Fill what one pixel of this file spans on the sensor: a smaller file may be cut or shrunk."""
    shrunk = _scaled(width, 1000 / file_px, "sensor width over this file's pixels")
    if abs(file_px - camera_px) <= 0.02 * camera_px:
        q["file_pixel_um"] = shrunk
        return
    ends = (shrunk.low, shrunk.high, 1000 * width.low / camera_px, 1000 * width.high / camera_px)
    words = "this file was cut or resized: not known which"
    basis = tuple(width.rests_on)
    q["file_pixel_um"] = Quantity(None, min(ends), max(ends), "worked out", words, basis)


def _circle_of_confusion(
    q: dict[str, Quantity], recorded: Recorded, finished_width_mm: float | None
) -> None:
    width = q.get("sensor_width_mm")
    if width is None:
        return
    printed = _positive(finished_width_mm)

    def coc_um(width_mm: float) -> float:
        if printed:
            return 1000 * coc_mm_from_print(PRINT_COC_MM, printed / width_mm)
        return 1000 * coc_mm_from_diagonal(width_mm * _diagonal_over_width(recorded), DIVISOR)

    words = f"0.2 mm on a print {printed:g} mm wide" if printed else "frame diagonal / 1500"
    value = coc_um(width.value) if width.value is not None else None
    ends = (coc_um(width.low), coc_um(width.high))
    q["coc_um"] = Quantity(value, *ends, "assumed", words, tuple(width.rests_on))


def _diagonal_over_width(recorded: Recorded) -> float:
    sides = sorted((recorded.width_px or 3, recorded.height_px or 2))
    return math.hypot(*sides) / sides[1] if sides[0] > 0 else 1.2


def _pixels(q: dict[str, Quantity], seen: Mapping[str, Any]) -> None:
    names = (
        "sharp_share", "wanted_sharp_share", "wanted_round_share", "moved_px",
        "blur_px", "crisp_px", "soft_way_px", "smear_px", "smear_angle_deg",
        "clipped_share", "clipped_in_sharp_share", "glint_share",
        "blocked_share", "blocked_inside_share",
        "mean_luminance", "contrast", "noise_sigma", "noise_expected_sigma",
        "banding_period_px", "banding_share",
    )  # fmt: skip
    for name in names:
        value = seen.get(name)
        if not isinstance(value, int | float) or not math.isfinite(value):
            continue
        stem = name.removesuffix("_px")
        low, high = seen.get(f"{stem}_low_px"), seen.get(f"{stem}_high_px")
        low = value if low is None else min(low, value)
        high = value if high is None else max(high, value)
        q[name] = Quantity(float(value), low, high, "measured", "pixels", ("measured",))
    _wanted_blur(q, seen)
    if stands := (seen.get("dust") or {}).get("frames"):
        q["dust_frames"] = Quantity.exactly(stands, "measured", "this camera's last frames")
    ruler = seen.get("ruler") or {}
    span = _ruler_span(seen)
    if span:
        ends = (span.mid, span.low, span.high)
        q["ruler_px_per_mm"] = Quantity(*ends, "measured", "millimetre ticks", ("measured",))
        if ruler.get("tilt_deg") is not None:
            q["ruler_tilt_deg"] = Quantity.exactly(ruler["tilt_deg"], "measured", "ticks")


def _wanted_blur(q: dict[str, Quantity], seen: Mapping[str, Any]) -> None:
    """A range, and within it one number only where the picture shows one."""
    low, high = seen.get("wanted_blur_low_px"), _positive(seen.get("wanted_blur_high_px"))
    if low is None or high is None or not 0.0 <= low <= high:
        return
    value = _positive(seen.get("wanted_blur_px"))
    if value is not None:
        value = min(max(value, low), high)
    words = "rings of the spectrum in the wanted place"
    q["wanted_blur_px"] = Quantity(value, low, high, "measured", words, ("measured",))


def _ruler_span(seen: Mapping[str, Any]) -> Span | None:
    ruler = seen.get("ruler") or {}
    value = _positive(ruler.get("px_per_mm"))
    if value is None:
        return None
    low, high = _positive(ruler.get("low")), _positive(ruler.get("high"))
    return Span(min(low or value, value), value, max(high or value, value))


def _closeness(q: dict[str, Quantity], found: Found) -> None:
    magnification = found.magnification
    if magnification is None:
        return
    q["magnification"] = magnification
    basis = tuple(magnification.rests_on)
    lens = found.lens_alone
    if lens and lens.high > 0:
        words = "without tubes, close-up lens and converter"
        q["lens_magnification"] = Quantity(
            lens.mid, lens.low, lens.high, "worked out", words, basis
        )
    width = q.get("sensor_width_mm")
    if width and magnification.low > 0:
        best = None
        if width.value is not None and magnification.value:
            best = width.value / magnification.value
        q["subject_width_mm"] = Quantity(
            best, width.low / magnification.high, width.high / magnification.low,
            "worked out", "sensor width over magnification", tuple({*basis, *width.rests_on}),
        )  # fmt: skip


def _shake(q: dict[str, Quantity], recorded: Recorded, found: Found) -> None:
    """Fill the longest exposure by hand: the rule of the focal length, taken close up.

    Far away it is one over the focal length for a whole frame of 36 x 24 mm; turning the
    camera smears 1 + m times as much close up.
    """
    coc, focal, m = q.get("coc_um"), q.get("focal_length_mm"), found.magnification
    if coc is None or focal is None or m is None:
        return

    def limit(coc_um: float, magnification: float) -> float:
        return longest_exposure_s(coc_um, focal.middle, magnification)

    low = limit(coc.low, m.high)
    high = limit(coc.high, m.low)
    value = None
    if coc.value is not None and m.value is not None:
        value = limit(coc.value, m.value)
    words = "focal length and magnification"
    if recorded.stabiliser == "on":
        stops = STABILISER_STOPS - STABILISER_STOPS_LOST * min(1.0, m.low)
        high, value, words = high * 2**stops, None, f"{words}, stabiliser on"
    basis = tuple({*m.rests_on, "recorded"})
    q["shake_limit_s"] = Quantity(value, low, high, "worked out", words, basis)


def _facts(
    recorded: Recorded,
    set_up: SetUp,
    seen: Mapping[str, Any],
    support: str | None,
    light: Sequence[str] | None,
    finished_width_mm: float | None,
) -> dict[str, Any]:
    copied = (
        "file_type", "make", "model", "lens", "software", "taken_at", "has_exif",
        "has_maker_note", "edit_history", "composite", "width_px", "height_px",
        "recorded_width_px", "recorded_height_px", "exposure_mode", "exposure_program",
        "focus_mode", "flash_fired", "white_balance", "stabiliser", "shutter_type",
    )  # fmt: skip
    facts: dict[str, Any] = {name: getattr(recorded, name) for name in copied}
    measured = (
        "smear_where", "smear_share", "smear_alike", "smear_low_px", "smear_high_px",
        "moved_elsewhere", "blur_low_px", "blur_high_px", "shadow_side",
    )  # fmt: skip
    facts |= {name: seen.get(name) for name in measured}
    facts["crops"] = seen.get("crops") or None
    facts["by_itself"] = by_itself(recorded) or None
    facts["dust_beside"] = (seen.get("dust") or {}).get("beside")
    facts["has_exposure"] = bool(recorded.exposure_s or recorded.f_number or recorded.iso)
    facts["support"] = support or set_up.support
    facts["light"] = ([light] if isinstance(light, str) else list(light)) if light else None
    facts["f_number_habit"] = set_up.records_f_number or recorded.f_number_habit
    facts["coc_convention"] = "print" if _positive(finished_width_mm) else "diagonal/1500"
    has_ruler = bool(_ruler_span(seen) or set_up.ruler_magnification)
    facts["ruler_frame"] = True if has_ruler else None
    return facts
