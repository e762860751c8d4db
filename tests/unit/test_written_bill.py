"""The price as agreed, as the letter tells it: what an invoice has to say, and that it adds up."""

from __future__ import annotations

from datetime import UTC
from decimal import Decimal

from app.domain.records import Job
from app.texts import word
from app.use_cases.handback_editions import facts_now
from app.use_cases.price_lines import price_job
from app.use_cases.written_bill import Bill, written_bill
from tests.estimates import FREE, JOINT, a_job, a_pricing_office, offers, says
from tests.offices import Workshop, an_office


def bill_of(here: Workshop, job: Job) -> Bill | None:
    with here.store.reading() as unit:
        return written_bill(price_job(unit, job), UTC, word)


def amounts(bill: Bill) -> dict[str, str]:
    return {row.what: row.amount for line in bill.lines for row in line.rows}


def test_where_nobody_prices_the_work_there_is_no_bill() -> None:
    here = an_office()

    assert bill_of(here, here.opens()) is None


def test_labour_stands_apart_from_parts_and_every_part_has_its_kind_its_price_and_the_registration_is_named() -> None:
    """Cal. Bus. & Prof. Code 9884.8. By hand: 1.5 h at 120.00 are 180.00; 64.90 and twice 0.75 are 66.40; 7.25 % of
    66.40 are 4.814, rounded 4.81; together 251.21."""
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)
    says(here, job, {"l1": "yes", "l2": "yes"})

    bill = bill_of(here, job)

    assert bill is not None
    assert bill.registration == "REG 12345"
    joint = bill.lines[1]
    assert [(row.what, row.amount) for row in joint.rows if not row.is_sum] == [
        ("Fit the joint", "180.00"),
        ("Ball joint", "64.90"),
        ("Cotter pin", "1.50"),
    ]
    assert "new" in joint.rows[1].detail
    assert "no. BJ-204" in joint.rows[1].detail
    assert [(row.what, row.amount) for row in joint.rows if row.is_sum][:2] == [
        ("Labour", "180.00"),
        ("Parts", "66.40"),
    ]
    assert (joint.total, bill.total) == ("251.21 USD", "251.21 USD")
    assert bill.lines[0].total == "free of charge"


def test_a_line_refused_is_named_and_not_charged_and_one_never_answered_neither() -> None:
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)
    says(here, job, {"l1": "no", "l2": "yes"})

    bill = bill_of(here, job)

    assert bill is not None
    assert len(bill.not_done) == 1
    assert "251.21" not in bill.total
    assert amounts(bill).get("Ball joint") is None


def test_a_price_that_rose_unasked_is_charged_as_agreed_with_what_was_agreed() -> None:
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)
    says(here, job, {"l1": "yes", "l2": "yes"})
    offers(here, job, {**JOINT, **FREE, "l1.labour.0.hours": "3"})

    bill = bill_of(here, job)

    assert bill is not None
    assert bill.edition == 2
    assert amounts(bill)["Fit the joint"] == "180.00"
    assert bill.total == "251.21 USD"


def test_what_is_charged_is_the_sum_of_its_lines_and_says_who_agreed_when_and_how() -> None:
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)
    says(here, job, {"l1": "yes", "l2": "yes"}, old_parts=True)

    bill = bill_of(here, job)

    assert bill is not None
    parts = [row for line in bill.lines for row in line.rows if not row.is_sum]
    taxes = [row for line in bill.lines for row in line.rows if row.what.startswith("Sales tax")]
    total = sum((Decimal(row.amount) for row in (*parts, *taxes)), Decimal(0))
    assert f"{total} USD" == bill.total
    assert "Mira Okonjo" in bill.agreed[0]
    assert bill.old_parts


def test_the_letter_has_the_bill() -> None:
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)
    says(here, job, {"l1": "yes", "l2": "yes"})
    with here.store.reading() as unit:
        facts = facts_now(here.office, unit, job, here.sheet(job))

    letter = here.office.write_letter(facts)

    assert "PRICE AS AGREED" in letter.text
    assert "- Total: 251.21 USD" in letter.text
    for words in ("Price as agreed", "251.21 USD", "Registration of the workshop: REG 12345", "Fit the joint"):
        assert words in letter.html
        assert words in letter.paper
