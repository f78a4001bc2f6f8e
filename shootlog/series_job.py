"""Background work on series: look at the frames together, keep what was found.

A series is looked at from the pictures that were made when its frames were read, so that no
original is decoded twice and nothing foreign is opened here. Each job may be killed anywhere and
run again with the same result; what was found is written in one short transaction at the end.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import numpy as np
from django.conf import settings
from django.db import transaction
from django.dispatch import receiver
from django.utils import timezone
from django_tasks import TaskResultStatus, task
from django_tasks.signals import task_finished

from shootlog import store
from shootlog.best_aperture import keep_best_aperture
from shootlog.intake.proof import write_proof
from shootlog.intake.shots import shot_of_picture
from shootlog.intake.tags import Unreadable
from shootlog.models import Camera, Flag, Frame, Job, KeptPlan, Series
from shootlog.reading import Reading
from shootlog.recorded import Recorded
from shootlog.series import check
from shootlog.series.as_given import unreadable_words
from shootlog.series.ruler_beside import MOST_FRAMES
from shootlog.series.shot import Shot, in_time_order

#: A gear ladder is the same subject larger from frame to frame; coming closer is not its point.
ASKED_AS = {"ladder": "approach"}
FAULT = (
    "These frames are all kept, but looking at them together broke off. That is a fault of this "
    "log, not of the frames; whoever runs the log finds it in the log of the worker."
)


@task
def read_series(series_id: int) -> None:
    """Check a series whose frames are all read; one that still waits is asked again later."""
    row = Series.objects.settled().filter(pk=series_id, confirmed=True).first()
    if row is None:  # deleted meanwhile, or a frame is being read again
        return
    Series.objects.filter(pk=series_id).update(state=Series.State.READING)
    check_series(row)


def check_series(row: Series) -> None:
    """Look at the frames together and write down result, proof and flags."""
    frames = [place.frame for place in row.places.select_related("frame").order_by("position")]
    shots, unreadable = _shots(row, frames)
    told = _told(row, frames)
    result = None
    if shots:
        result = check(ASKED_AS.get(row.kind, row.kind), shots, told)
        result = _named(result, row, frames, shots)
        result["unreadable"] = unreadable
        result["proof"] = _keep_proof(row, shots)
    row.check_result = result
    row.trouble = _trouble(result, unreadable, len(shots))
    row.state = Series.State.READY if shots else Series.State.UNREADABLE
    row.read_version = settings.VERSION
    with transaction.atomic():
        # an update, not a save: a series deleted meanwhile must not come back
        kept = Series.objects.filter(pk=row.pk).update(
            check_result=row.check_result,
            trouble=row.trouble,
            state=row.state,
            read_version=row.read_version,
        )
        if kept:
            _raise_flags(row, result["findings"] if result else [])
            keep_best_aperture(row)
    if not kept:
        store.remove_folder(row.shown_key)


@receiver(task_finished)
def give_up(sender: Any, task_result: Any, **kwargs: Any) -> None:
    """After the last attempt the series says why, instead of waiting for ever."""
    if task_result.task.func is not read_series.func:
        return
    if task_result.status == TaskResultStatus.FAILED:
        Series.objects.filter(pk=task_result.args[0]).update(
            state=Series.State.UNREADABLE, trouble=FAULT
        )


def ask_for(series: Iterable[Series]) -> None:
    """Ask for a check of those of these series whose frames are all read; once each."""
    for row in series:
        waiting = Job.objects.filter(
            task=read_series.module_path, args=[row.pk], state=Job.State.WAITING
        )
        if not waiting.exists():
            Series.objects.filter(pk=row.pk).update(state=Series.State.WAITING)
            read_series.enqueue(row.pk)


def ask_for_series_of(frame: Frame) -> None:
    """A frame was read or told more of: its series are looked at again once all are read."""
    ask_for(Series.objects.settled().filter(frames=frame, confirmed=True))


def ask_for_series_from(camera: Camera) -> None:
    """A clock was put right: its series may stand in another order now."""
    ask_for(Series.objects.settled().filter(frames__camera=camera, confirmed=True).distinct())


def put_together(*, owner: Any, kind: str, frames: list[Frame], name: str = "", **told: Any):
    """Make a series of these frames and have it looked at; an offer of the same is settled."""
    with transaction.atomic():
        Series.objects.owned_by(owner).offered().filter(frames__in=frames).delete()
        row = Series.objects.of_frames(owner=owner, kind=kind, frames=frames, name=name, **told)
        ask_for(Series.objects.settled().filter(pk=row.pk))
    return row


def lay_beside(plan: KeptPlan, row: Series) -> None:
    """Tell a series what was planned for it and have it looked at again with that."""
    with transaction.atomic():
        plan.lay_beside(row)
        ask_for(Series.objects.settled().filter(pk=row.pk, confirmed=True))


def tell_series(row: Series, **told: Any) -> None:
    """Keep what the owner told of the whole series, and look at it again. None takes it back."""
    kept = {k: v for k, v in (row.told | told).items() if v is not None}
    with transaction.atomic():
        Series.objects.filter(pk=row.pk).update(told=kept)
        ask_for(Series.objects.settled().filter(pk=row.pk, confirmed=True))


def _shots(row: Series, frames: list[Frame]) -> tuple[list[Shot], list[dict[str, Any]]]:
    """One frame after another, each kept as small arrays; and the words on those that are not."""
    shots, unreadable = [], []
    apertures = row.kind == Series.Kind.APERTURES
    ruled = apertures and len(frames) <= MOST_FRAMES  # on a ruler beside it the depth is measured
    for k, frame in enumerate(frames):
        try:
            if not frame.is_readable or frame.recorded is None:
                raise Unreadable(frame.trouble or f"{frame} can't be opened as a picture.")
            shots.append(shot_of(frame, keep_picture=ruled))
        except (Unreadable, FileNotFoundError) as trouble:
            words = str(trouble) if isinstance(trouble, Unreadable) else f"{frame} has no picture."
            unreadable.append(
                {"place": k + 1, "frame": frame.pk, "file": str(frame), "error": words}
            )
    return (_at_full_detail(frames, shots) if apertures else shots), unreadable


def _at_full_detail(frames: list[Frame], shots: list[Shot]) -> list[Shot]:
    """What an aperture costs shows in the finest detail: the maps of the frames themselves."""
    of = {str(frame.pk): frame for frame in frames}
    details = [_full_detail(of[shot.file]) for shot in shots]
    if any(detail is None for detail in details):
        return shots
    return [replace(s, detail=detail) for s, detail in zip(shots, details, strict=True)]


def _full_detail(frame: Frame) -> Any:
    try:
        with (
            store.store().open(f"{frame.shown_key}/map.npz") as file,
            np.load(io.BytesIO(file.read())) as kept,
        ):
            return kept["detail"].astype(np.float32)
    except (FileNotFoundError, KeyError, ValueError):
        return None


def shot_of(frame: Frame, picture: str = "screen.jpg", keep_picture: bool = False) -> Shot:
    """A frame that was read, by the class's clock, so that two cameras interleave rightly."""
    at = timezone.localtime(frame.taken_at).replace(tzinfo=None) if frame.taken_at else None
    recorded = frame.what_was_recorded or Recorded()
    recorded = replace(recorded, taken_at=at.isoformat() if at else None)
    with store.store().open(f"{frame.shown_key}/{picture}") as file:
        return shot_of_picture(
            file,
            file=str(frame.pk),
            recorded=recorded,
            reading=frame.what_was_read or Reading(),
            size=frame.size_as_seen,
            keep_picture=keep_picture,
        )


