"""Answer a tablet's contact: it says what it has and what it owes, and gets what changed since.

What it owes is kept, and what it came back without is an alarm on the Floor; neither stops what comes after.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

from app.domain import debt
from app.domain.canonical import canonical
from app.domain.debt import Said
from app.domain.packet import Packet
from app.domain.problems import NotFound
from app.domain.records import Job, JobState, Person, Shop, Tablet, TabletPerson
from app.domain.sheet import Sheet
from app.language.catalogue import ENGLISH, LANGUAGES, mark_of
from app.ports import Unit
from app.use_cases.office import Office, the_shop
from app.use_cases.see_sheet import technicians
from app.use_cases.tablet_alarms import photos_refused_of, raise_lack
from app.use_cases.tablet_credential import tablet_in

JOBS_AT_ONCE = 20
# How long a tablet keeps a job that was closed, so that whoever worked on it sees what became of the last entries.
CLOSED_STAYS = timedelta(days=1)
# A tablet at rest says the same every few seconds; when it was heard is written down no more often than this.
HEARD_EVERY = timedelta(seconds=30)
SIGNED_IN_EVERY = timedelta(minutes=15)
# My work speaks of times and names; it is made anew at least this often.
WORK_LASTS = timedelta(minutes=5)
# Whoever has not worked at a tablet for so long has no My work carried there.
WORKS_THERE = timedelta(days=30)


@dataclass(frozen=True, slots=True)
class Having:
    """What a tablet has.

    jobs:    job -> what the office sent of it: a number, the packet's hash, the mark of its texts, the mark of it all.
             The last is compared, and the one before it where texts are to be sent.
    packets: hashes of the packets it has, drawings and all. work: person -> hash of My work.
    """

    jobs: Mapping[str, Sequence[str | int]] = field(default_factory=dict)
    packets: frozenset[str] = frozenset()
    work: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class JobSent:
    """A job's sheet as the office has it. through: the order number of the last entry in it.

    texts_mark: names what the packet's texts are in the languages read at this tablet. texts_in: those languages, where
    the tablet does not have just that.
    """

    job: Job
    sheet: Sheet
    through: int
    about: Mapping[str, Any]
    about_hash: str
    texts_mark: str = ""
    texts_in: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ContactAnswer:
    """What changed, and nothing else; the people and the shop are short and always there.

    photos_refused: how many photos stay on the tablet for good and no foreman has settled.
    contacts: up to which number this tablet had been heard before.
    """

    now_ms: int
    next_seq: int
    shop: Shop
    people: tuple[Person, ...]
    jobs: tuple[JobSent, ...]
    packets: Mapping[str, Packet]
    gone: tuple[str, ...]
    work: Mapping[str, tuple[str, Mapping[str, Any]]]
    more: bool
    photos_refused: int = 0
    contacts: int = 0


# My work of a person (by id), as the plain data its template receives.
WorkOf = Callable[[Office, str], Mapping[str, Any]]


def contact_tablet(
    office: Office, credential: str, said: Said, having: Having, signed_in: str, work_of: WorkOf
) -> ContactAnswer:
    """Take what a tablet says and gather what it lacks.

    Raises: NotFound for a credential that is no tablet's in use.
    """
    tablet, contacts = _keep_what_it_said(office, credential, said, signed_in)
    now = office.clock()
    with office.store.reading() as unit:
        people = tuple(one for one in unit.people.all() if one.active)
        workers, shop = _workers(unit, tablet.id, people, now), the_shop(unit)
        changed, gone, more = _jobs(unit, now, having, _languages(workers, shop))
        open_heads = unit.sheets.heads([one.id for one in unit.jobs.where(state=JobState.OPEN)])
        prints = {one.id: _work_print(unit, one, open_heads, now) for one in workers}
        refused = photos_refused_of(unit, tablet.id)
    packets = {one.sheet.packet.hash: one.sheet.packet for one in changed if one.sheet.packet is not None}
    return ContactAnswer(
        now_ms=office.now_ms,
        next_seq=tablet.last_seq + 1,
        shop=shop,
        people=people,
        jobs=changed,
        packets={key: packet for key, packet in packets.items() if key not in having.packets},
        gone=gone,
        work={key: (mark, work_of(office, key)) for key, mark in prints.items() if having.work.get(key) != mark},
        more=more,
        photos_refused=refused,
        contacts=contacts,
    )


# --- What it owes -------------------------------------------------------------------------------------------------


def _keep_what_it_said(office: Office, credential: str, said: Said, signed_in: str) -> tuple[Tablet, int]:
    with office.store.reading() as unit:
        tablet = tablet_in(unit, credential)
        if tablet is None:
            raise NotFound("tablet", "")
        is_news = _is_news(tablet, said, office.clock()) or _signed_in_anew(unit, tablet, signed_in, office.clock())
    if not is_news:
        return tablet, debt.heard_before(tablet, said)
    with office.store.writing() as unit:
        before = tablet_in(unit, credential)
        if before is None:
            raise NotFound("tablet", "")
        _keep_signed_in(unit, before, signed_in, office.clock())
        after, lacks = debt.hear(before, said, office.clock())
        for lack in lacks:
            raise_lack(office, unit, before, lack)
        unit.tablets.save(after)
        unit.commit()
    if lacks or (before.owes_since is None) != (after.owes_since is None) or before.owes != after.owes:
        office.announce("floor")
    return after, debt.heard_before(before, said)


def _is_news(tablet: Tablet, said: Said, now: datetime) -> bool:
    if tablet.seen_at is None or now - tablet.seen_at >= HEARD_EVERY:
        return True
    after, lacks = debt.hear(tablet, said, now)
    clock = after.clock_offset_ms if abs(after.clock_offset_ms - tablet.clock_offset_ms) > 1_000 else None
    same = replace(
        after,
        seen_at=tablet.seen_at,
        said_at=tablet.said_at,
        clock_offset_ms=tablet.clock_offset_ms if clock is None else clock,
        # One that says nothing new may be counted later: an older one has nothing new either.
        contacts=tablet.contacts,
    )
    return bool(lacks) or same != tablet


def _signed_in_anew(unit: Unit, tablet: Tablet, person: str, now: datetime) -> bool:
    """Whether it is to be written down that this person is signed in there, the office's own doing or not."""
    if not person or unit.people.get(person) is None:
        return False
    known = unit.tablet_people.get(pair(tablet.id, person))
    return known is None or now - known.last_at >= SIGNED_IN_EVERY


