"""A comeback: a vehicle that was here not long ago comes in again, and somebody says whether it is the same matter."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from app.domain.packet import Packet
from app.domain.problems import Problem
from app.domain.records import Job, JobState
from app.ports import Unit
from app.use_cases.office import the_shop

NOT_THE_SAME = "no"
# House rule: a sheet's head has room for this much of another complaint.
COMPLAINT_SHOWN = 160


@dataclass(frozen=True, slots=True)
class Earlier:
    """An earlier job on the same vehicle, handed back so many days ago."""

    job: Job
    days: int


def earlier_jobs(unit: Unit, vehicle: str, now: datetime) -> tuple[Earlier, ...]:
    """The jobs of a vehicle that were handed back within the shop's days, the last first."""
    within = the_shop(unit).comeback_days
    found = []
    for job in unit.jobs.where(vehicle=vehicle, state=JobState.HANDED_BACK) if within else ():
        closed = _closed_at(unit, job)
        if closed is not None and (now - closed).days <= within:
            found.append((closed, Earlier(job, (now - closed).days)))
    return tuple(one for _, one in sorted(found, key=lambda pair: pair[0], reverse=True))


def comeback_of(unit: Unit, job: Job) -> Earlier | None:
    """The job whose complaint this one is again, with the days from its handback to this intake."""
    earlier = unit.jobs.get(job.comeback_of) if job.comeback_of else None
    if earlier is None:
        return None
    closed = _closed_at(unit, earlier) or earlier.opened_at
    return Earlier(earlier, (job.opened_at - closed).days)


def _closed_at(unit: Unit, job: Job) -> datetime | None:
    sheet = unit.sheets.get(job.id)
    closed = sheet.handed_back if sheet is not None else None
    return datetime.fromtimestamp(closed.at_ms / 1_000, UTC) if closed is not None else None


def answer_of(typed: str, earlier: Iterable[Earlier]) -> tuple[str, tuple[Problem, ...]]:
    """Which job's complaint this is again by the intake's answer, "" for none; and what is wrong with the answer."""
    known = [one.job.id for one in earlier]
    if not known or typed == NOT_THE_SAME:
        return "", ()
    if typed in known:
        return typed, ()
    return "", (Problem("comeback_unanswered", "comeback"),)


def comeback_problems(unit: Unit, vehicle: str, comeback_of: str) -> tuple[Problem, ...]:
    earlier = unit.jobs.get(comeback_of) if comeback_of else None
    fits = not comeback_of or (earlier is not None and earlier.vehicle == vehicle)
    return () if fits else (Problem("comeback_unknown", "comeback"),)


def with_comeback(unit: Unit, job: Job, packet: Packet) -> Packet:
    """The packet with the earlier job's number and complaint for the sheet's head, so that a tablet has them too."""
    earlier = unit.jobs.get(job.comeback_of) if job.comeback_of else None
    if earlier is None:
        return packet
    words = " ".join(earlier.complaint.split())
    shown = words if len(words) <= COMPLAINT_SHOWN else f"{words[: COMPLAINT_SHOWN - 1].rstrip()}…"
    return replace(packet, vehicle={**packet.vehicle, "comeback": f"{earlier.number}: “{shown}”"})
