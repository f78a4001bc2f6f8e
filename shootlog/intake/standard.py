"""The standard tags of an Exif block, read by ExifRead in a cage.

ExifRead 3.5.1 trusts every count in the file and raises whatever happens to break; on damaged
maker notes it took over nine seconds for 500 bytes. So it gets a stream that ends after a bounded
number of reads, no maker notes (`makers` reads those, bounded by construction), no thumbnails, and
every exception ends the same way: the tags are not known.
"""

from __future__ import annotations

import io
import logging
import math
from collections.abc import Mapping
from fractions import Fraction
from typing import Any

import exifread

from shootlog.intake.ifd import Window

MOST_READS = 20_000  # an ordinary block takes under a thousand; then the file just ends
MOST_READS_PAST_END = 10_000  # a reader that still goes on is in a loop
NEAR_BYTES = 64 * 1024
INFINITE = 0xFFFFFFFF
NO_NUMBERS = (1, 6, 7)  # types for bytes: none of the tags we take is written as one

logging.getLogger("exifread").setLevel(
    logging.CRITICAL
)  # its complaints are not for the server log


class CagedStream:
    """The few file methods ExifRead uses, with an end to its patience."""

    def __init__(self, window: Window) -> None:
        self.window, self.position, self.reads_left = window, 0, MOST_READS
        self.near = window.read(0, NEAR_BYTES)  # nearly every read falls in here

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        if whence:
            offset += self.position if whence == io.SEEK_CUR else self.window.length
        self.position = offset if offset > 0 else 0
        return self.position

    def tell(self) -> int:
        return self.position

    def read(self, count: int = -1) -> bytes:
        self.reads_left -= 1
        if self.reads_left < 0:
            if self.reads_left < -MOST_READS_PAST_END:
                raise EOFError
            return b""
        start = self.position
        if count < 0:
            count = self.window.length
        if start + count <= len(self.near):
            block = self.near[start : start + count]
        else:
            block = self.window.read(start, count)
        self.position = start + len(block)
        return block


class Tags(Mapping[str, Any]):
    """ExifRead's tags by their full names, with strict ways to take a value out."""

    def __init__(self, found: Mapping[str, Any] | None = None) -> None:
        self.found = dict(found or {})

    def __getitem__(self, name: str) -> Any:
        return self.found[name]

    def __iter__(self):
        return iter(self.found)

    def __len__(self) -> int:
        return len(self.found)

    def place(self, name: str) -> str | None:
        """Return the full name; some programs file Exif tags in the first directory."""
        return next(
            (full for full in (f"EXIF {name}", f"Image {name}") if full in self.found), None
        )

    def values(self, name: str) -> list[Any]:  # type: ignore[override]
        full = self.place(name)
        if full is None:
            return []
        values = self.found[full]
        return list(values) if isinstance(values, list | tuple) else [values]

    def number(self, name: str, index: int = 0) -> float | None:
        """A finite number or None; a fraction over nought is None."""
        values = self.values(name)
        return finite(values[index]) if index < len(values) else None

    def whole(self, name: str) -> int | None:
        value = self.number(name)
        return int(value) if value is not None and value == int(value) else None

    def is_infinite(self, name: str) -> bool:
        value = next(iter(self.values(name)), None)
        return isinstance(value, Fraction) and value.numerator >= INFINITE

    def text(self, name: str) -> str | None:
        value = next(iter(self.values(name)), None)
        if isinstance(value, bytes):
            value = value.decode("utf-8", "replace")
        if not isinstance(value, str):
            return None
        value = "".join(c for c in value.split("\x00", 1)[0] if c.isprintable()).strip()
        return value or None


def finite(value: Any) -> float | None:
    if isinstance(value, tuple) and len(value) == 1:  # ExifRead wraps floats
        (value,) = value
    if isinstance(value, Fraction):
        if value.denominator == 0:
            return None
        value = value.numerator / value.denominator
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return None
    return value


def standard_tags(window: Window) -> dict[str, Any]:
    """Return full tag name -> value (a list, or text); empty where nothing can be read."""
    try:
        stream: Any = CagedStream(window)
        found = exifread.process_file(stream, details=False, extract_thumbnail=False)
    except Exception:  # it raises anything: AssertionError, IndexError, UnicodeDecodeError ...
        return {}
    return {
        name: tag.values
        for name, tag in found.items()
        if not name.startswith("Thumbnail")
        and getattr(tag, "field_type", NO_NUMBERS[0]) not in NO_NUMBERS
    }
