"""The units: what is typed is taken for what it is, or refused with a reason; conversion is exact."""

from __future__ import annotations

import json
import subprocess
import sys
from contextlib import suppress
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade.problems import InputMissing, NotUnderstood, OutOfRange, TradeProblem, WrongDimension
from app.trade.quantity import SMALL_UNITS, Dimension, Quantity
from app.trade.units import (
    TABLE,
    amount_in,
    both,
    parse_quantity,
    quantity_of,
    registry,
    show,
    small_of,
    spelling,
    unit_symbols,
)

ROOT = Path(__file__).resolve().parents[2]
VECTORS = json.loads((ROOT / "shared" / "vectors" / "quantities.json").read_text("utf-8"))
DATA = json.loads((ROOT / "shared" / "units.json").read_text("utf-8"))
ALL_UNITS = [(dimension, symbol) for dimension, of in TABLE.items() for symbol in of.by_symbol]
WRITTEN_UNITS = [(d, s) for d, s in ALL_UNITS if s != "1"]  # a bare number is written without its 1
STRAIGHT_UNITS = [(d, s) for d, s in ALL_UNITS if not TABLE[d].by_symbol[s].offset]


@pytest.mark.parametrize("case", VECTORS["understood"], ids=lambda case: case["text"])
def test_what_people_type_is_understood(case: dict[str, str]) -> None:
    quantity = parse_quantity(case["text"], Dimension(case["dimension"]), default_unit=case["default_unit"])

    assert (quantity.value, quantity.unit) == (case["value"], case["unit"])
    assert quantity.text == case["text"], "what was typed is kept as it was typed"


@pytest.mark.parametrize("case", VECTORS["refused"], ids=lambda case: case["text"][:20] or "nothing")
def test_what_cannot_be_understood_is_refused_with_a_reason(case: dict[str, str]) -> None:
    with pytest.raises(TradeProblem) as caught:
        parse_quantity(case["text"], Dimension(case["dimension"]), default_unit=case["default_unit"], argument="target")

    assert caught.value.code == case["code"]
    assert caught.value.argument == "target"
    assert caught.value.details.get("reason", "") == case["reason"]


def test_a_refusal_keeps_what_was_typed_and_offers_both_readings() -> None:
    with pytest.raises(NotUnderstood) as caught:
        parse_quantity("1,234 mm", Dimension.LENGTH)

    assert caught.value.details["typed"] == "1,234 mm"
    assert (caught.value.details["either"], caught.value.details["or_"]) == ("1.234", "1234")


@pytest.mark.parametrize(("dimension", "symbol"), ALL_UNITS)
def test_every_factor_equals_pint(dimension: Dimension, symbol: str) -> None:
    """The table and the outside package, counting in exact fractions, give the same number."""
    row = TABLE[dimension].by_symbol[symbol]
    units = registry()
    base = {
        Dimension.TORQUE: "newton*meter",
        Dimension.LENGTH: "meter",
        Dimension.MASS: "kilogram",
        Dimension.FORCE: "newton",
        Dimension.ANGLE: "degree",
        Dimension.PRESSURE: "pascal",
        Dimension.ENERGY: "joule",
        Dimension.RATE: "newton/meter",
        Dimension.DURATION: "second",
        Dimension.FREQUENCY: "1/second",
        Dimension.SPEED: "meter/second",
        Dimension.TEMPERATURE: "degC",
        Dimension.RATIO: "dimensionless",
    }[dimension]
    for amount in (Fraction(0), Fraction(1), Fraction(7, 3)):
        outside = units.Quantity(amount, row.pint_name).to(base).magnitude * SMALL_UNITS[dimension][1]
        ours = small_of(amount, dimension, symbol)

        if dimension is Dimension.ANGLE or "turn" in row.pint_name:  # pint goes by way of pi, in floats
            assert float(ours) == pytest.approx(float(outside), rel=1e-14, abs=1e-12)
        elif dimension is Dimension.TEMPERATURE:  # pint writes the offset of °F and °C as floats
            assert float(ours) == pytest.approx(float(outside), abs=1e-7)
        else:
            assert ours == outside


