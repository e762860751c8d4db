"""The one quantity type of the house: a whole number of a named small unit, and what was typed.

Floats never leave this package. A `Quantity` holds an integer in its dimension's small unit (so that server and
tablet agree to the last digit), beside the text and unit as typed or as printed by a source, which are never
re-derived. Parsing and conversion live in `units`; this file holds only the type and the small units.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from app.trade.problems import InputMissing, OutOfRange, WrongDimension


class Dimension(StrEnum):
    """What kind of thing a quantity measures. The values are the words used in packets and entries."""

    TORQUE = "torque"
    LENGTH = "length"
    MASS = "mass"
    FORCE = "force"
    ANGLE = "angle"
    PRESSURE = "pressure"
    ENERGY = "energy"
    RATE = "rate"
    DURATION = "duration"
    FREQUENCY = "frequency"
    SPEED = "speed"
    TEMPERATURE = "temperature"
    RATIO = "ratio"


# The suffix that keys carry in packets and entries (`torque_mnm`), and how many small units make one SI unit.
# SI units: N·m, m, kg, N, degree (angles stay in degrees: the trade does), Pa, J, N/m, s, Hz, m/s, °C, 1.
SMALL_UNITS: dict[Dimension, tuple[str, int]] = {
    Dimension.TORQUE: ("mnm", 1_000),
    Dimension.LENGTH: ("um", 1_000_000),
    Dimension.MASS: ("g", 1_000),
    Dimension.FORCE: ("mn", 1_000),
    Dimension.ANGLE: ("mdeg", 1_000),
    Dimension.PRESSURE: ("pa", 1),
    Dimension.ENERGY: ("mj", 1_000),
    Dimension.RATE: ("npm", 1),
    Dimension.DURATION: ("ms", 1_000),
    Dimension.FREQUENCY: ("mhz", 1_000),
    Dimension.SPEED: ("mmps", 1_000),
    Dimension.TEMPERATURE: ("mdegc", 1_000),
    Dimension.RATIO: ("ppm", 1_000_000),
}


@dataclass(frozen=True, slots=True)
class Quantity:
    """A measured or stated amount.

    value: whole number of the dimension's small unit (torque in mN·m, length in µm …: `SMALL_UNITS`).
    unit:  the symbol as typed, in the spelling of `shared/units.json` ("lbf·ft"); "" when it was computed here.
    text:  exactly what was typed or printed ("81 lb-ft"); "" when it was computed here.
    """

    dimension: Dimension
    value: int
    unit: str = ""
    text: str = ""

    @property
    def si(self) -> float:
        """The amount in the dimension's SI unit (degrees for angles). For sums inside this package only."""
        return self.value / SMALL_UNITS[self.dimension][1]

    @property
    def key(self) -> str:
        """The key this value has in packets and entries, for example `torque_mnm`."""
        return f"{self.dimension}_{SMALL_UNITS[self.dimension][0]}"


def from_si(dimension: Dimension, amount: float, argument: str = "result") -> Quantity:
    """Turn a computed SI amount into a quantity, rounded half to even to its small unit.

    Raises: OutOfRange if the amount is not a finite number.
    """
    if not math.isfinite(amount):
        raise OutOfRange(argument, f"needs a finite amount, got {amount}", reason="not_finite")
    return Quantity(dimension, round(amount * SMALL_UNITS[dimension][1]))


def need(
    quantity: Quantity | None,
    dimension: Dimension,
    argument: str,
    *,
    positive: bool = False,
    at_least_zero: bool = False,
) -> float:
    """Give the SI amount of an argument, having checked its dimension and sign.

    Raises: InputMissing for None; WrongDimension for another dimension; OutOfRange for a sign that cannot be.
    """
    if quantity is None:
        raise InputMissing(argument, f"needs a {dimension}")
    if quantity.dimension is not dimension:
        raise WrongDimension(
            argument,
            f"needs a {dimension}, got a {quantity.dimension} ({quantity.text or quantity.value})",
            needed=str(dimension),
            got=str(quantity.dimension),
        )
    if positive and quantity.value <= 0:
        raise OutOfRange(
            argument, f"needs more than zero, got {quantity.text or quantity.value}", reason="not_positive"
        )
    if at_least_zero and quantity.value < 0:
        raise OutOfRange(argument, f"cannot be negative, got {quantity.text or quantity.value}", reason="negative")
    return quantity.si
