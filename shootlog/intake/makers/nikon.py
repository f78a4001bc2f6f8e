"""Nikon: lens data tells the largest opening as it is at this focus, so the habit shows itself.

Bodies with chipped lenses write the effective f-number (manual of the 40 mm f/2.8G, p. 17: "shows
the adjusted value for aperture"); some lenses of other makers report the marked one. The lens data
holds the largest opening the lens is built with and the largest it has now: where focus alone has
made the second smaller, the recorded f-number is effective and their ratio is the loss itself.
Layout as known from open readers; from version 0201 it is scrambled with the serial number and the
shutter count.
"""

from __future__ import annotations

import base64
import math
import struct
from dataclasses import dataclass
from typing import Any

from shootlog.intake.ifd import Directory, byte_order, directory
from shootlog.intake.makers import Found, Note

MAKES = ("NIKON",)

FOCUS_MODE, SERIAL, VIBRATION, SHUTTER, LENS_DATA, SHUTTER_COUNT = 7, 0x1D, 0x1F, 0x34, 0x98, 0xA7
ISO, LENS_RANGE = 0x02, 0x84
SHUTTERS = {
    0: "mechanical",
    16: "electronic",
    48: "electronic first curtain",
    80: "mechanical",
    81: "electronic first curtain",
    96: "electronic",
}
# Where the distance lies; the focal length, shortest and longest follow from the next two.
DISTANCE = {"0101": 9, "0201": 9, "0202": 9, "0203": 9, "0204": 10}
DISTANCE |= {"0800": 11, "0801": 11, "0802": 11}
SCRAMBLED_FROM = 4
Z_VERSIONS = ("0800", "0801", "0802")
Z_MOUNT, Z_STEPS, Z_DISTANCE = 0x35, 0x4C, 0x4E
ONE_STEP = 2 ** (1.5 / 24)  # openings are coded in 24ths: one code more is rounding
SHOWS = 1.15  # a loss this large would show in the code, were it reported
MANY_SERIALS = 0x60  # the key of bodies whose serial number is no number

KEY_BY_SERIAL = base64.b64decode(
    "wb9tDVnFE52DYWtPx389PVNZ48fpL5WnlR/ffyspxw3fB+9xiT0TPTsT+w2JwWUfsw1rKeP776NrR3+VNadHT8fxWZU1"
    "ESlh8T2zKw1DicGdnYll8enfvz1/U5fl6ZUXHT2L+8fjZ6cH8XGnU7UpieUrpxcp6U/FZW1r7w2JSS+zQ1NlHUmjE4lZ"
    "72vvZR0LWRPjT52zKUMrBx2VWVlH++XpYUcvNX8Xf+9/lZVx06MLcaOtCzu1+6O/T4MdrekvcWWj5Qc1PQ216eVHO53v"
    "NaO/s99T05dTSXEHNWFxL0MvEd8Xl/uVO39r0yW/rcfFxbWL7y/TB2slSZUlSW1xxw=="
)
KEY_BY_COUNT = base64.b64decode(
    "p7zJrZHfheXUeNUXRnwpTE0D6SVoEYazvfdvYSKiJjQqvh5GFGidRBjCQPR+XxutC5S2Z7QL4eqVnGbc511sBdrV33rv"
    "9tsfgkzAaEehve45UFZK3d+l+MbaypDKAUKdiwxzQ3UFlN4ks4A05Szcmz/KM0XQ21/1UsMh2uIicms+0Fuoh4wGXQ/d"
    "CRmT0Ln8iw+EYDMcm0Xx8KOUOhJ3M01EeCg8nv1lVxaUa/tZ0MgiNtvSY5hDoQSHhvemJrvWWU2/ai6qK+/meLZO4C/c"
    "fL5XGTJ+KtC4uikAPFJ9qEk7LeslSfqjqjmnxadQETb7xmdK9aUSZX6w369Os2F/Lw=="
)


