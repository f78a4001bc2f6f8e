"""Cut a picture into tiles at its own pixels, turned as it is seen. Runs in the cage."""

from __future__ import annotations

import math
from pathlib import Path

from PIL import Image

from shootlog.intake import derivatives, turning
from shootlog.intake.decode import open_picture

TILE_PX = 1024
QUALITY = 92


def cut(path: Path, into: Path) -> dict[str, int]:
    """Write `<column>_<row>.jpg` for every tile; return the size of the whole."""
    picture = open_picture(path)
    shown = turning.picture_as_shown(Image.fromarray(picture.rgb), picture.orientation)
    if picture.scale > 1:  # a RAW developed at half size stands for all its pixels
        size = (shown.width * picture.scale, shown.height * picture.scale)
        shown = shown.resize(size, Image.Resampling.BILINEAR)
    for row in range(math.ceil(shown.height / TILE_PX)):
        for column in range(math.ceil(shown.width / TILE_PX)):
            left, top = column * TILE_PX, row * TILE_PX
            right, bottom = min(left + TILE_PX, shown.width), min(top + TILE_PX, shown.height)
            tile = derivatives.in_srgb(
                shown.crop((left, top, right, bottom)), picture.profile, picture.notes
            )
            tile.info.clear()
            tile.save(into / f"{column}_{row}.jpg", "JPEG", quality=QUALITY, icc_profile=None)
    return {"width": shown.width, "height": shown.height}
