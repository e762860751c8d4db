"""Hand a job back: what still stands open, the foreman's release, and the customer's letter that follows from it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from app.domain.address import read_address
from app.domain.entry import TEXT_LIMIT, HandedBack, Heard
from app.domain.handback import AskedWhere, Consent, HandbackEdition, Retorque
from app.domain.problems import OursToMend, Problem, Refused
from app.domain.records import Customer, Job, JobState, Vehicle
from app.domain.sheet import Sheet
from app.domain.standing import OpenPoint, open_points
from app.language.procedures import said
from app.language.speech import _
from app.ports import Letter, Unit
from app.use_cases.floor_view import Shown, shown_alone
from app.use_cases.handback_editions import (
    editions_of,
    facts_now,
    keep_retorque,
    make_edition,
    retorque_of,
    why_not_mailed,
)
from app.use_cases.handback_letter import HandbackFacts
from app.use_cases.mail_consent import consent_of, keep_consent
from app.use_cases.office import Office
from app.use_cases.office_entry import office_entry
from app.use_cases.record_entry import Recorded, record_form
from app.use_cases.see_sheet import job_by_number
from app.use_cases.settle import accepted


@dataclass(frozen=True, slots=True)
class HandbackAhead:
    """What a foreman sees before releasing a job.

    points:     everything that still stands between the sheet and its handback; empty when it can be released.
    no_letter:  why no letter will go (no address, or one that cannot be); None when it goes to `customer.email`.
    facts, letter: what the customer would read if it were released now; None where there is nothing to write from.
    consent:    what the customer said of letters by mail; None while nobody has asked.
    editions:   the letters there are, the first first.
    """

    job: Job
    shown: Shown
    customer: Customer
    sheet: Sheet
    points: tuple[OpenPoint, ...]
    no_letter: Problem | None
    facts: HandbackFacts | None
    letter: Letter | None
    consent: Consent | None
    retorque: Retorque | None
    editions: tuple[HandbackEdition, ...]


@dataclass(frozen=True, slots=True)
class Beside:
    """What is said at the handback beside the release. may_mail: "yes", "no", or "" where it was not asked.

    comes_at: when the wheels come again; `leaves_it`: nothing was said of that.
    """

    may_mail: str = ""
    comes_at: datetime | None = None
    leaves_it: bool = True


def see_handback(office: Office, number: str) -> HandbackAhead:
    """Raises: NotFound."""
    with office.store.reading() as unit:
        job = job_by_number(unit, number)
        sheet = unit.sheets.get(job.id) or Sheet(job.id)
        _, customer = _owner(unit, job)
        shown = shown_alone(unit, job, office.clock())
        facts = facts_now(office, unit, job, sheet) if sheet.packet is not None else None
        no_letter = why_no_letter(customer) or why_not_mailed(unit, customer)
        consent, retorque = consent_of(unit, customer.id), retorque_of(unit, job.id)
        editions = editions_of(unit, job.id)
    return HandbackAhead(
        job=job,
        shown=shown,
        customer=customer,
        sheet=sheet,
        points=open_points(sheet),
        no_letter=no_letter,
        facts=facts,
        letter=office.write_letter(facts) if facts is not None else None,
        consent=consent,
        retorque=retorque,
        editions=editions,
    )


def why_no_letter(customer: Customer) -> Problem | None:
    """Say why no letter can go to this customer, or None."""
    if not customer.email.strip():
        return Problem("no_letter", "", {"name": customer.name})
    read = read_address(customer.email)
    return read if isinstance(read, Problem) else None


def hand_back(
    office: Office, person: str, number: str, note: str, entry_id: str = "", beside: Beside = Beside()
) -> Recorded:
    """Release a job: its sheet is closed, its bays are free, and the customer's letter is written with it.

    What the customer said of mail and of the wheels is kept first: the letter is written from it.

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
        keep_beside(office, person, job, beside)
    return accepted(record_form(office, office_entry(office, person, sheet, HandedBack(note), entry_id)))


def keep_beside(office: Office, person: str, job: Job, beside: Beside) -> None:
    """Keep what was said of mail and of the wheels; what was said before already changes nothing."""
    with office.store.writing() as unit:
        kept = keep_consent(office, unit, person, job.customer, beside.may_mail, AskedWhere.HANDBACK)
        kept = (not beside.leaves_it and keep_retorque(office, unit, person, job, beside.comes_at)) or kept
        if kept:
            unit.commit()


def open_problem(sheet: Sheet, point: OpenPoint) -> Problem:
    """An open point as a problem, whose sentence says what it is."""
    words = point.words
    if point.kind == "aside":
        step = sheet.packet.step_by_id.get(point.step) if sheet.packet is not None else None
        words = said(step.title) if step is not None else _("the whole sheet")
    elif point.kind != "hold":
        words = said(words)
    return Problem(f"handback_open_{point.kind}", "", {"what": words})


def write_first_edition(office: Office, unit: Unit, job: Job, sheet: Sheet, heard: Heard) -> HandbackEdition:
    """Write the customer's letter for a sheet just handed back, and queue it where it may be mailed.

    Runs inside the transaction of the handback, so that neither exists without the other.
    """
    return make_edition(office, unit, job, sheet, heard.entry.person, heard.name)


def _owner(unit: Unit, job: Job) -> tuple[Vehicle, Customer]:
    vehicle, customer = unit.vehicles.get(job.vehicle), unit.customers.get(job.customer)
    if vehicle is None or customer is None:
        raise OursToMend(f"job {job.id} has no customer or vehicle")
    return vehicle, customer
