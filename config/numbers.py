"""The formulas of `optics` as a reader's text, taken from their docstrings. Pure: no Django.

A formula is what has a References section; nothing is listed by hand.
"""

import functools
import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable
from dataclasses import dataclass
from types import ModuleType
from typing import Any

import optics
import optics.evidence
from config.mathml import as_mathml, equations
from optics.given import Limit, limits_of

# The order of a course: how large, how far, how bright, how deep, how fine, how many.
ORDER = (
    "conjugates",
    "accessories",
    "aperture",
    "exposure",
    "circle_of_confusion",
    "depth",
    "diffraction",
    "blur",
    "best_stop",
    "sampling",
    "shake",
    "stack",
)
UNITS = {
    "cycles_per_mm": "cycles/mm",
    "deg_per_s": "degrees/s",
    "um_per_s": "\u00b5m/s",
    "mm": "mm",
    "um": "\u00b5m",
    "m": "m",
    "s": "s",
    "px": "pixels",
    "deg": "degrees",
    "stops": "stops",
    "dioptre": "dioptres",
    "arcmin": "minutes of arc",
}
WORDS = {
    "f number": "f-number",
    "coc": "circle of confusion",
    "mtf50": "MTF50",
    "mtf": "MTF",
    "otf": "OTF",
    "na": "numerical aperture",
    "close up": "close-up",
    "iso": "ISO",
    "hiatus": "principal planes apart",
    "strehl": "Strehl",
    "airy": "Airy",
    "hansma": "Hansma",
    "nyquist": "Nyquist",
    "cutoff": "cut-off",
    "apex": "APEX",
    "sigma": "noise",
}


RAISED = str.maketrans(
    "-0123456789", "\u207b\u2070\u00b9\u00b2\u00b3\u2074\u2075\u2076\u2077\u2078\u2079"
)


@dataclass(frozen=True)
class Input:
    """One parameter: its name in words, its unit, its range and what it means."""

    words: str
    unit: str
    between: str
    about: str


@dataclass(frozen=True)
class Entry:
    """One formula as a page shows it; `drawn` is MathML made here, all else is plain text."""

    name: str
    words: str
    unit: str
    says: str
    drawn: tuple[str, ...]
    inputs: tuple[Input, ...]
    gives: str
    limits: str
    source: str
    example: str


@dataclass(frozen=True)
class Group:
    """The formulas of one module under its own heading."""

    slug: str
    title: str
    about: str
    entries: tuple[Entry, ...]


@functools.cache
def groups() -> tuple[Group, ...]:
    """Return every formula, by topic."""
    found = [group_of(module) for module in modules()]
    return tuple(group for group in found if group.entries)


def modules() -> list[ModuleType]:
    """The modules of formulas, then those of evidence."""
    names = [f"optics.{one.name}" for one in pkgutil.iter_modules(optics.__path__)]
    first = [f"optics.{name}" for name in ORDER]
    names = [*first, *(name for name in names if name not in first and name != "optics.evidence")]
    names += [
        f"optics.evidence.{one.name}" for one in pkgutil.iter_modules(optics.evidence.__path__)
    ]
    return [importlib.import_module(name) for name in names]


def group_of(module: ModuleType) -> Group:
    """One module's heading and its formulas, in the order they are written."""
    title, _, about = inspect.cleandoc(module.__doc__ or "").partition("\n")
    here = [
        function
        for name, function in vars(module).items()
        if inspect.isfunction(function)
        and function.__module__ == module.__name__
        and not name.startswith("_")
        and "\nReferences\n" in (inspect.getdoc(function) or "")
    ]
    slug = module.__name__.removeprefix("optics.").replace(".", "-")
    return Group(
        slug, title.rstrip("."), in_words(joined(about)), tuple(entry_of(one) for one in here)
    )


def entry_of(function: Callable[..., Any]) -> Entry:
    """One function's docstring in the parts a page shows."""
    text = inspect.getdoc(function) or ""
    sections = sections_of(text)
    name = function.__name__
    words, unit = name_in_words(name)
    written = sections.get("Formula", "")
    return Entry(
        name,
        words[:1].upper() + words[1:],
        unit,
        text.splitlines()[0].removeprefix("Return "),
        tuple(as_mathml(one) for one in equations(written)) if written else (),
        tuple(inputs_of(sections.get("Parameters", ""), limits_of(function))),
        in_words(joined("\n".join(sections["Returns"].splitlines()[1:]))),
        in_words(joined(sections.get("Notes", ""))),
        in_words(joined(sections["References"])),
        worked_out(sections.get("Examples", "")),
    )


def worked_out(example: str) -> str:
    """A doctest as a line of arithmetic and what comes out."""
    lines = [
        line[4:] if line.startswith((">>> ", "... ")) else f"= {line}"
        for line in example.splitlines()
    ]
    return "\n".join(lines)


def sections_of(text: str) -> dict[str, str]:
    """The docstring's sections by their headings."""
    parts = re.split(r"^(\w+)\n-{3,}\n", text, flags=re.M)
    return {name: body.strip("\n") for name, body in zip(parts[1::2], parts[2::2], strict=True)}


def inputs_of(section: str, limits: dict[str, Limit]) -> list[Input]:
    """One row for each parameter, several named together in one."""
    rows = []
    for names, about in re.findall(r"^([\w, *]+) : .+\n((?:    .*\n?)+)", section, re.M):
        for name in names.replace("*", "").split(", "):
            words, unit = name_in_words(name)
            between = in_range(limits[name]) if name in limits else ""
            rows.append(Input(words, unit, between, in_words(joined(about))))
    return rows


def in_range(limit: Limit) -> str:
    """What a formula takes, in words."""
    return f"{plain(limit.low)} to {plain(limit.high)}"


def plain(value: float) -> str:
    """A number as people write it: no exponent of a machine."""
    if value == float("inf"):
        return "infinity"
    if 1e-4 <= abs(value) < 1e7 or value == 0.0:
        return f"{value:,.10g}".replace(",", "\u202f").replace("-", "\u2212")
    mantissa, exponent = f"{value:e}".split("e")
    raised = str(int(exponent)).translate(RAISED)
    factor = float(mantissa)
    return f"10{raised}" if factor == 1.0 else f"{factor:g} \u00d7 10{raised}"


def name_in_words(name: str) -> tuple[str, str]:
    """`depth_of_field_mm` as ('depth of field', 'mm')."""
    unit = ""
    for ending, said in UNITS.items():
        begin = "(?:^|_)" if ending == "cycles_per_mm" else "_"
        without = re.sub(rf"{begin}{ending}(?=$|_from_|_for_|_by_)", "", name)
        if without != name:
            name, unit = without, said
            break
    words = name.replace("_", " ") or "frequency"
    for short, long in WORDS.items():
        words = re.sub(rf"\b{short}\b", long, words)
    return words, unit


def in_words(text: str) -> str:
    """Names in backticks as the words they stand for."""
    return re.sub(
        r"`(?:\w+\.)*(\w+)`", lambda name: f"\u2018{name_in_words(name[1])[0]}\u2019", text
    )


def joined(text: str) -> str:
    """Wrapped lines as one."""
    return " ".join(text.split())
