"""How fast a focus stack's blur grows from step to step, in pixels, from sharpness alone.

Out of focus a point becomes a disc, and twice as far out a disc of twice the diameter. What a disc
takes from detail of a known fineness is known, so the share of sharpness that a patch has left
three steps from its own best frame tells the disc, whatever lens and scale.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optics.evidence.disc_response import disc_response

Array = NDArray[Any]  # of floats

AWAY = (2, 3, 4)  # steps from a patch's best frame: nearer little is lost, farther it is noise
LEAST_CONTRAST = 2.5  # of a patch's sharpest over its least sharp frame
LEAST_PATCHES = 40
LEAST_PAIRS = 20
#: Half width of the range as a share: on rendered stacks of four scenes the worst was 0.18 off,
#: on five scenes drawn anew it was looked at again (DEVELOPERS.md)
SHARE_UNSURE = 0.25
FALLS = np.arange(0.5, 3.6, 0.25)  # how steeply a texture's spectrum falls; 2 is common in nature
DISCS = np.concatenate([[0.0], np.geomspace(0.2, 30.0, 60)])  # diameters, pixels
BASE_PX = 0.4  # deviation of what softens even the sharpest frame


@dataclass(frozen=True)
class Growth:
    """Diameter of the disc that one step adds, in pixels of the picture looked at."""

    per_step_px: float
    low_px: float
    high_px: float


def blur_growth(fine: Array, coarse: Array, position: Array) -> Growth | None:
    """Return how much the blur disc grows from step to step.

    Parameters
    ----------
    fine : ndarray of shape (K, N)
        Mean modified Laplacian of N patches in K frames, in order of focus.
    coarse : ndarray of shape (K, N)
        The same places in the picture halved (means of 2 x 2 pixels).
    position : ndarray of shape (K,)
        Focus of the frames in units of a step, rising.

    Returns
    -------
    Growth or None
        None where too few patches come into focus within the stack.

    Notes
    -----
    A disc of diameter D takes detail of frequency f down to 2 J1(x) / x, x = pi D f (Goodman,
    Introduction to Fourier Optics, 3rd ed., 6.4: the geometric limit). The texture's
    spectrum is taken for a power law, whose steepness the ratio of fine to coarse tells at the
    sharpest frame.
    """
    count = len(position)
    if fine.shape != coarse.shape or count < 5 or fine.shape[1] < LEAST_PATCHES:
        return None
    top = fine.argmax(axis=0)
    inside = (top > 0) & (top < count - 1)
    chosen = np.flatnonzero(inside & (fine.max(axis=0) > LEAST_CONTRAST * fine.min(axis=0)))
    if len(chosen) < LEAST_PATCHES:
        return None
    ratio = fine[top[chosen], chosen] / np.maximum(coarse[top[chosen], chosen], 1e-9)
    # the finer half is often a few bright points, or grain: no power law
    plain = ratio <= np.median(ratio)
    chosen, steepness = chosen[plain], _steepness(float(np.median(ratio[plain])))
    left = _left(steepness)
    told = []
    for steps in AWAY:
        share = _shares(fine, position, chosen, top[chosen], steps)
        if len(share) >= LEAST_PAIRS:
            lost = -np.log(np.clip(np.median(share), 1e-3, 1.0))
            told.append(float(np.interp(lost, -np.log(left), DISCS)) / steps)
    if not told or not np.median(told) > 0:
        return None
    middle = float(np.median(told))
    return Growth(
        middle,
        min(*told, middle * (1 - SHARE_UNSURE)),
        max(*told, middle * (1 + SHARE_UNSURE)),
    )


def _shares(
    fine: Array, position: Array, chosen: NDArray[np.int64], top: NDArray[np.int64], steps: int
) -> Array:
    """Sharpness left about so many steps before and behind each patch's best frame."""
    out = []
    for way in (-steps, steps):
        wanted = position[top] + way
        there = np.abs(position[:, None] - wanted).argmin(axis=0)
        near = np.abs(position[there] - wanted) < 0.3
        out.append(fine[there[near], chosen[near]] / fine[top[near], chosen[near]])
    return np.concatenate(out)


def _steepness(ratio: float) -> int:
    """Place in `FALLS` of the power law that has this ratio of fine to coarse."""
    ratios = np.array([_strength(0.0, k, 1) / _strength(0.0, k, 2) for k in range(len(FALLS))])
    return int(np.abs(ratios - ratio).argmin())


@functools.cache
def _left(steepness: int) -> Array:
    """Share of the fine sharpness that each of `DISCS` leaves."""
    left = np.array([_strength(float(disc), steepness, 1) for disc in DISCS])
    falling: Array = np.minimum.accumulate(left / left[0])
    return np.maximum(falling, 1e-6)


def _strength(disc_px: float, steepness: int, reduced: int) -> float:
    """Deviation of the second difference of a power-law texture behind a disc."""
    radius, weight = _rings(reduced)
    seen = np.exp(-((2 * np.pi * BASE_PX * radius) ** 2)) * disc_response(disc_px * radius) ** 2
    return float(np.sqrt(np.sum(weight * radius ** -FALLS[steepness] * seen)))


@functools.cache
def _rings(reduced: int) -> tuple[Array, Array]:
    """Frequencies (cycles a pixel), and what averaging and the second difference let through."""
    side = (np.arange(192) + 0.5) / 192  # to twice the limit: what is finer folds back
    down, across = np.meshgrid(side, np.concatenate([-side[::-1], side]), indexing="ij")
    radius = np.hypot(down, across)
    through = (np.sinc(reduced * down) * np.sinc(reduced * across)) ** 2
    through *= (2 - 2 * np.cos(2 * np.pi * reduced * down)) ** 2
    ring = (radius * 256).astype(int)
    weight = np.bincount(ring.ravel(), through.ravel())
    middle = np.bincount(ring.ravel(), radius.ravel()) / np.maximum(np.bincount(ring.ravel()), 1)
    return middle[weight > 0], weight[weight > 0]
