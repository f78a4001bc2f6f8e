"""What is burnt out or blocked, per channel, and which burnt spots are only glints."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Pixels = npt.NDArray[np.uint8]

#: 8-bit values at which a channel holds no more detail; JPEG wobbles by about one.
BURNT, BLOCKED = 254, 3
EVERY_ROW = 8
ROWS_AT_ONCE = 16
#: A glint is a burnt spot within this share of the longer side, and full of light.
LIMIT_GLINT_SIDE = 0.015
#: More than this share of the frame in glints is no longer 'few small ones'.
LIMIT_GLINTS = 0.005
#: Black is looked at in about so many places along the longer side.
PLACES = 90
#: Black that runs out of the frame along more than this share of the frame's rim is a ground.
LIMIT_RUNS_OUT = 0.02


@dataclass(frozen=True)
class Clipping:
    """Shares of the frame, 0 to 1."""

    share: float  # any channel burnt
    by_channel: tuple[float, float, float]
    blocked: float  # all channels black
    blocked_inside: float  # of `blocked`, what does not run out of the frame: no black ground
    glints: float  # of `share`, what lies in small round spots
    blocks: Array  # share of each block burnt in any channel


def measure(rgb: Pixels, block_px: int = 16, every_row: int = EVERY_ROW) -> Clipping:
    """Count burnt and blocked pixels of a picture.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (M, N, 3) or (M, N, 4)
        At full resolution: averaged pictures hide small burnt spots. A fourth channel is only
        there to fill four bytes, and is left out.
    block_px : int
        Side of the blocks of the map; not below `every_row`.
    every_row : int
        Only each n-th row is counted; 8 changes shares of whole frames by a few hundredths.

    Returns
    -------
    Clipping
    """
    rows = rgb[::every_row]
    height, width = rows.shape[:2]
    brightest, over = _over_channels(rows)
    any_burnt = brightest >= BURNT
    total = height * width
    by_channel = tuple(float(count) / total for count in over)
    if any(by_channel):
        blocks = _pooled(any_burnt, max(block_px // every_row, 1), block_px)
    else:
        blocks = np.zeros((height // max(block_px // every_row, 1), width // block_px))
    blocked, inside = _blocked(brightest, every_row) if brightest.min() <= BLOCKED else (0.0, 0.0)
    share = float(np.count_nonzero(any_burnt)) / total
    side = max(rgb.shape[:2]) / block_px * LIMIT_GLINT_SIDE
    glints = _glint_share(blocks, side) if share else 0.0
    glints = min(glints, share)
    return Clipping(share, by_channel, blocked, min(inside, blocked), glints, blocks)  # type: ignore[arg-type]


def _blocked(brightest: Pixels, every_row: int) -> tuple[float, float]:
    """Return the share that is black, and the share that is and does not run out of the frame."""
    black = brightest <= BLOCKED
    side = max(len(black) * every_row, black.shape[1]) // PLACES
    inside = _inside(_pooled(black, max(side // every_row, 1), max(side, 1)))
    return float(np.count_nonzero(black)) / black.size, inside


def _over_channels(rows: Pixels) -> tuple[Pixels, npt.NDArray[np.int64]]:
    """Return each pixel's brightest channel, and how many pixels of each channel are burnt.

    A few rows at a time, as they lie in memory: picking one channel out of all costs far more
    than comparing all of them.
    """
    height, width, channels = rows.shape
    brightest = np.empty((height, width), np.uint8)
    over = np.zeros(width * channels, np.int64)
    for top in range(0, height, ROWS_AT_ONCE):
        part = np.ascontiguousarray(rows[top : top + ROWS_AT_ONCE])
        flat = part.reshape(-1)
        three = np.maximum(flat[:-2], flat[1:-1])
        np.maximum(three, flat[2:], out=three)
        brightest[top : top + ROWS_AT_ONCE] = three[::channels].reshape(part.shape[:2])
        if brightest[top : top + ROWS_AT_ONCE].max() >= BURNT:
            burnt = (part >= BURNT).view(np.uint8).reshape(len(part), -1)
            over += np.add.reduce(burnt, axis=0, dtype=np.uint8)
    return brightest, over.reshape(width, channels)[:, :3].sum(axis=0)


def _pooled(mask: npt.NDArray[np.bool_], rows: int, columns: int) -> Array:
    height, width = mask.shape[0] // rows, mask.shape[1] // columns
    cut = mask[: height * rows, : width * columns].view(np.uint8).reshape(height, rows, -1)
    down = np.add.reduce(cut, axis=1, dtype=np.uint8 if rows < 256 else np.uint32)
    # counts are exact in 32 bits of float, and products are summed much faster than rows
    counts = down.reshape(height, width, columns) @ np.ones(columns, np.float32)
    return np.asarray(counts, float) / float(rows * columns)


def _inside(black: Array) -> float:
    """Share of the frame in black regions that do not run out of it.

    A shadow on a thing ends where the thing is lit or its ground begins; a black ground goes on
    past the frame.
    """
    if not black.size:
        return 0.0
    labels, count = label(black >= 0.5)
    if not count:
        return 0.0
    rim = np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]])
    at_rim = np.bincount(rim, minlength=count + 1)[1:]
    ground = at_rim > LIMIT_RUNS_OUT * rim.size
    weight = np.bincount(labels.ravel(), weights=black.ravel(), minlength=count + 1)[1:]
    return float(weight[~ground].sum() / black.size)


def _glint_share(blocks: Array, side: float) -> float:
    """Share of the frame in burnt spots no longer than `side` blocks either way (2 at least)."""
    labels, count = label(blocks > 0.0)
    total, longest = 0.0, max(side, 2.0)
    for height, width, burnt in spots(labels, count, blocks):
        if max(height, width) <= longest and max(height, width) <= 3 * min(height, width):
            total += burnt
    share = total / blocks.size
    return share if share <= LIMIT_GLINTS else 0.0


def spots(labels: npt.NDArray[np.intp], count: int, weight: Array) -> list[tuple[int, int, float]]:
    """Return height, width and summed weight of each labelled spot."""
    if not count:
        return []
    row, column = np.nonzero(labels)
    of = labels[row, column] - 1
    top, left = np.full(count, labels.shape[0]), np.full(count, labels.shape[1])
    bottom, right = np.zeros(count, int), np.zeros(count, int)
    np.minimum.at(top, of, row)
    np.maximum.at(bottom, of, row)
    np.minimum.at(left, of, column)
    np.maximum.at(right, of, column)
    summed = np.bincount(of, weights=weight[row, column], minlength=count)
    sides = (bottom - top + 1).tolist(), (right - left + 1).tolist()
    return list(zip(*sides, summed.tolist(), strict=True))


def label(mask: npt.NDArray[np.bool_]) -> tuple[npt.NDArray[np.intp], int]:
    """Number the connected parts of a small mask (neighbours along rows, columns, diagonals)."""
    height, width = mask.shape
    number = np.zeros((height + 2, width + 2), np.intp)
    inner = number[1:-1, 1:-1]
    inner[mask] = np.arange(1, int(mask.sum()) + 1)
    while True:  # each takes the highest number beside it, until nothing changes
        tall = np.maximum(np.maximum(number[:-2], number[1:-1]), number[2:])
        most = np.maximum(np.maximum(tall[:, :-2], tall[:, 1:-1]), tall[:, 2:]) * mask
        if np.array_equal(most, inner):
            break
        inner[...] = most
    used = np.bincount(inner.ravel()) > 0
    used[:1] = False  # what is not in the mask
    return np.cumsum(used, dtype=np.intp)[inner], int(np.count_nonzero(used))


def shadow_side(luma: npt.NDArray[np.generic], weight: Array | None = None) -> str | None:
    """Return the side of the subject that lies in shadow: left, right, top, bottom or None.

    A hint for light studies: the slope of the brightness over the part that counts, claimed only
    where it is a stop or more from side to side.

    Parameters
    ----------
    luma : ndarray of shape (M, N)
        8-bit luminance, small.
    weight : ndarray of shape (M, N), optional
        What counts; everything where not given.
    """
    values = np.log2(np.maximum((np.asarray(luma, float) / 255.0) ** 2.2, 1e-4))
    height, width = values.shape
    if weight is None:
        weight = np.ones_like(values)
    if weight.sum() < 16:
        return None
    y, x = np.mgrid[0:height, 0:width]
    w = weight / weight.sum()
    x, y = x - (w * x).sum(), y - (w * y).sum()
    spread = np.array([[(w * x * x).sum(), (w * x * y).sum()], [0.0, (w * y * y).sum()]])
    spread[1, 0] = spread[0, 1]
    if np.linalg.det(spread) < 1e-6:
        return None
    centred = values - (w * values).sum()
    slope = np.linalg.solve(spread, [(w * x * centred).sum(), (w * y * centred).sum()])
    # from one side to the other of what counts: about 3.5 standard deviations of a filled shape
    stops = slope * 3.46 * np.sqrt(np.diag(spread))
    if np.abs(stops).max() < 1.0:
        return None
    if abs(stops[0]) >= abs(stops[1]):
        return "left" if stops[0] > 0 else "right"
    return "top" if stops[1] > 0 else "bottom"
