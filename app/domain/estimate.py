"""An estimate, what the customer said to it, and how each line of a job stands for it. Pure: no clock, ids or I/O.

An edition is never changed: another price is another edition, and all are kept. It holds everything that was read by
the customer, the workshop's name included, so that it reads the same years later. Answers are only ever added.

Money is a whole number of the currency's smallest coin. Every piece (a labour, a part) is rounded once; each tax once
for each line of work, on the sum of what it falls on; everything else is a sum. So a line the customer does not want
can be taken out and the price of the others stays what it was. House rule, D-034.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from enum import StrEnum

from app.domain.packet import PriceState
from app.domain.problems import Problem
from app.trade.labour import (
    Basis,
    LabourLine,
    Limit,
    Line,
    LineKind,
    Money,
    OtherLine,
    PartCondition,
    PartLine,
    Rounding,
    RoundingPlace,
    Tax,
    highest_charge,
    price,
)
from app.trade.quantity import Dimension, Quantity

WHOLE_PPM = 1_000_000


# --- What the workshop charges ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class TaxRow:
    """A tax's rate from one day on, up to and with another; until None = until further notice."""

    name: str
    from_on: date
    until_on: date | None
    rate_ppm: int
    falls_on: tuple[LineKind, ...]

    def holds_on(self, day: date) -> bool:
        return self.from_on <= day and (self.until_on is None or day <= self.until_on)


@dataclass(frozen=True, slots=True)
class ShopPrices:
    """What the workshop charges, and by whose law it asks. An edition is never changed; the newest counts.

    jurisdiction: a key of `shared/rules/repair_law.json`; "" asks about every cent.
    registration: the number under which the workshop is registered, as an estimate and an invoice carry it.
    """

    id: str
    edition: int
    currency: str
    rate_minor: int
    basis: Basis
    rounding: Rounding
    jurisdiction: str
    valid_days: int
    registration: str
    taxes: tuple[TaxRow, ...]
    kept_by: str
    kept_at: datetime


@dataclass(frozen=True, slots=True)
class Hole:
    """Days, ends included, on which a tax has no rate; until None = from then on."""

    name: str
    from_on: date
    until_on: date | None


def holes(taxes: Sequence[TaxRow]) -> tuple[Hole, ...]:
    """The days between a tax's first row and for ever on which no row of its name holds."""
    found = []
    for name in dict.fromkeys(row.name for row in taxes):
        rows = sorted((row for row in taxes if row.name == name), key=lambda row: row.from_on)
        for row, after in zip(rows, (*rows[1:], None), strict=True):
            if row.until_on is None:
                continue
            begins = row.until_on + timedelta(days=1)
            if after is None:
                found.append(Hole(name, begins, None))
            elif begins < after.from_on:
                found.append(Hole(name, begins, after.from_on - timedelta(days=1)))
    return tuple(found)


def tax_problems(taxes: Sequence[TaxRow]) -> tuple[Problem, ...]:
    """Rows that contradict each other. The field is `tax.N`, N the row's place from 0."""
    problems = []
    for place, row in enumerate(taxes):
        if row.until_on is not None and row.until_on < row.from_on:
            problems.append(Problem("tax_backwards", f"tax.{place}.until", {"tax": row.name}))
        for other in taxes[:place]:
            if other.name == row.name and _share_a_day(row, other):
                problems.append(Problem("tax_twice", f"tax.{place}.from", {"tax": row.name}))
                break
    return tuple(problems)


def _share_a_day(one: TaxRow, other: TaxRow) -> bool:
    return (one.until_on is None or other.from_on <= one.until_on) and (
        other.until_on is None or one.from_on <= other.until_on
    )


def taxes_on(taxes: Sequence[TaxRow], day: date) -> tuple[TaxRow, ...] | Problem:
    """The rate of every tax on a day, in the table's order; or the problem that one of them has none that day."""
    found = []
    for name in dict.fromkeys(row.name for row in taxes):
        row = next((row for row in taxes if row.name == name and row.holds_on(day)), None)
        if row is None:
            return Problem("tax_hole", "", {"tax": name, "day": day.isoformat()})
        found.append(row)
    return tuple(found)


# --- A line of work and its price ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Labour:
    """Time at a rate. basis: a flat time agreed beforehand, or the clock."""

    text: str
    seconds: int
    rate_minor: int
    basis: Basis


