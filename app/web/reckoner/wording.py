"""Figures as a page says them: in the unit that was typed, with the trade's other unit beside it."""

from __future__ import annotations

from fractions import Fraction

from app.trade.alignment import to_degrees_minutes
from app.trade.quantity import Dimension, Quantity
from app.trade.units import amount_in, show

PAIRS = {
    Dimension.TORQUE: ("N·m", "lbf·ft"),
    Dimension.LENGTH: ("mm", "in"),
    Dimension.MASS: ("kg", "lb"),
    Dimension.FORCE: ("N", "lbf"),
    Dimension.RATE: ("N/mm", "lbf/in"),
    Dimension.ENERGY: ("J", "ft·lbf"),
    Dimension.PRESSURE: ("MPa", "ksi"),
    Dimension.SPEED: ("km/h", "mph"),
    Dimension.ANGLE: ("°",),
    Dimension.FREQUENCY: ("Hz", "1/min"),
    Dimension.DURATION: ("h", "min"),
    Dimension.RATIO: ("%",),
}
# Decimals that say no more than the sums know; where nothing is listed the table of units decides.
_PLACES = {"N": 0, "lbf": 0, "kg": 1, "lb": 1, "N/mm": 2, "lbf/in": 1, "J": 1, "mm": 1, "MPa": 0, "ksi": 1}


def worded(quantity: Quantity, like: Quantity | None = None, places: int | None = None) -> str:
    """The figure in the unit of `like` (else the usual one), the other usual unit beside it."""
    pair = PAIRS[quantity.dimension]
    typed = like.unit if like is not None and like.dimension is quantity.dimension else ""
    first = typed or pair[0]
    other = next((unit for unit in pair if unit != first), "")
    if typed and typed not in pair:
        other = pair[0]
    text = show(quantity, first, _places(quantity, first) if places is None else places)
    return f"{text} ({show(quantity, other, _places(quantity, other))})" if other else text


def _places(quantity: Quantity, unit: str) -> int | None:
    if unit == "in":
        inches = abs(amount_in(quantity, Dimension.LENGTH, "in"))
        return 4 if inches < Fraction(1, 10) else 3 if inches < 1 else 2 if inches < 10 else 1
    return _PLACES.get(unit)


def number(quantity: Quantity, places: int = 2) -> str:
    """A ratio as a plain number."""
    return show(quantity, "1", places)


def percent(quantity: Quantity, places: int = 1) -> str:
    return show(quantity, "%", places)


def degrees(quantity: Quantity, places: int = 2) -> str:
    """An angle in degrees and in degrees and minutes."""
    parts = to_degrees_minutes(quantity)
    minutes = f"{parts.minutes:.1f}".removesuffix(".0")
    sign = "−" if parts.negative and (parts.degrees or parts.minutes) else ""
    return f"{show(quantity, '°', places)} ({sign}{parts.degrees}° {minutes}′)"


def signed(quantity: Quantity, text: str) -> str:
    """A difference with its sign said, plus as well as minus."""
    return f"+{text}" if quantity.value > 0 else text


def mdeg(quantity: Quantity) -> int:
    """An angle in whole degrees, for a picture."""
    return round(quantity.value / 1000)
