"""Money: exact, rounded by a named rule at a named place, and within what was authorised."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade import labour
from app.trade.labour import (
    Basis,
    LabourLine,
    LineKind,
    Money,
    OtherLine,
    PartCondition,
    PartLine,
    Rounding,
    RoundingPlace,
    Tax,
    highest_charge,
    limit_of,
    may_charge,
    money,
    price,
)
from app.trade.problems import InputMissing, NotUnderstood, OutOfRange, TradeProblem, WrongDimension
from app.trade.quantity import Dimension, Quantity
from app.trade.units import parse_quantity

RATE = Money("USD", 13_500)
CENTS = st.integers(0, 10_000_000)
LINES = st.lists(
    st.one_of(
        st.builds(lambda ms, cents: LabourLine("work", _time(ms), Money("USD", cents)), st.integers(0, 10**8), CENTS),
        st.builds(lambda count, cents: PartLine("part", Decimal(count), Money("USD", cents)), st.integers(0, 9), CENTS),
        st.builds(lambda cents: OtherLine("fee", Money("USD", cents)), CENTS),
    ),
    min_size=1,
    max_size=8,
)


def _time(milliseconds: int) -> Quantity:
    return Quantity(Dimension.DURATION, milliseconds)


def _hours(text: str) -> Quantity:
    return parse_quantity(text, Dimension.DURATION)


def _rate(text: str) -> Quantity:
    return parse_quantity(text, Dimension.RATIO)


SALES_TAX = Tax("sales tax", _rate("8.875 %"), frozenset({LineKind.PART}))


def test_a_job_adds_up_with_labour_apart_from_parts() -> None:
    lines = [
        LabourLine("ball joint, lower left", _hours("1.4 h"), RATE),
        LabourLine("finding the fault", _hours("20 min"), RATE, Basis.CLOCK),
        PartLine("ball joint", Decimal(1), money("84.95", "USD")),
        PartLine("cotter pin", Decimal(2), money("0.35", "USD"), PartCondition.NEW),
        OtherLine("alignment, sent out", money("95", "USD"), LineKind.SUBLET),
    ]

    bill = price(lines, [SALES_TAX])

    assert [str(line.amount) for line in bill.lines] == ["189.00", "45.00", "84.95", "0.70", "95.00"]
    assert (bill.labour.minor, bill.parts.minor, bill.other.minor) == (23_400, 8_565, 9_500)
    assert bill.subtotal.minor == 41_465
    assert bill.taxes[0].base.minor == 8_565
    assert bill.taxes[0].amount.minor == 760  # 85.65 * 8.875 % = 7.6014
    assert bill.total.minor == 42_225


@pytest.mark.parametrize(("rounding", "minor"), [(Rounding.HALF_UP, 3), (Rounding.HALF_EVEN, 2), (Rounding.DOWN, 2)])
def test_the_rounding_rule_is_named(rounding: Rounding, minor: int) -> None:
    """Half an hour at 0.05 an hour is two and a half cents."""
    assert labour.labour_cost(_hours("30 min"), Money("USD", 5), rounding).minor == minor


def test_a_third_of_an_hour_is_exact_before_it_is_rounded() -> None:
    assert labour.labour_cost(_hours("20 min"), Money("USD", 10_000)).minor == 3_333
    assert labour.labour_cost(_hours("20 min"), Money("USD", 3)).minor == 1


def test_tax_on_lines_and_on_the_total_can_differ_and_both_are_named() -> None:
    lines = [PartLine("washer", Decimal(1), Money("USD", 107)) for _ in range(3)]
    tax = Tax("tax", _rate("7 %"), frozenset({LineKind.PART}))

    on_total = price(lines, [tax], tax_rounded_on=RoundingPlace.TOTAL).taxes[0].amount
    on_lines = price(lines, [tax], tax_rounded_on=RoundingPlace.LINE).taxes[0].amount

    assert (on_total.minor, on_lines.minor) == (22, 21)  # 22.47 against 3 * 7.49


def test_half_a_part_and_a_negative_price_for_a_returned_core() -> None:
    bill = price([PartLine("grease", Decimal("0.5"), money("7.50", "USD")), OtherLine("core", Money("USD", -1500))])

    assert [line.minor for line in bill.lines] == [375, -1500]
    assert bill.total.minor == -1125


@pytest.mark.parametrize(
    ("lines", "problem", "argument"),
    [
        ([], InputMissing, "lines"),
        ([LabourLine("x", parse_quantity("-1 h", Dimension.DURATION), RATE)], OutOfRange, "time"),
        ([LabourLine("x", parse_quantity("1 m", Dimension.LENGTH), RATE)], WrongDimension, "time"),
        ([LabourLine("x", _time(1), Money("USD", -1))], OutOfRange, "rate_per_hour"),
        ([PartLine("x", Decimal(-1), RATE)], OutOfRange, "count"),
        ([PartLine("x", Decimal("nan"), RATE)], OutOfRange, "count"),
        ([PartLine("x", Decimal("inf"), RATE)], OutOfRange, "count"),
        ([OtherLine("x", RATE), OtherLine("y", Money("EUR", 1))], OutOfRange, "lines"),
        ([PartLine("x", Decimal(10**12), RATE)], OutOfRange, "total"),
    ],
)
def test_lines_that_cannot_be_are_refused_by_name(
    lines: list[labour.Line], problem: type[TradeProblem], argument: str
) -> None:
    with pytest.raises(problem) as caught:
        price(lines)

    assert caught.value.argument == argument


def test_a_tax_rate_has_to_be_a_ratio_and_not_negative() -> None:
    for rate, problem in ((_hours("1 h"), WrongDimension), (_rate("-5 %"), OutOfRange)):
        with pytest.raises(problem):
            price([OtherLine("x", RATE)], [replace(SALES_TAX, rate=rate)])


@pytest.mark.parametrize(
    ("text", "currency", "minor"),
    [("120", "USD", 12_000), ("120,50", "eur", 12_050), (" 0.05 ", "USD", 5), ("1500", "JPY", 1500), (7, "USD", 700)],
)
def test_money_is_read_exactly(text: str | int, currency: str, minor: int) -> None:
    assert money(text, currency).minor == minor


@pytest.mark.parametrize(
    ("text", "currency", "reason"),
    [
        ("0.005", "USD", "too_fine"),
        ("1.5", "JPY", "too_fine"),
        ("1,500", "USD", "thousands_ambiguous"),
        ("1,2,3", "USD", "no_number"),
        ("1e3", "USD", "no_number"),
        ("nan", "USD", "no_number"),
        ("Infinity", "USD", "no_number"),
        ("twelve", "USD", "no_number"),
        ("٣", "USD", "no_number"),
        ("1" * 30, "USD", "no_number"),
    ],
)
def test_what_is_no_money_is_refused(text: str, currency: str, reason: str) -> None:
    with pytest.raises(NotUnderstood) as caught:
        money(text, currency, argument="price")

    assert caught.value.argument == "price"
    assert caught.value.details["reason"] == reason


def test_missing_money_unknown_currencies_and_mixtures_are_refused() -> None:
    with pytest.raises(InputMissing):
        money(" ", "USD")
    with pytest.raises(OutOfRange):
        money("99999999999999", "USD")
    for code in ("", "dollars", "$"):
        with pytest.raises(NotUnderstood):
            money("1", code)
    with pytest.raises(OutOfRange):
        Money("USD", 1) + Money("EUR", 1)
    assert str(Money("USD", 1250)) == "12.50 USD"
    assert str(Money("JPY", 1250)) == "1250 JPY"


def test_time_on_the_clock_is_billed_in_whole_steps_upwards() -> None:
    tenth = _hours("0.1 h")

    assert labour.billed_time(_hours("61 min"), tenth).value == _hours("66 min").value
    assert labour.billed_time(_hours("60 min"), tenth).value == _hours("60 min").value
    assert labour.billed_time(_time(0), tenth).value == 0
    with pytest.raises(OutOfRange):
        labour.billed_time(_hours("1 h"), _time(0))


# --- what was authorised


def test_the_house_rule_lets_nothing_pass() -> None:
    verdict = may_charge(Money("USD", 30_001), Money("USD", 30_000), limit_of(""))

    assert not verdict.may_charge
    assert verdict.over_limit.minor == 1
    assert may_charge(Money("USD", 30_000), Money("USD", 30_000), limit_of("")).may_charge


def test_a_bill_within_the_limit_may_be_charged_and_says_what_it_is_over() -> None:
    verdict = may_charge(Money("USD", 22_000), Money("USD", 20_000), limit_of("US-FL"))

    assert verdict.may_charge
    assert (verdict.over.minor, verdict.over_limit.minor, verdict.highest.minor) == (2_000, 0, 22_000)
    assert not may_charge(Money("USD", 22_001), Money("USD", 20_000), limit_of("US-FL")).may_charge


def test_every_limit_is_data_with_a_jurisdiction_and_a_source() -> None:
    for limit in labour.limits():
        assert limit.source
        assert limit.status in {"read", "summary", "from memory", "house rule"}
        assert limit.jurisdiction or limit.status == "house rule"
    assert limit_of("US-WA").is_before_tax
    with pytest.raises(NotUnderstood):
        limit_of("US-ZZ")


def test_an_authorisation_that_cannot_be_is_refused() -> None:
    with pytest.raises(OutOfRange):
        highest_charge(Money("USD", -1), limit_of("US-FL"))
    with pytest.raises(OutOfRange):
        highest_charge(Money("EUR", 100), limit_of("US-FL"))
    assert highest_charge(Money("EUR", 100), limit_of("")).minor == 100


def test_records_are_kept_for_the_longest_time() -> None:
    assert labour.keep_records_years([]) == 3
    assert labour.keep_records_years(["US-WA"]) == 3
    assert labour.keep_records_years(["US-FL", "US-CA"]) == 3


@given(LINES)
def test_the_bill_adds_up_to_the_last_coin(lines: list[labour.Line]) -> None:
    bill = price(lines, [SALES_TAX])

    assert bill.subtotal.minor == sum(line.minor for line in bill.lines)
    assert bill.subtotal.minor == bill.labour.minor + bill.parts.minor + bill.other.minor
    assert bill.total.minor == bill.subtotal.minor + sum(tax.amount.minor for tax in bill.taxes)


@given(st.integers(0, 10**9), CENTS, st.sampled_from(list(Rounding)))
def test_rounding_moves_a_line_by_less_than_a_coin(milliseconds: int, cents: int, rounding: Rounding) -> None:
    exact = Fraction(milliseconds * cents, 3_600_000)
    found = labour.labour_cost(_time(milliseconds), Money("USD", cents), rounding).minor

    assert abs(found - exact) < 1
    assert rounding is Rounding.DOWN or abs(found - exact) <= Fraction(1, 2)


@given(CENTS, CENTS, st.sampled_from(["", "US-FL", "US-CA", "US-WA"]))
def test_a_larger_authorisation_never_allows_less(one: int, other: int, jurisdiction: str) -> None:
    low, high = sorted((one, other))
    limit = limit_of(jurisdiction)

    assert highest_charge(Money("USD", low), limit).minor <= highest_charge(Money("USD", high), limit).minor
    assert low <= highest_charge(Money("USD", low), limit).minor


@given(st.integers(-(10**11), 10**11))
def test_money_read_back_is_the_same(minor: int) -> None:
    amount = Money("USD", minor)

    assert money(str(amount.amount), "USD") == amount


@given(st.text(max_size=30))
def test_any_text_gives_money_or_a_typed_problem(text: str) -> None:
    try:
        amount = money(text, "USD")
    except TradeProblem:
        return
    assert isinstance(amount.minor, int)
