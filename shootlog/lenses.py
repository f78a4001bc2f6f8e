"""What is known of close-up lenses, by the name a camera writes.

A table of facts, each row with its source. An empty place is not known, and
stays `None`: a guess would end as a number on a page.
"""

import csv
import functools
from dataclasses import dataclass
from pathlib import Path

TABLE = Path(__file__).with_name("lenses.csv")


@dataclass(frozen=True)
class Lens:
    """One row: lengths in mm, the rest as `lenses.csv` says at its top."""

    focal_length_mm: float
    closest_mm: float | None
    largest_ratio: float | None
    closest_focal_length_mm: float | None
    internal_focus: bool | None
    records: str | None
    source: str


def find_lens(name: str | None) -> Lens | None:
    """Return the facts of the lens whose known name this begins with.

    Parameters
    ----------
    name : str or None
        As the camera wrote it; case and extra blanks play no part.

    Returns
    -------
    Lens or None
        None where the table has no such lens.
    """
    if not name:
        return None
    written = " ".join(name.lower().split())
    fitting = [known for known in lens_table() if written.startswith(known)]
    return lens_table()[max(fitting, key=len)] if fitting else None


@functools.cache
def lens_table() -> dict[str, Lens]:
    """Return the whole table, each beginning of a name with its lens."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    return {known: _lens(row) for row in rows for known in row["names"].split("|")}


def _lens(row: dict[str, str]) -> Lens:
    return Lens(
        focal_length_mm=float(row["focal_length_mm"]),
        closest_mm=_number(row["closest_mm"]),
        largest_ratio=_number(row["largest_ratio"]),
        closest_focal_length_mm=_number(row["closest_focal_length_mm"]),
        internal_focus={"yes": True, "no": False}.get(row["internal_focus"]),
        records=row["records"] or None,
        source=row["source"],
    )


def _number(text: str) -> float | None:
    return float(text) if text else None
