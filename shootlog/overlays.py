"""The overlays of one frame: read from the maps kept beside its pictures."""

import io

import numpy as np

from shootlog import store
from shootlog.overlay_drawn import lost_drawn, sharp_drawn
from shootlog.seen_in_words import has_overlays

DRAWN_AS = 1  # goes up when the drawings change, so that browsers ask again
DRAWINGS = {"sharp": sharp_drawn, "lost": lost_drawn}


def overlay(frame, kind):
    """Return the drawing as SVG; None where there is none of this kind, or no maps yet."""
    draw, size = DRAWINGS.get(kind), frame.size_as_seen
    if draw is None or size is None or not has_overlays(frame.evidence):
        return None
    try:
        with store.store().open(f"{frame.shown_key}/map.npz") as file:
            content = io.BytesIO(file.read())
    except FileNotFoundError:
        return None
    with np.load(content) as kept:
        maps = {name: kept[name] for name in ("sharp", "burnt", "black") if name in kept}
    return draw(maps, size) if len(maps) == len(("sharp", "burnt", "black")) else None
