"""What is shown instead of the original: turned, in sRGB, and carrying nothing but the picture."""

from __future__ import annotations

import io
from pathlib import Path

from PIL import Image, ImageCms

from shootlog.intake.turning import picture_as_shown

SCREEN_PX, THUMB_PX = 2048, 512
#: A picture averaged to at least this is left at that size: resizing costs a third of a decode.
SMALLEST_SCREEN_PX = 1700
SMALLEST_THUMB_PX = 440
QUALITY = 85


def factor_for(longest_px: int) -> int:
    """Return how many pixels to average each way before the last, smaller resize."""
    factor = -(-longest_px // SCREEN_PX)
    if longest_px / factor < SMALLEST_SCREEN_PX:
        factor -= 1
    return max(factor, 1)


def fitted(picture: Image.Image, longest_px: int) -> Image.Image:
    """Return the picture no longer than this; never enlarged."""
    longest = max(picture.size)
    if longest <= longest_px:
        return picture
    size = [max(round(side * longest_px / longest), 1) for side in picture.size]
    return picture.resize((size[0], size[1]), Image.Resampling.HAMMING)


def in_srgb(picture: Image.Image, profile: bytes | None, notes: list[str]) -> Image.Image:
    """Convert from the embedded colour profile; one that cannot be read is passed over."""
    if not profile:
        return picture
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        if "srgb" in (ImageCms.getProfileDescription(source) or "").lower():
            return picture
        target = ImageCms.createProfile("sRGB")
        picture = picture.convert("RGB")
        turned = ImageCms.profileToProfile(picture, source, target, outputMode="RGB")
        return turned or picture
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        notes.append("The colour profile in the file cannot be read; colours are shown as sRGB.")
        return picture


def write(small: Image.Image, orientation: int, into: Path) -> None:
    """Write `screen.jpg` and `thumb.jpg`: no Exif, no position, no profile, no maker's note."""
    screen = picture_as_shown(small, orientation)
    _save(screen, into / "screen.jpg")
    longest = max(screen.size)
    whole = -(-longest // THUMB_PX)
    if longest / whole >= SMALLEST_THUMB_PX:  # averaging by a whole factor is all it needs
        screen = screen.reduce(whole)
    _save(fitted(screen, THUMB_PX), into / "thumb.jpg")


def _save(picture: Image.Image, path: Path) -> None:
    """In memory first: what Pillow says of a full disk does not say that the disk is full."""
    picture.info.clear()
    made = io.BytesIO()
    picture.save(made, "JPEG", quality=QUALITY, exif=b"", icc_profile=None)
    path.write_bytes(made.getbuffer())