def test_the_table_can_be_counted_by_the_tablet() -> None:
    """Every whole number of the table is exact in a double, and in lowest terms."""
    for of in DATA["dimensions"].values():
        for row in of["units"]:
            for key in ("numerator", "denominator"):
                assert 0 < row[key] < 2**53
            factor = Fraction(row["numerator"], row["denominator"])
            assert (factor.numerator, factor.denominator) == (row["numerator"], row["denominator"])
    assert DATA["largest_value"] < 2**53


def test_no_spelling_means_two_units_of_one_dimension() -> None:
    for name, of in DATA["dimensions"].items():
        seen: dict[str, str] = {}
        for row in of["units"]:
            for text in (row["symbol"], *row["aliases"]):
                assert seen.setdefault(spelling(text), row["symbol"]) == row["symbol"], (name, text)
                if not row.get("case_matters"):
                    folded = spelling(text).lower()
                    assert seen.setdefault(folded, row["symbol"]) == row["symbol"], (name, text)
        assert not {key for key in of["refused"] if key in seen and seen[key] == seen.get(key.upper())}


def test_the_small_units_of_the_table_are_those_of_the_type() -> None:
    assert {name: of["small_unit"] for name, of in DATA["dimensions"].items()} == {
        str(dimension): key for dimension, (key, _) in SMALL_UNITS.items()
    }
    assert set(DATA["dimensions"]) == {str(dimension) for dimension in Dimension}


@given(
    unit=st.sampled_from(ALL_UNITS),
    amount=st.fractions(min_value=-(10**9), max_value=10**9, max_denominator=10**6),
)
def test_there_and_back_is_exact(unit: tuple[Dimension, str], amount: Fraction) -> None:
    dimension, symbol = unit

    assert amount_in(small_of(amount, dimension, symbol), dimension, symbol) == amount


@given(unit=st.sampled_from(ALL_UNITS), amount=st.floats(min_value=-1e9, max_value=1e9, allow_subnormal=False))
def test_there_and_back_holds_to_1e_12_in_floats(unit: tuple[Dimension, str], amount: float) -> None:
    dimension, symbol = unit
    there = small_of(amount, dimension, symbol)

    assert float(amount_in(there, dimension, symbol)) == pytest.approx(amount, rel=1e-12)


@given(
    unit=st.sampled_from(STRAIGHT_UNITS),
    first=st.fractions(max_denominator=1000),
    second=st.fractions(max_denominator=1000),
)
def test_more_typed_is_never_less_held(unit: tuple[Dimension, str], first: Fraction, second: Fraction) -> None:
    low, high = sorted((first, second))

    assert round(small_of(low, *unit)) <= round(small_of(high, *unit))


@given(
    unit=st.sampled_from(WRITTEN_UNITS),
    other=st.sampled_from(list(Dimension)),
    hundredths=st.integers(min_value=1000, max_value=99_999),
)
def test_a_unit_never_passes_for_another_dimension(
    unit: tuple[Dimension, str], other: Dimension, hundredths: int
) -> None:
    """What is typed gives a quantity of the dimension asked for, or a typed problem; nothing else."""
    _, symbol = unit
    taken: Dimension | None = None
    with suppress(TradeProblem):
        taken = parse_quantity(f"{hundredths / 100:.2f} {symbol}", other).dimension

    known = spelling(symbol) in TABLE[other].exact or spelling(symbol).lower() in TABLE[other].any_case
    assert taken is (other if known else None)


@given(text=st.text(max_size=80))
def test_any_text_gives_a_quantity_or_a_typed_problem(text: str) -> None:
    for dimension in (Dimension.TORQUE, Dimension.LENGTH, Dimension.ANGLE):
        try:
            quantity = parse_quantity(text, dimension, default_unit=unit_symbols(dimension)[0])
        except TradeProblem:
            continue
        assert isinstance(quantity.value, int)
        assert quantity.text == text.strip()


@given(st.integers(min_value=-(10**9), max_value=10**9), st.sampled_from(ALL_UNITS))
def test_a_number_typed_in_full_is_held_exactly(thousandths: int, unit: tuple[Dimension, str]) -> None:
    dimension, symbol = unit
    whole, rest = divmod(abs(thousandths), 1000)
    text = f"{'-' if thousandths < 0 else ''}{whole}.{rest:03d} {'' if symbol == '1' else symbol}"
    exact = small_of(Fraction(thousandths, 1000), dimension, symbol)

    if abs(exact) > DATA["largest_value"] or (exact and not round(exact)):
        with pytest.raises(OutOfRange):
            parse_quantity(text, dimension)
    else:
        assert parse_quantity(text, dimension).value == round(exact)


