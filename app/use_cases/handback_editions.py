"""The letters of a job, edition by edition: making one, comparing it with the one before, and its files.

An edition is made once and kept: what is mailed, printed and read later is what was written then. Its PDF is made when
somebody first needs it, outside of any transaction, and kept by its hash from then on.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, replace
from datetime import datetime, tzinfo

from app.domain.canonical import canonical
from app.domain.handback import Changed, HandbackEdition, HandbackPrint, Retorque
from app.domain.photos import photo_notes
from app.domain.problems import AlreadyThere, NotFound, Problem, Refused
from app.domain.records import Customer, Job, OutgoingMessage
from app.domain.sheet import Sheet
from app.language.speech import speaking
from app.ports import Enclosure, Letter, Paper, Unit
from app.use_cases.handback_letter import Beside, EditionFact, HandbackFacts, handback_facts, one_line
from app.use_cases.letter_lines import lines_by_part
from app.use_cases.mail_consent import consent_of
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.price_lines import price_job
from app.use_cases.see_sheet import job_by_number
from app.use_cases.send_post import queue_message
from app.use_cases.shop_time import date_words
from app.use_cases.written_bill import written_bill

HANDBACK = "handback"
WHY_LIMIT = 500
# What of the photos goes on paper: a letter has to fit through mail servers (10 MB each, as a rule), and base64 adds a
# third. House rule.
PHOTOS_BYTES = 6_000_000


def editions_of(unit: Unit, job: str) -> tuple[HandbackEdition, ...]:
    return tuple(sorted(unit.handbacks.where(job=job), key=lambda one: one.edition))


def retorque_of(unit: Unit, job: str) -> Retorque | None:
    """The newest word on when the wheels come again."""
    said = unit.retorques.where(job=job)
    return said[-1] if said else None


def facts_now(office: Office, unit: Unit, job: Job, sheet: Sheet, edition: EditionFact | None = None) -> HandbackFacts:
    """What a letter would be written from at this moment.

    Raises: NotFound where the job's customer or vehicle is not there; OursToMend for a sheet without a packet.
    """
    shop, vehicle, customer = the_shop(unit), unit.vehicles.get(job.vehicle), unit.customers.get(job.customer)
    if vehicle is None or customer is None:
        raise NotFound("job", job.number)
    retorque = retorque_of(unit, job.id)
    # Whoever releases a job may read another language than its letter is written in.
    with speaking(customer.language):
        bill = written_bill(price_job(unit, job), zone_of(shop), office.word)
    beside = Beside(
        bill=bill,
        comes_at=retorque.comes_at if retorque is not None else None,
        photos=photos_to_print(office, sheet),
        edition=edition,
    )
    return handback_facts(shop, customer, vehicle, job, sheet, beside)


def photos_to_print(office: Office, sheet: Sheet) -> tuple[str, ...]:
    """The photos that are here, in the order they were taken, for as long as there is room on paper."""
    names = dict.fromkeys(note.photo for _, note in photo_notes(sheet))
    printed, room = [], PHOTOS_BYTES
    for name in names:
        data = office.photos.read(name)
        if data is not None and len(data) <= room:
            printed.append(name)
            room -= len(data)
    return tuple(printed)


def make_edition(
    office: Office, unit: Unit, job: Job, sheet: Sheet, made_by: str, made_by_name: str, why: str = ""
) -> HandbackEdition:
    """Write the next edition and queue it where the customer may be mailed. The caller commits.

    Raises: Refused with `nothing_changed` where it would say the same as the one before.
    """
    customer = unit.customers.get(job.customer)
    before = editions_of(unit, job.id)
    facts = facts_now(office, unit, job, sheet)
    edition = _edition_fact(before[-1], facts, why, zone_of(the_shop(unit))) if before else None
    if edition is not None and not edition.changes:
        raise Refused([Problem("nothing_changed", "why", {"edition": str(before[-1].edition)})])
    facts = replace(facts, edition=edition)
    letter = office.write_letter(facts)
    number = len(before) + 1
    no_letter = why_not_mailed(unit, customer)
    message = _queue(office, unit, job, customer, letter, number) if customer and no_letter is None else None
    made = HandbackEdition(
        id=office.new_id(),
        job=job.id,
        edition=number,
        language=letter.language,
        why=one_line(why),
        changes=edition.changes if edition is not None else (),
        facts=canonical(asdict(replace(facts, edition=None))).decode(),
        subject=letter.subject,
        text=letter.text,
        html=letter.html,
        paper=letter.paper,
        drawings=letter.drawings,
        photos=tuple(one.sha256 for one in facts.photos),
        message=message.id if message is not None else "",
        not_mailed=no_letter.code if no_letter is not None else "",
        made_by=made_by,
        made_by_name=made_by_name,
        made_at=office.clock(),
    )
    unit.handbacks.add(made)
    return made


def why_not_mailed(unit: Unit, customer: Customer | None) -> Problem | None:
    """Why a letter is printed only: no address at all, or nobody has said that it may be mailed.

    An address that cannot be one is no reason here: such a letter is kept, and the Desk corrects the address.
    """
    if customer is None or not customer.email.strip():
        return Problem("no_letter", "", {"name": customer.name if customer is not None else ""})
    consent = consent_of(unit, customer.id)
    if consent is None:
        return Problem("consent_not_asked", "", {"name": customer.name})
    return None if consent.yes else Problem("consent_refused", "", {"name": customer.name})


def _queue(office: Office, unit: Unit, job: Job, customer: Customer, letter: Letter, number: int) -> OutgoingMessage:
    return queue_message(
        unit,
        key=f"{HANDBACK}:{job.id}:{number}",
        job=job.id,
        to=customer.email,
        letter=letter,
        now=office.clock(),
        new_id=office.new_id,
        domain=office.message_domain,
    )


# --- What is different -----------------------------------------------------------------------------------------------


def _edition_fact(before: HandbackEdition, facts: HandbackFacts, why: str, zone: tzinfo) -> EditionFact:
    return EditionFact(
        number=before.edition + 1,
        before=_day(before.made_at, zone),
        why=one_line(why),
        changes=tuple(_changes(before.facts, canonical(asdict(facts)).decode())),
    )


def _day(at: datetime, zone: tzinfo) -> str:
    return date_words(at.astimezone(zone).date())


def _changes(before: str, now: str) -> Iterator[Changed]:
    """Part by part, the lines that came and those that went."""
    with speaking(json.loads(now)["language"]):
        was, says = lines_by_part(before), lines_by_part(now)
    for part in dict.fromkeys([*says, *was]):
        added, gone = _less(says.get(part, ()), was.get(part, ())), _less(was.get(part, ()), says.get(part, ()))
        if added or gone:
            yield Changed(part, added, gone)


def _less(lines: Sequence[str], others: Sequence[str]) -> tuple[str, ...]:
    left = list(others)
    found = []
    for line in lines:
        if line in left:
            left.remove(line)
        else:
            found.append(line)
    return tuple(found)


def revise(office: Office, person: str, number: str, why: str) -> HandbackEdition:
    """Write a job's letter anew after its handback, from what is known now; the customer gets it as the next edition.

    Raises: Refused where the job was not handed back, no reason is given, or nothing is different; NotFound.
    """
    with office.store.writing() as unit:
        job = job_by_number(unit, number)
        sheet = unit.sheets.get(job.id) or Sheet(job.id)
        if sheet.handed_back is None:
            raise Refused([Problem("not_handed_back", "why", {"number": number})])
        problems = [Problem("revision_why_missing", "why")] if not why.strip() else []
        problems += [Problem("too_long", "why", {"limit": WHY_LIMIT})] if len(why) > WHY_LIMIT else []
        if problems:
            raise Refused(problems)
        who = unit.people.get(person)
        made = make_edition(office, unit, job, sheet, person, who.name if who is not None else "", why)
        unit.commit()
    office.announce("post")
    return made


def keep_retorque(office: Office, unit: Unit, person: str, job: Job, comes_at: datetime | None) -> bool:
    """Keep when the wheels come again; the same again changes nothing. Gives whether it was kept. Caller commits."""
    before = retorque_of(unit, job.id)
    if (before.comes_at if before is not None else None) == comes_at:
        return False
    who = unit.people.get(person)
    name = who.name if who is not None else ""
    unit.retorques.add(Retorque(office.new_id(), job.id, comes_at, person, name, office.clock()))
    return True


# --- Files -----------------------------------------------------------------------------------------------------------


def edition_files(office: Office, edition: HandbackEdition) -> tuple[HandbackPrint, bytes, Mapping[str, bytes]]:
    """An edition's PDF, and its drawings as PNG by name: made now if they never were, else as they were made."""
    with office.store.reading() as unit:
        known = unit.handback_prints.get(edition.id)
        author = the_shop(unit).name
    if known is not None:
        pdf = office.papers.read(known.pdf)
        pictures = {name: office.papers.read(sha256) for name, sha256 in known.pictures}
        if pdf is not None and all(data is not None for data in pictures.values()):
            return known, pdf, {name: data for name, data in pictures.items() if data is not None}
    photos = {name: data for name in edition.photos if (data := office.photos.read(name)) is not None}
    printed = office.printer.pdf(paper_of(author, edition, photos))
    shown = [one for one in edition.drawings if f"cid:{one.name}" in edition.html]
    drawn = {one.name: office.printer.png(one.svg) for one in shown}
    made = HandbackPrint(
        id=edition.id,
        pdf=office.papers.keep(printed.pdf),
        pictures=tuple((name, office.papers.keep(data)) for name, data in drawn.items()),
        standard=printed.standard,
        left_out=printed.left_out,
        made_at=office.clock(),
    )
    if known is None:
        _remember(office, made)
    return made, printed.pdf, drawn


