"""Mutated files: any bytes end in facts or in words, soon, and never in anything else."""

import io
import json
import struct
import time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shootlog.intake.tags import Unreadable, read_recorded_from
from tests.shootlog import exif_blocks as x

FRAMES = Path(__file__).parents[2] / ".." / "shared" / "frames"
MOST_SECONDS = 1.0


def note_of(make):
    """A maker's note in that maker's layout, with the tags its module looks for."""
    entries = {tag: (x.SHORT, list(range(30))) for tag in (1, 4, 7, 0x1A, 0x93, 0x1021, 0x1422)}
    entries |= {tag: (x.LONG, [64]) for tag in (0x2010, 0x2020, 0x2050, 0x201B, 0xB026)}
    entries |= {0x98: (x.UNDEFINED, b"0204" + bytes(range(40))), 0xA7: (x.LONG, [4711])}
    start = {
        "Canon": b"",
        "SONY": b"SONY DSC \0\0\0",
        "FUJIFILM": b"FUJIFILM" + struct.pack("<I", 12),
        "OLYMPUS": b"OLYMPUS\0II\x03\0",
        "Panasonic": b"Panasonic\0\0\0",
        "PENTAX": b"AOC\0II",
        "Apple": b"Apple iOS\0\0\1II",
    }
    if make == "NIKON":
        return b"Nikon\0\x02\x10\0\0II*\0\x08\0\0\0" + x.directory(entries, 8, "<")
    return start[make] + x.directory(entries, len(start[make]), "<")


MAKES = ["Canon", "NIKON", "SONY", "FUJIFILM", "OLYMPUS", "Panasonic", "PENTAX", "Apple"]


def block_of(make):
    return x.tiff(
        {
            x.MAKE: (x.ASCII, make),
            x.MODEL: (x.ASCII, "EOS E-M10"),
            x.ORIENTATION: (x.SHORT, [6]),
            x.EXPOSURE: (x.RATIONAL, [(1, 60)]),
            x.F_NUMBER: (x.RATIONAL, [(8, 1)]),
            x.ISO: (x.SHORT, [200]),
            x.TAKEN: (x.ASCII, "2026:05:03 09:10:00"),
            x.LENS_RANGE: (x.RATIONAL, [(90, 1), (90, 1), (28, 10), (28, 10)]),
            x.NOTE: (x.UNDEFINED, note_of(make)),
        }
    )


def heif(block):
    """A HEIF file whose Exif item is the block: the boxes a picture needs, and no picture."""

    def box(name, content):
        return struct.pack(">I", 8 + len(content)) + name + content

    infe = box(b"infe", b"\x02\0\0\0" + struct.pack(">HH", 1, 0) + b"Exif" + b"\0")
    iinf = box(b"iinf", b"\0\0\0\0" + struct.pack(">H", 1) + infe)
    ispe = box(b"ispe", b"\0\0\0\0" + struct.pack(">II", 60, 40))
    iprp = box(
        b"iprp", box(b"ipco", ispe) + box(b"ipma", b"\0" * 4 + struct.pack(">IHBB", 1, 1, 1, 1))
    )
    pitm = box(b"pitm", b"\0\0\0\0\0\1")
    start = box(b"ftyp", b"heic\0\0\0\0mif1heic")

    def meta(at):
        iloc = b"\0\0\0\0\x44\0" + struct.pack(">HHHHII", 1, 1, 0, 1, at, 4 + len(block))
        return box(b"meta", b"\0\0\0\0" + iinf + box(b"iloc", iloc) + iprp + pitm)

    at = len(start) + len(meta(0)) + 8
    return start + meta(at) + box(b"mdat", b"\0\0\0\0" + block)


def seeds():
    found = [x.jpeg(block=block_of(make)) for make in MAKES]
    found += [x.png(block_of("Canon")), x.webp(block_of("NIKON")), heif(block_of("SONY"))]
    found += [block_of("PENTAX")]  # a bare TIFF
    return found


SEEDS = seeds()
mutations = st.lists(
    st.tuples(
        st.integers(0, 4000), st.sampled_from([0, 1, 2, 4, 5, 7, 0x2A, 0x7F, 0x80, 0xFE, 0xFF])
    ),
    min_size=1,
    max_size=12,
)


def mutated(seed, changes, cut):
    content = bytearray(seed)
    for at, value in changes:
        content[at % len(content)] = value
    return bytes(content[: len(content) - cut % len(content)] if cut else content)


def check(content):
    begin = time.perf_counter()
    try:
        recorded = read_recorded_from(io.BytesIO(content), "frame.jpg")
    except Unreadable:
        pass
    else:
        json.dumps(recorded.as_json(), allow_nan=False)
    assert time.perf_counter() - begin < MOST_SECONDS


def test_the_seeds_themselves_are_read_with_their_notes():
    for seed in SEEDS:
        recorded = read_recorded_from(io.BytesIO(seed), "frame.jpg")
        assert (recorded.f_number, recorded.iso, recorded.has_maker_note) == (8.0, 200, True)
    said = {read_recorded_from(io.BytesIO(seed), "a").focus_mode for seed in SEEDS}
    assert {"auto", "manual"} & said


@settings(max_examples=400, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.sampled_from(SEEDS), mutations, st.integers(0, 4000))
def test_mutated_files(seed, changes, cut):
    check(mutated(seed, changes, cut))


@pytest.mark.slow
@settings(max_examples=20_000, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.sampled_from(SEEDS), mutations, st.integers(0, 4000))
def test_many_mutated_files(seed, changes, cut):
    check(mutated(seed, changes, cut))


@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    st.sampled_from(
        [b"\xff\xd8\xff", b"II*\0", b"MM\0*", b"\0\0\0\x18ftypheic", b"FOVb", b"IIU\0"]
    ),
    st.binary(max_size=600),
)
def test_any_bytes_behind_a_known_beginning(start, rest):
    check(start + rest)


@pytest.mark.skipif(
    not FRAMES.is_dir(), reason="real frames (../shared/frames) are not beside this clone"
)
@pytest.mark.slow
@settings(max_examples=3000, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_mutated_real_files(data):
    paths = sorted((FRAMES / "exif_only").iterdir())
    content = data.draw(st.sampled_from(paths)).read_bytes()
    changes = data.draw(
        st.lists(st.tuples(st.integers(0, len(content)), st.integers(0, 255)), max_size=20)
    )
    check(mutated(content, changes, 0))
