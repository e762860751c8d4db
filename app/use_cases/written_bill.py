"""What the work costs as agreed, in words and figures: part of the customer's letter.

In it as an invoice has to have it: registration of the workshop, day and odometer (elsewhere in the letter), every
service with its price, labour apart from parts, each part with its kind, taxes, total; who agreed to it and how.
Sources: Cal. Bus. & Prof. Code 9884.8; 16 CCR 3356; Fla. Stat. 559.911.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import tzinfo
from typing import TypeAlias

from app.domain.estimate import Charge, Estimate, OfferedLine, charges, taxes_of
from app.domain.packet import PriceState
from app.language.procedures import said
from app.language.speech import _
from app.use_cases.price_lines import Priced
from app.use_cases.written_estimate import coins, plain, tax_row, written_answer, written_line

Word: TypeAlias = Callable[[str], str]


@dataclass(frozen=True, slots=True)
class BillRow:
    """One line of the bill. is_sum: a sum of those above it."""

    what: str
    detail: str
    amount: str
    is_sum: bool = False


@dataclass(frozen=True, slots=True)
class BilledLine:
    title: str
    rows: tuple[BillRow, ...]
    total: str


@dataclass(frozen=True, slots=True)
class Bill:
    """number: the estimate's. edition: its newest. agreed: who said what, when and how. not_done: what was refused."""

    number: str
    edition: int
    registration: str
    lines: tuple[BilledLine, ...]
    sums: tuple[BillRow, ...]
    total: str
    agreed: tuple[str, ...]
    not_done: tuple[str, ...]
    not_agreed: tuple[str, ...]
    old_parts: bool


def written_bill(priced: Priced, zone: tzinfo, word: Word) -> Bill | None:
    """The bill as things stand; None for a job that was never priced."""
    newest = priced.newest
    if newest is None:
        return None
    found = charges(priced.estimates, priced.answers, priced.standing)
    sources = [(charge, _source(priced, charge)) for charge in found]
    titles = {line.line: said(line.title) for one in priced.estimates for line in one.lines}
    offered = [line for charge, line in sources if line is not None and not charge.is_tear_down]
    return Bill(
        number=newest.number,
        edition=newest.edition,
        registration=newest.parties.registration,
        lines=tuple(_billed(charge, line, titles, newest.currency, word) for charge, line in sources),
        sums=tuple(_sums(offered, found, newest.currency)),
        total=coins(sum(one.amount_minor for one in found), newest.currency),
        agreed=tuple(
            f"{said.head} {'; '.join(said.lines)}"
            for said in (written_answer(one, newest.currency, titles, zone, word) for one in priced.answers)
        ),
        not_done=_titles(priced, titles, (PriceState.REFUSED, PriceState.PUT_BACK)),
        not_agreed=_titles(priced, titles, (PriceState.WAITING,)),
        old_parts=any(one.old_parts for one in priced.answers),
    )


def _titles(priced: Priced, titles: dict[str, str], states: tuple[PriceState, ...]) -> tuple[str, ...]:
    return tuple(titles.get(line, line) for line, one in priced.standing.items() if one.state in states)


def _source(priced: Priced, charge: Charge) -> OfferedLine | None:
    """The line of the edition whose price is charged: the newest whose sum it is."""
    editions: list[Estimate] = sorted(priced.estimates, key=lambda one: one.edition, reverse=True)
    lines = [one.line_by_id[charge.line] for one in editions if charge.line in one.line_by_id]
    return next((line for line in lines if line.total_minor == charge.amount_minor), None)


def _billed(charge: Charge, line: OfferedLine | None, titles: dict[str, str], currency: str, word: Word) -> BilledLine:
    title = titles.get(charge.line, charge.line)
    total = coins(charge.amount_minor, currency) if charge.amount_minor else _("free of charge")
    if charge.is_tear_down:
        return BilledLine(title, (BillRow(_("Taking apart and putting together, as announced"), "", ""),), total)
    if line is None:
        return BilledLine(title, (), total)
    wrote = written_line(line, currency, None, word)
    rows = [BillRow(one.text, one.detail, one.amount) for one in (*wrote.labour, *wrote.parts, *wrote.others)]
    rows += [BillRow(name, "", amount, is_sum=True) for name, amount in wrote.sums]
    return BilledLine(title, tuple(rows), total)


def _sums(lines: list[OfferedLine], found: tuple[Charge, ...], currency: str) -> list[BillRow]:
    if len(found) < 2:
        return []
    rows = [
        BillRow(_("Labour"), "", plain(sum(one.labour_minor for one in lines), currency)),
        BillRow(_("Parts"), "", plain(sum(one.parts_minor for one in lines), currency)),
    ]
    other = sum(one.other_minor for one in lines)
    rows += [BillRow(_("Sent out and fees"), "", plain(other, currency))] if other else []
    rows += [BillRow(name, "", amount) for name, amount in (tax_row(tax, currency) for tax in taxes_of(lines))]
    apart = sum(one.amount_minor for one in found if one.is_tear_down)
    return rows + ([BillRow(_("Taking apart, as announced"), "", plain(apart, currency))] if apart else [])
