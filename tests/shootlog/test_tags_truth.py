"""Every real file beside the project, compared with what an independent reader says of it.

Truth: `truth.json`, ExifTool 12.57 (`-n -j`) over 468 files gathered from open test collections.
Each difference is either none, or of a kind listed in `REASONS`, or one file named in `KNOWN`.
"""

import json
import time
from pathlib import Path

import pytest

from shootlog.intake.sniff import PICTURE_TYPES, sniff
from shootlog.intake.tags import Unreadable, read_recorded

FRAMES = Path(__file__).parents[2] / ".." / "shared" / "frames"
pytestmark = pytest.mark.skipif(
    not FRAMES.is_dir(), reason="real frames (../shared/frames) are not beside this clone"
)
MOST_SECONDS = 2.0  # the slowest took 0.1 s on a busy two-core machine

FIELDS = {
    "f_number": "FNumber",
    "exposure_s": "ExposureTime",
    "iso": "ISO",
    "focal_length_mm": "FocalLength",
    "focal_length_35mm": "FocalLengthIn35mmFormat",
    "subject_distance_m": "SubjectDistance",
    "exposure_bias_ev": "ExposureCompensation",
    "digital_zoom_ratio": "DigitalZoomRatio",
    "make": "Make",
    "model": "Model",
    "lens": "LensModel",
    "software": "Software",
    "taken_at": "DateTimeOriginal",
    "orientation": "Orientation",
    "width_px": "ImageWidth",
    "height_px": "ImageHeight",
    "recorded_width_px": "ExifImageWidth",
    "recorded_height_px": "ExifImageHeight",
}

#: field -> why a difference is right. Each takes (path, ours, truth).
REASONS = {
    # 0 means "not used", which is a ratio of one.
    "digital_zoom_ratio": lambda path, ours, truth: ours == 1.0 and truth == 0,
    # A list: the first number above nought. Pentax notes hold a code the reader prefers. 65535
    # and 0 say nothing. Where Exif has none, the reader computes one from the maker's note.
    "iso": lambda path, ours, truth: (
        str(ours) in str(truth).split()
        or (isinstance(truth, int | float) and truth < 25)
        or str(truth) in ("0", "0 200", "0 400")
        or (ours is None and not has_tag(path, b"\x88\x27"))
    ),
    # 0, x/0 and 4294967295 are "unknown" and "infinity".
    "subject_distance_m": lambda path, ours, truth: (
        ours is None and truth in (0, "undef", 4294967295)
    ),
    # APEX stands in where the plain tag is missing.
    "exposure_s": lambda path, ours, truth: truth is None and ours is not None,
    "f_number": lambda path, ours, truth: truth is None and ours is not None,
    # From the maker's note, where Exif itself has none; blanks and dashes are no lens.
    "lens": lambda path, ours, truth: truth in (None, "", "----"),
    "exposure_bias_ev": lambda path, ours, truth: str(truth).startswith(("+", "-")),
    # Text a PNG keeps outside its Exif; a number the reader made of the text "1.00".
    "software": lambda path, ours, truth: path.endswith(".png") or (ours, truth) == ("1.00", 1.0),
    "taken_at": lambda path, ours, truth: ours is None and "0000" in str(truth),
    # 0 is no pixel count.
    "recorded_width_px": lambda path, ours, truth: ours is None and truth == 0,
    "recorded_height_px": lambda path, ours, truth: ours is None and truth == 0,
}

#: (path, field) -> why
KNOWN = {
    ("macro/exiv2-bug443.jpg", "f_number"): "reader prefers the maker's note; Exif says 3.4",
    ("macro/exiv2-bug443.jpg", "exposure_s"): "reader prefers the maker's note; Exif says 1/500",
    ("macro/Kodak_DX4330.jpg", "exposure_s"): "reader prefers the maker's note; Exif says 1/45",
    ("macro/mushroom.jpg", "lens"): "only XMP has it; we read Exif",
    ("macro/Kodak_DX4330.jpg", "f_number"): "reader prefers the maker's note; Exif says 4.8",
    ("camera/Kodak.jpg", "exposure_s"): "reader prefers the maker's note; Exif says 1/180",
    ("camera/ExifTool.jpg", "exposure_s"): "a test file with two cameras' blocks in one",
    ("camera/ExifTool.jpg", "make"): "a test file with two cameras' blocks in one",
    ("camera/ExifTool.jpg", "model"): "a test file with two cameras' blocks in one",
    ("camera/ExifTool.jpg", "exposure_bias_ev"): "a test file with two cameras' blocks in one",
    ("camera/ExifTool.jpg", "taken_at"): "a test file with two cameras' blocks in one",
    ("mtf/real_edge_mtf50_0p29.jpg", "taken_at"): "only XMP has it; we read Exif",
    ("camera/Nikon_D5000.jpg", "orientation"): "only XMP has it; we read Exif",
    ("raw/FujiFilm.raf", "width_px"): "pixels pruned to 8; the size table still says 4256",
    ("raw/FujiFilm.raf", "height_px"): "pixels pruned to 8; the size table still says 1424",
    ("raw/SigmaDP2.x3f", "width_px"): "pixels pruned to 8; the header still says 2640",
    ("raw/SigmaDP2.x3f", "height_px"): "pixels pruned to 8; the header still says 1760",
    ("raw/FujiFilm.raf", "recorded_width_px"): "the inner JPEG's, not the picture's: dropped",
    ("raw/FujiFilm.raf", "recorded_height_px"): "the inner JPEG's, not the picture's: dropped",
    ("raw/Panasonic.rw2", "recorded_width_px"): "the inner JPEG's, not the picture's: dropped",
    ("raw/Panasonic.rw2", "recorded_height_px"): "the inner JPEG's, not the picture's: dropped",
    ("raw/SigmaDP2.x3f", "recorded_width_px"): "the inner JPEG's, not the picture's: dropped",
    ("raw/SigmaDP2.x3f", "recorded_height_px"): "the inner JPEG's, not the picture's: dropped",
}