def _told(row: Series, frames: list[Frame]) -> dict[str, Any]:
    """What was told of the series, and of its frames where it counts for all of them."""
    told = dict(row.told)
    directions = [_direction(frame) for frame in frames if frame.is_readable]
    if any(directions):
        told.setdefault("directions", directions)
    wanted = [frame.wanted_area for frame in frames if frame.wanted_area]
    if wanted:
        told.setdefault("subject_box", wanted[len(wanted) // 2])
    return told


def _direction(frame: Frame) -> str | None:
    light = (frame.told or {}).get("light")
    return light if isinstance(light, str) or not light else ", ".join(light)


def _named(
    result: dict[str, Any], row: Series, frames: list[Frame], shots: list[Shot]
) -> dict[str, Any]:
    """Put names for people where the check carried the frames' keys."""
    names = {str(frame.pk): str(frame) for frame in frames}
    for frame in result["frames"]:
        frame["frame"] = int(frame["file"])
        frame["file"] = names[frame["file"]]
    if row.kind == "ladder":
        result["findings"] = []
        result["words"] = _ladder_words(result)
    if row.animal_left:  # no step can be asked of an animal that is gone
        result["findings"] = []
        result["words"] = "The animal left: a good end. These are the steps it allowed."
    sizes = sorted({(shot.width_px, shot.height_px) for shot in shots})
    if len(sizes) > 1:
        result["sizes"] = [list(size) for size in sizes]
    return result | {"kind": row.kind}


def _ladder_words(result: dict[str, Any]) -> str:
    known = [step for step in result["scale_steps"] if step]
    if not known:
        return "How much larger each frame is than the one before can't be told."
    return f"From frame to frame {min(known):.2f} to {max(known):.2f} times as large."


def _keep_proof(row: Series, shots: list[Shot]) -> bool:
    """Keep the proof picture of a stack in the store; True where there is one."""
    if row.kind not in ("stack", "landscape") or len(shots) < 2:
        return False
    with store.arriving_folder() as folder:
        made = write_proof(folder / "proof.png", in_time_order(shots)[0])
        if made is None:
            store.remove(row.proof_key)
            return False
        store.keep(folder / "proof.png", row.proof_key)
    return True


def _trouble(result: dict[str, Any] | None, unreadable: list[dict[str, Any]], left: int) -> str:
    """What stands in the way, in words, with the way out."""
    if not left and not unreadable:
        return "No frame is left in this series."
    said = [unreadable_words(unreadable, left), (result or {}).get("trouble", "")]
    return " ".join(words for words in said if words)


def _raise_flags(row: Series, findings: list[dict[str, Any]]) -> None:
    """Make the flags follow the findings. A flag a person set aside stays set aside."""
    raised = {found["finding"]: found for found in findings if found["answer"] == "yes"}
    row.flags.filter(set_aside_at=None).exclude(finding__in=raised).delete()
    for slug, found in raised.items():
        Flag.objects.update_or_create(
            series=row,
            finding=slug,
            defaults={
                "sure": found["sure"],
                "numbers": found["numbers"],
                "made_by_version": settings.VERSION,
            },
        )
