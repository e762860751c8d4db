"""See a job as foreman and desk do: what it is, where it stands, what is missing, what has changed since its sheet was
pinned, and its history. Nothing is changed here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo

from app.domain.entry import Kind
from app.domain.offering import figure_keys
from app.domain.packet import Fastener, Line, Packet, Pass, Step
from app.domain.problems import OursToMend, Problem, Refused
from app.domain.procedure import Book
from app.domain.records import Bay, Customer, Job, JobState, Person, Placement, Vehicle
from app.domain.sheet import Sheet, StepNow
from app.language.procedures import said
from app.ports import LedgerRow, Unit
from app.use_cases.comeback import Earlier, comeback_of
from app.use_cases.floor_view import Shown, shown_alone
from app.use_cases.in_language import packet_said, sheet_said
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.open_job import compile_for
from app.use_cases.see_photo import photos_missing, photos_refused
from app.use_cases.see_sheet import job_by_number


@dataclass(frozen=True, slots=True)
class LineSeen:
    line: Line
    done: int
    total: int


@dataclass(frozen=True, slots=True)
class PlaceMissing:
    """A joint without a figure that counts. typed: somebody entered one, and nobody has compared it yet."""

    place: str
    axle: str
    typed: bool


@dataclass(frozen=True, slots=True)
class Drift:
    """What the next edition of the sheet would change. again: steps that were begun and would start again."""

    added: tuple[str, ...]
    gone: tuple[str, ...]
    changed: tuple[str, ...]
    gates: tuple[str, ...]
    wrenches: bool
    again: tuple[str, ...]


@dataclass(frozen=True)
class JobSeen:
    """drift: None when the sheet is up to date. drift_problems: why no new edition can be made.

    earlier: the job whose complaint this is again, with the days from its handback to this intake.
    """

    job: Job
    shown: Shown
    vehicle: Vehicle
    customer: Customer
    sheet: Sheet
    photos_missing: tuple[str, ...]
    photos_refused: tuple[str, ...]
    lines: tuple[LineSeen, ...]
    figures: tuple[PlaceMissing, ...]
    inputs: tuple[str, ...]
    drift: Drift | None
    drift_problems: tuple[Problem, ...]
    placements: tuple[Placement, ...]
    bays: Mapping[str, Bay]
    people: Mapping[str, Person]
    packets: tuple[Packet, ...]
    rows: Sequence[LedgerRow]
    earlier: Earlier | None
    now: datetime
    zone: tzinfo


def see_job(office: Office, number: str) -> JobSeen:
    """Raises: NotFound."""
    with office.store.reading() as unit:
        job = job_by_number(unit, number)
        sheet = unit.sheets.get(job.id) or Sheet(job.id)
        vehicle, customer = unit.vehicles.get(job.vehicle), unit.customers.get(job.customer)
        if vehicle is None or customer is None:
            raise OursToMend(f"job {job.id} has no customer or vehicle")
        shown = sheet_said(sheet)
        drift, problems = _drift(office, unit, job, vehicle, sheet)
        packets = tuple(one for key in sheet.editions if (one := unit.sheets.packet(key)) is not None)
        return JobSeen(
            job=job,
            shown=shown_alone(unit, job, office.clock()),
            vehicle=vehicle,
            customer=customer,
            sheet=shown,
            photos_missing=photos_missing(office.photos, sheet),
            photos_refused=photos_refused(unit, job.id),
            lines=_lines(shown),
            figures=figures_wanted(office.book, sheet.packet),
            inputs=tuple(said(one) for one in inputs_missing(sheet.packet)),
            drift=drift,
            drift_problems=problems,
            placements=tuple(unit.placements.where(job=job.id)),
            bays={one.id: one for one in unit.bays.all()},
            people={one.id: one for one in unit.people.all()},
            packets=tuple(packet_said(one) for one in packets),
            rows=unit.ledger.of_job(job.id),
            earlier=comeback_of(unit, job),
            now=office.clock(),
            zone=zone_of(the_shop(unit)),
        )


def _lines(sheet: Sheet) -> tuple[LineSeen, ...]:
    packet = sheet.packet
    if packet is None:
        return ()
    return tuple(
        LineSeen(line, sum(1 for step in steps if sheet.step(step.id).done is not None), len(steps))
        for line in packet.lines
        for steps in (packet.steps_of_line.get(line.id, ()),)
    )


def figures_wanted(book: Book, packet: Packet | None) -> tuple[PlaceMissing, ...]:
    """Joints that cannot be signed off yet: no figure, or none that a second person has compared; each once."""
    places = {one.key: one.place for one in figure_keys(book)}
    found: dict[tuple[str, str], PlaceMissing] = {}
    for step in packet.steps if packet is not None else ():
        for one in step.fasteners:
            if one.tighten is Pass.FINAL and not _counts(one):
                place = places.get(one.figure_key, one.place)
                found[str(step.axle), one.figure_key] = PlaceMissing(
                    said(place), str(step.axle), one.figure is not None
                )
    return tuple(found[key] for key in sorted(found))


def _counts(fastener: Fastener) -> bool:
    return fastener.figure is not None and fastener.figure.verified


def inputs_missing(packet: Packet | None) -> tuple[str, ...]:
    """What gates cannot reckon with yet, in words, from the packet's own list."""
    listed = packet.missing if packet is not None else ()
    return tuple(one.removeprefix("input:") for one in listed if one.startswith("input:"))


def _drift(
    office: Office, unit: Unit, job: Job, vehicle: Vehicle, sheet: Sheet
) -> tuple[Drift | None, tuple[Problem, ...]]:
    before = sheet.packet
    if before is None or job.state is not JobState.OPEN:
        return None, ()
    try:
        after = compile_for(office, unit, job, vehicle, before)
    except Refused as refused:
        return None, refused.problems
    return drift_of(before, after, sheet), ()


def drift_of(before: Packet, after: Packet, sheet: Sheet) -> Drift | None:
    """What changes from one edition to the next, by the titles of steps; None when nothing does."""
    if replace(after, edition=before.edition) == before:
        return None
    changed = [step for step in after.steps if before.step_by_id.get(step.id) not in (None, step)]
    gone = [step for step in before.steps if step.id not in after.step_by_id]
    gates = [gate for gate in after.gates if before.gate_by_id.get(gate.id) != gate]
    return Drift(
        added=_titles(step for step in after.steps if step.id not in before.step_by_id),
        gone=_titles(gone),
        changed=_titles(changed),
        gates=tuple(dict.fromkeys(said(gate.title) for gate in gates)),
        wrenches=before.wrenches != after.wrenches,
        again=_titles(step for step in (*changed, *gone) if is_begun(sheet.step(step.id))),
    )


def _titles(steps: Iterable[Step]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(said(step.title) for step in steps))


def is_begun(now: StepNow) -> bool:
    return now.done is not None or now.outcome is not None or bool(now.readings or now.signatures or now.reopened)


def pinned_by(rows: Sequence[LedgerRow]) -> LedgerRow | None:
    """The entry that pinned the edition in force."""
    return next((row for row in reversed(rows) if row.accepted and row.heard.entry.kind == Kind.PACKET_PINNED), None)
