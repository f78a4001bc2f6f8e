"""Was the picture smeared in one direction while the shutter was open?

A smear of length L along an angle softens an edge by L |cos| of the angle between the smear and
the edge's normal; defocus softens all edges alike. So the softness of many edges against the
way they face tells both at once. Things are often softer than the lens drew them, never
sharper: for every direction the sharper edges count more.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from optics.evidence.edges import Edges, join, smear_ratios

Array = npt.NDArray[np.float64]

BINS = 12
#: Edges a direction needs before it says anything.
LIMIT_EDGES = 12
#: Directions that must be heard: a scale's ticks and digits have two or three.
LEAST_BINS = 5
#: Two details must differ by this much before a direction is claimed: one alone may be a
#: texture that runs one way.
LIMIT_APART_DEG = 40.0
#: Shorter smears are not told from the camera's own unevenness.
LIMIT_LENGTH_PX = 1.6
#: Round blur must fit this badly before a direction is looked for, in slope ratio,
LIMIT_ROUND_MISFIT = 0.045
#: and the directional fit must leave at most this share of that misfit.
LIMIT_MISFIT = 0.5
#: One tile alone may be a texture that runs one way.
LEAST_TILES = 3
#: Tiles that moved together agree about the angle.
LIMIT_TURN_DEG = 25.0
LONGEST_PX = 12.0
SHARPEST = 0.6  # quantile of the slope ratio: high is sharp


@dataclass(frozen=True)
class Smear:
    """A smear found, or found absent (`length_px` 0)."""

    length_px: float
    low_px: float
    high_px: float
    angle_deg: float | None  # of the movement, from x towards y (down), 0 to 180
    disc_px: float  # what is left as round blur


def fit(edges: Edges, place: npt.NDArray[np.intp]) -> Smear | None:
    """Return the smear that explains the softness of edges by the way they face.

    Parameters
    ----------
    edges : Edges
        At least two directions, or the answer is None: cannot tell.
    place : ndarray of int
        Which tile each edge came from; the range comes from leaving tiles out in turn.

    Returns
    -------
    Smear or None
        Lengths and disc in pixels of the tiles.
    """
    if len(edges) < 2 * LIMIT_EDGES:
        return None
    whole = _fit_once(edges)
    if whole is None:
        return None
    length, angle, disc, *_ = whole
    if not _has_direction(whole):
        return Smear(0.0, 0.0, float(min(length, 2.0)), None, disc)
    tiles = np.unique(place)
    lengths = []
    for group in np.array_split(tiles, min(6, len(tiles))):
        part = _fit_once(edges.where(~np.isin(place, group)))
        if part is not None:
            lengths.append(part[0])
    # jackknife: the groups share most of their edges, so their scatter is scaled up
    n = len(lengths)
    wide = float(np.std(lengths) * np.sqrt(n - 1)) if n > 2 else length
    wide = max(wide, 0.08 * length)
    if length < 3.0 * wide:
        return Smear(0.0, 0.0, length + wide, None, disc)
    return Smear(length, max(length - 2 * wide, 0.0), length + 2 * wide, angle, disc)


def judge(tiles: list[Edges]) -> tuple[Smear | None, str | None]:
    """Return the smear of a frame looked at in tiles, and whether all of it moved.

    Parameters
    ----------
    tiles : list of Edges
        From places all over the frame.

    Returns
    -------
    (Smear or None, "frame" or None)
        None for the smear where nothing can be told, or where only part of the frame seems
        smeared: on rendered scales and shells that was texture more often than movement.
    """
    place = np.concatenate([np.full(len(t), k) for k, t in enumerate(tiles)] or [np.empty(0, int)])
    whole = fit(join(tiles), place)
    each = [_fit_once(t) if len(t) >= 3 * LIMIT_EDGES else None for t in tiles]
    if whole is not None and whole.length_px > 0.0:
        told = sum(found is not None for found in each)
        angle = whole.angle_deg or 0.0
        along = [f for f in each if f and _has_direction(f) and _turn(f[1], angle) < LIMIT_TURN_DEG]
        if len(along) >= LEAST_TILES and len(along) >= 0.6 * told:
            return whole, "frame"
    return (whole, None) if whole is None or whole.length_px == 0.0 else (None, None)


def _has_direction(found: tuple[float, float, float, float, float]) -> bool:
    length, _, _, misfit, misfit_round = found
    return (
        length >= LIMIT_LENGTH_PX
        and misfit_round >= LIMIT_ROUND_MISFIT
        and misfit <= LIMIT_MISFIT * misfit_round
    )


def _turn(one_deg: float, other_deg: float) -> float:
    apart = abs(one_deg - other_deg) % 180.0
    return min(apart, 180.0 - apart)


def scaled(found: Smear, factor: float) -> Smear:
    """Return the smear in pixels `factor` times smaller."""
    return Smear(
        found.length_px * factor,
        found.low_px * factor,
        found.high_px * factor,
        found.angle_deg,
        found.disc_px * factor,
    )


def _fit_once(edges: Edges) -> tuple[float, float, float, float, float] | None:
    """Length, angle in degrees, disc, misfit with and without a direction."""
    bins = np.floor(edges.normal_rad / np.pi * BINS).astype(int) % BINS
    facing, ratio, weight = [], [], []
    for k in range(BINS):
        own = bins == k
        count = int(own.sum())
        if count >= LIMIT_EDGES:
            facing.append((k + 0.5) * np.pi / BINS)
            ratio.append(float(np.quantile(edges.ratio[own], SHARPEST)))
            weight.append(min(count, 150) ** 0.5)
    if not _far_enough_apart(facing):
        return None
    return _search(np.array(facing), np.array(ratio), np.array(weight))


def _far_enough_apart(facing: list[float]) -> bool:
    if len(facing) < LEAST_BINS:
        return False
    angles = np.degrees(np.array(facing))
    apart = np.abs(angles[:, None] - angles[None])
    return bool(np.minimum(apart, 180.0 - apart).max() >= LIMIT_APART_DEG)


def _search(facing: Array, ratio: Array, weight: Array) -> tuple[float, float, float, float, float]:
    """Grid over angle, length and disc, coarse and then fine.

    The misfit is absolute, so that one odd direction counts little. Crowded edges look sharper
    than the sharpest single one; they count as that one.
    """
    discs, _, table = smear_ratios()
    ratio = np.minimum(ratio, table.max())
    weight = weight / weight.sum()
    round_each = (np.abs(table[:, 0][:, None] - ratio) * weight).sum(axis=1)
    round_misfit = float(round_each.min())
    if round_misfit < LIMIT_ROUND_MISFIT:
        return 0.0, 0.0, float(discs[int(round_each.argmin())]), round_misfit, round_misfit
    best = (np.inf, 0.0, 0.0, 0.0)
    for angles in (np.arange(0.0, 180.0, 15.0), np.arange(-12.0, 13.0, 3.0)):
        centre = best[2]
        for angle in angles + centre:
            found = _at_angle(angle, facing, ratio, weight)
            if found[0] < best[0]:
                best = found
    misfit, length, angle_deg, disc = best
    return length, angle_deg % 180.0, disc, misfit, round_misfit


def _at_angle(
    angle_deg: float, facing: Array, ratio: Array, weight: Array
) -> tuple[float, float, float, float]:
    """Misfit, length, angle and disc of the best fit at one angle."""
    discs, lengths, table = smear_ratios()
    trial = lengths[lengths <= LONGEST_PX]
    along = np.abs(np.cos(facing - np.radians(angle_deg)))
    at = trial[:, None] * along[None] / (lengths[1] - lengths[0])
    lower = np.minimum(at.astype(int), len(lengths) - 2)
    part = at - lower
    model = table[:, lower] * (1 - part) + table[:, lower + 1] * part
    misfit = (np.abs(model - ratio) * weight).sum(axis=2)
    d, k = np.unravel_index(int(misfit.argmin()), misfit.shape)
    return float(misfit[d, k]), float(trial[k]), float(angle_deg), float(discs[d])
