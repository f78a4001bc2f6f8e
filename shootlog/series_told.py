"""Which findings of a series are said, which wait and which somebody set aside. Pure.

The check's own result is kept whole; a page is given what is left when everything that is not
said is taken out, so that a drawing never tells what the words hold back.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from typing import Any

ALSO_AT_MOST = 2

#: What of a check's result belongs to which finding, beside its words.
SHOWN_BY = {
    "stack-gap": "gaps",
    "exposure-jump": "exposure_jumps",
    "colour-jump": "colour_jumps",
    "stack-moved": "moved",
    "framing-moved": "moved",
    "stack-order": "out_of_order",
    "stack-unlike": "unmatched",
    "stack-softened": "softened",
}


@dataclass(frozen=True, kw_only=True)
class SeriesTold:
    """Findings 'yes' of a series as the check wrote them, sorted by who hears of them."""

    said: list[dict[str, Any]]  # the first is the point, the rest stand folded beside it
    held: list[tuple[dict[str, Any], str]]  # with why it is held
    aside: list[dict[str, Any]]

    @property
    def not_said(self) -> set[str]:
        return {f["finding"] for f in self.aside} | {f["finding"] for f, _ in self.held}


def told_of(
    result: Mapping[str, Any],
    *,
    waived: Collection[str] = (),
    aside: Collection[str] = (),
    why_held: Callable[[str, str], str] | None = None,
) -> SeriesTold:
    """Sort a check's findings; `why_held(slug, topic)` says in words why one waits, or nothing."""
    yes = [f for f in result.get("findings", []) if f["answer"] == "yes"]
    yes = [f for f in yes if f["finding"] not in waived]
    stands = [f for f in yes if f["finding"] not in aside]
    held = [(f, why_held(f["finding"], f.get("topic", "")) if why_held else "") for f in stands]
    free = [f for f, why in held if not why]
    said, rest = free[: 1 + ALSO_AT_MOST], free[1 + ALSO_AT_MOST :]
    return SeriesTold(
        said=said,
        held=[
            *((f, why) for f, why in held if why),
            *((f, "Three others come before it.") for f in rest),
        ],
        aside=[f for f in yes if f["finding"] in aside],
    )


def without(result: Mapping[str, Any], slugs: Collection[str]) -> dict[str, Any]:
    """Return the result with what these findings would show taken out."""
    empty: dict[str, list[Any]] = {SHOWN_BY[slug]: [] for slug in slugs if slug in SHOWN_BY}
    return {key: empty.get(key, value) for key, value in result.items()}
