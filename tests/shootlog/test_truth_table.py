"""What the findings say about rendered frames whose truth is known, as a table.

`pytest -s tests/shootlog/test_truth_table.py` prints it as Markdown; `WD_TRUTH_TABLE=FILE` writes
it too. The frames come from a physically based renderer (fixtures/render); their truth is in the
.toml beside each. Real frames without truth are asked only to raise nothing that they cannot show.
"""

import os
import statistics
import tomllib
from pathlib import Path

import pytest

from shootlog.findings import examine
from shootlog.intake.pixels import look
from shootlog.intake.tags import read_recorded
from shootlog.set_up import SetUp
from shootlog.work_out import work_out

PROJECT = Path(__file__).resolve().parents[2]
RENDERED = PROJECT / "fixtures" / "frames"
REAL = PROJECT / ".." / "shared" / "frames"

#: Findings that rest on pixels, with the precision held on rendered frames.
FROM_PIXELS = {
    "shake": 0.95,
    "burnt-highlights": 0.95,
    "blocked-shadows": 0.95,
    "banding": 0.95,
    "missed-focus": 0.95,
    "thin-depth": 0.95,  # pure geometry, once the depth is told
    "diffraction": 0.95,
}
#: Told apart from one another: rows and columns of the confusion table.
CONFUSED = ("shake", "subject-moved", "missed-focus")


def outcomes_of(truth, path):
    recorded = read_recorded(path)
    frame, optics, blur = truth["frame"], truth["optics"], truth["blur"]
    wanted = [
        blur["wanted_x_px"] / frame["width_px"],
        blur["wanted_y_px"] / frame["height_px"],
    ]
    evidence = look(path, recorded, None, wanted)
    set_up = SetUp(
        focal_length_mm=optics["focal_length_mm"],
        ruler_magnification=optics["magnification"],
        records_f_number=frame["records_f_number"],
        sensor_width_mm=optics["sensor_width_mm"],
        support=frame["support"],
    )
    # what a student tells: the subject's depth that should be sharp, and how it was held
    reading = work_out(
        recorded,
        set_up,
        evidence,
        support=frame["support"],
        subject_depth_mm=truth["subject"]["wanted_depth_mm"],
    )
    return evidence, {o.finding: o.answer for o in examine(reading)}


@pytest.fixture(scope="module")
def judged():
    found = []
    for described in sorted(RENDERED.glob("*.toml")):
        truth = tomllib.loads(described.read_text(encoding="utf-8"))
        if "expect" in truth:
            found.append((truth, *outcomes_of(truth, RENDERED / truth["file"])))
    if len(found) < 20:
        pytest.skip("the rendered frames are not in fixtures/frames")
    return found


def counted(judged, slug):
    """Right yes, unfounded yes, missed yes; frames where either answer will do are left out."""
    pairs = [(t["expect"].get(slug), answers.get(slug)) for t, _, answers in judged]
    return (
        sum(e == "yes" and a == "yes" for e, a in pairs),
        sum(e == "no" and a == "yes" for e, a in pairs),
        sum(e == "yes" and a != "yes" for e, a in pairs),
    )


def share(part, whole):
    return f"{part / whole:.2f}" if whole else "-"


def table(judged):
    lines = [
        f"| finding (of {len(judged)} rendered frames) | yes, rightly | yes, unfounded | missed "
        "| precision | recall |",
        "|---|---|---|---|---|---|",
    ]
    for slug in sorted({slug for _, _, answers in judged for slug in answers}):
        right, unfounded, missed = counted(judged, slug)
        lines.append(
            f"| {slug} | {right} | {unfounded} | {missed} | {share(right, right + unfounded)} "
            f"| {share(right, right + missed)} |"
        )
    lines += ["", *confusion(judged), "", *measured(judged)]
    return "\n".join(lines)


def confusion(judged):
    lines = ["| what it was \\ what was said | " + " | ".join(CONFUSED) + " | none of them |"]
    lines.append("|---" * (len(CONFUSED) + 2) + "|")
    for was in CONFUSED:
        own = [a for t, _, a in judged if t["expect"].get(was) == "yes"]
        said = [sum(a.get(slug) == "yes" for a in own) for slug in CONFUSED]
        none = sum(all(a.get(slug) != "yes" for slug in CONFUSED) for a in own)
        lines.append(f"| {was} | " + " | ".join(map(str, said)) + f" | {none} |")
    return lines


def measured(judged):
    lengths, angles = [], []
    for truth, evidence, _ in judged:
        real = truth["shake"]
        if real["kind"] == "line" and evidence["smear_angle_deg"] is not None:
            lengths.append(abs(evidence["smear_px"] / real["length_px"] - 1))
            # the scenes count angles with y upwards
            apart = (evidence["smear_angle_deg"] + real["angle_deg"] + 90) % 180 - 90
            angles.append(abs(apart))
    if not lengths:
        return ["No straight smear was measured."]
    return [
        f"Straight smears measured: {len(lengths)}. Median error of length "
        f"{statistics.median(lengths):.0%}, of angle {statistics.median(angles):.0f} degrees."
    ]


@pytest.mark.slow
def test_the_table_prints_and_precision_is_held(judged):
    text = table(judged)
    print("\n" + text)
    if target := os.environ.get("WD_TRUTH_TABLE"):
        Path(target).write_text(text + "\n", encoding="utf-8")
    for slug, least in FROM_PIXELS.items():
        right, unfounded, _ = counted(judged, slug)
        if right + unfounded:
            assert right / (right + unfounded) >= least, slug


@pytest.mark.slow
def test_quiet_frames_raise_nothing_from_their_pixels(judged):
    quiet = [(t["file"], a) for t, _, a in judged if t["file"].startswith("quiet")]
    if not quiet:
        pytest.skip("no quiet frames are rendered yet")
    said = {(file, slug) for file, a in quiet for slug in FROM_PIXELS if a.get(slug) == "yes"}
    assert said == set()


@pytest.mark.slow
def test_real_frames_are_not_called_shaken_or_banded():
    """No shared real frame is a shaken or banded one (looked at one by one); blur/clock_motion
    is a synthetic movement and left out."""
    if not REAL.exists():
        pytest.skip("the shared real frames are not beside the project")
    paths = [p for folder in ("macro", "stacks/scorpion") for p in (REAL / folder).glob("*.jpg")]
    said = []
    for path in paths:
        evidence = look(path, read_recorded(path), None)
        moved = evidence["smear_where"] and evidence["smear_low_px"] > 3
        if moved or evidence["banding_share"]:
            said.append(path.name)
    assert said == []
