"""Take everything out: every register, the ledger, packets, photos and papers, with a manifest of hashes.

Read in one transaction, so that a take-out is one moment's. The form is `shared/contracts/take_out.md`; whoever holds a
take-out needs nothing of ours to read it. What a record names and is not there is written down, and the rest goes all
the same: nobody is kept from leaving by a photo that was lost.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from app.domain.problems import OursToMend
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
    FileLine,
    LedgerLine,
    Manifest,
    PacketLine,
    file_path,
    line_of,
    plain,
    records_path,
    without_credentials,
)
from app.ports import Chest, LedgerRow, Papers, Unit
from app.use_cases.office import Office
from app.use_cases.take_out_tables import tables
from app.use_cases.verify import walk

# What stands in the take-out beside the data, so that it explains itself: path and bytes.
Enclosed = tuple[str, bytes]


@dataclass(frozen=True, slots=True)
class TakenOut:
    """mark: SHA-256 of the manifest. Two take-outs with the same mark hold the same, to the last byte."""

    files: int
    bytes: int
    entries: int
    missing: tuple[str, ...]
    mark: str


def take_out(office: Office, chest: Chest, database: str, enclosed: Iterable[Enclosed] = ()) -> TakenOut:
    """Put everything into the chest; the manifest comes last, so what has none was not finished.

    database: the form of the database, by its newest migration.
    Raises: NoRoom.
    """
    files: list[FileLine] = []

    def put(path: str, pieces: Iterable[bytes]) -> None:
        size, sha256 = chest.put(path, pieces)
        files.append(FileLine(path, size, sha256))

    with office.store.reading() as unit:
        for register in CARRIED:
            put(records_path(register), _records(unit, register))
        put(LEDGER, (line_of(ledger_line(row)) for row in walk(unit)))
        put(PACKETS, _packets(unit))
        counters = sorted(unit.numbers().items())
        put(COUNTERS, (line_of(CounterLine(name, value)) for name, value in counters))
        entries, head = unit.ledger.head()
        photos, papers = wanted_photos(unit), wanted_papers(unit)
        for path, text in tables(unit):
            put(path, [text])
    missing = [
        *_files(office.photos, PHOTOS, photos, photos, put),
        *_files(office.papers, PAPERS, papers, sorted(papers | set(office.papers.hashes())), put),
    ]
    for path, data in enclosed:
        put(path, [data])
    manifest = Manifest(
        FORMAT, database, entries, head, tuple(sorted(files, key=lambda one: one.path)), tuple(sorted(missing))
    )
    _, mark = chest.put(MANIFEST, [manifest_bytes(manifest)])
    return TakenOut(len(files), sum(one.bytes for one in files), entries, manifest.missing, mark)


def manifest_bytes(manifest: Manifest) -> bytes:
    """For people to read: one file a line or so, keys sorted."""
    return json.dumps(plain(manifest), indent=1, sort_keys=True, ensure_ascii=False).encode() + b"\n"


def mark_of(manifest: bytes) -> str:
    return hashlib.sha256(manifest).hexdigest()


def wanted_photos(unit: Unit) -> frozenset[str]:
    """The photos whose bytes are here by the records. What is still coming in pieces is sent again by its tablet."""
    return frozenset(one.sha256 for one in unit.photos.all() if one.here)


def wanted_papers(unit: Unit) -> frozenset[str]:
    """Certificates, and what was printed of handbacks: what was sent is kept as it was sent."""
    named = {one.certificate for one in unit.calibrations.all() if one.certificate}
    for one in unit.handback_prints.all():
        named |= {one.pdf, *(sha256 for _, sha256 in one.pictures)}
    return frozenset(named)


def ledger_line(row: LedgerRow) -> LedgerLine:
    heard, entry = row.heard, row.heard.entry
    return LedgerLine(
        order=heard.order, entry_id=entry.id, tablet=entry.tablet, seq=entry.seq, job=entry.job, kind=str(entry.kind),
        person=entry.person, name=heard.name, roles=heard.roles, heard_at_ms=heard.heard_at_ms, raw=row.raw,
        accepted=row.accepted, reason=row.reason, details=row.details, previous=row.previous, hash=row.hash,
    )  # fmt: skip


def _records(unit: Unit, register: str) -> Iterator[bytes]:
    return (line_of(without_credentials(record)) for record in getattr(unit, register).all())


def _packets(unit: Unit) -> Iterator[bytes]:
    for key in unit.sheets.packet_hashes():
        packet = unit.sheets.packet(key)
        if packet is not None:
            yield line_of(PacketLine(key, packet.as_json()))


def _files(
    room: Papers, name: str, wanted: frozenset[str], hashes: Iterable[str], put: Callable[[str, Iterable[bytes]], None]
) -> Iterator[str]:
    """Put every file of a room; give the paths of those wanted that are not there, or are not what their name says."""
    for sha256 in sorted(hashes):
        path = file_path(name, sha256)
        try:
            data = room.read(sha256)
        except OursToMend:
            data = None
        if data is not None:
            put(path, [data])
        elif sha256 in wanted:
            yield path
