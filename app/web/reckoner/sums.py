"""How a sum of the Reckoner is described. No sum is here, only what every one of them is made of."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import Any

from app.trade.problems import InputMissing
from app.trade.quantity import Dimension, Quantity


class Sign(StrEnum):
    """What sign an amount may have. Asked before the sum is done, so that every field is told at once."""

    ANY = "any"
    POSITIVE = "positive"
    NOT_NEGATIVE = "not_negative"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One input. `assumed`: what is taken in its place when it is left empty, in words; shown with the result."""

    name: str
    label: str
    symbol: str = ""
    hint: str = ""
    optional: bool = False
    assumed: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount(Asked):
    """An amount with any unit of its kind; a bare number is in `unit` (of the first kind)."""

    kinds: tuple[Dimension, ...]
    unit: str
    example: str
    sign: Sign = Sign.ANY


@dataclass(frozen=True, slots=True, kw_only=True)
class Word(Asked):
    """A text that the sum reads itself: a tyre size, a thread, money. `lines`: a box of many lines."""

    example: str
    longest: int = 64
    lines: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Pick(Asked):
    """One of a closed set: (key, words)."""

    options: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Whole(Asked):
    """A whole number without a unit, never below zero: things that are counted."""

    example: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Day(Asked):
    """A date. `is_today`: filled in with today's until somebody changes it."""

    is_today: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows(Asked):
    """Up to `at_most` rows of the same columns; a row left empty is passed over."""

    columns: tuple[Asked, ...]
    at_most: int
    at_least: int = 0
    row: str = "Row"


Value = Quantity | str | int | date


@dataclass(frozen=True, slots=True)
class Given:
    """What was typed, as typed values. What the reader let through is there; the rest is asked for by name."""

    values: Mapping[str, Value]
    rows_of: Mapping[str, tuple[Given, ...]] = field(default_factory=dict)

    def has(self, name: str) -> bool:
        return name in self.values

    def amount(self, name: str) -> Quantity:
        value = self.values.get(name)
        if not isinstance(value, Quantity):
            raise InputMissing(name, "is needed for this sum")
        return value

    def maybe(self, name: str) -> Quantity | None:
        return self.amount(name) if name in self.values else None

    def text(self, name: str) -> str:
        value = self.values.get(name, "")
        return value if isinstance(value, str) else ""

    def whole(self, name: str) -> int:
        value = self.values.get(name)
        if not isinstance(value, int):
            raise InputMissing(name, "is needed for this sum")
        return value

    def day(self, name: str) -> date | None:
        value = self.values.get(name)
        return value if isinstance(value, date) else None

    def rows(self, name: str) -> tuple[Given, ...]:
        return self.rows_of.get(name, ())


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a result: what it is, the figure with its unit, and what to know about it."""

    label: str
    text: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Result:
    """The answer. lines: the answer first. said: sentences. assumed: taken beyond what the inputs name.

    shims: the stacks before and after, as `domain.drawing_compared.shims_picture` gives them.
    """

    lines: tuple[Line, ...]
    said: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    drawing: Mapping[str, str | int] = field(default_factory=dict)
    shims: Mapping[str, Any] | None = None


@dataclass(frozen=True, slots=True)
class Example:
    """Inputs and the figure that somebody outside this house gives for them, with who that is."""

    typed: Mapping[str, str]
    figure: str
    source: str


@dataclass(frozen=True, slots=True)
class Sum:
    """One page of the Reckoner.

    asks:       the question it answers, as a person would put it.
    cautions:   what to mind; with `danger`, the symbol of a hazard, they stand under its signal word.
    arguments:  the input a problem of the trade library belongs to, where its argument has another name.
    """

    slug: str
    title: str
    asks: str
    inputs: tuple[Asked, ...]
    reckon: Callable[[Given], Result]
    formula: tuple[str, ...]
    valid: str
    sources: tuple[str, ...]
    picture: str
    example: Example
    drawing: Mapping[str, str | int] = field(default_factory=dict)
    cautions: tuple[str, ...] = ()
    danger: str = ""
    arguments: Mapping[str, str] = field(default_factory=dict)
    is_posted: bool = False


@dataclass(frozen=True, slots=True)
class Group:
    """Sums that belong together on the list."""

    title: str
    sums: Sequence[Sum]


# -----------------------------------------------------------------------------------------------------------
# Short spellings of the usual inputs


def amount(
    name: str,
    label: str,
    kind: Dimension,
    unit: str,
    example: str,
    symbol: str = "",
    *,
    sign: Sign = Sign.POSITIVE,
    hint: str = "",
    optional: bool = False,
    assumed: str = "",
    also: tuple[Dimension, ...] = (),
) -> Amount:
    return Amount(
        name=name,
        label=label,
        symbol=symbol,
        hint=hint,
        optional=optional or bool(assumed),
        assumed=assumed,
        kinds=(kind, *also),
        unit=unit,
        example=example,
        sign=sign,
    )
