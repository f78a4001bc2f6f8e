"""A brief as a TOML file, for the `read` command and for whoever keeps briefs as text. Pure."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from course.brief_rows import BriefError, Criterion, check

KEYS = ("title", "subject_depth_mm", "finished_width_mm", "waived", "limits", "criteria")
ROW_KEYS = ("quantity", "need", "low", "high", "words")


@dataclass(frozen=True, kw_only=True)
class Brief:
    """A checked brief."""

    title: str = ""
    subject_depth_mm: float | None = None
    finished_width_mm: float | None = None
    waived: Sequence[str] = ()
    limits: Mapping[str, float] = field(default_factory=dict)
    criteria: Sequence[Criterion] = ()


def read_brief(path: Path) -> Brief:
    """Read and check a brief; a BriefError names what is amiss and the way out."""
    try:
        values = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as trouble:
        raise BriefError(f"{path.name} is not TOML: {trouble}") from None
    _known(values, KEYS, path.name)
    criteria = [_row(row) for row in _list(values.get("criteria", []), "criteria")]
    waived = tuple(str(slug) for slug in _list(values.get("waived", []), "waived"))
    limits = values.get("limits", {})
    if not isinstance(limits, dict):
        raise BriefError("limits: give a table of finding = number")
    drawn = {slug: _number(slug, line) or 0.0 for slug, line in limits.items()}
    check(criteria, waived=waived, limits=drawn)
    return Brief(
        title=str(values.get("title", "")),
        subject_depth_mm=_number("subject_depth_mm", values.get("subject_depth_mm")),
        finished_width_mm=_number("finished_width_mm", values.get("finished_width_mm")),
        waived=waived,
        limits=drawn,
        criteria=criteria,
    )


def _row(row: Any) -> Criterion:
    if not isinstance(row, dict):
        raise BriefError("criteria: each row starts with [[criteria]]")
    _known(row, ROW_KEYS, "criteria")
    if ("quantity" in row) == ("need" in row):
        raise BriefError("criteria: give each row either a quantity or a need")
    return Criterion(
        kind="quantity" if "quantity" in row else "need",
        quantity=str(row.get("quantity", "")),
        need=str(row.get("need", "")).replace("-", " "),
        low=_number("low", row.get("low")),
        high=_number("high", row.get("high")),
        words=str(row.get("words", "")),
    )


def _known(values: Mapping[str, Any], keys: Sequence[str], where: str) -> None:
    strange = sorted(set(values) - set(keys))
    if strange:
        raise BriefError(f"{where}: {strange[0]!r} is not known; known: {', '.join(keys)}")


def _list(value: Any, name: str) -> list[Any]:
    if not isinstance(value, list):
        raise BriefError(f"{name}: give a list")
    return value


def _number(name: str, value: Any) -> float | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BriefError(f"{name} = {value!r} is no number")
    return float(value)
