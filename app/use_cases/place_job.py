"""Give a job to a bay and a technician for a time; move it; take it away again.

A bay is refused with the reason when it cannot carry the vehicle or its lift is not inspected. A mass nobody has
entered is asked for, never assumed. What has already taken place is kept: moving or withdrawing a placement that has
begun ends it now instead of unmaking it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta, tzinfo

from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import Bay, Job, JobState, LiftKind, Person, Placement, Role, Vehicle
from app.ports import Unit
from app.trade.quantity import Dimension, Quantity
from app.trade.units import show
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.record_entry import announce
from app.use_cases.shop_time import date_words, span_words

# Filling in a form takes a while, so a beginning just past counts as now. House rule.
JUST_PAST = timedelta(minutes=10)
# Longer spans and days further off are slips of the keyboard more often than plans. House rule.
LONGEST = timedelta(days=31)
FURTHEST = timedelta(days=366)


@dataclass(frozen=True, slots=True)
class PlacementWanted:
    """What the foreman chose; "" and `None` where nothing was chosen."""

    job: str
    bay: str
    technician: str
    begins_at: datetime | None
    ends_at: datetime | None


def place_job(office: Office, person: str, wanted: PlacementWanted) -> Placement:
    """Place a job.

    Raises: Refused with every reason found; NotFound for an unknown job.
    """
    with office.store.writing() as unit:
        placement = _new_placement(office, unit, person, wanted, None)
        unit.placements.add(placement)
        unit.commit()
    announce(office, placement.job)
    return placement


def move_placement(office: Office, person: str, placement_id: str, wanted: PlacementWanted) -> Placement:
    """Change where, with whom or when. The job stays; `wanted.job` is not looked at.

    One that has begun and stays where it is keeps its beginning. Anything else ends it now (or, when it has not begun,
    withdraws it) and makes a new one.
    Raises: Refused with every reason found; NotFound.
    """
    now = office.clock()
    with office.store.writing() as unit:
        old = _standing_placement(unit, placement_id, now)
        stays = (
            old.begins_at <= now
            and (wanted.bay, wanted.technician) == (old.bay, old.technician)
            and wanted.begins_at is not None
            and wanted.begins_at <= now
        )
        new = _new_placement(office, unit, person, replace(wanted, job=old.job), old, stays=stays)
        if stays:
            unit.placements.save(replace(old, ends_at=new.ends_at))
            new = replace(old, ends_at=new.ends_at)
        else:
            unit.placements.save(_ended(old, now))
            unit.placements.add(new)
        unit.commit()
    announce(office, new.job)
    return new


def withdraw_placement(office: Office, placement_id: str) -> Placement:
    """Take a job out of its bay again: one that has begun ends now.

    Raises: Refused when it is over or withdrawn already; NotFound.
    """
    now = office.clock()
    with office.store.writing() as unit:
        old = _standing_placement(unit, placement_id, now)
        ended = _ended(old, now)
        unit.placements.save(ended)
        unit.commit()
    announce(office, old.job)
    return ended


def free_bays(unit: Unit, job: str, now: datetime) -> None:
    """End what is placed of a job from now on: it was handed back or cancelled. The caller commits."""
    for one in unit.placements.where(job=job, withdrawn=False):
        if one.ends_at > now:
            unit.placements.save(_ended(one, now))


def _standing_placement(unit: Unit, placement_id: str, now: datetime) -> Placement:
    old = unit.placements.get(placement_id)
    if old is None:
        raise NotFound("placement", placement_id)
    if old.withdrawn or old.ends_at <= now:
        raise Refused([Problem("placement_over")])
    return old


def _ended(one: Placement, now: datetime) -> Placement:
    """Placements are typed to the minute, and the next one may begin in the minute in which this one ends."""
    minute = now.replace(second=0, microsecond=0)
    return replace(one, ends_at=minute) if one.begins_at < minute else replace(one, withdrawn=True)


def _new_placement(
    office: Office, unit: Unit, person: str, wanted: PlacementWanted, old: Placement | None, *, stays: bool = False
) -> Placement:
    now, zone = office.clock(), zone_of(the_shop(unit))
    job = unit.jobs.get(wanted.job)
    if job is None:
        raise NotFound("job", wanted.job)
    bay, technician = unit.bays.get(wanted.bay), unit.people.get(wanted.technician)
    begins = old.begins_at if stays and old is not None else wanted.begins_at
    problems = [
        *_job_problems(job),
        *_time_problems(begins, wanted.ends_at, now, already=stays),
        *_people_and_place(bay, technician),
    ]
    if begins is not None and wanted.ends_at is not None:
        if bay is not None and bay.active:
            vehicle = unit.vehicles.get(job.vehicle)
            last_day = max(begins, wanted.ends_at).astimezone(zone).date()
            problems += why_not_bay(bay, vehicle, last_day, now.astimezone(zone).date()) if vehicle else ()
            problems += lift_fault(unit, bay)
        others = [
            one for one in unit.placements_between(begins, wanted.ends_at) if old is None or one.id != old.id
        ]  # fmt: skip
        problems += _overlaps(unit, wanted, others, now, zone)
    if problems or bay is None or technician is None or begins is None or wanted.ends_at is None:
        raise Refused(problems)
    return Placement(
        id=office.new_id(), job=job.id, bay=bay.id, technician=technician.id, begins_at=begins,
        ends_at=wanted.ends_at, placed_by=person,
    )  # fmt: skip


def _job_problems(job: Job) -> Iterator[Problem]:
    if job.state is not JobState.OPEN:
        yield Problem("job_not_open", "job", {"number": job.number})


def _time_problems(
    begins: datetime | None, ends: datetime | None, now: datetime, *, already: bool
) -> Iterator[Problem]:  # fmt: skip
    if begins is None:
        yield Problem("placement_begin_missing", "begins_at")
    elif not already and begins < now - JUST_PAST:
        yield Problem("placement_begin_past", "begins_at")
    elif begins > now + FURTHEST:
        yield Problem("placement_too_far", "begins_at", {"days": FURTHEST.days})
    if ends is None:
        yield Problem("placement_end_missing", "ends_at")
    elif begins is not None and ends <= begins:
        yield Problem("placement_ends_before", "ends_at")
    elif ends <= now:
        yield Problem("placement_end_past", "ends_at")
    elif begins is not None and ends - begins > LONGEST:
        yield Problem("placement_too_long", "ends_at", {"days": LONGEST.days})


def _people_and_place(bay: Bay | None, technician: Person | None) -> Iterator[Problem]:
    if bay is None or not bay.active:
        yield Problem("bay_missing", "bay")
    if technician is None or not technician.active or Role.TECHNICIAN not in technician.roles:
        yield Problem("technician_missing", "technician")


# --- What a bay can carry -----------------------------------------------------------------------------------------


def why_not_bay(bay: Bay, vehicle: Vehicle, last_day: date, today: date) -> tuple[Problem, ...]:
    """Everything that speaks against this vehicle in this bay up to and with a day; empty when nothing does."""
    return (*_capacity_problems(bay, vehicle), *_inspection_problems(bay, last_day, today))


def lift_fault(unit: Unit, bay: Bay) -> tuple[Problem, ...]:
    """What hangs on the tag of the bay's lift in the tool crib."""
    tool = unit.tools.get(bay.lift_tool) if bay.lift_tool else None
    if tool is None or not tool.fault:
        return ()
    return (Problem("lift_tagged_out", "bay", {"bay": bay.name, "why": tool.fault}),)


