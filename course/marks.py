"""Marks on a picture, kept as W3C Web Annotations so that they can leave. Pure: no Django.

A page sends and draws short marks, ``{"kind", "at", "words"}``, with positions as fractions of the
picture's width and height; the database keeps annotations. Areas are fragment selectors
(``xywh=percent:``), all else SVG selectors in percent of the picture (Web Annotation Data Model,
W3C Recommendation 23 February 2017, sections 4.2.1 and 4.2.4).
"""

import math
import re
from collections.abc import Mapping, Sequence
from typing import Any

CONTEXT = "http://www.w3.org/ns/anno.jsonld"
#: kind -> how many numbers `at` holds: a ring x y radius, corners x y width height, lines two ends
KINDS = {"ring": 3, "corners": 4, "arrow": 4, "line": 4}
AT_MOST = 40
WORDS_AT_MOST = 500
NUMBER = r"(-?\d+(?:\.\d+)?)"


class NotAMark(ValueError):
    """The message says what could not be kept."""


def annotation(mark: Mapping[str, Any], *, source: str) -> dict[str, Any]:
    """Return the annotation that says what `mark` says about the picture `source`."""
    kind, at = _checked(mark)
    body = [{"type": "TextualBody", "purpose": "tagging", "value": kind}]
    words = str(mark.get("words") or "").strip()[:WORDS_AT_MOST]
    if words:
        body.append({"type": "TextualBody", "purpose": "commenting", "value": words})
    return {
        "@context": CONTEXT,
        "type": "Annotation",
        "motivation": "commenting",
        "body": body,
        "target": {"source": source, "selector": _selector(kind, at)},
    }


def short_mark(kept: Mapping[str, Any]) -> dict[str, Any]:
    """The page's short form of an annotation made here."""
    values = {b.get("purpose"): b.get("value", "") for b in kept["body"]}
    kind = values["tagging"]
    selector = kept["target"]["selector"]["value"]
    percent = [float(n) for n in re.findall(NUMBER, _numbers_of(selector))]
    return {
        "kind": kind,
        "at": [round(n / 100, 5) for n in percent],
        "words": values.get("commenting", ""),
        "source": kept["target"]["source"],
    }


def annotations(
    marks: Sequence[Mapping[str, Any]], *, sources: Mapping[int, str]
) -> list[dict[str, Any]]:
    """All marks of a crit; a mark names its frame by number, `sources` knows the hand-in's own."""
    if len(marks) > AT_MOST:
        raise NotAMark(f"{len(marks)} marks are more than one crit carries; {AT_MOST} at most.")
    kept = []
    for mark in marks:
        if not isinstance(mark, Mapping):
            raise NotAMark("A mark could not be read.")
        frame = mark.get("frame")
        if not isinstance(frame, int) or frame not in sources:
            raise NotAMark("A mark is on a picture that is not in this hand-in.")
        kept.append(annotation(mark, source=sources[frame]))
    return kept


def said_aloud(mark: Mapping[str, Any]) -> str:
    """Where a mark is, in words, for the list beside the picture."""
    x, y = _middle(mark)
    across = "left" if x < 1 / 3 else "right" if x > 2 / 3 else "middle"
    down = "top" if y < 1 / 3 else "bottom" if y > 2 / 3 else "middle"
    where = across if down == "middle" else down if across == "middle" else f"{down} {across}"
    name = {"ring": "Look here", "corners": "This part", "arrow": "From here to there"}
    return f"{name.get(mark['kind'], 'Level or edge')}, {where}"


def _middle(mark: Mapping[str, Any]) -> tuple[float, float]:
    at = mark["at"]
    if mark["kind"] == "ring":
        return at[0], at[1]
    if mark["kind"] == "corners":
        return at[0] + at[2] / 2, at[1] + at[3] / 2
    return (at[0] + at[2]) / 2, (at[1] + at[3]) / 2


def _checked(mark: Mapping[str, Any]) -> tuple[str, list[float]]:
    kind, at = mark.get("kind"), mark.get("at")
    if kind not in KINDS:
        raise NotAMark(f"{str(kind)[:40]!r} is no kind of mark; there are {', '.join(KINDS)}.")
    if not isinstance(at, Sequence) or isinstance(at, str) or len(at) != KINDS[kind]:
        raise NotAMark(f"A mark of kind {kind} needs {KINDS[kind]} numbers.")
    numbers = []
    for value in at:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise NotAMark(f"{str(value)[:40]!r} is no position on the picture.")
        if not (math.isfinite(value) and -0.001 <= value <= 1.001):
            raise NotAMark(f"{value!r} is outside the picture; positions go from 0 to 1.")
        numbers.append(min(1.0, max(0.0, float(value))))
    return kind, numbers


def _selector(kind: str, at: Sequence[float]) -> dict[str, str]:
    p = [f"{value * 100:.3f}" for value in at]
    if kind == "corners":
        return {
            "type": "FragmentSelector",
            "conformsTo": "http://www.w3.org/TR/media-frags/",
            "value": f"xywh=percent:{','.join(p)}",
        }
    shape = (
        f'<circle cx="{p[0]}%" cy="{p[1]}%" r="{p[2]}%"/>'
        if kind == "ring"
        else f'<line x1="{p[0]}%" y1="{p[1]}%" x2="{p[2]}%" y2="{p[3]}%"/>'
    )
    return {
        "type": "SvgSelector",
        "value": f'<svg xmlns="http://www.w3.org/2000/svg">{shape}</svg>',
    }


def _numbers_of(selector: str) -> str:
    if selector.startswith("xywh=percent:"):
        return selector.removeprefix("xywh=percent:")
    return " ".join(re.findall(rf'"{NUMBER}%"', selector))
