"""See a job's bounce tests: what was counted, what the trace says, left against right, before against after.

The trace lies in the ledger with the entry that counted; the sheet keeps the count alone. Nothing here gives a verdict.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from zoneinfo import ZoneInfo

from app.domain.bounce import SWINGS, Trace, bounces, read_trace
from app.domain.entry import Kind, ReadingTaken, read_body
from app.domain.packet import Step
from app.domain.problems import OursToMend
from app.domain.records import Job, Vehicle
from app.domain.ruling_out import inspections
from app.domain.sheet import Sheet, Taken
from app.ports import Unit
from app.trade.damping import Counted, TraceReading, ratio_from_swings, ratio_from_trace
from app.trade.problems import TradeProblem
from app.trade.quantity import Dimension, Quantity, from_si
from app.use_cases.office import Office, the_shop, zone_of
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
    """inspected: an inspection is on the sheet, so that there are suspects."""

    job: Job
    vehicle: Vehicle
    zone: ZoneInfo
    inspected: bool
    bounces: tuple[Bounce, ...]


def see_bounces(office: Office, number: str) -> BouncesSeen:
    """Raises: NotFound."""
    with office.store.reading() as unit:
        job = job_by_number(unit, number)
        sheet = unit.sheets.get(job.id) or Sheet(job.id)
        vehicle = unit.vehicles.get(job.vehicle)
        traces = _traces(unit, job)
        zone = zone_of(the_shop(unit))
    if vehicle is None:
        raise OursToMend(f"job {job.id} has no vehicle")
    inspected = sheet.packet is not None and bool(inspections(sheet.packet))
    tests = tuple(_bounce(sheet, step, traces) for step in bounces(sheet))
    return BouncesSeen(job, vehicle, zone, inspected, tests)


def traces_read(unit: Unit, job: Job, sheet: Sheet) -> Mapping[str, TraceReading]:
    """By step, what the trace of its newest count says; one that is refused is left out, and so is a count alone.

    The ledger is read only where a bounce was counted.
    """
    taken = [step for step in bounces(sheet) if SWINGS in sheet.step(step.id).readings]
    if not taken:
        return {}
    traces, found = _traces(unit, job), {}
    for step in taken:
        traced = _bounce(sheet, step, traces).traced
        if traced is not None and traced.reading is not None:
            found[step.id] = traced.reading
    return found


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


@lru_cache(maxsize=512)
def reckon(text: str) -> Reckoned:
    """What a trace says of the damping, or why not. Kept: a fit takes a twentieth of a second, and never changes."""
    trace = read_trace(text)
    if trace is None:
        return Reckoned(None)
    try:
        found = ratio_from_trace(list(trace.samples), from_si(Dimension.FREQUENCY, trace.rate))
    except TradeProblem as problem:
        return Reckoned(trace, refused=problem)
    return Reckoned(trace, reading=found)
