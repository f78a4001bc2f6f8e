"""One look at a file's pixels: what is written, what is said, and what cannot be opened."""

import io
import json
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from shootlog.intake import turning
from shootlog.intake.pixels import KEYS, look
from shootlog.intake.tags import Unreadable
from shootlog.recorded import Recorded
from tests.optics.evidence_pixels import truth

FRAMES = Path(__file__).resolve().parents[2] / ".." / "shared" / "frames"


@pytest.fixture(scope="module")
def leaves():
    return truth.as_8_bit(truth.sampled(truth.dead_leaves(256, 384, smallest_px=10)), noise=2)


def saved(path, grey, kind="JPEG", **options):
    Image.fromarray(grey).convert("RGB").save(path, kind, quality=92, **options)
    return path


def exif_with_position(orientation=1):
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = "A MAKER"
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = (47.0, 11.0, 12.0)
    return exif


def test_everything_promised_is_there_and_goes_through_json(leaves, tmp_path):
    found = look(saved(tmp_path / "a.jpg", leaves), Recorded(), tmp_path)
    assert set(found) == set(KEYS)
    json.dumps(found, allow_nan=False)
    assert (found["width_px"], found["height_px"]) == (384, 256)
    assert 0.5 < found["sharp_share"] <= 1
    assert sum(found["histogram"]) == pytest.approx(1, abs=1e-3)


def test_derivatives_carry_nothing_but_the_picture(leaves, tmp_path):
    frame = saved(tmp_path / "a.jpg", leaves, exif=exif_with_position(), comment=b"hello")
    into = tmp_path / "shown"
    into.mkdir()
    look(frame, None, into)
    for name in ("screen.jpg", "thumb.jpg"):
        with Image.open(into / name) as shown:
            assert not shown.getexif()
            assert not {"exif", "icc_profile", "comment", "xmp"} & set(shown.info)
        assert b"A MAKER" not in (into / name).read_bytes()


def test_kept_maps_are_as_shown(leaves, tmp_path):
    frame = saved(tmp_path / "a.jpg", leaves, exif=exif_with_position(6))
    look(frame, None, tmp_path)
    with np.load(tmp_path / "map.npz") as kept:
        assert kept["detail"].shape == (12, 8)
        assert kept["detail"].dtype == np.float16
        assert kept["luma"].shape == (384, 256)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_turn_is_applied_once_to_pictures_maps_boxes_and_angles(orientation, tmp_path):
    upright = np.full((240, 320, 3), 90, np.uint8)
    upright[20:60, 200:300] = (250, 40, 40)
    stored = turning.picture_as_shown(
        Image.fromarray(upright), turning.UNDONE_BY.get(orientation, orientation)
    )
    stored.save(tmp_path / "a.jpg", quality=95, exif=exif_with_position(orientation))
    found = look(tmp_path / "a.jpg", None, tmp_path)
    assert (found["width_px"], found["height_px"]) == (320, 240)
    with Image.open(tmp_path / "screen.jpg") as shown:
        assert shown.size == (320, 240)
        assert shown.getpixel((250, 40))[0] > 200 > 150 > shown.getpixel((40, 200))[0]
    box = [0.625, 1 / 12, 0.3125, 1 / 6]
    there = turning.box_as_stored(box, orientation)
    assert turning.box_as_shown(there, orientation) == pytest.approx(box)


def test_turned_heic_is_turned_once():
    if not FRAMES.exists():
        pytest.skip("the shared real frames are not beside the project")
    found = look(FRAMES / "heic" / "arrow.heic", None, None)
    assert (found["width_px"], found["height_px"]) == (3024, 4032)


def test_a_broken_profile_is_said_and_passed_over(leaves, tmp_path):
    frame = saved(tmp_path / "a.jpg", leaves, icc_profile=b"no profile at all" * 20)
    found = look(frame, None, tmp_path)
    assert "profile" in " ".join(found["notes"])


def test_what_the_student_tapped_is_judged(tmp_path):
    light = truth.dead_leaves(256, 384, smallest_px=10)
    sharp = truth.sampled(light)
    soft = truth.sampled(light, truth.disc(light.shape, 14))
    half = np.where(np.arange(384) < 192, sharp, soft)
    frame = saved(tmp_path / "a.jpg", truth.as_8_bit(half, noise=1))
    left = look(frame, None, None, [0.2, 0.5])
    right = look(frame, None, None, [0.7, 0.3, 0.25, 0.4])
    assert left["wanted_sharp_share"] > 0.6
    assert right["wanted_sharp_share"] == 0.0
    assert right["wanted_blur_px"] > 6
    assert right["wanted_offset_share"] > 0.15
    assert left["sharp_box"][0] + left["sharp_box"][2] < 0.6