@dataclass(frozen=True)
class LensData:
    """What the lens said: lengths in mm and m, openings as f-numbers; nought is None."""

    distance_m: float | None
    focal_mm: float
    shortest_mm: float
    longest_mm: float
    opening_at_shortest: float
    opening_at_longest: float
    opening_now: float

    @property
    def opening_built(self) -> float:
        """The largest opening at this focal length, as built and focused far away."""
        if abs(self.focal_mm / self.longest_mm - 1) < 0.03:
            return self.opening_at_longest
        if abs(self.focal_mm / self.shortest_mm - 1) < 0.03:
            return self.opening_at_shortest
        return max(self.opening_at_shortest, self.opening_at_longest)

    @property
    def is_sane(self) -> bool:
        """A wrong key gives noise; noise does not fit together."""
        openings = (self.opening_at_shortest, self.opening_at_longest)
        return (
            3 <= self.shortest_mm <= self.focal_mm * 1.06 <= self.longest_mm * 1.12 <= 3000
            and all(0.9 <= opening <= 12 for opening in openings)
            and min(openings) * 0.94 <= self.opening_now <= max(openings) * 4
        )


def read(note: Note) -> Found:
    entries = _entries(note)
    found: Found = {}
    mode = entries[FOCUS_MODE].text().upper() if FOCUS_MODE in entries else ""
    if mode.startswith("MANUAL"):
        found["focus_mode"] = ("manual", "MakerNote FocusMode")
    elif mode.startswith("AF"):
        found["focus_mode"] = ("auto", "MakerNote FocusMode")
    if VIBRATION in entries:
        state = {1: "on", 2: "off"}.get((entries[VIBRATION].raw(8) + bytes(8))[4])
        found["stabiliser"] = (state, "MakerNote VRInfo")
    if SHUTTER in entries:
        shutter = SHUTTERS.get(entries[SHUTTER].number())  # type: ignore[arg-type]
        found["shutter_type"] = (shutter, "MakerNote ShutterMode")
    serial = entries[SERIAL].text() if SERIAL in entries else ""
    if serial:
        found["body_serial"] = (serial, "MakerNote SerialNumber")
    if ISO in entries and "iso" not in note.facts:
        iso = entries[ISO].number(1)  # the oldest bodies write it nowhere else
        found["iso"] = (iso or None, "MakerNote ISO")
    found |= _lens_range(note, entries)
    lens = lens_data(entries, serial)
    if lens is not None:
        found |= _from_lens(lens)
    else:
        distance = z_lens_distance_m(entries, serial)
        found["maker_focus_distance_m"] = (distance, "MakerNote LensData FocusDistance")
    return found


def habit(facts: dict[str, Any]) -> Found:
    """Nikon's own chipped lenses report the effective value; others do as they like."""
    if not str(facts.get("lens")).upper().startswith("NIKKOR"):
        return {}
    tag = "EXIF LensModel (the maker's own lenses report the effective f-number)"
    return {"f_number_habit": ("effective", tag)}


def _lens_range(note: Note, entries: Directory) -> Found:
    numbers = entries[LENS_RANGE].numbers() if LENS_RANGE in entries else []
    if len(numbers) != 4 or not all(n is not None and n > 0 for n in numbers):
        return {}
    short, long, *openings = (float(n) for n in numbers if n is not None)
    tag = "MakerNote Lens"
    found: Found = {
        "lens_shortest_mm": (short, tag),
        "lens_longest_mm": (long, tag),
        "lens_largest_f_number": (min(openings), tag),
    }
    if "lens" not in note.facts:
        lengths = "-".join(f"{n:g}" for n in dict.fromkeys((short, long)))
        stops = "-".join(f"{n:g}" for n in dict.fromkeys(openings))
        found["lens"] = (f"{lengths} mm f/{stops}", tag)
    return found


def _entries(note: Note) -> Directory:
    """Three layouts: a TIFF block of its own, the first compacts' directory, a bare directory."""
    head = note.head
    if head.startswith(b"Nikon\x00\x02"):
        block = note.window.part(note.at + 10, note.size - 10)
        start = block.read(0, 8)
        order = byte_order(start)
        if order is None:
            return {}
        return directory(block, struct.unpack(order + "I", start[4:])[0], order)
    if head.startswith(b"Nikon\x00\x01"):
        return {}  # its tags mean other things and none of ours
    return note.entries()


