"""Hand a job back: what still stands open, the foreman's release, and the customer's letter that follows from it."""

from __future__ import annotations

from dataclasses import dataclass

from app.domain.address import read_address
from app.domain.entry import TEXT_LIMIT, HandedBack, Heard
from app.domain.problems import OursToMend, Problem, Refused
from app.domain.records import Customer, Job, JobState, OutgoingMessage, Vehicle
from app.domain.sheet import Sheet
from app.domain.standing import OpenPoint, open_points
from app.ports import Letter, Unit
from app.use_cases.floor_view import Shown, shown_alone
from app.use_cases.handback_letter import HandbackFacts, handback_facts
from app.use_cases.office import Office, the_shop
from app.use_cases.office_entry import office_entry
from app.use_cases.record_entry import Recorded, record_form
from app.use_cases.see_sheet import job_by_number
from app.use_cases.send_post import queue_message
from app.use_cases.settle import accepted

HANDBACK = "handback"


@dataclass(frozen=True, slots=True)
class HandbackAhead:
    """What a foreman sees before releasing a job.

    points:     everything that still stands between the sheet and its handback; empty when it can be released.
    no_letter:  why no letter will go (no address, or one that cannot be); None when it goes to `customer.email`.
    facts, letter: what the customer would read if it were released now; None where there is nothing to write from.
    """

    job: Job
    shown: Shown
    customer: Customer
    sheet: Sheet
    points: tuple[OpenPoint, ...]
    no_letter: Problem | None
    facts: HandbackFacts | None
    letter: Letter | None


def see_handback(office: Office, number: str) -> HandbackAhead:
    """Raises: NotFound."""
    with office.store.reading() as unit:
        job = job_by_number(unit, number)
        sheet = unit.sheets.get(job.id) or Sheet(job.id)
        vehicle, customer = _owner(unit, job)
        shop = the_shop(unit)
        shown = shown_alone(unit, job, office.clock())
    facts = handback_facts(shop, customer, vehicle, job, sheet) if sheet.packet is not None else None
    return HandbackAhead(
        job=job,
        shown=shown,
        customer=customer,
        sheet=sheet,
        points=open_points(sheet),
        no_letter=why_no_letter(customer),
        facts=facts,
        letter=office.write_letter(facts) if facts is not None else None,
    )


def why_no_letter(customer: Customer) -> Problem | None:
    """Say why no letter can go to this customer, or None."""
    if not customer.email.strip():
        return Problem("no_letter", "", {"name": customer.name})
    read = read_address(customer.email)
    return read if isinstance(read, Problem) else None


def hand_back(office: Office, person: str, number: str, note: str, entry_id: str = "") -> Recorded:
    """Release a job: its sheet is closed, its bays are free, and the customer's letter is queued with it.

    Raises: Refused with every open point in words, and nothing is recorded then; NotFound.
    """
    with office.store.reading() as unit:
        job = job_by_number(unit, number)
        sheet = unit.sheets.get(job.id) or Sheet(job.id)
        repeated = bool(entry_id) and unit.ledger.find(entry_id) is not None
    if not repeated:
        problems = [] if job.state is JobState.OPEN else [Problem("job_not_open", "", {"number": job.number})]
        problems += [open_problem(sheet, point) for point in open_points(sheet)] if not problems else []
        if len(note) > TEXT_LIMIT:
            problems.append(Problem("too_long", "note", {"limit": TEXT_LIMIT}))
        if problems:
            raise Refused(problems)
    return accepted(record_form(office, office_entry(office, person, sheet, HandedBack(note), entry_id)))


def open_problem(sheet: Sheet, point: OpenPoint) -> Problem:
    """An open point as a problem, whose sentence says what it is."""
    words = point.words
    if point.kind == "aside":
        step = sheet.packet.step_by_id.get(point.step) if sheet.packet is not None else None
        words = step.title if step is not None else "the whole sheet"
    return Problem(f"handback_open_{point.kind}", "", {"what": words})


def queue_letter(office: Office, unit: Unit, job: Job, sheet: Sheet, heard: Heard) -> OutgoingMessage | None:
    """Queue the customer's letter for a sheet just handed back; `None` when the customer has no e-mail address.

    Runs inside the transaction of the handback, so that neither exists without the other.
    """
    vehicle, customer = _owner(unit, job)
    if not customer.email.strip():
        return None
    letter = office.write_letter(handback_facts(the_shop(unit), customer, vehicle, job, sheet))
    return queue_message(
        unit,
        key=letter_key(job),
        job=job.id,
        to=customer.email,
        letter=letter,
        now=office.clock(),
        new_id=office.new_id,
        domain=office.message_domain,
    )


def letter_key(job: Job) -> str:
    """A sheet is handed back once, so its first letter is its only one."""
    return f"{HANDBACK}:{job.id}:1"


def _owner(unit: Unit, job: Job) -> tuple[Vehicle, Customer]:
    vehicle, customer = unit.vehicles.get(job.vehicle), unit.customers.get(job.customer)
    if vehicle is None or customer is None:
        raise OursToMend(f"job {job.id} has no customer or vehicle")
    return vehicle, customer
