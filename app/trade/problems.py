"""The errors of the sums, in one tree. Each names the argument at fault and the way out.

TradeProblem
├── NotUnderstood      what was typed is no number with a unit that we know
├── WrongDimension     a torque was asked for and a length came
├── OutOfRange         the number cannot be (zero, negative, infinite, beyond the sum's range of validity)
├── InputMissing       the sum needs a figure nobody has given; nothing is assumed in its place
└── CannotTell         the figures are there but do not settle the question (a trace too short, two readings apart)
"""

from __future__ import annotations

from collections.abc import Mapping


class TradeProblem(ValueError):
    """A sum that could not be done, with everything a page needs to say so.

    `code` is stable and names the sentence in the catalogue; `argument` is the parameter at fault; `details` are
    texts for the sentence's blanks. The message itself is for developers.
    """

    code = "trade_problem"

    def __init__(self, argument: str, message: str, **details: str) -> None:
        super().__init__(f"{argument}: {message}")
        self.argument = argument
        self.message = message
        self.details: Mapping[str, str] = details


class NotUnderstood(TradeProblem):
    code = "not_understood"


class WrongDimension(TradeProblem):
    code = "wrong_dimension"


class OutOfRange(TradeProblem):
    code = "out_of_range"


class InputMissing(TradeProblem):
    code = "input_missing"


class CannotTell(TradeProblem):
    code = "cannot_tell"
