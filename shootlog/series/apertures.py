"""An aperture series: sharpness against the effective f-number, and the best of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from shootlog.findings.base import Outcome
from shootlog.series import moves as moving
from shootlog.series.detail import registered_maps
from shootlog.series.exposure import exposure
from shootlog.series.outcomes import joined, outcome
from shootlog.series.ruler_beside import depths, in_words
from shootlog.series.sharpest_stop import Best, Sharpness, best_of, sharpness_of
from shootlog.series.shot import Shot, common, rounded
from shootlog.wording import f_number

LEAST_STOPS = 4
LIMIT_EXPOSURE_EV = 1 / 3
#: Ten times what frames of a camera left alone differ by; a ring turned by a hair shows twice that.
LIMIT_SCALE = 0.001
LEAST_WORTH_SAYING = 1.0  # stops between parts of the picture


def check(shots: Sequence[Shot], told: Mapping[str, Any], timed: bool) -> dict[str, Any]:
    """Say what `manage.py series apertures` says of frames in time order."""
    light = exposure(shots)
    links = moving.chain(shots)
    moved = _moved(shots, links)
    numbers = [s.reading.value("effective_f_number") or s.recorded.f_number for s in shots]
    effective = all(s.reading.value("effective_f_number") for s in shots)
    maps = registered_maps(shots, links)
    seen = None if maps is None else sharpness_of(maps, told.get("subject_box"))
    best = None
    if not moved and seen is not None and _told_apart(numbers):
        best = best_of([float(n or 0) for n in numbers], seen)
    outcomes = [_moved_outcome(moved), _exposure_outcome(light.spread_ev)]
    origin = "effective" if effective else "as recorded"
    ruler = None if moved else depths(shots)
    words = _best_words(best, origin) if best else _no_curve(moved, seen, numbers)
    words = " ".join(part for part in (words, in_words(ruler)) if part)
    return (
        common(shots, timed)
        | light.as_json()
        | {
            "kind": "apertures",
            "f_numbers": [rounded(n, 2) for n in numbers],
            "f_number_kind": origin,
            "sharpness": _rows(numbers, seen),
            "best_f_number": rounded(best.number, 1) if best else None,
            "best_f_number_between": [rounded(n, 1) for n in best.between] if best else None,
            "elsewhere_f_number_between": [rounded(n, 1) for n in best.elsewhere] if best else None,
            "two_thirds_f_number": rounded(best.two_thirds, 1) if best else None,
            "ruler_depth": ruler,
            "place": "marked" if told.get("subject_box") else "all fine detail",
            "moved": [{k: m[k] for k in ("between", "shift_px", "turn_deg")} for m in moved],
            "focus_changed": any(m["scale"] for m in moved),
            "findings": [o.as_json() for o in outcomes],
            "words": joined(outcomes, "") if moved else f"{words} {joined(outcomes, '')}".strip(),
        }
    )


def _rows(numbers: Sequence[float | None], seen: Sharpness | None) -> list[dict[str, Any]]:
    rows = []
    for k, number in enumerate(numbers):
        level = None if seen is None else float(seen.level[k])
        spread = None if seen is None else float(seen.spread[k])
        rows.append(
            {
                "f_number": rounded(number, 2),
                "sharpness": rounded(level, 3),
                "spread": rounded(spread, 3),
            }
        )
    return rows


def _best_words(best: Best, origin: str) -> str:
    low, high = (f_number(n) for n in best.elsewhere)
    if best.number is None:
        return (
            f"No one stop is best: some places are sharpest at {low}, others at {high}. "
            "Mark the flat thing you focused on."
        )
    words = f"Yours is sharpest near {f_number(best.number)} ({origin})."
    if best.two_thirds:
        words += f" At {f_number(best.two_thirds)} a third of it is gone."
    if 2 * np.log2(best.elsewhere[1] / best.elsewhere[0]) > LEAST_WORTH_SAYING:
        words += f" Places nearer or farther than most differ, from {low} to {high}."
    return words


def _no_curve(
    moved: Sequence[dict[str, Any]], seen: Sharpness | None, numbers: Sequence[float | None]
) -> str:
    if moved:
        why = "the camera or the focus moved between the frames"
    elif not _told_apart(numbers):
        why = f"{LEAST_STOPS} or more different apertures are needed, all of them recorded"
    else:
        why = "there is too little fine detail, or the frames do not show the same thing"
    return f"No curve is drawn: {why}."


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


def _told_apart(numbers: Sequence[float | None]) -> bool:
    known = {round(n, 1) for n in numbers if n}
    return len(known) >= LEAST_STOPS and all(numbers)


def _moved_outcome(moved: Sequence[dict[str, Any]]) -> Outcome:
    if not moved:
        return outcome("framing-moved", "no", "measured")
    first, last = moved[0]["between"]
    if moved[0]["shift_px"] is None:
        what = f"Frames {first} and {last} do not show the same thing"
    elif moved[0]["scale"]:
        what = f"The focus changed between {first} and {last}"
    else:
        what = f"The camera moved between {first} and {last}"
    others = len(moved) - 1
    more = f", and {others} more time{'s' if others > 1 else ''}" if others else ""
    return outcome(
        "framing-moved",
        "yes",
        "measured",
        f"{what}{more}, so no curve is drawn.",
        "Tripod, release, focus set by hand once; change the aperture only.",
    )


def _exposure_outcome(spread_ev: float | None) -> Outcome:
    if spread_ev is None:
        words = "The light can't be compared."
        return outcome("exposure-jump", "cannot tell", "cannot tell", words)
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
