"""Conversions against NIST, scipy, pint and printed pairs."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pint
import pytest
from scipy import constants

from app.trade.quantity import Dimension
from app.trade.units import amount_in, parse_quantity, quantity_of, show, small_of
from tests.reference_checks.rows import Row, cases, check


def _conversion(row: Row) -> Fraction:
    """The amount in the other unit, exact: not by way of a whole number of small units."""
    number, unit = row.inputs["from"].split(" ", 1)
    dimension = Dimension(row.inputs["dimension"])
    return amount_in(small_of(Fraction(number), dimension, unit), dimension, row.inputs["to"])


def _printed_pair(row: Row) -> str:
    quantity = parse_quantity(row.inputs["from"], Dimension(row.inputs["dimension"]))
    shown = show(quantity, row.inputs["to"], int(row.inputs["places"]))
    return shown.removesuffix(f" {row.inputs['to']}")


SUMS: dict[str, Callable[[Row], object]] = {"conversion": _conversion, "printed_pair": _printed_pair}


@pytest.mark.parametrize("row", cases("units.csv"))
def test_conversion_agrees_with_its_source(row: Row) -> None:
    check(row, SUMS)


@pytest.mark.parametrize(
    ("dimension", "unit", "outside"),
    [
        (Dimension.FORCE, "lbf", constants.lbf * 1000),
        (Dimension.FORCE, "kgf", constants.kgf * 1000),
        (Dimension.MASS, "lb", constants.lb * 1000),
        (Dimension.MASS, "oz", constants.oz * 1000),
        (Dimension.PRESSURE, "psi", constants.psi),
        (Dimension.PRESSURE, "bar", constants.bar),
        (Dimension.LENGTH, "in", constants.inch * 1e6),
        (Dimension.LENGTH, "ft", constants.foot * 1e6),
        (Dimension.LENGTH, "yd", constants.yard * 1e6),
        (Dimension.LENGTH, "mi", constants.mile * 1e6),
        (Dimension.LENGTH, "thou", constants.mil * 1e6),
        (Dimension.SPEED, "mph", constants.mph * 1000),
        (Dimension.SPEED, "km/h", constants.kmh * 1000),
        (Dimension.TORQUE, "lbf·ft", constants.lbf * constants.foot * 1000),
        (Dimension.TORQUE, "lbf·in", constants.lbf * constants.inch * 1000),
        (Dimension.TORQUE, "kgf·m", constants.kgf * 1000),
        (Dimension.RATE, "lbf/in", constants.lbf / constants.inch),
        (Dimension.DURATION, "h", constants.hour * 1000),
    ],
)
def test_factor_agrees_with_scipy(dimension: Dimension, unit: str, outside: float) -> None:
    """Source: the package scipy.constants, independent of ours and of pint."""
    assert float(small_of(1, dimension, unit)) == pytest.approx(outside, rel=1e-14)


@pytest.mark.parametrize(
    ("text", "dimension", "expression", "unit"),
    [
        ("81 lb·ft", Dimension.TORQUE, "81 lbf*ft", "mN*m"),
        ("9,5 kgf·m", Dimension.TORQUE, "9.5 kgf*m", "mN*m"),
        ("120 in-lb", Dimension.TORQUE, "120 lbf*inch", "mN*m"),
        ("32 psi", Dimension.PRESSURE, "32 psi", "Pa"),
        ("170 lb/in", Dimension.RATE, "170 lbf/inch", "N/m"),
        ("1 1/16 in", Dimension.LENGTH, "1.0625 inch", "um"),
        ("2205.5 lb", Dimension.MASS, "2205.5 pound", "g"),
        ("644 in·lbf", Dimension.ENERGY, "644 inch*lbf", "mJ"),
    ],
)
def test_typed_text_agrees_with_pint(text: str, dimension: Dimension, expression: str, unit: str) -> None:
    """Source: the package pint, on the same amount spelled its own way."""
    outside = pint.UnitRegistry().Quantity(expression).to(unit).magnitude

    assert parse_quantity(text, dimension).value == round(outside)


def test_there_and_back_holds_to_1e_12_for_every_row() -> None:
    for unit in ("lbf·ft", "lbf·in", "kgf·m", "N·m"):
        assert amount_in(small_of(Fraction(81), Dimension.TORQUE, unit), Dimension.TORQUE, unit) == 81
        there = quantity_of(81, Dimension.TORQUE, unit)
        assert float(amount_in(there, Dimension.TORQUE, unit)) == pytest.approx(81, abs=0.01)
