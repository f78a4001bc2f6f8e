"""What the findings say about rendered frames whose truth is known, as a table.

`pytest -s -m slow tests/shootlog/test_truth_table.py` prints it as Markdown. The frames come
from a physically based renderer (fixtures/render); their truth is in the .toml beside each.
The lines were set on `fixtures/frames`; `fixtures/frames_anew` has other seeds, subjects and
paths, and no line was ever moved for it, but those of subject-moved, which were read off both;
`fixtures/frames_third` was rendered after all lines stood, and is only looked at. Real frames have
no truth beside them; they were looked at one by one, and none is shaken or banded.
"""

import tomllib
from pathlib import Path

import pytest

from shootlog.findings import examine
from shootlog.intake.pixels import look
from shootlog.intake.tags import read_recorded
from shootlog.set_up import SetUp
from shootlog.work_out import work_out
from tests.shootlog import truth_errors

PROJECT = Path(__file__).resolve().parents[2]
SETS = {"set on": "frames", "drawn anew": "frames_anew", "third": "frames_third"}
REAL = PROJECT / ".." / "shared" / "frames"

#: Findings that rest on pixels (or on the lens alone), and the precision held in each set.
FROM_PIXELS = (
    "shake", "burnt-highlights", "blocked-shadows", "banding", "missed-focus", "thin-depth",
    "diffraction", "high-iso", "subject-moved",
)  # fmt: skip
LEAST_PRECISION = 0.95
#: Told apart from one another: rows of the confusion table, and what may be said of them.
CONFUSED = ("shake", "subject-moved", "missed-focus", "diffraction")
SAID = CONFUSED


def where_it_lies_in_the_file(truth):
    """The wanted point in shares of the file as shown: after its crop or its zoom."""
    frame, blur = truth["frame"], truth["blur"]
    x, y = blur["wanted_x_px"] / frame["width_px"], blur["wanted_y_px"] / frame["height_px"]
    if frame["digital_zoom"] > 1:
        x, y = (0.5 + (v - 0.5) * frame["digital_zoom"] for v in (x, y))
    if frame["treatment"] == "edited":  # cut as fixtures/render/frames.py does
        x, y = (x - 0.11) / 0.75, (y - 0.08) / 0.85
    return [min(max(x, 0.0), 1.0), min(max(y, 0.0), 1.0)]


def outcomes_of(truth, path):
    recorded = read_recorded(path)
    frame, optics = truth["frame"], truth["optics"]
    evidence = look(path, recorded, None, where_it_lies_in_the_file(truth))
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
    """Set -> [(truth, evidence, answers)]."""
    found = {}
    for name, folder in SETS.items():
        found[name] = []
        for described in sorted((PROJECT / "fixtures" / folder).glob("*.toml")):
            truth = tomllib.loads(described.read_text(encoding="utf-8"))
            if "expect" in truth:
                path = described.with_name(truth["file"])
                found[name].append((truth, *outcomes_of(truth, path)))
    return found


@pytest.fixture(scope="module")
def on_real_frames():
    """Name -> what is said of a real frame of which nothing is told."""
    if not REAL.exists():
        return {}
    paths = [p for folder in ("macro", "stacks/scorpion") for p in (REAL / folder).glob("*.jpg")]
    said = {}
    for path in sorted(paths):
        recorded = read_recorded(path)
        reading = work_out(recorded, SetUp(), look(path, recorded, None))
        said[path.name] = {o.finding for o in examine(reading) if o.answer == "yes"}
    return said


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


def table(judged, on_real_frames, folder):
    every = [frame for frames in judged.values() for frame in frames]
    first, second, third = (len(frames) for frames in judged.values())
    lines = [
        f"| finding | found of those there, lines set on these {first} | unfounded "
        f"| found, {second} drawn anew | unfounded | found, a third set of {third} | unfounded "
        f"| precision | recall, all | said of {len(on_real_frames)} real frames |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    for slug in sorted({slug for _, _, answers in every for slug in answers}):
        sets = [counted(frames, slug) for frames in judged.values()]
        right, unfounded, missed = (sum(one) for one in zip(*sets, strict=True))
        real = sum(slug in said for said in on_real_frames.values())
        own = " | ".join(f"{a} of {a + missed} | {b}" for a, b, missed in sets)
        lines.append(
            f"| {slug} | {own} "
            f"| {share(right, right + unfounded)} | {share(right, right + missed)} "
            f"| {real if on_real_frames else '-'} |"
        )
    return "\n".join([*lines, "", *confusion(every), "", *truth_errors.table(every, folder)])


def confusion(judged):
    lines = ["| what it was (all sets) | " + " | ".join(f"said {s}" for s in SAID) + " | none |"]
    lines.append("|---" * (len(SAID) + 2) + "|")
    for was in CONFUSED:
        own = [a for t, _, a in judged if t["expect"].get(was) == "yes"]
        said = [sum(a.get(slug) == "yes" for a in own) for slug in SAID]
        none = sum(all(a.get(slug) != "yes" for slug in SAID) for a in own)
        lines.append(f"| {was}, {len(own)} | " + " | ".join(map(str, said)) + f" | {none} |")
    return lines


@pytest.mark.slow
def test_the_table_prints_and_precision_is_held(judged, on_real_frames, tmp_path):
    text = table(judged, on_real_frames, tmp_path)
    print("\n" + text)
    for name, frames in judged.items():
        for slug in FROM_PIXELS:
            right, unfounded, _ = counted(frames, slug)
            if right + unfounded:
                assert right / (right + unfounded) >= LEAST_PRECISION, (name, slug)


@pytest.mark.slow
def test_quiet_frames_raise_nothing_from_their_pixels(judged):
    quiet = [
        (t["file"], answers)
        for frames in judged.values()
        for t, _, answers in frames
        if t["file"].startswith("quiet")
    ]
    assert len(quiet) >= 50
    said = {(file, slug) for file, a in quiet for slug in FROM_PIXELS if a.get(slug) == "yes"}
    assert said == set()


@pytest.mark.slow
def test_real_frames_are_not_called_shaken_banded_or_blocked(on_real_frames):
    if not on_real_frames:
        pytest.skip("the shared real frames are not beside the project")
    told = {(name, s) for name, said in on_real_frames.items() for s in said}
    assert {(name, s) for name, s in told if s in ("shake", "banding")} == set()
