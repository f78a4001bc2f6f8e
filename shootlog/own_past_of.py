"""Gathers one person's own past from the log, in a fixed number of queries."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db.models import Q
from django.utils import timezone

from shootlog.models import Frame, KeptSetUp, Series
from shootlog.own_past import Burst, HandFrame
from shootlog.set_up import SUPPORTS

MOST_BURSTS = 60
MOST_FRAMES = 2000  # the newest by hand; older ones say little about the hand of today


def bursts_of(user: Any) -> list[Burst]:
    """The bursts that were looked at, oldest first."""
    rows = (
        Series.objects.owned_by(user)
        .filter(kind=Series.Kind.BURST, confirmed=True, state=Series.State.READY)
        .order_by("-made_at", "-pk")[:MOST_BURSTS]
    )
    found = [_burst(row) for row in rows if (row.check_result or {}).get("of")]
    return sorted(found, key=lambda burst: (burst.day is None, burst.day, burst.pk))


def _burst(row: Series) -> Burst:
    result = row.check_result or {}
    at = next((f["taken_at"] for f in result["frames"] if f["taken_at"]), None)
    day = datetime.fromisoformat(at).date() if at else None
    return Burst(
        pk=row.pk,
        name=str(row),
        day=day or timezone.localtime(row.made_at).date(),
        hits=result["hits"],
        of=result["of"],
        place=result.get("place", ""),
    )


def hand_frames_of(user: Any) -> list[HandFrame]:
    """The newest frames told as shot by hand, with what is known of each."""
    by_hand = Q(told__support="hand") | Q(reading__facts__support="hand")
    rows = (
        Frame.objects.owned_by(user)
        .filter(by_hand, state=Frame.State.READY)
        .order_by("-received_at", "-pk")
        .values_list(
            "pk",
            "reading__exposure_s__value",
            "reading__magnification__value",
            "reading__smear_px__value",
        )[:MOST_FRAMES]
    )
    hits = _hits_of(user)
    return [
        HandFrame(exposure_s=exposure, magnification=size, smear_px=smear, hit=pk in hits)
        for pk, exposure, size, smear in rows
    ]


def _hits_of(user: Any) -> set[int]:
    """The frames that were hits of a burst."""
    checked = Series.objects.owned_by(user).filter(kind=Series.Kind.BURST, confirmed=True)
    results = checked.order_by("-made_at", "-pk").values_list("check_result", flat=True)
    hits: set[int] = set()
    for result in results[:MOST_BURSTS]:
        for frame, row in zip(
            (result or {}).get("frames", []), (result or {}).get("per_frame", []), strict=False
        ):
            if row["hit"]:
                hits.add(frame["frame"])
    return hits


def untold_count(user: Any) -> int:
    """Frames in bursts that say nothing about how the camera was held."""
    frames = Frame.objects.owned_by(user).filter(
        series__kind=Series.Kind.BURST, series__confirmed=True, state=Frame.State.READY
    )
    told = frames.filter(reading__facts__support__in=SUPPORTS)
    return frames.exclude(pk__in=told.values("pk")).values("pk").distinct().count()


def best_apertures_of(user: Any) -> list[KeptSetUp]:
    return list(KeptSetUp.objects.offered_to(user).exclude(best_f_number=None))


def companion_of(user: Any) -> Any:
    """The frames of one's companion object, in the order they were taken."""
    return Frame.objects.owned_by(user).filter(told__companion=True).in_time_order()
