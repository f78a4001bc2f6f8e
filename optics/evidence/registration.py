"""Shift, scale and turn between two frames of the same thing, though the focus has moved.

Blocks are correlated and a similarity is fitted to their shifts, robustly. A correlation of
whole pictures cannot see the scale; log-polar correlation is too coarse for a focus stack.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]  # of floats

COARSE_PX = 256  # longest side of the first step
LEAST_AGREEING = 0.35  # share of the blocks' weight
STILL_PX = 0.06  # a change that moves no corner farther needs no further round
OVERLAP = 1.5  # blocks along a side, of those that would do
BLOCKS_SHARE = 1.6  # as they overlap, so many together tell one thing
LARGEST_SPREAD = 0.012  # of a block's side, among blocks that agree
#: first guesses of scale and turn, tried until one holds: the plain one nearly always does
GUESSES = ((1.0, 0.0), (1.07, 0.0), (0.935, 0.0), (1.0, 3.0), (1.0, -3.0)) + tuple(
    (s, t) for s in (1.07, 0.935) for t in (3.0, -3.0)
)


class Alignment(NamedTuple):
    """Where the reference's content stands in the moved frame, about the frames' centres."""

    shift: tuple[float, float]  # rows, columns; pixels of the given frames
    scale: float  # above 1: larger in the moved frame
    turn_deg: float  # anticlockwise as seen


@dataclass(frozen=True)
class Fit:
    """An alignment, and how well the blocks agree on it."""

    alignment: Alignment
    agreeing: float  # share of the blocks' weight within the spread
    spread_px: float  # of the agreeing blocks, pixels of the given frames
    shift_error_px: float = float("inf")  # what the blocks' scatter leaves open, one deviation
    turn_error_deg: float = float("inf")

    @property
    def holds(self) -> bool:
        return self.agreeing >= LEAST_AGREEING


class NoMatch(ValueError):
    """The two frames do not show the same thing, or nothing can be told from them."""


def align(reference: NDArray[np.generic], moved: NDArray[np.generic]) -> Alignment:
    """Return shift, scale and turn that take the reference onto the moved frame.

    Parameters
    ----------
    reference, moved : ndarray of shape (M, N)
        Luminance of equal shape; 512 to 1024 pixels on the long side serve
        best. Neither is changed.

    Returns
    -------
    Alignment
        ``(shift, scale, turn_deg)``: a point at (row, column) from the
        reference's centre stands in the moved frame at
        ``scale * R(turn) * point + shift`` from its centre.

    Raises
    ------
    NoMatch
        Where the blocks agree on no similarity.

    Notes
    -----
    Good to 1e-4 in scale for neighbouring slices of a stack; finds up to
    about 10 per cent of scale, 5 degrees of turn and a quarter of the
    frame of shift.

    Examples
    --------
    >>> import numpy as np
    >>> frame = np.random.default_rng(1).normal(size=(256, 384)).cumsum(0).cumsum(1)
    >>> found = align(frame[8:-8, 8:-8], frame[5:-11, 12:-4])
    >>> [round(v, 1) for v in found.shift]
    [3.0, -4.0]
    """
    fit = best_fit(reference, moved)
    if not fit.holds:
        raise NoMatch("the frames do not match: too few parts agree on how the picture moved")
    return fit.alignment


def best_fit(reference: NDArray[np.generic], moved: NDArray[np.generic]) -> Fit:
    """Return the alignment most blocks agree on, and how well they do."""
    first, second = _checked(reference), _checked(moved)
    if first.shape != second.shape:
        raise ValueError(f"the frames differ in size: {first.shape} and {second.shape}")
    factor = max(1, round(max(first.shape) / COARSE_PX))
    small = _reduced(first, factor), _reduced(second, factor)
    block = _block_px(small[0].shape, 128 if min(small[0].shape) >= 150 else 64)
    best: tuple[Fit, Array] | None = None
    for scale, turn_deg in GUESSES:
        found = _refined(*small, _matrix(scale, turn_deg), block, rounds=3)
        if best is None or found[0].agreeing > best[0].agreeing:
            best = found
        if best[0].agreeing > 0.7:
            break
    assert best is not None
    fit, matrix = best
    if factor > 1:
        matrix = matrix.copy()
        matrix[:, 2] *= factor
        block = _block_px(first.shape, 128 if max(first.shape) <= 700 else 256)
        fit, matrix = _refined(first, second, matrix, block, rounds=2)
    return fit


def warped(picture: Array, alignment: Alignment) -> Array:
    """Return the moved picture brought onto the reference; 0 where it shows nothing."""
    matrix = _matrix(alignment.scale, alignment.turn_deg)
    matrix[:, 2] = alignment.shift
    return _taken(np.asarray(picture, np.float32), matrix)[0]


def composed(first: Alignment, second: Alignment) -> Alignment:
    """Return the alignment of going by `first` and then by `second`."""
    a, b = (_matrix(one.scale, one.turn_deg) for one in (first, second))
    a[:, 2], b[:, 2] = first.shift, second.shift
    joined = b[:, :2] @ a
    joined[:, 2] += b[:, 2]
    return _alignment(joined)


def inverse(alignment: Alignment) -> Alignment:
    """Return the alignment that undoes this one."""
    back = np.linalg.inv(_matrix(alignment.scale, alignment.turn_deg)[:, :2])
    shift = -back @ np.array(alignment.shift)
    return Alignment((float(shift[0]), float(shift[1])), 1 / alignment.scale, -alignment.turn_deg)


def _checked(picture: NDArray[np.generic]) -> Array:
    checked: Array = np.asarray(picture, dtype=np.float32)
    if checked.ndim != 2 or min(checked.shape) < 48:
        raise ValueError(f"a frame has shape {checked.shape}; give at least 48 rows and columns")
    if not np.isfinite(checked).all():
        raise ValueError("a frame holds values that are no finite numbers")
    return checked


def _reduced(picture: Array, factor: int) -> Array:
    height, width = (side // factor * factor for side in picture.shape)
    # cut evenly, so that the centre stays the centre
    top, left = (picture.shape[0] - height) // 2, (picture.shape[1] - width) // 2
    cut = picture[top : top + height, left : left + width]
    blocks = cut.reshape(height // factor, factor, width // factor, factor)
    reduced: Array = blocks.mean(axis=(1, 3))
    return reduced


def _block_px(shape: tuple[int, ...], wanted: int) -> int:
    return min(wanted, 1 << int(np.log2(min(shape))))


def _matrix(scale: float, turn_deg: float) -> Array:
    """Rows and columns; rows run down, so an anticlockwise turn as seen has this sign."""
    cos, sin = scale * np.cos(np.radians(turn_deg)), scale * np.sin(np.radians(turn_deg))
    return np.array([[cos, -sin, 0.0], [sin, cos, 0.0]])


def _alignment(matrix: Array) -> Alignment:
    scale = float(np.hypot(matrix[0, 0], matrix[1, 0]))
    turn = float(np.degrees(np.arctan2(matrix[1, 0], matrix[0, 0])))
    return Alignment((float(matrix[0, 2]), float(matrix[1, 2])), scale, turn)


def _refined(
    reference: Array, moved: Array, matrix: Array, block: int, rounds: int
) -> tuple[Fit, Array]:
    """Bring the moved frame back, see what shifts are left, fit, and again."""
    centres = _centres(reference.shape, block)
    spectra = _spectra(reference, centres, block)
    fit = Fit(_alignment(matrix), 0.0, float("inf"))
    for _ in range(rounds):
        back, seen = _taken(moved, matrix)
        shift, weight = _shifts(spectra, back, seen, centres, block)
        change, found = _similarity(centres, reference.shape, shift, weight, block)
        # the change is seen in the reference's frame, and is carried over by the matrix
        matrix = _joined(matrix, change)
        fit = Fit(_alignment(matrix), *found)
        if fit.agreeing == 0 or _largest_px(change, reference.shape) < STILL_PX:
            break
    return fit, matrix


def _largest_px(change: Array, shape: tuple[int, ...]) -> float:
    """How far a corner of the frame goes."""
    return float(np.hypot(*change[:, 2]) + np.abs(change[:, :2] - np.eye(2)).sum() * max(shape) / 2)


def _joined(outer: Array, inner: Array) -> Array:
    joined = outer[:, :2] @ inner
    joined[:, 2] += outer[:, 2]
    return joined


def _centres(shape: tuple[int, ...], block: int) -> Array:
    """Block corners, overlapping by a third, over the whole frame."""
    rows, columns = (
        np.unique(np.linspace(0, side - block, max(2, round(OVERLAP * side / block))).astype(int))
        for side in shape
    )
    return np.array([(r, c) for r in rows for c in columns])


def _window(block: int) -> Array:
    hann = 0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(block, dtype=np.float32) + 0.5) / block)
    return hann[:, None] * hann[None, :]


def _spectra(picture: Array, corners: Array, block: int) -> Array:
    window = _window(block)
    cut = np.stack([picture[r : r + block, c : c + block] for r, c in corners])
    total = window.sum()
    cut = (cut - (cut * window).sum(axis=(1, 2), keepdims=True) / total) * window
    # numpy transforms 32-bit floats in 64 bits unless it scales them: three times as slow
    return np.fft.rfft2(cut, norm="forward") * np.float32(block * block)


def _shifts(
    spectra: Array, back: Array, seen: Array, corners: Array, block: int
) -> tuple[Array, Array]:
    """Shift of each block (rows, columns), and how far it can be trusted."""
    other = _spectra(back, corners, block)
    cross = other * np.conj(spectra)
    # to the power of 3/4 (1 is phase correlation, 0 plain correlation), by roots: far quicker
    root = np.sqrt(np.abs(cross))
    whitening = root * np.sqrt(root)
    cross /= whitening + 1e-6 * whitening.max(axis=(1, 2), keepdims=True) + 1e-20
    surface = np.fft.irfft2(cross * _low_pass(block), (block, block))
    flat = surface.reshape(len(surface), -1)
    place = flat.argmax(axis=1)
    row, column = place // block, place % block
    k = np.arange(len(flat))

    def between(dr: int, dc: int) -> Array:
        value: Array = surface[k, (row + dr) % block, (column + dc) % block]
        return value

    middle = between(0, 0)
    shift = np.empty((len(flat), 2))
    bluntest = np.full(len(flat), np.inf)
    for axis, (dr, dc) in enumerate(((1, 0), (0, 1))):
        after, before = between(dr, dc), between(-dr, -dc)
        bend = after - 2 * middle + before
        bluntest = np.minimum(bluntest, -bend)
        shift[:, axis] = np.where(bend < 0, 0.5 * (before - after) / np.minimum(bend, -1e-20), 0)
    shift += np.stack([row, column], axis=1)
    shift[shift > block / 2] -= block
    noise = flat.std(axis=1) + 1e-20
    covered = np.array([seen[r : r + block, c : c + block].mean() for r, c in corners])
    # a peak above the rest is right; one that is narrow as well is exact: blur makes it blunt
    clear = np.clip(middle / noise - 4, 0, 20) * np.clip(bluntest / (middle + 1e-20), 0, 1)
    return shift, np.where((covered > 0.6) & (np.abs(shift).max(axis=1) < 0.4 * block), clear, 0)


def _low_pass(block: int) -> Array:
    """Leave out the finest detail: noise, and what turning the frame back has softened."""
    f = np.hypot(np.fft.fftfreq(block)[:, None], np.fft.rfftfreq(block)[None, :])
    low: Array = np.exp(-((f / 0.22) ** 2)).astype(np.float32)
    return low


def _taken(picture: Array, matrix: Array) -> tuple[Array, Array]:
    """Look up, for every place of the reference, where it stands in the moved picture."""
    height, width = picture.shape
    rows = np.arange(height, dtype=np.float32)[:, None] - (height - 1) / 2
    columns = np.arange(width, dtype=np.float32)[None, :] - (width - 1) / 2
    m = matrix.astype(np.float32)
    y = m[0, 0] * rows + m[0, 1] * columns + (m[0, 2] + (height - 1) / 2)
    x = m[1, 0] * rows + m[1, 1] * columns + (m[1, 2] + (width - 1) / 2)
    seen = (y >= 0) & (y <= height - 1) & (x >= 0) & (x <= width - 1)
    np.clip(y, 0, height - 1.001, out=y)
    np.clip(x, 0, width - 1.001, out=x)
    top, left = y.astype(np.int32), x.astype(np.int32)
    y -= top
    x -= left
    index = top * width + left
    flat = np.ascontiguousarray(picture).ravel()
    upper = flat.take(index)
    upper += x * (flat.take(index + 1) - upper)
    index += width
    lower = flat.take(index)
    lower += x * (flat.take(index + 1) - lower)
    upper += y * (lower - upper)
    upper *= seen
    return upper, seen


def _similarity(
    corners: Array, shape: tuple[int, ...], shift: Array, weight: Array, block: int
) -> tuple[Array, tuple[float, ...]]:
    """Fit shift, scale and turn to the blocks' shifts, letting outliers go.

    Returns the change, and how well the blocks agree on it as `Fit` has it.
    """
    at = corners + (block - 1) / 2 - (np.array(shape) - 1) / 2
    y, x = at[:, 0], at[:, 1]
    one, nought = np.ones(len(at)), np.zeros(len(at))
    # unknowns: scale - 1, turn, shift down, shift right
    design = np.concatenate(
        [np.stack([y, -x, one, nought], axis=1), np.stack([x, y, nought, one], axis=1)]
    )
    wanted = np.concatenate([shift[:, 0], shift[:, 1]])
    still = np.array([[1.0, 0, 0], [0, 1.0, 0]])
    if np.count_nonzero(weight) < 4:
        return still, (0.0, float("inf"))
    now = weight.copy()
    limit = block / 4
    answer = np.zeros(4)
    for _ in range(12):
        root = np.sqrt(np.concatenate([now, now]))
        answer = np.linalg.lstsq(design * root[:, None], wanted * root, rcond=None)[0]
        left = np.hypot(*(wanted - design @ answer).reshape(2, -1))
        scatter = _weighted_median(left, weight)
        # never below the middle scatter: a few blocks that agree by chance must not take over
        limit = max(min(limit, 1.5 * scatter), scatter, 0.05)
        now = weight / (1 + (left / limit) ** 2) ** 2
        limit *= 0.8
    near = (left < LARGEST_SPREAD * block) & (weight > 0)
    agreeing = float(weight[near].sum() / weight.sum())
    spread = float(np.sqrt(np.average(left[near] ** 2, weights=weight[near]))) if near.any() else 0
    if near.sum() < 4:
        return still, (0.0, float("inf"))
    ds, turn, down, right = answer
    change = np.array([[1 + ds, -turn, down], [turn, 1 + ds, right]])
    return change, (agreeing, spread, *_errors(design, wanted - design @ answer, now))


def _errors(design: Array, left: Array, trust: Array) -> tuple[float, float]:
    """Deviation of the shift (pixels) and of the turn (degrees), from what the fit left over."""
    trust = np.tile(trust / trust.max(), 2)
    inverse = np.linalg.pinv((design * trust[:, None]).T @ design)
    scattered = (design * (trust * left)[:, None]).T @ (design * (trust * left)[:, None])
    spread = inverse @ scattered @ inverse * BLOCKS_SHARE
    shift = float(np.sqrt(spread[2, 2] + spread[3, 3]))
    return shift, float(np.degrees(np.sqrt(spread[1, 1])))


def _weighted_median(values: Array, weight: Array) -> float:
    order = np.argsort(values)
    total = np.cumsum(weight[order])
    return float(values[order][np.searchsorted(total, total[-1] / 2)])
