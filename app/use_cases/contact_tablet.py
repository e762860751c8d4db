"""Answer a tablet's contact: it says what it has and what it owes, and gets what changed since.

What a tablet says it still holds is its debt, kept here; a tablet that comes back with less than it owed is a loss, which
the Floor shows until a foreman has settled it. Lost entries never stop what comes after them.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import Any

from app.domain.canonical import canonical
from app.domain.packet import Packet
from app.domain.records import Job, JobState, Loss, Person, Shop, Tablet
from app.domain.sheet import Sheet
from app.ports import Unit
from app.use_cases.office import Office, the_shop
from app.use_cases.see_sheet import technicians

JOBS_AT_ONCE = 20
# My work speaks of times; it is made anew at least this often.
WORK_LASTS = timedelta(minutes=5)


@dataclass(frozen=True, slots=True)
class Said:
    """What a tablet says at a contact.

    have: job -> the hashes of the state, the packet and what is about it, as the tablet has them. pictures: hashes of
    packets whose drawings it has. work: person -> hash of My work.
    """

    said_seq: int
    waiting: int
    waiting_from: int
    photos_waiting: int
    bundle: str
    now_ms: int
    have: Mapping[str, Sequence[str]] = field(default_factory=dict)
    pictures: frozenset[str] = frozenset()
    work: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class JobOut:
    """A job's sheet as the office has it. `through`: the order number of the last entry in it."""

    job: Job
    sheet: Sheet
    hash: str
    through: int
    about: dict[str, Any]
    about_hash: str


@dataclass(frozen=True, slots=True)
class Answer:
    """What goes back: what changed, and nothing else."""

    now_ms: int
    next_seq: int
    shop: Shop
    people: tuple[Person, ...]
    jobs: tuple[JobOut, ...]
    packets: Mapping[str, Packet]
    gone: tuple[str, ...]
    work: Mapping[str, tuple[str, dict[str, Any]]]
    more: bool


WorkOf = Callable[[Office, Person], dict[str, Any]]


def contact_tablet(office: Office, tablet_id: str, said: Said, work_of: WorkOf) -> Answer:
    """Take what the tablet says and gather what it lacks. The caller has checked its credential."""
    next_seq = _keep_debt(office, tablet_id, said)
    with office.store.reading() as unit:
        people = tuple(one for one in unit.people.all() if one.active)
        jobs = {one.id: one for one in unit.jobs.where(state=JobState.OPEN)}
        # A job closed since stays until the tablet has it closed; then it goes.
        for key in said.have:
            if key not in jobs and (known := unit.jobs.get(key)) is not None:
                jobs[key] = known
        heads = unit.sheets.heads(tuple(jobs))
        changed: list[JobOut] = []
        gone = [key for key in said.have if key not in heads]
        more = False
        names = [[one.id, one.name] for one in technicians(unit)]
        for job in jobs.values():
            if job.id not in heads or not heads[job.id][1]:
                continue
            about = _about(job, names)
            about_hash = _hash(about)
            wanted = (*heads[job.id], about_hash)
            if tuple(said.have.get(job.id, ())) == wanted:
                if job.state is not JobState.OPEN:
                    gone.append(job.id)
                continue
            if len(changed) == JOBS_AT_ONCE:
                more = True
                break
            sheet = unit.sheets.get(job.id)
            if sheet is not None:
                changed.append(JobOut(job, sheet, heads[job.id][0], unit.ledger.last_of(job.id), about, about_hash))
        at_tablet = {one.person for one in unit.at_tablets.where(tablet=tablet_id)}
        fingerprints = {one.id: _fingerprint(office, unit, one, heads) for one in people if one.id in at_tablet}
        shop = the_shop(unit)
    packets = {
        one.sheet.packet.hash: one.sheet.packet
        for one in changed
        if one.sheet.packet is not None and one.sheet.packet.hash not in said.pictures
    }
    due = [one for one in people if one.id in fingerprints and said.work.get(one.id) != fingerprints[one.id]]
    work = {one.id: (fingerprints[one.id], work_of(office, one)) for one in due}
    return Answer(
        office.now_ms, next_seq, shop, people, tuple(changed), packets, tuple(gone), work, more
    )  # fmt: skip


