"""Reads the tables of outside figures. Each row names its source, its status and the day it was read or worked out.

Columns: id, quantity, inputs ("name=value; name=value"), expected, tolerance ("exact", "rel 1e-3", "abs 0.5"), source,
status, date, note. Status: read (the figure itself was read in the source), derived (arithmetic on what was read), from
memory (recalled; a cross-check, never the only support).
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import pytest

DATA = Path(__file__).parent / "data"
STATUSES = {"read", "derived", "from memory"}


@dataclass(frozen=True)
class Row:
    id: str
    quantity: str
    inputs: dict[str, str]
    expected: str
    tolerance: str
    source: str
    status: str
    date: str

    def agrees(self, found: Fraction | float | int | str, expected: str | None = None) -> bool:
        """Say whether what we computed agrees with what the source prints, within the row's tolerance."""
        wanted = self.expected if expected is None else expected
        kind, _, size = self.tolerance.partition(" ")
        if isinstance(found, str):
            return found == wanted
        if kind == "exact":
            return Fraction(found) == Fraction(wanted) if not isinstance(found, float) else found == float(wanted)
        allowed = float(size) if kind == "abs" else float(size) * abs(float(wanted))
        return abs(float(found) - float(wanted)) <= allowed


def rows_of(name: str) -> list[Row]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return [_row(record) for record in csv.DictReader(file)]


def cases(name: str) -> list[object]:
    """The rows of a table as test cases, named by their id."""
    return [pytest.param(row, id=row.id) for row in rows_of(name)]


def check(row: Row, sums: dict[str, Callable[[Row], object]]) -> None:
    """Compute a row with the sum of its quantity and compare."""
    found = sums[row.quantity](row)

    assert row.agrees(found), f"{row.id}: {found} against {row.expected} ({row.tolerance}), {row.source}"


def _row(record: dict[str, str]) -> Row:
    pairs: Iterator[list[str]] = (part.split("=", 1) for part in record["inputs"].split("; ") if part)
    return Row(
        id=record["id"],
        quantity=record["quantity"],
        inputs={name.strip(): value.strip() for name, value in pairs},
        expected=record["expected"],
        tolerance=record["tolerance"],
        source=record["source"],
        status=record["status"],
        date=record["date"],
    )