def test_units_outside_the_table_come_from_pint_with_their_dimension_checked() -> None:
    assert parse_quantity("3 kip", Dimension.FORCE).value == 13_344_665  # 3 * 4448.2216152605 N
    assert parse_quantity("0.1 rad", Dimension.ANGLE).value == 5730  # 5.7296 degrees
    assert parse_quantity("2 furlong", Dimension.LENGTH).unit == "furlong"
    for text, dimension, got in (
        ("5 GJ", Dimension.TORQUE, "energy"),
        ("3 rad/s", Dimension.FREQUENCY, "angle"),
        ("5 dyn", Dimension.LENGTH, "force"),
    ):
        with pytest.raises(WrongDimension) as caught:
            parse_quantity(text, dimension)
        assert caught.value.details["got"] == got


def test_pint_sleeps_until_a_unit_outside_the_table_is_typed() -> None:
    """The hot paths never wake pint: importing, parsing, converting and showing do without."""
    script = (
        "import sys; from app.trade.units import *; from app.trade.quantity import Dimension as D;"
        "q = parse_quantity('81 lb-ft', D.TORQUE); show(q, 'N·m'); both(q, 'N·m');"
        "assert 'pint' not in sys.modules; parse_quantity('3 kip', D.FORCE); assert 'pint' in sys.modules"
    )
    done = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True)

    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize(
    ("text", "dimension", "other", "shown"),
    [
        ("81 lb-ft", Dimension.TORQUE, "N·m", "81 lbf·ft (110 N·m)"),
        ("9,5 kgf·m", Dimension.TORQUE, "N·m", "9,5 kgf·m (93.2 N·m)"),
        ("110 Nm", Dimension.TORQUE, "lbf·ft", "110 N·m (81.1 lbf·ft)"),
        ("110 Nm", Dimension.TORQUE, "N·m", "110 N·m"),
        ("1 1/16 in", Dimension.LENGTH, "mm", "1 1/16 in (26.99 mm)"),
        ("-0°45'", Dimension.ANGLE, "′", "-0°45' (−45.0′)"),
        ("0.12", Dimension.RATIO, "%", "0.12 (12.0 %)"),
    ],
)
def test_what_was_typed_is_shown_beside_the_other_unit(text: str, dimension: Dimension, other: str, shown: str) -> None:
    assert both(parse_quantity(text, dimension), other) == shown


def test_a_computed_quantity_is_shown_rounded_half_to_even() -> None:
    assert show(Quantity(Dimension.LENGTH, 2_500), places=0) == "2 mm"
    assert show(Quantity(Dimension.LENGTH, 3_500), places=0) == "4 mm"
    assert show(Quantity(Dimension.LENGTH, -1), places=1) == "0.0 mm"
    assert show(Quantity(Dimension.LENGTH, -1_524)) == "−1.52 mm"
    assert show(Quantity(Dimension.ANGLE, -750)) == "−0.75°"
    assert show(Quantity(Dimension.LENGTH, 26_988), "in", 2) == "1.06 in"


def test_amounts_of_another_dimension_or_without_end_are_refused() -> None:
    with pytest.raises(WrongDimension):
        amount_in(Quantity(Dimension.LENGTH, 1), Dimension.TORQUE, "N·m")
    with pytest.raises(WrongDimension):
        amount_in(1, Dimension.TORQUE, "mm")
    for endless in (float("nan"), float("inf")):
        with pytest.raises(OutOfRange):
            quantity_of(endless, Dimension.TORQUE, "N·m")
    with pytest.raises(InputMissing):
        parse_quantity(" ", Dimension.TORQUE)


def test_a_quantity_made_from_an_amount_keeps_its_unit_and_no_text() -> None:
    made = quantity_of(Fraction(81), Dimension.TORQUE, "lb-ft")

    assert made == Quantity(Dimension.TORQUE, 109_821, "lbf·ft", "")
    assert show(made) == "81.0 lbf·ft"