@dataclass(frozen=True, slots=True)
class Part:
    """A part by name and number. count in thousandths. exchange: the old one goes back to the supplier, so that it can
    only be shown; destroyed: it does not survive opening, whatever is decided afterwards."""

    name: str
    number: str
    count_milli: int
    unit_minor: int
    condition: PartCondition = PartCondition.NEW
    exchange: bool = False
    destroyed: bool = False


@dataclass(frozen=True, slots=True)
class Other:
    """Work sent to another workshop, which has to be named, or a fee."""

    kind: LineKind
    text: str
    by: str
    price_minor: int


@dataclass(frozen=True, slots=True)
class TaxPart:
    """What one tax comes to on one line of work, and on how much it falls."""

    name: str
    rate_ppm: int
    base_minor: int
    amount_minor: int


@dataclass(frozen=True, slots=True)
class OfferedLine:
    """A line of a job with its price. `line` is the job line's id.

    tear_down:       what opening destroys, and whether it may not go together again; "" where nothing is.
    tear_down_minor: what is charged, tax included, when the customer says no after it was opened. Nothing may be
                     charged then that was not announced (Fla. Stat. 559.909(2)).
    pieces:          the price of each labour, part and other, in that order.
    """

    line: str
    title: str
    labour: tuple[Labour, ...] = ()
    parts: tuple[Part, ...] = ()
    others: tuple[Other, ...] = ()
    discount_ppm: int = 0
    tear_down: str = ""
    tear_down_minor: int = 0
    pieces: tuple[int, ...] = ()
    labour_minor: int = 0
    parts_minor: int = 0
    other_minor: int = 0
    taxes: tuple[TaxPart, ...] = ()

    @property
    def net_minor(self) -> int:
        return self.labour_minor + self.parts_minor + self.other_minor

    @property
    def total_minor(self) -> int:
        return self.net_minor + sum(tax.amount_minor for tax in self.taxes)

    @property
    def is_free(self) -> bool:
        return self.total_minor == 0


def priced(line: OfferedLine, currency: str, rounding: Rounding, taxes: Sequence[TaxRow]) -> OfferedLine:
    """The line with its sums. A line with nothing in it is free of charge.

    Raises: OutOfRange for a negative or unbounded amount, or a discount that is none.
    """
    pieces = tuple(_pieces(line, currency))
    if not pieces:
        none = tuple(TaxPart(tax.name, tax.rate_ppm, 0, 0) for tax in taxes)
        return replace(line, pieces=(), labour_minor=0, parts_minor=0, other_minor=0, taxes=none)
    asked = [Tax(tax.name, Quantity(Dimension.RATIO, tax.rate_ppm), frozenset(tax.falls_on)) for tax in taxes]
    found = price(pieces, asked, rounding=rounding, tax_rounded_on=RoundingPlace.TOTAL)
    return replace(
        line,
        pieces=tuple(one.minor for one in found.lines),
        labour_minor=found.labour.minor,
        parts_minor=found.parts.minor,
        other_minor=found.other.minor,
        taxes=tuple(
            TaxPart(row.name, row.rate_ppm, one.base.minor, one.amount.minor)
            for row, one in zip(taxes, found.taxes, strict=True)
        ),
    )


def _pieces(line: OfferedLine, currency: str) -> Iterable[Line]:
    off = line.discount_ppm
    for work in line.labour:
        time = Quantity(Dimension.DURATION, work.seconds * 1_000)
        yield LabourLine(work.text, time, Money(currency, work.rate_minor), work.basis, off)
    for part in line.parts:
        count = Decimal(part.count_milli).scaleb(-3)
        yield PartLine(part.name, count, Money(currency, part.unit_minor), part.condition, off)
    for other in line.others:
        yield OtherLine(other.text, Money(currency, other.price_minor), other.kind, off)


# --- The estimate -------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Parties:
    """Who offers what to whom, for which vehicle, as it stood on the day."""

    shop: str
    address: str
    phone: str
    email: str
    registration: str
    customer: str
    vehicle: str
    plate: str
    odometer_km: int | None
    complaint: str


