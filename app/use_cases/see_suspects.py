"""See a job's suspects: the ranking with its reasons, what is not counted yet, and which test would tell most."""

from __future__ import annotations

from dataclasses import dataclass

from app.domain.evidence import Evidence, Open, evidence_of
from app.domain.packet import Support
from app.domain.problems import OursToMend
from app.domain.records import Job, Vehicle
from app.domain.sheet import Sheet
from app.domain.standing import waits_for
from app.domain.suspect_table import SuspectTable
from app.trade.problems import CannotTell
from app.trade.suspects import Suspect, expected_gain, rank
from app.use_cases.in_language import sheet_said
from app.use_cases.office import Office
from app.use_cases.see_bounces import traces_read
from app.use_cases.see_sheet import job_by_number
from app.use_cases.suspect_weights import suspect_table

EXPLAINED = 8
TESTS_NAMED = 3


@dataclass(frozen=True, slots=True)
class Telling:
    """A test still to be made, and what it is expected to tell. now: it can be made as the vehicle is held now."""

    test: Open
    bits: float
    now: bool


@dataclass(frozen=True)
class SuspectsSeen:
    """evidence: None without an inspection on the sheet. ranked: empty when what was seen does not fit the table."""

    job: Job
    vehicle: Vehicle
    sheet: Sheet
    table: SuspectTable
    evidence: Evidence | None
    ranked: tuple[Suspect, ...]
    telling: tuple[Telling, ...]


def see_suspects(office: Office, number: str) -> SuspectsSeen:
    """Raises: NotFound."""
    table = suspect_table()
    with office.store.reading() as unit:
        job = job_by_number(unit, number)
        sheet = sheet_said(unit.sheets.get(job.id) or Sheet(job.id))
        vehicle = unit.vehicles.get(job.vehicle)
        traces = traces_read(unit, job, sheet)
    if vehicle is None:
        raise OursToMend(f"job {job.id} has no vehicle")
    evidence = evidence_of(table, sheet, traces)
    ranked, telling = _reckoned(sheet, evidence) if evidence is not None else ((), ())
    return SuspectsSeen(job, vehicle, sheet, table, evidence, ranked, telling)


def _reckoned(sheet: Sheet, evidence: Evidence) -> tuple[tuple[Suspect, ...], tuple[Telling, ...]]:
    try:
        ranked = rank(evidence.network, evidence.seen, EXPLAINED)
        return ranked, tuple(most_telling(sheet, evidence)[:TESTS_NAMED])
    except CannotTell:
        return (), ()


def most_telling(sheet: Sheet, evidence: Evidence) -> list[Telling]:
    """Every test still open, the one that is expected to tell most first. What it costs to make is not weighed."""
    state: Support = sheet.support.state
    found = [
        Telling(
            one,
            expected_gain(evidence.network, evidence.seen, one.signs),
            state in one.step.supports and waits_for(sheet, one.step) is None,
        )
        for one in evidence.open_tests
    ]
    return sorted(found, key=lambda one: (-round(one.bits, 9), one.test.step.id))