def _about(job: Job, names: list[list[str]]) -> dict[str, Any]:
    promised = int(job.promised_at.timestamp() * 1_000) if job.promised_at is not None else None
    return {"complaint": job.complaint, "promised_ms": promised, "people": names, "open": job.state is JobState.OPEN}


def _hash(value: object) -> str:
    return hashlib.sha256(canonical(value)).hexdigest()[:32]


def _fingerprint(office: Office, unit: Unit, person: Person, heads: Mapping[str, tuple[str, str]]) -> str:
    """What My work of a person follows from, cheaply: every open sheet, their placements, and the time of day."""
    placed = [one for one in unit.placements.where(technician=person.id) if not one.withdrawn]
    spans = [[one.id, one.bay, int(one.begins_at.timestamp()), int(one.ends_at.timestamp())] for one in placed]
    slot = int(office.clock().timestamp() // WORK_LASTS.total_seconds())
    return _hash([sorted(f"{key} {head[0]}" for key, head in heads.items()), spans, slot, person.name])


# --- What a tablet owes -------------------------------------------------------------------------------------------


def _keep_debt(office: Office, tablet_id: str, said: Said) -> int:
    """Keep what the tablet says it holds, notice what it lost, and give the number it has to send next."""
    now = office.clock()
    with office.store.reading() as unit:
        known = unit.tablets.get(tablet_id)
    if known is not None and not _is_news(known, said, office):
        return known.last_seq + 1
    with office.store.writing() as unit:
        tablet = unit.tablets.get(tablet_id)
        assert tablet is not None  # its credential was checked
        losses = list(_lost(tablet, said))
        for begins, ends in losses:
            unit.losses.add(Loss(office.new_id(), tablet.id, begins, ends, now))
        after = replace(
            tablet,
            # What is lost cannot come any more; what comes after it can.
            last_seq=max(tablet.last_seq, (said.waiting_from or said.said_seq + 1) - 1),
            seen_at=now,
            said_seq=said.said_seq,
            waiting=said.waiting,
            waiting_from=said.waiting_from,
            waiting_since=(tablet.waiting_since or now) if said.waiting else None,
            photos_waiting=said.photos_waiting,
            bundle=said.bundle,
            offset_ms=said.now_ms - office.now_ms,
        )
        unit.tablets.save(after)
        unit.commit()
    if losses or bool(tablet.waiting) != bool(after.waiting):
        office.announce("floor")
    return after.last_seq + 1


SEEN_EVERY = timedelta(seconds=30)


def _is_news(tablet: Tablet, said: Said, office: Office) -> bool:
    """Whether there is anything to write. A tablet at rest says the same every few seconds."""
    seen_lately = tablet.seen_at is not None and office.clock() - tablet.seen_at < SEEN_EVERY
    same = (tablet.said_seq, tablet.waiting, tablet.waiting_from, tablet.photos_waiting, tablet.bundle) == (
        said.said_seq,
        said.waiting,
        said.waiting_from,
        said.photos_waiting,
        said.bundle,
    )
    return not (seen_lately and same and not any(True for _ in _lost(tablet, said)))


def _lost(tablet: Tablet, said: Said) -> Iterator[tuple[int, int]]:
    """The numbers of entries the tablet once had, that never came, and that it has no more."""
    first_held = said.waiting_from or said.said_seq + 1
    if first_held > tablet.last_seq + 1:
        yield tablet.last_seq + 1, first_held - 1
    arrived = max(tablet.last_seq, said.said_seq)
    if tablet.said_seq > arrived:
        yield arrived + 1, tablet.said_seq


def settle_loss(office: Office, loss_id: str, person: str, reason: str) -> None:
    """A foreman's word on entries that will not come. The page's roles say who may.

    Raises: NotFound, Refused.
    """
    from app.domain.problems import NotFound, Problem, Refused

    with office.store.writing() as unit:
        loss = unit.losses.get(loss_id)
        if loss is None:
            raise NotFound("loss", loss_id)
        if not reason.strip():
            raise Refused([Problem("reason_missing", "reason")])
        if loss.settled_by is None:
            unit.losses.save(replace(loss, settled_by=person, settled_at=office.clock(), reason=reason.strip()))
            unit.commit()
    office.announce("floor")
