"""A burst: how many of it hit, and how many frames will nearly always give one."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from shootlog.series.exposure import exposure
from shootlog.series.shot import Array, Shot, common, rounded

LIMIT_OF_BEST = 0.7  # of the sharpest frame's sharpness on the wanted place: a hit
LIMIT_SMEAR_PX = 3.0
SURE = 0.9  # the chance of one hit that advice is given for
MIDDLE = (0.3, 0.3, 0.4, 0.4)  # where nothing was marked: left, top, width, height, in shares


def check(shots: Sequence[Shot], told: Mapping[str, Any], timed: bool) -> dict[str, Any]:
    """Say what `manage.py series burst` says of frames in time order."""
    box = tuple(told.get("subject_box") or MIDDLE)
    sharp = np.array([_sharpness_in(shot.detail, box) for shot in shots])
    best = float(sharp.max())
    rows = []
    for k, shot in enumerate(shots):
        why = _why_not(shot, float(sharp[k]) / best if best > 0 else 0.0)
        rows.append(
            {
                "order": k + 1,
                "hit": why is None,
                "sharpness": rounded(sharp[k] / best if best else 0),
                "why_not": why,
            }
        )
    hits = sum(bool(row["hit"]) for row in rows)
    rate = hits / len(shots)
    floor = _floor_s(shots, rows)
    return (
        common(shots, timed)
        | exposure(shots).as_json()
        | {
            "kind": "burst",
            "hits": hits,
            "of": len(shots),
            "hit_rate": rounded(rate),
            "per_frame": rows,
            "place": "marked" if told.get("subject_box") else "middle of the frame",
            "frames_for_one": frames_for_one(rate),
            "own_floor_s": floor,
            "moved": [],
            "findings": [],
            "words": _words(hits, len(shots), frames_for_one(rate)),
        }
    )


def frames_for_one(rate: float, sure: float = SURE) -> int | None:
    """Frames for one hit at this chance: the smallest n with 1 - (1 - rate)^n >= sure."""
    if not 0 < rate <= 1:
        return None
    return 1 if rate >= sure else math.ceil(math.log(1 - sure) / math.log(1 - rate))


def _sharpness_in(detail: Array, box: tuple[float, ...]) -> float:
    """The upper tenth of the blocks there: an eye, not the fur around it."""
    height, width = detail.shape
    left, top, wide, high = box
    rows = slice(int(top * height), max(int((top + high) * height), int(top * height) + 1))
    columns = slice(int(left * width), max(int((left + wide) * width), int(left * width) + 1))
    part = detail[rows, columns]
    floor = float(np.percentile(detail, 5))
    return max(float(np.percentile(part, 90)) - floor, 0.0) if part.size else 0.0


def _why_not(shot: Shot, share: float) -> str | None:
    smear = shot.reading.value("smear_px")
    if smear and smear > LIMIT_SMEAR_PX:
        return f"smeared over {smear:.0f} pixels"
    if share < LIMIT_OF_BEST:
        return f"the wanted place has {100 * share:.0f} % of the sharpest frame's detail"
    return None


def _floor_s(shots: Sequence[Shot], rows: Sequence[dict[str, Any]]) -> float | None:
    """The slowest shutter time at which at least half of the frames hit, by hand."""
    by_time: dict[float, list[bool]] = {}
    for shot, row in zip(shots, rows, strict=True):
        if shot.recorded.exposure_s and shot.reading.fact("support") != "tripod":
            by_time.setdefault(shot.recorded.exposure_s, []).append(row["hit"])
    good = [time for time, hits in by_time.items() if len(hits) >= 3 and np.mean(hits) >= 0.5]
    return max(good) if good and len(by_time) >= 2 else None


def _words(hits: int, of: int, advice: int | None) -> str:
    if not hits:
        return f"None of {of} hit this time. Rock slowly and shoot as the eye comes in."
    if advice is None or advice <= 1:
        return f"{hits} of {of} hit."
    return f"{hits} of {of} hit. Burst {advice} and you will nearly always have one."
