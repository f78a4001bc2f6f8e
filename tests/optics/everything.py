"""Every public function of `optics` except its evidence, found by looking."""

import importlib
import inspect
from pathlib import Path

import optics
from optics.given import LIMITS, limits_of

__all__ = ["formulas", "limits_of", "modules", "parameters", "public_functions"]

FOLDER = Path(optics.__file__).parent
APART = {"__init__", "given", "kit"}  # the machinery of checking, not formulas
SOLVER = {"optics.sweep": {"sweep"}, "optics.solve": {"solve"}}  # the rest there are its parts


def modules():
    return [
        importlib.import_module(f"optics.{path.stem}")
        for path in sorted(FOLDER.glob("*.py"))
        if path.stem not in APART
    ]


def public_functions():
    """Functions with a References section to hold to: all but the machinery below the line."""
    return [
        function
        for module in modules()
        for name, function in sorted(vars(module).items())
        if inspect.isfunction(function)
        and function.__module__ == module.__name__
        and not name.startswith("_")
        and name not in INSIDE
        and name in SOLVER.get(module.__name__, {name})
    ]


# Parts of the exact integral, called with what is already checked.
INSIDE = {"normalised_otf", "integral", "squared_nodes", "disc_table"}


def formulas():
    """Those that take numbers by the names of the table of ranges."""
    return [
        function
        for function in public_functions()
        if hasattr(function, "__wrapped__") and set(parameters(function)) <= set(LIMITS)
    ]


def parameters(function):
    return list(inspect.signature(function).parameters)
