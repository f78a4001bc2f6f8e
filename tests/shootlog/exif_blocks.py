"""Write small Exif blocks and files around them, with any value a broken camera could write."""

import struct
import zlib

BYTE, ASCII, SHORT, LONG, RATIONAL, UNDEFINED, SRATIONAL = 1, 2, 3, 4, 5, 7, 10
CODE = {BYTE: "B", SHORT: "H", LONG: "I"}

MAKE, MODEL, ORIENTATION, SOFTWARE, DATE_TIME = 0x010F, 0x0110, 0x0112, 0x0131, 0x0132
EXPOSURE, F_NUMBER, PROGRAM, ISO, TAKEN, OFFSET = 0x829A, 0x829D, 0x8822, 0x8827, 0x9003, 0x9011
SPEED, APERTURE, BIAS, LARGEST, DISTANCE, FLASH = 0x9201, 0x9202, 0x9204, 0x9205, 0x9206, 0x9209
FOCAL, NOTE, SUBSEC, WIDTH, HEIGHT = 0x920A, 0x927C, 0x9291, 0xA002, 0xA003
PLANE, PLANE_UNIT, MODE, BALANCE, ZOOM, FOCAL_35 = 0xA20E, 0xA210, 0xA402, 0xA403, 0xA404, 0xA405
LENS_RANGE, LENS_NAME, COMPOSITE, ISO_SPEED = 0xA432, 0xA434, 0xA460, 0x8833
EXIF_POINTER = 0x8769
FIRST = {MAKE, MODEL, ORIENTATION, SOFTWARE, DATE_TIME}


def packed(kind, values, order):
    if kind in (ASCII, UNDEFINED):
        return values if isinstance(values, bytes) else values.encode("utf-8") + b"\0"
    if kind in (RATIONAL, SRATIONAL):
        code = "I" if kind == RATIONAL else "i"
        return b"".join(struct.pack(order + code * 2, *pair) for pair in values)
    return struct.pack(order + CODE[kind] * len(values), *values)


SIZE = {BYTE: 1, ASCII: 1, SHORT: 2, LONG: 4, RATIONAL: 8, UNDEFINED: 1, SRATIONAL: 8}


def directory(entries, at, order):
    """Return the bytes of a directory placed at ``at``, its values right behind it."""
    rows, behind = b"", b""
    values_at = at + 2 + 12 * len(entries) + 4
    for tag, (kind, values) in sorted(entries.items()):
        block = packed(kind, values, order)
        count = len(block) // SIZE[kind]
        if len(block) <= 4:
            rows += struct.pack(order + "HHI", tag, kind, count) + block.ljust(4, b"\0")
        else:
            rows += struct.pack(order + "HHII", tag, kind, count, values_at + len(behind))
            behind += block + b"\0" * (len(block) % 2)
    return struct.pack(order + "H", len(entries)) + rows + b"\0" * 4 + behind


def tiff(entries, order="<"):
    """Return a TIFF block: the tags of the first directory there, all others in the Exif one."""
    first = {tag: value for tag, value in entries.items() if tag in FIRST}
    inner = {tag: value for tag, value in entries.items() if tag not in FIRST}
    first[EXIF_POINTER] = (LONG, [0])
    length = len(directory(first, 8, order))
    first[EXIF_POINTER] = (LONG, [8 + length])
    head = (b"II*\0" if order == "<" else b"MM\0*") + struct.pack(order + "I", 8)
    return head + directory(first, 8, order) + directory(inner, 8 + length, order)


def jpeg(entries=None, *, block=None, xmp=b"", width=60, height=40, order="<"):
    """Return a JPEG's header up to its first scan; no pixel follows."""
    block = tiff(entries or {}, order) if block is None else block
    out = b"\xff\xd8" + segment(0xE1, b"Exif\0\0" + block)
    if xmp:
        out += segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0" + xmp)
    out += segment(0xC0, struct.pack(">BHHB", 8, height, width, 3) + b"\1\x22\0\2\x11\1\3\x11\1")
    return out + b"\xff\xda\0\x0c\3\1\0\2\x11\3\x11\0\x3f\0" + b"\xff\xd9"


def segment(marker, content):
    return struct.pack(">BBH", 0xFF, marker, len(content) + 2) + content


def png(block, width=60, height=40):
    def chunk(name, content):
        check = zlib.crc32(name + content)
        return struct.pack(">I", len(content)) + name + content + struct.pack(">I", check)

    size = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", size) + chunk(b"eXIf", block) + chunk(b"IEND", b"")


def webp(block, width=60, height=40):
    canvas = bytes([8, 0, 0, 0]) + (width - 1).to_bytes(3, "little")
    canvas += (height - 1).to_bytes(3, "little")
    body = b"WEBP" + b"VP8X" + struct.pack("<I", 10) + canvas
    body += b"EXIF" + struct.pack("<I", len(block)) + block + b"\0" * (len(block) % 2)
    return b"RIFF" + struct.pack("<I", len(body)) + body
