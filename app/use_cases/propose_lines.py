"""What a sheet's findings propose: for each verdict "watch" or "replace", the work that would mend it.

Proposed, never added: the person chooses the work, its sides and its options. Parts that age in pairs are offered as
pairs.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from app.domain.packet import Axle, Step, Verdict
from app.domain.procedure import Book
from app.domain.records import Job, Vehicle
from app.domain.ruling_out import waits_for_ruling_out
from app.domain.sheet import Outcome, Sheet
from app.use_cases.suspect_weights import suspect_table
from app.use_cases.take_in import BOTH_SIDES, Row, rows_for

PATH = Path(__file__).resolve().parents[2] / "shared" / "rules" / "proposals.json"


@dataclass(frozen=True, slots=True)
class Proposal:
    """row: the key of the work to add, "" where there is no procedure. sides: what may be chosen of it, pairs first.

    on_job: this work at this corner is on the job already. waits: what has to be judged before the finding counts.
    """

    step: Step
    outcome: Outcome
    row: str
    title: str
    sides: tuple[str, ...]
    in_pairs: bool
    on_job: bool
    waits: tuple[str, ...] = ()


@lru_cache(maxsize=1)
def table() -> Mapping[str, tuple[tuple[str, Mapping[str, str]], ...]]:
    data = json.loads(PATH.read_text("utf-8"))
    return {key: tuple((procedure, given) for procedure, given in rows) for key, rows in data["proposes"].items()}


def proposals(book: Book, vehicle: Vehicle, job: Job, sheet: Sheet) -> tuple[Proposal, ...]:
    """In the order of the sheet; "replace" before "watch"."""
    found = list(_found(book, vehicle, job, sheet))
    return tuple(sorted(found, key=lambda one: one.outcome.verdict != Verdict.REPLACE))


def _found(book: Book, vehicle: Vehicle, job: Job, sheet: Sheet) -> Iterator[Proposal]:
    if sheet.packet is None:
        return
    inspections = {line.id for line in sheet.packet.lines if line.procedure == "inspection"}
    for step in sheet.packet.steps:
        outcome = sheet.step(step.id).outcome
        if step.line not in inspections or outcome is None or outcome.verdict == Verdict.SOUND:
            continue
        waits = waits_for_ruling_out(suspect_table(), sheet, step)
        row = _row(book, vehicle, step) if step.key in table() else None
        if row is None:
            yield Proposal(step, outcome, "", "", (), False, False, waits)
        else:
            sides = row.sides if BOTH_SIDES in row.sides else tuple(dict.fromkeys((step.corner or "", *row.sides)))
            is_on = _is_on(job, row, step)
            yield Proposal(step, outcome, row.key, _title(row), sides, row.offer.pairs, is_on, waits)


def _row(book: Book, vehicle: Vehicle, step: Step) -> Row | None:
    axle, facts = (Axle.REAR, vehicle.rear) if step.axle is Axle.REAR else (Axle.FRONT, vehicle.front)
    rows = rows_for(book, axle, facts)
    for procedure, given in table()[step.key]:
        for row in rows:
            fits = row.offer.procedure == procedure and set(row.chosen) <= set(given.items())
            if fits and row.refusal is None:
                return row
    return None


def _title(row: Row) -> str:
    return ", ".join((row.offer.title, *(value for _, value in row.chosen)))


def _is_on(job: Job, row: Row, step: Step) -> bool:
    return any(
        line.procedure == row.offer.procedure
        and line.axle is row.axle
        and set(row.chosen) <= set(line.options)
        and (not line.corner or not step.corner or line.corner == step.corner)
        for line in job.lines
    )
