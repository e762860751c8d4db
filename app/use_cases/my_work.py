"""A technician's day: what is placed with them now and next, what they have in hand, what waits for them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from app.domain.packet import Packet, Step
from app.domain.records import Job, JobState, Placement, Role, Vehicle
from app.domain.sheet import Aside, Sheet, in_order
from app.domain.standing import keeps_open, waits_for, waits_for_second
from app.ports import Unit
from app.use_cases.in_language import sheet_said
from app.use_cases.office import Office


@dataclass(frozen=True, slots=True)
class Placed:
    """A job placed in a bay for a time."""

    job: Job
    vehicle: Vehicle | None
    placement: Placement
    bay: str
    next_step: str
    progress: tuple[int, int]
    held: str


@dataclass(frozen=True, slots=True)
class InHand:
    """A job this person has begun, or was handed, and that is still open."""

    job: Job
    vehicle: Vehicle | None
    next_step: str
    progress: tuple[int, int]
    held: str
    handed_by: str


@dataclass(frozen=True, slots=True)
class SecondLook:
    """Something another person did that waits for a second person's own reading or look."""

    job: Job
    vehicle: Vehicle | None
    step: Step
    words: str
    first: str


@dataclass(frozen=True, slots=True)
class MyAside:
    """An entry of mine that was set aside and is not settled."""

    job: Job
    vehicle: Vehicle | None
    step: Step | None
    aside: Aside


@dataclass(frozen=True, slots=True)
class MyWork:
    now: tuple[Placed, ...]
    next: tuple[Placed, ...]
    in_hand: tuple[InHand, ...]
    second_looks: tuple[SecondLook, ...]
    asides: tuple[MyAside, ...]


def my_work(office: Office, person: str) -> MyWork:
    """Gather one person's work over all open jobs."""
    now = office.clock()
    with office.store.reading() as unit:
        jobs = {job.id: job for job in unit.jobs.where(state=JobState.OPEN)}
        sheets = {key: sheet_said(unit.sheets.get(key) or Sheet(key)) for key in jobs}
        vehicles = {job.vehicle: unit.vehicles.get(job.vehicle) for job in jobs.values()}
        mine = [
            one
            for one in unit.placements.where(technician=person)
            if not one.withdrawn and one.job in jobs and one.ends_at > now
        ]
        placed = [_placed(unit, jobs[one.job], vehicles, sheets[one.job], one) for one in _by_time(mine)]
        is_second = _is_second(unit, person)
    at_now = tuple(one for one in placed if one.placement.begins_at <= now)
    placed_now = {one.job.id for one in at_now}
    return MyWork(
        now=at_now,
        next=tuple(one for one in placed if one.placement.begins_at > now),
        in_hand=tuple(
            found
            for job in jobs.values()
            if job.id not in placed_now and (found := _in_hand(job, vehicles, sheets[job.id], person)) is not None
        ),
        second_looks=tuple(
            found
            for job in jobs.values()
            if is_second
            for found in _second_looks(job, vehicles, sheets[job.id], person)
        ),
        asides=tuple(found for job in jobs.values() for found in _asides(job, vehicles, sheets[job.id], person)),
    )


def _by_time(placements: Iterable[Placement]) -> list[Placement]:
    return sorted(placements, key=lambda one: (one.begins_at, one.id))


def _is_second(unit: Unit, person: str) -> bool:
    known = unit.people.get(person)
    return known is not None and bool(known.roles & {Role.TECHNICIAN, Role.FOREMAN})


def _placed(unit: Unit, job: Job, vehicles: dict[str, Vehicle | None], sheet: Sheet, placement: Placement) -> Placed:
    bay = unit.bays.get(placement.bay)
    return Placed(
        job=job,
        vehicle=vehicles[job.vehicle],
        placement=placement,
        bay=bay.name if bay is not None else "",
        next_step=next_step(sheet),
        progress=progress(sheet),
        held=held(sheet),
    )


def _in_hand(job: Job, vehicles: dict[str, Vehicle | None], sheet: Sheet, person: str) -> InHand | None:
    """Mine if it was handed to me last; or if I worked on it and have handed it to nobody since."""
    last = sheet.hand_overs[-1] if sheet.hand_overs else None
    since = last.mark.at_ms if last is not None else -1
    handed_to_me = last is not None and last.to == person
    if not handed_to_me and not any(at > since for at in _worked_at(sheet, person)):
        return None
    return InHand(
        job=job,
        vehicle=vehicles[job.vehicle],
        next_step=next_step(sheet),
        progress=progress(sheet),
        held=held(sheet),
        handed_by=last.mark.name if last is not None and handed_to_me else "",
    )


def _worked_at(sheet: Sheet, person: str) -> Iterable[int]:
    """When this person did something to the sheet's steps, gates or support."""
    for now in sheet.steps.values():
        marks = [now.done, now.outcome.mark if now.outcome is not None else None]
        marks += [taken.mark for taken in now.readings.values()]
        marks += [signature.mark for signature in now.signatures.values()]
        yield from (mark.at_ms for mark in marks if mark is not None and mark.person == person)
    yield from (gate.began_at_ms for gate in sheet.gates.values() if gate.person == person)
    if sheet.support.mark is not None and sheet.support.mark.person == person:
        yield sheet.support.mark.at_ms


def _second_looks(job: Job, vehicles: dict[str, Vehicle | None], sheet: Sheet, person: str) -> Iterable[SecondLook]:
    for step in sheet.packet.steps if sheet.packet is not None else ():
        waiting = waits_for_second(sheet, step)
        if not waiting:
            continue
        now = sheet.step(step.id)
        firsts = {one.mark.person: one.mark.name for _, one in in_order(now.signatures)}
        if now.done is not None:
            firsts[now.done.person] = now.done.name
        if person not in firsts:
            yield SecondLook(job, vehicles[job.vehicle], step, ", ".join(waiting), ", ".join(firsts.values()))


def _asides(job: Job, vehicles: dict[str, Vehicle | None], sheet: Sheet, person: str) -> Iterable[MyAside]:
    steps = sheet.packet.step_by_id if sheet.packet is not None else {}
    for _, one in in_order(sheet.asides):
        if one.mark.person == person and keeps_open(one):
            yield MyAside(job, vehicles[job.vehicle], steps.get(one.step), one)


def next_step(sheet: Sheet) -> str:
    """The title of the first open step that nothing has to come before."""
    packet: Packet | None = sheet.packet
    left = [step for step in packet.steps if sheet.step(step.id).done is None] if packet is not None else []
    step = next((one for one in left if waits_for(sheet, one) is None), left[0] if left else None)
    return step.title if step is not None else ""


def progress(sheet: Sheet) -> tuple[int, int]:
    """Steps done, of how many."""
    steps = sheet.packet.steps if sheet.packet is not None else ()
    return sum(1 for step in steps if sheet.step(step.id).done is not None), len(steps)


def held(sheet: Sheet) -> str:
    """Why the whole sheet is held, if a tag hangs on it."""
    hold = sheet.open_hold("")
    return hold[1].reason if hold is not None else ""
