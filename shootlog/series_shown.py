"""What a page shows of a series: strip, pencil line, words, table. Plain values for a template."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection
from typing import Any

from shootlog.findings.base import SURE_WORDS
from shootlog.own_past import chance_in_words
from shootlog.series.light import WHERE
from shootlog.series_drawn import curve, pencil_line
from shootlog.series_told import SeriesTold, told_of, without
from shootlog.wording import NOT_SO_BECAUSE, f_number

UNKNOWN = "can't tell"
#: Said where everything that was found waits or was set aside: what a page still shows.
QUIET = {"stack": "The frames lie in order; where each was sharp stands under them."}
AS_TOLD = {True: "yes", False: "look again", None: ""}


def series_block(
    row: Any,
    *,
    thumb: Callable[[int], str],
    proof_url: str = "",
    advice: bool = False,
    waived: Collection[str] = (),
    why_held: Callable[[str, str], str] | None = None,
    not_so: Callable[[str], str] | None = None,
) -> dict[str, Any]:
    """Everything the block of a series says; `thumb` gives the address of a frame's picture.

    `why_held` says why a finding waits; `not_so` gives the address at which a finding is set
    aside, for those who may: they also see what waits and what was set aside.
    """
    result = row.check_result or {}
    aside = {flag.finding: flag for flag in row.flags.all() if flag.set_aside_at}
    told = told_of(result, waived=waived, aside=aside, why_held=why_held)
    seen = without(result, told.not_said)
    whole = seen if result.get("kind") == row.kind else {}  # else it waits to be looked at anew
    strip = _strip(row, result, thumb)
    between = _between(seen)
    return {
        "series": row,
        "strip": strip,
        "point": [_said(f, advice, not_so) for f in told.said[:1]],
        "also": [_said(f, advice, not_so) for f in told.said[1:]],
        "held": [_said(f, True, not_so) | {"why": w} for f, w in told.held] if not_so else [],
        "aside": [_said(f, False, not_so) | {"flag": aside[f["finding"]]} for f in told.aside]
        if not_so
        else [],
        "not_so_why": NOT_SO_BECAUSE,
        "words": _words(row, result, told),
        "line": pencil_line(seen) if row.kind == "stack" else None,
        "curve": curve(seen) if row.kind == "apertures" else None,
        "facts": _facts(row.kind, whole),
        "formula": _formula(row.kind, whole),
        "table": _table(row.kind, whole, between),
        "proof_url": proof_url if result.get("proof") else "",
    }


def _strip(row: Any, result: dict[str, Any], thumb: Callable[[int], str]) -> list[dict[str, Any]]:
    """The frames in the order the check found, then those it could not look at."""
    places = [place.frame for place in row.places.all()]
    frames = {frame.pk: frame for frame in places}
    order = [frames[f["frame"]] for f in result.get("frames", []) if f["frame"] in frames]
    rest = [frame for frame in places if frame not in order]
    numbered = [(k, frame) for k, frame in enumerate(order, 1)] + [(None, f) for f in rest]
    return [{"number": k, "frame": frame, "thumb": thumb(frame.pk)} for k, frame in numbered]


def _said(
    finding: dict[str, Any], advice: bool, not_so: Callable[[str], str] | None
) -> dict[str, Any]:
    return {
        "finding": finding["finding"],
        "words": finding["words"],
        "remedy": finding["remedy"] if advice else "",
        "sure": SURE_WORDS[finding["sure"]],
        "not_so": not_so(finding["finding"]) if not_so else "",
    }


def _formula(kind: str, r: dict[str, Any]) -> str:
    """How the frames for one hit were worked out, with this burst's own numbers."""
    frames = r.get("frames_for_one")
    if kind != "burst" or not frames:
        return ""
    hits, of = r["hits"], r["of"]
    return (
        f"The chance of at least one hit in {frames}, at {hits} of {of} each: "
        f"{chance_in_words(hits, of, frames)}."
    )


def _words(row: Any, result: dict[str, Any], told: SeriesTold) -> str:
    """What is said where no finding is."""
    yes = any(f["answer"] == "yes" for f in result.get("findings", []))
    if not yes:
        return str(result.get("words", ""))
    return "" if told.said else QUIET.get(row.kind, "")


