"""One finding, one file: the folder is scanned, nothing is registered. Pure."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Mapping
from functools import cache

from shootlog.findings.base import Finding, Outcome
from shootlog.reading import Reading


@cache
def all_findings() -> dict[str, Finding]:
    """Return every finding by its slug, in the order of the alphabet."""
    found: dict[str, Finding] = {}
    for module in sorted(m.name for m in pkgutil.iter_modules(__path__)):
        for thing in vars(importlib.import_module(f"{__name__}.{module}")).values():
            if isinstance(thing, type) and issubclass(thing, Finding) and thing is not Finding:
                found[thing.slug] = thing()
    return dict(sorted(found.items()))


def examine(reading: Reading, *, limits: Mapping[str, float] | None = None) -> list[Outcome]:
    """Ask every finding of a reading; `limits` moves lines by slug."""
    lines = limits or {}
    return [finding.examine(reading, lines.get(slug)) for slug, finding in all_findings().items()]


def finding(slug: str) -> Finding | None:
    """Return a finding, or None for one that is retired."""
    return all_findings().get(slug)
