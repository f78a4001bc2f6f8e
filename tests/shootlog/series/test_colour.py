"""White balance and flicker between frames: gains laid on rendered frames, in linear light.

Linear light and back by IEC 61966-2-1 (sRGB). The limits were set on pod, shell and beetle; the
bolts and the lichen are tried here for the first time.
"""

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from shootlog.intake.shots import open_shot
from shootlog.series import check
from shootlog.series.colour import colour
from shootlog.series.exposure import exposure
from shootlog.series.shot import standing_out

SERIES = Path(__file__).parents[3] / "fixtures" / "series"


def linear(value):
    v = np.asarray(value, float) / 255
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def encoded(light):
    light = np.clip(light, 0, 1)
    out = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.rint(255 * out).astype(np.uint8)


def with_gains(path, stops, folder):
    """The frame with (red, green, blue) lifted by so many stops, as a JPEG of its own."""
    if not np.any(stops):
        return open_shot(path)
    with Image.open(path) as image:
        lifted = encoded(linear(image.convert("RGB")) * 2.0 ** np.asarray(stops))
        out = folder / path.name
        Image.fromarray(lifted).save(out, "JPEG", quality=90, exif=image.info["exif"])
    return open_shot(out)


@pytest.fixture(scope="module")
def frames():
    return {
        name: [open_shot(path) for path in sorted((SERIES / name).glob("[0-9]*.jpg"))[:8]]
        for name in ("bolts-rail", "pod-rail")
    }


@pytest.mark.parametrize("name", ["bolts-rail", "pod-rail"])
@pytest.mark.parametrize(
    ("stops", "way"),
    [
        ((0.05, 0.0, -0.05), "redder"),
        ((-0.05, 0.0, 0.05), "bluer"),
        ((-0.05, 0.05, -0.05), "greener"),
        ((0.05, -0.05, 0.05), "more magenta"),
    ],
)
def test_a_tenth_of_a_stop_between_the_channels_is_found(frames, tmp_path, name, stops, way):
    paths = sorted((SERIES / name).glob("[0-9]*.jpg"))[4:8]
    mixed = [*frames[name][:4], *(with_gains(path, stops, tmp_path) for path in paths)]
    found = colour(mixed)
    assert found.jumps == [[4, 5]]
    told = found.outcome()
    assert told.answer == "yes"
    assert f"between 4 and 5: {way}, by 0.1" in told.words or f"{way}, by 0.0" in told.words


def test_none_is_claimed_where_the_colour_stays(frames):
    for shots in frames.values():
        found = colour(shots)
        assert found.jumps == []
        assert np.abs(found.red_over_blue).max() < 0.02
        assert found.outcome().answer == "no"


def test_grey_frames_and_other_sizes_are_no_guess(frames):
    shots = [replace(shot, colour=None) for shot in frames["pod-rail"]]
    found = colour(shots)
    assert found.jumps == []
    assert found.outcome().answer == "cannot tell"
    assert found.as_json()["colour_steps"] == [None] * 7


def test_a_subject_of_another_colour_that_moves_is_no_white_balance(frames):
    """A fifth of the frame turns from what it was to a red petal."""
    shots = list(frames["pod-rail"])
    blown = shots[4].colour.copy()
    rows = blown.shape[0] // 5
    blown[:rows] = (200, 60, 60)
    shots[4] = replace(shots[4], colour=blown)
    assert colour(shots).jumps == []


def test_a_stack_says_it(frames, tmp_path):
    paths = sorted((SERIES / "pod-rail").glob("[0-9]*.jpg"))[4:8]
    cooler = (-0.1, 0.0, 0.1)
    mixed = [*frames["pod-rail"][:4], *(with_gains(path, cooler, tmp_path) for path in paths)]
    result = check("stack", mixed)
    assert result["colour_jumps"] == [[4, 5]]
    assert "The colour changes between 4 and 5: bluer" in result["words"]


def test_a_flicker_is_called_one(frames):
    """Seven steps, one up and the next down by 0.2 stop: a lamp, not a hand on the dial."""
    shots = [
        replace(shot, luma=encoded(linear(shot.luma) * 2 ** (0.2 * (k % 2))))
        for k, shot in enumerate(frames["pod-rail"])
    ]
    found = exposure(shots)
    assert found.flickers
    assert found.outcome().words.startswith("The light flickers: up and down in 7 of 7 steps")
    once = [
        replace(shot, luma=encoded(linear(shot.luma) * 2 ** (0.2 * (k > 3))))
        for k, shot in enumerate(frames["pod-rail"])
    ]
    assert not exposure(once).flickers
    assert exposure(once).jumps == [[4, 5]]


def test_what_drifts_evenly_does_not_stand_out():
    assert standing_out(np.full(9, 0.1), 0.06) == []
    assert standing_out(np.array([0.0] * 4 + [0.1] + [0.0] * 4), 0.06) == [4]
    assert standing_out(np.array([np.nan, 0.2, np.nan]), 0.06) == [1]


def test_an_upright_frame_keeps_its_colour_as_stored(tmp_path):
    picture = np.zeros((80, 120, 3), np.uint8)
    picture[:, :60, 0], picture[:, 60:, 2] = 200, 200
    out = io.BytesIO()
    exif = Image.Exif()
    exif[0x0112] = 6
    Image.fromarray(picture).save(out, "JPEG", quality=95, exif=exif, subsampling=0)
    path = tmp_path / "upright.jpg"
    path.write_bytes(out.getvalue())
    shot = open_shot(path)
    assert shot.luma.shape == (120, 80)
    assert shot.colour[40, 10, 0] > 150 > shot.colour[40, 110, 0]
