"""The rows of a brief: what an exercise may ask, and whether rows contradict each other. Pure."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from shootlog.findings import all_findings
from shootlog.reading import QUANTITIES, Kind
from shootlog.wording import written

#: Quantities of a hand-in as a whole, beside those of one frame.
SERIES_QUANTITIES: dict[str, Kind] = {
    "count": Kind("frames handed in", style=".0f", brief=True),
    "time_span_s": Kind("time from first to last frame", "s", "span", brief=True),
    "exposure_spread_ev": Kind("spread of the exposure", "stops", ".2f", brief=True),
    "magnification_step": Kind("smallest step in magnification", "times", "two", brief=True),
    "shortest_pause_s": Kind("shortest time between two frames", "s", "span", brief=True),
    "f_number_count": Kind("number of different f-numbers", style=".0f", brief=True),
}
NEEDS = (
    "manual focus",
    "manual exposure",
    "same exposure",
    "tripod",
    "light directions",
    "ruler frame",
    "uncropped original",
)
LARGEST_COC_MM = 0.035  # the largest circle any maker's table for small cameras uses


class BriefError(ValueError):
    """A brief contradicts itself or names what is not known; the message says which and why."""


@dataclass(frozen=True, kw_only=True)
class Criterion:
    """One row of a brief: a quantity between low and high, or a need."""

    kind: Literal["quantity", "need"]
    quantity: str = ""
    low: float | None = None
    high: float | None = None
    need: str = ""
    words: str = ""

    @property
    def said(self) -> str:
        """The instructor's words, or the row put into words."""
        if self.words:
            return _capital(self.words)
        if self.kind == "need":
            named = f"{self.low:.0f} {self.need}" if self.low is not None else self.need
            return _capital(named)
        kind = kind_of(self.quantity)
        low = in_unit(self.low, kind) if self.low is not None else ""
        high = in_unit(self.high, kind) if self.high is not None else ""
        label = _capital(kind.label)
        if low and low == high:
            return f"{label}: {low}"
        if low and high:
            return f"{label}: {low} to {high}"
        return f"{label}: {low} or more" if low else f"{label}: {high} or less"


def _capital(words: str) -> str:
    """Begin with a capital, but leave an f-number as it is written."""
    return words if words.startswith("f/") else words[:1].upper() + words[1:]


def check(
    criteria: Sequence[Criterion],
    *,
    waived: Collection[str] = (),
    limits: Mapping[str, float] | None = None,
) -> None:
    """Refuse a brief that no frame can meet, or that names what is not known."""
    for row in criteria:
        _check_row(row)
    for slug in [*waived, *(limits or {})]:
        if slug not in all_findings():
            known = ", ".join(all_findings())
            raise BriefError(f"{slug!r} is no finding; the findings are: {known}")
    limit = _joint_limits(criteria)
    _check_depth(limit)
    if _ends(limit, "count")[1] < 2:
        alone = [name for name in SERIES_QUANTITIES if name not in ("count", "f_number_count")]
        asked = next((name for name in alone if name in limit), None)
        if asked:
            label = kind_of(asked).label
            raise BriefError(f"one frame has no {label}: ask for two frames or leave it out")


def _check_row(row: Criterion) -> None:
    if row.kind == "need":
        if row.need not in NEEDS:
            raise BriefError(f"{row.need!r} is no need; the needs are: {', '.join(NEEDS)}")
        return
    if row.quantity not in SERIES_QUANTITIES and not (
        row.quantity in QUANTITIES and QUANTITIES[row.quantity].brief
    ):
        known = ", ".join(brief_quantities())
        raise BriefError(f"a brief cannot ask for {row.quantity!r}; it can for: {known}")
    if row.low is None and row.high is None:
        raise BriefError(f"{row.said}: give a low or a high limit")
    for end in (row.low, row.high):
        if end is not None and not math.isfinite(end):
            raise BriefError(f"{row.quantity}: {end!r} is no limit; give a number")
    if row.low is not None and row.high is not None and row.low > row.high:
        raise BriefError(f"{row.quantity}: low {row.low:g} is more than high {row.high:g}")


def brief_quantities() -> dict[str, Kind]:
    """Return what a row may ask for, name and kind, for the choices of a page."""
    return {n: k for n, k in QUANTITIES.items() if k.brief} | SERIES_QUANTITIES


def _joint_limits(criteria: Sequence[Criterion]) -> dict[str, tuple[float, float]]:
    """Return the one range each quantity is left with when all rows hold."""
    limit: dict[str, tuple[float, float]] = {}
    for row in criteria:
        if row.kind != "quantity":
            continue
        low, high = limit.get(row.quantity, (-math.inf, math.inf))
        low = max(low, -math.inf if row.low is None else row.low)
        high = min(high, math.inf if row.high is None else row.high)
        if low > high:
            raise BriefError(
                f"two rows ask for {kind_of(row.quantity).label} of at least {low:g} and at most "
                f"{high:g}: no frame has both"
            )
        limit[row.quantity] = (low, high)
    return limit


def _ends(limit: Mapping[str, tuple[float, float]], name: str) -> tuple[float, float]:
    return limit.get(name, (-math.inf, math.inf))


def _check_depth(limit: Mapping[str, tuple[float, float]]) -> None:
    """Refuse more depth than light allows: 2 N_e c / m^2 at the ends that give most."""
    wanted, smallest = _ends(limit, "depth_of_field_mm")[0], _ends(limit, "magnification")[0]
    largest = _ends(limit, "effective_f_number")[1]
    if wanted > 0 and smallest > 0 and math.isfinite(largest):
        most = 2 * largest * LARGEST_COC_MM / smallest**2
        if wanted > most:
            raise BriefError(
                f"at magnification {smallest:g} and f/{largest:g} effective no frame is deeper "
                f"than {most:.2g} mm; the brief asks for {wanted:g} mm"
            )


def kind_of(name: str) -> Kind:
    return SERIES_QUANTITIES.get(name) or QUANTITIES[name]


def in_unit(value: float, kind: Kind) -> str:
    if kind.style == "span":
        return f"{value / 60:.0f} min" if value >= 120 else f"{value:.0f} s"
    text = written(value, kind.style)
    own_unit = kind.style in ("seconds", "f", "ratio", "share")
    return text if own_unit or kind.unit in ("", "times") else f"{text} {kind.unit}"
