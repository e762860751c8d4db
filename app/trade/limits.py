"""A target with its own room below and above: how makers print heights and angles.

The two sides are kept apart on purpose. "0.5° (−1° … +2°)" is not "0.5° ± something", and averaging the two
sides would pass a wheel that its maker would not.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from app.trade.problems import OutOfRange
from app.trade.quantity import Quantity, need


class Standing(StrEnum):
    """Where a reading stands against its limits. Exactly on a limit is within it."""

    BELOW = "below"
    WITHIN = "within"
    ABOVE = "above"


@dataclass(frozen=True, slots=True)
class Limits:
    """What a source prints for one place: target, lowest and highest, all of one dimension.

    Raises: OutOfRange if the target does not lie between the two; WrongDimension if they differ in kind.
    """

    target: Quantity
    low: Quantity
    high: Quantity

    def __post_init__(self) -> None:
        need(self.low, self.target.dimension, "low")
        need(self.high, self.target.dimension, "high")
        if not self.low.value <= self.target.value <= self.high.value:
            raise OutOfRange("target", "must lie between the lowest and the highest figure; check all three")


@dataclass(frozen=True, slots=True)
class Judged:
    """One reading beside its limits. `off_by` is how far past the nearer limit it is: zero within, below negative."""

    reading: Quantity
    limits: Limits
    standing: Standing
    off_by: Quantity
    from_target: Quantity


def around(target: Quantity, minus: Quantity, plus: Quantity) -> Limits:
    """Give limits from a target with its room below and above, both written as positive amounts.

    Raises: OutOfRange for a negative room; WrongDimension if the three differ in kind.
    """
    need(minus, target.dimension, "minus", at_least_zero=True)
    need(plus, target.dimension, "plus", at_least_zero=True)
    return Limits(
        target,
        Quantity(target.dimension, target.value - minus.value),
        Quantity(target.dimension, target.value + plus.value),
    )


def judge(reading: Quantity, limits: Limits) -> Judged:
    """Say where a reading stands against its limits.

    Units:  compared as whole small units, never rounded first.
    Raises: WrongDimension if the reading is of another kind.
    """
    dimension = limits.target.dimension
    need(reading, dimension, "reading")
    if reading.value < limits.low.value:
        standing, off_by = Standing.BELOW, reading.value - limits.low.value
    elif reading.value > limits.high.value:
        standing, off_by = Standing.ABOVE, reading.value - limits.high.value
    else:
        standing, off_by = Standing.WITHIN, 0
    return Judged(
        reading,
        limits,
        standing,
        Quantity(dimension, off_by),
        Quantity(dimension, reading.value - limits.target.value),
    )
