"""Bring the open sheets up to date after something they rest on has changed: a figure, a wrench, the shop's margins.

Each sheet is pinned anew in a transaction of its own, so one that cannot be does not hold up the others. It is named.
"""

from __future__ import annotations

from dataclasses import dataclass

from app.domain.entry import Kind
from app.domain.problems import NotFound, Refused
from app.domain.records import JobState, Role
from app.ports import Unit
from app.use_cases.office import Office
from app.use_cases.open_job import bring_up_to_date


@dataclass(frozen=True, slots=True)
class Renewed:
    """The numbers of the jobs whose sheet was pinned anew, and of those where it could not be."""

    numbers: tuple[str, ...] = ()
    not_possible: tuple[str, ...] = ()


def renew_sheets(office: Office, person: str, model: str | None = None) -> Renewed:
    """Pin what has changed on every open job, or on those of one model.

    Whoever may not pin (a technician who reports a drop) does it in the name of who opened the job, or of a foreman: it
    is the workshop's standing order that a sheet follows the crib at once, and the crib says who reported.
    """
    with office.store.reading() as unit:
        jobs = [
            job
            for job in unit.jobs.where(state=JobState.OPEN)
            if model is None or ((vehicle := unit.vehicles.get(job.vehicle)) is not None and vehicle.model == model)
        ]
        may_pin = _who_may_pin(office, unit)
    renewed, not_possible = [], []
    for job in jobs:
        pinner = next((one for one in (person, job.opened_by) if one in may_pin), next(iter(may_pin), person))
        try:
            if bring_up_to_date(office, pinner, job.id):
                renewed.append(job.number)
        except (Refused, NotFound):
            not_possible.append(job.number)
    return Renewed(tuple(renewed), tuple(not_possible))


def _who_may_pin(office: Office, unit: Unit) -> tuple[str, ...]:
    """Everybody here whom the rules let pin a packet, foremen first."""
    roles = set(office.rules.table.kinds[Kind.PACKET_PINNED].roles)
    found = [one for one in unit.people.all() if one.active and {role.value for role in one.roles} & roles]
    return tuple(one.id for one in sorted(found, key=lambda one: Role.FOREMAN not in one.roles))
