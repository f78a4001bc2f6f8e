"""What lies over a print when asked: drawn with a pencil's line, read from the maps of blocks.

Nothing is said by colour: a white line with a dark edge shows on any picture and on grey paper.
What is sharp has a line round it with short ticks pointing in, as a map draws a hollow; what burnt
out is full of small rings, as holes in paper; what is black is full of small crosses.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Point = tuple[float, float]

HALF = 0.5
LEAST_LOST = 0.25  # share of a block from which it is drawn as lost
UNITS = 1000.0  # of the drawing along the longer side, whatever the picture's pixels
TICK, TICK_EVERY = 9.0, 22.0
SIGN, SIGN_EVERY = 5.0, 20.0
SMALLEST = 4.0  # a line round less than this is a speck

#: In each cell of four blocks, between which of its sides the line runs, the inside on its right.
#: Sides: 0 top, 1 right, 2 bottom, 3 left; key: top left, top right, bottom right, bottom left.
SIDES: dict[tuple[int, int, int, int], tuple[tuple[int, int], ...]] = {
    (1, 0, 0, 0): ((0, 3),), (0, 1, 0, 0): ((1, 0),), (0, 0, 1, 0): ((2, 1),),
    (0, 0, 0, 1): ((3, 2),), (1, 1, 0, 0): ((1, 3),), (0, 1, 1, 0): ((2, 0),),
    (0, 0, 1, 1): ((3, 1),), (1, 0, 0, 1): ((0, 2),), (1, 1, 1, 0): ((2, 3),),
    (0, 1, 1, 1): ((3, 0),), (1, 0, 1, 1): ((0, 1),), (1, 1, 0, 1): ((1, 2),),
    (1, 0, 1, 0): ((0, 3), (2, 1)), (0, 1, 0, 1): ((1, 0), (3, 2)),
}  # fmt: skip


def sharp_drawn(maps: dict[str, npt.NDArray[Any]], size: tuple[int, int]) -> str:
    """Return a drawing round what is sharp, for a picture of this width and height."""
    width, height = _units(size)
    lines = outlines(_smoothed(maps["sharp"].astype(float)), width, height)
    ticks = [tick for line in lines for tick in _ticks(line)]
    return _drawing(width, height, [*(_closed(line) for line in lines), *ticks])


def lost_drawn(maps: dict[str, npt.NDArray[Any]], size: tuple[int, int]) -> str:
    """Return a drawing of what burnt out (rings) and what is black (crosses)."""
    width, height = _units(size)
    strokes = []
    for name, sign in (("burnt", _ring), ("black", _cross)):
        share = maps[name].astype(float) / 255.0
        if not share.size:
            continue
        lost = (share >= LEAST_LOST).astype(float)
        strokes += [_closed(line) for line in outlines(lost, width, height)]
        strokes += [sign(*point) for point in _inside(lost, width, height)]
    return _drawing(width, height, strokes)


def outlines(values: Array, width: float, height: float) -> list[list[Point]]:
    """Return closed lines where a map of blocks passes one half, larger values on their right."""
    if not values.size or values.max() < HALF:
        return []
    field = np.pad(values, 1)  # so that lines close along the picture's rim
    over = field >= HALF
    mixed = over[:-1, :-1].astype(int) + over[:-1, 1:] + over[1:, 1:] + over[1:, :-1]
    after: dict[tuple[int, int, int], tuple[int, int, int]] = {}
    for row, column in zip(*np.nonzero((mixed > 0) & (mixed < 4)), strict=True):
        r, c = int(row), int(column)
        corners = (over[r, c], over[r, c + 1], over[r + 1, c + 1], over[r + 1, c])
        for one, other in SIDES[tuple(int(v) for v in corners)]:  # type: ignore[index]
            after[_edge(r, c, one)] = _edge(r, c, other)
    lines = []
    while after:
        start = at = next(iter(after))
        line = []
        while at in after:
            line.append(_crossing(field, at))
            at = after.pop(at)
        if at == start and len(line) > 2:
            lines.append(_rounded(_placed(line, values.shape, width, height)))
    return [line for line in lines if _length(line) >= SMALLEST * 2 * math.pi]


def _edge(row: int, column: int, side: int) -> tuple[int, int, int]:
    """Name the side of a cell so that its neighbour names it the same: 0 lies, 1 stands."""
    return {
        0: (row, column, 0),
        1: (row, column + 1, 1),
        2: (row + 1, column, 0),
        3: (row, column, 1),
    }[side]


def _crossing(field: Array, edge: tuple[int, int, int]) -> Point:
    row, column, stands = edge
    one = field[row, column]
    other = field[row + 1, column] if stands else field[row, column + 1]
    share = float((HALF - one) / (other - one)) if other != one else 0.5
    return (float(column), row + share) if stands else (column + share, float(row))


def _placed(
    line: Sequence[Point], shape: tuple[int, ...], width: float, height: float
) -> list[Point]:
    """From the middles of padded blocks to the units of the drawing, inside the picture."""
    across, down = width / shape[1], height / shape[0]
    return [
        (
            min(max((x - 0.5) * across, 0.0), width),
            min(max((y - 0.5) * down, 0.0), height),
        )
        for x, y in line
    ]


def _rounded(line: list[Point]) -> list[Point]:
    """Cut every corner once, as a hand would (Chaikin 1974)."""
    result = []
    for (x, y), (u, v) in zip(line, [*line[1:], line[0]], strict=True):
        result += [(0.75 * x + 0.25 * u, 0.75 * y + 0.25 * v)]
        result += [(0.25 * x + 0.75 * u, 0.25 * y + 0.75 * v)]
    return result


def _length(line: Sequence[Point]) -> float:
    return sum(math.dist(a, b) for a, b in zip(line, [*line[1:], line[0]], strict=True))


def _ticks(line: list[Point]) -> Iterable[str]:
    """Short strokes to the line's right, evenly along it."""
    walked = TICK_EVERY / 2
    for (x, y), (u, v) in zip(line, [*line[1:], line[0]], strict=True):
        long = math.dist((x, y), (u, v))
        walked += long
        if walked >= TICK_EVERY and long > 0:
            walked = 0.0
            right = (-(v - y) / long * TICK, (u - x) / long * TICK)
            yield f"M{x:.1f} {y:.1f}l{right[0]:.1f} {right[1]:.1f}"


