"""How much larger one frame shows a thing than another: steps far beyond a stack's."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from optics.evidence.registration import Alignment, best_fit, composed, warped

SMALLEST, LARGEST = 0.5, 2.6
LADDER = 1.12  # from guess to guess; registration finds the rest
LEAST_AGREEING = 0.3


def scale_between(first: NDArray[Any], second: NDArray[Any]) -> float | None:
    """Return by how much the second frame is larger, or None where they do not match.

    Parameters
    ----------
    first, second : ndarray of shape (M, N)
        Luminance of equal shape; the thing approached near the middle.

    Notes
    -----
    The second frame is made smaller by each scale of a ladder and then
    registered against the first; the guess most parts agree on holds.
    """
    best: tuple[float, float] | None = None
    steps = int(np.ceil(np.log(LARGEST) / np.log(LADDER)))
    down = int(np.ceil(np.log(1 / SMALLEST) / np.log(LADDER)))
    # nearest to no change first: the ladder ends as soon as one clearly holds
    for k in sorted(range(-down, steps + 1), key=abs):
        guess = LADDER**k
        if guess > 1:  # compare where both show the same: the middle of the first
            trial = Alignment((0.0, 0.0), guess, 0.0)
            height, width = (int(side / guess) for side in first.shape)
            cut = _middle(np.asarray(first, np.float32), height, width)
            back = _middle(warped(np.asarray(second, np.float32), trial), height, width)
        else:
            trial = Alignment((0.0, 0.0), guess, 0.0)
            cut = np.asarray(first, np.float32)
            back = warped(np.asarray(second, np.float32), trial)
        if min(cut.shape) < 64:
            continue
        fit = best_fit(cut, back)
        found = composed(fit.alignment, trial).scale
        if best is None or fit.agreeing > best[0]:
            best = (fit.agreeing, found)
        if fit.agreeing > 0.75:
            break
    if best is None or best[0] < LEAST_AGREEING:
        return None
    return float(best[1])


def _middle(picture: NDArray[Any], height: int, width: int) -> NDArray[Any]:
    top, left = (picture.shape[0] - height) // 2, (picture.shape[1] - width) // 2
    return picture[top : top + height, left : left + width]
