"""Tyre sizes: what is on the sidewall is taken apart, or refused with the part that is not understood."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade import tyre
from app.trade.problems import InputMissing, NotUnderstood, OutOfRange, TradeProblem, WrongDimension
from app.trade.quantity import Dimension, Quantity
from app.trade.tyre import Construction, TyreKind, TyreSize
from app.trade.units import parse_quantity

SIZES = st.builds(
    lambda width, aspect, rim: TyreSize.parse(f"{width}/{aspect}R{rim}"),
    st.integers(14, 32).map(lambda step: 10 * step + 5),
    st.integers(5, 17).map(lambda step: 5 * step),
    st.integers(12, 24),
)


def _mm(amount: int | Fraction) -> Quantity:
    return Quantity(Dimension.LENGTH, round(Fraction(amount) * 1000), "mm")


def test_a_full_code_is_taken_apart() -> None:
    size = TyreSize.parse(" 205/55 zr 16 (91W) XL M+S ")

    assert size.text == "205/55 zr 16 (91W) XL M+S"
    assert (size.kind, size.construction) == (TyreKind.METRIC, Construction.RADIAL)
    assert (size.width_mm, size.aspect, size.rim_code) == (205, 55, 16)
    assert (size.load_index, size.speed_symbol, size.extra_load) == (91, "W", True)
    assert size.load_capacity == Quantity(Dimension.MASS, 615_000, "kg")
    assert size.speed_limit is not None
    assert round(size.speed_limit.si * 3.6) == 270
    assert size.short == "205/55R16"


@pytest.mark.parametrize(
    ("text", "kind", "short", "load", "dual"),
    [
        ("195/70R15C 104/102R", TyreKind.COMMERCIAL, "195/70R15", 104, 102),
        ("LT245/75R16/E 120/116Q", TyreKind.LIGHT_TRUCK, "245/75R16", 120, 116),
        ("245/75R16LT", TyreKind.LIGHT_TRUCK, "245/75R16", None, None),
        ("T125/70D16 96M", TyreKind.TEMPORARY, "125/70D16", 96, None),
        ("31X10,50-15LT", TyreKind.FLOTATION, "31x10.5D15", None, None),
        ("385/65 R 22,5", TyreKind.METRIC, "385/65R22.5", None, None),
        ("195R14C", TyreKind.COMMERCIAL, "195R14", None, None),
    ],
)
def test_kinds_are_told_apart(text: str, kind: TyreKind, short: str, load: int | None, dual: int | None) -> None:
    size = TyreSize.parse(text)

    assert (size.kind, size.short, size.load_index, size.load_index_dual) == (kind, short, load, dual)


@pytest.mark.parametrize(
    ("text", "problem", "reason"),
    [
        ("", InputMissing, None),
        ("   ", InputMissing, None),
        ("big ones", NotUnderstood, "size"),
        ("205-55-16", NotUnderstood, "part"),
        ("205/55R16 91I", NotUnderstood, "speed_symbol"),
        ("205/55R16 91V banana", NotUnderstood, "part"),
        ("205/55R16" + " " * 3 + "9" * 70, NotUnderstood, "too_long"),
        ("٢٠٥/55R16", NotUnderstood, "size"),
        ("205/55R99", OutOfRange, None),
        ("995/55R16", OutOfRange, None),
        ("205/10R16", OutOfRange, None),
        ("15x10R16", OutOfRange, None),
    ],
)
def test_what_is_no_size_is_refused(text: str, problem: type[TradeProblem], reason: str | None) -> None:
    with pytest.raises(problem) as caught:
        TyreSize.parse(text, argument="fitted")

    assert caught.value.argument == "fitted"
    assert caught.value.details.get("reason") == reason


def test_a_missing_aspect_ratio_is_asked_for_and_not_assumed() -> None:
    with pytest.raises(InputMissing) as caught:
        tyre.overall_diameter(TyreSize.parse("195R14C"))

    assert caught.value.argument == "aspect"


def test_the_standard_rounds_a_half_upwards_and_geometry_does_not_round() -> None:
    """265/70R17 has a section height of 185.5 mm: 804 by the standard, 802.8 by geometry."""
    size = TyreSize.parse("265/70R17")

    assert tyre.overall_diameter_by_standard(size) == _mm(804)
    assert tyre.overall_diameter(size) == _mm(Fraction(8028, 10))
    assert tyre.conventional_rim_diameter(Fraction("22.5")) == _mm(572)


def test_height_changes_by_half_the_diameter() -> None:
    placard, fitted = TyreSize.parse("205/55R16"), TyreSize.parse("205/60R16")

    assert tyre.height_change(fitted, placard) == _mm(Fraction(1025, 100))
    assert tyre.height_change(placard, fitted) == _mm(Fraction(-1025, 100))


def test_load_indices_and_symbols_outside_the_tables_are_refused() -> None:
    for index in (0, 59, 131, 999):
        with pytest.raises(OutOfRange):
            tyre.load_of_index(index)
    with pytest.raises(NotUnderstood):
        tyre.speed_of_symbol("I")
    assert TyreSize.parse("385/65R22.5 160J").load_capacity is None
    assert TyreSize.parse("205/55R16").speed_limit is None


def test_other_dimensions_and_impossible_amounts_are_refused() -> None:
    size = TyreSize.parse("205/55R16")
    with pytest.raises(WrongDimension):
        tyre.true_speed(_mm(1), size, size)
    with pytest.raises(OutOfRange):
        tyre.section_width_on_rim(size, _mm(0), _mm(165))
    with pytest.raises(OutOfRange):
        tyre.revolutions_per_km(size, parse_quantity("20 %", Dimension.RATIO))
    with pytest.raises(OutOfRange):
        tyre.true_speed(parse_quantity("-5 km/h", Dimension.SPEED), size, size)


@given(SIZES, SIZES)
def test_a_larger_tyre_turns_less_and_lifts_more(one: TyreSize, other: TyreSize) -> None:
    smaller, larger = sorted((one, other), key=lambda size: tyre.overall_diameter(size).value)

    assert tyre.revolutions_per_km(larger).value <= tyre.revolutions_per_km(smaller).value
    assert tyre.height_change(larger, smaller).value >= 0


@given(SIZES, SIZES, SIZES)
def test_height_changes_add_up(first: TyreSize, second: TyreSize, third: TyreSize) -> None:
    """Each is rounded to the micrometre on its own, so the sum may miss by one."""
    steps = tyre.height_change(second, first).value + tyre.height_change(third, second).value

    assert abs(steps - tyre.height_change(third, first).value) <= 1


@given(SIZES)
def test_the_standard_is_within_two_millimetres_of_geometry_and_inside_its_band(size: TyreSize) -> None:
    standard = tyre.overall_diameter_by_standard(size).value
    band = tyre.diameter_band(size)

    assert abs(standard - tyre.overall_diameter(size).value) <= 2_000
    assert band.smallest.value < standard < band.largest.value


@given(SIZES)
def test_the_short_spelling_is_read_back_as_the_same_size(size: TyreSize) -> None:
    again = TyreSize.parse(size.short)

    assert (again.width_mm, again.aspect, again.rim_code) == (size.width_mm, size.aspect, size.rim_code)


@given(st.text(max_size=70))
def test_any_text_gives_a_size_or_a_typed_problem(text: str) -> None:
    try:
        size = TyreSize.parse(text)
    except TradeProblem:
        return
    assert size.rim_code >= 8
