"""How wide the round blur of one place is, in the averaged picture or in finer ones.

Twenty-five overlapping tiles are asked; what most of them tell alike is told on, what they tell
apart is told as a range, and what too few of them tell is left open.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from optics.evidence import disc
from shootlog.intake import closer

if TYPE_CHECKING:
    from shootlog.intake.decode import Picture
    from shootlog.intake.pixels import Small

#: Where the middles of the tiles lie, both ways.
AWAY_PX = (-16, -8, 0, 8, 16)
#: Finer pictures: averaging factor, and from which scale of the averaged one they tell more.
FINER = ((2, 4.5), (1, 1.5))
#: So many of the tiles must tell a disc.
LEAST_TILES = 10
#: Tiles that differ by more than this ratio (upper over lower quarter) tell a range alone.
ALIKE = 1.35
#: Things are a little soft by themselves, which reads as a wider disc: by so much on the median
#: of rendered frames, and the range that held nine of ten of them.
OWN_SOFTNESS, LEAST, MOST = 0.93, 0.75, 1.15
#: Plain things can be as soft as this in the best focus: it is the most the blur can be.
OWN_PX = 4.0


@dataclass(frozen=True)
class Defocus:
    """Widths in pixels of the stored picture; `px` is None where the tiles tell a range alone.

    A `low_px` of 0 says that it may be no blur at all.
    """

    px: float | None
    low_px: float
    high_px: float
    round_share: float  # of the tiles, that tell the same whichever direction is asked
    is_soft: bool  # beyond doubt, in the averaged picture, where 'sharp' is judged

    def as_evidence(self, scale: float) -> dict[str, Any]:
        return {
            "wanted_blur_px": None if self.px is None else round(self.px * scale, 1),
            "wanted_blur_low_px": round(self.low_px * scale, 1),
            "wanted_blur_high_px": round(self.high_px * scale, 1),
            "wanted_round_share": round(self.round_share, 2),
        }


def defocus_at(small: Small, picture: Picture, box: list[float]) -> Defocus | None:
    """Return the blur in the middle of a box of shares, None where too little shows it."""
    found = _told(_tiles(small.luma, box), small.scale, in_averaged=True)
    for level, least in FINER:
        if (found is None or not found.low_px) and small.scale >= least:
            finer = _told(_finer_tiles(picture, box, level), level, in_averaged=False)
            found = finer or found
    return found


def _told(tiles: npt.NDArray[Any], scale: float, *, in_averaged: bool) -> Defocus | None:
    if not len(tiles):
        return None
    discs = disc.find_discs(tiles)
    if discs.told.sum() < LEAST_TILES:
        return None
    lower, middle, upper = np.quantile(discs.width_px[discs.told], (0.25, 0.5, 0.75))
    low = LEAST * np.quantile(discs.low_px[discs.told], 0.25)
    high = MOST * np.quantile(discs.high_px[discs.told], 0.75)
    beyond = middle >= OWN_PX
    value = float(OWN_SOFTNESS * middle * scale) if beyond and upper <= ALIKE * lower else None
    share = float(disc.round_ones(tiles[discs.told]).sum()) / len(tiles)
    ends = float(low) * scale if beyond else 0.0, float(high) * scale
    return Defocus(value, *ends, share, bool(beyond and in_averaged))


def _tiles(luma: npt.NDArray[Any], box: list[float]) -> npt.NDArray[Any]:
    """Tiles round the middle of a box, moved inwards at the rim, in linear light."""
    height, width = luma.shape
    half = disc.SIDE // 2
    if min(height, width) < disc.SIDE + AWAY_PX[-1] - AWAY_PX[0]:
        return np.empty((0, disc.SIDE, disc.SIDE))
    row, column = (box[1] + box[3] / 2) * height, (box[0] + box[2] / 2) * width
    tiles = []
    for down in AWAY_PX:
        for across in AWAY_PX:
            y = int(min(max(row + down, half), height - half))
            x = int(min(max(column + across, half), width - half))
            tiles.append(luma[y - half : y + half, x - half : x + half])
    return closer.linear(np.stack(tiles))


def _finer_tiles(picture: Picture, box: list[float], level: int) -> npt.NDArray[Any]:
    """The same from the stored picture, averaged over level x level pixels."""
    height, width = picture.rgb.shape[:2]
    side = (disc.SIDE + AWAY_PX[-1] - AWAY_PX[0] + 2) * level
    top = int(min(max((box[1] + box[3] / 2) * height - side / 2, 0), max(height - side, 0)))
    left = int(min(max((box[0] + box[2] / 2) * width - side / 2, 0), max(width - side, 0)))
    cut = closer.luma_of(picture.rgb[top : top + side, left : left + side])
    return _tiles(closer.averaged(cut, level), [0.0, 0.0, 1.0, 1.0])
