"""The subject moved, not the camera: rendered frames whose movement is known to the pixel.

The truth beside each frame is the renderer's (fixtures/render): the subject alone was smeared.
"""

import tomllib
from pathlib import Path

import pytest
from PIL import Image

from shootlog.findings import all_findings
from shootlog.findings.samples import sample
from shootlog.intake.pixels import look
from shootlog.intake.tags import read_recorded
from shootlog.recorded import Recorded
from shootlog.set_up import SetUp
from shootlog.work_out import work_out
from tests.shootlog.test_truth_table import where_it_lies_in_the_file

FRAMES = Path(__file__).resolve().parents[2] / "fixtures" / "frames"
SLOW = Recorded(exposure_s=0.5)


def truth_of(name):
    return tomllib.loads((FRAMES / f"{name}.toml").read_text(encoding="utf-8"))


def seen(name, recorded=SLOW):
    return look(FRAMES / f"{name}.jpg", recorded, None, where_it_lies_in_the_file(truth_of(name)))


@pytest.mark.parametrize("name", ["beetle-moved-9px", "beetle-moved-12px", "bolts-moved-11px"])
def test_what_moved_is_told_with_its_length(name):
    found, length = seen(name), truth_of(name)["motion"]["length_px"]
    assert found["moved_px"] == pytest.approx(length, rel=0.1)
    assert found["moved_low_px"] < length < found["moved_high_px"]
    assert found["moved_elsewhere"] < 0.36


@pytest.mark.parametrize("name", ["beetle-f8", "shell-ev+0", "feather-lucky"])
def test_what_stood_still_tells_no_movement(name):
    assert seen(name)["moved_px"] is None


@pytest.mark.parametrize(
    "recorded",
    [
        None,
        Recorded(),
        Recorded(exposure_s=1 / 250),
        Recorded(exposure_s=0.5, flash_fired=True),
        Recorded(exposure_s=0.5, digital_zoom_ratio=1.5),
    ],
)
def test_where_nothing_could_have_moved_it_is_not_asked(recorded):
    assert seen("beetle-moved-9px", recorded)["moved_px"] is None


def test_a_frame_that_is_too_small_tells_nothing(tmp_path):
    path = tmp_path / "small.jpg"
    Image.open(FRAMES / "beetle-moved-9px.jpg").crop((0, 0, 120, 100)).save(path)
    assert look(path, SLOW, None, [0.5, 0.5])["moved_px"] is None


def answer(name, support):
    path = FRAMES / f"{name}.jpg"
    recorded = read_recorded(path)
    evidence = look(path, recorded, None, where_it_lies_in_the_file(truth_of(name)))
    reading = work_out(recorded, SetUp(support=support), evidence, support=support)
    return all_findings()["subject-moved"].examine(reading)


def test_a_yes_is_likely_and_shows_the_place_beside_one_that_stood_still():
    told = answer("beetle-moved-9px", "tripod")
    assert (told.answer, told.sure) == ("yes", "likely")
    assert told.words.startswith("8 to 11 pixels")
    x, y, w, h = (getattr(told.proof.here, side) for side in "xywh")
    blur = truth_of("beetle-moved-9px")["blur"]
    assert x < blur["wanted_x_px"] < x + w
    assert y < blur["wanted_y_px"] < y + h


@pytest.mark.parametrize(("support", "asks"), [("hand", "By hand"), (None, "tripod")])
def test_without_a_stand_it_cannot_tell_who_moved(support, asks):
    told = answer("beetle-moved-9px", support)
    assert told.answer == "cannot tell"
    assert asks in told.words


def test_a_camera_that_moved_on_its_tripod_is_not_the_subject():
    assert answer("lichen-shake-line-8px", "tripod").answer == "cannot tell"


def test_the_rest_must_have_stood_still():
    finding = all_findings()["subject-moved"]
    known = {"exposure_s": 0.5, "moved_px": 9.0, "support": "tripod"}
    assert finding.examine(sample(moved_elsewhere=0.2, **known)).answer == "yes"
    assert finding.examine(sample(moved_elsewhere=0.5, **known)).answer == "cannot tell"
    assert finding.examine(sample(**known)).answer == "cannot tell"
    shaken = sample(moved_elsewhere=0.2, smear_where="frame", **known)
    assert finding.examine(shaken).answer == "cannot tell"


def test_the_time_advised_leaves_two_pixels():
    told = all_findings()["subject-moved"].examine(
        sample(exposure_s=0.5, moved_px=10.0, moved_elsewhere=0.1, support="tripod")
    )
    assert min(told.numbers["fast_s"]) == pytest.approx(0.1)
    assert "1/10 s" in told.remedy
