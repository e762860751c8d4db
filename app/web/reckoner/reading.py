"""From what was typed to a result or to problems, each with its field. Nothing typed is changed or dropped here."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from app.domain.problems import Problem
from app.trade.problems import TradeProblem
from app.trade.quantity import Quantity
from app.use_cases.typed_amount import amount_typed
from app.web.reckoner.sums import Amount, Asked, Day, Given, Pick, Result, Rows, Sign, Sum, Value, Whole, Word


@dataclass(frozen=True, slots=True)
class Outcome:
    """given is None and problems are empty when nothing was typed yet."""

    given: Given | None
    problems: tuple[Problem, ...]
    result: Result | None


def reckon(one: Sum, typed: Mapping[str, str]) -> Outcome:
    """Do a sum with what was typed."""
    if not any(typed.get(name, "").strip() for name in names_of(one) if name not in prefilled(one)):
        return Outcome(None, (), None)
    given, problems = read(one, typed)
    if problems:
        return Outcome(given, tuple(problems), None)
    try:
        return Outcome(given, (), one.reckon(given))
    except TradeProblem as problem:
        return Outcome(given, (_problem_of(one, problem, typed),), None)


def names_of(one: Sum) -> Iterator[str]:
    """The name of every field on the page."""
    for asked in one.inputs:
        if isinstance(asked, Rows):
            yield from (cell(asked, row, column) for row in range(1, asked.at_most + 1) for column in asked.columns)
        else:
            yield asked.name


def prefilled(one: Sum) -> frozenset[str]:
    return frozenset(asked.name for asked in one.inputs if isinstance(asked, Day) and asked.is_today)


def cell(rows: Rows, row: int, column: Asked) -> str:
    return f"{rows.name}-{row}-{column.name}"


def read(one: Sum, typed: Mapping[str, str]) -> tuple[Given, list[Problem]]:
    """Read every field; all problems together."""
    values: dict[str, Value] = {}
    rows_of: dict[str, tuple[Given, ...]] = {}
    problems: list[Problem] = []
    for asked in one.inputs:
        if isinstance(asked, Rows):
            rows_of[asked.name] = _read_rows(asked, typed, problems)
        else:
            _keep(asked, asked.name, asked.label, typed, values, problems)
    return Given(values, rows_of), problems


def _read_rows(rows: Rows, typed: Mapping[str, str], problems: list[Problem]) -> tuple[Given, ...]:
    found = []
    for row in range(1, rows.at_most + 1):
        if not any(typed.get(cell(rows, row, column), "").strip() for column in rows.columns):
            continue
        values: dict[str, Value] = {}
        for column in rows.columns:
            label = f"{rows.row} {row}, {column.label}"
            _keep(column, cell(rows, row, column), label, typed, values, problems)
        found.append(Given(values))
    if len(found) < rows.at_least and not problems:
        first = cell(rows, len(found) + 1, rows.columns[0])
        problems.append(Problem("sum_rows_missing", first, {"label": rows.label, "least": rows.at_least}))
    return tuple(found)


def _keep(
    asked: Asked,
    name: str,
    label: str,
    typed: Mapping[str, str],
    values: dict[str, Value],
    problems: list[Problem],
) -> None:
    text = typed.get(name, "").strip()
    if not text:
        if not asked.optional:
            problems.append(Problem("sum_input_missing", name, {"label": label, "example": _example(asked)}))
        return
    got = _value(asked, text, name, label)
    if isinstance(got, Problem):
        problems.append(got)
    else:
        values[asked.name] = got


def _value(asked: Asked, text: str, name: str, label: str) -> Value | Problem:
    match asked:
        case Amount():
            return _amount(asked, text, name, label)
        case Whole():
            return _whole(asked, text, name, label)
        case Day():
            return _day(text, name, label)
        case Pick():
            if text not in {key for key, _ in asked.options}:
                return Problem("sum_choice", name, {"label": label})
            return text
        case Word():
            if len(text) > asked.longest:
                return Problem("sum_too_long", name, {"label": label, "longest": asked.longest})
            return text
    raise TypeError(f"no reader for {type(asked).__name__}")


def _amount(asked: Amount, text: str, name: str, label: str) -> Value | Problem:
    first: Problem | None = None
    for place, kind in enumerate(asked.kinds):
        got = amount_typed(text, kind, asked.unit if place == 0 else "", name)
        if isinstance(got, Quantity):
            return _signed(asked, got, name, label)
        first = first or got
    assert first is not None  # an amount has at least one kind
    details = {**first.details, "example": asked.example, "label": label}
    match first.code:
        case "amount_beyond":
            return Problem("sum_beyond", name, details)
        case "amount_other_kind":
            return Problem("sum_other_kind", name, {**details, "needed": " or ".join(asked.kinds)})
        case code:
            return Problem(code, name, details)


def _signed(asked: Amount, got: Quantity, name: str, label: str) -> Value | Problem:
    details = {"label": label, "typed": _short(got.text)}
    if asked.sign is Sign.POSITIVE and got.value <= 0:
        return Problem("sum_not_positive", name, details)
    if asked.sign is Sign.NOT_NEGATIVE and got.value < 0:
        return Problem("sum_negative", name, details)
    return got


def _whole(asked: Whole, text: str, name: str, label: str) -> Value | Problem:
    details = {"label": label, "typed": _short(text), "example": asked.example}
    if not re.fullmatch(r"[-−]?[0-9]{1,9}", text):
        return Problem("sum_whole", name, details)
    if text[0] in "-−" and int(text[1:]):
        return Problem("sum_negative", name, details)
    return int(text.replace("−", "-"))


def _day(text: str, name: str, label: str) -> Value | Problem:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return Problem("sum_day", name, {"label": label, "typed": _short(text)})


def _example(asked: Asked) -> str:
    match asked:
        case Amount() | Word() | Whole():
            return asked.example
        case Pick():
            return asked.options[0][1]
        case _:
            return "2026-05-31"


def _short(text: str) -> str:
    return text if len(text) <= 40 else f"{text[:40]}…"


# -----------------------------------------------------------------------------------------------------------
# Problems of the trade library


def _problem_of(one: Sum, problem: TradeProblem, typed: Mapping[str, str]) -> Problem:
    """A problem of a sum beside the field it belongs to; on top of the page where it belongs to none."""
    stem = re.split(r"[.\[]", problem.argument)[0]
    names = list(names_of(one))
    wanted = one.arguments.get(problem.argument) or one.arguments.get(stem)
    wanted = wanted or (problem.argument if problem.argument in names else stem)
    name = wanted if wanted in names else next((each for each in names if each.startswith(f"{wanted}-")), "")
    label = next((asked.label for asked in one.inputs if asked.name in (name, wanted)), one.title)
    details: dict[str, str | int] = {
        **problem.details,
        "label": label,
        "typed": _short(typed.get(name, "").strip()),
        "why": problem.details.get("reason") or stem,
        "example": next((_example(asked) for asked in one.inputs if asked.name == name), ""),
    }
    return Problem(f"sum_{problem.code}", name, details)
