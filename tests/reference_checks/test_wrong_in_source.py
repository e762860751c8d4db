"""Figures that were found wrong in their source: we agree with the right one and differ from the printed one."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from app.trade.quantity import Dimension
from app.trade.units import amount_in, parse_quantity, small_of
from app.trade.vin import check_digit, examine
from tests.reference_checks import (
    test_fastener_reference,
    test_torque_tool_reference,
    test_tyre_reference,
)
from tests.reference_checks.rows import Row, cases, check


def _remainder(row: Row) -> Fraction:
    """A number whose check remainder is 7, as a part of 11."""
    digit = check_digit("7" * 17)
    return Fraction(digit.remainder, 11)


def _torque_ratio(row: Row) -> Fraction:
    dry = parse_quantity(row.inputs["torque"], Dimension.TORQUE)
    oiled = Fraction(row.inputs["factor_oiled"]) / Fraction(row.inputs["factor_dry"])
    return amount_in(dry, Dimension.TORQUE, "lbf·ft") * oiled


def _millimetres(row: Row) -> Fraction:
    return amount_in(parse_quantity(row.inputs["inches"], Dimension.LENGTH), Dimension.LENGTH, "mm")


SUMS: dict[str, Callable[[Row], object]] = {
    **test_fastener_reference.SUMS,
    **test_torque_tool_reference.SUMS,
    **test_tyre_reference.SUMS,
    "remainder": _remainder,
    "torque_ratio": _torque_ratio,
    "conversion_mm": _millimetres,
    "check_digit": lambda row: int(examine(row.inputs["vin"]).check.expected),
}


@pytest.mark.parametrize("row", cases("wrong_in_source.csv"))
def test_the_right_figure_is_ours_and_the_printed_one_is_not(row: Row) -> None:
    check(row, SUMS)
    found = SUMS[row.quantity](row)

    assert not row.agrees(found, row.inputs["printed"])  # type: ignore[arg-type]


def test_a_limit_printed_in_millimetres_is_not_derived_from_the_inches_again() -> None:
    """3/8 in printed as 9 mm: whoever reads 9 mm in the book has to meet 9 mm here, not 9.525."""
    printed = parse_quantity("9 mm", Dimension.LENGTH)

    assert printed.text == "9 mm"
    assert printed.value == small_of(9, Dimension.LENGTH, "mm")
    assert printed.value != parse_quantity("3/8 in", Dimension.LENGTH).value
