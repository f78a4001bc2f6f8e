"""`manage.py read`: the JSON of design contract 5.2, without a database."""

import json
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from PIL import Image

from shootlog.blur_in_words import blur_words
from shootlog.intake import cage
from shootlog.reading import QUANTITIES, Reading

FRAMES = Path(__file__).parents[2] / ".." / "shared" / "frames"


@pytest.fixture
def picture(tmp_path):
    """A made file: life size, f/16, 1/60 s, ISO 200, 100 mm, of an invented camera."""
    path = tmp_path / "made.jpg"
    exif = Image.Exif()
    exif[0x010F], exif[0x0110] = "Invented", "One"
    exif.get_ifd(0x8769).update(
        {0x829D: 16.0, 0x829A: 1 / 60, 0x8827: 200, 0x920A: 100.0, 0xA402: 1}
    )
    Image.effect_noise((600, 400), 80).convert("RGB").save(path, exif=exif)
    return path


def read(capsys, *arguments, fails=False):
    if fails:
        with pytest.raises(CommandError) as trouble:
            call_command("read", *map(str, arguments))
        assert trouble.value.returncode == 1
    else:
        call_command("read", *map(str, arguments))
    out = capsys.readouterr().out
    return [json.loads(line) for line in out.splitlines()]


def test_one_object_a_file_in_the_order_given(capsys, picture, tmp_path):
    set_up = tmp_path / "set-up.toml"
    set_up.write_text(
        "ruler_magnification = 1.0\nsensor_width_mm = 36.0\n"
        'records_f_number = "marked"\nsupport = "hand"\n'
    )
    brief = tmp_path / "brief.toml"
    brief.write_text(
        '[[criteria]]\nquantity = "magnification"\nlow = 0.4\nhigh = 0.6\n'
        '[[criteria]]\nneed = "manual exposure"\n'
    )
    (answer,) = read(
        capsys, picture, "--set-up", set_up, "--brief", brief, "--subject-depth-mm", "5"
    )
    assert answer["file"] == str(picture)
    assert len(answer["sha256"]) == 64
    assert answer["recorded"]["f_number"] == 16.0
    assert answer["recorded"]["exposure_mode"] == "manual"
    assert answer["blur"] == blur_words(Reading.from_json(answer["reading"]))
    # f/16 at 1:1 is f/32 at the sensor: N (m + 1), Canon MP-E 65 manual p. 7
    assert answer["reading"]["effective_f_number"]["value"] == pytest.approx(32.0)
    assert answer["reading"]["magnification"] == {
        "value": 1.0, "low": 0.97, "high": 1.03, "origin": "measured",
        "from": "ruler frame of this set-up", "basis": ["measured"],
    }  # fmt: skip
    found = {f["finding"]: f for f in answer["findings"]}
    assert found["diffraction"]["answer"] == "yes"
    assert found["thin-depth"]["answer"] == "yes"
    assert found["thin-depth"]["remedy"]
    assert [v["verdict"] for v in answer["verdicts"]] == ["not yet", "met"]


def test_unknown_is_null_and_never_left_out(capsys, picture):
    (answer,) = read(capsys, picture)
    assert set(QUANTITIES) <= set(answer["reading"])
    assert answer["reading"]["magnification"] is None
    assert answer["recorded"]["subject_distance_m"] is None
    assert "body_serial" not in answer["recorded"]


def test_one_that_cannot_be_read_does_not_stop_the_rest(capsys, picture, tmp_path):
    nothing, empty, text = (tmp_path / name for name in ("no.jpg", "empty.jpg", "text.jpg"))
    empty.touch()
    text.write_text("not a picture")
    answers = read(capsys, nothing, picture, empty, text, tmp_path, fails=True)
    assert ["error" in answer for answer in answers] == [True, False, True, True, True]
    assert all(answer["file"] in answer["error"] or answer["error"] for answer in answers[2:])
    assert "no.jpg" in answers[0]["error"]


def test_facts_stand_where_only_the_picture_cannot_be_read(capsys, picture):
    """Cut off inside the picture: what the camera wrote lies before it and is whole."""
    picture.write_bytes(picture.read_bytes()[:-20_000])
    (answer,) = read(capsys, picture, fails=True)
    assert "stops in the middle of the picture" in answer["error"]
    assert answer["recorded"]["f_number"] == 16
    assert answer["reading"]["f_number"]["value"] == 16
    assert answer["reading"]["sharp_share"] is None
    shake = next(f for f in answer["findings"] if f["finding"] == "shake")
    assert shake["answer"] == "cannot tell"


def test_facts_stand_where_the_decoder_did_not_survive(capsys, picture, monkeypatch):
    monkeypatch.setattr(cage, "look_in_cage", breaks)
    (answer,) = read(capsys, picture, fails=True)
    assert answer["error"] == "made.jpg broke off."
    assert answer["recorded"]["iso"] == 200
    assert answer["verdicts"] == []


def breaks(path, *, name, **how):
    raise cage.Broke(f"{name} broke off.")


@pytest.mark.parametrize(
    ("option", "text", "says"),
    [("--set-up", "tubes = 3", "'tubes' is not known"),
     ("--set-up", "tube_mm = -3", "outside"),
     ("--set-up", "tube_mm = ", "set-up"),
     ("--brief", "[[criteria]]\nneed = 'patience'", "no need")],
)  # fmt: skip
def test_a_file_beside_it_that_is_amiss_is_named(picture, tmp_path, option, text, says):
    path = tmp_path / "beside.toml"
    path.write_text(text)
    with pytest.raises(CommandError, match=says):
        call_command("read", str(picture), option, str(path))


@pytest.mark.parametrize("value", ["0", "-2", "nan", "inf"])
def test_an_absurd_depth_is_refused(picture, value):
    with pytest.raises(CommandError, match="no depth"):
        call_command("read", str(picture), f"--subject-depth-mm={value}")


def test_an_area_outside_the_frame_is_refused(picture):
    with pytest.raises(CommandError, match="four fractions"):
        call_command("read", str(picture), "--wanted", "0.9,0.9,0.5,0.5")


@pytest.mark.skipif(not FRAMES.is_dir(), reason="the shared frames lie beside the project")
def test_real_files(capsys):
    names = ["macro/mushroom.jpg", "macro/Nikon_D60.jpg", "macro/Olympus_PEN_E-P3.jpg"]
    answers = read(capsys, *[FRAMES / name for name in names])
    truth = json.loads((FRAMES / "truth.json").read_text())["files"]
    for name, answer in zip(names, answers, strict=True):
        assert answer["recorded"]["f_number"] == pytest.approx(truth[name]["FNumber"])
        assert answer["recorded"]["exposure_s"] == pytest.approx(truth[name]["ExposureTime"])
        assert answer["reading"]["clipped_share"]["origin"] == "measured"
        assert answer["caption"]
