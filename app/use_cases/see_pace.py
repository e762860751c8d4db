"""How long steps take, as a signal about procedures; and what was ticked faster than it can be done.

Nothing here is about a person: times are per step of a procedure, and a tick that came too fast is named by its job and
step, where everybody who may read the sheet sees the rest. Times are the tablets' own (`noted_at`), between two entries
of one person on one tablet; they decide nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from statistics import median_low

from app.domain.entry import GateAnswered, Kind, SignedOff, StepDone, read_body
from app.domain.packet import Packet
from app.domain.records import Job
from app.language.procedures import said
from app.ports import LedgerRow, Unit
from app.use_cases.office import Office

# House rules, no source: faster than this nobody looks, turns or reads. Seconds.
PER_ANSWER_S, PER_READING_S, PER_STEP_S = 2, 6, 2
# Jobs looked at, the newest. Longer than this between two entries is a break, not work on the step.
JOBS, LONGEST_S = 200, 4 * 3_600
FEWEST = 3


@dataclass(frozen=True, slots=True)
class StepPace:
    """How long a step of a procedure takes: the middle of `count` times, in seconds."""

    procedure: str
    step: str
    count: int
    middle_s: int


@dataclass(frozen=True, slots=True)
class TooFast:
    """A tick that came sooner after the one before it, by the same hand, than it can be done."""

    number: str
    step: str
    kind: str
    seconds: int
    least_s: int


@dataclass(frozen=True, slots=True)
class Pace:
    jobs: int
    steps: tuple[StepPace, ...]
    too_fast: tuple[TooFast, ...]


@dataclass(frozen=True, slots=True)
class _Tick:
    job: Job
    step: str
    kind: str
    seconds: int
    least_s: int


def see_pace(office: Office) -> Pace:
    with office.store.reading() as unit:
        jobs = sorted(unit.jobs.all(), key=lambda one: one.opened_at, reverse=True)[:JOBS]
        ticks = [tick for job in jobs for tick in _ticks(job, unit.ledger.of_job(job.id))]
        packets = {job.id: _packet(unit, job) for job in jobs}
    return Pace(len(jobs), tuple(_steps(packets, ticks)), tuple(_too_fast(packets, ticks)))


def _packet(unit: Unit, job: Job) -> Packet | None:
    sheet = unit.sheets.get(job.id)
    return sheet.packet if sheet is not None else None


def _ticks(job: Job, rows: Iterable[LedgerRow]) -> Iterator[_Tick]:
    """What was done after something else by the same person on the same tablet, and how long after."""
    before: dict[tuple[str, str], int] = {}
    for row in rows:
        entry = row.heard.entry
        hand = (entry.person, entry.tablet)
        noted_ms = entry.noted_at_ms + entry.clock_offset_ms
        if hand in before and row.accepted:
            step, least_s = _least(row)
            seconds = (noted_ms - before[hand]) // 1_000
            if step and 0 <= seconds <= LONGEST_S:
                yield _Tick(job, step, entry.kind, seconds, least_s)
        before[hand] = noted_ms


def _least(row: LedgerRow) -> tuple[str, int]:
    """The step (or gate) an entry is about and the least time it takes; "" for what is no tick."""
    match read_body(row.heard.entry):
        case GateAnswered(gate=gate, answers=answers):
            return gate, PER_ANSWER_S * len(answers)
        case SignedOff(step=step, readings=readings):
            return step, PER_READING_S * len(readings) or PER_STEP_S
        case StepDone(step=step):
            return step, PER_STEP_S
        case _:
            return "", 0


def _steps(packets: Mapping[str, Packet | None], ticks: Iterable[_Tick]) -> Iterator[StepPace]:
    times: dict[tuple[str, str], list[int]] = {}
    for tick in ticks:
        packet = packets[tick.job.id]
        step = packet.step_by_id.get(tick.step) if packet is not None else None
        if packet is None or step is None or tick.kind != Kind.STEP_DONE:
            continue
        line = next((one for one in packet.lines if one.id == step.line), None)
        times.setdefault((line.procedure if line else step.line, step.title), []).append(tick.seconds)
    for (procedure, title), seconds in sorted(times.items()):
        # A middle of one or two times would be a report about one person's afternoon.
        if len(seconds) >= FEWEST:
            yield StepPace(procedure, said(title), len(seconds), median_low(seconds))


def _too_fast(packets: Mapping[str, Packet | None], ticks: Iterable[_Tick]) -> Iterator[TooFast]:
    for tick in ticks:
        if tick.seconds < tick.least_s:
            packet = packets[tick.job.id]
            yield TooFast(tick.job.number, _title(packet, tick.step), tick.kind, tick.seconds, tick.least_s)


def _title(packet: Packet | None, key: str) -> str:
    """What a step or a gate is called; its key where the sheet has it no more."""
    if packet is None:
        return key
    if key in packet.step_by_id:
        return said(packet.step_by_id[key].title)
    return said(packet.gate_by_id[key].title) if key in packet.gate_by_id else key