def _inside(mask: Array, width: float, height: float) -> Iterable[Point]:
    """Even places inside what is lost; every other row is moved by half a step."""
    rows, columns = mask.shape
    for k in range(int(height / SIGN_EVERY)):
        y = (k + 0.5) * SIGN_EVERY
        for j in range(int(width / SIGN_EVERY)):
            x = (j + (0.25 if k % 2 else 0.75)) * SIGN_EVERY
            row, column = int(y / height * rows), int(x / width * columns)
            if row < rows and column < columns and mask[row, column] > HALF:
                yield x, y


def _ring(x: float, y: float) -> str:
    r = SIGN / 2
    return f"M{x - r:.1f} {y:.1f}a{r} {r} 0 1 0 {SIGN} 0a{r} {r} 0 1 0 {-SIGN} 0"


def _cross(x: float, y: float) -> str:
    r = SIGN / 2
    return f"M{x - r:.1f} {y - r:.1f}l{SIGN} {SIGN}m0 {-SIGN}l{-SIGN} {SIGN}"


def _closed(line: Sequence[Point]) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in line) + "Z"


def _units(size: tuple[int, int]) -> tuple[float, float]:
    longest = max(*size, 1)
    return size[0] * UNITS / longest, size[1] * UNITS / longest


def _smoothed(values: Array) -> Array:
    """Average each block with its neighbours, so that single ones make no islands."""
    if not values.size:
        return values
    padded = np.pad(values, 1, mode="edge")
    height, width = values.shape
    rows = np.sum([padded[k : k + height] for k in range(3)], axis=0)
    return np.asarray(np.sum([rows[:, k : k + width] for k in range(3)], axis=0) / 9.0)


def _drawing(width: float, height: float, strokes: Sequence[str]) -> str:
    path = "".join(strokes)
    line = 'fill="none" stroke-linecap="round" stroke-linejoin="round"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" '
        f'width="{width:.0f}" height="{height:.0f}" preserveAspectRatio="none">'
        f'<defs><path id="drawn" d="{path}" {line}/></defs>'
        '<use href="#drawn" stroke="#1d1b18" stroke-width="4.4"/>'
        '<use href="#drawn" stroke="#fff" stroke-width="2"/></svg>'
    )
