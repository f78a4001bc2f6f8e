"""Was the picture smeared in one direction while the shutter was open?

A straight smear of length L takes detail out of the spectrum along its own direction by
sin(pi f L) / (pi f L) and leaves the direction across untouched (Jain, Fundamentals of Digital
Image Processing, 1989, section 8.3); arcs, hooks and tremor do nearly the same along their
longest extent, and an arc fills the bands a little. Defocus takes it out all round. Every thing has
a spectrum of its own, but a moved camera writes the same dark bands into all of them: many tiles
are averaged, each ring of frequencies is compared only with itself, and then every tile is asked
whether it agrees.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

RINGS, WAYS = 14, 24
LOWEST, HIGHEST = 0.03, 0.43  # cycles per pixel
#: Beyond this there is nothing but noise in most pictures.
ONLY_NOISE = 0.44
LENGTHS_PX = np.concatenate([[0.0], np.geomspace(1.5, 24.0, 24)])
SHORTEST_PX, LONGEST_PX = 3.0, 20.0
#: How far a bent path strays, over its length: y = bend x^2, x from -1/2 to 1/2. A hand that
#: speeds up or turns draws such an arc; one bent harder is a corner.
BENDS = (0.4, 0.75)
BENT_LENGTHS_PX = np.geomspace(2.6, 14.0, 14)
#: A tile's coarse detail must stand this many times above its own noise.
LIMIT_OVER_NOISE = 20.0
LEAST_TILES = 4
#: Share of the unevenness between directions that the smear must explain: alone; or where the
#: edges say the same.
LIMIT_EXPLAINED, LIMIT_CONFIRMED = 0.5, 0.3
#: A bent path has more to choose from, so more of the unevenness must be its own, it must be as
#: deep as no texture's by chance (mean square, in natural logarithms of power), and more tiles
#: must agree.
LIMIT_BENT, LIMIT_DEPTH, LIMIT_SHARE_BENT = 0.65, 0.25, 0.85
#: A straight smear stands unless a bent one explains so much more.
MUCH_BETTER = 0.12
#: Shorter than `SHORTEST_PX` a smear is believed only where it explains this much.
SHORT_PX, LIMIT_SHORT = 2.5, 0.6
#: A tile agrees when its own spectrum follows the smear's by at least this much of it.
LIMIT_AGREES = 0.35
#: Share of the tiles that must agree: one thing that runs one way is no smear, nor are two.
LIMIT_SHARE = 0.8
#: Tiles whose spectra stay this alike beside the smear show one texture over and over, a weave or a
#: net: then they are one witness, not many, and nothing is sure.
LIMIT_ALIKE = 0.6
#: Softness of edges: soft along the smear, and sharper across it by this much.
LIMIT_SOFTER_PX = 0.9
#: Between these times what is measured lies the length of a smear found.
LOW, HIGH = 0.85, 1.25
#: What the sinc's minima are filled with: the path is never quite even.
FILLED = 0.01


@dataclass(frozen=True)
class Spectra:
    """Log power of several tiles by ring and direction, each over its own coarse detail."""

    each: Array  # (tiles, RINGS, WAYS)
    heard: Array  # (RINGS, WAYS): how many frequencies lie there
    noise: Array  # (tiles,): log level of noise
    shows: npt.NDArray[np.bool_]  # of the tiles given, those that show anything and are kept

    def only(self, chosen: npt.NDArray[np.bool_] | npt.NDArray[np.intp]) -> Spectra:
        """Return the spectra of some of the tiles."""
        return Spectra(self.each[chosen], self.heard, self.noise[chosen], self.shows)


@dataclass(frozen=True)
class Smear:
    """A smear found, or found absent (`length_px` 0)."""

    length_px: float
    low_px: float
    high_px: float
    angle_deg: float | None  # of the movement, from x towards y (down), 0 to 180
    share: float = 0.0  # of the tiles, how many agree
    sure: bool = False  # False: it may be one
    #: How alike the tiles are in what is uneven between directions, found or not: 0 not at all.
    #: Things out of focus are soft all round; of a moved camera every tile has the same pattern.
    alike: float = 0.0

    def scaled(self, factor: float) -> Smear:
        """Return the smear in pixels `factor` times smaller."""
        return Smear(
            self.length_px * factor, self.low_px * factor, self.high_px * factor,
            self.angle_deg, self.share, self.sure, self.alike,
        )  # fmt: skip


def spectra(tiles: list[npt.NDArray[np.generic]]) -> Spectra | None:
    """Return what tiles of one size show, or None where too few show anything.

    Parameters
    ----------
    tiles : list of ndarrays of shape (N, N)
        8-bit luminance from places all over the frame; N at least 64.
    """
    if len(tiles) < LEAST_TILES or min(tiles[0].shape) < 48 or len({t.shape for t in tiles}) > 1:
        return None
    pile = np.stack(tiles, dtype=np.float32, casting="unsafe")
    pile -= pile.mean(axis=(1, 2), keepdims=True)
    window = _window(*pile.shape[1:])
    # numpy transforms 32-bit floats in 64 bits unless it scales them: three times as slow
    scaled = np.fft.rfft2(pile * window, norm="forward")
    power = (scaled.real**2 + scaled.imag**2).reshape(len(pile), -1)
    power *= np.float32(window.size**2 / (window**2).sum())
    place, only_noise, coarse_at, heard = _places(*pile.shape[1:])
    noise = np.maximum(np.median(power[:, only_noise], axis=1) / np.log(2.0), 0.1)
    coarse = power[:, coarse_at].mean(axis=1)
    shows = coarse > LIMIT_OVER_NOISE * noise
    if shows.sum() < LEAST_TILES:
        return None
    power, coarse, noise = power[shows], coarse[shows], noise[shows]
    logs = np.log(power / coarse[:, None] + (0.3 * noise / coarse)[:, None])
    summed = np.stack(
        [np.bincount(place, weights=row, minlength=RINGS * WAYS + 1)[:-1] for row in logs]
    )
    each = (summed / np.maximum(heard, 1)).reshape(-1, RINGS, WAYS)
    return Spectra(each, heard.reshape(RINGS, WAYS), np.log(noise / coarse), shows)


@dataclass(frozen=True)
class Fit:
    """The smear of one kind that explains most of what is uneven between directions."""

    length_px: float = 0.0
    angle_deg: float = 0.0
    explained: float = 0.0
    follows: Array = field(default_factory=lambda: np.zeros(1))  # each tile, 1: as the smear would
    alike: float = 0.0  # what is left over in the tiles, how alike: 1 is one texture
    depth: float = 0.0  # mean square of the unevenness it explains

    @property
    def share(self) -> float:
        """Share of the tiles that agree."""
        return float((self.follows > LIMIT_AGREES).mean())


def fit(seen: Spectra) -> Fit:
    """Return the straight smear that explains most, with what speaks for and against."""
    weight, filled = weights(seen)
    mean = uneven(seen.each.mean(axis=0), weight)
    ways = np.arange(WAYS) * np.pi / WAYS
    models = log_response(LENGTHS_PX[:, None, None], ways, filled)
    at, way = _nearest(models, mean, weight)
    length, angle = _finer(float(LENGTHS_PX[at]), way, mean, weight, filled)
    if length == 0.0:
        return Fit()
    return _weighed(seen, length, angle, log_response(length, ways - angle, filled))


def fit_bent(seen: Spectra) -> Fit:
    """Return the same of an arc; its length is that of its chord."""
    weight, filled = weights(seen)
    mean = uneven(seen.each.mean(axis=0), weight)
    if float((weight * mean**2).sum()) < LIMIT_DEPTH * float(weight.sum()):
        return Fit()
    models = np.log(_bent_responses() + filled[:, None])
    at, way = _nearest(models, mean, weight)
    length = float(BENT_LENGTHS_PX[at % len(BENT_LENGTHS_PX)])
    return _weighed(seen, length, way * np.pi / WAYS, np.roll(models[at], way, axis=1))


def _nearest(models: Array, mean: Array, weight: Array) -> tuple[int, int]:
    """Which model, turned by how many of the `WAYS`, comes nearest to a mean that is uneven.

    All turns at once: sums over a ring are products with the weights, turned the other way.
    """
    at = np.arange(WAYS)
    turned = (at[:, None] + at[None]) % WAYS
    models = models.swapaxes(0, 1)  # (RINGS, models, WAYS)
    total = np.maximum(weight.sum(axis=1), 1e-9)[:, None, None]
    summed = models @ weight[:, turned]
    whole = models**2 @ weight[:, turned] - summed**2 / total
    left = (whole - 2.0 * (models @ (weight * mean)[:, turned])).sum(axis=0)
    turn, nearest = divmod(int(left.T.argmin()), left.shape[0])
    return nearest, turn


def _weighed(seen: Spectra, length_px: float, angle: float, model: Array) -> Fit:
    weight, _ = weights(seen)
    model, each = uneven(model, weight), uneven(seen.each, weight)
    mean = each.mean(axis=0)
    whole = float((weight * mean**2).sum())
    if whole <= 0.0:
        return Fit()
    explained = 1.0 - float((weight * (mean - model) ** 2).sum()) / whole
    follows = (weight * each * model).sum(axis=(1, 2)) / max(float((weight * model**2).sum()), 1e-9)
    return Fit(
        length_px, float(np.degrees(angle) % 180.0), explained, follows,
        _alike((each - model) * np.sqrt(weight)), explained * whole / float(weight.sum()),
    )  # fmt: skip


def alike(seen: Spectra) -> float:
    """Return how alike the tiles are in what is uneven between directions, about 0 to 1."""
    weight, _ = weights(seen)
    each = uneven(seen.each, weight)
    own = float((weight * each**2).sum(axis=(1, 2)).mean())
    summed = float((weight * each.mean(axis=0) ** 2).sum())
    count = len(each)
    # of tiles that have nothing in common the mean still keeps one part in `count`
    return (count * summed - own) / max((count - 1) * own, 1e-9)


def judge(tiles: list[npt.NDArray[np.generic]], softness_px: Array | None) -> Smear | None:
    """Return the smear of a frame, sure or not; None where nothing can be told.

    Parameters
    ----------
    tiles : list of ndarrays
        As for `spectra`.
    softness_px : ndarray or None
        Of the sharpest edges by the way they face (`edges.sharpest_by_way`), the other witness.
    """
    seen = spectra(tiles)
    if seen is None:
        return None
    same = alike(seen)
    told = softness_px is not None and bool(np.isfinite(softness_px).any())
    longest = float(np.nanmax(softness_px)) if softness_px is not None and told else 2.0
    none = Smear(0.0, 0.0, max(longest, 1.0), None, alike=same)
    found = fit(seen)
    angle, share = found.angle_deg, found.share
    softer = _softer_along(softness_px, angle)
    confirmed = softer is not None and softer >= LIMIT_SOFTER_PX
    least = LIMIT_CONFIRMED if confirmed else LIMIT_EXPLAINED
    fits = SHORTEST_PX <= found.length_px <= LONGEST_PX
    agreed = share >= LIMIT_SHARE and found.alike < LIMIT_ALIKE
    straight = fits and agreed and found.explained >= least
    bent = fit_bent(seen)
    if straight and bent.explained < found.explained + MUCH_BETTER:
        return _surely(found, same)
    if (
        bent.explained >= LIMIT_BENT
        and bent.depth >= LIMIT_DEPTH
        and bent.share >= LIMIT_SHARE_BENT
        and bent.alike < LIMIT_ALIKE
    ):
        return _surely(bent, same)
    if straight:
        return _surely(found, same)
    if agreed and found.length_px >= SHORT_PX and found.explained >= LIMIT_SHORT:
        return _surely(found, same)
    if fits and confirmed and found.explained >= LIMIT_CONFIRMED / 2 and share >= 0.5:
        return Smear(found.length_px, 0.0, 1.5 * found.length_px, angle, share, alike=same)
    return none


def _surely(found: Fit, same: float) -> Smear:
    length = found.length_px
    return Smear(
        length, LOW * length, HIGH * length, found.angle_deg, found.share, sure=True, alike=same
    )


def _alike(left: Array) -> float:
    """Mean correlation of the tiles with one another."""
    flat = left.reshape(len(left), -1)
    flat = flat / np.maximum(np.linalg.norm(flat, axis=1, keepdims=True), 1e-9)
    count = len(flat)
    return float(((flat @ flat.T).sum() - count) / max(count * (count - 1), 1))


def _softer_along(softness_px: Array | None, angle_deg: float) -> float | None:
    """How much softer edges are whose normal lies along the smear than those across it."""
    if softness_px is None:
        return None
    count = softness_px.size
    at = round(angle_deg / 180.0 * count) % count
    near = [softness_px[(at + k) % count] for k in (-1, 0, 1)]
    far = [softness_px[(at + count // 2 + k) % count] for k in (-1, 0, 1)]
    along, across = ([float(v) for v in side if np.isfinite(v)] for side in (near, far))
    return float(np.median(along)) - min(across) if along and across else None


def weights(seen: Spectra) -> tuple[Array, Array]:
    """Return how much each ring and direction counts, and what noise fills its minima with.

    Shapes (RINGS, WAYS), in no unit, and (RINGS,), as a share of the power.
    """
    mean = np.where(seen.heard > 0, seen.each.mean(axis=0), -99.0)
    peak, noise = np.sort(mean, axis=1)[:, -5], float(seen.noise.mean())
    over = np.clip(peak - noise - 0.3, 0.0, 2.0)
    weight = over[:, None] * np.sqrt(np.minimum(seen.heard, 12))
    return weight, FILLED + np.exp(np.clip(noise - peak, -6.0, 0.0))


def uneven(values: Array, weight: Array) -> Array:
    """Return (..., RINGS, WAYS) with each ring compared with itself: fall-off and defocus go."""
    total = np.maximum(weight.sum(axis=1), 1e-9)
    return np.asarray(values - ((values * weight).sum(axis=-1) / total)[..., None])


def log_response(length_px: Array | float, ways: Array, filled: Array) -> Array:
    """Return the log power (..., RINGS, WAYS) that a straight smear along direction 0 leaves."""
    along = ring_centres()[:, None] * np.cos(ways)
    return np.asarray(np.log(np.sinc(length_px * along) ** 2 + filled[:, None]))


@lru_cache(maxsize=1)
def _bent_responses() -> Array:
    """Power response of every arc along direction 0, shape (bends * lengths, RINGS, WAYS)."""
    ways = np.arange(WAYS) * np.pi / WAYS
    along = np.linspace(-0.5, 0.5, 33)
    rows = ring_centres()[:, None, None] * np.cos(ways)[None, :, None]
    columns = ring_centres()[:, None, None] * np.sin(ways)[None, :, None]
    responses = []
    for bend in BENDS:
        turns = rows * along + columns * bend * along**2
        waves = [np.exp(-2j * np.pi * length * turns).mean(axis=2) for length in BENT_LENGTHS_PX]
        responses += [np.abs(wave) ** 2 for wave in waves]
    return np.stack(responses)


def _finer(
    length_px: float, way: int, mean: Array, weight: Array, filled: Array
) -> tuple[float, float]:
    """Length and angle between the grid's points."""
    ways, step = np.arange(WAYS) * np.pi / WAYS, np.pi / WAYS
    angles = (way + np.linspace(-0.75, 0.75, 7)) * step
    lengths = length_px * np.array([0.88, 0.94, 1.0, 1.06, 1.12])
    models = log_response(lengths[:, None, None], ways - angles[:, None, None, None], filled)
    left = (weight * (mean - uneven(models, weight)) ** 2).sum(axis=(2, 3))
    turn, longer = divmod(int(left.argmin()), len(lengths))
    return float(lengths[longer]), float(angles[turn])