@dataclass(frozen=True, slots=True)
class Estimate:
    """One edition of a job's estimate. `number` is the job's, the one that ties everything together (16 CCR 3358)."""

    id: str
    job: str
    number: str
    edition: int
    currency: str
    jurisdiction: str
    valid_until: date
    parties: Parties
    lines: tuple[OfferedLine, ...]
    why: str
    made_by: str
    made_by_name: str
    made_at: datetime

    @property
    def line_by_id(self) -> Mapping[str, OfferedLine]:
        return {one.line: one for one in self.lines}

    @property
    def basis(self) -> str:
        """flat, clock or combination: what the hours of the whole estimate are (Fla. Stat. 559.905, from memory)."""
        found = {work.basis for line in self.lines for work in line.labour}
        return "combination" if len(found) > 1 else next(iter(found)).value if found else ""

    def labour_minor(self) -> int:
        return sum(line.labour_minor for line in self.lines)

    def parts_minor(self) -> int:
        return sum(line.parts_minor for line in self.lines)

    def other_minor(self) -> int:
        return sum(line.other_minor for line in self.lines)

    def net_minor(self) -> int:
        return sum(line.net_minor for line in self.lines)

    def total_minor(self) -> int:
        return sum(line.total_minor for line in self.lines)

    def taxes(self) -> tuple[TaxPart, ...]:
        """Each tax over all lines: an exact sum of what it comes to on each."""
        return taxes_of(self.lines)


def taxes_of(lines: Iterable[OfferedLine]) -> tuple[TaxPart, ...]:
    found: dict[tuple[str, int], TaxPart] = {}
    for line in lines:
        for tax in line.taxes:
            before = found.get((tax.name, tax.rate_ppm), TaxPart(tax.name, tax.rate_ppm, 0, 0))
            found[(tax.name, tax.rate_ppm)] = replace(
                before,
                base_minor=before.base_minor + tax.base_minor,
                amount_minor=before.amount_minor + tax.amount_minor,
            )
    return tuple(found.values())


# --- What the customer said ---------------------------------------------------------------------------------------


class Way(StrEnum):
    """How the customer's answer came."""

    SIGNED = "signed"  # drawn on the tablet
    TYPED = "typed"  # name typed and a tick, at the tablet or the desk
    PHONE = "phone"
    MAIL = "mail"


class PutBack(StrEnum):
    """What is done about work that had begun when the customer said no (Fla. Stat. 559.909(2))."""

    NONE = ""
    AS_RECEIVED = "as_received"
    WAIVED = "waived"  # the customer does not want it put together again
    UNSAFE = "unsafe"  # it cannot be, or the vehicle would not be fit to leave


@dataclass(frozen=True, slots=True)
class LineAnswer:
    line: str
    yes: bool
    price_minor: int
    put_back: PutBack = PutBack.NONE


@dataclass(frozen=True, slots=True)
class Answer:
    """What the customer said to an edition, line by line. Only ever added.

    read_out_minor: what the lines said yes to come to, as it was read out or signed.
    number:         the telephone number called, or the address a mail came from; "" for one who stood there.
    signature:      an SVG path of whole numbers in a field of 1000 by 300, or "".
    old_parts:      the customer wants the replaced parts back (16 CCR 3355).
    """

    id: str
    job: str
    edition: int
    way: Way
    name: str
    number: str
    said_at: datetime
    read_out_minor: int
    signature: str
    old_parts: bool
    words: str
    answers: tuple[LineAnswer, ...]
    recorded_by: str
    recorded_by_name: str
    recorded_at: datetime


# --- How each line stands -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class LineStanding:
    """A line's state, the edition it was agreed or refused under (else the newest offered), and the agreed price."""

    state: PriceState
    edition: int = 0
    agreed_minor: int = 0
    passed_minor: int = 0
    """How far the newest price lies above what was agreed, where that may be without asking again."""


