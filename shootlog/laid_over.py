"""Lay one frame over another of the same thing: found from the pictures, or honestly not.

The registration is that of series (`optics.evidence.registration`): shift, scale and turn that
most parts of the picture agree on. It is looked for in the screen pictures, kept beside the second
frame and thrown away with it.
"""

from __future__ import annotations

import io
import json
import math

import numpy as np
from django.core.files.base import ContentFile
from PIL import Image

from optics.evidence.registration import Alignment, best_fit, inverse
from shootlog import store

LONG_SIDE_PX = 640
SAME_SHAPE = 0.02  # share by which the sides' ratio may differ, as by a cropped edge
MADE_BY = 1  # of what is kept; raise it when the way of finding changes
APART = "The two do not match closely enough to be laid over each other. They lie edge on edge."
NO_PICTURE = "One of the two has no picture yet."


def laid_over(first, second) -> dict:
    """How the second frame's pixels fall on the first's, found once and then remembered.

    ``matrix`` is six numbers as SVG and canvas take them, from pixels of the second frame, as
    seen, to pixels of the first. ``holds`` says whether it was found in the pictures.
    """
    key = f"{second.shown_key}/over-{first.pk}.json"
    made = [MADE_BY, first.read_version, second.read_version]
    try:
        with store.store().open(key) as file:
            kept = json.loads(file.read())
        if kept["made"] == made:
            return kept
        store.store().delete(key)
    except (FileNotFoundError, ValueError, KeyError):
        pass
    found = _look(first, second) | {"made": made}
    store.store().save(key, ContentFile(json.dumps(found).encode()))
    return found


def _look(first, second) -> dict:
    sizes = first.size_as_seen, second.size_as_seen
    try:
        pictures = [_luma(frame) for frame in (first, second)]
    except FileNotFoundError:
        return {"holds": False, "matrix": None, "words": NO_PICTURE}
    if not all(sizes):
        return {"holds": False, "matrix": None, "words": NO_PICTURE}
    by_edges = {"holds": False, "matrix": _matrix(Alignment((0, 0), 1.0, 0.0), sizes, 1.0)}
    if abs(_ratio(pictures[0].shape) / _ratio(pictures[1].shape) - 1) > SAME_SHAPE:
        return by_edges | {"words": "The two have other proportions. They lie edge on edge."}
    rows, columns = (min(sides) for sides in zip(*(p.shape for p in pictures), strict=True))
    if min(rows, columns) < 48:
        return by_edges | {"words": APART}
    reference, moved = (_middle(picture, rows, columns) for picture in pictures)
    fit = best_fit(reference, moved)
    if not fit.holds:
        return by_edges | {"words": APART}
    scale = max(sizes[0]) / LONG_SIDE_PX
    return {
        "holds": True,
        "matrix": _matrix(inverse(fit.alignment), sizes, scale),
        "words": words_of(fit.alignment),
    }


def _luma(frame) -> np.ndarray:
    with store.store().open(f"{frame.shown_key}/screen.jpg") as file:
        picture = Image.open(io.BytesIO(file.read()))
    picture.draft("L", (LONG_SIDE_PX, LONG_SIDE_PX))
    scale = LONG_SIDE_PX / max(picture.size)
    width, height = (max(1, round(side * scale)) for side in picture.size)
    small = picture.convert("L").resize((width, height), Image.Resampling.BOX)
    return np.asarray(small, np.float32)


def _ratio(shape) -> float:
    return shape[1] / shape[0]


def _middle(picture, rows, columns):
    top, left = (picture.shape[0] - rows) // 2, (picture.shape[1] - columns) // 2
    return picture[top : top + rows, left : left + columns]


def _matrix(back: Alignment, sizes, scale: float) -> list[float]:
    """From pixels of the second to pixels of the first, both counted from their left top.

    `back` takes points of the small second picture onto the small first one, about the centres;
    `scale` is pixels of the first frame for one of its small picture.
    """
    (w1, h1), (w2, h2) = sizes
    grow = back.scale * max(w1, h1) / max(w2, h2)
    turn = math.radians(back.turn_deg)
    cos, sin = grow * math.cos(turn), grow * math.sin(turn)
    down, right = (scale * part for part in back.shift)
    # (row, column) turn by [[cos, -sin], [sin, cos]]; written here for (x, y)
    a, b, c, d = cos, -sin, sin, cos
    e = w1 / 2 + right - a * w2 / 2 - c * h2 / 2
    f = h1 / 2 + down - b * w2 / 2 - d * h2 / 2
    return [round(number, 6) for number in (a, b, c, d, e, f)]


def words_of(alignment: Alignment) -> str:
    """What the second frame did against the first, in words."""
    larger = 100 * (alignment.scale - 1)
    said = []
    if abs(larger) >= 1:
        said.append(f"{abs(larger):.0f} % {'larger' if larger > 0 else 'smaller'} in the frame")
    if abs(alignment.turn_deg) >= 0.3:
        way = "anticlockwise" if alignment.turn_deg > 0 else "clockwise"
        said.append(f"turned {abs(alignment.turn_deg):.1f}° {way}")
    if not said:
        return "Laid over each other, thing on thing: the framing is the same."
    return f"Laid over each other, thing on thing. The second stands {' and '.join(said)}."
