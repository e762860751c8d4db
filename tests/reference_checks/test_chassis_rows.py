"""The tables of the chassis sums: every row computed, none resting on memory alone, and able to fail."""

from __future__ import annotations

import pytest

from tests.reference_checks import test_alignment, test_damping, test_loads, test_springs
from tests.reference_checks.rows import Row, rows_of

TABLES = {
    "springs.csv": test_springs.SUMS,
    "damping.csv": test_damping.SUMS,
    "loads.csv": test_loads.SUMS,
    "alignment.csv": test_alignment.SUMS,
}


@pytest.mark.parametrize("table", TABLES)
def test_every_quantity_has_a_sum_and_every_sum_a_row(table):
    assert {row.quantity for row in rows_of(table)} == set(TABLES[table])


@pytest.mark.parametrize("table", TABLES)
def test_no_sum_rests_on_memory_alone(table):
    """Where only recalled figures stand behind a sum, a worked example from outside stands behind it elsewhere."""
    found = rows_of(table)
    remembered = {row.quantity for row in found if row.status == "from memory"}
    supported = {row.quantity for row in found if row.status != "from memory"}
    # Left less right and free length by end type are conventions: they have nothing but the books to agree with.
    assert remembered - supported <= {"index", "free_mm", "cross_deg", "total_toe_deg"}


def test_a_wrong_figure_would_be_noticed():
    """The comparison can fail: every row moved by three tolerances and a thousandth is refused."""
    for table in TABLES:
        for row in rows_of(table):
            expected = float(row.expected)
            assert row.agrees(expected), row.id
            assert not row.agrees(expected + 3 * _allowed(row) + 1e-3 * max(1.0, abs(expected))), row.id


def _allowed(row: Row) -> float:
    kind, _, size = row.tolerance.partition(" ")
    return float(size) * (abs(float(row.expected)) if kind == "rel" else 1.0)