@lru_cache(maxsize=1)
def ring_centres() -> Array:
    """Return the middle of each ring in cycles per pixel, shape (RINGS,)."""
    edges = np.linspace(LOWEST, HIGHEST, RINGS + 1)
    return np.asarray((edges[1:] + edges[:-1]) / 2.0)


@lru_cache(maxsize=8)
def _window(rows: int, columns: int) -> npt.NDArray[np.float32]:
    down, across = np.hanning(rows + 2)[1:-1], np.hanning(columns + 2)[1:-1]
    return np.asarray(down[:, None] * across[None], np.float32)


@lru_cache(maxsize=8)
def _places(
    rows: int, columns: int
) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.bool_], npt.NDArray[np.bool_], Array]:
    """Ring and direction of every frequency; which are noise, which coarse; how many are where."""
    down, across = np.fft.fftfreq(rows)[:, None], np.fft.rfftfreq(columns)[None]
    radius = np.hypot(down, across).ravel()
    angle = np.mod(np.arctan2(*np.broadcast_arrays(down, across)), np.pi).ravel()
    ring = np.digitize(radius, np.linspace(LOWEST, HIGHEST, RINGS + 1)) - 1
    way = np.floor(angle / np.pi * WAYS + 0.5).astype(int) % WAYS
    inside = (ring >= 0) & (ring < RINGS)
    place = np.where(inside, ring * WAYS + way, RINGS * WAYS)
    heard = np.bincount(place, minlength=RINGS * WAYS + 1)[:-1]
    return place, radius > ONLY_NOISE, (radius > LOWEST) & (radius < 0.12), heard.astype(float)
