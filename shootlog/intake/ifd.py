"""A TIFF directory read in small, bounded pieces. Knows no tag names and trusts no number.

Every camera file keeps its facts in such directories: Exif blocks, makers' notes, RAW files.
Offsets and counts in a damaged or hostile file can be anything, so all reading goes through a
`Window`, which never reads outside itself and stops after a budget.
"""

from __future__ import annotations

import io
import struct
from dataclasses import dataclass
from typing import BinaryIO

SIZE_OF_TYPE = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4}
CODE_OF_TYPE = {1: "B", 3: "H", 4: "I", 6: "b", 7: "B", 8: "h", 9: "i", 11: "f", 12: "d", 13: "I"}
MOST_ENTRIES = 1000  # a camera writes at most a few hundred
MOST_VALUES = 4096
MOST_TEXT = 1024
BUDGET_BYTES = 4 * 1024 * 1024

Number = int | float | None


class Window:
    """A stretch of an open file. Reads outside it, or past the budget, give fewer bytes."""

    def __init__(self, file: BinaryIO, start: int = 0, length: int | None = None) -> None:
        if length is None:
            length = max(0, file.seek(0, io.SEEK_END) - start)
        self.file, self.start, self.length = file, start, length
        self.left = BUDGET_BYTES

    @classmethod
    def over(cls, block: bytes) -> Window:
        return cls(io.BytesIO(block), 0, len(block))

    def read(self, offset: int, count: int) -> bytes:
        if offset < 0 or offset >= self.length or count <= 0:
            return b""
        count = min(count, self.length - offset, self.left)
        self.left -= count
        self.file.seek(self.start + offset)
        return self.file.read(count)

    def part(self, offset: int, length: int | None = None) -> Window:
        """A window inside this one; what it reads counts against a budget of its own."""
        offset = min(max(0, offset), self.length)
        room = self.length - offset
        return Window(self.file, self.start + offset, room if length is None else min(length, room))


@dataclass(frozen=True, slots=True)
class Field:
    """One entry of a directory; its value is read when asked for."""

    window: Window
    order: str  # "<" or ">"
    kind: int
    count: int
    at: int  # where the value lies, in the window

    @property
    def size(self) -> int:
        return self.count * SIZE_OF_TYPE.get(self.kind, 1)

    def raw(self, most: int = 1 << 20) -> bytes:
        return self.window.read(self.at, min(self.size, most))

    def text(self) -> str:
        """Everything before the first NUL; undecodable bytes are replaced, never raised."""
        return clean_text(self.raw(MOST_TEXT))

    def numbers(self) -> list[Number]:
        """Plain numbers; a fraction over nought is None."""
        count = min(self.count, MOST_VALUES)
        if self.kind in (5, 10):
            code = "II" if self.kind == 5 else "ii"
            flat = self._unpack(code * count, 8 * count, 4)
            return [a / b if b else None for a, b in zip(flat[::2], flat[1::2], strict=False)]
        if self.kind not in CODE_OF_TYPE:
            return []
        size = SIZE_OF_TYPE[self.kind]
        return list(self._unpack(CODE_OF_TYPE[self.kind] * count, size * count, size))

    def number(self, index: int = 0) -> Number:
        found = self.numbers()
        return found[index] if -len(found) <= index < len(found) else None

    def _unpack(self, codes: str, length: int, size: int) -> tuple[int | float, ...]:
        block = self.raw(length)
        if len(block) < length:  # cut off: keep the whole values
            whole = len(block) // size
            codes, block = codes[:whole], block[: whole * size]
        return struct.unpack(self.order + codes, block)


Directory = dict[int, Field]


def clean_text(block: bytes) -> str:
    return block.split(b"\x00", 1)[0].decode("utf-8", "replace").strip()


def byte_order(head: bytes) -> str | None:
    return {b"II": "<", b"MM": ">"}.get(head[:2])


def directory(window: Window, offset: int, order: str, base: int = 0) -> Directory:
    """Return the entries of the directory at ``offset``; value offsets count from ``base``."""
    head = window.read(offset, 2)
    if len(head) < 2:
        return {}
    (entries,) = struct.unpack(order + "H", head)
    block = window.read(offset + 2, 12 * min(entries, MOST_ENTRIES))
    found: Directory = {}
    for k in range(len(block) // 12):
        tag, kind, count = struct.unpack_from(order + "HHI", block, 12 * k)
        size = SIZE_OF_TYPE.get(kind)
        if size is None:
            continue
        at = offset + 2 + 12 * k + 8
        if count * size > 4:
            at = base + struct.unpack_from(order + "I", block, 12 * k + 8)[0]
        found.setdefault(tag, Field(window, order, kind, count, at))
    return found


def first_directory(window: Window) -> Directory:
    """Return the first directory of a TIFF block, whatever number follows its byte order.

    RAW makers change the 42 of TIFF to a number of their own.
    """
    head = window.read(0, 8)
    order = byte_order(head)
    if order is None or len(head) < 8:
        return {}
    return directory(window, struct.unpack(order + "I", head[4:])[0], order)


def sub_directories(window: Window, pointer: Field | None, most: int = 8) -> list[Directory]:
    """Return the directories a pointer entry points at."""
    if pointer is None:
        return []
    offsets = [n for n in pointer.numbers()[:most] if isinstance(n, int)]
    return [directory(window, n, pointer.order) for n in offsets]
