"""Hear what a tablet held: entries in its own gapless order, each once, each with its first ruling for ever.

One transaction for a batch, so that an answer means "in the ledger". Nothing that a tablet wrote down stops what comes
after it: an entry of a person who has left, for a job that is cancelled or not here, in a form nobody knows, or under a
number that is used already is kept all the same, and set aside where it cannot count.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from app.domain.debt import is_from_before
from app.domain.entry import Entry, kept_text
from app.domain.problems import AlreadyThere, NotFound, Problem, Refused
from app.domain.records import Tablet
from app.ports import Unit
from app.use_cases.office import Office
from app.use_cases.record_entry import Recorded, announce, hear_whatever
from app.use_cases.tablet_alarms import raise_no_job, raise_used_anew
from app.use_cases.tablet_credential import tablet_in


@dataclass(frozen=True, slots=True)
class Sent:
    """One entry of a batch with its canonical text; `entry` is None for what says not even whose it is."""

    entry: Entry | None
    text: str = ""


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


def hear_tablet(
    office: Office, credential: str, batch: Sequence[Sent], number: int | None = None, went_back: int = 0
) -> BatchAnswer:
    """Hear a batch from the tablet whose credential this is.

    number, went_back: as it said at its last contact. Where the batch is a late one, or the tablet was set back and may
    have used its numbers anew, nothing is taken; a contact tells which.

    Raises: NotFound for a credential that is no tablet's in use.
    """
    answers: list[Answered] = []
    with office.store.writing() as unit:
        tablet = tablet_in(unit, credential)
        if tablet is None:
            raise NotFound("tablet", "")
        if number is not None and is_from_before(tablet, number, went_back):
            return BatchAnswer((), tablet.last_seq + 1)
        tablet = replace(tablet, contacts=number or tablet.contacts)
        for place, sent in enumerate(batch, 1):
            if sent.entry is None:
                answers.append(Answered("", None, Problem("entry_unreadable", "entries", {"place": place})))
                continue
            answered, tablet = _hear_one(office, unit, tablet, sent.entry, sent.text)
            answers.append(answered)
        unit.tablets.save(replace(tablet, seen_at=office.clock()))
        unit.commit()
    for job in {one.entry.job for one in batch if one.entry is not None}:
        announce(office, job)
    return BatchAnswer(tuple(answers), tablet.last_seq + 1)


def _hear_one(office: Office, unit: Unit, tablet: Tablet, entry: Entry, text: str) -> tuple[Answered, Tablet]:
    following = tablet.last_seq + 1
    if (entry.tablet, entry.seq) == (tablet.id, following):
        # Nearly always it is new: the ledger itself says where it is not, which spares asking first.
        try:
            return _kept(office, unit, tablet, entry, text, is_new=True)
        except AlreadyThere:
            return _kept(office, unit, tablet, entry, text, is_new=False)
    is_new = unit.ledger.find(entry.id) is None
    if is_new and entry.seq > following:
        return Answered(entry.id, None, Problem("seq_gap", "seq", {"next": following})), tablet
    if is_new:
        if entry.tablet == tablet.id:
            raise_used_anew(office, unit, tablet)
        entry, text = _under_its_own_number(tablet, entry, text)
    return _kept(office, unit, tablet, entry, text, is_new=is_new)


def _kept(
    office: Office, unit: Unit, tablet: Tablet, entry: Entry, text: str, *, is_new: bool
) -> tuple[Answered, Tablet]:
    # A number that came with an id heard before is used up all the same.
    follows = entry.seq == tablet.last_seq + 1
    after = replace(tablet, last_seq=entry.seq) if follows else tablet
    try:
        recorded = hear_whatever(office, unit, entry, text, is_new=is_new)
    except Refused as refused:
        return Answered(entry.id, None, refused.problems[0]), after
    if is_new and recorded.ruling.details.get("why") == "unknown":
        raise_no_job(office, unit, tablet, entry.job, entry.seq, recorded.name)
    return Answered(entry.id, recorded), after


def _under_its_own_number(tablet: Tablet, entry: Entry, text: str) -> tuple[Entry, str]:
    """Number anew what came under a number used already, or under another tablet's name: both are kept in its text.

    So it is with a tablet that was set back to an older state, or enrolled anew with entries waiting.
    """
    data: Mapping[str, Any] = json.loads(text)
    named = replace(entry, tablet=tablet.id, seq=tablet.last_seq + 1)
    sent_as = {"tablet": entry.tablet, "seq": entry.seq}
    return named, kept_text({**data, "tablet": named.tablet, "seq": named.seq, "sent_as": sent_as})
