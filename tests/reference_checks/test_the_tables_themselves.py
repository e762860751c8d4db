"""The tables of outside figures: every row is whole, named once, and comes from outside."""

from __future__ import annotations

import csv
import re
from datetime import date

import pytest

from tests.reference_checks import (
    test_fastener_reference,
    test_labour_reference,
    test_torque_tool_reference,
    test_tyre_reference,
    test_units_reference,
    test_vin_reference,
    test_wrong_in_source,
)
from tests.reference_checks.rows import DATA, STATUSES, rows_of

TABLES = sorted(path.name for path in DATA.glob("*.csv"))

SUMS = {
    "units.csv": test_units_reference.SUMS,
    "tyre.csv": test_tyre_reference.SUMS,
    "vin.csv": test_vin_reference.SUMS,
    "fasteners.csv": test_fastener_reference.SUMS,
    "torque_tools.csv": test_torque_tool_reference.SUMS,
    "labour.csv": test_labour_reference.SUMS,
}


def _records(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("name", TABLES)
def test_every_row_is_whole(name: str) -> None:
    for record in _records(name):
        assert record["id"]
        assert record["source"].strip(), record["id"]
        assert record["status"] in STATUSES, record["id"]
        assert record["expected"].strip(), record["id"]
        assert date.fromisoformat(record["date"]) <= date(2026, 12, 31), record["id"]


def test_no_id_stands_twice() -> None:
    ids = [record["id"] for name in TABLES for record in _records(name)]

    assert len(ids) == len(set(ids)), sorted({each for each in ids if ids.count(each) > 1})


def test_there_are_enough_rows_from_enough_sources() -> None:
    """At least 150 rows from at least 20 outside sources, most of them read and not recalled."""
    records = [record for name in TABLES for record in _records(name)]
    sources = {re.split(r"[,;(]", record["source"])[0].strip() for record in records}
    read = [record for record in records if record["status"] == "read"]

    assert len(records) >= 150
    assert len(sources) >= 20
    assert len(read) * 2 > len(records)


@pytest.mark.parametrize("name", SUMS)
def test_every_sum_has_a_row_and_every_row_a_sum(name: str) -> None:
    assert {row.quantity for row in rows_of(name)} == set(SUMS[name])


@pytest.mark.parametrize("name", [*SUMS, "wrong_in_source.csv"])
def test_a_wrong_figure_would_be_noticed(name: str) -> None:
    """The comparison can fail: a figure moved by three tolerances and a thousandth is refused in every row."""
    for row in rows_of(name):
        try:
            expected = float(row.expected)
        except ValueError:
            assert not row.agrees(row.expected + " and more"), row.id
            continue
        kind, _, size = row.tolerance.partition(" ")
        allowed = 0.0 if kind == "exact" else float(size) * (abs(expected) if kind == "rel" else 1)
        assert row.agrees(expected), row.id
        assert not row.agrees(expected + 3 * allowed + 1e-3 * max(1.0, abs(expected))), row.id


def test_every_wrong_figure_differs_from_the_right_one() -> None:
    for row in rows_of("wrong_in_source.csv"):
        assert row.quantity in test_wrong_in_source.SUMS
        assert not row.agrees(float(row.inputs["printed"])), row.id
