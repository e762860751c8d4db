"""Alarms about what a tablet had and the office does not have: raised, extended, and settled by a foreman."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from app.domain.debt import Lack
from app.domain.problems import NotFound, Refused
from app.domain.records import AlarmKind, PhotoNamed, Tablet, TabletAlarm
from app.ports import Unit
from app.use_cases.office import Office
from app.use_cases.settle import reason_problems


def raise_lack(office: Office, unit: Unit, tablet: Tablet, lack: Lack) -> None:
    """Keep a loss. One of the same kind that nobody has settled yet takes it in, so that a tablet is one line."""
    now, people = office.clock(), who_worked(unit, tablet.id, lack.since)
    standing = _standing(unit, tablet.id, lack.kind)
    if standing is None:
        unit.tablet_alarms.add(
            TabletAlarm(
                office.new_id(), tablet.id, lack.kind, now, lack.since, lack.count, lack.first, lack.last, people
            )
        )
        return
    unit.tablet_alarms.save(
        replace(
            standing,
            count=standing.count + lack.count,
            first_seq=min(filter(None, (standing.first_seq, lack.first)), default=0),
            last_seq=max(standing.last_seq, lack.last),
            people=tuple(dict.fromkeys((*standing.people, *people))),
        )
    )


def raise_used_anew(office: Office, unit: Unit, tablet: Tablet) -> None:
    """Say that a number came again with another entry: the tablet was set back, and may have held more."""
    raise_lack(office, unit, tablet, Lack(AlarmKind.WENT_BACK, 0, 0, tablet.owes_since or tablet.said_at))


def raise_no_job(office: Office, unit: Unit, tablet: Tablet, job: str, seq: int, name: str) -> None:
    """Say on the Floor that an entry came for a job this office does not have; one line a job."""
    now = office.clock()
    standing = _standing(unit, tablet.id, AlarmKind.NO_JOB, job)
    if standing is None:
        unit.tablet_alarms.add(
            TabletAlarm(office.new_id(), tablet.id, AlarmKind.NO_JOB, now, None, 1, seq, seq, (name,), job)
        )
        return
    people = tuple(dict.fromkeys((*standing.people, name)))
    unit.tablet_alarms.save(replace(standing, count=standing.count + 1, last_seq=seq, people=people))


def raise_photo_refused(office: Office, unit: Unit, tablet: str, photos: Sequence[PhotoNamed]) -> None:
    """Say on the Floor that a photo stays on its tablet for good; one line a job. photos: the entries that name it."""
    for one in photos:
        row = unit.ledger.find(one.id)
        names = (row.heard.name,) if row is not None else ()
        seq = row.heard.entry.seq if row is not None and row.heard.entry.tablet == tablet else 0
        standing = _standing(unit, tablet, AlarmKind.PHOTO_REFUSED, one.job)
        if standing is None:
            kind, now = AlarmKind.PHOTO_REFUSED, office.clock()
            unit.tablet_alarms.add(TabletAlarm(office.new_id(), tablet, kind, now, None, 1, seq, seq, names, one.job))
            continue
        people = tuple(dict.fromkeys((*standing.people, *names)))
        unit.tablet_alarms.save(replace(standing, count=standing.count + 1, last_seq=seq, people=people))


def photos_refused_of(unit: Unit, tablet: str) -> int:
    """How many photos stay on a tablet for good and are not settled: what it goes on saying."""
    standing = unit.tablet_alarms.where(tablet=tablet, kind=AlarmKind.PHOTO_REFUSED, settled_at=None)
    return sum(one.count for one in standing)


def _standing(unit: Unit, tablet: str, kind: AlarmKind, job: str = "") -> TabletAlarm | None:
    found = unit.tablet_alarms.where(tablet=tablet, kind=kind, job=job, settled_at=None)
    return found[0] if found else None


def who_worked(unit: Unit, tablet: str, since: datetime | None) -> tuple[str, ...]:
    """The names of those who were signed in at a tablet since then; of all who ever were, where nobody was since."""
    ever = unit.tablet_people.where(tablet=tablet)
    lately = [one for one in ever if since is None or one.last_at >= since] or ever
    names = (unit.people.get(one.person) for one in lately)
    return tuple(sorted(one.name for one in names if one is not None))


def settle_alarm(office: Office, person: str, alarm_id: str, reason: str) -> TabletAlarm:
    """Put an alarm to rest with a reason. Settled once, it stays as it was settled first.

    Raises: Refused without a reason; NotFound.
    """
    problems = reason_problems(reason)
    with office.store.writing() as unit:
        alarm = unit.tablet_alarms.get(alarm_id)
        if alarm is None:
            raise NotFound("tablet_alarm", alarm_id)
        if alarm.settled_at is not None:
            return alarm
        if problems:
            raise Refused(problems)
        settled = replace(alarm, settled_at=office.clock(), settled_by=person, settled_because=reason.strip())
        unit.tablet_alarms.save(settled)
        unit.commit()
    office.announce("floor")
    return settled
