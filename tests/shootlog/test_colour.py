"""Colours of wide-gamut files come out right in what is shown, which is sRGB without a profile."""

import numpy as np
import pytest
from PIL import Image

from shootlog.intake.pixels import look
from shootlog.intake.tiles import cut
from tests.shootlog import wide_gamut as wide

SPACES = {
    "Display P3": (wide.DISPLAY_P3, None),
    "Adobe RGB (1998)": (wide.ADOBE_RGB, wide.ADOBE_GAMMA),
    "sRGB": (wide.SRGB, None),
}
COLOURS = (
    (200, 30, 30), (40, 180, 60), (30, 60, 190), (230, 180, 40), (128, 128, 128), (90, 60, 40),
    (250, 250, 250), (12, 12, 12), (150, 90, 170),
)  # fmt: skip
#: 8-bit steps: one for the JPEG of the derivative, one for curves of 16 bits and rounding.
DELTA = 2


def patches(path, space, kind="PNG", **options):
    picture = np.zeros((240, 480, 3), np.uint8)
    for k, colour in enumerate(COLOURS):
        picture[:, k * 52 : (k + 1) * 52] = colour
    primaries, gamma = SPACES[space]
    Image.fromarray(picture).save(path, kind, icc_profile=wide.profile(primaries, gamma), **options)
    return path


def colours_of(path):
    with Image.open(path) as shown:
        assert "icc_profile" not in shown.info
        values = np.asarray(shown.convert("RGB"), float)
    return [
        values[60:180, k * 52 + 16 : k * 52 + 36].mean(axis=(0, 1)) for k in range(len(COLOURS))
    ]


@pytest.mark.parametrize("space", SPACES)
def test_the_screen_picture_and_the_tiles_are_in_srgb(space, tmp_path):
    found = look(patches(tmp_path / "a.png", space), None, tmp_path)
    cut(tmp_path / "a.png", tmp_path)
    assert not [words for words in found["notes"] if "profile" in words]
    for name in ("screen.jpg", "0_0.jpg"):
        for colour, shown in zip(COLOURS, colours_of(tmp_path / name), strict=True):
            expected = wide.in_srgb(colour, *SPACES[space])
            assert np.abs(shown - expected).max() <= DELTA, (name, colour, shown, expected)


def test_a_wide_colour_is_not_shown_as_if_it_were_srgb(tmp_path):
    """The test must be able to fail: green of Adobe RGB differs by far more than the delta."""
    plain = np.array((40, 180, 60))
    assert np.abs(wide.in_srgb(plain, *SPACES["Adobe RGB (1998)"]) - plain).max() > 5 * DELTA


@pytest.mark.parametrize("hurt", ["cut off", "nonsense", "another space", "empty"])
def test_a_broken_profile_costs_a_word_and_not_the_picture(hurt, tmp_path):
    whole = wide.profile(wide.DISPLAY_P3)
    broken = {
        "cut off": whole[:200],
        "nonsense": bytes(range(256)) * 3,
        "another space": whole[:16] + b"CMYK" + whole[20:],
        "empty": b"\0" * 128,
    }[hurt]
    picture = Image.new("RGB", (96, 64), (200, 120, 40))
    picture.save(tmp_path / "a.jpg", quality=95, icc_profile=broken)
    found = look(tmp_path / "a.jpg", None, tmp_path)
    assert "colour profile" in " ".join(found["notes"])
    with Image.open(tmp_path / "screen.jpg") as shown:
        assert np.abs(np.subtract(shown.getpixel((40, 30)), (200, 120, 40))).max() < 6
