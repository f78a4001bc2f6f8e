"""Is the place a person pointed at sharp? The map, its edges and its fine detail are all asked.

The map judges texture it does not know; edges, the fall-off of fine detail and the rings that a
round blur leaves in the spectrum check it. Where they do not agree the answer is None. All of it
is measured in the averaged picture, so that 'sharp' means the same for few pixels as for many.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from optics.evidence import edges, fall_off
from shootlog.intake import closer, turning
from shootlog.intake.defocus import defocus_at

if TYPE_CHECKING:
    from shootlog.intake.decode import Picture
    from shootlog.intake.pixels import Small

Array = npt.NDArray[np.float64]

HALF_PX = 36  # what is looked at around the place, at least
LEAST_EDGES = 15
#: Edges of the place are soft, in pixels; and its fine detail falls off this steeply (decades),
#: more steeply by so much than in the frame's best places.
SOFT_EDGES_PX, STEEP, STEEPER = 2.0, -1.9, 0.6
#: Where edges are crowded they look sharp; then the finest detail alone must be missing.
FINEST_STEEP, FINEST_STEEPER = -2.5, 0.8
#: Softer edges still need the finest detail to be steep, but less so; the softest need nothing.
SOFTER_EDGES_PX, FINE_STEEP, VERY_SOFT_EDGES_PX = 3.0, -1.9, 6.0
#: A round blur is told, and fine detail falls off more steeply by so much than at its best.
ROUND_STEEPER = 0.35
#: This steep, and it may be soft.
DOUBTFUL, DOUBTFUL_STEEPER = -2.0, 0.5
LEAST_SHARE = 0.3  # of the place that the map must call sharp before anyone else agrees


def look_at(
    evidence: dict[str, Any], small: Small, picture: Picture, sigma: float | None,
    wanted: list[float], *, enlarged: bool,
) -> None:  # fmt: skip
    """Say of the wanted place what share is sharp, how blurred it is and how far sharpness lies.

    An enlarged picture (digital zoom) has no fine detail anywhere, so it is not asked about it.
    """
    box = turning.box_as_stored(as_box(wanted), picture.orientation)
    evidence |= _by_the_map(small, box)
    share = evidence.get("wanted_sharp_share") or 0.0
    found = None if enlarged else fall_off.against_the_rest(small.luma, box)
    if found is None:
        evidence["wanted_sharp_share"] = share if share >= LEAST_SHARE else None
        return
    inside, best = found
    soft = _is_soft(inside, best, _softness(small, box, sigma))
    # where nothing in the frame is finer, a soft texture looks like a blurred one
    defocus = defocus_at(small, picture, box) if _falls_steeper(inside, best) else None
    if defocus is not None:
        evidence |= defocus.as_evidence(picture.scale)
        soft = soft or defocus.is_soft
    if soft:
        evidence["wanted_sharp_share"] = 0.0
    elif soft is None or share < LEAST_SHARE:
        evidence["wanted_sharp_share"] = None


def _falls_steeper(inside: Array, best: Array) -> bool:
    return bool((best - inside >= ROUND_STEEPER).any())


def _is_soft(inside: Array, best: Array, edges_px: float | None) -> bool | None:
    """Soft, not soft, or (None) perhaps."""
    coarse, fine = inside
    steeper, finer_steeper = best - inside
    softness = edges_px or 0.0
    soft_and_steep = softness >= SOFT_EDGES_PX and coarse <= STEEP
    if soft_and_steep and steeper >= STEEPER:
        return True
    needed = FINE_STEEP if softness >= SOFTER_EDGES_PX else FINEST_STEEP
    if fine <= needed and finer_steeper >= FINEST_STEEPER:
        return True
    if softness >= (VERY_SOFT_EDGES_PX if np.isfinite(coarse) else 2 * SOFT_EDGES_PX):
        return True  # nothing but soft edges: there is no fine detail at all
    doubtful = soft_and_steep or (coarse <= DOUBTFUL and steeper >= DOUBTFUL_STEEPER)
    return None if doubtful or not np.isfinite(coarse) else False


def _softness(small: Small, box: list[float], sigma: float | None) -> float | None:
    """Return the blur of the sharper edges of a place, in pixels of the averaged picture."""
    height, width = small.luma.shape
    half = HALF_PX + edges.MARGIN_PX
    row = int(min(max((box[1] + box[3] / 2) * height, half), height - half))
    column = int(min(max((box[0] + box[2] / 2) * width, half), width - half))
    tile = small.luma[max(row - half, 0) : row + half, max(column - half, 0) : column + half]
    found = edges.find_edges(closer.linear(tile), max((sigma or 1.0) / small.scale, 0.4))
    if len(found) < LEAST_EDGES:
        return None
    return float(np.quantile(found.disc_px(), 1.0 - edges.SHARPER_ONES))


def as_box(wanted: list[float]) -> list[float]:
    if len(wanted) == 2:  # a tap: as large as a fingertip on a phone
        return [wanted[0] - 0.04, wanted[1] - 0.04, 0.08, 0.08]
    return [float(value) for value in wanted[:4]]


def _by_the_map(small: Small, box: list[float]) -> dict[str, Any]:
    blur, sharp = small.blur, small.sharp
    if blur is None or sharp is None:
        return {}
    height, width = blur.shape
    left, top = (max(int(box[k] * (width, height)[k]), 0) for k in (0, 1))
    right = min(int(np.ceil((box[0] + box[2]) * width)), width)
    bottom = min(int(np.ceil((box[1] + box[3]) * height)), height)
    inside = np.zeros_like(sharp)
    inside[top:bottom, left:right] = True
    shown = inside & ~np.isnan(blur)
    if not shown.any():
        return {}
    found: dict[str, Any] = {"wanted_sharp_share": float(sharp[shown].mean())}
    if sharp.any():
        rows, columns = np.nonzero(sharp)
        x, y = box[0] + box[2] / 2, box[1] + box[3] / 2
        away = np.hypot((columns + 0.5) / width - x, ((rows + 0.5) / height - y) * height / width)
        found["wanted_offset_share"] = float(np.percentile(away, 10))
    return found
