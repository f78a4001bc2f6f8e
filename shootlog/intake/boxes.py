"""HEIC, HEIF, AVIF and CR3: files of nested boxes (ISO/IEC 14496-12, 23008-12).

CR3 has no published layout; where its facts lie is known from open readers: `moov`, then a `uuid`
box, then CMT1, CMT2, CMT3, CMT4, each a whole TIFF block.
"""

from __future__ import annotations

from collections.abc import Iterator

from shootlog.intake.containers import Container, tiff_block
from shootlog.intake.ifd import Window

MOST_BOXES = 2000
MOST_META = 2 << 20
CR3_UUID = bytes.fromhex("85c0b687820f11e08111f4ce462b6a48")
TURNS = {0: 1, 1: 8, 2: 3, 3: 6}  # irot counts quarter turns against the clock

Box = tuple[bytes, int, int]  # name, start of its content, end


def boxes(window: Window, start: int, end: int) -> Iterator[Box]:
    for _ in range(MOST_BOXES):
        head = window.read(start, 16)
        if len(head) < 8 or start >= end:
            return
        size, name, skip = int.from_bytes(head[:4], "big"), head[4:8], 8
        if size == 1:
            size, skip = int.from_bytes(head[8:16], "big"), 16
        stop = end if size == 0 else start + size
        if size and size < skip:
            return
        yield name, start + skip, min(stop, end)
        start = stop


def child(window: Window, start: int, end: int, name: bytes) -> Box | None:
    return next((box for box in boxes(window, start, end) if box[0] == name), None)


def open_cr3(window: Window) -> Container:
    found = Container()
    moov = child(window, 0, window.length, b"moov")
    for _, start, end in boxes(window, moov[1], moov[2]) if moov else ():
        if window.read(start, 16) != CR3_UUID:
            continue
        for name, first, last in boxes(window, start + 16, end):
            if name.startswith(b"CMT"):
                block = tiff_block(window.part(first, last - first))
                if block is not None:
                    found.blocks[name.decode("ascii", "replace")] = block
    found.exif = found.blocks.get("CMT1")
    return found


def open_heif(window: Window) -> Container:
    found = Container()
    meta = child(window, 0, window.length, b"meta")
    if meta is None or meta[2] - meta[1] > MOST_META:
        return found
    inside = {name: (s, e) for name, s, e in boxes(window, meta[1] + 4, meta[2])}
    items = _item_types(window, *inside.get(b"iinf", (0, 0)))
    places = _item_places(window, *inside.get(b"iloc", (0, 0)))
    for item, kind in items.items():
        if item not in places:
            continue
        place = window.part(*places[item])
        if kind == b"Exif" and found.exif is None:
            # four bytes tell how far the TIFF header is from their end
            ahead = int.from_bytes(place.read(0, 4), "big")
            found.exif = tiff_block(place.part(4 + ahead)) or tiff_block(place.part(4))
        elif kind == b"mime":
            block = place.read(0, 1 << 20)
            if b"x:xmpmeta" in block[:4096]:
                found.xmp = block
    primary = window.read(sum(inside.get(b"pitm", (0, 0))[:1]) + 4, 2)
    if b"iprp" in inside and len(primary) == 2:
        _properties(window, *inside[b"iprp"], int.from_bytes(primary, "big"), found)
    return found


def _item_types(window: Window, start: int, end: int) -> dict[int, bytes]:
    wide = window.read(start, 1) > b"\x00"
    types = {}
    for name, first, _ in boxes(window, start + (8 if wide else 6), end):
        entry = window.read(first, 16)
        if name != b"infe" or len(entry) < 14:
            continue
        if entry[0] == 2:
            types[int.from_bytes(entry[4:6], "big")] = entry[8:12]
        elif entry[0] == 3:
            types[int.from_bytes(entry[4:8], "big")] = entry[10:14]
    return types


def _item_places(window: Window, start: int, end: int) -> dict[int, tuple[int, int]]:
    """Return item -> (offset, length) of its first extent, where it lies in the file itself."""
    block = window.read(start, min(end - start, 1 << 18))
    if len(block) < 8:
        return {}
    version = block[0]
    offset_size, length_size = block[4] >> 4, block[4] & 15
    base_size, index_size = block[5] >> 4, (block[5] & 15 if version else 0)
    at = 6

    def take(size: int) -> int:
        nonlocal at
        at += size
        return int.from_bytes(block[at - size : at], "big")

    places = {}
    for _ in range(take(2 if version < 2 else 4)):
        if at >= len(block):
            break
        item = take(2 if version < 2 else 4)
        method = take(2) & 15 if version else 0
        take(2)
        base = take(base_size)
        for k in range(take(2)):
            if at >= len(block):
                break
            take(index_size)
            offset, length = take(offset_size), take(length_size)
            if k == 0 and method == 0:
                places[item] = (base + offset, length)
    return places


def _properties(window: Window, start: int, end: int, item: int, found: Container) -> None:
    """Take the size and the rotation the primary picture is tied to."""
    shared = child(window, start, end, b"ipco")
    ties = child(window, start, end, b"ipma")
    if shared is None or ties is None:
        return
    known = list(boxes(window, shared[1], shared[2]))
    for number in _tied(window, ties, item):
        if not 0 < number <= len(known):
            continue
        name, first, _ = known[number - 1]
        if name == b"ispe":
            size = window.read(first + 4, 8)
            found.sized(int.from_bytes(size[:4], "big"), int.from_bytes(size[4:], "big"))
        elif name == b"irot":
            found.turned = TURNS[(window.read(first, 1) or b"\x00")[0] & 3]


def _tied(window: Window, box: Box, item: int) -> list[int]:
    block = window.read(box[1], min(box[2] - box[1], 1 << 18))
    if len(block) < 8:
        return []
    id_size, wide = (4 if block[0] else 2), block[3] & 1
    at = 8
    for _ in range(int.from_bytes(block[4:8], "big")):
        if at + id_size >= len(block):
            return []
        entry = int.from_bytes(block[at : at + id_size], "big")
        count = block[at + id_size]
        at += id_size + 1
        step = 2 if wide else 1
        mask = 0x7FFF if wide else 0x7F
        numbers = [
            int.from_bytes(block[at + k * step : at + (k + 1) * step], "big") & mask
            for k in range(count)
        ]
        if entry == item:
            return numbers
        at += count * step
    return []
