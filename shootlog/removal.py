"""Deleting frames for good: row, original, and everything that was made from it.

The rows go and a job to take the files out is written down in the same transaction, so that a
process killed in between leaves no file behind for ever. The job may run again.
"""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path

from django.conf import settings
from django.contrib.auth import get_user_model
from django.db import transaction
from django_tasks import task

from shootlog import store
from shootlog.models import Frame, Series, Upload
from shootlog.series_job import ask_for


@transaction.atomic
def remove_frames(frames) -> int:
    """Delete these frames, flags, places in series and all; return how many."""
    going = defaultdict(list)
    for owner_id, pk, sha256 in frames.values_list("owner_id", "pk", "sha256"):
        going[owner_id].append([pk, sha256])
    keys = [pk for each in going.values() for pk, _ in each]
    touched = list(Series.objects.filter(frames__in=keys).distinct())
    Frame.objects.filter(pk__in=keys).delete()
    _look_again(touched)
    for owner_id, each in going.items():
        forget_files.enqueue(owner_id, each)
    return sum(len(each) for each in going.values())


def _look_again(touched) -> None:
    """A proof picture shows a deleted frame too: it goes, and the rest is looked at without it."""
    if not touched:
        return
    forget_keys.enqueue([series.proof_key for series in touched])
    left = Series.objects.filter(pk__in=[series.pk for series in touched])
    left.filter(frames=None).delete()
    left.update(check_result=None, state=Series.State.WAITING)
    ask_for(left.settled())


@task
def forget_files(owner_id: int, frames: list) -> None:
    """Take the files of deleted frames out of the store."""
    for pk, sha256 in frames:
        store.remove_folder(f"shown/{owner_id}/{pk}")
        (Path(settings.ARRIVING) / f"tiles-{pk}.lock").unlink(missing_ok=True)
        _forget_original(owner_id, sha256)


@transaction.atomic
def _forget_original(owner_id: int, sha256: str) -> None:
    """Delete the bytes unless the same ones came in again.

    A row that needs these bytes cannot be written while we look: on SQLite the transaction holds
    the only write lock, on PostgreSQL the lock on the owner holds off rows that point to them.
    """
    get_user_model().objects.select_for_update().filter(pk=owner_id).first()
    if not Frame.objects.filter(owner_id=owner_id, sha256=sha256).exists():
        store.remove(Frame(owner_id=owner_id, sha256=sha256).original_key)


def gone(frame: Frame) -> bool:
    """Whether the frame was deleted while we looked; then what we made of it goes too."""
    if Frame.objects.filter(pk=frame.pk).exists():
        return False
    store.remove_folder(frame.shown_key)
    return True


@task
def forget_keys(keys: list) -> None:
    """Take other files out of the store, such as a voice."""
    for key in keys:
        store.remove(key)


@task
def forget_everything_of(owner_id: int) -> None:
    """Take the whole of what a person who left had in the store."""
    if not Frame.objects.filter(owner_id=owner_id).exists():
        store.remove_folder(f"originals/{owner_id}")
        store.remove_folder(f"shown/{owner_id}")


def forget_uploads(owner) -> None:
    """Forget what this person had half sent."""
    for upload in Upload.objects.owned_by(owner):
        upload.forget()
