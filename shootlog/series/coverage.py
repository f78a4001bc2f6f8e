"""How much of a stack's subject is sharp in some frame, and whether both ends lie outside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optics.evidence.beyond import Beyond, believed, beyond_ends, lively
from optics.evidence.stack_focus import sharpest

Array = NDArray[Any]

#: Share of the blocks that lie farther out than an end frame reaches: the end lies on the subject.
#: Rendered stacks that begin in front and end behind reach 0.04 of what was marked, 0.09 of the
#: middle of the frame, where nobody said what is ground.
LIMIT_BEYOND, LIMIT_BEYOND_UNMARKED = 0.05, 0.15
LIMIT_CLEAR = 0.02  # and below this, what was never sharp counted in, it lies clear of it
MIDDLE = (0.2, 0.2, 0.6, 0.6)  # left, top, width, height: the subject, where none was marked
LEAST_BLOCKS = 30
MOST_DOUBTED = 0.45  # of the blocks fine and coarse detail disagree: grain or glints rule
COARSE_SHARE = 0.35  # of the sharp blocks' coarse contrast
#: how much of what is said to lie beyond an end may be wrong, as a share of it
BEYOND_UNSURE = 0.35
NEVER_USUAL = 0.35  # blocks without detail beside those with it, where nothing lies far out
PLAIN_COUNTS = 0.5  # of these blocks: half are shadow and plain parts, half lie far out
AGAINST_OTHER = 0.5  # of what lies beyond the other end, to be believed
CORE, RING = 0.8, 1.5  # of the box's sides: an ellipse within it, a frame round it
LEAST_FAR = 0.15  # only where so much is seen to lie beyond does the rest count as lying beyond
ALWAYS_UNSURE = 0.02  # of any share: blocks that hold two depths
DOUBTED_UNSURE = 0.1  # of the blocks that are not believed
WIDEST = 0.25  # a range wider than this has no middle worth telling


@dataclass(frozen=True)
class Reach:
    """Distance from a frame, in steps, within which a place is sharp in it."""

    low: float
    middle: float
    high: float


@dataclass(frozen=True)
class Coverage:
    """Shares of the area; None where they cannot be told."""

    share: float | None = None
    low: float | None = None
    high: float | None = None
    starts_in_front: bool | None = None
    ends_behind: bool | None = None


def cover(
    levels: Sequence[Array],
    position: Array,
    reach: Reach,
    coarse: Array,
    box: tuple[float, ...] | None = None,
) -> Coverage:
    """Count the blocks that come into focus within reach of a frame.

    Parameters
    ----------
    levels : sequence of three ndarray of shape (K, H, W)
        Sharpness from fine to coarse on one grid, frames in order of focus;
        nan where a frame shows nothing.
    position : ndarray of shape (K,)
        Focus of the frames in units of the middle step, rising.
    reach : Reach
        From how fast the blur grows.
    coarse : ndarray of shape (H, W)
        Contrast that no blur takes away: where the subject goes on beyond
        the blocks ever sharp, this still shows it.
    box : tuple of float, optional
        Left, top, width, height of the subject as shares of the frame.

    Returns
    -------
    Coverage
        Between two frames the blocks are taken to lie evenly; beyond an end
        frame as `optics.evidence.beyond` finds them.
    """
    shape = levels[0].shape[1:]
    flat = [level.reshape(len(level), -1) for level in levels]
    area = inside(shape, box or MIDDLE).ravel()
    place = sharpest(flat[0], position)
    frame = np.interp(place, position, np.arange(len(position)))
    sure = believed(flat, frame)
    known = area & sure
    doubted = area & ~sure & (np.nanmax(flat[0], axis=0, initial=0.0) > 0) & lively(flat[0])
    if known.sum() < LEAST_BLOCKS or doubted.sum() > MOST_DOUBTED * (known | doubted).sum():
        return Coverage()
    ends = beyond_ends(flat, frame)
    if ends is None:
        return Coverage()
    between = known & (place > position[0]) & (place < position[-1])
    visible = area & np.isfinite(flat[0]).all(axis=0)
    open_ground = (
        visible & ~sure & (coarse.ravel() > COARSE_SHARE * np.median(coarse.ravel()[known]))
    )
    sides = [_side(end, area, known, open_ground, shape) for end in ends]
    inner = np.histogram(place[between], bins=position)[0]
    ground = box is not None and _is_ground(ends[0], sure, box, shape, reach.middle)
    seen = _Seen(
        inner, np.diff(position), int(known.sum()), int(doubted.sum()), int(open_ground.sum())
    )
    return _counted(seen, sides, reach, bool(box), ground)


def inside(shape: tuple[int, ...], box: tuple[float, ...]) -> Array:
    left, top, wide, high = box
    rows = (np.arange(shape[0]) + 0.5)[:, None] / shape[0]
    columns = (np.arange(shape[1]) + 0.5)[None, :] / shape[1]
    return (rows >= top) & (rows <= top + high) & (columns >= left) & (columns <= left + wide)


@dataclass(frozen=True)
class _Side:
    """One end of the stack: the blocks sharpest in its frame, and those never sharp beside them."""

    beyond: Beyond
    chosen: NDArray[np.bool_]
    never: int

    @property
    def blocks(self) -> int:
        return int(self.chosen.sum())

    def out(self, reach: float) -> float:
        """Blocks farther out than the frame reaches."""
        return float(self.beyond.farther(reach)[self.chosen].sum())


def _side(
    beyond: Beyond, area: Array, known: Array, open_ground: Array, shape: tuple[int, ...]
) -> _Side:
    chosen = (area & known)[beyond.places]
    start = np.zeros(area.shape, bool)
    start[beyond.places[chosen]] = True
    joined = _joined(start.reshape(shape), open_ground.reshape(shape))
    return _Side(beyond, chosen, int(joined.sum()))


def _is_ground(
    first: Beyond, sure: Array, box: tuple[float, ...], shape: tuple[int, ...], reach: float
) -> bool:
    """Whether what lies before the first frame spares the middle of the mark and runs out of it.

    Behind the last frame this is not asked: a subject's far parts lie at its rim by nature.
    """
    left, top, wide, high = box
    core = _ellipse(shape, box)
    more = (RING - 1) / 2
    round_it = inside(shape, (left - more * wide, top - more * high, RING * wide, RING * high))
    chance = np.zeros(sure.shape)
    chance[first.places] = first.farther(reach)

    def share(where: Array) -> float:
        return float(chance[where].sum() / max(int((sure & where).sum()), 1))

    area = inside(shape, box)
    ring = share((round_it & ~area).ravel())
    return share(core.ravel()) <= LIMIT_BEYOND and ring > share(area.ravel()) / 2


def _ellipse(shape: tuple[int, ...], box: tuple[float, ...]) -> Array:
    left, top, wide, high = box
    rows = (np.arange(shape[0]) + 0.5)[:, None] / shape[0]
    columns = (np.arange(shape[1]) + 0.5)[None, :] / shape[1]
    down, across = (rows - top - high / 2) / high, (columns - left - wide / 2) / wide
    found: Array = down**2 + across**2 <= (CORE / 2) ** 2
    return found


@dataclass(frozen=True)
class _Seen:
    """What the marked area holds, in blocks."""

    inner: Array  # (K - 1,) sharpest between two frames
    steps: Array  # (K - 1,)
    known: int
    doubted: int
    open_ground: int  # never sharp, and not plain


def _counted(seen: _Seen, sides: list[_Side], reach: Reach, marked: bool, ground: bool) -> Coverage:
    of = seen.known + PLAIN_COUNTS * seen.open_ground
    limit = LIMIT_BEYOND if marked else LIMIT_BEYOND_UNMARKED
    out = [side.out(reach.middle) for side in sides]
    # far from both ends curves are flat: what lies far beyond one is taken for the other's at times
    most = max(o + (side.never if o == max(out) else 0) for o, side in zip(out, sides, strict=True))
    on = [o > limit * of and (o == max(out) or o > AGAINST_OTHER * most) for o in out]
    clear = [o + side.never < LIMIT_CLEAR * of for o, side in zip(out, sides, strict=True)]
    # of blocks never sharp some are always there: a plain wing, a shadow
    far = [
        max(0.0, side.never - NEVER_USUAL * side.blocks) if o > LEAST_FAR * seen.known else 0.0
        for side, o in zip(sides, out, strict=True)
    ]
    # where nobody said what the subject is, ground is not held against it
    counted = [True, True] if marked else on
    middle = _share(seen, sides, reach.middle, 1.0, far, counted)
    at_worst = [max(PLAIN_COUNTS * side.never, f) for side, f in zip(sides, far, strict=True)]
    low = _share(seen, sides, reach.low, 1 + BEYOND_UNSURE, far, [True, True])
    lowest = _share(seen, sides, reach.low, 1 + BEYOND_UNSURE, at_worst, [True, True])
    high = _share(seen, sides, reach.high, 1 - BEYOND_UNSURE, [0.0, 0.0], counted)
    more = ALWAYS_UNSURE + DOUBTED_UNSURE * seen.doubted / (seen.known + seen.doubted)
    worth = high - (lowest if marked else low) <= WIDEST
    if not marked:  # what lies beyond an end may be ground or the subject
        worth &= all(o <= LIMIT_BEYOND * of or lies for o, lies in zip(out, on, strict=True))
    low, high = max(0.0, min(lowest, middle) - more), min(1.0, max(high, middle) + more)
    starts, stops = (False if o else True if c else None for o, c in zip(on, clear, strict=True))
    if ground and starts is False:
        starts = None
    return Coverage(middle if worth else None, low, high, starts, stops)


def _share(
    seen: _Seen,
    sides: list[_Side],
    reach: float,
    unsure: float,
    never: list[float],
    counted: list[bool],
) -> float:
    """Sharp blocks of all, between the frames and at the ends that count."""
    sharp = float((seen.inner * np.minimum(1.0, 2 * reach / seen.steps)).sum())
    of = float(seen.inner.sum())
    for side, more, counts in zip(sides, never, counted, strict=True):
        if counts:
            sharp += side.blocks - min(side.blocks, side.out(reach) * unsure)
            of += side.blocks + more
    return sharp / max(of, 1.0)


def _joined(start: Array, open_ground: Array) -> Array:
    """Open ground that hangs together with the start."""
    reached = start
    for _ in range(sum(start.shape)):
        wider = reached.copy()
        wider[1:] |= reached[:-1]
        wider[:-1] |= reached[1:]
        wider[:, 1:] |= reached[:, :-1]
        wider[:, :-1] |= reached[:, 1:]
        wider &= open_ground | start
        if (wider == reached).all():
            break
        reached = wider
    return reached & open_ground
