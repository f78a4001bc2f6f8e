"""Where in the frame each finding could be seen: a place that proves it, and a good one beside it.

Chosen for every finding that shows in pixels, whatever it will answer: the answer may change with
what people tell later, and no pixel is read for that. Places are rectangles [x, y, width, height]
in pixels of the picture as shown.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from shootlog.intake import turning

if TYPE_CHECKING:
    from shootlog.intake.pixels import Small

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Block = tuple[int, int]

#: Of one crop, in full-size pixels; never more than this share of a side of the frame.
CROP_PX, LARGEST_SHARE = (480, 360), 0.4
LONGEST_CROP_PX = 2048
BLACK = 3  # as `clipping` counts it
#: A place counts as having drawing in it from this share of the richest one's.
LEAST_DRAWING = 0.15
#: Of the picture's light: neither near black nor near white, where grain shows best.
MIDDLE_TONES = (60, 180)
MOST_LOST = 0.03  # of a crop that is called good
PERIODS = 2.2  # of bands in one crop


class Places:
    """The blocks of one frame, and rectangles round those that tell most."""

    def __init__(self, small: Small, burnt: Array, size: tuple[int, int], orientation: int) -> None:
        """Take ``size`` as rows and columns of the stored picture at full resolution."""
        detail = small.detail if small.detail is not None else np.zeros((1, 1))
        self.shape = detail.shape
        self.size, self.orientation = size, orientation
        self.fine = _spread(detail)
        self.coarse = _spread(small.coarse if small.coarse is not None else np.zeros(self.shape))
        self.sharp = small.sharp if small.sharp is not None else np.zeros(self.shape, bool)
        self.blur = small.blur if small.blur is not None else np.full(self.shape, np.nan)
        self.light = _pooled(small.luma, self.shape)
        self.black = _spread(small.black)
        self.burnt = _spread(_fitted(burnt, self.shape))
        self.drawn = self.coarse >= LEAST_DRAWING * self.coarse.max(initial=0.0)

    def sharpest(self) -> Block | None:
        """Where the drawing is finest; grain is finer than any drawing, and has no larger forms."""
        return _best(np.where(self.sharp, np.minimum(self.fine, self.coarse), 0.0))

    def richest(self) -> Block | None:
        return _best(self.coarse)

    def near(self, to: Block | None, among: Mask, weight: Array | float = 1.0) -> Block | None:
        """The block of these that lies nearest, far enough for its crop to be another one."""
        if to is None:
            return None
        away = self.away(to)
        return _best(np.where(among & (away >= 1.0), weight / np.maximum(away, 1e-9), 0.0))

    def away(self, to: Block) -> Array:
        """Distance of every block in crops."""
        rows, columns = np.mgrid[0 : self.shape[0], 0 : self.shape[1]]
        tall, wide = self._crop_size()
        down = np.abs(rows - to[0]) * self.size[0] / self.shape[0] / tall
        across = np.abs(columns - to[1]) * self.size[1] / self.shape[1] / wide
        return np.asarray(np.maximum(down, across))

    def _crop_size(self) -> tuple[float, float]:
        """Height and width of a crop in the stored picture: upright frames lie there turned."""
        wide, tall = CROP_PX if self.orientation < 5 else CROP_PX[::-1]
        return min(tall, LARGEST_SHARE * self.size[0]), min(wide, LARGEST_SHARE * self.size[1])

    def over_crops(self, values: Array) -> Array:
        """Average a map over the crop that each block would have."""
        tall, wide = self._crop_size()
        down = int(tall / self.size[0] * self.shape[0] / 2)
        across = int(wide / self.size[1] * self.shape[1] / 2)
        return _spread(values, down, across)

    def around(self, block: Block | None, tall_px: float | None = None) -> list[int] | None:
        """Return the crop round a block, as shown, wholly inside the picture."""
        if block is None:
            return None
        tall, wide = self._crop_size()
        tall = min(tall_px or tall, LONGEST_CROP_PX, self.size[0])
        middle = [(b + 0.5) / n for b, n in zip(block, self.shape, strict=True)]
        height, width = tall / self.size[0], wide / self.size[1]
        top = min(max(middle[0] - height / 2, 0.0), 1.0 - height)
        left = min(max(middle[1] - width / 2, 0.0), 1.0 - width)
        box = turning.box_as_shown([left, top, width, height], self.orientation)
        across, down = self.size[::-1] if self.orientation < 5 else self.size
        return [round(v * n) for v, n in zip(box, (across, down) * 2, strict=True)]

    def block_at(self, box: list[float]) -> Block:
        """The block in the middle of a box of shares of the stored picture."""
        middle = box[1] + box[3] / 2, box[0] + box[2] / 2
        row, column = (
            min(max(int(m * n), 0), n - 1) for m, n in zip(middle, self.shape, strict=True)
        )
        return row, column


def places(
    small: Small,
    burnt: Array,
    evidence: dict[str, Any],
    *,
    size: tuple[int, int],
    orientation: int,
    scale: int = 1,
    wanted: list[float] | None = None,
) -> dict[str, dict[str, list[int]]]:
    """Return {finding: {"here": rectangle, "good": rectangle or left out}}.

    Parameters
    ----------
    burnt : ndarray
        Share of each block that is burnt; any number of blocks.
    size : (int, int)
        Rows and columns of the stored picture as decoded; ``scale`` times as many at full size.
    wanted : list of float, optional
        What should be sharp, as a box in shares of the stored picture.
    """
    if small.detail is None or not small.detail.size:
        return {}
    at = Places(small, burnt, (size[0] * scale, size[1] * scale), orientation)
    pairs = {
        "shake": (at.richest(), None),
        "missed-focus": _missed(at, wanted),
        "thin-depth": _thin(at),
        "diffraction": (at.sharpest() or _best(np.minimum(at.fine, at.coarse)), None),
        "burnt-highlights": _burnt(at),
        "blocked-shadows": _blocked(at),
        "high-iso": (_even_tone(at), None),
        "subject-moved": _moved(at, wanted),
    }
    found = {slug: _pair(at, *pair) for slug, pair in pairs.items()}
    if evidence.get("smear_where") == "frame":  # then no place of it is a good one
        for slug in ("missed-focus", "thin-depth", "subject-moved"):
            found[slug].pop("good", None)
    if period := evidence.get("banding_period_px"):
        strip = at.around(_even_tone(at), PERIODS * period)
        found["banding"] = {"here": strip} if strip else {}
    return {slug: pair for slug, pair in found.items() if pair}


def crop_round(point: tuple[float, float], size: tuple[int, int]) -> list[int]:
    """Return the crop round a point, both as shown; the point in shares of width and height."""
    sides = [min(side, round(LARGEST_SHARE * n)) for side, n in zip(CROP_PX, size, strict=True)]
    corner = [
        round(min(max(p * n - side / 2, 0), n - side))
        for p, n, side in zip(point, size, sides, strict=True)
    ]
    return [*corner, *sides]


def black_blocks(luma: npt.NDArray[np.uint8], shape: tuple[int, ...]) -> Array:
    """Return the share of each block of a map that is black."""
    return _pooled(luma <= BLACK, shape) if all(shape) else np.zeros((0, 0))


def _pair(at: Places, here: Block | None, good: Block | None) -> dict[str, list[int]]:
    boxes = {"here": at.around(here), "good": at.around(good)}
    if boxes["here"] is None or boxes["here"] == boxes["good"]:
        boxes["good"] = None
    return {name: box for name, box in boxes.items() if box} if boxes["here"] else {}


def _missed(at: Places, wanted: list[float] | None) -> tuple[Block | None, Block | None]:
    """Where it was wanted, or where most is drawn; beside the place that is sharp."""
    here = at.block_at(wanted) if wanted else at.richest()
    sharpest = at.sharpest()
    apart = here is not None and sharpest is not None and at.away(here)[sharpest] >= 0.5
    return here, sharpest if apart else None


def _thin(at: Places) -> tuple[Block | None, Block | None]:
    """Drawing that is soft, as near to the sharpest place as a crop of its own can be."""
    sharpest = at.sharpest()
    limit = np.nanmin(at.blur, initial=np.inf) * 1.5
    blur = np.nan_to_num(at.blur, nan=0.0)
    return at.near(sharpest, at.drawn & ~at.sharp & (blur > limit), blur), sharpest


def _moved(at: Places, wanted: list[float] | None) -> tuple[Block | None, Block | None]:
    return _missed(at, wanted) if wanted else _thin(at)


def _burnt(at: Places) -> tuple[Block | None, Block | None]:
    here = _rim(at.burnt)
    bright = at.drawn & (at.light > 128) & (at.over_crops(at.burnt) < MOST_LOST)
    return here, at.near(here, bright)


def _blocked(at: Places) -> tuple[Block | None, Block | None]:
    here = _rim(at.black)
    return here, at.near(here, at.drawn & (at.light < 110) & (at.over_crops(at.black) < MOST_LOST))


def _rim(lost: Array) -> Block | None:
    """The rim of what is lost says more than its middle: half of the crop, if it can be."""
    wide = _spread(lost, 3)
    rim = np.where(lost > 0.5, 1.0 - np.abs(wide - 0.6), 0.0)
    return _best(rim) or _best(lost)


def _even_tone(at: Places) -> Block | None:
    middle = (at.light > MIDDLE_TONES[0]) & (at.light < MIDDLE_TONES[1])
    middle = middle if middle.any() else at.light > BLACK
    return _best(np.where(middle, 1.0 / (1.0 + _spread(at.coarse, 3)), 0.0))


def _best(values: Array) -> Block | None:
    if not values.size or values.max() <= 0.0:
        return None
    row, column = divmod(int(values.argmax()), values.shape[1])
    return row, column


def _spread(values: npt.NDArray[Any], down: int = 1, across: int | None = None) -> Array:
    """Average each block with its neighbours, so many each way: a crop shows a region."""
    across = down if across is None else across
    values = np.asarray(values, float)
    padded = np.pad(values, ((down + 1, down), (across + 1, across)), mode="edge")
    padded[0] = padded[:, 0] = 0.0
    tall, wide = 2 * down + 1, 2 * across + 1
    summed = padded.cumsum(axis=0).cumsum(axis=1)
    rows = summed[tall:] - summed[:-tall]
    return np.asarray((rows[:, wide:] - rows[:, :-wide]) / (tall * wide))


def _pooled(values: npt.NDArray[Any], shape: tuple[int, ...]) -> Array:
    """Average a picture over the blocks of a map of it: down first, as memory lies."""
    tall, wide = (max(v // max(n, 1), 1) for v, n in zip(values.shape, shape, strict=True))
    cut = values[: shape[0] * tall, : shape[1] * wide]
    # 16 bits hold the sum of 257 pixels, and are summed in half the time of 32
    few = np.uint16 if tall < 258 else np.uint32
    down: npt.NDArray[Any] = cut.reshape(shape[0], tall, -1).sum(axis=1, dtype=few)
    return np.asarray(down.reshape(*shape, wide).sum(axis=2) / float(tall * wide))


def _fitted(values: Array, shape: tuple[int, ...]) -> Array:
    """The same map with another number of blocks, each the nearest one."""
    if not values.size:
        return np.zeros(shape)
    rows = (np.arange(shape[0]) * values.shape[0] // shape[0])[:, None]
    columns = (np.arange(shape[1]) * values.shape[1] // shape[1])[None]
    return values[rows, columns]
