"""How long each step of a focus stack was against its neighbours, from sharpness alone.

A patch of the picture gets sharper and softer smoothly as the focus travels past it, whatever
its texture and its depth. Drawn against the number of the frame its curve is as smooth, unless a
step was longer than the others: there every curve runs faster, for patches sharpest long before
and long after alike. So a step's length is the one that makes all curves smoothest.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]  # of floats

REACH = 6  # frames on each side of a step that are looked at
LENGTHS = np.array([0.25, 0.5, 0.7, 0.85, 1, 1.15, 1.3, 1.5, 1.7, 2, 2.3, 2.6, 3, 3.5, 4])
UNIT = int(np.flatnonzero(LENGTHS == 1)[0])
SMOOTHNESS = (1.0, 1.5, 2.2, 3.2, 4.7, 7.0, 10.0)  # steps over which a curve stays alike
ROUGHNESS = (0.003, 0.01, 0.03, 0.1, 0.3, 1.0)  # variance of what is noise, of the curve's own
LEVEL = 100.0  # variance of a curve's height: nothing is known of it
LEAST_PATCHES = 12  # on one side of a step, to speak for it
DARK = 0.5  # added before the logarithm: 8-bit values know no finer


@dataclass(frozen=True)
class Steps:
    """One entry a step, K - 1 in all."""

    length: Array  # times the neighbours; nan where nothing tells
    #: how much better this length explains the patches sharpest before the step, and those
    #: sharpest after it, than a step like the others: gain in log-likelihood for one patch,
    #: added up over the levels
    before: Array
    after: Array
    weight: Array  # (K - 1, 2) patches on both sides

    @property
    def told(self) -> NDArray[np.bool_]:
        """Steps with patches on both sides: one side alone may be a flat ground's."""
        return np.asarray((self.weight >= LEAST_PATCHES).all(axis=1))

    def longer(self, ratio: float, gain: float) -> NDArray[np.bool_]:
        """Steps longer than `ratio`, as the patches of both sides know."""
        with np.errstate(invalid="ignore"):
            long = self.told & (self.length > ratio)
        sure: NDArray[np.bool_] = np.logical_and(long, np.minimum(self.before, self.after) >= gain)
        return sure


def step_lengths(levels: Sequence[Array]) -> Steps:
    """Return the length of every step from how smoothly the sharpness changes.

    Parameters
    ----------
    levels : sequence of ndarray of shape (K, N)
        Sharpness of N patches in K frames, the same patches in all frames;
        one array for each fineness of detail. Coarse detail sees far from
        the focus where fine detail is gone.

    Returns
    -------
    Steps
        Lengths against the steps near by; a drift along the stack is not
        told.

    Notes
    -----
    The logarithms of sharpness are taken for one smooth random function
    each (a Gaussian process with a Matern kernel of order 5/2, Rasmussen
    and Williams, Gaussian Processes for Machine Learning, 2006, equation
    4.17) of the unknown focus positions. Its likelihood needs no more than
    the sums of products between frames, so thousands of patches cost no
    more than one.
    """
    count = len(levels[0])
    like = np.zeros((count - 1, 2, len(LENGTHS)))
    weight = np.zeros((count - 1, 2))
    for level in levels:
        if level.shape[1] < LEAST_PATCHES or count < 5:
            continue
        curve = np.log(np.asarray(level, np.float64) + DARK)
        # what all patches do at once is a jump of the light or a shake, and no step
        curve -= curve.mean(axis=1, keepdims=True)
        place = level.argmax(axis=0)
        share = _uncrowded(place, count)
        for k in range(count - 1):
            sides = _sides(curve, place, share, k)
            for side, (products, patches) in enumerate(sides):
                if patches > 0:
                    like[k, side] += _likelihood(products, patches, *_window(count, k))
                    weight[k, side] += patches
    total = like.sum(axis=1)
    told = weight.sum(axis=1) >= LEAST_PATCHES
    best = total.argmax(axis=1)
    rows = np.arange(count - 1)
    gain = like[rows, :, best] - like[:, :, UNIT]
    length = np.where(told, [_top(row) for row in total], np.nan)
    return Steps(length, gain[:, 0], gain[:, 1], weight)


def _window(count: int, step: int) -> tuple[int, int]:
    """How many frames are looked at, and the step's place among theirs."""
    low, high = max(0, step - REACH + 1), min(count, step + REACH + 1)
    return high - low, step - low


def _uncrowded(place: NDArray[np.int64], count: int) -> Array:
    """Less weight for each of very many patches at one depth: a flat ground must not rule."""
    crowd = np.bincount(place, minlength=count)
    share: Array = np.minimum(1.0, np.median(crowd[crowd > 0]) / np.maximum(crowd, 1))[place]
    return share


def _sides(
    curve: Array, place: NDArray[np.int64], share: Array, step: int
) -> list[tuple[Array, float]]:
    """Sums of products between the frames near a step, for patches sharpest before and after.

    Those sharpest at the step itself are left out: near its top a curve bends most, and a
    flat ground passed at once would look like a step.
    """
    low = max(0, step - REACH + 1)
    near = curve[low : step + REACH + 1]
    near = near - near.mean(axis=0)
    size = near.std(axis=0)
    lively = size > np.median(size)
    out = []
    for side in (place < step, place > step + 1):
        chosen = lively & side
        if np.count_nonzero(chosen) < LEAST_PATCHES:
            out.append((np.zeros((len(near), len(near))), 0.0))
            continue
        own = near[:, chosen]
        out.append(((own * share[chosen]) @ own.T, float(share[chosen].sum())))
    return out


def _likelihood(products: Array, patches: float, frames: int, step: int) -> Array:
    """Log-likelihood for one patch, for each length; size, smoothness and noise at their best."""
    inverse, log_size = _models(frames, step)
    misfit = inverse.reshape(-1, frames * frames) @ products.ravel() / (patches * frames)
    like = -0.5 * (log_size.ravel() + frames * np.log(np.maximum(misfit, 1e-12)))
    best: Array = like.reshape(len(LENGTHS), -1).max(axis=1)
    return best


@functools.cache
def _models(frames: int, step: int) -> tuple[Array, Array]:
    """Inverse covariances and their log determinants: length, smoothness, roughness."""
    steps = np.ones((len(LENGTHS), frames - 1))
    steps[:, step] = LENGTHS
    place = np.concatenate([np.zeros((len(LENGTHS), 1)), np.cumsum(steps, axis=1)], axis=1)
    apart = np.abs(place[:, :, None] - place[:, None, :])
    scaled = np.sqrt(5) * apart[:, None] / np.array(SMOOTHNESS)[:, None, None]
    alike = (1 + scaled + scaled**2 / 3) * np.exp(-scaled)
    noise = np.array(ROUGHNESS)[:, None, None] * np.eye(frames)
    covariance = alike[:, :, None] + noise + LEVEL
    return np.linalg.inv(covariance), np.linalg.slogdet(covariance)[1]


def _top(like: Array) -> float:
    """The likeliest length, between those tried."""
    k = int(like.argmax())
    if not 0 < k < len(LENGTHS) - 1:
        return float(LENGTHS[k])
    at, value = np.log(LENGTHS[k - 1 : k + 2]), like[k - 1 : k + 2]
    bend, slope, _ = np.polyfit(at - at[1], value, 2)
    shift = np.clip(-slope / (2 * bend), at[0] - at[1], at[2] - at[1]) if bend < 0 else 0.0
    return float(np.exp(at[1] + shift))
