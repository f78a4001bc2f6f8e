"""The two drawings of a series as plain numbers for an SVG: the pencil line and the curve."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

LEFT, RIGHT = 16.0, 464.0
MOST_NUMBERS = 16  # written under the line; more would run into each other
TOP, BOTTOM = 24.0, 164.0


def pencil_line(result: dict[str, Any]) -> dict[str, Any] | None:
    """Where each frame was sharp, front to back; a gap in the stack is a gap in the line."""
    known = result.get("focus_position") or []
    if len(known) < 2 or any(p is None for p in known):
        return None
    low, high = min(known), max(known)
    if high <= low:
        return None
    x = [LEFT + (RIGHT - LEFT) * (p - low) / (high - low) for p in known]
    gaps = [(x[a - 1], x[b - 1]) for a, b in result.get("gaps") or []]
    every = -(-len(x) // MOST_NUMBERS)
    apart = {tuple(pair) for pair in result.get("gaps") or []}
    return {
        "strokes": [
            (a, b)
            for k, (a, b) in enumerate(zip(x, x[1:], strict=False))
            if (k + 1, k + 2) not in apart
        ],
        "ticks": [(at, str(k + 1) if k % every == 0 else "") for k, at in enumerate(x)],
        "gaps": [{"from": a, "to": b, "middle": (a + b) / 2} for a, b in gaps],
    }


def curve(result: dict[str, Any]) -> dict[str, Any] | None:
    """Sharpness against the f-number; nothing where the camera moved or too little is known."""
    best = result.get("best_f_number")
    rows = [
        r for r in result.get("sharpness") or [] if r["f_number"] and r["sharpness"] is not None
    ]
    if best is None or len(rows) < 2:
        return None
    rows.sort(key=lambda r: r["f_number"])
    low, high = (math.log2(rows[k]["f_number"]) for k in (0, -1))

    def across(number: float) -> float:
        return 58.0 + 408.0 * (math.log2(number) - low) / max(high - low, 1e-9)

    def down(share: float) -> float:
        return BOTTOM - (BOTTOM - TOP) * min(max(share, 0.0), 1.0)

    dots = [
        {
            "x": across(r["f_number"]),
            "y": down(r["sharpness"]),
            "high": down(r["sharpness"] + (r["spread"] or 0)),
            "low": down(r["sharpness"] - (r["spread"] or 0)),
            "words": f"f/{r['f_number']:.2g}" if r["f_number"] < 10 else f"f/{r['f_number']:.0f}",
        }
        for r in rows
    ]
    return {
        "dots": dots,
        "points": " ".join(f"{d['x']:.1f},{d['y']:.1f}" for d in dots),
        "best_x": across(best),
        "range": _range(result.get("best_f_number_between"), across, 2**low, 2**high),
        "ticks": [(down(v), f"{100 * v:.0f} %") for v in (0.0, 0.5, 1.0)],
        "kind": result.get("f_number_kind", ""),
    }


def _range(
    between: list[float] | None, across: Callable[[float], float], least: float, most: float
) -> dict[str, float] | None:
    """The stretch in which the best stop lies, no farther than the curve goes."""
    if not between:
        return None
    left, right = (across(min(max(number, least), most)) for number in between)
    return {"x": left, "width": max(right - left, 1.0)}
