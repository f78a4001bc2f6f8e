"""One file per maker: what its note in the Exif block says beyond the standard tags.

A maker's module has `MAKES` (starts of the Make tag, upper case) and `read(note)`, which returns
field name -> (value, tag name); fields are those of `Recorded`. Where the maker has said in print
what its f-number means, `habit(facts)` says so for files whose note does not show it. Modules are
found by scanning this folder. A field a maker does not write, or writes unreliably, stays away:
unknown is a value. Layouts are facts known from open readers; each is checked against an
independent reader's values for real files in `tests/shootlog/test_makers.py`.
"""

from __future__ import annotations

import importlib
import pkgutil
from dataclasses import dataclass, field
from functools import cache
from types import ModuleType
from typing import Any

from shootlog.intake.ifd import Directory, Window, byte_order, directory
from shootlog.intake.standard import Tags

Found = dict[str, tuple[Any, str]]

# Wide open and no larger than the lens's own largest opening: within the rounding of f-numbers.
SAME_OPENING = 1.03


@dataclass
class Note:
    """A maker's note where it lies: offsets inside it may count from the block or from the note."""

    window: Window
    at: int
    size: int
    order: str
    tags: Tags
    facts: dict[str, Any] = field(default_factory=dict)

    @property
    def head(self) -> bytes:
        return self.window.read(self.at, min(self.size, 32))

    @property
    def make(self) -> str:
        return (self.tags.text("Make") or "").upper()

    @property
    def model(self) -> str:
        return self.tags.text("Model") or ""

    def entries(self, skip: int = 0, *, order: str | None = None, base: int = 0) -> Directory:
        """Return the directory ``skip`` bytes into the note."""
        return directory(self.window, self.at + skip, order or self.order, base)

    def order_at(self, skip: int) -> str:
        return byte_order(self.window.read(self.at + skip, 2)) or self.order

    def likely_order(self, skip: int) -> str:
        """Return the order in which the directory there has fewer entries: markers can lie."""
        head = self.window.read(self.at + skip, 2)
        return "<" if int.from_bytes(head, "little") < int.from_bytes(head, "big") else ">"


@cache
def makers() -> tuple[ModuleType, ...]:
    names = sorted(module.name for module in pkgutil.iter_modules(__path__))
    return tuple(importlib.import_module(f"{__name__}.{name}") for name in names)


def maker_facts(note: Note | None, tags: Tags, facts: dict[str, Any]) -> Found:
    """Return what the maker's module finds, and what holds for every maker."""
    module = maker_of(tags.text("Make"))
    found = _read(module, note)
    if module is not None and hasattr(module, "habit") and "f_number_habit" not in found:
        found |= module.habit(facts | {name: value for name, (value, _) in found.items()})
    if is_wide_open(facts | {name: value for name, (value, _) in found.items()}):
        found["f_number_habit"] = ("marked", "wide open as the lens is marked")
        found.pop("effective_aperture_ratio", None)
    return found


def maker_of(make: str | None) -> ModuleType | None:
    plain = (make or "").upper()
    return next((module for module in makers() if plain.startswith(module.MAKES)), None)


def _read(module: ModuleType | None, note: Note | None) -> Found:
    if module is None or note is None:
        return {}
    try:
        found: Found = module.read(note)
    except Exception:  # a damaged note counts as none; the standard tags stand
        return {}
    return {name: (value, tag) for name, (value, tag) in found.items() if value is not None}


def is_wide_open(facts: dict[str, Any]) -> bool:
    """True where the recorded f-number is the largest opening the lens is sold with.

    An effective value could only be larger than that, unless focused so far away that both are
    the same; so taking it as the marked value is right either way.
    """
    recorded, largest = facts.get("f_number"), facts.get("lens_largest_f_number")
    return bool(recorded and largest and recorded <= largest * SAME_OPENING)