def mass_of(vehicle: Vehicle) -> int | None:
    """What the vehicle weighs, in grams: both axles; `None` while one of them is not known."""
    if vehicle.front.mass_g is None or vehicle.rear.mass_g is None:
        return None
    return vehicle.front.mass_g + vehicle.rear.mass_g


def axles_not_weighed(vehicle: Vehicle) -> str:
    """ "front", "rear", "front and rear", or "" when both masses are known."""
    axles = (("front", vehicle.front), ("rear", vehicle.rear))
    return " and ".join(name for name, axle in axles if axle.mass_g is None)


def _capacity_problems(bay: Bay, vehicle: Vehicle) -> Iterator[Problem]:
    """The whole vehicle counts in a flat bay too: its stands may come to carry both axles. House rule."""
    mass = mass_of(vehicle)
    if mass is None:
        yield Problem("mass_unknown", "bay", {"plate": vehicle.plate, "axles": axles_not_weighed(vehicle)})
    elif mass > bay.capacity_g:
        yield Problem(
            "bay_too_weak", "bay", {"bay": bay.name, "capacity": kg_words(bay.capacity_g), "mass": kg_words(mass)}
        )


def _inspection_problems(bay: Bay, last_day: date, today: date) -> Iterator[Problem]:
    if bay.lift is LiftKind.FLAT:
        return
    if bay.inspected_on is None or bay.inspected_on > today:
        yield Problem("lift_never_inspected", "bay", {"bay": bay.name})
    elif inspection_due(bay.inspected_on) < last_day:
        yield Problem(
            "lift_overdue", "bay",
            {
                "bay": bay.name, "on": date_words(bay.inspected_on),
                "due": date_words(inspection_due(bay.inspected_on)),
            },
        )  # fmt: skip


def inspection_due(inspected_on: date) -> date:
    """The last day on which an inspection still counts.

    Source: ANSI/ALI ALOIM (lift operation, inspection and maintenance): every lift is inspected at least yearly by a
    qualified inspector. The edition was not at hand: from memory. Local law may ask for more.
    """
    try:
        return inspected_on.replace(year=inspected_on.year + 1)
    except ValueError:  # 29 February
        return date(inspected_on.year + 1, 2, 28)


def kg_words(mass_g: int) -> str:
    return show(Quantity(Dimension.MASS, mass_g), "kg")


# --- What else is placed then -------------------------------------------------------------------------------------


def _overlaps(
    unit: Unit, wanted: PlacementWanted, others: Sequence[Placement], now: datetime, zone: tzinfo
) -> Iterator[Problem]:
    """The first that stands in the way, each: in the bay, of the technician, of the vehicle itself."""

    def words(one: Placement) -> dict[str, str | int]:
        bay, job, person = unit.bays.get(one.bay), unit.jobs.get(one.job), unit.people.get(one.technician)
        return {
            "bay": bay.name if bay else "", "number": job.number if job else "", "name": person.name if person else "",
            "span": span_words(one.begins_at, one.ends_at, now, zone),
        }  # fmt: skip

    in_bay = next((one for one in others if one.bay == wanted.bay), None)
    if in_bay is not None:
        yield Problem("bay_taken", "begins_at", words(in_bay))
    elsewhere = next((one for one in others if one.technician == wanted.technician and one is not in_bay), None)
    if elsewhere is not None:
        yield Problem("technician_elsewhere", "technician", words(elsewhere))
    same_job = next((one for one in others if one.job == wanted.job and one not in (in_bay, elsewhere)), None)
    if same_job is not None:
        yield Problem("job_placed_elsewhere", "begins_at", words(same_job))