def _between(result: dict[str, Any]) -> dict[int, str]:
    """In words, what lies between a frame and the one before it, by the later one's number."""
    said: dict[int, list[str]] = {}
    for _, later in result.get("gaps") or []:
        said.setdefault(later, []).append("a gap")
    # in a light study it is meant to change
    for _, later in (result.get("exposure_jumps") or []) if result.get("kind") != "light" else []:
        said.setdefault(later, []).append("the light changes")
    for _, later in result.get("colour_jumps") or []:
        said.setdefault(later, []).append("the colour changes")
    for move in result.get("moved") or []:
        said.setdefault(move["between"][1], []).append(_moved(move))
    for _, later in result.get("unmatched") or []:
        said.setdefault(later, []).append("does not match the one before")
    return {number: ", ".join(words) for number, words in said.items()}


def _moved(move: dict[str, Any]) -> str:
    shift, turn = move.get("shift_px"), move.get("turn_deg")
    if shift is None:
        return "does not match the one before"
    words = f"moved {shift:.1f} pixels"
    return f"{words}, turned {abs(turn):.2f} degrees" if turn and abs(turn) >= 0.01 else words


def _yes(value: bool | None) -> str:
    return UNKNOWN if value is None else "yes" if value else "no"


def _percent(value: float | None, digits: int = 0) -> str:
    return UNKNOWN if value is None else f"{100 * value:.{digits}f} %"


def _number(value: float | None, digits: int = 2, unit: str = "") -> str:
    if value is None or not math.isfinite(value):
        return UNKNOWN
    return f"{value:.{digits}f}{' ' + unit if unit else ''}"


def _f(value: float | None) -> str:
    return UNKNOWN if value is None else f_number(value)


def _facts(kind: str, r: dict[str, Any]) -> list[tuple[str, str]]:
    """The few numbers of the series as a whole; what an older check did not ask is not known."""
    if not r:
        return []
    rows = FACTS.get(kind, lambda _: [])(r)
    spread = r.get("exposure_spread_ev")
    return [*rows, ("Light from frame to frame varies by", _number(spread, 2, "stops"))]


def _stack_facts(r: dict[str, Any]) -> list[tuple[str, str]]:
    planned = r.get("planned_step_mm")
    part = "subject as marked" if "marked" in r.get("covered_of", "") else "middle of the frame"
    rows = [
        (
            f"Of the {part}, sharp in some frame",
            r.get("covered_words") or _percent(r.get("covered_share")),
        ),
        ("Begins in front of the subject", _yes(r.get("starts_in_front"))),
        ("Ends behind it", _yes(r.get("ends_behind"))),
        ("Depth of one frame", _number(r.get("depth_of_field_mm"), 2, "mm")),
        ("Length of the steps", r.get("step_words") or UNKNOWN),
    ]
    return [*rows, ("Step you planned", _number(planned, 2, "mm"))] if planned else rows


def _aperture_facts(r: dict[str, Any]) -> list[tuple[str, str]]:
    kind = r.get("f_number_kind", "as recorded")
    best = _f(r.get("best_f_number"))
    if r.get("best_f_number") and r.get("best_f_number_between"):
        low, high = r["best_f_number_between"]
        best += f", between {_f(low)} and {_f(high)}"
    rows = [(f"Sharpest near ({kind})", best)]
    if r.get("place"):
        rows.append(("Looked at", _place(r)))
    if r.get("two_thirds_f_number"):
        rows.append(("A third of it is gone at", _f(r["two_thirds_f_number"])))
    return rows


def _place(r: dict[str, Any]) -> str:
    return "the marked place" if r.get("place") == "marked" else str(r.get("place", ""))


