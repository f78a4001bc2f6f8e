"""A few-frame landscape stack: near and far sharp, and overlap."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from optics.depth import hyperfocal_mm
from optics.stack import landscape_frames
from shootlog.findings.base import Outcome
from shootlog.series import moves as moving
from shootlog.series.colour import colour
from shootlog.series.detail import registered_maps
from shootlog.series.exposure import exposure
from shootlog.series.outcomes import joined, outcome
from shootlog.series.shot import Array, Shot, common, rounded

SHARP_SHARE = 0.5  # of a block's own highest sharpness
LEAST_OVER_FLOOR = 0.3
LIMIT_OVERLAP = 0.05  # share of the blocks sharp in two neighbouring frames
LIMIT_DRIFT_SHARE = 0.005
LEAST_FOCAL_LENGTHS = 5  # the formula is for distances that are large against the focal length
LEAST_IN_ZONE = 8  # blocks
SHARPEST = 75  # per cent: a zone holds other depths, too
#: Fine detail kept, against the picture's own sharp places.
SURELY_SHARP, SURELY_SOFT = 0.8, 0.5
LEAST_COARSE = 4.0  # of the coarse detail; rounding and noise make some 1.5
LEAST_OF_ROW = 0.1  # of a row's blocks


def check(shots: Sequence[Shot], told: Mapping[str, Any], timed: bool) -> dict[str, Any]:
    """Say what the frames of a few-frame landscape stack show together."""
    links = moving.chain(shots)
    light, tint = exposure(shots, links.unlike), colour(shots, links.unlike)
    maps = registered_maps(shots, links)
    zones = overlaps = None
    if maps is not None and np.isfinite(maps).any():
        sharp, textured = _sharp_blocks(maps)
        zones = [_zone(layer, textured) for layer in sharp]
        pairs = zip(sharp, sharp[1:], strict=False)
        overlaps = [float((a & b).sum() / max(textured.sum(), 1)) for a, b in pairs]
    drift = max(
        (float(np.hypot(*p.shift)) / shots[0].luma.shape[1] for p in links.pairs if p), default=None
    )
    near, far = _ends(shots, links, maps)
    enough = frames_enough(shots)
    found = [
        moving.unlike_outcome(links),
        _gap(overlaps),
        _soft_end(near, far),
        light.outcome(),
        tint.outcome(),
    ]
    return (
        common(shots, timed)
        | light.as_json()
        | tint.as_json()
        | {
            "kind": "landscape",
            "sharp_zone": zones,
            "overlap_share": [rounded(v) for v in overlaps] if overlaps is not None else None,
            "near_sharp": near,
            "far_sharp": far,
            "frames_enough": enough,
            "framing_drift_share": rounded(drift, 4),
            "framing_held": None if drift is None else drift < LIMIT_DRIFT_SHARE,
            "moved": [],
            "unmatched": links.unlike,
            "findings": [o.as_json() for o in found],
            "words": joined(found, _calm(shots, overlaps, enough)),
        }
    )


def _calm(shots: Sequence[Shot], overlaps: list[float] | None, enough: int | None) -> str:
    if overlaps is None:
        return "The frames differ in size or do not show the same thing."
    words = f"{len(shots)} frames whose sharp zones meet."
    if enough is None or enough >= len(shots):
        return words
    return f"{words} From the nearest to the farthest focus {enough} would have been enough."


def frames_enough(shots: Sequence[Shot]) -> int | None:
    """Frames that hold, by the formula, what these hold from the nearest to the farthest focus.

    None where a frame does not record where it was focused, or was taken with another lens or
    f-number. The finer end of the circle of confusion counts: rather one frame too many.
    """
    focus = [s.reading.value("subject_distance_mm") for s in shots]
    lens = {(s.reading.value("focal_length_mm"), s.reading.value("f_number")) for s in shots}
    circle = shots[0].reading["coc_um"]
    (focal_mm, f_number), *others = lens
    known = [mm for mm in focus if mm]
    if others or not circle or not focal_mm or not f_number or len(known) < len(shots):
        return None
    coc_mm = circle.low / 1000
    if min(known) < LEAST_FOCAL_LENGTHS * focal_mm:
        return None
    # in dioptres, either side of the focus
    reach = 1000 / (hyperfocal_mm(focal_mm, f_number, coc_mm) - focal_mm)
    near, far = 1000 / min(known) + reach, max(1000 / max(known) - reach, 0.0)
    far_m = 1 / far if far else math.inf
    return int(landscape_frames(focal_mm, f_number, coc_mm, 1 / near, far_m))


def _sharp_blocks(maps: Array) -> tuple[Array, Array]:
    """(K, M, N) blocks that are sharp in each frame, and those that are sharp in one at all."""
    known = np.isfinite(maps).all(axis=0)
    filled = np.where(known, maps, 0)
    floor = float(np.percentile(maps[:, known], 1)) if known.any() else 0.0  # plain ground: noise
    over = np.maximum(filled - floor, 0)
    best = over.max(axis=0)
    textured = known & (best > LEAST_OVER_FLOOR * floor)
    return textured & (over >= SHARP_SHARE * best), textured


def _zone(layer: Array, textured: Array) -> dict[str, Any]:
    """The share of the blocks sharp in a frame, and their middle height."""
    rows = np.arange(layer.shape[0])[:, None] / layer.shape[0]
    share = float(layer.sum() / max(textured.sum(), 1))
    height = float((layer * rows).sum() / max(layer.sum(), 1))
    return {"share": rounded(share), "height": rounded(height)}


def _ends(
    shots: Sequence[Shot], links: moving.Chain, fine: Array | None
) -> tuple[bool | None, bool | None]:
    """Whether the near (lower) and the far (upper) third are sharp in some frame.

    Not by which frame is sharpest there: where none was focused near enough, the first still is.
    Fine detail for the coarse detail of the same place tells it, against what the picture's own
    sharp places keep. Grass and rock differ, so only less than half of that is called soft.
    """
    if any(_coarse(s).shape != s.detail.shape for s in shots):
        return None, None
    coarse = registered_maps([replace(s, detail=_coarse(s)) for s in shots], links)
    if fine is None or coarse is None or not np.isfinite(fine).any():
        return None, None
    floor = np.nanpercentile(fine, 3, axis=(1, 2), keepdims=True)
    over = np.sqrt(np.maximum(np.nan_to_num(fine) ** 2 - floor**2, 0)).max(axis=0)
    wide = np.nan_to_num(coarse).max(axis=0)
    # a plain sky is no far zone: rows in which at least coarse things show
    shows = wide > LEAST_COARSE
    rows = np.flatnonzero(shows.mean(axis=1) >= LEAST_OF_ROW)
    if len(rows) < 3:
        return None, None
    kept = np.where(shows, over / np.maximum(wide, 1e-9), np.nan)
    usual = float(np.nanpercentile(kept, SHARPEST))
    third = max(len(rows) // 3, 1)
    near, far = (_keeps(kept[side], usual) for side in (rows[-third:], rows[:third]))
    return near, far


def _coarse(shot: Shot) -> Array:
    return np.zeros((0, 0)) if shot.coarse is None else shot.coarse


def _keeps(kept: Array, usual: float) -> bool | None:
    known = kept[np.isfinite(kept)]
    if len(known) < LEAST_IN_ZONE or usual <= 0:
        return None
    share = float(np.percentile(known, SHARPEST)) / usual
    if share >= SURELY_SHARP:
        return True
    return False if share < SURELY_SOFT else None


def _gap(overlaps: list[float] | None) -> Outcome:
    apart = [k + 1 for k, v in enumerate(overlaps or []) if v < LIMIT_OVERLAP]
    return outcome(
        "stack-gap",
        "cannot tell" if overlaps is None else "yes" if apart else "no",
        "cannot tell" if overlaps is None else "likely",
        f"The sharp zones of frames {apart[0]} and {apart[0] + 1} hardly meet." if apart else "",
        "Add a frame focused between them." if apart else "",
        limit=LIMIT_OVERLAP,
    )


def _soft_end(near: bool | None, far: bool | None) -> Outcome:
    if near is None and far is None:
        return outcome("stack-short", "cannot tell", "cannot tell", "The ends can't be told.")
    soft = [name for name, is_sharp in (("near", near), ("far", far)) if is_sharp is False]
    if not soft:
        return outcome("stack-short", "no", "likely", limit=SURELY_SOFT)
    thing = {"near": "the nearest thing", "far": "the farthest thing"}
    return outcome(
        "stack-short",
        "yes",
        "likely",
        f"The {' and the '.join(soft)} third of the picture "
        f"{'is' if len(soft) == 1 else 'are'} sharp in no frame.",
        f"Add a frame focused on {' and one on '.join(thing[name] for name in soft)}.",
        limit=SURELY_SOFT,
    )
