"""How far a bill may pass what was authorised, and how long records are kept, against the statutes."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from app.trade import labour
from tests.reference_checks.rows import Row, cases, check


def _highest(row: Row) -> str:
    authorised = labour.money(row.inputs["authorised"], "USD")
    return str(labour.highest_charge(authorised, labour.limit_of(row.inputs["jurisdiction"])).amount)


SUMS: dict[str, Callable[[Row], object]] = {
    "highest_charge": _highest,
    "keep_records": lambda row: labour.keep_records_years(row.inputs["jurisdictions"].split()),
}


@pytest.mark.parametrize("row", cases("labour.csv"))
def test_limit_agrees_with_the_statute(row: Row) -> None:
    check(row, SUMS)
