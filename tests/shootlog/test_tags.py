"""Strict parsing: every value a damaged, half-written or odd file can hold, one by one.

Meanings: CIPA DC-008 (Exif 3.0), 4.6; traps: seen in the real files beside the project (README
there) and listed in the house's notes on Exif.
"""

import io
import json
import math
import struct

import pytest

from shootlog.intake.facts import moment
from shootlog.intake.tags import Unreadable, read_recorded, read_recorded_from
from tests.shootlog import exif_blocks as x


def read(entries, **more):
    return read_recorded_from(io.BytesIO(x.jpeg(entries, **more)), "frame.jpg")


INFINITE = 0xFFFFFFFF


@pytest.mark.parametrize(
    ("tag", "value", "field", "expected"),
    [
        # x/0, 0/0
        (x.F_NUMBER, (x.RATIONAL, [(8, 0)]), "f_number", None),
        (x.F_NUMBER, (x.RATIONAL, [(0, 0)]), "f_number", None),
        (x.EXPOSURE, (x.RATIONAL, [(1, 0)]), "exposure_s", None),
        (x.FOCAL, (x.RATIONAL, [(0, 0)]), "focal_length_mm", None),
        (x.DISTANCE, (x.RATIONAL, [(0, 0)]), "subject_distance_m", None),
        # nought means "not known", "no lens chip", "not used"
        (x.F_NUMBER, (x.RATIONAL, [(0, 1)]), "f_number", None),
        (x.APERTURE, (x.RATIONAL, [(0, 1)]), "f_number", None),
        (x.EXPOSURE, (x.RATIONAL, [(0, 1)]), "exposure_s", None),
        (x.DISTANCE, (x.RATIONAL, [(0, 1)]), "subject_distance_m", None),
        (x.FOCAL_35, (x.SHORT, [0]), "focal_length_35mm", None),
        (x.ZOOM, (x.RATIONAL, [(0, 100)]), "digital_zoom_ratio", 1.0),
        (x.ZOOM, (x.RATIONAL, [(0, 0)]), "digital_zoom_ratio", None),
        (x.WIDTH, (x.SHORT, [0]), "recorded_width_px", None),
        # infinity
        (x.DISTANCE, (x.RATIONAL, [(INFINITE, 1)]), "subject_distance_m", None),
        (x.DISTANCE, (x.RATIONAL, [(INFINITE, 1000)]), "subject_distance_m", None),
        # a maker's own signs and absurd numbers
        (x.F_NUMBER, (x.RATIONAL, [(INFINITE, 1)]), "f_number", None),
        (x.EXPOSURE, (x.RATIONAL, [(INFINITE, 1)]), "exposure_s", None),
        (x.EXPOSURE, (x.SRATIONAL, [(-1, 60)]), "exposure_s", None),
        (x.BIAS, (x.SRATIONAL, [(-2000, 1)]), "exposure_bias_ev", None),
        (x.BIAS, (x.SRATIONAL, [(-2, 3)]), "exposure_bias_ev", -2 / 3),
        (x.FOCAL, (x.RATIONAL, [(5_000_000, 1)]), "focal_length_mm", None),
        # ISO: a list, a ceiling, a number in another tag
        (x.ISO, (x.SHORT, [200, 0]), "iso", 200),
        (x.ISO, (x.SHORT, [0, 200]), "iso", 200),
        (x.ISO, (x.SHORT, [0]), "iso", None),
        (x.ISO, (x.SHORT, [65535]), "iso", None),
        (x.ISO_SPEED, (x.LONG, [102_400]), "iso", 102_400),
        # orientation: 1 to 8
        (x.ORIENTATION, (x.SHORT, [6]), "orientation", 6),
        (x.ORIENTATION, (x.SHORT, [0]), "orientation", None),
        (x.ORIENTATION, (x.SHORT, [9]), "orientation", None),
        (x.ORIENTATION, (x.SHORT, [36865]), "orientation", None),
        # text: what follows a NUL is another field's; blanks are nothing; bytes never raise
        (x.MODEL, (x.ASCII, b"Nokia\x002003:08:22\x00"), "model", "Nokia"),
        (x.MODEL, (x.ASCII, b"E-M10   \x00\x00\x00"), "model", "E-M10"),
        (x.MODEL, (x.ASCII, b"\x00\x00\x00\x00\x00"), "model", None),
        (x.MAKE, (x.ASCII, b"SONY\xff\x00"), "make", "SONY\ufffd"),
        (x.MODEL, (x.ASCII, b"a\x1bb\x07c\x00"), "model", "abc"),
        (x.LENS_NAME, (x.ASCII, b"----\x00"), "lens", None),
        (x.LENS_NAME, (x.ASCII, b"65535\x00"), "lens", None),
        (x.LENS_NAME, (x.ASCII, b"0.0 mm f/0.0\x00"), "lens", "0.0 mm f/0.0"),
        # dates
        (x.TAKEN, (x.ASCII, b"0000:00:00 00:00:00\x00"), "taken_at", None),
        (x.TAKEN, (x.ASCII, b"    :  :     :  :  \x00"), "taken_at", None),
        (x.TAKEN, (x.ASCII, b"2026:13:03 09:10:00\x00"), "taken_at", None),
        (x.TAKEN, (x.ASCII, b"2026:05:03 24:10:00\x00"), "taken_at", None),
        (x.TAKEN, (x.ASCII, b"2026:05:03 09:10:00\x00"), "taken_at", "2026-05-03T09:10:00"),
        (x.TAKEN, (x.ASCII, b"2026-05-03T09:10:00Z\x00"), "taken_at", "2026-05-03T09:10:00"),
        (x.OFFSET, (x.ASCII, b"+02:00\x00"), "utc_offset", "+02:00"),
        (x.OFFSET, (x.ASCII, b"   :  \x00"), "utc_offset", None),
        (x.SUBSEC, (x.ASCII, b"07 \x00"), "taken_subsec_s", 0.07),
        (x.SUBSEC, (x.ASCII, b"\xb2\xb3\x00"), "taken_subsec_s", None),
        # words
        (x.FLASH, (x.SHORT, [0x19]), "flash_fired", True),
        (x.FLASH, (x.SHORT, [0x10]), "flash_fired", False),
        (x.FLASH, (x.SHORT, [0xFFFF]), "flash_fired", None),
        (x.MODE, (x.SHORT, [2]), "exposure_mode", "bracket"),
        (x.MODE, (x.SHORT, [7]), "exposure_mode", None),
        (x.PROGRAM, (x.SHORT, [1]), "exposure_mode", "manual"),
        (x.PROGRAM, (x.SHORT, [3]), "exposure_mode", "auto"),
        (x.PROGRAM, (x.SHORT, [0]), "exposure_mode", None),
        (x.COMPOSITE, (x.SHORT, [0]), "composite", None),
        (x.COMPOSITE, (x.SHORT, [1]), "composite", "no"),
        (x.COMPOSITE, (x.SHORT, [3]), "composite", "while shooting"),
        # a type that does not belong to the tag
        (x.F_NUMBER, (x.ASCII, b"f/8\x00\x00\x00"), "f_number", None),
        (x.EXPOSURE, (x.UNDEFINED, b"\x01\x02\x03\x04"), "exposure_s", None),
    ],
)
def test_one_tag(tag, value, field, expected):
    for order in "<>":
        found = getattr(read({tag: value}, order=order), field)
        if isinstance(expected, float):
            assert found == pytest.approx(expected)
        else:
            assert found == expected


