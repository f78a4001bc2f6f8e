"""Reading what the camera wrote, against the reader it stands on and against decoding the frame."""

import functools
import io
import struct
import tempfile
from pathlib import Path

import exifread
from PIL import ExifTags, Image

from config.measuring import paired
from shootlog.findings import examine
from shootlog.intake.tags import read_recorded
from shootlog.set_up import SetUp
from shootlog.work_out import work_out

SIDES = (6000, 4000)
NOTE_ENTRIES, OTHER_TAGS = 60, 40  # as many as ordinary cameras write


def facts():
    """Facts of one 24 MP JPEG, maker's note included, against ExifRead reading the same file."""
    path = frame()
    return paired(lambda: exif(path), lambda: read_recorded(path), n=31) | {
        "against": "ExifRead on the same file, maker's note included",
    }


def facts_plain():
    """The same against ExifRead without the maker's note, which we still read."""
    path = frame()
    return paired(lambda: exif(path, details=False), lambda: read_recorded(path), n=31) | {
        "against": "ExifRead on the same file, without the maker's note",
    }


def facts_and_flags():
    """Facts, reading, findings and the flags among them, against ExifRead on the same file."""
    path = frame()
    set_up = SetUp(ring_magnification=0.5, records_f_number="marked", support="hand")

    def flags():
        reading = work_out(read_recorded(path), set_up, subject_depth_mm=4.0)
        return [outcome for outcome in examine(reading) if outcome.answer == "yes"]

    return paired(lambda: exif(path), flags, n=31) | {
        "against": "ExifRead on the same file, maker's note included",
        "goal": 2.0,
    }


def facts_of_decode():
    path = frame()
    content = path.read_bytes()
    found = paired(
        lambda: Image.open(io.BytesIO(content)).load(), lambda: read_recorded(path), n=15
    )
    return found | {"against": "one bare RGB decode of the frame by Pillow", "goal": 0.02}


def facts_of_size():
    """A file ten times as large must cost the same: only its head is read."""
    small, large = frame(), longer(frame(), 10)
    found = paired(lambda: read_recorded(small), lambda: read_recorded(large), n=31)
    return found | {"against": "a tenth of the file size", "goal": 1.2}


def exif(path, **how):
    with path.open("rb") as file:
        return exifread.process_file(file, **how)


@functools.cache
def frame():
    """Make a 24 MP JPEG with noise in it, sixty tags and a maker's note of sixty entries."""
    noise = Image.effect_noise((1500, 1000), 60).resize(SIDES, Image.Resampling.BILINEAR)
    block = Image.Exif()
    block[ExifTags.Base.Make], block[ExifTags.Base.Model] = "FUJIFILM", "X-T3"
    block[ExifTags.Base.Orientation] = 1
    inner = block.get_ifd(ExifTags.IFD.Exif)
    inner |= dict.fromkeys(range(42240, 42240 + OTHER_TAGS), 1)
    inner |= {
        ExifTags.Base.FNumber: (8, 1),
        ExifTags.Base.ExposureTime: (1, 125),
        ExifTags.Base.ISOSpeedRatings: 200,
        ExifTags.Base.FocalLength: (80, 1),
        ExifTags.Base.FocalLengthIn35mmFilm: 120,
        ExifTags.Base.DateTimeOriginal: "2026:05:03 09:10:00",
        ExifTags.Base.LensModel: "80 mm f/2.8 macro",
        ExifTags.Base.ExifImageWidth: SIDES[0],
        ExifTags.Base.ExifImageHeight: SIDES[1],
        ExifTags.Base.MakerNote: note(),
    }
    path = Path(tempfile.mkdtemp(prefix="bench-")) / "frame.jpg"
    noise.convert("RGB").save(path, quality=92, exif=block)
    return path


def note():
    """A note in the layout whose offsets count from its own start, so that it may lie anywhere."""
    rows, values = b"", b""
    values_at = 12 + 2 + 12 * NOTE_ENTRIES + 4
    for tag in range(NOTE_ENTRIES):
        at = values_at + len(values)
        rows += struct.pack("<HHII", 0x1020 + tag, 3, 8, at)
        values += struct.pack("<8H", *range(8))
    count = struct.pack("<H", NOTE_ENTRIES)
    return b"FUJIFILM" + struct.pack("<I", 12) + count + rows + b"\0" * 4 + values


def longer(path, times):
    copy = path.with_name("longer.jpg")
    with copy.open("wb") as file:
        file.write(path.read_bytes())
        file.truncate(path.stat().st_size * times)
    return copy


BENCHES = {
    "facts": facts,
    "facts-and-flags": facts_and_flags,
    "facts-plain": facts_plain,
    "facts-of-decode": facts_of_decode,
    "facts-of-size": facts_of_size,
}
