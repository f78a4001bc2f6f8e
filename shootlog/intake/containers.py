"""Where in each kind of file the Exif block, the XMP packet and the pixel counts lie.

Each opener walks its container by the published layout (JPEG: ISO/IEC 10918-1 and Exif; PNG 3rd
edition; RIFF for WebP; TIFF 6.0) and reads a few kilobytes of a file of any size. The boxes of
HEIC, AVIF and CR3 are in `boxes`, the older RAW layouts in `old_raw`.
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from shootlog.intake.ifd import Directory, Window, byte_order, first_directory, sub_directories

MOST_SEGMENTS = 2000
MOST_CHUNKS = 50_000
MOST_BLOCK = 1 << 20
EXIF_START = b"Exif\x00\x00"
XMP_START = b"http://ns.adobe.com/xap/1.0/\x00"  # the namespace ISO 16684-1 prescribes
JPEG_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
TAG_WIDTH, TAG_HEIGHT, TAG_SUB_IFDS, TAG_RW2_JPEG = 256, 257, 330, 0x2E


@dataclass
class Container:
    """What a file holds besides its pixels."""

    exif: Window | None = None  # a TIFF block
    blocks: dict[str, Window] = field(default_factory=dict)  # CR3 keeps its directories apart
    xmp: bytes = b""
    width_px: int | None = None
    height_px: int | None = None
    turned: int | None = None  # the container's own rotation, as an Exif orientation

    def sized(self, width: int, height: int) -> None:
        if width > 0 and height > 0:
            self.width_px, self.height_px = width, height

    @property
    def holds_anything(self) -> bool:
        return bool(self.exif or self.blocks or self.width_px)


Opener = Callable[[Window], Container]


def tiff_block(window: Window) -> Window | None:
    """Return the window if a TIFF header stands at its start, with or without "Exif"."""
    head = window.read(0, 12)
    if head.startswith(EXIF_START):
        window = window.part(6)
        head = head[6:]
    return window if byte_order(head) else None


def open_jpeg(window: Window) -> Container:
    found = Container()
    for marker, start, length in jpeg_segments(window):
        if marker in JPEG_FRAMES:
            head = window.read(start, 5)
            if len(head) == 5:
                height, width = struct.unpack(">HH", head[1:])
                found.sized(width, height)
        elif marker == 0xE1:
            head = window.read(start, len(XMP_START))
            if head.startswith(EXIF_START) and found.exif is None:
                found.exif = tiff_block(Window.over(window.read(start, length)))
            elif head == XMP_START:
                found.xmp += window.read(start, length)[len(XMP_START) :]
    return found


def jpeg_segments(window: Window) -> Iterator[tuple[int, int, int]]:
    """Yield (marker, start of its data, length) up to the first scan."""
    at = 2
    for _ in range(MOST_SEGMENTS):
        head = window.read(at, 4)
        if len(head) < 4:
            return
        if head[0] != 0xFF:  # makers leave padding; find the next marker nearby
            skip = window.read(at, 4096).find(b"\xff")
            if skip < 0:
                return
            at += skip
            continue
        marker, length = head[1], int.from_bytes(head[2:], "big")
        if marker == 0xFF or 0xD0 <= marker <= 0xD8 or marker in (0x00, 0x01):
            at += 1 if marker == 0xFF else 2
            continue
        if marker in (0xD9, 0xDA):
            return
        yield marker, at + 4, max(0, length - 2)
        at += 2 + max(2, length)


def open_png(window: Window) -> Container:
    found = Container()
    at = 8
    for _ in range(MOST_CHUNKS):
        head = window.read(at, 8)
        if len(head) < 8:
            break
        length, name = int.from_bytes(head[:4], "big"), head[4:]
        if name == b"IHDR":
            size = window.read(at + 8, 8)
            if len(size) == 8:
                found.sized(*struct.unpack(">II", size))
        elif name == b"eXIf":
            found.exif = tiff_block(window.part(at + 8, length))
        elif name in (b"tEXt", b"zTXt", b"iTXt") and length < MOST_BLOCK:
            _png_text(name, window.read(at + 8, length), found)
        elif name == b"IEND":
            break
        at += 12 + length
    return found


def _png_text(name: bytes, block: bytes, found: Container) -> None:
    key, _, rest = block.partition(b"\x00")
    if key == b"XML:com.adobe.xmp":
        found.xmp += rest
    elif key in (b"Raw profile type exif", b"Raw profile type APP1") and found.exif is None:
        if name == b"zTXt":
            rest = inflated(rest[1:])
        digits = re.sub(rb"\s+", b"", b"".join(rest.strip().split(b"\n")[2:]))
        try:
            found.exif = tiff_block(Window.over(bytes.fromhex(digits.decode("ascii"))))
        except ValueError:  # no hexadecimal after all: nothing recorded
            return


def inflated(block: bytes) -> bytes:
    """Unpack at most a megabyte; a small chunk can unpack to gigabytes."""
    try:
        return zlib.decompressobj().decompress(block, MOST_BLOCK)
    except zlib.error:
        return b""


def open_webp(window: Window) -> Container:
    found = Container()
    at = 12
    for _ in range(MOST_SEGMENTS):
        head = window.read(at, 8)
        if len(head) < 8:
            break
        name, length = head[:4], int.from_bytes(head[4:], "little")
        if name == b"EXIF":
            found.exif = tiff_block(window.part(at + 8, length))
        elif name == b"XMP ":
            found.xmp = window.read(at + 8, min(length, MOST_BLOCK))
        elif name in (b"VP8X", b"VP8 ", b"VP8L") and found.width_px is None:
            _webp_size(name, window.read(at + 8, 10), found)
        at += 8 + length + (length & 1)
    return found


def _webp_size(name: bytes, head: bytes, found: Container) -> None:
    if len(head) < 10:
        return
    if name == b"VP8X":
        found.sized(
            1 + int.from_bytes(head[4:7], "little"), 1 + int.from_bytes(head[7:10], "little")
        )
    elif name == b"VP8L":
        bits = int.from_bytes(head[1:5], "little")
        found.sized(1 + (bits & 0x3FFF), 1 + (bits >> 14 & 0x3FFF))
    else:
        width, height = struct.unpack("<HH", head[6:10])
        found.sized(width & 0x3FFF, height & 0x3FFF)


def open_tiff(window: Window) -> Container:
    """Open a TIFF, and every RAW that is one inside: DNG, CR2, NEF, ARW, PEF, ORF, SRW ..."""
    found = Container(exif=window)
    first = first_directory(window)
    largest = max(
        (_size(d) for d in (first, *sub_directories(window, first.get(TAG_SUB_IFDS)))),
        key=lambda size: size[0] * size[1],
    )
    found.sized(*largest)
    if 700 in first:
        found.xmp = first[700].raw(MOST_BLOCK)
    return found


def _size(entries: Directory) -> tuple[int, int]:
    sides = [entries[tag].number() if tag in entries else None for tag in (TAG_WIDTH, TAG_HEIGHT)]
    width, height = (side if isinstance(side, int) else 0 for side in sides)
    return width, height


def open_rw2(window: Window) -> Container:
    """RW2: sides from the sensor's borders; the whole Exif block lies in the JPEG inside."""
    first = first_directory(window)
    found = Container()
    if TAG_RW2_JPEG in first:
        inner = first[TAG_RW2_JPEG]
        found = open_jpeg(window.part(inner.at, inner.size))
        found.width_px = found.height_px = None
    found.exif = found.exif or window
    borders = [first[tag].number() if tag in first else None for tag in (4, 5, 6, 7)]
    top, left, bottom, right = (side if isinstance(side, int) else 0 for side in borders)
    found.sized(right - left, bottom - top)
    return found
