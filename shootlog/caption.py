"""What was really going on in a frame, in one line. Pure: no Django, no files."""

from __future__ import annotations

from shootlog.reading import Quantity, Reading
from shootlog.recorded import Recorded
from shootlog.wording import Spread, f_number

SUPPORT = {"hand": "hand-held", "tripod": "tripod", "rail": "rail", "bag": "bean bag"}
FOCUS = {"manual": "manual focus", "auto": "AF"}
JOINED = ("while shooting", "stacked")
ZOOMED = 1.05  # below this a ratio is rounding
VAGUE = 2.0  # a range wider than this ratio is shown as one
FAR = 0.02  # below this a magnification tells a close-up worker nothing


def caption(recorded: Recorded, reading: Reading) -> str:
    """Return "1:1 · f/16 set = f/32 effective · 1/60 s hand-held · AF · sharp band 1.9 mm"."""
    parts = [
        _magnification(reading["magnification"]),
        _opening(reading),
        _exposure(reading),
        f"ISO {recorded.iso}" if recorded.iso else "",
        "flash" if recorded.flash_fired else "",
        FOCUS.get(recorded.focus_mode or "", ""),
        _written(reading["depth_of_field_mm"], "two", "sharp band {} mm"),
        _zoomed(reading["digital_zoom_ratio"]),
        "exposures joined" if recorded.composite in JOINED else "",
    ]
    return " · ".join(part for part in parts if part)


def _zoomed(quantity: Quantity | None) -> str:
    if quantity is None or quantity.low < ZOOMED:
        return ""
    return _written(quantity, "two", "{} times digital zoom")


def _numbers(quantity: Quantity) -> Spread:
    """Return the best number where the range leaves it one, else both ends."""
    if quantity.value is None or quantity.high > VAGUE * quantity.low:
        return quantity.spread
    return Spread((quantity.value,))


def _written(quantity: Quantity | None, style: str, words: str) -> str:
    return words.format(format(_numbers(quantity), style)) if quantity else ""


def _magnification(quantity: Quantity | None) -> str:
    if quantity is None or quantity.low < 1e-4 and quantity.high > FAR:
        return "magnification not known"
    if quantity.high < FAR:
        return "far away"
    return _written(quantity, "ratio", "{}")


def _opening(reading: Reading) -> str:
    marked, effective = reading["marked_f_number"], reading["effective_f_number"]
    in_file = reading["f_number"]
    if effective is None:
        return f_number(in_file.middle) if in_file else ""
    worked = format(_numbers(effective), "f")
    if reading.fact("f_number_habit") is None and in_file:
        shown = f_number(in_file.middle)
        return shown if worked == shown else f"{shown} in the file = {worked} effective"
    set_on = format(_numbers(marked), "f") if marked else worked
    return worked if set_on == worked else f"{set_on} set = {worked} effective"


def _exposure(reading: Reading) -> str:
    words = _written(reading["exposure_s"], "seconds", "{}")
    support = SUPPORT.get(reading.fact("support") or "", "")
    return f"{words} {support}".strip()