def standings(
    lines: Sequence[str],
    estimates: Sequence[Estimate],
    answers: Sequence[Answer],
    limit: Limit,
    begun: Collection[str] = (),
) -> dict[str, LineStanding]:
    """How each line stands, from every edition and every answer in the order they were recorded.

    begun: lines on which something has been recorded. A line that was refused and has begun is put back, unless the
    customer waived that or it cannot be.
    """
    editions = {one.edition: one for one in estimates}
    newest = max(estimates, key=lambda one: one.edition, default=None)
    last = _last_answers(answers)
    found = {}
    agreed: dict[str, tuple[int, OfferedLine, OfferedLine]] = {}
    for line in lines:
        offered = newest.line_by_id.get(line) if newest is not None else None
        said = last.get(line)
        if said is None:
            edition = newest.edition if newest is not None and offered is not None else 0
            found[line] = LineStanding(PriceState.WAITING, edition)
            continue
        edition, one = said
        if not one.yes:
            back = line in begun and one.put_back in (PutBack.NONE, PutBack.AS_RECEIVED)
            found[line] = LineStanding(PriceState.PUT_BACK if back else PriceState.REFUSED, edition)
            continue
        then = editions[edition].line_by_id[line]
        agreed[line] = (edition, then, offered if offered is not None else then)
    may_pass = _may_pass(agreed.values(), newest.currency if newest is not None else "", limit)
    for line, (edition, then, now) in agreed.items():
        over = now.total_minor - then.total_minor
        asks = is_other_work(then, now) or (over > 0 and not may_pass)
        state = PriceState.CHANGED if asks else PriceState.AGREED
        found[line] = LineStanding(state, edition, then.total_minor, 0 if asks else max(0, over))
    return {line: found[line] for line in lines}


def _last_answers(answers: Sequence[Answer]) -> dict[str, tuple[int, LineAnswer]]:
    return {one.line: (answer.edition, one) for answer in answers for one in answer.answers}


def _may_pass(agreed: Iterable[tuple[int, OfferedLine, OfferedLine]], currency: str, limit: Limit) -> bool:
    """Whether everything agreed, at its newest price, stays within what may be charged without asking again."""
    pairs = [(then, now) for _, then, now in agreed]
    if not pairs:
        return True
    if limit.is_before_tax:
        then, now = sum(one.net_minor for one, _ in pairs), sum(one.net_minor for _, one in pairs)
    else:
        then, now = sum(one.total_minor for one, _ in pairs), sum(one.total_minor for _, one in pairs)
    if limit.currency and limit.currency != currency:
        return now <= then
    return now <= highest_charge(Money(currency, then), limit).minor


def is_other_work(then: OfferedLine, now: OfferedLine) -> bool:
    """Whether a line has become something else than was agreed, whatever it costs: a part of another kind than was
    said (16 CCR 3353(a)), or work sent out that had not been (Cal. Bus. & Prof. Code 9884.9(b)), or time by the clock
    in place of a flat one (house rule)."""
    kinds = {(part.name, part.condition) for part in then.parts}
    other_kind = any(
        (part.name, part.condition) not in kinds and part.condition is not PartCondition.NEW for part in now.parts
    )
    sent_out = {(one.text, one.by) for one in then.others if one.kind is LineKind.SUBLET}
    other_hands = any((one.text, one.by) not in sent_out for one in now.others if one.kind is LineKind.SUBLET)
    by_clock = {work.basis for work in now.labour} - {work.basis for work in then.labour}
    return other_kind or other_hands or (Basis.CLOCK in by_clock and bool(then.labour))


@dataclass(frozen=True, slots=True)
class Charge:
    """What may be charged for a line as things stand, and for what: its work, or taking apart that was announced."""

    line: str
    amount_minor: int
    is_tear_down: bool = False


def charges(
    estimates: Sequence[Estimate], answers: Sequence[Answer], standing: Mapping[str, LineStanding]
) -> tuple[Charge, ...]:
    """What may be charged: agreed lines at their newest price, changed ones at what was agreed, and for a line refused
    after it was begun what had been announced for taking it apart in an edition the customer said yes to."""
    editions = {one.edition: one for one in estimates}
    newest = max(estimates, key=lambda one: one.edition, default=None)
    found = []
    for line, one in standing.items():
        if one.state is PriceState.AGREED and newest is not None:
            now = newest.line_by_id.get(line)
            found.append(Charge(line, now.total_minor if now is not None else one.agreed_minor))
        elif one.state is PriceState.CHANGED:
            found.append(Charge(line, one.agreed_minor))
        elif one.state in (PriceState.PUT_BACK, PriceState.REFUSED):
            said_yes = [a.edition for a in answers for x in a.answers if x.line == line and x.yes]
            announced = editions[said_yes[-1]].line_by_id[line].tear_down_minor if said_yes else 0
            if announced and one.state is PriceState.PUT_BACK:
                found.append(Charge(line, announced, is_tear_down=True))
    return tuple(found)
