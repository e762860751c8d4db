"""What the workshop's own closed jobs say of the ranking: counts, told apart from it and never mixed into its weights.

A closed job counts where its inspection's evidence put a part first. Then: was that part's work done, there or on a job
of the same vehicle opened within thirty days; did the road test at the end say that the complaint was gone; and did the
vehicle come back with it: said so at the intake, or answered with the same kind of complaint. House rules, no source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta

from app.domain.evidence import Place, evidence_of
from app.domain.packet import Axle, Packet
from app.domain.records import Job, JobState
from app.domain.sheet import Sheet
from app.domain.suspect_table import SuspectTable
from app.ports import Unit
from app.trade.damping import TraceReading
from app.trade.problems import CannotTell
from app.trade.suspects import figure, posterior
from app.use_cases.office import Office
from app.use_cases.see_bounces import traces_read
from app.use_cases.see_sheet import job_by_number
from app.use_cases.suspect_weights import suspect_table

NEWEST = 100
MENDED_WITHIN = timedelta(days=30)
GONE, ROAD_TEST = "gone", "road_test"
MOST_KEPT = 2_000
FEW = 6


@dataclass(frozen=True, slots=True)
class Work:
    procedure: str
    axle: Axle
    corner: str


@dataclass(frozen=True, slots=True)
class Case:
    """What one sheet says. kind: of the complaint, "" when nobody asked. first: the part its evidence put first.

    works: lines of work of which every step was done. gone: what the closing road test said; None without one.
    """

    kind: str
    first: Place | None
    works: tuple[Work, ...]
    gone: bool | None


@dataclass(frozen=True, slots=True)
class FamilyCount:
    """first: closed jobs in which a part of this family was first. mended: of these, its work was done. gone: of these
    the complaint was gone on the road test. back: of these, the vehicle came back with it."""

    family: str
    first: int
    mended: int
    gone: int
    back: int


@dataclass(frozen=True, slots=True)
class Learned:
    """jobs: how many closed jobs with evidence were looked at, the newest first. most: how many it looks at at all."""

    jobs: int
    counts: tuple[FamilyCount, ...]
    most: int = NEWEST


def see_learned(office: Office, number: str) -> Learned:
    """Beside the suspects of this job. Raises: NotFound."""
    with office.store.reading() as unit:
        job_by_number(unit, number)
        return learned(unit, suspect_table())


def learned(unit: Unit, table: SuspectTable) -> Learned:
    closed = unit.newest_jobs(JobState.HANDED_BACK, NEWEST)
    cases = _cases(unit, table, closed)
    counts: dict[str, Counter[str]] = {}
    looked_at = 0
    for job in closed:
        case = cases.get(job.id)
        if case is None or case.first is None:
            continue
        looked_at += 1
        counts.setdefault(case.first.family, Counter()).update(_outcome(unit, table, job, case, case.first))
    return Learned(
        looked_at,
        tuple(
            FamilyCount(family, its["first"], its["mended"], its["gone"], its["back"])
            for family, its in sorted(counts.items(), key=lambda one: (-one[1]["first"], one[0]))
        ),
    )


def _outcome(unit: Unit, table: SuspectTable, job: Job, case: Case, first: Place) -> Iterator[str]:
    """What this job adds to the counts of the part that was first."""
    yield "first"
    of_vehicle = [one for one in unit.jobs.where(vehicle=job.vehicle) if one.state is not JobState.CANCELLED]
    cases = _cases(unit, table, of_vehicle)
    after = [one for one in of_vehicle if job.opened_at <= one.opened_at <= job.opened_at + MENDED_WITHIN]
    mending = next((one for one in after if one.id in cases and _mends(table, cases[one.id], first)), None)
    if mending is None:
        return
    yield "mended"
    if not cases[mending.id].gone:
        return
    yield "gone"
    later = [one for one in of_vehicle if one.opened_at > mending.opened_at]
    same = any(case.kind and one.id in cases and cases[one.id].kind == case.kind for one in later)
    if same or any(one.comeback_of in (job.id, mending.id) for one in later):
        yield "back"


def _mends(table: SuspectTable, case: Case, first: Place) -> bool:
    return any(
        work.procedure in table.parts[first.family].work
        and work.axle == first.axle
        and (not work.corner or not first.side or work.corner == first.side)
        for work in case.works
    )


# By the hash of a sheet's state: a closed job's sheet does not change any more, and reading one takes milliseconds.
_kept: dict[str, Case] = {}


def _cases(unit: Unit, table: SuspectTable, jobs: Sequence[Job]) -> Mapping[str, Case]:
    heads = unit.sheets.heads([job.id for job in jobs])
    found: dict[str, Case] = {}
    for job in jobs:
        key, _ = heads.get(job.id, ("", ""))
        if key and key not in _kept:
            sheet = unit.sheets.get(job.id)
            if sheet is None or sheet.packet is None:
                continue
            if len(_kept) >= MOST_KEPT:
                _kept.clear()
            _kept[key] = case_of(table, sheet, sheet.packet, traces_read(unit, job, sheet))
        if key in _kept:
            found[job.id] = _kept[key]
    return found


def case_of(
    table: SuspectTable, sheet: Sheet, packet: Packet, traces: Mapping[str, TraceReading] | None = None
) -> Case:
    kinds = [
        outcome.choice
        for step in packet.steps
        if step.key == table.complaint.kind and (outcome := sheet.step(step.id).outcome) is not None
    ]
    tests = [sheet.step(step.id).outcome for step in packet.steps if step.line == "closing" and step.key == ROAD_TEST]
    driven = [one for one in tests if one is not None]
    works = tuple(
        Work(line.procedure, line.axle, line.corner)
        for line in packet.lines
        if line.procedure != "inspection" and _is_done(packet, sheet, line.id)
    )
    gone = driven[-1].choice == GONE if driven else None
    return Case(kinds[-1] if kinds else "", _first(table, sheet, traces), works, gone)


def _is_done(packet: Packet, sheet: Sheet, line: str) -> bool:
    steps = packet.steps_of_line.get(line, ())
    return bool(steps) and all(sheet.step(step.id).done is not None for step in steps)


def _first(table: SuspectTable, sheet: Sheet, traces: Mapping[str, TraceReading] | None) -> Place | None:
    """The part ranked first, where something was seen that speaks for it.

    Looked for among the few with the highest exact chance: the guard moves a part by far less than what parts these
    from the rest, and a hundred jobs have to be read in a second or two.
    """
    evidence = evidence_of(table, sheet, traces)
    if evidence is None or not any(evidence.seen.values()):
        return None
    network, seen = evidence.network, evidence.seen
    try:
        exact = posterior(network, seen)
        few = sorted(exact, key=lambda key: (-exact[key], key))[:FEW]
        figures = {key: figure(network, seen, key) for key in few}
    except CannotTell:
        return None
    first = min(few, key=lambda key: (-round(figures[key], 9), key))
    speaks = any(value and network.sign_by_key[key].links.get(first, 0) for key, value in seen.items())
    return evidence.places[first] if speaks else None