def paper_of(author: str, edition: HandbackEdition, photos: Mapping[str, bytes]) -> Paper:
    return Paper(
        edition.subject, author, edition.language, edition.paper, edition.drawings, photos, edition.made_at
    )  # fmt: skip


def _remember(office: Office, made: HandbackPrint) -> None:
    """Two that made it at once made the same; one of them is kept."""
    with office.store.writing() as unit:
        try:
            unit.handback_prints.add(made)
        except AlreadyThere:
            return
        unit.commit()


def enclosures_of(office: Office, message: OutgoingMessage) -> tuple[Enclosure, ...]:
    """What goes with a letter: the edition it carries as a PDF, and the drawings it shows. Nothing with others."""
    with office.store.reading() as unit:
        found = unit.handbacks.where(message=message.id)
        job = unit.jobs.get(found[0].job) if found else None
    if not found or job is None:
        return ()
    _, pdf, pictures = edition_files(office, found[0])
    shown = [Enclosure(f"{name}.png", "image/png", data, shown_as=name) for name, data in pictures.items()]
    return (*shown, Enclosure(pdf_name(job, found[0].edition), "application/pdf", pdf))


def pdf_name(job: Job, edition: int) -> str:
    """A file name that any machine takes."""
    number = "".join(one if one.isascii() and one.isalnum() else "-" for one in job.number)
    return f"handback-{number}-{edition}.pdf"


def preview(office: Office, number: str) -> tuple[Job, bytes]:
    """The PDF as it would be if the job were handed back now; nothing of it is kept.

    Raises: NotFound, also for a job whose sheet has nothing to write from.
    """
    with office.store.reading() as unit:
        job = job_by_number(unit, number)
        sheet = unit.sheets.get(job.id) or Sheet(job.id)
        if sheet.packet is None:
            raise NotFound("sheet", number)
        facts = facts_now(office, unit, job, sheet)
        author = the_shop(unit).name
    letter = office.write_letter(facts)
    photos = {one.sha256: data for one in facts.photos if (data := office.photos.read(one.sha256)) is not None}
    paper = Paper(letter.subject, author, letter.language, letter.paper, letter.drawings, photos, office.clock())
    return job, office.printer.pdf(paper).pdf
