"""Rows of springs, damping, loads and alignment: the shared table format, with inputs that are mostly plain numbers.

The unit stands in the input's name (`wire_mm=5`); words stay words (`ends=squared`).
"""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from tests.reference_checks.rows import Row, rows_of


@dataclass(frozen=True)
class Numbers:
    """A row whose inputs are read as numbers with `row["wire_mm"]` and as words with `row.word("ends")`."""

    row: Row

    def __getitem__(self, name: str) -> float:
        return float(self.row.inputs[name])

    def __contains__(self, name: str) -> bool:
        return name in self.row.inputs

    def word(self, name: str) -> str:
        return self.row.inputs[name]


def numbers_of(name: str) -> list[Numbers]:
    return [Numbers(row) for row in rows_of(name)]


def cases(name: str) -> list[object]:
    """The rows of a table as test cases, named by their id."""
    return [pytest.param(row, id=row.row.id) for row in numbers_of(name)]


def check(case: Numbers, sums: dict) -> None:
    """Compute a row with the sum of its quantity and compare."""
    found = sums[case.row.quantity](case)
    row = case.row
    assert row.agrees(found), f"{row.id}: {found} against {row.expected} ({row.tolerance}), {row.source}"
