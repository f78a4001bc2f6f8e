"""What the makers' notes say, against an independent reader on real files.

Truth: ExifTool 12.57 run over the frames beside the project (November 2026), its words translated
to ours; focus distances also stand in `truth.json`. Habits: printed words of the makers, and what
the lens data itself shows.
"""

import io
import json
import math
from pathlib import Path

import pytest

from shootlog.intake.ifd import Window, directory
from shootlog.intake.makers import is_wide_open, makers, nikon
from shootlog.intake.tags import Unreadable, read_recorded, read_recorded_from
from shootlog.recorded import Recorded
from tests.shootlog import exif_blocks as x

FRAMES = Path(__file__).parents[2] / ".." / "shared" / "frames"
needs_frames = pytest.mark.skipif(
    not FRAMES.is_dir(), reason="real frames (../shared/frames) are not beside this clone"
)

NOTES = {  # file -> focus mode, stabiliser, shutter type
    "exif_only/CanonEF100mmF2.8LMacroISUSM.jpg": ("auto", None, "mechanical"),
    "raw/Canon-R6-pruned.CR3": ("manual", "on", "electronic first curtain"),
    "heic/corrupted.hif": ("auto", "on", "mechanical"),
    "blur/text_defocus.jpg": ("manual", "on", None),
    "camera/Canon.jpg": ("manual", None, None),
    "macro/Nikon_D60.jpg": ("auto", "on", None),
    "exif_only/Sigma_APO_MACRO_180_F3.5_EX_DG_HSM.jpg": ("manual", "off", None),
    "exif_only/NikonZ6.jpg": ("manual", "off", "electronic first curtain"),
    "exif_only/DSC8437.jpg": ("auto", "on", "electronic"),
    "macro/Olympus_PEN_E-P3.jpg": ("auto", "on", None),
    "camera/Issue_339.jpg": ("auto", "off", None),
    "exif_only/olympus-m.zuiko-17mm-f1.2-pro.jpg": ("auto", "on", None),
    "raw/Panasonic.rw2": ("auto", "on", None),
    "camera/Panasonic_DMC-LC40.jpg": ("auto", "off", None),
    "exif_only/exiv2-bug1179a.jpg": ("auto", None, "mechanical"),
    "camera/FujiTagsDRangeStrongRating3.jpg": ("manual", "off", "mechanical"),
    "camera/hugo-issue-8996.jpg": ("auto", "on", "mechanical"),
    "heic/Sony.HIF": ("manual", "on", None),
    "exif_only/exiv2-SonySLT-A58.jpg": ("manual", "off", "electronic first curtain"),
    "exif_only/exiv2-bug1153Ac.jpg": ("auto", "on", "electronic first curtain"),
    "exif_only/exiv2-pr1009.jpg": (None, "on", "electronic first curtain"),  # both ways at once
    "exif_only/RAW_PENTAX_K100.jpg": ("auto", "off", None),
    "exif_only/exiv2-bug1155e.jpg": ("manual", "on", None),
}


@needs_frames
@pytest.mark.parametrize(("path", "expected"), NOTES.items())
def test_focus_mode_stabiliser_and_shutter(path, expected):
    recorded = read_recorded(FRAMES / path)
    assert (recorded.focus_mode, recorded.stabiliser, recorded.shutter_type) == expected


@needs_frames
def test_focus_distances_agree_with_the_independent_reader():
    truth = json.loads((FRAMES / "truth.json").read_text("utf-8"))["files"]
    pairs = singles = 0
    for path, values in truth.items():
        if path.startswith("corrupt"):
            continue
        try:
            recorded = read_recorded(FRAMES / path)
        except Unreadable:
            continue
        upper, lower = values.get("FocusDistanceUpper"), values.get("FocusDistanceLower")
        if recorded.maker_focus_distance_m and upper and lower:
            ends = sorted((upper, lower))
            assert recorded.maker_focus_distance_low_m == pytest.approx(ends[0]), path
            assert recorded.maker_focus_distance_high_m == pytest.approx(ends[1]), path
            pairs += 1
        elif recorded.maker_focus_distance_m and isinstance(values.get("FocusDistance"), float):
            assert recorded.maker_focus_distance_m == pytest.approx(
                values["FocusDistance"], rel=0.01
            ), path
            singles += 1
    assert pairs >= 15
    assert singles >= 12


@needs_frames
def test_a_lone_distance_of_an_old_compact_spans_both_units():
    # README of the frames, point 11: some write millimetres where others write centimetres.
    recorded = read_recorded(FRAMES / "macro/smiley2.jpg")
    assert recorded.subject_distance_m == pytest.approx(7.368)
    assert recorded.maker_focus_distance_m is None
    low, high = recorded.maker_focus_distance_low_m, recorded.maker_focus_distance_high_m
    assert low == pytest.approx(7.368)
    assert high == pytest.approx(73.68)


