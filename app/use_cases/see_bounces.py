"""See a job's bounce tests: what was counted, what the trace says, left against right, before against after.

The trace lies in the ledger with the entry that counted; the sheet keeps the count alone. Nothing here gives a verdict.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from app.domain.bounce import SWINGS, Trace, bounces, read_trace
from app.domain.entry import Kind, ReadingTaken, read_body
from app.domain.packet import Step
from app.domain.problems import OursToMend
from app.domain.records import Job, Vehicle
from app.domain.sheet import Sheet, Taken
from app.ports import Unit
from app.trade.damping import Counted, TraceReading, ratio_from_swings, ratio_from_trace
from app.trade.problems import TradeProblem
from app.trade.quantity import Dimension, Quantity, from_si
from app.use_cases.office import Office
from app.use_cases.see_sheet import job_by_number


@dataclass(frozen=True, slots=True)
class Reckoned:
    """What one trace says, or why it says nothing; `trace` is None where what came is no trace."""

    trace: Trace | None
    reading: TraceReading | None = None
    refused: TradeProblem | None = None


@dataclass(frozen=True, slots=True)
class Bounce:
    """One step's bounce test. taken: None while it is still to be made. counted: None where the count tells nothing."""

    step: Step
    taken: Taken | None
    counted: Counted | None
    traced: Reckoned | None


@dataclass(frozen=True, slots=True)
class BouncesSeen:
    job: Job
    vehicle: Vehicle
    bounces: tuple[Bounce, ...]


def see_bounces(office: Office, number: str) -> BouncesSeen:
    """Raises: NotFound."""
    with office.store.reading() as unit:
        job = job_by_number(unit, number)
        sheet = unit.sheets.get(job.id) or Sheet(job.id)
        vehicle = unit.vehicles.get(job.vehicle)
        traces = _traces(unit, job)
    if vehicle is None:
        raise OursToMend(f"job {job.id} has no vehicle")
    return BouncesSeen(job, vehicle, tuple(_bounce(sheet, step, traces) for step in bounces(sheet)))


def _traces(unit: Unit, job: Job) -> Mapping[str, str]:
    """By entry; only those that carry one."""
    found = {}
    for row in unit.ledger.of_job(job.id):
        entry = row.heard.entry
        body = read_body(entry) if entry.kind == Kind.READING_TAKEN else None
        if isinstance(body, ReadingTaken) and body.trace:
            found[entry.id] = body.trace
    return found


def _bounce(sheet: Sheet, step: Step, traces: Mapping[str, str]) -> Bounce:
    now = sheet.steps.get(step.id)
    taken = now.readings.get(SWINGS) if now is not None else None
    if taken is None:
        return Bounce(step, None, None, None)
    text = traces.get(taken.mark.entry, "")
    return Bounce(step, taken, counted(taken), reckon(text) if text else None)


def counted(taken: Taken) -> Counted | None:
    try:
        return ratio_from_swings(Quantity(Dimension.RATIO, taken.value))
    except TradeProblem:
        # None counted, or more than can be: the number stands for itself.
        return None


def reckon(text: str) -> Reckoned:
    """What a trace says of the damping, or why not."""
    trace = read_trace(text)
    if trace is None:
        return Reckoned(None)
    try:
        found = ratio_from_trace(list(trace.samples), from_si(Dimension.FREQUENCY, trace.rate))
    except TradeProblem as problem:
        return Reckoned(trace, refused=problem)
    return Reckoned(trace, reading=found)
