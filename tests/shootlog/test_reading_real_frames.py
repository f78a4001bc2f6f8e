"""Real camera files through reading and findings, held against what an independent reader saw.

`frames/index.csv` beside the project: its columns come from ExifTool, its flags from comparing
pixel counts and software tags (see the README there).
"""

import csv
import json
from functools import cache
from pathlib import Path

import pytest

from shootlog.caption import caption
from shootlog.findings import examine
from shootlog.intake.tags import Unreadable, read_recorded
from shootlog.work_out import work_out

FRAMES = Path(__file__).parents[2] / ".." / "shared" / "frames"
REAL = ("camera", "macro", "heic", "raw", "exif_only", "ruler")
pytestmark = pytest.mark.skipif(
    not FRAMES.is_dir(), reason="the shared frames lie beside the project, not in a clone of it"
)


@cache
def frames():
    found = []
    with (FRAMES / "index.csv").open() as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        if row["category"] not in REAL:
            continue
        try:
            recorded = read_recorded(FRAMES / row["path"])
        except Unreadable:
            continue
        reading = work_out(recorded)
        found.append((row, recorded, reading, {o.finding: o for o in examine(reading)}))
    return found


def test_many_are_read_and_kept():
    assert len(frames()) > 150
    for _, recorded, reading, outcomes in frames():
        json.dumps(reading.as_json(), allow_nan=False)
        json.dumps([o.as_json() for o in outcomes.values()], allow_nan=False)
        assert caption(recorded, reading)


def test_no_original_is_called_stripped():
    """The least forgivable claim: a file in which ExifTool finds an exposure has its data."""
    accused = [
        row["path"]
        for row, _, _, outcomes in frames()
        if outcomes["stripped-file"].answer == "yes" and (row["shutter_s"] or row["f_number"])
    ]
    assert accused == []


def test_no_original_is_called_edited():
    """Every yes has a flag of the independent reader behind it, or an edit history of its own."""
    accused = [
        (row["path"], outcomes["edited-file"].words)
        for row, recorded, _, outcomes in frames()
        if outcomes["edited-file"].answer == "yes"
        and not {"edited", "pixels_not_exif_size"} & set(row["flags"].split())
        and not recorded.edit_history
    ]
    assert accused == []


def test_files_of_another_size_than_the_camera_made_are_found():
    missed = [
        row["path"]
        for row, recorded, _, outcomes in frames()
        if "pixels_not_exif_size" in row["flags"]
        and row["file_type"] == "JPEG"
        and recorded.recorded_height_px  # else there is nothing to compare with
        and outcomes["edited-file"].answer == "no"
    ]
    assert missed == []


def test_close_lenses_nearer_than_four_focal_lengths_get_a_range():
    """EF 100 L at 0.37 m has no thin-lens solution at all (frames README, lens facts)."""
    reading = next(
        r for row, _, r, _ in frames() if row["path"].endswith("CanonEF100mmF2.8LMacroISUSM.jpg")
    )
    assert reading["magnification"].value is None
    assert reading["magnification"].low < 0.5
    assert reading["effective_f_number"].low > 5.6


def test_a_recorded_effective_number_is_kept_as_it_is():
    """Where the body writes the effective number, it is what the reading says."""
    effective = [
        (recorded, reading)
        for _, recorded, reading, _ in frames()
        if recorded.f_number_habit == "effective" and recorded.f_number
    ]
    assert effective
    for recorded, reading in effective:
        assert reading.value("effective_f_number") == pytest.approx(recorded.f_number)


def test_most_close_findings_say_cannot_tell_without_a_set_up():
    """Tags alone, no set-up told: diffraction only where even the smallest number is past it.

    The disc of equal MTF50 is 1.745 wavelengths times f-number (exact OTF); compacts with a
    sensor of 5 mm are past it at f/9.
    """
    for row, _, reading, outcomes in frames():
        if outcomes["diffraction"].answer == "yes":
            light, coc = reading["effective_f_number"], reading["coc_um"]
            assert light.low > 22 or 1.745 * 0.55 * light.low > coc.high, row["path"]
        assert outcomes["shake"].answer != "yes", row["path"]  # nobody said it was by hand
        assert outcomes["thin-depth"].answer == "cannot tell"