def test_burnt_pixels_are_counted_on_the_full_picture(tmp_path):
    picture = np.full((512, 512, 3), 120, np.uint8)
    picture[128:256, 128:384, 0] = 255  # an eighth, one channel
    Image.fromarray(picture).save(tmp_path / "a.png")
    found = look(tmp_path / "a.png", None, None)
    assert found["clipped_by_channel"] == pytest.approx([0.125, 0, 0])
    assert found["clipped_share"] == pytest.approx(0.125)
    assert found["glint_share"] == 0


def test_glints_are_told_from_burnt_areas(tmp_path):
    picture = np.full((1024, 1024, 3), 100, np.uint8)
    for k in range(5):
        picture[100 + 150 * k : 124 + 150 * k, 200 + 90 * k : 224 + 90 * k] = 255
    Image.fromarray(picture).save(tmp_path / "a.png")
    found = look(tmp_path / "a.png", None, None)
    assert found["clipped_share"] == pytest.approx(5 * 24 * 24 / 1024**2, rel=0.05)
    assert found["glint_share"] == pytest.approx(found["clipped_share"], rel=0.3)


def test_grey_deep_ink_palette_and_alpha_pictures_open(tmp_path, leaves):
    pictures = {
        "grey.jpg": Image.fromarray(leaves),
        "ink.jpg": Image.fromarray(leaves).convert("CMYK"),
        "deep.png": Image.fromarray(leaves.astype(np.uint16) * 256),
        "deep.tif": Image.fromarray(leaves.astype(np.uint16) * 256),
        "palette.png": Image.fromarray(leaves).convert("P"),
        "alpha.png": Image.fromarray(leaves).convert("RGBA"),
        "moving.webp": Image.fromarray(leaves).convert("RGB"),
    }
    more = {"moving.webp": {"save_all": True, "append_images": [Image.new("RGB", (384, 256))]}}
    for name, picture in pictures.items():
        picture.save(tmp_path / name, **more.get(name, {}))
        found = look(tmp_path / name, None, None)
        assert found["width_px"] == 384, name
        assert found["mean_luminance"] == pytest.approx(0.5, abs=0.06), name
    assert "first" in " ".join(found["notes"])


def test_a_wrong_extension_means_nothing(leaves, tmp_path):
    saved(tmp_path / "a.png", leaves, "JPEG")
    assert look(tmp_path / "a.png", None, None)["width_px"] == 384


def png_that_says(width, height):
    def chunk(name, data):
        return (
            struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        )

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = zlib.compress(b"\0" * 100_000)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", body) + chunk(b"IEND", b"")
    )


def jpeg_bytes(grey):
    file = io.BytesIO()
    Image.fromarray(grey).convert("RGB").save(file, "JPEG", quality=92)
    return file.getvalue()


BROKEN = {
    "empty": (lambda grey: b"", "0 bytes"),
    "one pixel": (lambda grey: jpeg_bytes(grey[:1, :1]), "1 x 1"),
    "cut off": (lambda grey: jpeg_bytes(grey)[:-4000], "stops in the middle"),
    "wide": (lambda grey: png_that_says(40_000, 100), "40000 x 100"),
    "bomb": (lambda grey: png_that_says(29_000, 29_000), "twice 160 megapixels"),
    "huge bomb": (lambda grey: png_that_says(2**31 - 1, 2**31 - 1), "twice 160"),
    "no picture": (lambda grey: b"GIF89a is not taken" * 9, "cannot be opened"),
}


@pytest.mark.parametrize("kind", BROKEN)
def test_what_cannot_be_opened_gets_words_with_a_way_out(kind, leaves, tmp_path):
    make, words = BROKEN[kind]
    (tmp_path / "frame.jpg").write_bytes(make(leaves))
    with pytest.raises(Unreadable, match=words) as refused:
        look(tmp_path / "frame.jpg", None, None)
    assert "frame.jpg" in str(refused.value)
    assert "Send" in str(refused.value) or "Copy" in str(refused.value)


@pytest.mark.parametrize("size", [(167, 140), (140, 167), (90, 65), (33, 301)])
def test_small_pictures_of_any_shape_are_looked_at(size, tmp_path):
    """Blocks do not fit every side alike; a real thumbnail of 167 x 140 showed it."""
    noise = np.random.default_rng(3).integers(0, 255, size[::-1]).astype(np.uint8)
    found = look(saved(tmp_path / "a.jpg", noise), None, None, [0.5, 0.5])
    assert (found["width_px"], found["height_px"]) == size
