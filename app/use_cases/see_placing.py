"""What a foreman needs in sight when placing a job: each bay with what speaks against it, and who is busy when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo

from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import Bay, Job, JobState, Person, Placement, Vehicle
from app.ports import Unit
from app.use_cases.floor_view import Shown, shown_alone
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.place_job import why_not_bay
from app.use_cases.see_sheet import job_by_number, technicians

# How far ahead what is placed is shown beside a bay or a name. House rule.
AHEAD = timedelta(days=3)
QUARTER = timedelta(minutes=15)


@dataclass(frozen=True, slots=True)
class BayFound:
    bay: Bay
    against: tuple[Problem, ...]
    placed: tuple[tuple[Placement, str], ...]


@dataclass(frozen=True, slots=True)
class PersonFound:
    person: Person
    placed: tuple[tuple[Placement, str], ...]


@dataclass(frozen=True, slots=True)
class PlacingFound:
    """placement: the one being moved, None for a new one. placed lists are (placement, job number), soonest first."""

    job: Job
    shown: Shown
    vehicle: Vehicle | None
    placement: Placement | None
    bays: tuple[BayFound, ...]
    people: tuple[PersonFound, ...]
    now: datetime
    zone: tzinfo

    @property
    def next_quarter(self) -> datetime:
        """The next full quarter of an hour: where a new placement's form begins."""
        past = (self.now - datetime(2020, 1, 1, tzinfo=UTC)) % QUARTER
        return self.now if not past else self.now - past + QUARTER


def see_new_placing(office: Office, number: str) -> PlacingFound:
    """Raises: NotFound; Refused when the job is closed."""
    with office.store.reading() as unit:
        return _found(office, unit, job_by_number(unit, number), None)


def see_placement(office: Office, placement_id: str) -> PlacingFound:
    """Raises: NotFound; Refused when it is over or withdrawn, or its job is closed."""
    with office.store.reading() as unit:
        placement = unit.placements.get(placement_id)
        job = unit.jobs.get(placement.job) if placement is not None else None
        if placement is None or job is None:
            raise NotFound("placement", placement_id)
        if placement.withdrawn or placement.ends_at <= office.clock():
            raise Refused([Problem("placement_over")])
        return _found(office, unit, job, placement)


def _found(office: Office, unit: Unit, job: Job, placement: Placement | None) -> PlacingFound:
    if job.state is not JobState.OPEN:
        raise Refused([Problem("job_not_open", "job", {"number": job.number})])
    now, zone = office.clock(), zone_of(the_shop(unit))
    today = now.astimezone(zone).date()
    vehicle = unit.vehicles.get(job.vehicle)
    ahead = [one for one in unit.placements_between(now, now + AHEAD) if placement is None or one.id != placement.id]
    numbers = {one.job: found.number for one in ahead if (found := unit.jobs.get(one.job)) is not None}

    def with_numbers(placed: Sequence[Placement]) -> tuple[tuple[Placement, str], ...]:
        return tuple((one, numbers.get(one.job, "")) for one in placed)

    return PlacingFound(
        job=job,
        shown=shown_alone(unit, job, now),
        vehicle=vehicle,
        placement=placement,
        bays=tuple(
            BayFound(
                bay=bay,
                against=why_not_bay(bay, vehicle, today, today) if vehicle is not None else (),
                placed=with_numbers([one for one in ahead if one.bay == bay.id]),
            )
            for bay in sorted(unit.bays.all(), key=lambda one: one.name.casefold())
            if bay.active
        ),
        people=tuple(
            PersonFound(person, with_numbers([one for one in ahead if one.technician == person.id]))
            for person in technicians(unit)
        ),
        now=now,
        zone=zone,
    )
