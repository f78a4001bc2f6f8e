"""What kind of file this is, from its first bytes: its name and the sender's word count nothing."""

from __future__ import annotations

from shootlog.intake.ifd import Directory, Window, first_directory

HEAD_BYTES = 64 * 1024  # enough for the first directory of every RAW file met

TIFF_RAW_TYPES = frozenset({"3FR", "ARW", "CR2", "DNG", "IIQ", "NEF", "ORF", "PEF", "RW2", "SRW"})
RAW_TYPES = TIFF_RAW_TYPES | {"CR3", "CRW", "MRW", "RAF", "X3F"}
HEIF_TYPES = frozenset({"HEIC", "HEIF", "AVIF"})
PICTURE_TYPES = RAW_TYPES | HEIF_TYPES | {"JPEG", "PNG", "TIFF", "WebP"}
ACCEPTED_WORDS = "JPEG, HEIC, DNG, the makers' RAW files, PNG, TIFF or WebP"

BY_START = (
    (b"\xff\xd8\xff", "JPEG"),
    (b"\x89PNG\r\n\x1a\n", "PNG"),
    (b"FUJIFILMCCD-RAW", "RAF"),
    (b"\x00MRM", "MRW"),
    (b"FOVb", "X3F"),
    (b"II\x1a\x00\x00\x00HEAPCCDR", "CRW"),
    (b"IIU\x00", "RW2"),
    (b"IIRO", "ORF"),
    (b"IIRS", "ORF"),
    (b"MMOR", "ORF"),
    (b"IIII", "IIQ"),
)
BRANDS = {
    b"crx ": "CR3",
    b"heic": "HEIC",
    b"heix": "HEIC",
    b"heim": "HEIC",
    b"heis": "HEIC",
    b"hevc": "HEIC",
    b"hevx": "HEIC",
    b"mif1": "HEIF",
    b"msf1": "HEIF",
    b"avif": "AVIF",
    b"avis": "AVIF",
}
TAG_COMPRESSION, TAG_PHOTOMETRIC, TAG_MAKE, TAG_SUBFILE, TAG_SUB_IFDS = 259, 262, 271, 254, 330
TAG_DNG_VERSION, TAG_SONY_PRIVATE = 0xC612, 0xC634
COLOUR_FILTER_ARRAY = 32803


def sniff(head: bytes) -> str | None:
    """Return the file type, or None where these bytes begin no picture file this log reads."""
    for start, kind in BY_START:
        if head.startswith(start):
            return kind
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "WebP"
    if head[4:8] == b"ftyp":
        return _by_brand(head)
    if head[:4] in (b"II*\x00", b"MM\x00*"):
        return _tiff_kind(head)
    return None


def _by_brand(head: bytes) -> str | None:
    kind = BRANDS.get(head[8:12])
    length = int.from_bytes(head[:4], "big")
    compatible = {head[k : k + 4] for k in range(16, min(length, 256, len(head)), 4)}
    if kind == "HEIF" and compatible & {b"avif", b"avis"}:
        return "AVIF"
    return kind


def _tiff_kind(head: bytes) -> str:
    if head[8:10] == b"CR":
        return "CR2"
    if head[8:12] == b"IIII":
        return "IIQ"
    return raw_kind(first_directory(Window.over(head)))


def raw_kind(first: Directory) -> str:
    """Tell a maker's RAW from a plain TIFF by what its first directory holds."""
    if TAG_DNG_VERSION in first:
        return "DNG"
    make = first[TAG_MAKE].text().upper() if TAG_MAKE in first else ""
    reduced = TAG_SUBFILE in first and first[TAG_SUBFILE].number() == 1
    mosaic = TAG_PHOTOMETRIC in first and first[TAG_PHOTOMETRIC].number() == COLOUR_FILTER_ARRAY
    inside = reduced or mosaic or TAG_SUB_IFDS in first
    if make.startswith("NIKON") and inside:
        return "NEF"
    if make.startswith("SONY") and (inside or TAG_SONY_PRIVATE in first):
        return "ARW"
    if make.startswith(("PENTAX", "RICOH", "ASAHI")) and inside:
        return "PEF"
    if make.startswith("SAMSUNG") and inside:
        return "SRW"
    if make.startswith("HASSELBLAD") and inside:
        return "3FR"
    return "TIFF"