def test_infinity_is_said_by_its_origin():
    recorded = read({x.DISTANCE: (x.RATIONAL, [(INFINITE, 1)])})
    assert recorded.subject_distance_m is None
    assert "infinity" in recorded.origins["subject_distance_m"]


def test_apex_stands_in_for_missing_plain_values():
    recorded = read({x.APERTURE: (x.RATIONAL, [(6, 1)]), x.SPEED: (x.SRATIONAL, [(6, 1)])})
    assert recorded.f_number == pytest.approx(8.0)  # 2 ** (6 / 2)
    assert recorded.exposure_s == pytest.approx(1 / 64)  # 2 ** -6
    assert recorded.origins["f_number"] == "EXIF ApertureValue (APEX)"


def test_a_high_iso_is_found_in_the_tag_for_high_ones():
    recorded = read({x.ISO: (x.SHORT, [65535]), x.ISO_SPEED: (x.LONG, [204_800])})
    assert (recorded.iso, recorded.origins["iso"]) == (204_800, "EXIF ISOSpeed")


@pytest.mark.parametrize(
    ("unit", "per_unit", "pitch_um"),
    [(2, 5000.0, 25400 / 5000), (3, 2000.0, 10_000 / 2000), (None, 5000.0, 25400 / 5000)],
)
def test_pixel_pitch_of_the_focal_plane_tag(unit, per_unit, pitch_um):
    entries = {
        x.PLANE: (x.RATIONAL, [(int(per_unit * 1000), 1000)]),
        x.WIDTH: (x.LONG, [4000]),
    }
    if unit:
        entries[x.PLANE_UNIT] = (x.SHORT, [unit])
    recorded = read(entries)
    assert recorded.focal_plane_pitch_um == pytest.approx(pitch_um)
    assert recorded.focal_plane_width_mm == pytest.approx(pitch_um * 4)


