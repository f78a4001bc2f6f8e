"""Files of a series opened one after another, each kept as small arrays only."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import IO, Any

import numpy as np
from PIL import Image, ImageOps

from optics.evidence import sharpness
from shootlog.intake.tags import Unreadable, read_recorded
from shootlog.reading import Reading
from shootlog.recorded import Recorded
from shootlog.series.shot import Shot
from shootlog.set_up import SetUp
from shootlog.work_out import work_out

WORK_PX = 1600  # a series is looked at no finer: pixel noise would drown the detail
LUMA_PX = 512
BLOCK_PX = 16
COLOUR_PX = 96
COARSER = 4
MOST_PIXELS = 200_000_000


def open_shots(
    paths: Sequence[Path],
    read: Callable[[Recorded], Reading] | None = None,
    longest_px: int | None = WORK_PX,
    keep_picture: bool = False,
) -> Iterator[Shot | tuple[Path, Unreadable]]:
    """Yield each file's shot, or the path with the words on why it cannot be read."""
    for path in paths:
        try:
            yield open_shot(path, read, longest_px, keep_picture)
        except Unreadable as trouble:
            yield path, trouble


def reader(set_up: SetUp | None, **options: Any) -> Callable[[Recorded], Reading]:
    """How a frame's facts become a reading: the same set-up and options for all."""
    return lambda recorded: work_out(recorded, set_up, **options)


def open_shot(
    path: Path,
    read: Callable[[Recorded], Reading] | None = None,
    longest_px: int | None = WORK_PX,
    keep_picture: bool = False,
) -> Shot:
    """Open one frame: facts, sharpness map, small picture.

    `longest_px` is how fine it is looked at; None for all there is, where sharpness itself is
    asked for: what an aperture costs shows in the finest detail first.
    """
    recorded = read_recorded(path)
    luma, (width_px, height_px), colour = _open_picture(path, longest_px)
    return Shot(
        file=str(path),
        recorded=recorded,
        reading=(read or work_out)(recorded),
        width_px=width_px,
        height_px=height_px,
        colour=colour,
        **_looked_at(luma, keep_picture),
    )


def shot_of_picture(
    picture: IO[bytes],
    *,
    file: str,
    recorded: Recorded,
    reading: Reading,
    size: tuple[int, int] | None = None,
    keep_picture: bool = False,
) -> Shot:
    """The shot of a frame that was read before, from the picture made of it then."""
    try:
        with Image.open(picture) as image:
            colour = _small_colour(image)
            luma = _fitted(np.asarray(image.convert("L")), WORK_PX)
    except OSError as trouble:
        raise Unreadable(
            f"The picture of {recorded.model or file} is broken; read it again."
        ) from (trouble)
    width_px, height_px = size or luma.shape[::-1]
    return Shot(
        file=file,
        recorded=recorded,
        reading=reading,
        width_px=width_px,
        height_px=height_px,
        colour=colour,
        **_looked_at(luma, keep_picture),
    )


def _looked_at(luma: np.ndarray, keep_picture: bool) -> dict[str, Any]:
    """What a `Shot` keeps of luminance, by name."""
    return {
        "detail": detail_of(luma),
        "coarse": coarse_of(luma),
        "luma": _fitted(luma, LUMA_PX),
        "picture": _fitted(luma, WORK_PX) if keep_picture else None,
    }


def open_luma(path: Path, longest_px: int | None = None) -> tuple[np.ndarray, tuple[int, int]]:
    """Return 8-bit luminance as shown, at most about so large, and the frame's full size."""
    luma, size, _ = _open_picture(path, longest_px)
    return luma, size


def _open_picture(
    path: Path, longest_px: int | None
) -> tuple[np.ndarray, tuple[int, int], np.ndarray | None]:
    """Luminance and full size as for `open_luma`, and the colour of some hundred patches."""
    try:
        with Image.open(path) as image:
            if image.width * image.height > MOST_PIXELS:
                raise Unreadable(
                    f"{path.name}: {image.width} x {image.height} pixels is too large."
                )
            turned = image.getexif().get(0x0112, 1) in (5, 6, 7, 8)
            size = (image.height, image.width) if turned else (image.width, image.height)
            # a JPEG is decoded at 1/2, 1/4 or 1/8 where that is still large enough, and left in
            # luminance and colour as it is stored
            share = min((longest_px or max(image.size)) / max(image.size), 1.0)
            image.draft("YCbCr", (int(image.width * share), int(image.height * share)))
            colour = _small_colour(image)
            grey = image.getchannel(0) if image.mode == "YCbCr" else _eight_bit(image)
            grey.getexif().update(image.getexif())
            grey = ImageOps.exif_transpose(grey) if turned else _upright(image, grey)
            if longest_px and max(grey.size) > longest_px:
                grey = grey.reduce(-(-max(grey.size) // longest_px))
            return np.asarray(grey), size, colour
    except Unreadable:
        raise
    except Exception as trouble:  # a decoder may raise anything on a broken file
        raise Unreadable(
            f"{path.name} can't be opened as a picture; send the file as the camera wrote it."
        ) from trouble


def _small_colour(image: Image.Image) -> np.ndarray | None:
    """Patches as stored, not turned: a series compares them place by place."""
    if image.mode not in ("RGB", "YCbCr", "RGBA"):
        return None
    small = image.reduce(max(1, max(image.size) // COLOUR_PX))
    return np.asarray(small.convert("RGB"))


def _upright(image: Image.Image, grey: Image.Image) -> Image.Image:
    turns = {2: Image.Transpose.FLIP_LEFT_RIGHT, 3: Image.Transpose.ROTATE_180}
    turn = (turns | {4: Image.Transpose.FLIP_TOP_BOTTOM}).get(image.getexif().get(0x0112, 1))
    return grey.transpose(turn) if turn is not None else grey


def _eight_bit(image: Image.Image) -> Image.Image:
    if image.mode.startswith("I"):
        values = np.asarray(image, dtype=np.float64)
        return Image.fromarray(np.clip(values / 257, 0, 255).astype(np.uint8))
    grey = image.convert("L")
    grey.getexif().update(image.getexif())
    return grey


def _fitted(luma: np.ndarray, longest_px: int) -> np.ndarray:
    height, width = luma.shape
    share = longest_px / max(height, width)
    if share >= 1:
        return luma
    size = (max(1, round(width * share)), max(1, round(height * share)))
    return np.asarray(Image.fromarray(luma).resize(size, Image.Resampling.BOX))


def detail_of(luma: np.ndarray) -> np.ndarray:
    """Mean modified Laplacian in blocks."""
    if min(luma.shape) < BLOCK_PX:
        return np.zeros((0, 0), np.float32)
    return sharpness.sharpness_map(luma, BLOCK_PX).astype(np.float32)


def coarse_of(luma: np.ndarray) -> np.ndarray:
    """The same blocks in the picture averaged over 4 x 4 pixels; of the shape of `detail_of`."""
    height, width = (side // BLOCK_PX for side in luma.shape)
    if height == 0 or width == 0:
        return np.zeros((0, 0), np.float32)
    cut = luma[: height * BLOCK_PX, : width * BLOCK_PX]
    averaged = np.asarray(Image.fromarray(cut).reduce(COARSER))
    return sharpness.sharpness_map(averaged, BLOCK_PX // COARSER).astype(np.float32)
