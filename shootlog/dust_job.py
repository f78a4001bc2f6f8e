"""Dust shows only across frames: after each one is read, its camera's last ones are compared."""

from __future__ import annotations

import io
from collections.abc import Sequence
from functools import cache
from typing import Any

import numpy as np
from django.db import transaction
from django_tasks import task

from optics.evidence import dust
from shootlog import store
from shootlog.intake.places import crop_round
from shootlog.intake.turning import point_as_shown
from shootlog.models import Camera, Frame, Job

LAST_FRAMES = 60
NAMED_BESIDE = 2


@task
def look_for_dust(camera_id: int) -> None:
    """Compare the camera's last frames at small openings; note what stands still in each."""
    from shootlog.jobs import work_out_frame  # which asks for this after each frame

    frames = _last_frames(camera_id)
    found = _found_in(frames)
    for frame in frames:
        seen = found.get(frame.pk)
        if (frame.evidence or {}).get("dust") == seen:
            continue
        with transaction.atomic():
            frame.refresh_from_db(fields=["evidence"])
            if frame.evidence is None:  # being read again: it will be asked then
                continue
            _note(frame, seen)
            frame.save(update_fields=["evidence"])
        work_out_frame(frame)


def ask_for_dust(frame: Frame) -> None:
    """A frame with spots was read: its camera is looked at, once for all that wait."""
    if frame.camera_id is None or not (frame.evidence or {}).get("spots"):
        return
    waiting = Job.objects.filter(
        task=look_for_dust.module_path, args=[frame.camera_id], state=Job.State.WAITING
    )
    if not waiting.exists():
        look_for_dust.enqueue(frame.camera_id)


def _last_frames(camera_id: int) -> list[Frame]:
    """Frames of one sensor whole: another size is another crop of it, and spots lie elsewhere."""
    camera = Camera.objects.filter(pk=camera_id).first()
    if camera is None:
        return []
    own = camera.frames.filter(state=Frame.State.READY).select_related("set_up", "camera", "owner")
    last = [f for f in own.order_by("-taken_at", "-pk")[:LAST_FRAMES] if f.evidence]
    sizes = [sorted(frame.size_as_seen or (0, 0)) for frame in last]
    usual = max(sizes, key=sizes.count, default=None)
    return [frame for frame, size in zip(last, sizes, strict=True) if size == usual]


def _found_in(frames: Sequence[Frame]) -> dict[int, dict[str, Any]]:
    """Return {frame: how many share its clearest standing spot, where it lies, who shares it}."""
    small = [frame for frame in frames if (frame.evidence or {}).get("spots")]

    @cache
    def luma(k: int) -> np.ndarray:
        return _luma(small[k])

    def same(one: int, other: int) -> bool:
        return dust.same_framing(luma(one), luma(other))

    found: dict[int, dict[str, Any]] = {}
    spots = [(frame.evidence or {})["spots"] for frame in small]
    for place in dust.standing(spots, same):
        for k in place.frames:
            told = found.get(small[k].pk)
            if told is None or told["frames"] < len(place.frames):
                beside = [str(small[j]) for j in place.frames if j != k][:NAMED_BESIDE]
                at = [round(place.x, 5), round(place.y, 5)]
                found[small[k].pk] = {"frames": len(place.frames), "at": at, "beside": beside}
    return found


def _luma(frame: Frame) -> np.ndarray:
    """The small luminance kept when the frame was read; nothing where it is not there."""
    try:
        with store.store().open(f"{frame.shown_key}/map.npz") as file:
            content = io.BytesIO(file.read())
    except FileNotFoundError:
        return np.zeros((8, 8), np.uint8)  # shows no framing, so it counts with no other
    with np.load(content) as kept:
        return np.asarray(kept["luma"])


def _note(frame: Frame, seen: dict[str, Any] | None) -> None:
    """Write into the evidence what stands still, and where its crop lies."""
    evidence = dict(frame.evidence or {})
    crops = dict(evidence.get("crops") or {})
    crops.pop("dust", None)
    evidence.pop("dust", None)
    size = frame.size_as_seen
    if seen is not None:
        evidence["dust"] = seen
        if size is not None:
            x, y = seen["at"]
            point = point_as_shown(x, y, evidence.get("turned") or 1)
            crops["dust"] = {"here": crop_round(point, size)}
    frame.evidence = evidence | {"crops": crops}