@pytest.mark.parametrize(("number", "unit"), [((0, 1), 2), ((1, 0), 2), ((1, INFINITE), 3)])
def test_a_focal_plane_tag_that_means_nothing(number, unit):
    recorded = read({x.PLANE: (x.RATIONAL, [number]), x.PLANE_UNIT: (x.SHORT, [unit])})
    assert recorded.focal_plane_pitch_um is None


def test_a_lens_that_does_not_know_its_openings():
    recorded = read({x.LENS_RANGE: (x.RATIONAL, [(90, 1), (90, 1), (0, 0), (0, 0)])})
    assert recorded.lens_shortest_mm == 90
    assert recorded.lens_largest_f_number is None


@pytest.mark.parametrize("wrap", [x.jpeg, x.png, x.webp], ids=["jpeg", "png", "webp"])
@pytest.mark.parametrize("order", ["<", ">"])
def test_the_same_block_in_every_container(wrap, order):
    block = x.tiff({x.F_NUMBER: (x.RATIONAL, [(56, 10)]), x.MAKE: (x.ASCII, "Maker")}, order)
    content = wrap(block=block) if wrap is x.jpeg else wrap(block)
    recorded = read_recorded_from(io.BytesIO(content), "frame")
    assert (recorded.f_number, recorded.make) == (5.6, "Maker")
    assert (recorded.width_px, recorded.height_px) == (60, 40)


def test_a_file_without_any_tag_is_known_by_that():
    recorded = read_recorded_from(io.BytesIO(x.jpeg(block=b"")), "frame.jpg")
    assert recorded.has_exif is False
    assert recorded.width_px == 60
    assert recorded.origins == {}


@pytest.mark.parametrize(
    ("xmp", "edited"),
    [
        (b"<x:xmpmeta><xmp:Rating>3</xmp:Rating></x:xmpmeta>", False),
        (b"<x:xmpmeta><xmpMM:History><rdf:Seq/></xmpMM:History></x:xmpmeta>", True),
        (b'<x:xmpmeta><rdf:li stEvt:action="saved"/></x:xmpmeta>', True),
        (b'<x:xmpmeta><xmpMM:DerivedFrom rdf:parseType="Resource"/></x:xmpmeta>', True),
    ],
)
def test_edit_history_in_xmp(xmp, edited):
    assert read({}, xmp=xmp).edit_history is edited


def test_every_value_has_its_tag_and_survives_json():
    recorded = read(
        {
            x.MAKE: (x.ASCII, "Maker"),
            x.F_NUMBER: (x.RATIONAL, [(8, 1)]),
            x.ISO: (x.SHORT, [400]),
            x.TAKEN: (x.ASCII, "2026:05:03 09:10:00"),
        }
    )
    values = json.loads(json.dumps(recorded.as_json(), allow_nan=False))
    assert values["origins"] == {
        "make": "Image Make",
        "f_number": "EXIF FNumber",
        "iso": "EXIF ISOSpeedRatings",
        "taken_at": "EXIF DateTimeOriginal",
    }
    assert type(recorded).from_json(values) == recorded


