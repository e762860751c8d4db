"""How the price of each line of a job stands, for its sheet: what may be worked on, what waits, what is left out.

A workshop that has kept no prices works without them. From the first it keeps, every line of a job opened since, and
of every job that has an estimate, waits for the customer's yes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from app.domain.estimate import Answer, Estimate, LineStanding, ShopPrices, standings
from app.domain.packet import Packet, PriceState
from app.domain.records import Job, JobLine, found_first
from app.domain.sheet import Sheet
from app.ports import Unit
from app.trade.labour import limit_of


@dataclass(frozen=True)
class Priced:
    """A job's estimates and answers in the order they were made, and how each line stands; {} where nothing waits."""

    estimates: tuple[Estimate, ...]
    answers: tuple[Answer, ...]
    standing: Mapping[str, LineStanding]

    @property
    def newest(self) -> Estimate | None:
        return self.estimates[-1] if self.estimates else None


def current_prices(unit: Unit) -> ShopPrices | None:
    """The newest edition; None while the workshop has kept none, and then nothing waits for a price."""
    return max(unit.prices.all(), key=lambda one: one.edition, default=None)


def first_prices(unit: Unit) -> ShopPrices | None:
    return min(unit.prices.all(), key=lambda one: one.edition, default=None)


def price_job(unit: Unit, job: Job) -> Priced:
    estimates = tuple(sorted(unit.estimates.where(job=job.id), key=lambda one: one.edition))
    answers = tuple(unit.answers.where(job=job.id))
    first = first_prices(unit)
    if not estimates and (first is None or job.opened_at < first.kept_at):
        return Priced(estimates, answers, {})
    law = limit_of(estimates[-1].jurisdiction if estimates else "")
    sheet = unit.sheets.get(job.id) or Sheet(job.id)
    lines = [line.id for line in found_first(job.lines)]
    return Priced(estimates, answers, standings(lines, estimates, answers, law, begun_lines(sheet)))


def begun_lines(sheet: Sheet) -> frozenset[str]:
    """The lines on which something was recorded that has to be put back if it is not to go on."""
    if sheet.packet is None:
        return frozenset()
    begun = set()
    for step in sheet.packet.steps:
        now = sheet.step(step.id)
        if now.done is not None or now.signatures or now.readings or now.outcome is not None:
            begun.add(step.line)
    return frozenset(begun)


def lines_to_compile(lines: Sequence[JobLine], priced: Priced, sheet: Sheet) -> tuple[JobLine, ...]:
    """The lines that belong on the sheet: all but those refused before they were begun.

    Where that would leave none, the refused ones stay, shut: a sheet without work is none.
    """
    begun = begun_lines(sheet)
    kept = tuple(
        line
        for line in lines
        if line.id in begun
        or line.id not in priced.standing
        or priced.standing[line.id].state is not PriceState.REFUSED
    )
    return kept or tuple(lines)


def with_prices(packet: Packet, priced: Priced) -> Packet:
    """The packet with how each line's price stands. Opening and closing have no price of their own."""
    lines = tuple(
        replace(line, price=priced.standing[line.id].state, price_edition=priced.standing[line.id].edition)
        if line.id in priced.standing
        else line
        for line in packet.lines
    )
    return replace(packet, lines=lines)
