"""CRW, Canon's RAW before TIFF: a heap of records (layout published as CIFF, revision 1.0).

Only bodies of 2000 to 2005 write it; their settings are the same arrays later maker notes hold.
"""

from __future__ import annotations

import struct
from datetime import UTC, datetime
from typing import Any

from shootlog.intake.containers import Container
from shootlog.intake.ifd import Window, clean_text
from shootlog.intake.standard import Tags

MOST_RECORDS = 300
DEEPEST = 4
MAKE_MODEL, SHOT_INFO, FOCAL, IMAGE_SPEC, TIME = 0x080A, 0x102A, 0x1029, 0x1810, 0x180E

Records = dict[int, bytes]


def open_crw(window: Window) -> tuple[Container, Tags]:
    try:
        records: Records = {}
        header = int.from_bytes(window.read(2, 4), "little")
        _read_heap(window.part(header), records, 0)
        return _facts(records)
    except Exception:  # a damaged heap counts as holding nothing
        return Container(), Tags()


def _read_heap(heap: Window, records: Records, depth: int) -> None:
    table = int.from_bytes(heap.read(heap.length - 4, 4), "little")
    count = int.from_bytes(heap.read(table, 2), "little")
    block = heap.read(table + 2, 10 * min(count, MOST_RECORDS))
    for k in range(len(block) // 10):
        tag, size, offset = struct.unpack_from("<HII", block, 10 * k)
        if tag & 0xC000 == 0x4000:  # eight bytes or fewer lie in the table itself
            records.setdefault(tag & 0x3FFF, block[10 * k + 2 : 10 * k + 10])
        elif tag & 0x3800 in (0x2800, 0x3000):
            if depth < DEEPEST:
                _read_heap(heap.part(offset, size), records, depth + 1)
        elif size <= 4096:
            records.setdefault(tag & 0x3FFF, heap.read(offset, size))


def _facts(records: Records) -> tuple[Container, Tags]:
    found = Container()
    tags: dict[str, Any] = {}
    names = records.get(MAKE_MODEL, b"").split(b"\x00")
    for name, text in zip(("Image Make", "Image Model"), names, strict=False):
        if text.strip():
            tags[name] = clean_text(text)
    spec = records.get(IMAGE_SPEC, b"")
    if len(spec) >= 8:
        found.sized(*struct.unpack_from("<II", spec))
    shot = _shorts(records.get(SHOT_INFO, b""))
    if len(shot) > 22:
        tags |= _exposure(shot)
    focal = _shorts(records.get(FOCAL, b""))
    if len(focal) > 1 and focal[1] > 0:
        tags["EXIF FocalLength"] = [focal[1]]
    clock = records.get(TIME, b"")
    if len(clock) >= 4:
        seconds = int.from_bytes(clock[:4], "little")
        taken = datetime.fromtimestamp(seconds, UTC)  # counted in the camera's own clock
        tags["EXIF DateTimeOriginal"] = taken.strftime("%Y:%m:%d %H:%M:%S")
    return found, Tags(tags)


def _exposure(shot: tuple[int, ...]) -> dict[str, Any]:
    """Settings in APEX with 32 steps to the stop; nought means not written."""
    tags: dict[str, Any] = {}
    if shot[2] > 0:
        tags["EXIF ISOSpeedRatings"] = [round(100 / 32 * 2 ** (canon_stops(shot[2])))]
    if shot[21] > 0:
        tags["EXIF FNumber"] = [2 ** (canon_stops(shot[21]) / 2)]
    if shot[22]:
        tags["EXIF ExposureTime"] = [2 ** -canon_stops(shot[22])]
    tags["EXIF ExposureBiasValue"] = [canon_stops(shot[6])]
    return tags


def canon_stops(code: int) -> float:
    """Return stops from Canon's 32nds, where 12 and 20 stand for a third and two thirds."""
    sign, code = (-1, -code) if code < 0 else (1, code)
    whole, rest = divmod(code, 32)
    thirds = {12: 32 / 3, 20: 64 / 3}
    return sign * (whole + thirds.get(rest, rest) / 32)


def _shorts(block: bytes) -> tuple[int, ...]:
    return struct.unpack(f"<{len(block) // 2}h", block[: len(block) // 2 * 2])
