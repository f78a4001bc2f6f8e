"""Open any picture file into one array of red, green and blue, once.

JPEG goes through one decode into memory that is kept for the next frame, since fresh memory costs
a fifth of a decode; everything else through Pillow, RAW through its embedded picture.
"""

from __future__ import annotations

import contextlib
import io
import os
import warnings
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import simplejpeg
from PIL import Image, UnidentifiedImageError

from shootlog.intake.sniff import HEAD_BYTES, RAW_TYPES, sniff
from shootlog.intake.tags import Unreadable

Pixels = npt.NDArray[np.uint8]

#: The largest sensors sold have about 150 million; what is larger is stitched, or a trap.
MOST_PIXELS = int(os.environ.get("WD_MOST_MEGAPIXELS") or 160) * 1_000_000
LONGEST_SIDE_PX = 30_000
SHORTEST_SIDE_PX = 16
TAG_ORIENTATION = 0x0112
#: LibRaw's turn of a RAW file, as Exif says it.
TURN_OF_RAW = {0: 1, 3: 3, 5: 8, 6: 6}
#: An embedded picture at least this share of the RAW's size is worth measuring.
FULL_SIZE = 0.9

Image.MAX_IMAGE_PIXELS = MOST_PIXELS


@dataclass
class Picture:
    """Pixels as stored, and how to show them."""

    rgb: Pixels
    packed: Pixels | None = None  # the same with a fourth byte a pixel, as Pillow holds it
    orientation: int = 1
    profile: bytes | None = None
    scale: int = 1  # pixels of the sensor along one of these (2: developed at half size)
    camera_jpeg: bool = True
    quantisation: npt.NDArray[np.float64] | None = None  # JPEG's steps for luminance, 8 x 8
    notes: list[str] = field(default_factory=list)


_kept: list[Pixels] = []


def _buffer(height: int, width: int, channels: int) -> Pixels:
    """Return memory kept from frame to frame, shaped for this one."""
    need = height * width * channels
    if not _kept or _kept[0].size < need:
        _kept.clear()
        _kept.append(np.empty(need, np.uint8))
    return _kept[0][:need].reshape(height, width, channels)


def open_picture(path: Path, plain_colour: bool = False) -> Picture:
    """Decode a picture file; raise `Unreadable` with words for the person who sent it.

    ``plain_colour`` does not smooth colour between the pixels that hold it: light is the same,
    and what is averaged after cannot tell; a picture shown pixel by pixel can. A JPEG then comes
    packed too, so that Pillow can take it as it lies in memory.
    """
    name = path.name
    with path.open("rb") as file:
        head = file.read(HEAD_BYTES)
    if not head:
        raise Unreadable(
            f"{name} is empty (0 bytes): the copy broke off. Send the file again from the card."
        )
    kind = sniff(head)
    if kind in RAW_TYPES:
        return _raw(path)
    if kind == "JPEG":
        return _jpeg(path.read_bytes(), name, plain_colour)
    return _other(path, name)


def _check_size(width: int, height: int, name: str) -> None:
    if min(width, height) < SHORTEST_SIDE_PX:
        raise Unreadable(
            f"{name} is {width} x {height} pixels: too small to be a frame. Send the file as it "
            "left the camera."
        )
    if max(width, height) > LONGEST_SIDE_PX or width * height > MOST_PIXELS:
        raise Unreadable(
            f"{name} says it is {width} x {height} pixels; this log opens frames of up to "
            f"{MOST_PIXELS // 1_000_000} megapixels and {LONGEST_SIDE_PX} pixels on the longer "
            "side. Send a single frame as it left the camera."
        )


def _jpeg(data: bytes, name: str, plain_colour: bool = False) -> Picture:
    try:
        height, width, space, _ = simplejpeg.decode_jpeg_header(data, strict=False)
    except (ValueError, KeyError):  # KeyError: a subsampling it does not know
        return _through_pillow(io.BytesIO(data), name)
    _check_size(width, height, name)
    if space not in ("YCbCr", "RGB", "Gray"):
        return _through_pillow(io.BytesIO(data), name)
    whole = _buffer(height, width, 4 if plain_colour else 3)
    picture = Picture(whole[..., :3], whole if plain_colour else None)
    order = "RGBX" if plain_colour else "RGB"
    try:
        simplejpeg.decode_jpeg(data, order, fastupsample=plain_colour, buffer=whole)
    except ValueError as trouble:
        if "remature end" in str(trouble) or "truncated" in str(trouble).lower():
            raise _broken_off(name) from trouble
        try:
            simplejpeg.decode_jpeg(data, order, buffer=whole, strict=False)
        except ValueError:
            return _through_pillow(io.BytesIO(data), name)
        picture.notes.append("Small damage inside the file was passed over.")
    # a damaged header costs the turn, not the picture
    with contextlib.suppress(Exception), Image.open(io.BytesIO(data)) as header:
        picture.orientation = _orientation(header)
        picture.profile = header.info.get("icc_profile")
        steps = header.quantization[0]  # type: ignore[attr-defined]
        picture.quantisation = np.reshape(np.asarray(steps, float), (8, 8))
    return picture


