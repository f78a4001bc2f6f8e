"""Background work on frames: read, work out, keep. Each job may be killed anywhere and run again.

The pixels are decoded in a child process (`intake.cage`) and outside any transaction; what was
found is written in one short one at the end. Running a job twice gives the same rows.
"""

from __future__ import annotations

import logging
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.db import transaction
from django.dispatch import receiver
from django.utils import timezone
from django_tasks import TaskResultStatus, task
from django_tasks.signals import task_finished

from shootlog import store
from shootlog.caption import caption
from shootlog.dust_job import ask_for_dust
from shootlog.findings import examine
from shootlog.findings.base import Outcome
from shootlog.full_disk import is_full
from shootlog.intake.cage import Broke, Looked, look_in_cage
from shootlog.models import Camera, Flag, Frame, Job
from shootlog.reading import Reading
from shootlog.recorded import Recorded
from shootlog.removal import gone
from shootlog.series_job import ask_for_series_of
from shootlog.series_offer import ask_for_offers
from shootlog.set_up import SetUp
from shootlog.work_out import work_out

log = logging.getLogger(__name__)

ROOM_ASKED_EVERY = timedelta(minutes=2)
ENDED = (Job.State.DONE, Job.State.FAILED)
READ = ("recorded", "evidence", "camera", "taken_at", "trouble", "read_at")


#: Somebody waits for a frame that has just come in; nobody sits before a set, dust or a reread.
FIRST = 10


@task(priority=FIRST)
def read_frame(frame_id: int) -> None:
    """Read a frame's facts and pixels, work out its reading, raise its flags."""
    frame = Frame.objects.select_related("set_up", "owner").filter(pk=frame_id).first()
    if frame is None:  # deleted meanwhile
        return
    Frame.objects.filter(pk=frame_id).update(state=Frame.State.READING)
    try:
        looked = _look(frame)
    except Broke as trouble:
        Frame.objects.filter(pk=frame_id).update(state=Frame.State.WAITING, trouble=str(trouble))
        raise  # the table of jobs tries again, and says so when it gives up
    except FileNotFoundError:
        looked = Looked(
            None,
            None,
            f"The original of {frame} is missing from the store of this log. Send it again: the "
            "same bytes are recognised and everything said about it stays.",
        )
    except OSError as trouble:
        if not is_full(trouble):
            raise
        _wait_for_room(frame)
        return
    if gone(frame):
        return
    _take_in(frame, looked)


def _wait_for_room(frame: Frame) -> None:
    """A full disk is no trouble of the file: it is read when there is room, however late."""
    frame.state = Frame.State.WAITING
    frame.trouble = (
        f"{frame} is here, byte for byte. The disk of this log is full, so it is read as soon as "
        "whoever runs the log has made room."
    )
    with transaction.atomic():
        frame.save(update_fields=["state", "trouble"])
        read_frame.using(run_after=timezone.now() + ROOM_ASKED_EVERY).enqueue(frame.pk)


@receiver(task_finished)
def give_up(sender: Any, task_result: Any, **kwargs: Any) -> None:
    """After the last attempt the frame says why, instead of waiting for ever."""
    if task_result.task.func is not read_frame.func:
        return
    if task_result.status != TaskResultStatus.FAILED:
        return
    frame = Frame.objects.filter(pk=task_result.args[0]).first()
    if frame is not None and not frame.is_settled:
        _say_why(frame)


def say_what_was_given_up() -> int:
    """Do the same for frames whose worker was killed after the last attempt and before it said so.

    Return how many there were. A worker asks when it starts: that is what follows a kill.
    """
    reads = Job.objects.filter(task=read_frame.module_path)
    open_ = {args[0] for args in _args(reads.exclude(state__in=ENDED))}
    failed = {args[0] for args in _args(reads.filter(state=Job.State.FAILED))} - open_
    left = Frame.objects.filter(pk__in=failed).exclude(pk__in=Frame.objects.settled().values("pk"))
    frames = list(left)
    for frame in frames:
        _say_why(frame)
    return len(frames)


def _args(jobs: Any) -> Any:
    return jobs.values_list("args", flat=True)


def _say_why(frame: Frame) -> None:
    if frame.recorded is not None and frame.evidence is not None:
        frame.state = Frame.State.READY
        frame.trouble = (
            f"{frame} is here and its picture shows, but its numbers could not be worked out. "
            "That is a fault of this log, not of the file; whoever runs the log finds it in the "
            "log of the worker."
        )
    else:
        frame.state = Frame.State.UNREADABLE
        frame.trouble = frame.trouble or (
            f"Reading {frame} broke off several times. The file is kept as it came. Send it "
            "again as the camera's JPEG, or show it to whoever runs this log."
        )
    frame.save(update_fields=["state", "trouble"])
    ask_for_series_of(frame)


