"""Which frames belong together: offered for one tap, never forced. Pure."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shootlog.series.shot import Array, Shot

LONGEST_PAUSE_S = 60.0  # between frames of one series (common practice, no source)
BURST_PAUSE_S = 1.5
LEAST_LIKENESS = 0.35  # correlation of small pictures; a stack's neighbours reach 0.9
LEAST_FRAMES = 3
SMALL_PX = 32


@dataclass(frozen=True)
class Proposal:
    """Frames that look like a series: positions in the list given, in order of time."""

    kind: str
    members: tuple[int, ...]
    why: str


def group(shots: Sequence[Shot]) -> list[Proposal]:
    """Propose series by time, camera, lens and likeness of the picture.

    Frames without a time are left out: nothing says that they belong together.
    """
    timed = [k for k, shot in enumerate(shots) if shot.recorded.taken_at]
    timed.sort(key=lambda k: (_camera(shots[k]), str(shots[k].recorded.taken_at)))
    runs: list[list[int]] = []
    for k in timed:
        if runs and _follows(shots[runs[-1][-1]], shots[k]):
            runs[-1].append(k)
        else:
            runs.append([k])
    return [_proposal(shots, run) for run in runs if len(run) >= LEAST_FRAMES]


def _camera(shot: Shot) -> tuple[str, ...]:
    r = shot.recorded
    return tuple(str(v) for v in (r.make, r.model, r.body_serial, r.lens))


def _follows(first: Shot, second: Shot) -> bool:
    if _camera(first) != _camera(second) or first.luma.shape != second.luma.shape:
        return False
    return _pause_s(first, second) <= LONGEST_PAUSE_S and _alike(first, second) >= LEAST_LIKENESS


def _pause_s(first: Shot, second: Shot) -> float:
    """From the end of one exposure to the next."""
    a, b = (dt.datetime.fromisoformat(str(s.recorded.taken_at)) for s in (first, second))
    return (b - a).total_seconds() - (first.recorded.exposure_s or 0.0)


def _alike(first: Shot, second: Shot) -> float:
    a, b = _small(first.luma), _small(second.luma)
    if a.std() == 0 or b.std() == 0:
        return 0.0
    return float(np.corrcoef(a.ravel(), b.ravel())[0, 1])


def _small(luma: Array) -> Array:
    rows = np.linspace(0, luma.shape[0] - 1, SMALL_PX).astype(int)
    columns = np.linspace(0, luma.shape[1] - 1, SMALL_PX).astype(int)
    value = np.log(luma.astype(np.float64) + 8)
    # averages of small patches: single pixels are noise
    patches = [
        np.roll(np.roll(value, d, 0), e, 1)[rows][:, columns]
        for d in (-3, 0, 3)
        for e in (-3, 0, 3)
    ]
    mean: Array = np.mean(patches, axis=0)
    return mean


def _proposal(shots: Sequence[Shot], run: list[int]) -> Proposal:
    frames = [shots[k] for k in run]
    apertures = {round(f.recorded.f_number, 1) for f in frames if f.recorded.f_number}
    pauses = [_pause_s(a, b) for a, b in zip(frames, frames[1:], strict=False)]
    if len(apertures) >= max(3, len(frames) - 1):
        kind, why = "apertures", f"{len(apertures)} apertures, same camera and lens"
    elif max(pauses) <= BURST_PAUSE_S and len(frames) <= 30:
        kind, why = "burst", f"{len(frames)} frames within {sum(pauses):.0f} s"
    else:
        kind, why = "stack", f"{len(frames)} like frames, no pause over {max(pauses):.0f} s"
    return Proposal(kind, tuple(run), why)
