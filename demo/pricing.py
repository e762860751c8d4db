"""What the invented workshop charges, and a job with an estimate: one line refused, and a price that went up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta

from app.domain.packet import Axle
from app.domain.records import Job, JobLine
from app.use_cases.answer_estimate import AnswerTyped, answer_estimate
from app.use_cases.keep_prices import PricesWanted, keep_prices
from app.use_cases.make_estimate import EstimateWanted, make_estimate
from app.use_cases.office import Office
from app.use_cases.open_job import JobWanted, open_job

PRICES = {
    "currency": "GBP", "rate": "84.00", "basis": "flat", "rounding": "half_up", "jurisdiction": "",
    "valid_days": "30", "registration": "LAS 0142 (invented)",
    "tax.0.name": "VAT", "tax.0.from": "2011-01-04", "tax.0.rate": "20",
}  # fmt: skip
FALLS_ON = {0: ("labour", "part", "sublet", "fee")}

# By the fields of the form: l1 inspection, l2 and l3 ball joints left and right, l4 stabiliser links.
JOINT = {
    "labour.0.text": "Renew the lower ball joint", "labour.0.hours": "1.4",
    "part.0.name": "Ball joint, lower", "part.0.number": "LX-4410", "part.0.price": "38.60",
    "part.1.name": "Castle nut and cotter pin", "part.1.price": "2.40", "part.1.destroyed": "yes",
    "tear_down": "The old joint does not survive being pressed off, so the vehicle cannot leave on it",
    "tear_price": "60",
}  # fmt: skip
FIRST = {
    "l1.labour.0.text": "Finding the fault, front axle", "l1.labour.0.hours": "0.5",
    **{f"l2.{name}": text for name, text in JOINT.items()},
    **{f"l3.{name}": text for name, text in JOINT.items()},
    "l4.labour.0.text": "Renew both links", "l4.labour.0.hours": "0.8",
    "l4.part.0.name": "Stabiliser link", "l4.part.0.count": "2", "l4.part.0.price": "17.90",
}  # fmt: skip
SECOND = {
    **FIRST, "l3.labour.0.hours": "2.1",
    "why": "The right joint is rusted into the arm and takes longer to press out",
}  # fmt: skip


def price_story(office: Office, now: datetime) -> Job:
    """Prices are kept after every other job was opened, so that those go on without. One job shows the whole thing."""
    at = replace(office, clock=lambda: now - timedelta(minutes=24))
    keep_prices(at, "maud", PricesWanted(PRICES, FALLS_ON))
    joint = (("joint_position", "lower"),)
    lines = (
        JobLine("", "inspection", Axle.FRONT),
        JobLine("", "ball_joint", Axle.FRONT, "left", joint),
        JobLine("", "ball_joint", Axle.FRONT, "right", joint),
        JobLine("", "stabiliser", Axle.FRONT, "", (("parts", "links"),)),
    )
    at = replace(office, clock=lambda: now - timedelta(minutes=22))
    complaint = "Knocks at the front on cobbles, worse when turning"
    job = open_job(at, "maud", JobWanted("pender", complaint, now + timedelta(hours=7), 84_390, lines))
    at = replace(office, clock=lambda: now - timedelta(minutes=18))
    make_estimate(at, "maud", job.number, EstimateWanted(FIRST, 0))
    at = replace(office, clock=lambda: now - timedelta(minutes=12))
    answer_estimate(at, "maud", job.number, _signed({"l1": "yes", "l2": "yes", "l3": "yes", "l4": "no"}))
    at = replace(office, clock=lambda: now - timedelta(minutes=5))
    make_estimate(at, "maud", job.number, EstimateWanted(SECOND, 1))
    return job


def _signed(said: Mapping[str, str]) -> AnswerTyped:
    return AnswerTyped(
        edition=1, said=said, put_back={}, way="signed", name="Nell Hale, Priory Lane Nursery", number="", said_at=None,
        read_out="", signature=SIGNATURE, tick=False, old_parts=True, words="The links can wait until autumn",
    )  # fmt: skip


SIGNATURE = (
    "M90 70L130 210L180 110L225 215L280 60M330 120L335 205M332 80L336 84M390 40L385 205M450 40L445 205"
    "M520 130L500 175L530 205L575 190L590 150L570 125L530 130M640 205L650 130L690 125L705 205"
)
