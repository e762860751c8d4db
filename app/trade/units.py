"""What people type as a quantity, and what is shown back: parsing, conversion and display.

Belongs here: the one table of factors (`shared/units.json`, read by the tablet too) and the one pint
registry, which is only woken for a unit the table does not hold. Does not belong here: any sum of the trade.
Conversion is done in exact fractions, so that server and tablet agree to the last digit; a shown amount is
never written back.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.trade.problems import InputMissing, NotUnderstood, OutOfRange, TradeProblem, WrongDimension
from app.trade.quantity import SMALL_UNITS, Dimension, Quantity

if TYPE_CHECKING:
    import pint

TABLE_PATH = Path(__file__).resolve().parents[2] / "shared" / "units.json"


@dataclass(frozen=True, slots=True)
class Unit:
    """One row of the table: amount in small units = amount * factor + offset."""

    symbol: str
    factor: Fraction
    offset: Fraction
    places: int
    digits: int | None
    spaced: bool
    pint_name: str


@dataclass(frozen=True, slots=True)
class UnitsOf:
    """The units of one dimension, found by spelling."""

    default: str
    by_symbol: dict[str, Unit]
    exact: dict[str, Unit]
    any_case: dict[str, Unit]
    refused: dict[str, str]


# -----------------------------------------------------------------------------------------------------------
# Parsing


def parse_quantity(text: str, dimension: Dimension, *, default_unit: str = "", argument: str = "value") -> Quantity:
    """Give the quantity that was typed, with its text and the unit as typed.

    Understands: "81 lb-ft", "110 Nm", "9,5 kgf·m", "1 1/16 in", "½ in", "-0°45'", "1 h 30 min", and a bare
    number where `default_unit` is given. A single dot is the decimal mark; a comma is, unless it could
    part thousands.
    Raises: InputMissing for nothing typed; NotUnderstood, whose detail `reason` says why (too_long,
            not_finite, no_number, unit_missing, unit_unknown, unit_ambiguous, thousands_ambiguous, fraction,
            compound); WrongDimension for a unit of another dimension; OutOfRange beyond what a packet can
            hold, or so small that it would be held as nothing (reasons too_large, too_small).
    """
    typed = text.strip()
    if not typed:
        raise InputMissing(argument, f"needs a {dimension}", needed=str(dimension))
    if len(typed) > LONGEST_TEXT:
        raise _not_understood(argument, typed, "too_long", f"is longer than {LONGEST_TEXT} characters")
    negative, parts = _parts(typed, argument)
    total = Fraction(0)
    first: Unit | None = None
    last: Unit | None = None
    for number, unit_text in parts:
        unit = _unit_typed(unit_text, dimension, default_unit, typed, argument, alone=len(parts) == 1)
        if last is not None and not _may_follow(last, unit, number):
            raise _not_understood(argument, typed, "compound", "does not add up as one amount")
        if last is None:
            first = unit
        # The sign belongs to the whole: in -0°45' it sits on a zero and would be lost with the first part.
        total += (-number if negative else number) * unit.factor + unit.offset
        last = unit
    assert first is not None  # _parts gives at least one
    return Quantity(dimension, _whole(total, argument, typed), first.symbol, typed)


def quantity_of(
    amount: int | float | Fraction, dimension: Dimension, unit: str, *, argument: str = "value"
) -> Quantity:
    """Give the quantity of an amount in a unit of the table. It carries the unit and no text.

    Raises: NotUnderstood for an unknown unit; OutOfRange if not finite or beyond what a packet can hold.
    """
    value = small_of(amount, dimension, unit, argument=argument)
    return Quantity(dimension, _whole(value, argument, f"{amount} {unit}"), find_unit(unit, dimension).symbol)


# -----------------------------------------------------------------------------------------------------------
# Conversion


def amount_in(quantity_or_value: Quantity | int | float | Fraction, dimension: Dimension, unit: str) -> Fraction:
    """Give the amount in a unit, exactly. A bare number is taken as small units of the dimension.

    Raises: WrongDimension if the quantity is of another dimension; NotUnderstood for an unknown unit;
            OutOfRange for a number that is not finite.
    """
    if isinstance(quantity_or_value, Quantity):
        _same(quantity_or_value, dimension, "quantity")
        value = Fraction(quantity_or_value.value)
    else:
        value = _fraction(quantity_or_value, "value")
    row = find_unit(unit, dimension)
    return (value - row.offset) / row.factor


def small_of(amount: int | float | Fraction, dimension: Dimension, unit: str, *, argument: str = "value") -> Fraction:
    """Give an amount in a unit as small units of its dimension, exactly (the inverse of `amount_in`)."""
    row = find_unit(unit, dimension, argument=argument)
    return _fraction(amount, argument) * row.factor + row.offset


def find_unit(unit: str, dimension: Dimension, *, argument: str = "unit") -> Unit:
    """Give the unit of that spelling.

    Raises: NotUnderstood if unknown or able to mean two things; WrongDimension if it measures something else.
    """
    row = TABLE[dimension].by_symbol.get(unit)
    return row if row is not None else _look_up(unit, dimension, unit, argument)


def unit_symbols(dimension: Dimension) -> tuple[str, ...]:
    """Give the symbols of the table for a dimension, the usual one first."""
    of = TABLE[dimension]
    return (of.default, *(symbol for symbol in of.by_symbol if symbol != of.default))


# -----------------------------------------------------------------------------------------------------------
# Display


def show(quantity: Quantity, unit: str | None = None, places: int | None = None) -> str:
    """Give a quantity as text for a person: as typed if nothing else is asked, else rounded half to even.

    For display alone: a shown amount is never written back.
    """
    if unit is None and places is None and quantity.text:
        return as_typed(quantity)
    row = find_unit(unit or quantity.unit or TABLE[quantity.dimension].default, quantity.dimension)
    amount = (quantity.value - row.offset) / row.factor
    return _joined(_rounded(amount, _places(amount, row) if places is None else places), row)


def both(quantity: Quantity, other_unit: str) -> str:
    """Give a quantity as typed with the other unit beside it: "81 lbf·ft (110 N·m)"."""
    other = find_unit(other_unit, quantity.dimension)
    if other.symbol == (quantity.unit or TABLE[quantity.dimension].default):
        return show(quantity)
    return f"{show(quantity)} ({show(quantity, other.symbol)})"


def as_typed(quantity: Quantity) -> str:
    """Give the number as typed with the unit in the table's spelling; the whole text if it has more parts."""
    match = _ONE_PART.fullmatch(_characters(quantity.text))
    if match is None or not quantity.unit:
        return quantity.text
    number = " ".join(match["number"].split())
    row = find_unit(quantity.unit, quantity.dimension)
    return _joined(f"{'−' if match['sign'] == '-' else ''}{number}", row)


