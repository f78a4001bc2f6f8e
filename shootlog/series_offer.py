"""Frames that look as if they belong together, offered for one tap; never forced."""

from __future__ import annotations

from datetime import timedelta

from django.db import transaction
from django.utils import timezone
from django_tasks import task

from shootlog.intake.tags import Unreadable
from shootlog.models import Frame, Job, Series
from shootlog.series.grouping import LEAST_FRAMES, group
from shootlog.series.shot import Shot
from shootlog.series_job import shot_of

LOOKED_BACK = timedelta(days=14)
MOST_FRAMES = 400


@task
def offer_series(owner_id: int) -> None:
    """Lay out what belongs together among the frames that came in of late."""
    frames = list(_loose(owner_id).order_by("taken_at", "pk")[:MOST_FRAMES])
    keys, shots = [], []
    for frame in frames:
        shot = _small_shot(frame)
        if shot is not None:
            keys.append(frame.pk)
            shots.append(shot)
    found = {
        (offer.kind, tuple(keys[k] for k in offer.members)): offer.why for offer in group(shots)
    }
    with transaction.atomic():
        for row in Series.objects.filter(owner=owner_id).offered().prefetch_related("places"):
            same = (row.kind, tuple(place.frame_id for place in row.places.all()))
            if found.pop(same, None) is None:
                row.delete()
        known = Frame.objects.in_bulk([pk for _, members in found for pk in members])
        for (kind, members), why in found.items():
            row = Series.objects.of_frames(
                owner=known[members[0]].owner,
                kind=kind,
                frames=[known[pk] for pk in members],
                why=why,
            )
            Series.objects.filter(pk=row.pk).update(confirmed=False)


def ask_for_offers(frame: Frame) -> None:
    """Ask once the last frame that came in is read, and only where there is something to see."""
    unread = (Frame.State.WAITING, Frame.State.READING)
    if Frame.objects.filter(owner=frame.owner_id, state__in=unread).exists():
        return
    if _loose(frame.owner_id).count() < LEAST_FRAMES:
        return
    waiting = Job.objects.filter(
        task=offer_series.module_path, args=[frame.owner_id], state=Job.State.WAITING
    )
    if not waiting.exists():
        offer_series.enqueue(frame.owner_id)


def _loose(owner_id: int):
    """Frames of late that are in no series, and were not said to be single ones."""
    spoken_for = Series.objects.filter(owner=owner_id).exclude(
        pk__in=Series.objects.filter(owner=owner_id).offered()
    )
    return (
        Frame.objects.filter(owner=owner_id, state=Frame.State.READY)
        .filter(received_at__gt=timezone.now() - LOOKED_BACK)
        .exclude(taken_at=None)
        .exclude(recorded__isnull=True)
        .exclude(series__in=spoken_for)
    )


def _small_shot(frame: Frame) -> Shot | None:
    try:
        return shot_of(frame, picture="thumb.jpg")
    except (Unreadable, FileNotFoundError):
        return None
