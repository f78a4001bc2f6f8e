"""An aperture series: sharpness against the effective f-number, and the best of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from shootlog.findings.base import Outcome
from shootlog.series import moves as moving
from shootlog.series.coverage import inside
from shootlog.series.detail import registered_maps
from shootlog.series.exposure import exposure
from shootlog.series.outcomes import joined, outcome
from shootlog.series.shot import Array, Shot, common, rounded

CLEAREST_SHARE = 0.1  # of the blocks: the edge or texture that is in focus
LEAST_STOPS = 4
LEAST_SLACK = 1 / 3  # of a stop: rendered edges are told so well, no better is claimed
PARTS = 6  # that must agree on the best stop
TWO_THIRDS = 2 / 3
LIMIT_SPREAD = 0.25  # sharpness known no better than this, relative, draws no curve
LIMIT_EXPOSURE_EV = 1 / 3
LIMIT_SCALE = 0.004


def check(shots: Sequence[Shot], told: Mapping[str, Any], timed: bool) -> dict[str, Any]:
    """Say what `manage.py series apertures` says of frames in time order."""
    light = exposure(shots)
    links = moving.chain(shots)
    moved = _moved(shots, links)
    numbers = [s.reading.value("effective_f_number") or s.recorded.f_number for s in shots]
    origin = (
        "effective" if all(s.reading.value("effective_f_number") for s in shots) else "as recorded"
    )
    blocks = _blocks(shots, links, told.get("subject_box"))
    sharp, spread = _sharpness(blocks)
    refocused = bool(moved and any(m["scale"] for m in moved))
    curve = not moved and sharp is not None and _told_apart(numbers)
    best = two_thirds = between = None
    if curve and sharp is not None and blocks is not None:
        known = [float(n or 0) for n in numbers]
        best, two_thirds = _peak(known, sharp)
        between = _range_of_best(known, blocks)
    outcomes = [_moved_outcome(moved), _exposure_outcome(light.spread_ev)]
    found = best is not None
    words = (
        f"Yours is sharpest near f/{best:.1f} ({origin})."
        + (f" At f/{two_thirds:.0f} a third of it is gone." if two_thirds else "")
        if found
        else "No curve is drawn: "
        + (
            "the camera or the focus moved between the frames."
            if moved
            else "too few known apertures."
        )
    )
    return (
        common(shots, timed)
        | light.as_json()
        | {
            "kind": "apertures",
            "f_numbers": [rounded(n, 2) for n in numbers],
            "f_number_kind": origin,
            "sharpness": [
                {"f_number": rounded(n, 2), "sharpness": rounded(v, 3), "spread": rounded(d, 3)}
                for n, v, d in zip(
                    numbers, _or_none(sharp, shots), _or_none(spread, shots), strict=True
                )
            ],
            "best_f_number": rounded(best, 1),
            "best_f_number_between": between,
            "two_thirds_f_number": rounded(two_thirds, 1),
            "moved": [{k: m[k] for k in ("between", "shift_px", "turn_deg")} for m in moved],
            "focus_changed": refocused,
            "findings": [o.as_json() for o in outcomes],
            "words": joined([o for o in outcomes if o.answer == "yes"], "") or words,
        }
    )


def _or_none(values: Array | None, shots: Sequence[Shot]) -> list[float | None]:
    return [None] * len(shots) if values is None else [float(v) for v in values]


def _moved(shots: Sequence[Shot], links: moving.Chain) -> list[dict[str, Any]]:
    """On a tripod nothing explains a move: every shift counts."""
    found: list[dict[str, Any]] = []
    for k, pair in enumerate(links.pairs):
        if pair is None:
            found.append(
                {"between": [k + 1, k + 2], "shift_px": None, "turn_deg": None, "scale": True}
            )
            continue
        shift = float(np.hypot(*pair.shift))
        scaled = abs(pair.scale - 1) > LIMIT_SCALE
        limit = max(moving.LIMIT_SHIFT_LUMA_PX, 2 * moving.LIMIT_SHIFT_PX / shots[k].scale)
        if shift > limit or abs(pair.turn_deg) > moving.LIMIT_TURN_DEG or scaled:
            found.append(
                {
                    "between": [k + 1, k + 2],
                    "shift_px": round(shift * shots[k].scale, 1),
                    "turn_deg": round(pair.turn_deg, 3),
                    "scale": scaled,
                }
            )
    return found


def _blocks(shots: Sequence[Shot], links: moving.Chain, box: Any) -> Array | None:
    """(K, N) sharpness over the noise of the clearest blocks, each against its own best.

    In a marked place only those there: ground nearer to the focus is sharpest at a wider stop.
    """
    maps = registered_maps(shots, links)
    if maps is None or not np.isfinite(maps).all(axis=0).any():
        return None
    seen = np.isfinite(maps).all(axis=0)
    # plain ground: the noise of each frame
    lowest = np.percentile(maps[:, seen], 5, axis=1, keepdims=True)
    if box:
        seen &= inside(seen.shape, tuple(box))
    flat = maps[:, seen]
    if not flat.size:
        return None
    over = np.sqrt(np.maximum(flat**2 - lowest**2, 0))
    strength = over.max(axis=0)
    clear = np.argsort(strength)[::-1][: max(8, int(CLEAREST_SHARE * len(strength)))]
    relative: Array = over[:, clear] / np.maximum(strength[clear], 1e-9)
    return relative


def _sharpness(relative: Array | None) -> tuple[Array | None, Array | None]:
    """Middle of the blocks in each frame, the same blocks in all, and how well it is known."""
    if relative is None:
        return None, None
    middle = np.median(relative, axis=1)
    quarter = np.subtract(*np.percentile(relative, [75, 25], axis=1))
    return middle / max(middle.max(), 1e-9), quarter / 1.35 / np.sqrt(relative.shape[1])


def _range_of_best(numbers: list[float], relative: Array) -> list[float] | None:
    """Best stops that parts of the picture name, two deviations of their mean to each side."""
    parts = [relative[:, k::PARTS] for k in range(PARTS)]
    if min(part.shape[1] for part in parts) < 3:
        return None
    found = [_peak(numbers, np.median(part, axis=1))[0] for part in parts]
    stops = 2 * np.log2([f for f in found if f])
    slack = max(2 * stops.std(ddof=1) / np.sqrt(len(stops)), LEAST_SLACK)
    middle = stops.mean()
    return [round(float(2 ** ((middle + side * slack) / 2)), 1) for side in (-1, 1)]


def _told_apart(numbers: Sequence[float | None]) -> bool:
    known = {round(n, 1) for n in numbers if n}
    return len(known) >= LEAST_STOPS and all(numbers)


def _peak(numbers: list[float], sharp: Array) -> tuple[float | None, float | None]:
    """Top of a parabola through the three best stops; where two thirds of it are left."""
    order = np.argsort(numbers)
    stops = 2 * np.log2(np.array(numbers)[order])
    level = sharp[order]
    k = int(np.argmax(level))
    if not 0 < k < len(level) - 1:
        best = stops[k]
    else:
        a, b, _ = np.polyfit(stops[k - 1 : k + 2], level[k - 1 : k + 2], 2)
        best = np.clip(-b / (2 * a), stops[k - 1], stops[k + 1]) if a < 0 else stops[k]
    top = float(level.max())
    after = np.flatnonzero((np.arange(len(level)) > k) & (level < TWO_THIRDS * top))
    two_thirds = None
    if len(after):
        j = int(after[0])
        share = (level[j - 1] - TWO_THIRDS * top) / (level[j - 1] - level[j])
        two_thirds = float(2 ** ((stops[j - 1] + share * (stops[j] - stops[j - 1])) / 2))
    return float(2 ** (best / 2)), two_thirds


def _moved_outcome(moved: Sequence[dict[str, Any]]) -> Outcome:
    if not moved:
        return outcome("framing-moved", "no", "measured")
    pair = moved[0]["between"]
    return outcome(
        "framing-moved",
        "yes",
        "measured",
        f"The camera or the focus moved between {pair[0]} and {pair[1]}, so no curve is drawn.",
        "Tripod, release, focus set by hand once; change the aperture only.",
    )


def _exposure_outcome(spread_ev: float) -> Outcome:
    yes = spread_ev > LIMIT_EXPOSURE_EV
    return outcome(
        "exposure-jump",
        "yes" if yes else "no",
        "measured",
        f"The frames differ by {spread_ev:.1f} stop in brightness." if yes else "",
        "Give each stop back with the shutter; keep ISO fixed." if yes else "",
        spread_ev=spread_ev,
        limit=LIMIT_EXPOSURE_EV,
    )
