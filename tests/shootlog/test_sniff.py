"""The kind of a file by its first bytes, against an independent reader on real files."""

import json
from pathlib import Path

import pytest

from shootlog.intake.sniff import HEAD_BYTES, PICTURE_TYPES, sniff
from tests.shootlog import exif_blocks as x

FRAMES = Path(__file__).parents[2] / ".." / "shared" / "frames"

#: ExifTool's name -> ours, where they differ
OTHER_NAMES = {
    "WEBP": "WebP",
    "Extended WEBP": "WebP",
    "HEIFS": "HEIF",  # several pictures in one
    "MP4": None,
    "M4A": None,
    "AVI": None,
    "ZIP": None,
    "JP2": None,
    "EXV": None,
}
#: files whose container and content disagree, or whose first bytes are damaged
KNOWN = {
    "heic/corrupted.hif": "brand heic; the reader goes by the file's name",
    "heic/Sony.HIF": "brand heic; the reader goes by the file's name",
    "heic/issue_9292_sony_1_top_left.HIF": "brand heic; the reader goes by the file's name",
    "heic/issue_9292_sony_6_right_top.HIF": "brand heic; the reader goes by the file's name",
    "exif_only/exiv2-bug1144e.jpg": "a JPEG that carries a DNG's tags",
    "exif_only/exiv2-bug1144g.jpg": "a JPEG that carries a DNG's tags",
    "exif_only/exiv2-bug1155a.jpg": "a JPEG that carries a DNG's tags",
}


@pytest.mark.skipif(
    not FRAMES.is_dir(), reason="real frames (../shared/frames) are not beside this clone"
)
def test_every_intact_file_is_what_the_independent_reader_says():
    truth = json.loads((FRAMES / "truth.json").read_text("utf-8"))["files"]
    seen = set()
    for path, values in truth.items():
        if path.startswith("corrupt") or path in KNOWN or "FileType" not in values:
            continue
        with (FRAMES / path).open("rb") as file:
            kind = sniff(file.read(HEAD_BYTES))
        assert kind == OTHER_NAMES.get(values["FileType"], values["FileType"]), path
        seen.add(kind)
    assert len(seen - {None}) >= 14


@pytest.mark.parametrize(
    ("head", "kind"),
    [
        (b"", None),
        (b"\xff\xd8", None),
        (b"\xff\xd8\xff\xe0", "JPEG"),
        (b"GIF89a", None),
        (b"BM", None),
        (b"%PDF-1.7", None),
        (b"MZ\x90\x00", None),
        (b"<html>", None),
        (b"PK\x03\x04", None),
        (b"\x00\x00\x00\x18ftypmp42\x00\x00\x00\x00isom", None),
        (b"\x00\x00\x00\x1cftypmif1\x00\x00\x00\x00mif1avifmiaf", "AVIF"),
        (b"\x00\x00\x00\x18ftypmif1\x00\x00\x00\x00mif1heic", "HEIF"),
        (b"\x00\x00\x00\x18ftypcrx \x00\x00\x00\x01crx isom", "CR3"),
        (b"II*\x00\x10\x00\x00\x00CR\x02\x00", "CR2"),
        (b"II*\x00", "TIFF"),
        (b"IIRO\x08\x00\x00\x00", "ORF"),
    ],
)
def test_first_bytes(head, kind):
    assert sniff(head) == kind
    assert kind is None or kind in PICTURE_TYPES


@pytest.mark.parametrize(
    ("make", "kind"),
    [
        ("NIKON CORPORATION", "NEF"),
        ("SONY", "ARW"),
        ("PENTAX Corporation", "PEF"),
        ("SAMSUNG", "SRW"),
        ("Hasselblad", "3FR"),
        ("Epson scanner", "TIFF"),
    ],
)
def test_raw_files_that_are_tiff_inside_are_told_by_maker_and_preview(make, kind):
    text = make.encode() + b"\0"
    reduced = x.directory({254: (x.LONG, [1]), x.MAKE: (x.ASCII, text)}, 8, "<")
    plain = x.directory({254: (x.LONG, [0]), x.MAKE: (x.ASCII, text)}, 8, "<")
    start = b"II*\0\x08\0\0\0"
    assert sniff(start + reduced) == kind
    assert sniff(start + plain) == "TIFF"  # a scan or an export, whoever made the camera
