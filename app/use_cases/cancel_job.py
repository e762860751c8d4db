"""Cancel a job: the customer takes the vehicle away without the work. The reason stays on the sheet, as a note.

A vehicle that somebody has begun on is not let go lightly: it has to be on its wheels, and whoever cancels writes down
how it stands.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from app.domain.entry import TEXT_LIMIT, NoteAdded
from app.domain.packet import Support
from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import Job, JobState
from app.domain.sheet import Sheet
from app.language.procedures import said
from app.ports import Unit
from app.use_cases.office import Office
from app.use_cases.office_entry import office_entry
from app.use_cases.place_job import free_bays
from app.use_cases.record_entry import OFFICE_TABLET, announce, hear
from app.use_cases.see_job import is_begun
from app.use_cases.see_sheet import job_by_number
from app.use_cases.settle import reason_problems


@dataclass(frozen=True, slots=True)
class CancelAhead:
    """begun: titles of the steps somebody has recorded something on. on_wheels: whether the vehicle stands on them."""

    job: Job
    sheet: Sheet
    begun: tuple[str, ...]
    on_wheels: bool


def see_cancel(office: Office, number: str) -> CancelAhead:
    """Raises: NotFound."""
    with office.store.reading() as unit:
        return _ahead(unit, number)


def cancel_job(office: Office, person: str, number: str, reason: str, stands: str = "") -> Job:
    """Close a job without a handback. `stands`: how the vehicle stands and what was left undone; wanted once begun on.

    Raises: Refused with every problem found; NotFound.
    """
    with office.store.writing() as unit:
        ahead = _ahead(unit, number)
        problems = _problems(ahead, reason, stands)
        if problems:
            raise Refused(problems)
        text = "\n".join(one for one in (f"Cancelled: {reason.strip()}", stands.strip()) if one)
        entry = office_entry(office, person, ahead.sheet, NoteAdded(text))
        recorded = hear(office, unit, replace(entry, seq=unit.take_number(f"seq:{OFFICE_TABLET}")))
        if not recorded.ruling.accepted:
            raise Refused([Problem(recorded.ruling.reason, "", dict(recorded.ruling.details))])
        cancelled = replace(ahead.job, state=JobState.CANCELLED)
        unit.jobs.save(cancelled)
        free_bays(unit, cancelled.id, office.clock())
        unit.commit()
    announce(office, cancelled.id)
    return cancelled


def _ahead(unit: Unit, number: str) -> CancelAhead:
    job = job_by_number(unit, number)
    sheet = unit.sheets.get(job.id)
    if sheet is None or sheet.packet is None:
        raise NotFound("sheet", job.id)
    begun = tuple(said(step.title) for step in sheet.packet.steps if is_begun(sheet.step(step.id)))
    return CancelAhead(job, sheet, begun, sheet.support.state is Support.ON_WHEELS)


def _problems(ahead: CancelAhead, reason: str, stands: str) -> list[Problem]:
    if ahead.job.state is not JobState.OPEN:
        return [Problem("job_not_open", "", {"number": ahead.job.number})]
    problems = reason_problems(reason)
    if not ahead.on_wheels:
        problems.append(Problem("cancel_not_on_wheels"))
    if ahead.begun and not stands.strip():
        problems.append(Problem("cancel_stands_missing", "stands"))
    if len(reason) + len(stands) > TEXT_LIMIT - len("Cancelled: \n") and not problems:
        problems.append(Problem("too_long", "reason", {"limit": TEXT_LIMIT // 2}))
    return problems
