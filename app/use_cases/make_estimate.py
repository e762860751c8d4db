"""Make an estimate, or its next edition: what each line of a job is to cost, as typed, with everything a written
estimate has to carry taken from where the workshop keeps it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import timedelta

from app.domain.estimate import (
    Estimate,
    Labour,
    OfferedLine,
    Other,
    Part,
    Parties,
    ShopPrices,
    TaxRow,
    priced,
    taxes_on,
)
from app.domain.problems import AlreadyThere, NotFound, OursToMend, Problem, Refused
from app.domain.records import Customer, Job, JobState, Shop, Vehicle, found_first
from app.ports import Unit
from app.trade.labour import Basis, LineKind, PartCondition
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.open_job import pin_next
from app.use_cases.price_lines import current_prices, price_job
from app.use_cases.record_entry import announce
from app.use_cases.see_sheet import job_by_number
from app.use_cases.typed_fields import Reader
from app.use_cases.typed_money import count_typed, hours_typed, money_typed, share_typed

MOST_LABOUR, MOST_PARTS, MOST_OTHERS = 10, 30, 10


@dataclass(frozen=True, slots=True)
class EstimateWanted:
    """What was typed, by field: `LINE.hours.0`, `LINE.part.0.name` and so on, and why the price changes.

    edition: the newest edition the form was made from, 0 for none; another one meanwhile is told, not written over.
    """

    fields: Mapping[str, str]
    edition: int
    id: str = ""

    def text(self, name: str) -> str:
        return self.fields.get(name, "")


def make_estimate(office: Office, person: str, number: str, wanted: EstimateWanted) -> Estimate:
    """Keep the next edition, and pin the sheet with it: neither is there without the other, or work whose price has
    risen would go on. A form sent twice keeps one.

    Raises: Refused with every problem found, each beside its field; NotFound.
    """
    with office.store.writing() as unit:
        job = job_by_number(unit, number)
        before = unit.estimates.get(wanted.id) if wanted.id else None
        if before is not None:
            return before
        prices = current_prices(unit)
        newest = price_job(unit, job).newest
        read = Reader()
        if job.state is not JobState.OPEN:
            read.wrong("job_not_open", "", number=job.number)
        if prices is None:
            read.wrong("prices_not_kept", "")
        if (newest.edition if newest is not None else 0) != wanted.edition:
            read.wrong("estimate_moved", "")
        read.done()
        if prices is None:
            raise OursToMend("prices are there once nothing was wrong")
        made = _made(office, unit, person, job, prices, newest, wanted, read)
        if newest is not None and _same(made, newest):
            raise Refused([Problem("estimate_same")])
        try:
            unit.estimates.add(made)
        except AlreadyThere as taken:
            raise Refused([Problem("estimate_moved")]) from taken
        pin_next(office, unit, person, job)
        unit.commit()
    announce(office, job.id)
    return made


def _made(
    office: Office,
    unit: Unit,
    person: str,
    job: Job,
    prices: ShopPrices,
    newest: Estimate | None,
    wanted: EstimateWanted,
    read: Reader,
) -> Estimate:
    now, shop = office.clock(), the_shop(unit)
    today = now.astimezone(zone_of(shop)).date()
    taxes = taxes_on(prices.taxes, today)
    if isinstance(taxes, Problem):
        read.problems.append(taxes)
        taxes = ()
    vehicle, customer, who = unit.vehicles.get(job.vehicle), unit.customers.get(job.customer), unit.people.get(person)
    if vehicle is None or customer is None or who is None:
        raise NotFound("job", job.id)
    titles = line_titles(unit, job)
    if not shop.address.strip():
        read.wrong("shop_address_missing", "")
    why = read.words(wanted.text("why"), "why", missing="why_missing" if newest is not None else "", limit=500)
    lines = tuple(_line(read, line.id, titles[line.id], prices, taxes, wanted) for line in found_first(job.lines))
    read.done()
    return Estimate(
        id=wanted.id or office.new_id(),
        job=job.id,
        number=job.number,
        edition=newest.edition + 1 if newest is not None else 1,
        currency=prices.currency,
        jurisdiction=prices.jurisdiction,
        valid_until=today + timedelta(days=prices.valid_days),
        parties=_parties(shop, prices, customer, vehicle, job),
        lines=lines,
        why=why,
        made_by=person,
        made_by_name=who.name,
        made_at=now,
    )


def _same(one: Estimate, other: Estimate) -> bool:
    """Whether nothing of what the customer reads differs but the day. Then there is nothing to ask again."""
    return replace(one, id="", edition=0, why="", made_by="", made_by_name="", made_at=other.made_at) == replace(
        other, id="", edition=0, why="", made_by="", made_by_name=""
    )


def line_titles(unit: Unit, job: Job) -> dict[str, str]:
    """The title of each line as the customer reads it: from the sheet, or an earlier sheet where it was refused."""
    found = {line.id: line.procedure.replace("_", " ").capitalize() for line in job.lines}
    for estimate in unit.estimates.where(job=job.id):
        found |= {line.line: line.title for line in estimate.lines}
    sheet = unit.sheets.get(job.id)
    if sheet is not None and sheet.packet is not None:
        found |= {line.id: line.title for line in sheet.packet.lines if line.id in found}
    return found


def _parties(shop: Shop, prices: ShopPrices, customer: Customer, vehicle: Vehicle, job: Job) -> Parties:
    return Parties(
        shop=shop.name,
        address=shop.address,
        phone=shop.phone,
        email=shop.email,
        registration=prices.registration,
        customer=customer.name,
        vehicle=" ".join(part for part in (vehicle.model, str(vehicle.year or ""), vehicle.colour) if part),
        plate=vehicle.plate,
        odometer_km=job.odometer_km,
        complaint=job.complaint,
    )


def _line(
    read: Reader, line: str, title: str, prices: ShopPrices, taxes: tuple[TaxRow, ...], wanted: EstimateWanted
) -> OfferedLine:
    """One line of the form. Nothing in it, and nothing to pay, has to be said: "free of charge"."""
    labour = tuple(_labour(read, line, prices, wanted))
    parts = tuple(_parts(read, line, prices, wanted))
    others = tuple(_others(read, line, prices, wanted))
    discount = share_typed(read, wanted.text(f"{line}.discount"), f"{line}.discount", code="discount_bounds")
    tear_down = read.words(wanted.text(f"{line}.tear_down"), f"{line}.tear_down", limit=500)
    tear_minor = money_typed(read, wanted.text(f"{line}.tear_price"), f"{line}.tear_price", prices.currency, missing="")
    if (tear_minor or any(part.destroyed for part in parts)) and not tear_down:
        read.wrong("tear_down_missing", f"{line}.tear_down")
    offered = OfferedLine(line, title, labour, parts, others, discount, tear_down, tear_minor)
    if read.problems:
        return offered
    made = priced(offered, prices.currency, prices.rounding, taxes)
    if made.is_free and wanted.text(f"{line}.free") != "yes":
        read.wrong("free_not_said", f"{line}.free", line=title)
    if not made.is_free and wanted.text(f"{line}.free") == "yes":
        read.wrong("free_and_priced", f"{line}.free", line=title)
    return made


def _labour(read: Reader, line: str, prices: ShopPrices, wanted: EstimateWanted) -> Iterator[Labour]:
    for place in range(MOST_LABOUR):
        at = f"{line}.labour.{place}"
        hours, rate, text = (wanted.text(f"{at}.{name}") for name in ("hours", "rate", "text"))
        if not hours.strip() and not text.strip():
            continue
        basis = wanted.text(f"{at}.basis") or prices.basis.value
        if basis not in {one.value for one in Basis}:
            read.wrong("choose_one", f"{at}.basis")
            basis = prices.basis.value
        minor = prices.rate_minor
        if rate.strip():
            minor = money_typed(read, rate, f"{at}.rate", prices.currency)
        yield Labour(
            text=read.words(text, f"{at}.text", limit=200) or "Labour",
            seconds=hours_typed(read, hours, f"{at}.hours"),
            rate_minor=minor,
            basis=Basis(basis),
        )


def _parts(read: Reader, line: str, prices: ShopPrices, wanted: EstimateWanted) -> Iterator[Part]:
    for place in range(MOST_PARTS):
        at = f"{line}.part.{place}"
        typed = {name: wanted.text(f"{at}.{name}") for name in ("name", "number", "count", "price")}
        if not any(text.strip() for text in typed.values()):
            continue
        condition = wanted.text(f"{at}.condition") or PartCondition.NEW.value
        if condition not in {one.value for one in PartCondition}:
            read.wrong("choose_one", f"{at}.condition")
            condition = PartCondition.NEW.value
        yield Part(
            name=read.words(typed["name"], f"{at}.name", missing="part_name_missing", limit=120),
            number=read.words(typed["number"], f"{at}.number", limit=60),
            count_milli=count_typed(read, typed["count"], f"{at}.count"),
            unit_minor=money_typed(read, typed["price"], f"{at}.price", prices.currency),
            condition=PartCondition(condition),
            exchange=wanted.text(f"{at}.exchange") == "yes",
            destroyed=wanted.text(f"{at}.destroyed") == "yes",
        )


def _others(read: Reader, line: str, prices: ShopPrices, wanted: EstimateWanted) -> Iterator[Other]:
    for place in range(MOST_OTHERS):
        at = f"{line}.other.{place}"
        typed = {name: wanted.text(f"{at}.{name}") for name in ("text", "by", "price")}
        if not any(text.strip() for text in typed.values()):
            continue
        kind = wanted.text(f"{at}.kind") or LineKind.SUBLET.value
        if kind not in (LineKind.SUBLET.value, LineKind.FEE.value):
            read.wrong("choose_one", f"{at}.kind")
            kind = LineKind.SUBLET.value
        needs = "sublet_by_missing" if kind == LineKind.SUBLET.value else ""
        yield Other(
            kind=LineKind(kind),
            text=read.words(typed["text"], f"{at}.text", missing="other_text_missing", limit=200),
            by=read.words(typed["by"], f"{at}.by", missing=needs, limit=120),
            price_minor=money_typed(read, typed["price"], f"{at}.price", prices.currency),
        )
