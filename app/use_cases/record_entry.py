"""Record what a person did to a sheet: the one door for writes to sheets.

A form posted to the server and an entry from a tablet become the same `Entry` and come through `hear`. In one
transaction: the entry is ruled on, added to the ledger, the sheet's new state is put beside it, what was read off a
wrench is noted where it can be traced, and what follows from it (a handback closes the job and queues the customer's
letter) is done. An id seen before gets its first ruling again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from app.domain.canonical import canonical
from app.domain.case import Reason, Ruling, aside
from app.domain.chain import chain_hash
from app.domain.entry import Entry, Heard, Kind, entry_json
from app.domain.problems import NotAllowed, NotFound, OursToMend, Problem, Refused
from app.domain.records import Job, JobState
from app.domain.rule_table import RuleTable
from app.domain.sheet import Sheet
from app.domain.uses import uses_of
from app.ports import LedgerRow, Unit
from app.use_cases.name_photo import name_photo
from app.use_cases.office import Office

# The office's own forms are numbered like a tablet's entries: one gapless sequence.
OFFICE_TABLET = "office"


@dataclass(frozen=True, slots=True)
class Recorded:
    """What became of an entry; `name` is whose it was. `repeated`: heard before, this is its first ruling again."""

    ruling: Ruling
    order: int
    sheet: Sheet
    name: str = ""
    repeated: bool = False


Consequence = Callable[[Office, Unit, Job, Sheet, Heard], None]


def record_form(office: Office, entry: Entry) -> Recorded:
    """Record an entry made from a form on the server's own page; its number in sequence is given here.

    Raises: NotFound, NotAllowed, Refused as `hear`.
    """
    with office.store.writing() as unit:
        known = unit.ledger.find(entry.id)
        if known is not None:
            return _first_ruling_again(unit, known, entry)
        numbered = replace(entry, tablet=OFFICE_TABLET, seq=unit.take_number(f"seq:{OFFICE_TABLET}"))
        recorded = hear(office, unit, numbered, is_new=True)
        unit.commit()
    announce(office, entry.job)
    return recorded


def announce(office: Office, job: str) -> None:
    office.announce("floor")
    office.announce(f"sheet:{job}")


def hear(office: Office, unit: Unit, entry: Entry, raw: str | None = None, *, is_new: bool = False) -> Recorded:
    """Rule on an entry and keep it, inside a writing transaction that the caller commits.

    raw: the entry exactly as it came; its own canonical form when made here. is_new: the caller has looked in this
    transaction and the id is not in the ledger (which refuses it a second time in any case).
    Raises: NotFound for a job that is not there; NotAllowed for a person who is not, or no longer, of this shop.
    """
    known = None if is_new else unit.ledger.find(entry.id)
    if known is not None:
        return _first_ruling_again(unit, known, entry)
    if unit.jobs.get(entry.job) is None:
        raise NotFound("job", entry.job)
    person = unit.people.get(entry.person)
    if person is None or not person.active:
        raise NotAllowed(f"{entry.person} is not a person of this shop")
    return hear_whatever(office, unit, entry, raw, is_new=True)


def hear_whatever(
    office: Office, unit: Unit, entry: Entry, raw: str | None = None, *, is_new: bool = False
) -> Recorded:
    """As `hear`, for what was written down where nobody could be asked: whoever it is of and whatever it is for, it is
    kept. Of someone who is not of this shop, or for a job that is cancelled or not here, it is set aside.
    """
    known = None if is_new else unit.ledger.find(entry.id)
    if known is not None:
        return _first_ruling_again(unit, known, entry)
    person, job = unit.people.get(entry.person), unit.jobs.get(entry.job)
    sheet = unit.sheets.get(entry.job) or Sheet(entry.job)
    roles = person.roles if person is not None and person.active else ()
    order, previous = unit.ledger.next_order()
    heard = Heard(
        entry=entry,
        order=order,
        heard_at_ms=office.now_ms,
        name=person.name if person is not None else entry.person,
        roles=tuple(sorted(role.value for role in roles)),
    )
    ruling = why_no_work(office.rules.table, job, heard) or _decided(office, sheet, heard)
    after = office.rules.evolve(sheet, heard, ruling)
    unit.ledger.append(row_of(heard, ruling, previous, raw or canonical(entry_json(entry)).decode()))
    name_photo(office, unit, entry)
    if after.packet is not None and after.packet is not sheet.packet:
        unit.sheets.put_packet(after.packet)
    unit.sheets.put(after)
    if ruling.accepted:
        unit.uses.add(uses_of(after, heard))
    if job is not None and ruling.accepted and entry.kind in CONSEQUENCES:
        CONSEQUENCES[entry.kind](office, unit, job, after, heard)
    return Recorded(ruling, order, after, heard.name)


def why_no_work(table: RuleTable, job: Job | None, heard: Heard) -> Ruling | None:
    """Why nothing can be done for this job, by its record alone: it is not here, or it was cancelled.

    This is not the rules' to say: a sheet knows nothing of its job's record. What is allowed after a handback (settling
    what was set aside) is allowed after cancelling too.
    """
    if job is None:
        return aside(Reason.NOT_HERE, what="job", why="unknown")
    if job.state is JobState.CANCELLED and heard.entry.kind not in table.after_handback:
        return aside(Reason.NOT_HERE, what="job", why="cancelled")
    return None


def _decided(office: Office, sheet: Sheet, heard: Heard) -> Ruling:
    ruling = office.rules.decide(sheet, heard)
    if ruling.reason == Reason.WRONG_ROLE and not heard.roles:
        return aside(Reason.WRONG_ROLE, **ruling.details, why="no_longer", name=heard.name)
    return ruling


def row_of(heard: Heard, ruling: Ruling, previous: str, raw: str) -> LedgerRow:
    details = dict(ruling.details)
    return LedgerRow(
        heard=heard,
        raw=raw,
        accepted=ruling.accepted,
        reason=ruling.reason,
        details=details,
        previous=previous,
        hash=chain_hash(
            previous,
            order=heard.order,
            heard_at_ms=heard.heard_at_ms,
            name=heard.name,
            roles=heard.roles,
            raw=raw,
            accepted=ruling.accepted,
            reason=ruling.reason,
            details=details,
        ),
    )


def _first_ruling_again(unit: Unit, known: LedgerRow, entry: Entry) -> Recorded:
    """Give the first ruling of an id seen before, if it is the same entry; another under the same id is refused."""
    first = known.heard.entry
    if (first.job, first.person, first.kind) != (entry.job, entry.person, entry.kind):
        raise Refused([Problem("id_taken", "id")])
    sheet = unit.sheets.get(first.job)
    if sheet is None:
        raise OursToMend(f"job {first.job} has a ledger and no sheet")
    ruling = Ruling(known.accepted, known.reason, known.details)
    return Recorded(ruling, known.heard.order, sheet, known.heard.name, repeated=True)


def _close_job(office: Office, unit: Unit, job: Job, sheet: Sheet, heard: Heard) -> None:
    from app.use_cases.hand_back import write_first_edition
    from app.use_cases.place_job import free_bays
    from app.use_cases.remind import make_reminders

    unit.jobs.save(replace(job, state=JobState.HANDED_BACK))
    free_bays(unit, job.id, office.clock())
    make_reminders(unit, job, sheet)
    write_first_edition(office, unit, job, sheet, heard)


CONSEQUENCES: dict[str, Consequence] = {Kind.HANDED_BACK: _close_job}
