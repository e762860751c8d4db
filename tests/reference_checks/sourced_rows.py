"""Rows of figures from outside, as the reference checks read them.

One CSV per subject in `data/`: id, quantity, inputs, expected, tolerance, source, status, date.

quantity   names the sum, in the words of the check that reads the file.
inputs     `name=number` pairs with the unit in the name (`wire_mm=5`), or `name=word`.
tolerance  "0.1%" of the expected value, or an absolute amount; wide enough for how the source rounds, no wider.
status     read: the figure itself was read in the source; derived: worked out by hand from a formula and inputs, which
           the source column names; from memory: recalled, and then never the only check of a sum.
date       the day it was read, worked out or recalled.

An expected value is never our own output.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import date
from pathlib import Path

STATUSES = ("read", "derived", "from memory")
DATA = Path(__file__).parent / "data"


@dataclass(frozen=True)
class Row:
    id: str
    quantity: str
    inputs: dict[str, float | str]
    expected: float
    tolerance: str
    source: str
    status: str
    date: date

    def __getitem__(self, name: str) -> float:
        value = self.inputs[name]
        assert isinstance(value, float), f"{self.id}: {name} is no number"
        return value

    def word(self, name: str) -> str:
        return str(self.inputs[name])

    @property
    def allowed(self) -> float:
        if self.tolerance.endswith("%"):
            return abs(self.expected) * float(self.tolerance[:-1]) / 100
        return float(self.tolerance)

    def agrees(self, ours: float) -> bool:
        # The last bit of a float is no part of anybody's tolerance.
        return abs(ours - self.expected) <= self.allowed + 1e-9 * max(1.0, abs(self.expected))


def rows(name: str) -> list[Row]:
    with (DATA / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return [_row(record) for record in csv.DictReader(file)]


def _row(record: dict[str, str]) -> Row:
    return Row(
        record["id"],
        record["quantity"],
        dict(_input(pair) for pair in record["inputs"].split()),
        float(record["expected"]),
        record["tolerance"],
        record["source"],
        record["status"],
        date.fromisoformat(record["date"]),
    )


def _input(pair: str) -> tuple[str, float | str]:
    name, _, value = pair.partition("=")
    try:
        return name, float(value)
    except ValueError:
        return name, value
