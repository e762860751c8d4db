"""A workshop with prices, and the forms of its estimates as somebody fills them in. For tests."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from app.domain.estimate import Estimate, ShopPrices
from app.domain.packet import Axle
from app.domain.records import Job, JobLine
from app.use_cases.answer_estimate import Answered, AnswerTyped, answer_estimate
from app.use_cases.keep_prices import PricesWanted, keep_prices
from app.use_cases.make_estimate import EstimateWanted, make_estimate
from tests.builders import DEE
from tests.offices import LEFT_JOINT, Workshop, an_office

PRICES = {
    "currency": "USD", "rate": "120.00", "basis": "flat", "rounding": "half_up", "jurisdiction": "",
    "valid_days": "30", "registration": "REG 12345",
    "tax.0.name": "Sales tax", "tax.0.from": "2020-01-01", "tax.0.until": "", "tax.0.rate": "7.25",
}  # fmt: skip
FALLS = {0: ("part",)}
INSPECTION = JobLine("l2", "inspection", Axle.FRONT)
JOINT = {
    "l1.labour.0.text": "Fit the joint", "l1.labour.0.hours": "1.5",
    "l1.part.0.name": "Ball joint", "l1.part.0.number": "BJ-204", "l1.part.0.count": "1", "l1.part.0.price": "64.90",
    "l1.part.1.name": "Cotter pin", "l1.part.1.count": "2", "l1.part.1.price": "0,75",
}  # fmt: skip
FREE = {"l2.free": "yes"}


def a_pricing_office(**over: str) -> Workshop:
    """The workshop, with its prices kept before any job is opened."""
    here = an_office()
    keep_prices(here.office, DEE.id, PricesWanted({**PRICES, **over}, FALLS))
    here.clock.forward(minutes=1)
    return here


def a_job(here: Workshop, *lines: JobLine) -> Job:
    return here.opens("v-1", *(lines or (LEFT_JOINT, INSPECTION)), odometer_km=148_211)


def offers(here: Workshop, job: Job, fields: Mapping[str, str] | None = None, **over: Any) -> Estimate:
    """Make the next edition: the joint priced and the inspection free, or the fields given."""
    with here.store.reading() as unit:
        edition = len(unit.estimates.where(job=job.id))
    typed = {**JOINT, **FREE} if fields is None else dict(fields)
    wanted = EstimateWanted({"why": "The first part did not fit" if edition else "", **typed}, edition)
    return make_estimate(here.office, DEE.id, job.number, replace(wanted, **over))


def says(here: Workshop, job: Job, said: Mapping[str, str], **over: Any) -> Answered:
    """The customer answers the newest edition, by a typed name unless told otherwise."""
    with here.store.reading() as unit:
        edition = len(unit.estimates.where(job=job.id))
    typed = AnswerTyped(
        edition=edition, said=said, put_back={}, way="typed", name="Mira Okonjo", number="", said_at=None,
        read_out="", signature="", tick=True, old_parts=False, words="",
    )  # fmt: skip
    return answer_estimate(here.office, DEE.id, job.number, replace(typed, **over))


def prices_of(here: Workshop) -> ShopPrices:
    with here.store.reading() as unit:
        return list(unit.prices.all())[-1]


def states(here: Workshop, job: Job) -> dict[str, tuple[str, int]]:
    """The state and edition of each line's price, as the pinned packet has them."""
    packet = here.sheet(job).packet
    return {line.id: (str(line.price), line.price_edition) for line in packet.lines if line.price}
