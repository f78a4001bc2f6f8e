"""A few-frame landscape stack: near and far sharp, overlap, and three frames where three do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from shootlog.series import moves as moving
from shootlog.series.detail import registered_maps
from shootlog.series.exposure import exposure
from shootlog.series.outcomes import outcome
from shootlog.series.shot import Array, Shot, common, rounded

SHARP_SHARE = 0.5  # of a block's own highest sharpness
LEAST_OVER_FLOOR = 0.3
LIMIT_OVERLAP = 0.05  # share of the blocks sharp in two neighbouring frames
LIMIT_DRIFT_SHARE = 0.005


def check(shots: Sequence[Shot], told: Mapping[str, Any], timed: bool) -> dict[str, Any]:
    """Say what the frames of a few-frame landscape stack show together."""
    light = exposure(shots)
    links = moving.chain(shots)
    maps = registered_maps(shots, links)
    zones = overlaps = None
    if maps is not None and np.isfinite(maps).any():
        zones, overlaps = _zones(maps)
    drift = max(
        (float(np.hypot(*p.shift)) / shots[0].luma.shape[1] for p in links.pairs if p), default=None
    )
    apart = [k + 1 for k, v in enumerate(overlaps or []) if v < LIMIT_OVERLAP]
    found = outcome(
        "stack-gap",
        "cannot tell" if overlaps is None else "yes" if apart else "no",
        "cannot tell" if overlaps is None else "likely",
        f"The sharp zones of frames {apart[0]} and {apart[0] + 1} hardly meet." if apart else "",
        "Add a frame focused between them." if apart else "",
        limit=LIMIT_OVERLAP,
    )
    return (
        common(shots, timed)
        | light.as_json()
        | {
            "kind": "landscape",
            "sharp_zone": zones,
            "overlap_share": [rounded(v) for v in overlaps] if overlaps is not None else None,
            "framing_drift_share": rounded(drift, 4),
            "framing_held": None if drift is None else drift < LIMIT_DRIFT_SHARE,
            "moved": [],
            "findings": [found.as_json()],
            "words": found.words or f"{len(shots)} frames whose sharp zones meet.",
        }
    )


def _zones(maps: Array) -> tuple[list[dict[str, Any]], list[float]]:
    """Per frame the share of blocks sharp in it, and their middle height; overlaps."""
    known = np.isfinite(maps).all(axis=0)
    filled = np.where(known, maps, 0)
    floor = float(np.percentile(maps[:, known], 1)) if known.any() else 0.0  # plain ground: noise
    over = np.maximum(filled - floor, 0)
    best = over.max(axis=0)
    textured = known & (best > LEAST_OVER_FLOOR * floor)
    sharp = textured & (over >= SHARP_SHARE * best)
    rows = np.arange(maps.shape[1])[:, None] / maps.shape[1]
    zones = []
    for layer in sharp:
        share = float(layer.sum() / max(textured.sum(), 1))
        height = float((layer * rows).sum() / max(layer.sum(), 1))
        zones.append({"share": rounded(share), "height": rounded(height)})
    both = [
        float((a & b).sum() / max(textured.sum(), 1))
        for a, b in zip(sharp, sharp[1:], strict=False)
    ]
    return zones, both