@needs_frames
@pytest.mark.parametrize(
    ("path", "habit", "why"),
    [
        # MP-E 65 manual p. ENG-7 and support article ART110189: EOS shows the set value.
        ("exif_only/CanonEF100mmF2.8LMacroISUSM.jpg", "marked", "EOS"),
        ("exif_only/exiv2-g20.jpg", "marked", "EOS"),
        ("macro/canon_cr2_integer.jpg", "marked", "EOS"),  # its maker note is gone
        # Lens data: opening now equals opening built, at 1.26 m with 180 mm (1 + m is over 1.15).
        ("exif_only/Sigma_APO_MACRO_180_F3.5_EX_DG_HSM.jpg", "marked", "does not follow"),
        # The maker's own lens; reviews of the Z MC 105 and manuals show the changing value.
        ("exif_only/NikonZ6.jpg", "effective", "own lenses"),
        # Wide open as the lens is sold: 2.0 on an f/2 lens.
        ("camera/FujiTagsDRangeStrongRating3.jpg", "marked", "wide open"),
        # A zoom between its ends: 4.5 may be its opening there or a loss. Not known.
        ("macro/Nikon_D60.jpg", None, None),
        # Nothing in print and not wide open.
        ("heic/Sony.HIF", None, None),
        ("camera/Issue_339.jpg", None, None),
        ("raw/Panasonic.rw2", None, None),
        ("macro/Canon_PowerShot_S230.jpg", None, None),  # compacts: nothing in print
    ],
)
def test_what_the_recorded_f_number_means(path, habit, why):
    recorded = read_recorded(FRAMES / path)
    assert recorded.f_number_habit == habit
    if why:
        assert why in recorded.origins["f_number_habit"]


def lens(distance_m, focal, opening, now):
    return nikon.LensData(
        distance_m=distance_m,
        focal_mm=focal,
        shortest_mm=focal,
        longest_mm=focal,
        opening_at_shortest=opening,
        opening_at_longest=opening,
        opening_now=now,
    )


@pytest.mark.parametrize(
    ("opening_now", "distance_m", "habit", "ratio"),
    [
        # Z MC 105: shows 4.5 wide open at closest (digitalkamera.de test; macro_lenses.csv).
        (4.5, 0.29, "effective", 4.5 / 2.8),
        (4.0, 0.33, "effective", 4.0 / 2.8),
        (2.8, 1.6, None, None),  # far enough that nothing would show
        (2.8, 0.29, "marked", None),  # close, and the lens says nothing of it
    ],
)
def test_the_opening_now_against_the_opening_built(opening_now, distance_m, habit, ratio):
    found = nikon._from_lens(lens(distance_m, 105.0, 2.8, opening_now))
    assert found.get("f_number_habit", (None,))[0] == habit
    assert found.get("effective_aperture_ratio", (None,))[0] == pytest.approx(ratio)


def z_entries(*, mount=1, steps=1, code=0):
    plain = bytearray(108)
    plain[:4] = b"0800"
    plain[0x35], plain[0x4C] = mount, steps
    plain[0x4E:0x50] = code.to_bytes(2, "little")
    scrambled = bytes(plain[:4]) + nikon.unscrambled(bytes(plain[4:]), "2005141", 4711)
    block = x.directory({0x98: (x.UNDEFINED, scrambled), 0xA7: (x.LONG, [4711])}, 0, "<")
    return directory(Window.over(block), 0, "<")


def test_a_z_lens_says_where_it_is_focused():
    # 0.01 m * 10 ** (code / 256 / 40): 0.29 m, the closest of the Z MC 105 (macro_lenses.csv)
    code = round(256 * 40 * math.log10(29))
    distance = nikon.z_lens_distance_m(z_entries(code=code), "2005141")
    assert distance == pytest.approx(0.29, rel=0.001)
    assert nikon.z_lens_distance_m(z_entries(code=code, steps=0), "2005141") is None  # infinity
    assert nikon.z_lens_distance_m(z_entries(code=code, mount=0), "2005141") is None  # adapted
    assert nikon.z_lens_distance_m({}, "2005141") is None
    assert nikon.lens_data(z_entries(code=code), "2005141") is None  # the older block is empty


def test_an_effective_value_smaller_than_the_lens_could_have_is_taken_as_marked():
    assert is_wide_open({"f_number": 2.8, "lens_largest_f_number": 2.8})
    assert not is_wide_open({"f_number": 4.5, "lens_largest_f_number": 2.8})
    assert not is_wide_open({"f_number": 2.8})
    assert not is_wide_open({})


def test_unscrambling_is_its_own_inverse_and_depends_on_both_keys():
    block = bytes(range(64))
    there = nikon.unscrambled(block, "2005141", 4711)
    assert nikon.unscrambled(there, "2005141", 4711) == block
    assert nikon.unscrambled(there, "2005142", 4711) != block
    assert nikon.unscrambled(there, "2005141", 4712) != block


