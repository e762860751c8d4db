"""See a job's sheet: the job, its sheet and what its head says."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import tzinfo

from app.domain.problems import NotFound
from app.domain.records import Job, Person, Role
from app.domain.sheet import Sheet
from app.ports import Unit
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.see_photo import photos_refused


@dataclass(frozen=True, slots=True)
class SheetFound:
    """people: (id, name) of the technicians a sheet can be handed to, by name. photos_refused: never kept here."""

    job: Job
    sheet: Sheet
    people: tuple[tuple[str, str], ...]
    zone: tzinfo
    photos_refused: tuple[str, ...] = ()


def see_sheet(office: Office, number: str) -> SheetFound:
    """Find a job by the number people say aloud.

    Raises: NotFound.
    """
    with office.store.reading() as unit:
        job = job_by_number(unit, number)
        return SheetFound(
            job=job,
            sheet=unit.sheets.get(job.id) or Sheet(job.id),
            people=tuple((one.id, one.name) for one in technicians(unit)),
            zone=zone_of(the_shop(unit)),
            photos_refused=photos_refused(unit, job.id),
        )


def job_by_number(unit: Unit, number: str) -> Job:
    found = unit.jobs.where(number=number)
    if not found:
        raise NotFound("job", number)
    return found[0]


def technicians(unit: Unit) -> list[Person]:
    active = [one for one in unit.people.all() if one.active and Role.TECHNICIAN in one.roles]
    return sorted(active, key=lambda one: one.name.casefold())
