"""Did the wanted place move while the rest stood still? Asked of the stored picture's own pixels.

Only where it could have moved: at a time in which things move, without flash, and not of a picture
that was enlarged, whose pixels are drawn and not seen.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from optics.evidence import moved
from shootlog.intake import closer

if TYPE_CHECKING:
    from shootlog.intake.decode import Picture
    from shootlog.recorded import Recorded

Box = tuple[int, int]

SIDE_PX, REACH_PX = 64, 112
#: Shorter, and what moves a few pixels is rare: common practice, no source.
MOVES_S = 1 / 60
#: Tiles from all over the rest of the frame, about so many.
MOST_ELSEWHERE = 120


def moved_at(picture: Picture, recorded: Recorded | None, wanted: list[float]) -> dict[str, Any]:
    """Return the movement of a box of shares of the stored picture; nothing where none is seen."""
    if not _could_have_moved(recorded):
        return {}
    height, width = picture.rgb.shape[:2]
    if min(height, width) < 2 * SIDE_PX:
        return {}
    rows, columns = (
        _starts((wanted[k] + wanted[k + 2] / 2) * side, side)
        for k, side in ((1, height), (0, width))
    )
    there = [(row, column) for row in rows for column in columns]
    found = moved.find(_tiles(picture, there), there)
    if found is None or not found.stands:
        return {}
    rest = _elsewhere((height, width), rows, columns)
    shared = moved.shared_elsewhere(_tiles(picture, rest), found)
    length = found.length_px * picture.scale
    return {
        "moved_px": round(length, 2),
        "moved_low_px": round(moved.LOW * length, 2),
        "moved_high_px": round(moved.HIGH * length, 2),
        "moved_elsewhere": None if shared is None else round(shared, 2),
    }


def _could_have_moved(recorded: Recorded | None) -> bool:
    if recorded is None or recorded.exposure_s is None or recorded.exposure_s < MOVES_S:
        return False
    return not recorded.flash_fired and (recorded.digital_zoom_ratio or 1.0) <= 1.0


def _starts(middle: float, side: int) -> range:
    """Where tiles begin along one side, half overlapping and wholly inside."""
    first, last = (
        min(max(int(middle + away), 0), side - SIDE_PX) for away in (-REACH_PX, REACH_PX - SIDE_PX)
    )
    return range(first, last + 1, SIDE_PX // 2)


def _elsewhere(size: Box, rows: range, columns: range) -> list[Box]:
    """Corners of tiles spread over all that does not touch the wanted place."""
    step = max(SIDE_PX, int((size[0] * size[1] / MOST_ELSEWHERE) ** 0.5))
    return [
        (row, column)
        for row in range(0, size[0] - SIDE_PX + 1, step)
        for column in range(0, size[1] - SIDE_PX + 1, step)
        if not (
            rows[0] - SIDE_PX < row < rows[-1] + SIDE_PX
            and columns[0] - SIDE_PX < column < columns[-1] + SIDE_PX
        )
    ]


def _tiles(picture: Picture, corners: list[Box]) -> list[closer.Pixels]:
    cut = ((slice(row, row + SIDE_PX), slice(column, column + SIDE_PX)) for row, column in corners)
    return [closer.luma_of(picture.rgb[there]) for there in cut]
