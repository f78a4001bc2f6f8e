"""A light study: same framing, moving light. The eye decides; these numbers support it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from shootlog.series import moves as moving
from shootlog.series.exposure import exposure, linear
from shootlog.series.outcomes import joined, outcome
from shootlog.series.shot import Array, Shot, common, rounded

LIMIT_DRIFT_SHARE = 0.02  # of the frame's width: the framing was held
LIMIT_SPREAD_EV = 2.0
LIMIT_SIDE = 0.06  # share of the mean that the brighter half must have more


def check(shots: Sequence[Shot], told: Mapping[str, Any], timed: bool) -> dict[str, Any]:
    """Say what `manage.py series light` says of frames in time order."""
    light = exposure(shots)
    directions = list(told.get("directions") or [])
    rows = []
    for k, shot in enumerate(shots):
        row: dict[str, Any] = {"order": k + 1, "direction": _nth(directions, k)}
        rows.append(row | _of_frame(shot.luma))
    drift = _drift(shots)
    held = None if drift is None else drift <= LIMIT_DRIFT_SHARE
    found = outcome("framing-moved", "cannot tell", "cannot tell", "The framing can't be compared.")
    if held is not None and drift is not None:
        found = outcome(
            "framing-moved",
            "no" if held else "yes",
            "measured",
            "" if held else f"The framing moved by {100 * drift:.0f} % of the width.",
            "" if held else "Fix camera and subject; move the lamp only.",
            drift_share=drift,
            limit=LIMIT_DRIFT_SHARE,
        )
    contrast = [row["contrast"] for row in rows]
    return (
        common(shots, timed)
        | light.as_json()
        | {
            "kind": "light",
            "light": rows,
            "framing_held": held,
            "framing_drift_share": rounded(drift, 4),
            "moved": [],
            "findings": [found.as_json()],
            "words": joined(
                [found],
                f"Framing held; contrast from {min(contrast):.1f} to {max(contrast):.1f} stops.",
            ),
        }
    )


def _nth(values: list[Any], k: int) -> Any:
    return values[k] if k < len(values) else None


def _of_frame(luma: Array) -> dict[str, Any]:
    value = linear(luma)
    low, high = np.percentile(value, [5, 95])
    return {
        "brightness": rounded(float(value.mean()), 4),
        "contrast": rounded(float(np.log2(max(high, 1e-4) / max(low, 1e-4))), 2),
        "clipped_share": rounded(float((np.asarray(luma) >= 254).mean()), 5),
        "shadow_side": shadow_side(value),
    }


def shadow_side(light: Array) -> str | None:
    """Which side of the middle of the frame is darker; None where neither clearly is."""
    height, width = light.shape
    part = np.log(light[height // 6 : -height // 6, width // 6 : -width // 6] + 0.01)
    rows, columns = part.mean(axis=1), part.mean(axis=0)
    across = columns[: len(columns) // 2].mean() - columns[-(len(columns) // 2) :].mean()
    down = rows[: len(rows) // 2].mean() - rows[-(len(rows) // 2) :].mean()
    if max(abs(across), abs(down)) < LIMIT_SIDE:
        return None
    if abs(across) >= abs(down):
        return "right" if across > 0 else "left"
    return "below" if down > 0 else "above"


def _drift(shots: Sequence[Shot]) -> float | None:
    """Largest shift against the first frame, as a share of the width.

    Light moves shadows about, so only a match most parts agree on counts.
    """
    links = moving.chain(shots)
    shifts = []
    for k in range(1, len(shots)):
        there = links.to(0, k)
        if there is None:
            return None
        shifts.append(float(np.hypot(*there.shift)) / shots[0].luma.shape[1])
    return max(shifts, default=0.0)
