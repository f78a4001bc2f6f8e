"""Readings made by hand for the samples that each finding carries."""

from __future__ import annotations

from typing import Any

from shootlog.reading import QUANTITIES, Origin, Quantity, Reading


def sample(origin: Origin = "measured", **known: Any) -> Reading:
    """Make a reading: a number or a pair of ends is a quantity, all else is a fact."""
    quantities = {}
    for name in known.keys() & QUANTITIES.keys():
        given = known[name]
        low, high = given if isinstance(given, tuple) else (given, given)
        quantities[name] = Quantity(low if low == high else None, low, high, origin)
    facts = {name: value for name, value in known.items() if name not in QUANTITIES}
    return Reading(quantities, facts)