def lens_data(entries: Directory, serial: str) -> LensData | None:
    version, block = _plain_block(entries, serial)
    place = DISTANCE.get(version)
    if place is None or len(block) < place + 10 or not any(block[place : place + 10]):
        return None
    lens = LensData(
        distance_m=0.01 * 10 ** (block[place] / 40) if block[place] else None,
        focal_mm=_mm(block[place + 1]),
        shortest_mm=_mm(block[place + 4]),
        longest_mm=_mm(block[place + 5]),
        opening_at_shortest=_f_number(block[place + 6]),
        opening_at_longest=_f_number(block[place + 7]),
        opening_now=_f_number(block[place + 9]),
    )
    return lens if lens.is_sane else None


def z_lens_distance_m(entries: Directory, serial: str) -> float | None:
    """Return where a lens of the Z mount is focused; it has a block of its own behind the old one.

    The layout is an open reader's; of real files only one focused far away was at hand.
    """
    version, block = _plain_block(entries, serial)
    if version not in Z_VERSIONS or len(block) < Z_DISTANCE + 2 or block[Z_MOUNT] != 1:
        return None
    if not block[Z_STEPS]:  # no step between here and infinity
        return None
    code = int.from_bytes(block[Z_DISTANCE : Z_DISTANCE + 2], "little") / 256
    return 0.01 * 10 ** (code / 40)


def _plain_block(entries: Directory, serial: str) -> tuple[str, bytes]:
    """Return the lens data's version and its bytes in plain; nothing where a key is missing."""
    block = entries[LENS_DATA].raw(1024) if LENS_DATA in entries else b""
    version = block[:4].decode("ascii", "replace")
    if version < "0201":
        return version, block
    count = entries[SHUTTER_COUNT].number() if SHUTTER_COUNT in entries else None
    if not isinstance(count, int):
        return version, b""
    return version, block[:SCRAMBLED_FROM] + unscrambled(block[SCRAMBLED_FROM:], serial, count)


def unscrambled(block: bytes, serial: str, count: int) -> bytes:
    """Undo the running exclusive-or whose start depends on the serial number and the count."""
    number = int(serial) if serial.isascii() and serial.isdigit() else MANY_SERIALS
    step = KEY_BY_SERIAL[number & 0xFF]
    key = 0
    for shift in (0, 8, 16, 24):
        key ^= count >> shift & 0xFF
    running, turn = KEY_BY_COUNT[key], 0x60
    plain = bytearray()
    for byte in block:
        running = (running + step * turn) & 0xFF
        turn = (turn + 1) & 0xFF
        plain.append(byte ^ running)
    return bytes(plain)


def _from_lens(lens: LensData) -> Found:
    found: Found = {
        "maker_focus_distance_m": (lens.distance_m, "MakerNote LensData FocusDistance"),
    }
    loss = lens.opening_now / lens.opening_built
    if loss > ONE_STEP:
        tag = "MakerNote LensData EffectiveMaxAperture over MaxAperture"
        found["f_number_habit"] = ("effective", tag)
        found["effective_aperture_ratio"] = (loss, tag)
    elif _expected_loss(lens) > SHOWS:
        tag = "MakerNote LensData EffectiveMaxAperture (does not follow the focus)"
        found["f_number_habit"] = ("marked", tag)
    return found


def _expected_loss(lens: LensData) -> float:
    """Return 1 + m of a thin lens at the recorded distance, read on the far side (it is coarse)."""
    if lens.distance_m is None:
        return 1.0
    ratio = lens.distance_m * 1000 * 1.25 / lens.focal_mm
    if ratio <= 4:
        return 2.0
    return 1 + (ratio - 2 - math.sqrt((ratio - 2) ** 2 - 4)) / 2


def _mm(code: int) -> float:
    return 5 * 2 ** (code / 24)


def _f_number(code: int) -> float:
    return 2 ** (code / 24)
