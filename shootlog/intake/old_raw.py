"""RAW files that are no TIFF at their start: RAF, MRW, X3F. Layouts known from open readers."""

from __future__ import annotations

import struct

from shootlog.intake.containers import Container, open_jpeg, tiff_block
from shootlog.intake.ifd import Window


def open_raf(window: Window) -> Container:
    """RAF: a header points at a whole JPEG that carries the Exif block, and at a size table."""
    head = window.read(84, 16)
    if len(head) < 16:
        return Container()
    jpeg_at, jpeg_length, table_at, table_length = struct.unpack(">IIII", head)
    found = open_jpeg(window.part(jpeg_at, jpeg_length))
    table = window.read(table_at, min(table_length, 4096))
    at = 4
    for _ in range(int.from_bytes(table[:4], "big")):
        if at + 8 > len(table):
            break
        tag, size = struct.unpack_from(">HH", table, at)
        if tag == 0x111:
            height, width = struct.unpack_from(">HH", table, at + 4)
            found.sized(width, height)
        at += 4 + size
    return found


def open_mrw(window: Window) -> Container:
    found = Container()
    at = 8
    for _ in range(32):
        head = window.read(at, 8)
        if len(head) < 8:
            break
        name, length = head[:4], int.from_bytes(head[4:], "big")
        if name == b"\x00PRD":
            size = window.read(at + 8 + 12, 4)
            if len(size) == 4:
                height, width = struct.unpack(">HH", size)
                found.sized(width, height)
        elif name == b"\x00TTW":
            found.exif = tiff_block(window.part(at + 8, length))
        at += 8 + length
    return found


def open_x3f(window: Window) -> Container:
    """X3F: the last four bytes point at a list of sections; one of them is a JPEG with Exif."""
    found = Container()
    tail = window.read(window.length - 4, 4)
    listing = window.read(int.from_bytes(tail, "little"), 12)
    if listing[:4] == b"SECd":
        start = int.from_bytes(tail, "little") + 12
        for k in range(min(64, int.from_bytes(listing[8:], "little"))):
            entry = window.read(start + 12 * k, 12)
            if len(entry) == 12 and entry[8:] in (b"IMA2", b"IMAG"):
                offset, length, _ = struct.unpack("<III", entry)
                inner = open_jpeg(window.part(offset + 28, length - 28))
                found.exif = found.exif or inner.exif
    size = window.read(28, 8)
    if len(size) == 8:
        found.sized(*struct.unpack("<II", size))
    return found
