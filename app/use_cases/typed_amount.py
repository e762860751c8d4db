"""A reading as somebody typed it into a field: a quantity, or the problem to show beside the field."""

from __future__ import annotations

from app.domain.entry import Reading
from app.domain.problems import Problem
from app.trade.problems import InputMissing, NotUnderstood, OutOfRange, TradeProblem, WrongDimension
from app.trade.quantity import Dimension, Quantity
from app.trade.units import as_typed, parse_quantity

# What a person is shown as an example of each kind, in the usual unit and in others.
EXAMPLES = {
    Dimension.TORQUE: {"N·m": "110 N·m", "lbf·ft": "81 lbf·ft", "lbf·in": "240 lbf·in", "kgf·m": "11.2 kgf·m"},
    Dimension.LENGTH: {"mm": "4.5 mm", "in": "1 1/16 in", "m": "2.7 m"},
    Dimension.MASS: {"kg": "1500 kg", "lb": "3300 lb"},
    Dimension.FORCE: {"N": "9000 N", "kN": "9 kN", "lbf": "2000 lbf"},
    Dimension.ANGLE: {"°": "1.5°", "turn": "3 turn"},
    Dimension.PRESSURE: {"kPa": "230 kPa", "bar": "2.3 bar", "psi": "33 psi"},
    Dimension.DURATION: {"min": "10 min", "s": "30 s"},
    Dimension.RATE: {"N/mm": "30 N/mm", "lbf/in": "171 lbf/in"},
    Dimension.RATIO: {"1": "2"},
}


def amount_typed(text: str, dimension: Dimension, unit: str, field: str) -> Quantity | Problem:
    """Read an amount; a bare number is in `unit`."""
    try:
        return parse_quantity(text, dimension, default_unit=unit, argument=field)
    except TradeProblem as problem:
        return _problem(problem, text, dimension, unit, field)


def _problem(problem: TradeProblem, text: str, dimension: Dimension, unit: str, field: str) -> Problem:
    typed = text if len(text) <= 64 else f"{text[:64]}…"
    details: dict[str, str | int] = {"typed": typed, "example": example_of(dimension, unit)}
    match problem:
        case InputMissing():
            return Problem("amount_missing", field, details)
        case WrongDimension():
            kinds = {"needed": str(dimension), "got": problem.details.get("got", "different kind of amount")}
            return Problem("amount_other_kind", field, {**details, **kinds})
        case OutOfRange() if problem.details.get("reason") != "not_finite":
            return Problem("amount_beyond", field, details)
        case NotUnderstood():
            return Problem("amount_unclear", field, {**details, "why": problem.details.get("reason", "")})
        case _:
            return Problem("amount_unclear", field, details)


def example_of(dimension: Dimension, unit: str) -> str:
    known = EXAMPLES.get(dimension, {})
    return known.get(unit) or next(iter(known.values()), f"12 {unit}".strip())


def reading_of(quantity: Quantity) -> Reading:
    """The reading of an entry: the number as typed and its unit apart; an amount of several parts whole."""
    shown = as_typed(quantity)
    unit = "" if quantity.unit == "1" else quantity.unit
    if unit and shown.endswith(unit):
        return Reading(quantity.value, shown.removesuffix(unit).strip(), unit)
    return Reading(quantity.value, shown, "")
