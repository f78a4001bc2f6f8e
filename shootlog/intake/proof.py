"""A stack's proof picture: the sharpest slices, and which frame is sharpest where.

Small and marked as a proof: it shows gaps; the merge stays with the student's own software.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from optics.evidence.registration import warped
from shootlog.series.detail import registered_maps
from shootlog.series.moves import chain
from shootlog.series.shot import Shot

MARGIN_PX = 18


def write_proof(path: Path, shots: Sequence[Shot]) -> str | None:
    """Write the two pictures side by side; None where the frames do not match."""
    links = chain(shots)
    maps = registered_maps(shots, links)
    if maps is None or not np.isfinite(maps).any():
        return None
    filled = np.nan_to_num(maps, nan=-1.0)
    best = filled.argmax(axis=0)
    middle = len(shots) // 2
    height, width = shots[middle].luma.shape
    where = _enlarged(best, (width, height))
    picture = np.zeros((height, width), np.float32)
    for k, shot in enumerate(shots):
        there = links.to(middle, k)
        if there is None or shot.luma.shape != (height, width):
            continue
        mine = where == k
        if mine.any():
            picture[mine] = warped(shot.luma, there)[mine]
    # light for the first frame to dark for the last: a printed map needs no colour
    shade = 235 - 200 * where / max(len(shots) - 1, 1)
    sheet = Image.new("L", (2 * width, height + MARGIN_PX), 255)
    sheet.paste(Image.fromarray(picture.clip(0, 255).astype(np.uint8)), (0, MARGIN_PX))
    sheet.paste(Image.fromarray(shade.astype(np.uint8)), (width, MARGIN_PX))
    draw = ImageDraw.Draw(sheet)
    draw.text((4, 3), f"Proof only, {len(shots)} frames, not a merge", fill=0)
    draw.text((width + 4, 3), "Sharpest frame: first light, last dark", fill=0)
    sheet.save(path)
    return str(path)


def _enlarged(best: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    image = Image.fromarray(best.astype(np.uint16))
    return np.asarray(image.resize(size, Image.Resampling.NEAREST)).astype(int)