with_truth = (
    json.loads((FRAMES / "truth.json").read_text("utf-8"))["files"] if FRAMES.is_dir() else {}
)
INTACT = sorted(path for path in with_truth if not path.startswith("corrupt"))


def has_tag(path, tag):
    head = (FRAMES / path).read_bytes()[: 128 * 1024]
    return tag + b"\x00\x03" in head or tag[::-1] + b"\x03\x00" in head


def same(ours, truth):
    if ours is None or truth is None:
        return ours is truth
    if isinstance(ours, int | float) and isinstance(truth, int | float):
        return abs(ours - truth) <= 0.005 * abs(truth) + 1e-12
    return str(ours) == str(truth).replace("\x00", "")


def as_moment(text):
    return text and f"{text[:10].replace(':', '-')}T{text[11:19]}"


def differences(path):
    truth = with_truth[path]
    recorded = read_recorded(FRAMES / path)
    for field, tag in FIELDS.items():
        ours, theirs = getattr(recorded, field), truth.get(tag)
        if field == "taken_at":
            theirs = as_moment(theirs)
        if same(ours, theirs) or (path, field) in KNOWN:
            continue
        if field in REASONS and REASONS[field](path, ours, theirs):
            continue
        yield f"{path}: {field} is {ours!r}, the reader says {theirs!r}"


def test_every_intact_file_says_what_the_independent_reader_says():
    found, read = [], 0
    for path in INTACT:
        if sniff((FRAMES / path).read_bytes()[: 64 * 1024]) is None:
            assert with_truth[path].get("FileType") in ("ZIP", None), path
            continue
        try:
            found += differences(path)
            read += 1
        except Unreadable:
            assert path.startswith("heic/"), path  # damaged on purpose
    assert found == []
    assert read >= 320


def test_the_traps_are_met_often_enough_to_mean_something():
    values = [with_truth[path] for path in INTACT]
    for field, least in (("FNumber", 150), ("ExposureTime", 150), ("ISO", 150), ("LensModel", 50)):
        assert sum(field in v for v in values) >= least


@pytest.mark.parametrize("path", sorted(with_truth))
def test_every_file_ends_in_facts_or_in_words_and_soon(path):
    begin = time.perf_counter()
    recorded, words = None, ""
    try:
        recorded = read_recorded(FRAMES / path)
    except Unreadable as trouble:
        words = str(trouble)
    assert time.perf_counter() - begin < MOST_SECONDS
    if recorded is None:
        assert Path(path).name in words
        assert "Send" in words
    else:
        assert recorded.file_type in PICTURE_TYPES
        json.dumps(recorded.as_json(), allow_nan=False)


def test_orientation_of_heic_is_what_the_file_stores_not_what_its_decoder_did():
    # Pillow hands out turned pixels and says 1; the file says 6.
    for path in ("heic/arrow.heic", "heic/iphone_13_pro_max.HEIC"):
        assert read_recorded(FRAMES / path).orientation == 6
    assert read_recorded(FRAMES / "heic/arrow.heic").container_turned == 6
    stored_upright = read_recorded(FRAMES / "heic/issue_9292_sony_6_right_top.HIF")
    assert stored_upright.orientation is None
    assert stored_upright.container_turned is None
    assert (stored_upright.width_px, stored_upright.height_px) == (4672, 7008)


def test_an_orientation_no_tag_holds_is_not_made_up():
    assert read_recorded(FRAMES / "orientation/f1t.jpg").orientation == 1
    assert read_recorded(FRAMES / "stacks/relief1/image_01.jpg").orientation is None


def test_a_position_is_known_of_but_not_kept():
    recorded = read_recorded(FRAMES / "heic/Stonehenge.heic")
    assert recorded.has_position is True
    assert "51.17" not in json.dumps(recorded.as_json())
    assert read_recorded(FRAMES / "camera/Canon.jpg").has_position is False


def test_a_composite_is_recognised():
    # index.csv: CompositeImage 2 on recent phones, 0 (not known) on Sony HEIF
    assert read_recorded(FRAMES / "heic/IMG_3578.heic").composite == "general"
    assert read_recorded(FRAMES / "heic/Sony.HIF").composite is None


def test_cr3_gives_its_whole_exif():
    recorded = read_recorded(FRAMES / "raw/Canon-R6-pruned.CR3")
    assert (recorded.f_number, recorded.lens) == (25.0, "RF70-200mm F2.8 L IS USM")
    assert recorded.has_maker_note
    assert recorded.origins["f_number"] == "EXIF FNumber"