def _broken_off(name: str) -> Unreadable:
    return Unreadable(
        f"{name} stops in the middle of the picture: the copy broke off. Send the file again from "
        "the card."
    )


def _other(path: Path, name: str) -> Picture:
    with contextlib.suppress(ImportError):
        import pillow_heif  # optional: its wheels carry a GPL encoder

        pillow_heif.register_heif_opener()
    return _through_pillow(path, name)


def _through_pillow(source: Any, name: str) -> Picture:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(source) as opened:
                _check_size(*opened.size, name)
                return _converted(opened)
    except Image.DecompressionBombError as trouble:
        raise Unreadable(
            f"{name} says it is more than twice {MOST_PIXELS // 1_000_000} megapixels: it is "
            "damaged or made to fill the memory. Send a single frame as it left the camera."
        ) from trouble
    except UnidentifiedImageError as trouble:
        raise Unreadable(
            f"{name} cannot be opened as a picture: it is damaged, or of a kind this log does not "
            "read. Send the JPEG, HEIC or RAW file from the card."
        ) from trouble
    except (OSError, SyntaxError, ValueError, EOFError, IndexError, TypeError) as trouble:
        if "truncated" in str(trouble) or isinstance(trouble, EOFError):
            raise _broken_off(name) from trouble
        raise Unreadable(
            f"{name} opens only in part: the picture in it is damaged. Copy it again from the "
            "card; if that changes nothing, send the camera's JPEG of it."
        ) from trouble


def _converted(opened: Image.Image) -> Picture:
    notes = []
    if getattr(opened, "is_animated", False) and opened.format != "MPO":
        notes.append("The file holds several pictures; the first one is read.")
    orientation = 1 if opened.format == "HEIF" else _orientation(opened)
    profile = opened.info.get("icc_profile")
    opened.load()
    if opened.mode.startswith("I"):
        deep = np.asarray(opened)
        notes.append("16 bits a channel; read at 8.")
        grey = np.clip(deep >> 8 if deep.max(initial=0) > 255 else deep, 0, 255).astype(np.uint8)
        rgb = np.repeat(grey[:, :, None], 3, axis=2)
    else:
        if opened.mode == "CMYK":
            notes.append("Inks, not light (CMYK): colours and burnt shares are only near.")
            profile = None
        rgb = np.asarray(opened.convert("RGB"))
    return Picture(rgb, orientation=orientation, profile=profile, camera_jpeg=False, notes=notes)


def _orientation(opened: Image.Image) -> int:
    value = opened.getexif().get(TAG_ORIENTATION, 1)
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def _raw(path: Path) -> Picture:
    import rawpy

    try:
        with rawpy.imread(str(path)) as raw:
            sizes = raw.sizes
            _check_size(sizes.width, sizes.height, path.name)
            embedded = _embedded(raw, path.name)
            if embedded is not None:
                embedded.orientation = TURN_OF_RAW.get(sizes.flip, embedded.orientation)
                return embedded
            rgb = raw.postprocess(half_size=True, use_camera_wb=True, no_auto_bright=True)
    except (rawpy.LibRawError, OSError, ValueError) as trouble:
        raise Unreadable(
            f"{path.name} is a RAW file whose picture cannot be developed here: it is damaged, or "
            "its camera is too new. Send the camera's JPEG of the same frame."
        ) from trouble
    notes = ["The RAW file was developed at half size."]
    return Picture(np.ascontiguousarray(rgb), scale=2, camera_jpeg=False, notes=notes)


def _embedded(raw: Any, name: str) -> Picture | None:
    """Return the picture the camera put into its RAW file, if it is of full size."""
    import rawpy

    with contextlib.suppress(rawpy.LibRawError, Unreadable, ValueError, KeyError):
        thumb = raw.extract_thumb()
        if thumb.format != rawpy.ThumbFormat.JPEG:
            return None
        height, width, _, _ = simplejpeg.decode_jpeg_header(thumb.data, strict=False)
        if max(width, height) >= FULL_SIZE * max(raw.sizes.width, raw.sizes.height):
            picture = _jpeg(thumb.data, name)
            picture.notes.append("Measured on the full-size picture inside the RAW file.")
            return picture
    return None
