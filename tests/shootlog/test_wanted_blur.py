"""How wide the blur of the wanted place is: number, range or nothing, and how it is said.

Drawn leaves through the exact response of a disc (SciPy's J1), and rendered frames whose truth
stands beside them (fixtures/render, a physically based renderer).
"""

import json
import tomllib
from pathlib import Path

import numpy as np
import pytest
from django.core.management import call_command
from PIL import Image

from shootlog.blur_in_words import blur_words
from shootlog.findings import all_findings
from shootlog.findings.samples import sample
from shootlog.intake import defocus
from shootlog.intake.pixels import Small, look
from shootlog.intake.tags import read_recorded
from shootlog.reading import Quantity, Reading
from shootlog.recorded import Recorded
from shootlog.set_up import SetUp
from shootlog.work_out import work_out
from tests.optics.evidence_pixels import truth

FRAMES = Path(__file__).resolve().parents[2] / "fixtures" / "frames"
LEFT, RIGHT = [0.2, 0.5], [0.75, 0.5]


@pytest.fixture(scope="module")
def half_blurred(tmp_path_factory):
    """Left half sharp, right half through a disc of 8 pixels; the second twice as large."""
    folder = tmp_path_factory.mktemp("halves")
    light = truth.dead_leaves(256, 384, smallest_px=6, seed=8)
    soft = truth.sampled(light, truth.disc(light.shape, 8.0))
    both = np.where(np.arange(384) < 192, truth.sampled(light), soft)
    grey = truth.as_8_bit(both, noise=0.5)
    Image.fromarray(grey).save(folder / "half.jpg", quality=92)
    return folder / "half.jpg"


def test_the_blurred_half_tells_its_disc_and_a_range_that_holds_it(half_blurred):
    found = look(half_blurred, None, None, RIGHT)
    assert found["wanted_blur_px"] == pytest.approx(8.0, rel=0.15)
    assert found["wanted_blur_low_px"] < 8.0 < found["wanted_blur_high_px"]
    assert found["wanted_sharp_share"] == 0.0


def test_the_sharp_half_tells_no_disc(half_blurred):
    found = look(half_blurred, None, None, LEFT)
    assert found["wanted_blur_px"] is None
    assert found["wanted_blur_high_px"] is None
    assert found["wanted_sharp_share"] > 0.5


def test_a_disc_no_wider_than_things_are_soft_may_be_no_blur_at_all():
    """3 pixels through the exact response of a disc: a most is told, neither number nor soft."""
    light = truth.dead_leaves(240, 288, smallest_px=5, seed=11)
    soft = truth.sampled(light, truth.disc(light.shape, 3.0))
    luma = truth.as_8_bit(soft, noise=0.5, quality=92)
    found = defocus.defocus_at(Small(None, luma, 1.0), None, [0.3, 0.3, 0.4, 0.4])
    assert found.px is None
    assert found.low_px == 0.0
    assert found.high_px > 3.0
    assert not found.is_soft


def test_an_enlarged_picture_is_not_asked(half_blurred):
    found = look(half_blurred, Recorded(digital_zoom_ratio=2.0), None, RIGHT)
    assert found["wanted_blur_high_px"] is None


def test_a_blur_too_small_for_the_averaged_picture_is_told_from_the_stored_one(tmp_path):
    """In a picture of 3,300 pixels 5 of them are 2.4 of the averaged one: no eye calls it soft."""
    light = truth.dead_leaves(200, 240, smallest_px=6, seed=9)
    tile = truth.sampled(light, truth.disc(light.shape, 5.0))
    sharp = truth.as_8_bit(truth.sampled(light), noise=0.5)
    picture = np.tile(sharp, (11, 14))[:2200, :3300]
    picture[1000:1200, 1440:1680] = truth.as_8_bit(tile, noise=0.5)
    Image.fromarray(picture).save(tmp_path / "large.jpg", quality=92)
    found = look(tmp_path / "large.jpg", None, None, [1560 / 3300, 1100 / 2200])
    assert found["wanted_blur_px"] == pytest.approx(5.0, rel=0.15)


