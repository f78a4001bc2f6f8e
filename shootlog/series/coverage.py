"""How much of a stack's subject is sharp in some frame, and whether both ends lie outside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optics.evidence.stack_focus import FocusFit

Array = NDArray[Any]

#: Share of the blocks sharpest in an end frame, or joined to these and never sharp: it lies on the
#: subject. A marked area holds ground as well: rendered stacks that begin in front reach 0.196.
LIMIT_STILL_SHARP = 0.2
LIMIT_CLEAR = 0.012  # and below this it lies clear of it
MIDDLE = (0.2, 0.2, 0.6, 0.6)  # left, top, width, height: the subject, where none was marked
LEAST_BLOCKS = 30
COARSE_SHARE = 0.35  # of the sharp blocks' coarse contrast


@dataclass(frozen=True)
class Coverage:
    share: float | None = None
    starts_in_front: bool | None = None
    ends_behind: bool | None = None


def cover(
    fit: FocusFit,
    half_depth: float,
    coarse: Array | None = None,
    box: tuple[float, ...] | None = None,
    position: Array | None = None,
) -> Coverage:
    """Count the blocks that come into focus within reach of a frame.

    Blocks still rising at an end frame are sharp there or farther out; their own sharpness
    cannot say which, so they count as covered only as far as a frame's usual share. Where the
    subject goes on beyond them, too blurred to change from frame to frame, its `coarse`
    contrast still shows it.
    """
    area = inside(fit.textured.shape, box or MIDDLE)
    place = np.where(area, fit.block_position, np.nan)
    known = np.isfinite(place)
    own = np.sort(fit.position)
    position = own if position is None else position
    place = np.interp(place, own, position, left=position[0], right=position[-1])
    if known.sum() < LEAST_BLOCKS:
        return Coverage()
    first, last = known & (place <= position[0] + 1e-6), known & (place >= position[-1] - 1e-6)
    inner = place[known & ~first & ~last]
    away = np.abs(inner[:, None] - position[None, :]).min(axis=1)
    # as many blocks per frame as the second and the last but one frame have
    usual = [_at(inner, position, k) for k in (1, len(position) - 2)]
    ends = min(first.sum(), usual[0] * half_depth) + min(last.sum(), usual[1] * half_depth)
    total = int(known.sum())
    visible = fit.visible & area
    beyond = [_beyond(end, known, visible, coarse) if box else 0 for end in (first, last)]
    starts, stops = (
        _outside((int(end.sum()) + more) / total)
        for end, more in zip((first, last), beyond, strict=True)
    )
    reached = (away <= half_depth).sum()
    if not box and starts is not False and stops is not False:
        # nobody said where the subject is: ground before and behind it is not held against it
        return Coverage(float(reached / max(len(inner), 1)), starts, stops)
    never = _beyond(first | last, known, visible, coarse)
    return Coverage(float((reached + ends) / (total + never)), starts, stops)


def inside(shape: tuple[int, ...], box: tuple[float, ...]) -> Array:
    left, top, wide, high = box
    rows = (np.arange(shape[0]) + 0.5)[:, None] / shape[0]
    columns = (np.arange(shape[1]) + 0.5)[None, :] / shape[1]
    return (rows >= top) & (rows <= top + high) & (columns >= left) & (columns <= left + wide)


def _beyond(ends: Array, known: Array, visible: Array, coarse: Array | None) -> int:
    """Blocks of the subject that were never near focus: joined to an end's, and as contrasty."""
    if coarse is None or coarse.shape != known.shape or ends.mean() < LIMIT_CLEAR:
        return 0
    open_ground = visible & ~known & (coarse > COARSE_SHARE * np.median(coarse[known]))
    reached = ends.copy()
    for _ in range(sum(known.shape)):
        wider = reached.copy()
        wider[1:] |= reached[:-1]
        wider[:-1] |= reached[1:]
        wider[:, 1:] |= reached[:, :-1]
        wider[:, :-1] |= reached[:, 1:]
        wider &= open_ground | ends
        if (wider == reached).all():
            break
        reached = wider
    return int((reached & open_ground).sum())


def _at(place: Array, position: Array, k: int) -> int:
    reach = np.median(np.diff(position)) / 2
    return int((np.abs(place - position[k]) <= reach).sum())


def _outside(share: float) -> bool | None:
    if share > LIMIT_STILL_SHARP:
        return False
    return True if share < LIMIT_CLEAR else None