FACTS: dict[str, Callable[[dict[str, Any]], list[tuple[str, str]]]] = {
    "stack": _stack_facts,
    "apertures": _aperture_facts,
    "light": lambda r: [
        ("Framing held", _yes(r.get("framing_held"))),
        ("Framing moved by, of the width", _percent(r.get("framing_drift_share"), 1)),
    ],
    "approach": lambda r: [
        ("Each frame larger than the one before", _yes(r.get("rising"))),
        ("Wanted from step to step", _number(r.get("wanted_factor"), 2, "times")),
        ("Sharp in the last frame, of what was wanted", _percent(r.get("last_sharp_share"))),
    ],
    "ladder": lambda r: [("Each frame larger than the one before", _yes(r.get("rising")))],
    "burst": lambda r: [
        ("Hits", f"{r['hits']} of {r['of']}"),
        ("Looked at", _place(r)),
        ("Frames for one hit, nine times of ten", str(r.get("frames_for_one") or UNKNOWN)),
    ],
    "landscape": lambda r: [
        ("Near third sharp in some frame", _yes(r.get("near_sharp"))),
        ("Far third sharp in some frame", _yes(r.get("far_sharp"))),
        ("Frames enough from nearest to farthest focus", str(r.get("frames_enough") or UNKNOWN)),
        ("Framing held", _yes(r.get("framing_held"))),
    ],
}


def _table(kind: str, r: dict[str, Any], between: dict[int, str]) -> dict[str, Any] | None:
    """The text twin: one row a frame, the same facts as the drawing."""
    if not r or kind not in COLUMNS:
        return None
    heads, cells = COLUMNS[kind]
    rows = []
    for k, frame in enumerate(r["frames"]):
        at = (frame["taken_at"] or "")[11:19]
        said = between.get(k + 1, "")
        rows.append([str(k + 1), frame["file"], at or UNKNOWN, *cells(r, k), said])
    return {"heads": ["", "Frame", "Taken at", *heads, "Since the one before"], "rows": rows}


def _stack_cells(r: dict[str, Any], k: int) -> list[str]:
    at, before = r["focus_position"][k], r["focus_position"][k - 1] if k else None
    step = at - before if k and at is not None and before is not None else None
    return [_number(at), _number(step) if k else ""]


def _light_cells(r: dict[str, Any], k: int) -> list[str]:
    row = r["light"][k]
    return [
        row["direction"] or "not told",
        _percent(row["brightness"]),
        _number(row["contrast"], 1, "stops"),
        _percent(row["clipped_share"], 1),
        WHERE.get(row["shadow_side"] or "", "neither side"),
        AS_TOLD[row.get("as_told")],
    ]


def _scale_cells(r: dict[str, Any], k: int) -> list[str]:
    if k == 0:
        return ["", "", ""]
    step, pause = r["scale_steps"][k - 1], r["seconds_between"][k - 1]
    return [_number(step, 2, "times"), r["scale_from"][k - 1] or "", _number(pause, 0, "s")]


def _aperture_cells(r: dict[str, Any], k: int) -> list[str]:
    row = r["sharpness"][k]
    ruler = r.get("ruler_depth")
    measured, formula = (ruler[k][key] if ruler else None for key in ("measured_mm", "formula_mm"))
    return [
        _f(row["f_number"]),
        _percent(row["sharpness"]),
        _percent(row["spread"], 1),
        _number(measured, 2, "mm") if ruler else "no ruler found",
        _number(formula, 2, "mm") if ruler else "",
    ]


def _burst_cells(r: dict[str, Any], k: int) -> list[str]:
    row = r["per_frame"][k]
    return [
        "hit" if row["hit"] else "not this one",
        _percent(row["sharpness"]),
        row["why_not"] or "",
    ]


def _landscape_cells(r: dict[str, Any], k: int) -> list[str]:
    zones, overlaps = r["sharp_zone"], r["overlap_share"]
    meets = _percent(overlaps[k - 1]) if overlaps and k else ""
    return [_percent(zones[k]["share"]) if zones else UNKNOWN, meets]


SCALE_HEADS = ["Larger by", "Known by", "Time between"]
COLUMNS: dict[str, tuple[list[str], Callable[[dict[str, Any], int], list[str]]]] = {
    "stack": (["Sharp at (steps)", "Step"], _stack_cells),
    "apertures": (
        ["Aperture", "Sharpness", "Give or take", "Depth on the ruler", "By the formula"],
        _aperture_cells,
    ),
    "light": (
        ["Light from", "Brightness", "Contrast", "Burnt out", "Shadow", "As told"],
        _light_cells,
    ),
    "approach": (SCALE_HEADS, _scale_cells),
    "ladder": (SCALE_HEADS, _scale_cells),
    "burst": (["Hit", "Sharpness", "Why not"], _burst_cells),
    "landscape": (["Sharp part", "Meets the one before"], _landscape_cells),
}
