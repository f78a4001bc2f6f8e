"""The aperture a series found best, kept with the set-up it was shot with, as the ring shows it."""

from __future__ import annotations

import math
from typing import Any

from shootlog.models import KeptSetUp, Series


def keep_best_aperture(row: Series) -> KeptSetUp | None:
    """Write the best aperture of a checked series onto its set-up; the newest series counts.

    Only where all frames were shot with one set-up and what stands on the ring is known: a number
    that may already be the effective one would be two stops off in a plan.
    """
    if row.kind != Series.Kind.APERTURES or not row.check_result:
        return None
    frames = [place.frame for place in row.places.select_related("frame__set_up")]
    set_ups = {frame.set_up for frame in frames}
    marked = marked_best(row.check_result, {f.pk: f.reading or {} for f in frames})
    if marked is None or len(set_ups) != 1:
        return None
    kept = set_ups.pop()
    if kept is None or _a_newer_one_counts(row, kept):
        return None
    kept.best_f_number = round(marked, 1)
    kept.save(update_fields=["best_f_number"])
    return kept


def marked_best(result: dict[str, Any], readings: dict[int, dict[str, Any]]) -> float | None:
    """The best aperture as the ring shows it, from the frame nearest to it; None if not known."""
    best = result.get("best_f_number")
    if not best:
        return None
    known = []
    for frame, number in zip(result["frames"], result["f_numbers"], strict=True):
        marked = (readings.get(frame["frame"], {}).get("marked_f_number") or {}).get("value")
        if marked and number:
            known.append((abs(math.log(number / best)), marked / number))
    return best * min(known)[1] if known else None


def _a_newer_one_counts(row: Series, kept: KeptSetUp) -> bool:
    """Whether a later aperture series of the same set-up found a best aperture."""
    later = Series.objects.filter(
        kind=Series.Kind.APERTURES, confirmed=True, frames__set_up=kept, made_at__gt=row.made_at
    ).distinct()
    return any((other.check_result or {}).get("best_f_number") for other in later)