# -----------------------------------------------------------------------------------------------------------
# Numbers as typed

_DECIMAL = r"(?:[0-9]{1,3}(?:\ [0-9]{3})+(?:[.,][0-9]+)?(?![0-9])|[0-9.,]*[0-9])(?:[eE][+-]?[0-9]+)?"
_FRACTION = r"(?:[0-9]+(?:\ +|\ *-\ *))?[0-9]+\ *\/\ *[0-9]+"
_NUMBER = rf"(?P<number>{_FRACTION}|{_DECIMAL})"
_PART = re.compile(rf"\ *{_NUMBER}\ *(?P<unit>[^0-9]*?(?:\^?[23](?![0-9]))?)(?=\ *[0-9]|\ *$)")
_ONE_PART = re.compile(rf"\ *(?P<sign>[+-]?)\ *{_NUMBER}(?![0-9/])\ *(?P<unit>[^0-9]*?(?:\^?[23])?)\ *")
_FRACTION_PARTS = re.compile(r"(?:([0-9]+)(?: +| *- *))?([0-9]+) */ *([0-9]+)")
_NOT_FINITE = re.compile(r"[+-]?(?:nan|inf|infinity|∞)\b.*", re.IGNORECASE)
_THOUSANDS_OR_DECIMALS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")
_GROUPED = re.compile(r"[0-9]{1,3}(?:([.,])[0-9]{3})(?:\1[0-9]{3})*")
_RAISED_NUMBER = re.compile(r"[0-9] *[²³]")
_ONE_PER = re.compile(r"(?<=[0-9] )1/(?=[A-Za-z])")  # the figure in "60 1/min" belongs to the unit
_LARGEST_EXPONENT = 15


