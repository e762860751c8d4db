"""Tyre geometry and codes against printed charts, registers and the standards' rounding."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from app.trade import tyre
from app.trade.quantity import Dimension, Quantity
from app.trade.tyre import TyreKind, TyreSize
from app.trade.units import amount_in, parse_quantity
from tests.reference_checks.rows import Row, cases, check


def _size(row: Row, name: str = "size") -> TyreSize:
    return TyreSize.parse(row.inputs[name])


def _mm(quantity: Quantity) -> Fraction:
    return amount_in(quantity, Dimension.LENGTH, "mm")


def _number(quantity: Quantity) -> Fraction:
    return amount_in(quantity, Dimension.RATIO, "1")


def _code(row: Row) -> str:
    size = _size(row)
    width = f"{float(size.width_mm):g}"
    parts = [size.kind.value, width, str(size.aspect or "-"), f"{float(size.rim_code):g}"]
    parts += [str(size.load_index or "-"), size.speed_symbol or "-"]
    if size.extra_load:
        parts.append("xl")
    if size.load_range:
        parts.append(f"range {size.load_range}")
    return " ".join(parts)


def _band(row: Row) -> str:
    band = tyre.diameter_band(_size(row))
    return f"{float(_mm(band.smallest)):.1f} {float(_mm(band.largest)):.1f}"


def _width_on_rim(row: Row) -> Fraction:
    rim, measuring = (parse_quantity(row.inputs[name], Dimension.LENGTH) for name in ("rim", "measuring"))
    return _mm(tyre.section_width_on_rim(_size(row), rim, measuring))


def _loaded(row: Row) -> Fraction:
    loaded = parse_quantity(row.inputs["loaded_by"], Dimension.RATIO)
    return _number(tyre.revolutions_per_km(_size(row), loaded)) / _number(tyre.revolutions_per_km(_size(row)))


def _true_speed(row: Row) -> Fraction:
    shown = parse_quantity(row.inputs["shown"], Dimension.SPEED)
    driven = tyre.true_speed(shown, _size(row, "fitted"), _size(row, "placard"))
    return amount_in(driven, Dimension.SPEED, "mph")


SUMS: dict[str, Callable[[Row], object]] = {
    "section_height": lambda row: _mm(tyre.section_height(_size(row))),
    "overall_diameter": lambda row: _mm(tyre.overall_diameter(_size(row))),
    "overall_diameter_in": lambda row: amount_in(tyre.overall_diameter(_size(row)), Dimension.LENGTH, "in"),
    "standard_diameter": lambda row: _mm(tyre.overall_diameter_by_standard(_size(row))),
    "revolutions_per_mile": lambda row: _number(tyre.revolutions_per_mile(_size(row))),
    "rim_diameter": lambda row: _mm(tyre.conventional_rim_diameter(int(row.inputs["rim"]))),
    "true_speed": _true_speed,
    "code": _code,
    "speed_symbol": lambda row: amount_in(
        tyre.speed_of_symbol(row.inputs["symbol"]), Dimension.SPEED, "km/h"
    ).limit_denominator(1),
    "load_index": lambda row: amount_in(tyre.load_of_index(int(row.inputs["index"])), Dimension.MASS, "kg"),
    "diameter_band": _band,
    "width_on_rim": _width_on_rim,
    "loaded_revolutions_ratio": _loaded,
    "height_change": lambda row: _mm(tyre.height_change(_size(row, "fitted"), _size(row, "placard"))),
}


@pytest.mark.parametrize("row", cases("tyre.csv"))
def test_tyre_agrees_with_its_source(row: Row) -> None:
    check(row, SUMS)


def test_the_implied_aspect_of_a_flotation_size() -> None:
    """31x10.50R15: (31 - 15)/2 over 10.5 inches is 76.2 %. Source: arithmetic on the code."""
    size = TyreSize.parse("31x10.50R15LT")

    assert size.kind is TyreKind.FLOTATION
    assert float(_mm(tyre.section_height(size)) / size.width_mm) == pytest.approx(0.762, abs=0.0005)
