"""The house's rules for a formula: unit, range, source, example, and a test that names it."""

import inspect
import re
from pathlib import Path

import pytest

import optics
from optics.given import LIMITS
from tests.optics.everything import formulas, modules, parameters, public_functions

ALL = public_functions()
TESTS = Path(__file__).parent
UNITS = (
    "mm|micromet|um|metre|degree|radian|second|pixel|dioptre|stop|wave|cycles|f-number|"
    "magnification|ratio|share|factor|chance|times|APEX|frames|size over|diameter|angle|unit|"
    "EV|apertu|refractive|sensitivity|of what is between|power|1 in focus|modulation|argument|"
    "number|from 1|minutes|bins|multiply|pitch|size in that"
)


def named(function):
    return f"{function.__module__}.{function.__name__}"


@pytest.mark.parametrize("function", ALL, ids=named)
def test_the_docstring_has_its_sections(function):
    text = inspect.getdoc(function)
    wanted = ["Parameters", "Returns", "References", "Examples"]
    assert all(re.search(rf"^{title}\n-+$", text, re.M) for title in wanted)
    assert ">>> " in text
    assert len(text.splitlines()[0]) <= 75


@pytest.mark.parametrize("function", formulas(), ids=named)
def test_a_formula_writes_its_formula_out(function):
    assert re.search(r"^Formula\n-------\n.*=", inspect.getdoc(function), re.M)


@pytest.mark.parametrize("function", ALL, ids=named)
def test_every_parameter_is_described_with_its_unit(function):
    text = inspect.getdoc(function).split("Returns\n")[0]
    for name in parameters(function):
        entry = re.search(rf"^\*?(?:\w+, )*{name}(?:, \w+)* : .+\n((?:    .*\n?)+)", text, re.M)
        assert entry, f"{name} is not described"
        about = f"{name} {entry[1]}"
        assert re.search(UNITS, about, re.I), f"{name} has no unit: {entry[1]}"


@pytest.mark.parametrize("function", ALL, ids=named)
def test_the_result_is_described_with_its_unit(function):
    text = inspect.getdoc(function)
    returned = re.search(r"^Returns\n-------\n(.+\n(?:    .*\n?)+)", text, re.M)
    assert re.search(UNITS, f"{returned[1]} {function.__name__}", re.I)


def test_every_public_function_is_named_in_some_test():
    # A formula is also run by the generic tests; this asks for a test that means it.
    words = set()
    for path in [*TESTS.glob("test_*.py"), TESTS / "published.py"]:
        if path.name not in ("test_house_rules.py", "test_bad_input.py"):
            words |= set(re.findall(r"\w+", path.read_text(encoding="utf-8")))
    assert not sorted({f.__name__ for f in ALL} - words)


def test_every_range_in_the_table_is_used():
    used = {name for function in formulas() for name in parameters(function)}
    assert set(LIMITS) - used == {"focal_plane_resolution"}  # taken by name in sampling


def test_ranges_run_upward():
    assert all(limit.low < limit.high for limit in LIMITS.values())


def test_the_formulas_import_numpy_and_nothing_else_from_outside():
    standard = {"collections", "dataclasses", "functools", "inspect", "itertools", "math", "typing"}
    for module in modules():
        source = Path(module.__file__).read_text(encoding="utf-8")
        roots = set(
            re.findall(r"^(?:from|import) (\w+)(?:[.]\S+)?(?: import .+| as .+)?$", source, re.M)
        )
        assert roots <= standard | {"numpy", "optics"}, module.__name__


def test_formulas_never_see_pixels():
    for path in Path(optics.__file__).parent.glob("*.py"):
        assert "optics.evidence" not in path.read_text(encoding="utf-8")
