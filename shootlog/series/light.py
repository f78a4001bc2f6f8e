"""A light study: same framing, moving light. The eye decides; these numbers support it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from optics.evidence.srgb import light_of
from shootlog.series import moves as moving
from shootlog.series.exposure import exposure
from shootlog.series.outcomes import joined, outcome
from shootlog.series.shot import Array, Shot, common, rounded

LIMIT_DRIFT_SHARE = 0.02  # of the frame's width: the framing was held
LIMIT_SPREAD_EV = 2.0
LIMIT_SIDE = 0.06  # share of the mean that the brighter half must have more
#: Where the dark side lies by the direction that was told (geometry); light from the front or
#: from behind leaves it open.
DARK_SIDES = {
    "side": ("left", "right"),
    "left": ("right",),
    "right": ("left",),
    "below": ("above",),
    "above": ("below",),
    "top": ("below",),
}
WHERE = {"left": "on the left", "right": "on the right", "above": "above", "below": "below"}
FROM = {"side": "the side", "left": "the left", "right": "the right"}


def check(shots: Sequence[Shot], told: Mapping[str, Any], timed: bool) -> dict[str, Any]:
    """Say what `manage.py series light` says of frames in time order."""
    light = exposure(shots)
    directions = list(told.get("directions") or [])
    rows = []
    for k, shot in enumerate(shots):
        row: dict[str, Any] = {"order": k + 1, "direction": _nth(directions, k)}
        rows.append(row | _of_frame(shot))
    drift = _drift(shots)
    held = None if drift is None else drift <= LIMIT_DRIFT_SHARE
    against = _against_the_others(shots) if held else [None] * len(shots)
    for row, other in zip(rows, against, strict=True):
        row["as_told"] = as_told(row["direction"], row["shadow_side"], other)
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
            "words": " ".join([joined([found], _calm(held, contrast)), *_otherwise(rows)]),
        }
    )


def as_told(direction: str | None, *dark: str | None) -> bool | None:
    """Whether a dark side lies as the told direction has it; None where that leaves it open.

    `dark` are the sides found, by the frame alone and against the others: a thing that is dark on
    one side of itself fools the first, a study lit mostly from one side the second.
    """
    words = [word.strip() for word in (direction or "").split(",") if word.strip()]
    if not words or any(word not in DARK_SIDES for word in words) or not any(dark):
        return None
    return any(side in DARK_SIDES[word] for word in words for side in dark)


def _against_the_others(shots: Sequence[Shot]) -> list[str | None]:
    """Shadow sides with what is dark in all frames taken out; None for fewer than three."""
    if len(shots) < 3 or len({shot.luma.shape for shot in shots}) > 1:
        return [None] * len(shots)
    # each once more and not all kept: a picture in floats is eight times what it was
    usual = sum(_level(shot) for shot in shots) / len(shots)
    return [shadow_side(np.exp(_level(shot) - usual) - 0.01) for shot in shots]


def _level(shot: Shot) -> Array:
    level: Array = np.log(light_of(shot.luma) + 0.01)
    return level


def _calm(held: bool | None, contrast: Sequence[float]) -> str:
    framing = "Framing held" if held else "The framing can't be compared"
    return f"{framing}; contrast from {min(contrast):.1f} to {max(contrast):.1f} stops."


def _otherwise(rows: Sequence[dict[str, Any]]) -> list[str]:
    """Say which frames do not look as they were told; the eye decides."""
    odd = [row for row in rows if row["as_told"] is False]
    if not odd:
        return []
    row = odd[0]
    side = row["shadow_side"]
    dark = f"its dark side lies {WHERE[side]}" if side else "neither side of it is darker"
    from_where = FROM.get(row["direction"], row["direction"])
    more = f" (and {len(odd) - 1} more)" if len(odd) > 1 else ""
    return [
        f"Frame {row['order']} was told as lit from {from_where}, but {dark}{more}: "
        "look again which it was."
    ]


def _nth(values: list[Any], k: int) -> Any:
    return values[k] if k < len(values) else None


def _of_frame(shot: Shot) -> dict[str, Any]:
    value = light_of(shot.luma)
    low, high = np.percentile(value, [5, 95])
    # every pixel of the file where it was looked at; the small picture averages glints away
    burnt = shot.reading.value("clipped_share")
    if burnt is None:
        burnt = float((np.asarray(shot.luma) >= 254).mean())
    return {
        "brightness": rounded(float(value.mean()), 4),
        "contrast": rounded(float(np.log2(max(high, 1e-4) / max(low, 1e-4))), 2),
        "clipped_share": rounded(burnt, 5),
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
