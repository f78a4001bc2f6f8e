"""Rows of the published tables in fixtures/published, whose first lines name their source."""

import csv
from pathlib import Path

import pytest

PUBLISHED = Path(__file__).resolve().parents[1] / "fixtures" / "published"


def rows(name, quantity):
    """Rows of one published table that state one quantity, with their source as the test's id."""
    with (PUBLISHED / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(line for line in file if not line.startswith("#")))
    found = [row for row in table if row["quantity"] == quantity]
    assert found, f"{name}.csv says nothing of {quantity}"
    return [pytest.param(row, id=row["id"]) for row in found]
