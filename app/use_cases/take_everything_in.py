"""Take in what was taken out, into an installation that holds nothing yet: all of it or nothing.

The whole take-out is held against its manifest first. Then everything is read, added and replayed in one transaction,
which ends without a change where a line, a link of the ledger's chain or a file is not what it has to be. Photos and
papers are kept under their hashes just before that transaction is; what such a try may leave behind is taken for what
it is the next time.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from app.domain.chain import FIRST, row_hash
from app.domain.entry import Heard, entry_kept
from app.domain.packet import packet_from
from app.domain.problems import AlreadyThere, NotFound, Problem, Refused
from app.domain.records import MessageState
from app.domain.taken_out import (
    CARRIED,
    COUNTERS,
    FORMAT,
    LEDGER,
    MANIFEST,
    PACKETS,
    PAPERS,
    PHOTOS,
    CounterLine,
    LedgerLine,
    Manifest,
    NotInForm,
    PacketLine,
    file_path,
    line_of,
    needed_paths,
    record_from,
    records_path,
)
from app.ports import LedgerRow, OpenChest, Papers, Unit
from app.use_cases.office import Office
from app.use_cases.take_everything_out import manifest_bytes, mark_of, wanted_papers, wanted_photos
from app.use_cases.verify import Breach, rebuild_in, verify_in

AT_ONCE = 500
# So many sentences are told; a take-out that is damaged all over has as many as it has lines.
TOLD_AT_MOST = 50


@dataclass(frozen=True, slots=True)
class TakenIn:
    """mark: as the take-out's. waiting: letters that will go out once this installation serves.

    missing: photos and papers that were missing already when it was taken out. beside: files that are none of it.
    breaches: what `verify` finds, as it would have where this came from; the chain is whole.
    """

    entries: int
    jobs: int
    waiting: int
    missing: tuple[str, ...]
    beside: tuple[str, ...]
    breaches: tuple[Breach, ...]
    mark: str


def take_everything_in(office: Office, chest: OpenChest, database: str) -> TakenIn:
    """Raises: Refused with every problem found; then nothing was taken in."""
    with office.store.writing() as unit:
        _need_empty(unit)
        manifest, mark = _manifest(chest, database)
        _need_whole(chest, manifest)
        problems = [*_take_registers(unit, chest), *_take_packets(unit, chest), *_take_counters(unit, chest)]
        problems += _take_ledger(unit, chest, manifest)
        problems += [] if problems else _files_lacking(unit, manifest)
        _refuse_if(problems)
        jobs = rebuild_in(office, unit, mend_photos=False)
        found = verify_in(office, unit)
        waiting = len(unit.outbox.where(state=MessageState.WAITING))
        for path in (one.path for one in manifest.files):
            _keep_file(office, chest, path)
        unit.commit()
    beside = set(chest.paths()) - {MANIFEST} - {one.path for one in manifest.files}
    return TakenIn(
        manifest.entries, jobs, waiting, manifest.missing, tuple(sorted(beside)), found.breaches, mark
    )  # fmt: skip


def _refuse_if(problems: Sequence[Problem]) -> None:
    if not problems:
        return
    told = list(problems[:TOLD_AT_MOST])
    left = len(problems) - len(told)
    raise Refused([*told, Problem("taken_more", details={"count": left})] if left else told)


def _need_empty(unit: Unit) -> None:
    """Nothing at all may be here: neither a record nor an entry, nor a number that was given out."""
    kept = [name for name in CARRIED if getattr(unit, name).all()]
    if unit.ledger.count() or unit.numbers():
        kept.append("ledger")
    if kept:
        raise Refused([Problem("taken_not_empty", details={"what": ", ".join(kept)})])


# --- The manifest, and whether everything in it is there -------------------------------------------------------------


def _manifest(chest: OpenChest, database: str) -> tuple[Manifest, str]:
    pieces = chest.read(MANIFEST)
    if pieces is None:
        raise Refused([Problem("taken_no_manifest")])
    data = b"".join(pieces)
    try:
        manifest = _read_manifest(data)
    except NotInForm as wrong:
        raise Refused([Problem("taken_manifest_unread", details={"what": str(wrong)})]) from wrong
    if manifest.format != FORMAT:
        raise Refused([Problem("taken_other_format", details={"format": manifest.format})])
    if manifest.database != database:
        raise Refused([Problem("taken_other_form", details={"theirs": manifest.database, "ours": database})])
    return manifest, mark_of(data)


def _read_manifest(data: bytes) -> Manifest:
    """Raises: NotInForm."""
    manifest: Manifest = record_from(Manifest, data, exact=False)
    if manifest_bytes(manifest) != data:
        raise NotInForm("it was altered after it was written")
    return manifest


def _need_whole(chest: OpenChest, manifest: Manifest) -> None:
    """Everything the manifest names is there and is what it says; everything a take-out has is named."""
    named = {one.path for one in manifest.files}
    problems = [Problem("taken_not_named", details={"path": path}) for path in needed_paths() if path not in named]
    for one in manifest.files:
        pieces = chest.read(one.path)
        if pieces is None:
            problems.append(Problem("taken_missing", details={"path": one.path}))
        elif _digest(pieces) != (one.bytes, one.sha256) or not _is_named_rightly(one.path, one.sha256):
            problems.append(Problem("taken_damaged", details={"path": one.path}))
    _refuse_if(problems)


def _digest(pieces: Iterator[bytes]) -> tuple[int, str]:
    size, sha256 = 0, hashlib.sha256()
    for piece in pieces:
        size += len(piece)
        sha256.update(piece)
    return size, sha256.hexdigest()


def _is_named_rightly(path: str, sha256: str) -> bool:
    room = path.partition("/")[0]
    return room not in (PHOTOS, PAPERS) or path == file_path(room, sha256)


# --- Records ---------------------------------------------------------------------------------------------------------


def _take_registers(unit: Unit, chest: OpenChest) -> Iterator[Problem]:
    for register in CARRIED:
        yield from _take_register(unit, chest, register)


def _take_register(unit: Unit, chest: OpenChest, register: str) -> Iterator[Problem]:
    path, kind = records_path(register), CARRIED[register]
    records = []
    for number, line in _lines(chest, path):
        try:
            records.append(record_from(kind, line))
        except NotInForm as wrong:
            yield _bad_line(path, number, str(wrong))
    into = getattr(unit, register)
    try:
        for at in range(0, len(records), AT_ONCE):
            _add(into, records[at : at + AT_ONCE])
    except AlreadyThere as twice:
        yield Problem("taken_twice", details={"path": path, "key": twice.key})
    except NotFound as lacking:
        yield Problem("taken_refers", details={"path": path, "kind": lacking.kind, "key": lacking.key})


def _add(into: Any, records: Sequence[Any]) -> None:
    """Registers that are only ever added to take one at a time."""
    if hasattr(into, "add_all"):
        into.add_all(records)
        return
    for record in records:
        into.add(record)


def _take_packets(unit: Unit, chest: OpenChest) -> Iterator[Problem]:
    for number, line in _lines(chest, PACKETS):
        try:
            kept: PacketLine = record_from(PacketLine, line, exact=False)
            packet = packet_from(kept.packet)
        except ValueError as wrong:
            yield _bad_line(PACKETS, number, str(wrong).splitlines()[0])
            continue
        if line_of(PacketLine(packet.hash, packet.as_json())) != line + b"\n":
            yield _bad_line(PACKETS, number, "the packet is not what its hash says")
            continue
        unit.sheets.put_packet(packet)


def _take_counters(unit: Unit, chest: OpenChest) -> Iterator[Problem]:
    for number, line in _lines(chest, COUNTERS):
        try:
            counter: CounterLine = record_from(CounterLine, line)
            unit.begin_number(counter.name, counter.value)
        except NotInForm as wrong:
            yield _bad_line(COUNTERS, number, str(wrong))
        except AlreadyThere as twice:
            yield Problem("taken_twice", details={"path": COUNTERS, "key": twice.key})


def _take_ledger(unit: Unit, chest: OpenChest, manifest: Manifest) -> Iterator[Problem]:
    """Row by row, as far as the chain holds; the manifest says where it has to end."""
    order, previous = 0, FIRST
    for number, line in _lines(chest, LEDGER):
        try:
            row = _row_of(record_from(LedgerLine, line))
        except NotInForm as wrong:
            yield _bad_line(LEDGER, number, str(wrong))
            return
        if (row.heard.order, row.previous) != (order + 1, previous) or row_hash(row) != row.hash:
            yield Problem("taken_chain", details={"row": number})
            return
        try:
            unit.ledger.append(row)
        except AlreadyThere as twice:
            yield Problem("taken_twice", details={"path": LEDGER, "key": twice.key})
            return
        order, previous = row.heard.order, row.hash
    if (order, previous) != (manifest.entries, manifest.head):
        yield Problem("taken_end", details={"rows": order, "wanted": manifest.entries})


def _row_of(line: LedgerLine) -> LedgerRow:
    entry = entry_kept(
        line.raw, id=line.entry_id, tablet=line.tablet, seq=line.seq, job=line.job, kind=line.kind, person=line.person
    )
    heard = Heard(entry, line.order, line.heard_at_ms, line.name, line.roles)
    return LedgerRow(heard, line.raw, line.accepted, line.reason, line.details, line.previous, line.hash)


def _bad_line(path: str, number: int, what: str) -> Problem:
    return Problem("taken_line", details={"path": path, "line": number, "what": what})


def _lines(chest: OpenChest, path: str) -> Iterator[tuple[int, bytes]]:
    """A file's lines with their numbers from 1, without their ends."""
    number, parts = 0, [b""]
    for piece in chest.read(path) or ():
        first, *more = piece.split(b"\n")
        parts.append(first)
        for begun in more:
            number += 1
            yield number, b"".join(parts)
            parts = [begun]
    if rest := b"".join(parts):
        yield number + 1, rest


# --- Photos and papers -----------------------------------------------------------------------------------------------


def _files_lacking(unit: Unit, manifest: Manifest) -> Iterator[Problem]:
    """What records name has to be in the take-out, or to have been missing when it was made."""
    there = {one.path for one in manifest.files} | set(manifest.missing)
    for room, wanted in ((PHOTOS, wanted_photos(unit)), (PAPERS, wanted_papers(unit))):
        for sha256 in sorted(wanted):
            path = file_path(room, sha256)
            if path not in there:
                yield Problem("taken_missing", details={"path": path})


def _keep_file(office: Office, chest: OpenChest, path: str) -> None:
    rooms: dict[str, Papers] = {PHOTOS: office.photos, PAPERS: office.papers}
    room = rooms.get(path.partition("/")[0])
    if room is not None:
        room.keep(b"".join(chest.read(path) or ()))