# --- what is no facts at all ---


@pytest.mark.parametrize(
    ("content", "word"),
    [
        (b"", "empty"),
        (b"\xff\xd8\xff", "missing"),
        (b"\xff\xd8\xff\xe1\xff\xff", "missing"),
        (b"\x89PNG\r\n\x1a\n", "missing"),
        (b"RIFF\x00\x00\x00\x00WEBP", "missing"),
        (b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic", "missing"),
        (b"\x00\x00\x00\x18ftypcrx \x00\x00\x00\x01crx isom", "missing"),
        (b"FUJIFILMCCD-RAW", "missing"),
        (b"\x00MRM", "missing"),
        (b"II\x1a\x00\x00\x00HEAPCCDR", "missing"),
        (b"hello, I am a text", "not a picture file"),
        (b"\x00" * 100, "not a picture file"),
    ],
)
def test_words_for_what_holds_nothing(content, word):
    with pytest.raises(Unreadable, match=word) as told:
        read_recorded_from(io.BytesIO(content), "DSC_0001.JPG")
    assert str(told.value).startswith("DSC_0001.JPG ")
    assert "Send" in str(told.value)


def test_a_missing_file_gets_words_too(tmp_path):
    with pytest.raises(Unreadable, match=r"nowhere\.jpg cannot be opened"):
        read_recorded(tmp_path / "nowhere.jpg")
    with pytest.raises(Unreadable, match="cannot be opened"):
        read_recorded(tmp_path)


def test_a_huge_file_is_read_as_quickly_as_a_small_one(tmp_path):
    path = tmp_path / "huge.jpg"
    with path.open("wb") as file:
        file.write(x.jpeg({x.ISO: (x.SHORT, [100])}))
        file.truncate(3 << 30)  # three gigabytes, none of them on the disk

    class Counting(io.FileIO):
        taken = 0

        def read(self, count=-1):
            block = super().read(count)
            Counting.taken += len(block)
            return block

    with Counting(path) as file:
        assert read_recorded_from(file, "huge.jpg").iso == 100
    assert Counting.taken < 200_000


def test_a_directory_that_points_at_itself_ends():
    block = bytearray(x.tiff({x.ISO: (x.SHORT, [100])}))
    (entries,) = struct.unpack_from("<H", block, 8)
    struct.pack_into("<I", block, 8 + 2 + 12 * entries, 8)  # the next directory is this one
    assert read_recorded_from(io.BytesIO(x.jpeg(block=bytes(block))), "a.jpg").iso == 100


def test_a_count_of_four_billion_reads_nothing_it_does_not_have():
    block = bytearray(
        x.tiff({x.NOTE: (x.UNDEFINED, b"Canon note " * 4), x.MAKE: (x.ASCII, "Canon")})
    )
    at = block.index(struct.pack("<HH", x.NOTE, x.UNDEFINED))
    struct.pack_into("<I", block, at + 4, INFINITE)
    recorded = read_recorded_from(io.BytesIO(x.jpeg(block=bytes(block))), "a.jpg")
    assert recorded.make == "Canon"


@pytest.mark.parametrize("text", ["", None, "yesterday", "2026:02:30 00:00:00", "9" * 300])
def test_no_moment(text):
    assert moment(text) is None


def test_nan_and_infinite_floats_are_unknown():
    for value in (math.nan, math.inf, -math.inf):
        block = x.tiff({x.F_NUMBER: (x.UNDEFINED, struct.pack("<d", value))})
        block = block.replace(
            struct.pack("<HHI", x.F_NUMBER, x.UNDEFINED, 8), struct.pack("<HHI", x.F_NUMBER, 12, 1)
        )
        recorded = read_recorded_from(io.BytesIO(x.jpeg(block=block)), "a.jpg")
        assert recorded.f_number is None