@pytest.mark.parametrize("module", makers(), ids=lambda module: module.__name__.rsplit(".")[-1])
def test_every_maker_module_keeps_the_form(module):
    assert module.MAKES
    assert all(make == make.upper() for make in module.MAKES)
    assert module.__doc__
    assert callable(module.read)


@needs_frames
def test_every_field_a_maker_gives_is_one_of_recorded_and_has_its_tag():
    fields = set(Recorded.__dataclass_fields__)
    named = 0
    for path in NOTES:
        recorded = read_recorded(FRAMES / path)
        assert set(recorded.origins) <= fields
        named += sum(tag.startswith("MakerNote") for tag in recorded.origins.values())
    assert named > 60


@needs_frames
@pytest.mark.parametrize(
    ("path", "iso"), [("camera/Nikon_D1X.jpg", 200), ("exif_only/NikonD1.jpg", 400)]
)
def test_the_oldest_bodies_keep_their_iso_in_the_note(path, iso):
    # truth.json: "0 200" and "0 400"
    recorded = read_recorded(FRAMES / path)
    assert (recorded.iso, recorded.origins["iso"]) == (iso, "MakerNote ISO")


# --- notes built for the purpose: no real file at hand ---


def canon_note(*, lens_type, code, model="Canon EOS 5D Mark II"):
    settings = [0] * 46
    settings[22], settings[7] = lens_type, 3
    file_info = [0] * 24
    file_info[16] = code
    entries = {0x0001: (x.SHORT, settings), 0x0093: (x.SHORT, file_info)}
    block = {x.MAKE: (x.ASCII, "Canon"), x.MODEL: (x.ASCII, model)}
    # Canon's offsets count from the block, so place the note, see where it is, place it again.
    length = len(x.directory(entries, 0, "<"))
    content = x.tiff(block | {x.NOTE: (x.UNDEFINED, b"\xee" * length)})
    at = content.index(b"\xee" * length)
    content = content.replace(b"\xee" * length, x.directory(entries, at, "<"))
    return read_recorded_from(io.BytesIO(x.jpeg(block=content)), "a.jpg")


@pytest.mark.parametrize(
    ("code", "magnification"),
    # ExifTool 12.57, Canon.pm: "44=5x, 52~=3.9x, 56~=3.3x, 62~=2.6x, 75=1x" on a 5D Mark II.
    # The scale itself gives 3.3x at 52 and 2.7x at 56; the ends are exact.
    [(75, 1.0), (44, 5.0), (62, 2.0)],
)
def test_the_1x_to_5x_lens_writes_its_magnification(code, magnification):
    recorded = canon_note(lens_type=124, code=code)
    assert recorded.maker_magnification == pytest.approx(magnification, rel=0.03)
    assert recorded.f_number_habit == "marked"
    assert recorded.focus_mode == "manual"


def test_no_magnification_from_other_lenses_or_bodies_that_always_write_one_number():
    assert canon_note(lens_type=254, code=60).maker_magnification is None
    assert canon_note(lens_type=124, code=0).maker_magnification is None
    assert canon_note(lens_type=124, code=72, model="Canon EOS 40D").maker_magnification is None


def olympus_note(stacked, extender=b"EX-25\0"):
    settings = {0x301: (x.SHORT, [10, 0]), 0x604: (x.LONG, [0]), 0x804: (x.LONG, stacked)}
    equipment = {0x303: (x.ASCII, extender)}
    start = b"OLYMPUS\0II\x03\0"
    main = {0x2010: (x.LONG, [0]), 0x2020: (x.LONG, [0])}
    first = len(start) + len(x.directory(main, len(start), "<"))
    second = first + len(x.directory(equipment, first, "<"))
    main = {0x2010: (x.LONG, [first]), 0x2020: (x.LONG, [second])}
    note = start + x.directory(main, len(start), "<")
    note += x.directory(equipment, first, "<") + x.directory(settings, second, "<")
    block = x.tiff({x.MAKE: (x.ASCII, "OLYMPUS CORPORATION"), x.NOTE: (x.UNDEFINED, note)})
    return read_recorded_from(io.BytesIO(x.jpeg(block=block)), "a.jpg")


@pytest.mark.parametrize(
    ("stacked", "composite"),
    [([9, 8], "stacked"), ([5, 4], "while shooting"), ([0, 0], None), ([77, 1], None)],
)
def test_a_stack_merged_in_the_body_and_its_tube_are_recognised(stacked, composite):
    recorded = olympus_note(stacked)
    assert recorded.composite == composite
    assert recorded.extension_tube == "EX-25"
    assert (recorded.focus_mode, recorded.stabiliser) == ("manual", "off")
