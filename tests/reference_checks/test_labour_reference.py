"""How far a bill may pass what was authorised, how tax is rounded, and how long records are kept: outside sources."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal

import pytest

from app.domain.estimate import OfferedLine, Part, TaxRow, priced
from app.trade import labour
from tests.reference_checks.rows import Row, cases, check


def _highest(row: Row) -> str:
    authorised = labour.money(row.inputs["authorised"], "USD")
    return str(labour.highest_charge(authorised, labour.limit_of(row.inputs["jurisdiction"])).amount)


def _priced(amount: str, percent: str) -> OfferedLine:
    """One part of this price as a line of an estimate, with a tax of so many per cent on parts."""
    part = Part("Part", "", 1_000, labour.money(amount, "USD").minor)
    rate = int(Decimal(percent).scaleb(4))
    tax = TaxRow("Sales tax", date(2020, 1, 1), None, rate, (labour.LineKind.PART,))
    return priced(OfferedLine("l1", "Line", parts=(part,)), "USD", labour.Rounding.HALF_UP, (tax,))


def _tax(row: Row) -> str:
    return str(labour.Money("USD", _priced(row.inputs["base"], row.inputs["percent"]).taxes[0].amount_minor).amount)


def _with_tax(row: Row) -> str:
    return str(labour.Money("USD", _priced(row.inputs["price"], row.inputs["percent"]).total_minor).amount)


SUMS: dict[str, Callable[[Row], object]] = {
    "highest_charge": _highest,
    "tax": _tax,
    "with_tax": _with_tax,
    "keep_records": lambda row: labour.keep_records_years(row.inputs["jurisdictions"].split()),
}


@pytest.mark.parametrize("row", cases("labour.csv"))
def test_limit_agrees_with_the_statute(row: Row) -> None:
    check(row, SUMS)
