"""Bring the open sheets up to date after something they rest on has changed: a figure, a wrench, the shop's margins.

Each sheet is pinned anew in a transaction of its own, so one that cannot be does not hold up the others. It is named.
"""

from __future__ import annotations

from dataclasses import dataclass

from app.domain.problems import NotFound, Refused
from app.domain.records import JobState
from app.use_cases.office import Office
from app.use_cases.open_job import bring_up_to_date


@dataclass(frozen=True, slots=True)
class Renewed:
    """The numbers of the jobs whose sheet was pinned anew, and of those where it could not be."""

    numbers: tuple[str, ...] = ()
    not_possible: tuple[str, ...] = ()


def renew_sheets(office: Office, person: str, model: str | None = None) -> Renewed:
    """Pin what has changed on every open job, or on those of one model."""
    with office.store.reading() as unit:
        jobs = [
            job
            for job in unit.jobs.where(state=JobState.OPEN)
            if model is None or ((vehicle := unit.vehicles.get(job.vehicle)) is not None and vehicle.model == model)
        ]
    renewed, not_possible = [], []
    for job in jobs:
        try:
            if bring_up_to_date(office, person, job.id):
                renewed.append(job.number)
        except (Refused, NotFound):
            not_possible.append(job.number)
    return Renewed(tuple(renewed), tuple(not_possible))
