"""What the Desk looks at: vehicles found by what somebody remembers of them, open jobs, what waits for the desk."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import UTC, datetime

from app.domain.folding import folded
from app.domain.photos import photo_notes
from app.domain.records import Customer, Job, JobState, MessageState, OutgoingMessage, Vehicle
from app.domain.sheet import Note, Sheet
from app.domain.standing import open_points
from app.language.procedures import said
from app.ports import Unit
from app.use_cases.decide_sheets import undecided
from app.use_cases.in_language import book_said, sheet_said
from app.use_cases.keep_vehicle import missing_facts, plate_key
from app.use_cases.my_work import held, next_step, progress
from app.use_cases.office import Office
from app.use_cases.remind import count_due
from app.use_cases.rests_on import own_figures, with_book
from app.use_cases.see_photo import photos_missing, photos_refused

FOUND_LIMIT = 50
LACKING_LIMIT = 8
PHOTOS_SHOWN = 4


@dataclass(frozen=True, slots=True)
class VehicleFound:
    vehicle: Vehicle
    customer: Customer | None
    open_jobs: tuple[Job, ...]


@dataclass(frozen=True, slots=True)
class OpenJob:
    """An open job and where it stands.

    figures_missing: joints that nobody can sign off yet for want of a figure. photos: the latest, first taken first.
    comeback_of: the number of the job whose complaint it is again; "" for none.
    """

    job: Job
    vehicle: Vehicle | None
    customer: Customer | None
    progress: tuple[int, int]
    next_step: str
    held: str
    ready: bool
    figures_missing: int
    photos: tuple[tuple[str, Note], ...]
    photos_missing: tuple[str, ...]
    photos_refused: tuple[str, ...]
    comeback_of: str


@dataclass(frozen=True, slots=True)
class Lacking:
    """A vehicle and what its record does not say yet."""

    vehicle: Vehicle
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CameBack:
    """A letter that came back, and the job it is about."""

    message: OutgoingMessage
    job: Job | None


@dataclass(frozen=True, slots=True)
class DeskSeen:
    jobs: tuple[OpenJob, ...]
    came_back: tuple[CameBack, ...]
    undeliverable: int
    to_compare: int
    sheets_undecided: int
    reminders_due: int
    lacking: tuple[Lacking, ...]
    lacking_count: int
    unreachable: tuple[Customer, ...]


def see_desk(office: Office) -> DeskSeen:
    with office.store.reading() as unit:
        open_jobs = unit.jobs.where(state=JobState.OPEN)
        vehicles = {one.id: one for one in unit.vehicles.all()}
        customers = {key: unit.customers.get(key) for key in {job.customer for job in open_jobs}}
        seen = [_open_job(office, unit, job, vehicles, customers) for job in open_jobs]
        came_back = tuple(
            CameBack(one, unit.jobs.get(one.job) if one.job else None)
            for one in unit.outbox.where(state=MessageState.CAME_BACK)
        )
        undeliverable = len(unit.outbox.where(state=MessageState.UNDELIVERABLE))
        to_compare = sum(1 for one in unit.figures.where(compared_by=None) if not one.withdrawn)
        sheets_undecided = len(undecided(unit))
        reminders_due = count_due(unit, office.clock())
        without_mass = {one.model for one in vehicles.values() if None in (one.front.mass_g, one.rear.mass_g)}
        books = {model: own_figures(unit, model) for model in without_mass}
    in_house = {job.vehicle for job in open_jobs}
    lacking = [
        Lacking(one, found)
        for one in vehicles.values()
        if (found := missing_facts(book_said(office.book), with_book(one, books.get(one.model, {}))))
    ]
    lacking.sort(key=lambda one: (one.vehicle.id not in in_house, one.vehicle.plate.casefold()))
    return DeskSeen(
        jobs=tuple(sorted(seen, key=lambda one: (_promised(one.job), one.job.number))),
        came_back=came_back,
        undeliverable=undeliverable,
        to_compare=to_compare,
        sheets_undecided=sheets_undecided,
        reminders_due=reminders_due,
        lacking=tuple(lacking[:LACKING_LIMIT]),
        lacking_count=len(lacking),
        unreachable=tuple(one for one in customers.values() if one is not None and not one.email),
    )


_NEVER = datetime.max.replace(tzinfo=UTC)


def _promised(job: Job) -> datetime:
    return job.promised_at or _NEVER


def _open_job(
    office: Office,
    unit: Unit,
    job: Job,
    vehicles: dict[str, Vehicle],
    customers: dict[str, Customer | None],
) -> OpenJob:
    sheet = unit.sheets.get(job.id) or Sheet(job.id)
    earlier = unit.jobs.get(job.comeback_of) if job.comeback_of else None
    return OpenJob(
        job=job,
        vehicle=vehicles.get(job.vehicle),
        customer=customers.get(job.customer),
        progress=progress(sheet),
        next_step=said(next_step(sheet)),
        held=held(sheet),
        ready=sheet.packet is not None and not open_points(sheet),
        figures_missing=len(sheet.packet.missing) if sheet.packet is not None else 0,
        photos=tuple(photo_notes(sheet_said(sheet))[-PHOTOS_SHOWN:]),
        photos_missing=photos_missing(office.photos, sheet),
        photos_refused=photos_refused(unit, job.id),
        comeback_of=earlier.number if earlier is not None else "",
    )


def find_vehicles(unit: Unit, asked: str) -> tuple[tuple[VehicleFound, ...], int]:
    """Vehicles whose plate, number, model or customer holds what was asked, best first; and how many there are.

    Nothing asked gives all of them, the latest first.
    """
    words = " ".join(folded(asked).split())
    key = plate_key(asked)
    customers = {one.id: one for one in unit.customers.all()}
    found = [
        (rank, one)
        for one in unit.vehicles.all()
        if (rank := _rank(one, customers.get(one.customer), words, key)) is not None
    ]
    order = list(reversed(found)) if not words else sorted(found, key=lambda pair: (pair[0], pair[1].plate.casefold()))
    shown = [one for _, one in order[:FOUND_LIMIT]]
    return tuple(_found(unit, one, customers.get(one.customer)) for one in shown), len(found)


def _found(unit: Unit, vehicle: Vehicle, customer: Customer | None) -> VehicleFound:
    open_jobs = tuple(job for job in unit.jobs.where(vehicle=vehicle.id) if job.state is JobState.OPEN)
    return VehicleFound(vehicle, customer, open_jobs)


def _rank(vehicle: Vehicle, customer: Customer | None, words: str, key: str) -> int | None:
    """How well a vehicle fits: 0 the plate itself, then a part of plate or number, then a name."""
    plate = plate_key(vehicle.plate)
    if not words or (key and key == plate):
        return 0
    if key and key in plate:
        return 1
    if key and len(key) >= 3 and key in vehicle.vin.casefold():
        return 2
    named = (customer.name if customer is not None else "", vehicle.model)
    return 3 if any(words in folded(name) for name in named) else None


def the_one_with_plate(unit: Unit, asked: str) -> Vehicle | None:
    """The vehicle with exactly this plate or whole identification number, however it is spaced."""
    key = plate_key(asked)
    fits = [one for one in unit.vehicles.all() if key and key in (plate_key(one.plate), one.vin.casefold())]
    return fits[0] if len(fits) == 1 else None


def find_customers(unit: Unit, asked: str) -> tuple[tuple[tuple[Customer, int], ...], int]:
    """Customers whose name, address or phone holds what was asked, each with how many vehicles are theirs."""
    words = " ".join(folded(asked).split())
    figures = "".join(one for one in asked if one.isdigit())
    found = [
        one
        for one in unit.customers.all()
        if words in folded(one.name)
        or words in folded(one.email)
        or (len(figures) >= 3 and figures in "".join(c for c in one.phone if c.isdigit()))
    ]
    found.sort(key=lambda one: one.name.casefold())
    vehicles = Counter(one.customer for one in unit.vehicles.all())
    return tuple((one, vehicles[one.id]) for one in found[:FOUND_LIMIT]), len(found)
