"""The rendered stacks of `fixtures/series`: true steps, gaps, nudges and jumps stand beside them.

A third party's renderer made them (fixtures/README.md); nothing here knew of the method.
"""

import math
import tomllib
from pathlib import Path

import pytest

from shootlog.intake.shots import open_shot
from shootlog.series import check

SERIES = Path(__file__).parents[3] / "fixtures" / "series"
STACKS = [path for path in sorted(SERIES.glob("*.toml")) if '"stack"' in path.read_text("utf-8")]
QUICK = ("beetle-rail-gap-9", "pod-rail", "pod-rail-drift", "pod-rail-wind")
opened = {}


def told(path):
    facts = tomllib.loads(path.read_text("utf-8"))
    for name in facts["frames"]:
        if name not in opened:
            opened[name] = open_shot(SERIES / name)
    return facts["truth"], check("stack", [opened[name] for name in facts["frames"]])


def is_right(truth, found):
    return (
        found["gaps"] == truth["gaps"]
        and [m["between"] for m in found["moved"]] == truth["moved_between"]
        and found["exposure_jumps"] == truth["exposure_jumps"]
        and found["out_of_order"] == []
        and found["softened"] == truth["subject_moved"]
        and found["starts_in_front"] in (truth["starts_in_front"], None)
        and found["ends_behind"] in (truth["ends_behind"], None)
    )


@pytest.mark.parametrize("name", QUICK)
def test_a_rendered_stack(name):
    assert is_right(*told(SERIES / f"{name}.toml"))


def other(name, **told):
    facts = tomllib.loads((SERIES / f"{name}.toml").read_text("utf-8"))
    shots = [open_shot(SERIES / file) for file in facts["frames"]]
    return facts["truth"], check(facts["kind"], shots, told)


def test_the_best_stop_of_a_rendered_ribbon_within_a_third_of_a_stop():
    truth, found = other("ribbon-apertures")
    assert found["f_number_kind"] == "as recorded"
    assert abs(2 * math.log2(found["best_f_number"] / truth["best_f_number_marked"])) < 1 / 3
    low, high = found["best_f_number_between"]
    assert low <= truth["best_f_number_marked"] <= high


def test_a_rendered_camera_that_moved_draws_no_curve():
    truth, found = other("ribbon-apertures-moved")
    assert found["best_f_number"] is None
    assert [m["between"] for m in found["moved"]] == truth["moved_between"]


@pytest.mark.parametrize("name", ["beetle-approach", "seed-head-approach"])
def test_rendered_approaches_within_three_percent(name):
    truth, found = other(name)
    assert found["scale_steps"] == pytest.approx(truth["scale_steps"], rel=0.03)
    assert found["rising"] is truth["rising"]


def test_a_rendered_light_study_holds_its_framing_and_names_the_shadow_side():
    truth, found = other("pod-light")
    assert found["framing_held"] is truth["same_framing"]
    sides = {row["direction"] or k: row["shadow_side"] for k, row in enumerate(found["light"])}
    # the lamp stood above in front, on the left, behind and below: `towards` in the .toml
    assert list(sides.values())[:2] == ["below", "right"]
    assert list(sides.values())[3] == "above"


@pytest.mark.slow
def test_the_table_of_rendered_truths(capsys):
    """Every gap, nudge and jump named exactly, nothing claimed that is not there."""
    rows, wrong, off = [], [], []
    for path in STACKS:
        truth, found = told(path)
        if not is_right(truth, found):
            wrong.append(path.stem)
        off.append(abs(found["covered_share"] - truth["covered_share"]))
        rows.append(
            f"{path.stem:26s} gaps {found['gaps']} moved {[m['between'] for m in found['moved']]}"
            f" jumps {len(found['exposure_jumps'])} covered {found['covered_share']:.2f}"
            f" (true {truth['covered_share']:.2f})"
        )
    with capsys.disabled():
        print(
            "\n"
            + "\n".join(rows)
            + f"\nwrong: {wrong}; covered off by {sorted(off)[len(off) // 2]:.3f}"
        )
    assert len(STACKS) >= 30
    assert wrong == []
