"""Hear what a tablet held: entries in its own gapless order, each once, each with its first ruling for ever.

One transaction for a batch, so that an answer means "in the ledger". Entries of a form this office does not know are
kept whole and set aside by the rules; what is no entry at all cannot be kept, and is answered with its place.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from app.domain.entry import Entry
from app.domain.problems import NotAllowed, NotFound, Problem, Refused
from app.domain.records import Tablet
from app.ports import Unit
from app.use_cases.office import Office
from app.use_cases.record_entry import Recorded, announce, hear


@dataclass(frozen=True, slots=True)
class Answered:
    """What became of one entry; `problem` where it could not be kept."""

    id: str
    recorded: Recorded | None
    problem: Problem | None = None


@dataclass(frozen=True, slots=True)
class BatchAnswer:
    """`next_seq` is what the tablet has to send next; entries beyond a gap are not taken before the gap is filled."""

    answers: tuple[Answered, ...]
    next_seq: int


def hear_tablet(office: Office, tablet_id: str, person: str, batch: Sequence[tuple[Entry, str]]) -> BatchAnswer:
    """Hear a batch of (entry, raw text) from a tablet at which this person is signed in.

    Raises: NotFound for a tablet the office does not know.
    """
    answers: list[Answered] = []
    with office.store.writing() as unit:
        tablet = unit.tablets.get(tablet_id)
        if tablet is None or tablet.retired:
            raise NotFound("tablet", tablet_id)
        for entry, raw in batch:
            answered, tablet = _hear_one(office, unit, tablet, person, entry, raw)
            answers.append(answered)
        unit.tablets.save(replace(tablet, seen_at=office.clock()))
        unit.commit()
    for job in {entry.job for entry, _ in batch}:
        announce(office, job)
    return BatchAnswer(tuple(answers), tablet.last_seq + 1)


def _hear_one(
    office: Office, unit: Unit, tablet: Tablet, person: str, entry: Entry, raw: str
) -> tuple[Answered, Tablet]:
    if entry.tablet != tablet.id or entry.person != person:
        return Answered(entry.id, None, Problem("not_yours", "person")), tablet
    repeated = unit.ledger.find(entry.id) is not None
    if not repeated and entry.seq != tablet.last_seq + 1:
        return Answered(entry.id, None, Problem("seq_gap", "seq", {"next": tablet.last_seq + 1})), tablet
    try:
        recorded = hear(office, unit, entry, raw, is_new=not repeated)
    except NotFound as missing:
        return Answered(entry.id, None, Problem("no_such_job", "job", {"job": missing.key})), tablet
    except NotAllowed:
        return Answered(entry.id, None, Problem("not_yours", "person")), tablet
    except Refused as refused:
        return Answered(entry.id, None, refused.problems[0]), tablet
    return Answered(entry.id, recorded), tablet if repeated else replace(tablet, last_seq=entry.seq)