def _parts(typed: str, argument: str) -> tuple[bool, list[tuple[Fraction, str]]]:
    """Split what was typed into a sign and its (number, unit text) parts."""
    if _RAISED_NUMBER.search(typed):
        raise _not_understood(argument, typed, "no_number", "has a raised figure after a number")
    plain = _ONE_PER.sub("/", _characters(typed).strip())
    if _NOT_FINITE.fullmatch(plain):
        raise _not_understood(argument, typed, "not_finite", "is no finite number")
    negative = plain.startswith("-")
    body = plain[1:] if plain[:1] in ("-", "+") else plain
    parts: list[tuple[Fraction, str]] = []
    at = 0
    while at < len(body):
        match = _PART.match(body, at)
        if match is None or match.end() == at:
            raise _not_understood(argument, typed, "no_number", "is not one number with its unit")
        parts.append((_number(match["number"], typed, argument), match["unit"]))
        at = match.end()
        while at < len(body) and body[at] == " ":
            at += 1
    if not parts:
        raise _not_understood(argument, typed, "no_number", "has no number")
    return negative, parts


def _number(text: str, typed: str, argument: str) -> Fraction:
    if "/" in text:
        match = _FRACTION_PARTS.fullmatch(text)
        if match is None or int(match[3]) == 0 or (match[1] and int(match[2]) >= int(match[3])):
            raise _not_understood(argument, typed, "fraction", "has a fraction that cannot be")
        return int(match[1] or 0) + Fraction(int(match[2]), int(match[3]))
    mantissa, _, exponent = text.replace(" ", "").lower().partition("e")
    if exponent and abs(int(exponent)) > _LARGEST_EXPONENT:
        raise OutOfRange(argument, f"is beyond what can be held, got {typed}", typed=typed, reason="too_large")
    return Fraction(_plain_decimal(mantissa, typed, argument)) * Fraction(10) ** int(exponent or 0)


def _plain_decimal(text: str, typed: str, argument: str) -> str:
    """Give digits with a dot as the decimal mark, or refuse what can be read in two ways."""
    if _THOUSANDS_OR_DECIMALS.fullmatch(text):
        whole, decimals = text.split(",")
        raise _not_understood(
            argument,
            typed,
            "thousands_ambiguous",
            "can be read in two ways",
            either=f"{whole}.{decimals}",
            or_=f"{whole}{decimals}",
        )
    dots, commas = text.count("."), text.count(",")
    if dots + commas <= 1:
        return text.replace(",", ".")
    if dots and commas:
        mark = max(".", ",", key=text.rfind)
        whole, _, decimals = text.rpartition(mark)
        if _GROUPED.fullmatch(whole) and mark not in whole and decimals.isdigit():
            return f"{re.sub('[.,]', '', whole)}.{decimals}"
    elif _GROUPED.fullmatch(text):
        return re.sub("[.,]", "", text)
    raise _not_understood(argument, typed, "no_number", "has decimal marks that do not fit together")


def _may_follow(previous: Unit, unit: Unit, number: Fraction) -> bool:
    """Say whether a part may follow another in one amount: smaller, and less than one of the larger."""
    return (
        unit.factor < previous.factor
        and not unit.offset
        and not previous.offset
        and number * unit.factor < previous.factor
    )


def _characters(text: str) -> str:
    return text.translate(_CHARACTERS).replace("''", '"')


# -----------------------------------------------------------------------------------------------------------
# Units as typed

_PER = re.compile(r" +per +| */ *")
_BETWEEN = re.compile(r"[ ·.\-_]+")


def spelling(text: str) -> str:
    """Give the spelling under which a unit is looked up: "Ft. lbs." and "Ft-lbs" both give "Ft·lbs"."""
    plain = _PER.sub("/", _characters(text).strip()).replace("^", "")
    plain = plain[1:] if plain.startswith("1/") else plain
    return _BETWEEN.sub("·", plain).replace("·/", "/").replace("/·", "/").strip("·")


def _unit_typed(
    unit_text: str, dimension: Dimension, default_unit: str, typed: str, argument: str, *, alone: bool
) -> Unit:
    if spelling(unit_text):
        return _look_up(unit_text, dimension, typed, argument)
    if not alone:
        raise _not_understood(argument, typed, "compound", "is not one amount")
    fallback = default_unit or ("1" if dimension is Dimension.RATIO else "")
    if unit_text.strip() or not fallback:
        raise _not_understood(
            argument,
            typed,
            "unit_missing",
            "needs its unit beside it",
            units=", ".join(unit_symbols(dimension)[:4]),
        )
    return find_unit(fallback, dimension, argument=argument)