def read(name):
    facts = tomllib.loads((FRAMES / f"{name}.toml").read_text(encoding="utf-8"))
    frame, blur, optics = facts["frame"], facts["blur"], facts["optics"]
    at = [blur["wanted_x_px"] / frame["width_px"], blur["wanted_y_px"] / frame["height_px"]]
    path = FRAMES / facts["file"]
    recorded = read_recorded(path)
    set_up = SetUp(
        ruler_magnification=optics["magnification"],
        records_f_number=frame["records_f_number"],
        sensor_width_mm=optics["sensor_width_mm"],
    )
    return facts, work_out(recorded, set_up, look(path, recorded, None, at))


def test_measured_and_expected_blur_stand_side_by_side():
    facts, reading = read("pod-miss-4mm")
    measured, sharpest, expected = blur_words(reading)
    blur, true = reading["wanted_blur_px"], facts["blur"]["total_px"]
    assert blur.low < true < blur.high
    assert blur.value == pytest.approx(true, rel=0.1)
    assert measured.startswith(f"Blur measured where you wanted it sharp: {blur.value:.1f} pixels")
    assert "µm on the sensor" in measured
    assert sharpest.startswith("Blur measured where the picture is sharpest: ")
    assert "from the opening alone, in the best focus; " in expected
    assert expected.endswith("at either end of the sharp depth.")


def test_what_the_opening_alone_must_leave_is_the_renderers_number():
    facts, reading = read("beetle-f32")
    true = facts["optics"]["diffraction_blur_px"]
    assert f"Blur to expect: {true:.1f} pixels (" in blur_words(reading)[-1]


def quantity(value, low, high):
    return Quantity(value, low, high, "measured", "pixels", ("measured",))


@pytest.mark.parametrize(
    ("blur", "words"),
    [
        (quantity(4.6, 3.6, 6.4), "4.6 pixels (3.6 to 6.4)."),
        (quantity(None, 3.1, 7.5), "between 3.1 and 7.5 pixels."),
        (quantity(None, 0.0, 4.3), "at most 4.3 pixels."),
        (quantity(0.2, 0.0, 0.4), "less than half a pixel."),
    ],
)
def test_a_number_a_range_or_a_most(blur, words):
    said = blur_words(Reading({"wanted_blur_px": blur}))
    assert said == [f"Blur measured where you wanted it sharp: {words}"]


def test_an_open_answer_is_said_and_nothing_without_pixels():
    soft = Reading({"wanted_sharp_share": quantity(0.0, 0.0, 0.0)})
    assert "can't be told" in blur_words(soft)[0]
    sharp = Reading({"wanted_sharp_share": quantity(0.5, 0.5, 0.5)})
    assert "no blur shows" in blur_words(sharp)[0]
    assert blur_words(Reading()) == []


def test_a_slow_frame_whose_blur_is_round_is_out_of_focus():
    """Nothing that moved is blurred alike in every direction."""
    missed = all_findings()["missed-focus"]
    soft = {"sharp_share": 0.2, "wanted_sharp_share": 0.0, "exposure_s": 0.5}
    assert missed.examine(sample(wanted_round_share=0.0, **soft)).answer == "cannot tell"
    assert missed.examine(sample(wanted_round_share=0.2, **soft)).answer == "yes"


def test_blur_that_the_opening_explains_is_no_missed_focus():
    missed = all_findings()["missed-focus"]
    soft = {"sharp_share": 0.2, "wanted_sharp_share": 0.0, "exposure_s": 0.004}
    small = {"diffraction_blur_um": 24.0, "file_pixel_um": 6.0}  # four pixels of it
    assert missed.examine(sample(wanted_blur_px=6.0, **small, **soft)).answer == "cannot tell"
    assert missed.examine(sample(wanted_blur_px=12.0, **small, **soft)).answer == "yes"


def test_the_read_command_says_it(capsys):
    path = FRAMES / "pod-miss-4mm.jpg"
    facts = tomllib.loads(path.with_suffix(".toml").read_text(encoding="utf-8"))["blur"]
    left, top = facts["wanted_x_px"] / 900 - 0.04, facts["wanted_y_px"] / 600 - 0.04
    call_command("read", str(path), wanted=f"{left},{top},0.08,0.08")
    answer = json.loads(capsys.readouterr().out)
    assert answer["blur"][0].startswith("Blur measured where you wanted it sharp: ")
