"""The crop that proves a finding lies where the truth lies, and the good one does not."""

import json

import numpy as np
import pytest
from PIL import Image

from shootlog.findings import all_findings, examine
from shootlog.findings.base import Outcome
from shootlog.intake import turning
from shootlog.intake.pixels import look
from shootlog.reading import Quantity, Reading
from shootlog.recorded import Recorded
from shootlog.work_out import work_out
from tests.optics.evidence_pixels import truth

PROVED = {
    "shake",
    "missed-focus",
    "thin-depth",
    "diffraction",
    "burnt-highlights",
    "blocked-shadows",
    "high-iso",
    "banding",
    "subject-moved",
}


def saved(path, grey, **options):
    Image.fromarray(grey).convert("RGB").save(path, quality=95, **options)
    return path


@pytest.fixture(scope="module")
def half_sharp():
    """Sharp in the left half, a disc of 14 pixels in the right one."""
    light = truth.dead_leaves(480, 800, smallest_px=10)
    sharp = truth.sampled(light)
    soft = truth.sampled(light, truth.disc(light.shape, 14))
    return truth.as_8_bit(np.where(np.arange(800) < 400, sharp, soft), noise=1)


def middle(box):
    return box[0] + box[2] / 2, box[1] + box[3] / 2


def test_soft_is_shown_beside_sharp(half_sharp, tmp_path):
    crops = look(saved(tmp_path / "a.jpg", half_sharp), None, None, [0.8, 0.5])["crops"]
    for slug in ("missed-focus", "thin-depth"):
        assert middle(crops[slug]["here"])[0] > 400, slug
        assert middle(crops[slug]["good"])[0] < 400, slug
    assert middle(crops["missed-focus"]["here"]) == pytest.approx((640, 240), abs=20)
    assert middle(crops["diffraction"]["here"])[0] < 400


@pytest.mark.parametrize("orientation", [1, 4, 6, 7])
def test_places_are_those_of_the_picture_as_shown(half_sharp, orientation, tmp_path):
    upright = Image.fromarray(half_sharp)
    stored = turning.picture_as_shown(upright, turning.UNDONE_BY.get(orientation, orientation))
    exif = Image.Exif()
    exif[0x0112] = orientation
    stored.convert("RGB").save(tmp_path / "a.jpg", quality=95, exif=exif)
    crops = look(tmp_path / "a.jpg", None, None, [0.8, 0.5])["crops"]
    x, y, w, h = crops["missed-focus"]["here"]
    assert middle((x, y, w, h)) == pytest.approx((640, 240), abs=20)
    assert (w, h) == (320, 192)  # lying, whichever way the sensor was held
    assert x + w <= 800
    assert y + h <= 480


def test_what_is_lost_is_shown_at_its_rim_and_what_is_not_beside_it(half_sharp, tmp_path):
    for value, slug in ((255, "burnt-highlights"), (0, "blocked-shadows")):
        grey = half_sharp // 3 + (150 if value else 10)
        grey[60:260, 60:340] = value
        crops = look(saved(tmp_path / "a.png", grey.astype(np.uint8)), None, None)["crops"][slug]
        x, y, w, h = crops["here"]
        lost = (grey[y : y + h, x : x + w] == value).mean()
        assert 0.3 < lost < 0.95, slug
        x, y, w, h = crops["good"]
        assert (grey[y : y + h, x : x + w] == value).mean() < 0.05, slug


def test_grain_is_shown_in_an_even_tone(tmp_path):
    rng = np.random.default_rng(5)
    grey = rng.normal(120, 6, (480, 800))
    grey[:, :450] += 60 * ((np.arange(450) // 9) % 2)
    crops = look(saved(tmp_path / "a.png", grey.clip(0, 255).astype(np.uint8)), None, None)["crops"]
    assert crops["high-iso"]["here"][0] >= 430


def test_a_picture_without_anything_in_it_has_no_crops(tmp_path):
    crops = look(saved(tmp_path / "a.png", np.full((400, 600), 128, np.uint8)), None, None)["crops"]
    assert "shake" not in crops
    assert "burnt-highlights" not in crops


def test_a_yes_carries_its_crops_and_words_and_a_no_none(half_sharp, tmp_path):
    evidence = look(saved(tmp_path / "a.jpg", half_sharp), None, None, [0.8, 0.5])
    reading = work_out(Recorded(), None, evidence)
    assert Reading.from_json(json.loads(json.dumps(reading.as_json()))) == reading
    told = {o.finding: o for o in examine(reading)}
    missed = told["missed-focus"]
    assert missed.answer == "yes"
    assert [crop.words for crop in missed.proof.crops] == [
        "Here it is soft,",
        "and here, where it is sharp.",
    ]
    assert missed.as_json()["proof"]["here"]["x"] == evidence["crops"]["missed-focus"]["here"][0]
    assert Outcome.from_json(json.loads(json.dumps(missed.as_json()))).proof == missed.proof
    assert all(o.proof is None for o in told.values() if o.answer != "yes")


def test_a_slow_time_alone_proves_no_shake():
    here = {"shake": {"here": [1, 2, 30, 40]}}
    told = {"crops": here, "support": "hand"}
    times = {"exposure_s": 1 / 30, "shake_limit_s": 1 / 200}
    numbers = {name: Quantity.exactly(value, "told") for name, value in times.items()}
    shake = all_findings()["shake"]
    suspected = shake.examine(Reading(numbers, told))
    assert suspected.answer == "yes"
    assert suspected.proof is None
    numbers["smear_px"] = Quantity(12.0, 10.0, 14.0, "measured")
    assert shake.examine(Reading(numbers, told | {"smear_where": "frame"})).proof.here.w == 30


def test_every_finding_that_shows_in_pixels_says_what_its_crop_shows():
    assert {slug for slug, finding in all_findings().items() if finding.here} >= PROVED


@pytest.mark.parametrize("crops", [None, [], "x", {"shake": [1]}, {"diffraction": {"here": [1]}}])
def test_readings_kept_before_crops_were_chosen_stay_readable(crops):
    finding = all_findings()["diffraction"]
    fires = finding.fires_on
    outcome = finding.examine(Reading(fires.quantities, {**fires.facts, "crops": crops}))
    assert outcome.answer == "yes"
    assert outcome.proof is None
