"""Every public function of `optics` except its evidence, found by looking."""

import importlib
import inspect
from pathlib import Path

import optics
from optics.given import LIMITS, limits_of

__all__ = ["formulas", "limits_of", "modules", "parameters", "public_functions"]

FOLDER = Path(optics.__file__).parent
APART = {"__init__", "given", "kit"}  # the machinery of checking, not formulas
# The public ones of modules whose other functions are their parts.
PUBLIC = {"optics.sweep": {"sweep"}, "optics.solve": {"solve"}, "optics.transfer": set()}


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
        and name in PUBLIC.get(module.__name__, {name})
    ]


INSIDE = {"disc_table"}  # called with what is already checked


def formulas():
    """Those that take numbers by the names of the table of ranges."""
    return [
        function
        for function in public_functions()
        if hasattr(function, "__wrapped__") and set(parameters(function)) <= set(LIMITS)
    ]


def parameters(function):
    return list(inspect.signature(function).parameters)
