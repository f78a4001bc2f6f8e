"""`manage.py series` and `manage.py ruler`: one JSON line, bad files named, the rest still done."""

import io
import json
from pathlib import Path

import numpy as np
import pytest
from django.core.management import CommandError, call_command
from PIL import Image

from tests.optics.evidence import rulers
from tests.shootlog.series import stacks


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("stack")
    made, _ = stacks.random_stack(0)
    for k, frame in enumerate(made.frames[:8]):
        Image.fromarray(frame.astype(np.uint8)).save(folder / f"{k:02d}.jpg", quality=92)
    return sorted(folder.iterdir())


def run(command, *words):
    out = io.StringIO()
    status = 0
    try:
        call_command(command, *words, stdout=out)
    except SystemExit as end:
        status = end.code
    return [json.loads(line) for line in out.getvalue().splitlines()], status


def test_a_stack_from_files(files, tmp_path):
    proof = tmp_path / "proof.png"
    (result,), status = run("series", "stack", *map(str, files), "--proof", str(proof))
    assert status == 0
    assert len(result["focus_position"]) == 8
    assert result["proof"] == str(proof)
    assert proof.stat().st_size > 10_000
    assert {"frames", "magnification", "exposure_spread_ev", "exposure_jumps", "moved"} <= set(
        result
    )
    assert {"gaps", "covered_share", "starts_in_front", "ends_behind", "step_mm"} <= set(result)
    assert {"planned_step_mm", "out_of_order", "findings", "words"} <= set(result)


def test_a_broken_file_in_the_middle_is_named_and_the_rest_checked(files, tmp_path):
    broken = tmp_path / "broken.jpg"
    broken.write_bytes(Path(files[3]).read_bytes()[:300])
    given = [*map(str, files[:3]), str(broken), *map(str, files[4:])]
    (result,), status = run("series", "stack", *given)
    assert status == 1
    assert [(u["place"], u["file"]) for u in result["unreadable"]] == [(4, str(broken))]
    assert result["trouble"].startswith(f"Frame 4 ({broken}) can't be opened. The other 7 are")
    assert len(result["frames"]) == 7


def test_the_directions_of_a_light_study_stay_with_their_files(files, tmp_path):
    broken = tmp_path / "broken.jpg"
    broken.write_bytes(b"no picture")
    given = [str(files[0]), str(broken), str(files[1])]
    (result,), _ = run("series", "light", *given, "--directions", "side", "back", "below")
    assert [row["direction"] for row in result["light"]] == ["side", "below"]


def test_the_proof_goes_by_time_whatever_order_the_files_came_in(tmp_path):
    rail = sorted((Path(__file__).parents[3] / "fixtures/series/pod-rail").glob("0*.jpg"))[:4]
    proofs = []
    for order in (rail, rail[::-1]):
        proofs.append(tmp_path / f"{len(proofs)}.png")
        run("series", "stack", *map(str, order), "--proof", str(proofs[-1]))
    assert proofs[0].read_bytes() == proofs[1].read_bytes()


def test_the_depth_on_a_ruler_stands_beside_the_formula(tmp_path):
    """A ruler at 45 degrees beside the ribbon, in frames from a renderer's thin lens."""
    set_up = tmp_path / "kenji.toml"
    set_up.write_text(
        'focal_length_mm = 45.0\nsensor_width_mm = 17.28\nrecords_f_number = "marked"\n'
        "pupil_magnification = 1.0\nring_magnification = 0.46\n"
    )
    demo = Path(__file__).parents[3] / "fixtures/demo/frames"
    frames = sorted(map(str, demo.glob("kenji-aperture-series-*.jpg")))
    (result,), _ = run("series", "apertures", *frames, "--set-up", str(set_up))
    rows = [row for row in result["ruler_depth"] if row["measured_mm"]]
    assert len(rows) >= 5
    for row in rows:
        assert row["measured_mm"] == pytest.approx(row["formula_mm"], rel=0.1)
    assert "On the ruler, taken to lean at 45 degrees" in result["words"]


def test_nothing_readable_is_said(tmp_path):
    empty = tmp_path / "empty.jpg"
    empty.write_bytes(b"")
    (result,), status = run("series", "burst", str(empty))
    assert status == 1
    assert result["frames"] == []
    assert result["unreadable"][0]["error"]


def test_what_should_be_sharp_may_be_told(files):
    (result,), _ = run("series", "stack", *map(str, files), "--wanted", "0.1,0.1,0.8,0.8")
    assert result["covered_of"] == "the marked subject"


@pytest.mark.parametrize("area", ["0.5,0.5,0.6,0.2", "0.1,0.1,0,0.2", "nan,0,1,1", "a", "0,0,1"])
def test_an_area_that_is_none_is_refused_by_name(files, area):
    with pytest.raises(CommandError, match="--wanted"):
        run("series", "stack", str(files[0]), "--wanted", area)


@pytest.mark.parametrize("depth", ["0", "-2", "nan"])
def test_a_depth_that_is_none_is_refused_by_name(files, depth):
    with pytest.raises(CommandError, match="subject-depth-mm"):
        run("series", "stack", str(files[0]), "--subject-depth-mm", depth)


def test_a_set_up_file_that_is_not_there_is_named(files):
    with pytest.raises(CommandError, match=r"nowhere\.toml"):
        run("series", "stack", str(files[0]), "--set-up", "nowhere.toml")


def test_ruler_from_a_file(tmp_path):
    picture, true, _ = rulers.ruler_picture(100, "turned")
    path = tmp_path / "ruler.png"
    Image.fromarray(picture.astype(np.uint8)).save(path)
    plain = tmp_path / "plain.png"
    Image.new("L", (300, 200), 90).save(plain)
    lines, status = run("ruler", str(path), str(plain), str(tmp_path / "none.jpg"))
    assert status == 1
    assert lines[0]["px_per_mm"] == pytest.approx(true, rel=0.005)
    assert lines[0]["low"] <= lines[0]["px_per_mm"] <= lines[0]["high"]
    assert lines[1]["px_per_mm"] is None
    assert "No scale" in lines[1]["reason"]
    assert lines[2]["error"]
