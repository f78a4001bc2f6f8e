"""How much of a stack's subject is sharp in some frame, and whether both ends lie outside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optics.evidence.stack_focus import FocusFit

Array = NDArray[Any]

LIMIT_STILL_SHARP = 0.03  # share of the blocks sharpest in an end frame: it lies on the subject
LIMIT_CLEAR = 0.012  # and below this it lies clear of it
LEAST_BLOCKS = 30
COARSE_SHARE = 0.35  # of the sharp blocks' coarse contrast


@dataclass(frozen=True)
class Coverage:
    share: float | None = None
    starts_in_front: bool | None = None
    ends_behind: bool | None = None


def cover(fit: FocusFit, half_depth: float, coarse: Array | None = None) -> Coverage:
    """Count the blocks that come into focus within reach of a frame.

    Blocks still rising at an end frame are sharp there or farther out; their own sharpness
    cannot say which, so they count as covered only as far as a frame's usual share. Where the
    subject goes on beyond them, too blurred to change from frame to frame, its `coarse`
    contrast still shows it.
    """
    place = fit.block_position
    known = np.isfinite(place)
    if known.sum() < LEAST_BLOCKS:
        return Coverage()
    position = np.sort(fit.position)
    first, last = known & (place <= position[0] + 1e-6), known & (place >= position[-1] - 1e-6)
    inner = place[known & ~first & ~last]
    away = np.abs(inner[:, None] - position[None, :]).min(axis=1)
    # as many blocks per frame as the second and the last but one frame have
    usual = [_at(inner, position, k) for k in (1, len(position) - 2)]
    ends = min(first.sum(), usual[0] * half_depth) + min(last.sum(), usual[1] * half_depth)
    beyond = _beyond(first | last, known, fit.visible, coarse)
    share = float(((away <= half_depth).sum() + ends) / (known.sum() + beyond))
    total = int(known.sum())
    return Coverage(share, _outside(first.sum() / total), _outside(last.sum() / total))


def _beyond(ends: Array, known: Array, visible: Array, coarse: Array | None) -> int:
    """Blocks of the subject that were never near focus: joined to an end's, and as contrasty."""
    if coarse is None or coarse.shape != known.shape or _outside(ends.mean()) is not False:
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
