"""The tables of outside figures: every row is whole, named once, and comes from outside."""

from __future__ import annotations

import csv
import re
from datetime import date

import pytest

from tests.reference_checks.rows import DATA, STATUSES

TABLES = sorted(path.name for path in DATA.glob("*.csv"))


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