def _look_up(unit_text: str, dimension: Dimension, typed: str, argument: str) -> Unit:
    key = spelling(unit_text)
    of = TABLE[dimension]
    if found := _in_table(key, of):
        return found
    if choices := of.refused.get(key.lower()):
        raise _not_understood(
            argument,
            typed,
            "unit_ambiguous",
            f"has a unit that can mean two things; write {choices}",
            unit=unit_text.strip(),
            units=choices,
        )
    for other, units in TABLE.items():
        if other is not dimension and _in_table(key, units):
            raise _wrong_dimension(argument, typed, dimension, str(other))
    return _from_pint(key, dimension, typed, argument)


def _in_table(key: str, of: UnitsOf) -> Unit | None:
    return of.exact.get(key) or of.any_case.get(key.lower())


# -----------------------------------------------------------------------------------------------------------
# Units outside the table: pint, woken only here

_FACTOR = r"[A-Za-zμ°]+(?:_[A-Za-z]+)*(?:[1-4])?"
_PINT_UNIT = re.compile(rf"{_FACTOR}(?:[·/]{_FACTOR}){{0,3}}")
_NO_OUTSIDE_UNITS = (Dimension.TEMPERATURE, Dimension.RATIO)
_ANGLE_UNITS = ("radian", "degree", "arcminute", "arcsecond", "grade", "turn", "revolution", "cycle", "count")
_ENERGY_UNITS = ("joule", "calorie", "watt", "btu", "british_thermal_unit", "electron_volt", "erg", "therm")
_PINT_SI = {
    Dimension.TORQUE: "newton*meter",
    Dimension.LENGTH: "meter",
    Dimension.MASS: "kilogram",
    Dimension.FORCE: "newton",
    Dimension.ANGLE: "degree",
    Dimension.PRESSURE: "pascal",
    Dimension.ENERGY: "joule",
    Dimension.RATE: "newton/meter",
    Dimension.DURATION: "second",
    Dimension.FREQUENCY: "hertz",
    Dimension.SPEED: "meter/second",
}


@lru_cache(maxsize=1)
def registry() -> pint.UnitRegistry[Any]:
    """Give the one pint registry of the house, counting in exact fractions. Waking it takes a while."""
    import pint

    return pint.UnitRegistry(non_int_type=Fraction, cache_folder=None)


def _from_pint(key: str, dimension: Dimension, typed: str, argument: str) -> Unit:
    outcome = _pint_unit(key, dimension)
    if isinstance(outcome, Unit):
        return outcome
    if outcome:
        raise _wrong_dimension(argument, typed, dimension, outcome)
    raise _not_understood(
        argument,
        typed,
        "unit_unknown",
        "has a unit that is not known here",
        unit=key,
        units=", ".join(unit_symbols(dimension)[:4]),
    )


@lru_cache(maxsize=256)
def _pint_unit(key: str, dimension: Dimension) -> Unit | str:
    """Give the unit, or the dimension it has instead, or "" if pint does not know it either.

    Pint counts angles and ratios as one dimension, torque and energy too: here the units' names part them.
    """
    if not _PINT_UNIT.fullmatch(key) or dimension in _NO_OUTSIDE_UNITS:
        return ""
    import pint

    units = registry()
    expression = re.sub(r"([A-Za-zμ°])([1-4])", r"\1**\2", key.replace("·", "*"))
    try:
        parsed = units.parse_units(expression)
        factor = units.Quantity(1, parsed).to(_PINT_SI[dimension]).magnitude
    except pint.DimensionalityError:
        return _dimension_of(parsed)
    except (pint.PintError, AttributeError, ValueError, TypeError, KeyError):
        return ""
    names = [name for name, _ in parsed._units.items()]
    is_angle = [any(angle in name for angle in _ANGLE_UNITS) for name in names]
    if dimension is Dimension.ANGLE and not (len(names) == 1 and is_angle[0]):
        return "ratio"
    if dimension is not Dimension.ANGLE and any(is_angle):
        return "angle"
    if dimension is Dimension.TORQUE and any(energy in name for name in names for energy in _ENERGY_UNITS):
        return "energy"
    return Unit(key, Fraction(factor) * SMALL_UNITS[dimension][1], Fraction(0), 3, None, True, expression)


