"""The check digit and year codes against the regulation's page and the package vininfo."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from vininfo import Vin

from app.trade.problems import NotUnderstood
from app.trade.vin import check_digit, examine, year_candidates
from tests.reference_checks.rows import Row, cases, check

LEGAL = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ"


def _check(row: Row) -> str:
    digit = examine(row.inputs["vin"]).check
    return f"{digit.total} {digit.remainder} {digit.expected}"


def _value(row: Row) -> int:
    """The value of one letter, seen through the weight of position 17, which is 2."""
    return (check_digit("0" * 16 + row.inputs["letter"]).total - check_digit("0" * 17).total) // 2


def _refused(row: Row) -> str:
    try:
        examine(row.inputs["vin"])
    except NotUnderstood as problem:
        return problem.details["reason"]
    return "accepted"


def _check_not_used(row: Row) -> str:
    codes = [remark.code for remark in examine(row.inputs["vin"]).remarks]
    return "accepted" if "check_not_used" in codes else "called wrong"


SUMS: dict[str, Callable[[Row], object]] = {
    "check": _check,
    "value": _value,
    "years": lambda row: " ".join(map(str, year_candidates(row.inputs["code"]))) or "none",
    "year_picked": lambda row: str(examine(row.inputs["vin"], is_light_vehicle=True).year_if_north_american),
    "low_volume": lambda row: "yes" if examine(row.inputs["vin"]).is_low_volume_maker else "no",
    "refused": _refused,
    "check_not_used": _check_not_used,
}


@pytest.mark.parametrize("row", cases("vin.csv"))
def test_number_agrees_with_its_source(row: Row) -> None:
    check(row, SUMS)


@given(st.text(alphabet=LEGAL, min_size=17, max_size=17))
def test_the_check_agrees_with_vininfo_on_any_number(vin: str) -> None:
    """Source: the package vininfo 1.11.0. Its own list of makers that use no check digit is left aside."""
    outside = Vin("1" + vin[1:]).verify_checksum(check_year=False)

    assert check_digit("1" + vin[1:]).passes is outside


@given(st.text(alphabet=LEGAL, min_size=17, max_size=17))
def test_the_digit_we_expect_makes_vininfo_agree(vin: str) -> None:
    right = check_digit("1" + vin[1:]).expected

    assert Vin("1" + vin[1:8] + right + vin[9:]).verify_checksum(check_year=False)
