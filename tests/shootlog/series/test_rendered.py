"""The rendered stacks of `fixtures/series`: true steps, gaps, nudges and jumps stand beside them.

A third party's renderer made them (fixtures/README.md); nothing here knew of the method.
"""

import tomllib
from pathlib import Path

import pytest

from shootlog.intake.shots import open_shot
from shootlog.series import check

SERIES = Path(__file__).parents[3] / "fixtures" / "series"
STACKS = [path for path in sorted(SERIES.glob("*.toml")) if '"stack"' in path.read_text("utf-8")]
QUICK = ("beetle-rail-gap-9", "pod-rail", "pod-rail-drift")
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
        and found["starts_in_front"] in (truth["starts_in_front"], None)
        and found["ends_behind"] in (truth["ends_behind"], None)
    )


@pytest.mark.parametrize("name", QUICK)
def test_a_rendered_stack(name):
    assert is_right(*told(SERIES / f"{name}.toml"))


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
