"""A number with its unit on a page, one way of rounding: `{{ reading|quantity:"coc_um" }}`."""

from collections.abc import Mapping
from typing import Any

from django import template

from shootlog.reading import QUANTITIES, Quantity, Reading
from shootlog.wording import Spread

register = template.Library()
WITH_OWN_UNIT = ("seconds", "f", "ratio", "share")


@register.filter
def quantity(reading: Reading | Mapping[str, Any] | None, name: str) -> str:
    """Write one quantity of a reading, kept or live: the best number, else both ends."""
    kind = QUANTITIES[name]
    found = _found(reading, name)
    if found is None:
        return "not known"
    numbers = found.spread if found.value is None else Spread((found.value,))
    text = format(numbers, kind.style)
    return text if kind.style in WITH_OWN_UNIT or not kind.unit else f"{text} {kind.unit}"


@register.filter
def quantity_range(reading: Reading | Mapping[str, Any] | None, name: str) -> str:
    """Write both ends where they differ, else nothing."""
    found = _found(reading, name)
    if found is None or found.value is None:
        return ""
    text = format(found.spread, QUANTITIES[name].style)
    return text if " to " in text else ""


@register.filter
def quantity_label(name: str) -> str:
    return QUANTITIES[name].label


def _found(reading: Reading | Mapping[str, Any] | None, name: str) -> Quantity | None:
    if isinstance(reading, Reading):
        return reading[name]
    kept = (reading or {}).get(name)
    return Quantity.from_json(kept) if kept else None
