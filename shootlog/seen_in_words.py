"""What the overlays of a print draw, said in words: for ears, for paper, for a hurry. Pure.

Also what lies under them: which are there, and how each is to be read.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

#: kind -> (how it is chosen, how it is read)
OVERLAYS = {
    "sharp": (
        "what is sharp",
        "The line goes round what is sharp; its ticks point inwards.",
    ),
    "lost": (
        "what is lost",
        "Small rings: burnt out, to white or to one colour. Small crosses: black without detail.",
    ),
}
CORNERS = {
    (0, 0): "at the top left",
    (1, 0): "at the top",
    (2, 0): "at the top right",
    (0, 1): "left of the middle",
    (1, 1): "in the middle",
    (2, 1): "right of the middle",
    (0, 2): "at the bottom left",
    (1, 2): "at the bottom",
    (2, 2): "at the bottom right",
}
NEARLY_ALL, ALMOST_NOTHING = 0.9, 0.0005


def has_overlays(evidence: Mapping[str, Any] | None) -> bool:
    """Whether the maps kept of this frame are those the overlays are drawn from."""
    return isinstance((evidence or {}).get("crops"), Mapping)


def overlay_words(kind: str, evidence: Mapping[str, Any]) -> str:
    return sharp_words(evidence) if kind == "sharp" else lost_words(evidence)


def sharp_words(evidence: Mapping[str, Any]) -> str:
    """Say where the sharp part lies and how much of the picture it takes."""
    share, box = evidence.get("sharp_share"), evidence.get("sharp_box")
    if share is None:
        return "What is sharp can't be told from this picture."
    if share < ALMOST_NOTHING or not box:
        return "Nothing in it is sharp at full size."
    if share > NEARLY_ALL:
        return "All that shows detail is sharp."
    where = place_in_words(box[0] + box[2] / 2, box[1] + box[3] / 2)
    spread_out = box[2] > 0.7 and box[3] > 0.7
    if spread_out:
        return f"What is sharp is spread over the picture, {_share(share)} of it."
    return f"The sharp part lies {where}, {_share(share)} of the picture."


def lost_words(evidence: Mapping[str, Any]) -> str:
    """Say how much is burnt out or black, and where most of it lies."""
    burnt, black = evidence.get("clipped_share"), evidence.get("blocked_share")
    if burnt is None or black is None:
        return "What is lost can't be told from this picture."
    said = [
        _lost(burnt, "burnt out", _middle(evidence, "burnt-highlights")),
        _lost(black, "black without detail", _middle(evidence, "blocked-shadows")),
    ]
    told = [words for words in said if words]
    if not told:
        return "Nothing is burnt out and nothing is black."
    glints = evidence.get("glint_share") or 0.0
    more = " Small glints count with it; they may be." if burnt and glints > 0.5 * burnt else ""
    return f"{'; '.join(told)[0].upper()}{'; '.join(told)[1:]}.{more}"


def place_in_words(x: float, y: float) -> str:
    """Name one of nine places; x and y are shares of the picture."""
    return CORNERS[min(int(x * 3), 2), min(int(y * 3), 2)]


def _lost(share: float, what: str, middle: tuple[float, float] | None) -> str:
    if share < ALMOST_NOTHING:
        return ""
    where = f", seen best {place_in_words(*middle)}" if middle else ""
    return f"{_share(share)} of the picture is {what}{where}"


def _middle(evidence: Mapping[str, Any], slug: str) -> tuple[float, float] | None:
    crops = evidence.get("crops")
    here = (crops.get(slug) or {}).get("here") if isinstance(crops, Mapping) else None
    size = evidence.get("width_px"), evidence.get("height_px")
    if not here or not all(size):
        return None
    return (here[0] + here[2] / 2) / size[0], (here[1] + here[3] / 2) / size[1]


def _share(share: float) -> str:
    """A glance needs no decimals above one per cent."""
    return f"{100 * share:.0f} %" if share >= 0.01 else f"{100 * share:.1f} %"
