"""Fields of the Desk's forms as typed: words, whole numbers, days and amounts, or the problem beside each.

A `Reader` gathers every problem of one form, so that all of them are said at once.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from app.domain.problems import Problem, Refused
from app.trade.quantity import Dimension, Quantity
from app.trade.units import show
from app.use_cases.typed_amount import amount_typed, example_of

# House rule: a year outside is a slip of the finger.
YEARS = range(1990, 2101)


@dataclass(slots=True)
class Reader:
    """Reads one form's fields; what cannot be read is a problem in `problems` and gives nothing back."""

    problems: list[Problem] = field(default_factory=list)

    def wrong(self, code: str, name: str, **details: str | int) -> None:
        self.problems.append(Problem(code, name, details))

    def words(self, text: str, name: str, *, missing: str = "", limit: int = 200) -> str:
        """Text without blanks around it; `missing` is the code when there has to be some."""
        typed = text.strip()
        if not typed and missing:
            self.wrong(missing, name)
        if len(typed) > limit:
            self.wrong("too_long", name, limit=limit)
        return typed

    def whole(self, text: str, name: str, low: int, high: int) -> int:
        """A whole number from low to high; 0 after a problem."""
        typed = text.strip()
        number = int(typed) if typed.isascii() and typed.isdigit() and len(typed) <= 9 else -1
        if not low <= number <= high:
            self.wrong("whole_number", name, low=low, high=high)
            return 0
        return number

    def day(self, text: str, name: str) -> date | None:
        """A day as a date field sends it; None when left empty."""
        typed = text.strip()
        if not typed:
            return None
        try:
            day = date.fromisoformat(typed)
        except ValueError:
            day = date.min
        if day.year not in YEARS:
            self.wrong("day_unclear", name, typed=typed[:40])
            return None
        return day

    def amount(
        self, text: str, name: str, dimension: Dimension, unit: str, low: int, high: int, *, optional: bool = False
    ) -> Quantity | None:
        """An amount within what can be (small units, ends included)."""
        if not text.strip():
            if not optional:
                self.wrong("value_missing", name, example=example_of(dimension, unit))
            return None
        read = amount_typed(text, dimension, unit, name)
        if isinstance(read, Problem):
            self.problems.append(read)
            return None
        if not low <= read.value <= high:
            ends = {"low": show(Quantity(dimension, low), unit), "high": show(Quantity(dimension, high), unit)}
            self.wrong("value_bounds", name, typed=text.strip()[:64], **ends)
            return None
        return read

    def done(self) -> None:
        """Raises: Refused with everything found, if anything was."""
        if self.problems:
            raise Refused(self.problems)
