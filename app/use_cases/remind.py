"""Reminders after a handback: made with it, seen on the Desk until somebody marks them done by name."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta, tzinfo

from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import Customer, Job, Reminder, ReminderKind, Vehicle
from app.domain.reminders import reminders_of
from app.domain.sheet import Sheet
from app.ports import Unit
from app.use_cases.handback_editions import retorque_of
from app.use_cases.office import Office, the_shop, zone_of

WORDS_LIMIT = 400
# House rule: how far ahead is near.
NEAR = timedelta(days=30)


@dataclass(frozen=True, slots=True)
class ReminderSeen:
    """due_on: its day, or the day the customer comes for it. read_km: what the odometer showed at the last intake.

    comes_at: when the customer comes to have the wheels torqued again, where that was agreed on.
    """

    reminder: Reminder
    vehicle: Vehicle
    customer: Customer | None
    number: str
    due_on: date
    read_km: int | None
    comes_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class RemindersSeen:
    due: tuple[ReminderSeen, ...]
    near: tuple[ReminderSeen, ...]
    later: tuple[ReminderSeen, ...]


def make_reminders(unit: Unit, job: Job, sheet: Sheet) -> None:
    """Add what a closed sheet leaves to be called about; what is there already stays as it is."""
    if sheet.handed_back is None:
        return
    shop = the_shop(unit)
    closed_at = datetime.fromtimestamp(sheet.handed_back.at_ms / 1_000, UTC)
    for one in reminders_of(job, sheet, shop, closed_at, closed_at.astimezone(zone_of(shop)).date()):
        if unit.reminders.get(one.id) is None:
            unit.reminders.add(one)


def see_reminders(office: Office) -> RemindersSeen:
    with office.store.reading() as unit:
        today = office.clock().astimezone(zone_of(the_shop(unit))).date()
        waiting = _seen(unit, unit.reminders.where(done_at=None), zone_of(the_shop(unit)))
    waiting.sort(key=lambda one: (one.due_on, one.vehicle.plate.casefold(), one.reminder.id))
    due = tuple(one for one in waiting if is_due(one, today))
    rest = [one for one in waiting if not is_due(one, today)]
    return RemindersSeen(
        due=due,
        near=tuple(one for one in rest if one.due_on <= today + NEAR),
        later=tuple(one for one in rest if one.due_on > today + NEAR),
    )


def is_due(one: ReminderSeen, today: date) -> bool:
    """By its day, or by what the odometer showed when the vehicle was here again."""
    return one.due_on <= today or _driven(one.reminder, one.read_km)


def _driven(reminder: Reminder, read_km: int | None) -> bool:
    return reminder.due_km is not None and read_km is not None and read_km >= reminder.due_km


def count_due(unit: Unit, now: datetime) -> int:
    zone = zone_of(the_shop(unit))
    today = now.astimezone(zone).date()
    waiting = unit.reminders.where(done_at=None)
    ahead = [one for one in waiting if _due_on(one, _comes_at(unit, one), zone) > today]
    read_km = {key: last_read(unit, key) for key in {one.vehicle for one in ahead if one.due_km is not None}}
    return len(waiting) - len(ahead) + sum(_driven(one, read_km.get(one.vehicle)) for one in ahead)


def waiting_for(unit: Unit, vehicle: str) -> tuple[Reminder, ...]:
    """What is not done yet on a vehicle, the first due first."""
    return tuple(sorted(unit.reminders.where(vehicle=vehicle, done_at=None), key=lambda one: (one.due_on, one.id)))


def mark_done(office: Office, person: str, reminder_id: str, words: str) -> Reminder:
    """Mark a reminder done, with what came of it. Marked done once, it stays so.

    Raises: NotFound; Refused when somebody marked it done before, or the words are too long.
    """
    words = words.strip()
    with office.store.writing() as unit:
        reminder = unit.reminders.get(reminder_id)
        if reminder is None:
            raise NotFound("reminder", reminder_id)
        if reminder.done_at is not None:
            by = unit.people.get(reminder.done_by or "")
            raise Refused([Problem("reminder_done", "", {"name": by.name if by is not None else ""})])
        if len(words) > WORDS_LIMIT:
            raise Refused([Problem("too_long", "words", {"limit": WORDS_LIMIT})])
        done = replace(reminder, done_at=office.clock(), done_by=person, done_words=words)
        unit.reminders.save(done)
        unit.commit()
    return done


def _comes_at(unit: Unit, reminder: Reminder) -> datetime | None:
    """When the customer comes for it, by the newest word on that."""
    said = retorque_of(unit, reminder.job) if reminder.kind is ReminderKind.RETORQUE else None
    return said.comes_at if said is not None else None


def _due_on(reminder: Reminder, comes_at: datetime | None, zone: tzinfo) -> date:
    return reminder.due_on if comes_at is None else comes_at.astimezone(zone).date()


def _seen(unit: Unit, reminders: Iterable[Reminder], zone: tzinfo) -> list[ReminderSeen]:
    vehicles: dict[str, tuple[Vehicle | None, Customer | None, int | None]] = {}
    found = []
    for one in reminders:
        if one.vehicle not in vehicles:
            vehicles[one.vehicle] = _about(unit, one.vehicle)
        vehicle, customer, read_km = vehicles[one.vehicle]
        job = unit.jobs.get(one.job)
        if vehicle is not None and job is not None:
            comes_at = _comes_at(unit, one)
            due_on = _due_on(one, comes_at, zone)
            found.append(ReminderSeen(one, vehicle, customer, job.number, due_on, read_km, comes_at))
    return found


def _about(unit: Unit, vehicle_id: str) -> tuple[Vehicle | None, Customer | None, int | None]:
    vehicle = unit.vehicles.get(vehicle_id)
    customer = unit.customers.get(vehicle.customer) if vehicle is not None else None
    return vehicle, customer, last_read(unit, vehicle_id)


def last_read(unit: Unit, vehicle_id: str) -> int | None:
    """What the vehicle's odometer showed at the last intake at which somebody read it."""
    jobs = unit.jobs.where(vehicle=vehicle_id)
    read = [(job.opened_at, job.odometer_km) for job in jobs if job.odometer_km is not None]
    return max(read)[1] if read else None