def _keep_signed_in(unit: Unit, tablet: Tablet, person: str, now: datetime) -> None:
    if _signed_in_anew(unit, tablet, person, now):
        keep_person(unit, tablet.id, person, now)


def keep_person(unit: Unit, tablet: str, person: str, now: datetime) -> None:
    """Write down that a person is signed in at a tablet."""
    known = unit.tablet_people.get(pair(tablet, person))
    if known is None:
        unit.tablet_people.add(TabletPerson(pair(tablet, person), tablet, person, now, now))
    else:
        unit.tablet_people.save(replace(known, last_at=now))


def pair(tablet: str, person: str) -> str:
    return f"{tablet} {person}"


# --- What it lacks ------------------------------------------------------------------------------------------------


def _languages(workers: Iterable[Person], shop: Shop) -> tuple[str, ...]:
    """The languages that are read at a tablet, but for English, which the packets are in."""
    wanted = {shop.language, *(one.language or shop.language for one in workers)}
    return tuple(sorted(one for one in wanted if one in LANGUAGES and one != ENGLISH))


def _jobs(
    unit: Unit, now: datetime, having: Having, languages: tuple[str, ...]
) -> tuple[tuple[JobSent, ...], tuple[str, ...], bool]:
    """The jobs that changed since, at most `JOBS_AT_ONCE`; those that are no longer the tablet's; whether more wait."""
    wanted = {one.id: one for one in unit.jobs.where(state=JobState.OPEN)}
    wanted |= {one.id: one for one in _closed_lately(unit, now, [key for key in having.jobs if key not in wanted])}
    heads = unit.sheets.heads(list(wanted))
    names = [[one.id, one.name] for one in technicians(unit)]
    coming, refused = _photos_coming(unit)
    said = [mark_of(one) for one in languages]
    found = []
    for job in wanted.values():
        if not heads.get(job.id, ("", ""))[1]:
            continue
        about = _about(job, names, coming.get(job.id, ()), refused.get(job.id, ()))
        # The packet's own hash: its texts are the same until it changes, or what they are in a language does.
        texts_mark = _hash([heads[job.id][1], *said]) if said else ""
        about_hash = _hash([*heads[job.id], job.state.value, job.number, about, texts_mark])
        had = tuple(having.jobs.get(job.id, ()))
        if had[-1:] != (about_hash,):
            lacks = bool(texts_mark) and had[-2:-1] != (texts_mark,)
            found.append((job, about, about_hash, texts_mark, languages if lacks else ()))
    sent = []
    marks = unit.ledger.last_of([job.id for job, *_ in found[:JOBS_AT_ONCE]])
    for job, about, about_hash, texts_mark, texts_in in found[:JOBS_AT_ONCE]:
        sheet = unit.sheets.get(job.id)
        if sheet is not None and job.id in marks:
            sent.append(JobSent(job, sheet, marks[job.id].order, about, about_hash, texts_mark, texts_in))
    gone = tuple(key for key in having.jobs if not heads.get(key, ("", ""))[1])
    return tuple(sent), gone, len(found) > JOBS_AT_ONCE