def _dimension_of(parsed: pint.Unit) -> str:
    """Name what an outside unit measures, for the refusal."""
    for dimension, name in _PINT_SI.items():
        if parsed.is_compatible_with(name):
            return str(dimension)
    return "different kind of amount"


# -----------------------------------------------------------------------------------------------------------
# Rounding


def _whole(value: Fraction, argument: str, typed: str) -> int:
    whole = round(value)
    if whole == 0 and value != 0:
        raise OutOfRange(argument, f"is too small to be held, got {typed}", typed=typed, reason="too_small")
    if abs(whole) > LARGEST_VALUE:
        raise OutOfRange(argument, f"is beyond what can be held, got {typed}", typed=typed, reason="too_large")
    return whole


def _fraction(amount: int | float | Fraction, argument: str) -> Fraction:
    try:
        return Fraction(amount)
    except (ValueError, OverflowError) as error:
        raise OutOfRange(argument, f"needs a finite amount, got {amount}", reason="not_finite") from error


def _places(amount: Fraction, row: Unit) -> int:
    if row.digits is None:
        return row.places
    whole = abs(amount.numerator) // amount.denominator
    figures = len(str(whole)) if whole else 0
    return max(0, min(row.places, row.digits - figures))


def _rounded(amount: Fraction, places: int) -> str:
    """Give an amount with that many decimals, half to even; never a minus before a zero."""
    scaled = round(amount * 10**places)
    digits = str(abs(scaled)).rjust(places + 1, "0")
    sign = "−" if scaled < 0 else ""
    return f"{sign}{digits[:-places]}.{digits[-places:]}" if places else f"{sign}{digits}"


def _joined(number: str, row: Unit) -> str:
    if row.symbol == "1":
        return number
    return f"{number} {row.symbol}" if row.spaced else f"{number}{row.symbol}"


# -----------------------------------------------------------------------------------------------------------
# Problems


def _not_understood(argument: str, typed: str, reason: str, message: str, **details: str) -> TradeProblem:
    shown = typed[:LONGEST_TEXT]
    return NotUnderstood(argument, f"{shown!r} {message}", typed=shown, reason=reason, **details)


def _wrong_dimension(argument: str, typed: str, dimension: Dimension, got: str) -> TradeProblem:
    return WrongDimension(
        argument,
        f"needs a {dimension}, got a {got} ({typed})",
        typed=typed,
        needed=str(dimension),
        got=got,
    )


def _same(quantity: Quantity, dimension: Dimension, argument: str) -> None:
    if quantity.dimension is not dimension:
        raise _wrong_dimension(argument, quantity.text or str(quantity.value), dimension, str(quantity.dimension))


# -----------------------------------------------------------------------------------------------------------
# The table


def _read_units(rows: list[dict[str, Any]]) -> dict[str, Unit]:
    return {
        row["symbol"]: Unit(
            symbol=row["symbol"],
            factor=Fraction(row["numerator"], row["denominator"]),
            offset=Fraction(row.get("offset_numerator", 0), row.get("offset_denominator", 1)),
            places=row["places"],
            digits=row.get("digits"),
            spaced=not row.get("no_space", False),
            pint_name=row["pint"],
        )
        for row in rows
    }


def _read_dimension(data: dict[str, Any]) -> UnitsOf:
    by_symbol = _read_units(data["units"])
    exact: dict[str, Unit] = {}
    any_case: dict[str, Unit] = {}
    for row in data["units"]:
        for text in (row["symbol"], *row["aliases"]):
            exact[spelling(text)] = by_symbol[row["symbol"]]
            if not row.get("case_matters", False):
                any_case.setdefault(spelling(text).lower(), by_symbol[row["symbol"]])
    return UnitsOf(data["default"], by_symbol, exact, any_case, data["refused"])


_DATA: dict[str, Any] = json.loads(TABLE_PATH.read_text("utf-8"))
_CHARACTERS = str.maketrans(_DATA["characters"])
LONGEST_TEXT: int = _DATA["longest_text"]
LARGEST_VALUE: int = _DATA["largest_value"]
TABLE: dict[Dimension, UnitsOf] = {Dimension(name): _read_dimension(data) for name, data in _DATA["dimensions"].items()}