def _look(frame: Frame) -> Looked:
    with store.on_disk(frame.original_key) as path, store.arriving_folder() as folder:
        if not path.exists():
            raise FileNotFoundError(frame.original_key)
        looked = look_in_cage(path, name=str(frame), into=folder, wanted=frame.wanted_area)
        for made in sorted(folder.iterdir()):
            store.keep(made, f"{frame.shown_key}/{made.name}")
    return looked


def _take_in(frame: Frame, looked: Looked) -> None:
    """Write down what was found. Facts stand even where the picture could not be decoded."""
    frame.recorded = looked.recorded.as_json() if looked.recorded else None
    frame.evidence = looked.evidence
    frame.trouble = looked.trouble
    frame.read_at = timezone.now()
    frame.refresh_from_db(fields=["told", "set_up"])  # people may have told more meanwhile
    with transaction.atomic():
        if looked.recorded is not None:
            frame.camera = _camera(frame, looked.recorded)
            frame.taken_at = class_time(looked.recorded, frame.camera)
        frame.save(update_fields=READ)  # what was read stands, whatever the formulas do next
    frame.state = Frame.State.UNREADABLE if looked.trouble else Frame.State.READY
    work_out_frame(frame, also=("state",))
    ask_for_series_of(frame)
    ask_for_offers(frame)
    ask_for_dust(frame)


def work_out_frame(frame: Frame, also: tuple[str, ...] = ()) -> None:
    """Work out reading and flags from what is stored; no pixel is read. What people said stays."""
    reading, outcomes = judged(frame)
    recorded = frame.what_was_recorded
    frame.reading = reading.as_json() if reading else None
    frame.caption = caption(recorded, reading) if recorded and reading else ""
    frame.read_version = settings.VERSION
    if frame.is_readable:
        frame.trouble = ""
    with transaction.atomic():
        frame.save(update_fields=[*also, "reading", "caption", "read_version", "trouble"])
        raise_flags(frame, outcomes)


def judged(frame: Frame) -> tuple[Reading | None, list[Outcome]]:
    """Return the frame's reading and every finding's outcome; nothing where none was recorded."""
    recorded = frame.what_was_recorded
    if recorded is None:
        return None, []
    told = frame.told or {}
    reading = work_out(
        recorded,
        told_set_up(frame),
        frame.evidence,
        subject_depth_mm=told.get("subject_depth_mm"),
        support=told.get("support"),
        finished_width_mm=told.get("finished_width_mm"),
        light=told.get("light"),
    )
    return reading, examine(reading)


def told_set_up(frame: Frame) -> SetUp:
    """The frame's set-up; the sensor width may have been told once for the body."""
    set_up = frame.set_up.as_set_up() if frame.set_up else SetUp()
    if set_up.sensor_width_mm is None and frame.camera and frame.camera.sensor_width_mm:
        set_up = replace(set_up, sensor_width_mm=frame.camera.sensor_width_mm)
    return set_up


def raise_flags(frame: Frame, outcomes: list[Outcome]) -> None:
    """Make the frame's flags follow its outcomes. A flag a person set aside stays set aside."""
    raised = {o.finding: o for o in outcomes if o.answer == "yes"}
    frame.flags.filter(set_aside_at=None).exclude(finding__in=raised).delete()
    for slug, outcome in raised.items():
        Flag.objects.update_or_create(
            frame=frame,
            finding=slug,
            defaults={
                "sure": outcome.sure,
                "numbers": outcome.as_json()["numbers"],
                "made_by_version": settings.VERSION,
            },
        )


def _camera(frame: Frame, recorded: Recorded) -> Camera | None:
    if not (recorded.make or recorded.model):
        return None
    camera, _ = Camera.objects.get_or_create(
        owner=frame.owner,
        make=(recorded.make or "")[:120],
        model=(recorded.model or "")[:120],
        serial=(recorded.body_serial or "")[:120],
    )
    return camera


def class_time(recorded: Recorded, camera: Camera | None) -> datetime | None:
    """The camera's clock, put right by the offset its owner gave; in the class's time zone."""
    if recorded.taken_at is None:
        return None
    moment = datetime.fromisoformat(recorded.taken_at)
    if recorded.taken_subsec_s:
        moment += timedelta(seconds=recorded.taken_subsec_s)
    try:
        if recorded.utc_offset:
            moment = datetime.fromisoformat(f"{moment.isoformat()}{recorded.utc_offset}")
        else:
            moment = timezone.make_aware(moment)
        return moment + timedelta(seconds=camera.clock_offset_s if camera else 0)
    except (OverflowError, ValueError):  # the first and last years have no neighbours
        return None