def _closed_lately(unit: Unit, now: datetime, keys: Sequence[str]) -> Iterable[Job]:
    earliest_ms = int((now - CLOSED_STAYS).timestamp() * 1_000)
    for key, mark in unit.ledger.last_of(keys).items() if keys else ():
        job = unit.jobs.get(key)
        if job is not None and mark.heard_at_ms >= earliest_ms:
            yield job


def _photos_coming(unit: Unit) -> tuple[dict[str, set[str]], dict[str, set[str]]]:
    """The photos whose bytes have not come, by job: a few, of all there are; and those of them that never will."""
    found: dict[str, set[str]] = {}
    refused: dict[str, set[str]] = {}
    for one in unit.photos.where(here=False):
        found.setdefault(one.job, set()).add(one.sha256)
        if one.refused:
            refused.setdefault(one.job, set()).add(one.sha256)
    return found, refused


def _about(job: Job, names: list[list[str]], coming: Iterable[str], refused: Iterable[str]) -> dict[str, Any]:
    promised = int(job.promised_at.timestamp() * 1_000) if job.promised_at is not None else None
    return {
        "complaint": job.complaint,
        "promised_ms": promised,
        "people": names,
        "photos_missing": sorted(coming),
        "photos_refused": sorted(refused),
    }


def _hash(value: object) -> str:
    return hashlib.sha256(canonical(value)).hexdigest()[:32]


def _workers(unit: Unit, tablet: str, people: Iterable[Person], now: datetime) -> list[Person]:
    there = {one.person for one in unit.tablet_people.where(tablet=tablet) if now - one.last_at <= WORKS_THERE}
    return [one for one in people if one.id in there]


def _work_print(unit: Unit, person: Person, heads: Mapping[str, tuple[str, str]], now: datetime) -> str:
    """What a person's My work follows from, without making it: sheets, own placements, roles, language, the time."""
    placed = [
        [one.id, one.bay, int(one.begins_at.timestamp()), int(one.ends_at.timestamp()), one.begins_at <= now]
        for one in unit.placements.where(technician=person.id, withdrawn=False)
        if one.ends_at > now
    ]
    turn = int(now.timestamp() // WORK_LASTS.total_seconds())
    language = person.language or the_shop(unit).language
    return _hash(
        [sorted([key, head] for key, (head, _) in heads.items()), placed, sorted(person.roles), turn, language]
    )
