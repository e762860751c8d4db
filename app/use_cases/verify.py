"""Walk the ledger: is the chain whole, are the rulings what the rules say, is the stored state what replay gives?

Which photos are named is compared with the ledger too, and each photo that is here with its name, byte by byte. Reports
every breach; mends nothing. `rebuild` puts right from the ledger, which is the truth, all that follows from it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from app.domain.canonical import LARGEST_WHOLE
from app.domain.case import Reason, Ruling
from app.domain.chain import FIRST, row_hash
from app.domain.packet import packet_from
from app.domain.problems import OursToMend
from app.domain.records import JobState, PhotoNamed
from app.domain.sheet import Sheet
from app.domain.uses import Use, uses_of
from app.ports import LedgerRow, Store, Unit
from app.use_cases.name_photo import photo_named_by
from app.use_cases.office import Office
from app.use_cases.record_entry import why_no_work
from app.use_cases.remind import make_reminders

PAGE = 1_000


@dataclass(frozen=True, slots=True)
class Breach:
    """Something that is not as it was written. `order` is the ledger row, 0 where it is about a stored state."""

    code: str
    order: int
    job: str
    words: str


@dataclass(frozen=True, slots=True)
class Verified:
    """What was walked and what was found."""

    rows: int
    jobs: int
    breaches: tuple[Breach, ...]


def verify(office: Office) -> Verified:
    """Check everything; takes one reading transaction, so that what comes in meanwhile is not half seen."""
    with office.store.reading() as unit:
        found = verify_in(office, unit)
        photos = unit.photos.where(here=True)
    return replace(found, breaches=(*found.breaches, *_photo_file_breaches(office, photos)))


def verify_in(office: Office, unit: Unit) -> Verified:
    """As `verify`, in a transaction that is open already, and without the photos' files."""
    breaches: list[Breach] = []
    sheets: dict[str, Sheet] = {}
    rows = 0
    previous, order = FIRST, 0
    used = _UsesWalked(unit)
    named: dict[str, PhotoNamed] = {}
    for row in walk(unit):
        rows += 1
        breaches += _link_breaches(row, previous, order)
        previous, order = row.hash, row.heard.order
        breaches += _replayed(office, unit, sheets, row)
        breaches += used.looked_at(row, sheets[row.heard.entry.job])
        named |= _named(row)
    breaches += used.ended()
    breaches += _photo_breaches(unit, named)
    if unit.ledger.count() != rows:
        breaches.append(Breach("count", order, "", f"The ledger counts {unit.ledger.count()} rows; {rows} were found."))
    breaches += _end_breaches(unit, previous, order)
    for job, sheet in sheets.items():
        breaches += _state_breaches(unit, job, sheet)
    breaches += [
        Breach("search", 0, key, f"{key} is not found by what is known of it; rebuild.") for key in unit.search.amiss()
    ]
    known = {one.id for one in unit.jobs.all()}
    breaches += [
        Breach("job_without_sheet", 0, job, f"Job {job} has no entry in the ledger.") for job in known - set(sheets)
    ]
    return Verified(rows, len(sheets), tuple(breaches))


def walk(unit: Unit) -> Iterator[LedgerRow]:
    """Every row, lowest order first, a page at a time."""
    after = 0
    while page := unit.ledger.walk(after, PAGE):
        yield from page
        after = page[-1].heard.order


def _link_breaches(row: LedgerRow, previous: str, order: int) -> Iterator[Breach]:
    heard = row.heard
    if heard.order != order + 1:
        yield Breach("gap", heard.order, heard.entry.job, f"Row {heard.order} follows row {order}: rows are missing.")
    if row.previous != previous:
        yield Breach("chain", heard.order, heard.entry.job, f"Row {heard.order} is not chained to the row before it.")
    if row_hash(row) != row.hash:
        yield Breach("altered", heard.order, heard.entry.job, f"Row {heard.order} was altered after it was written.")


def _replayed(office: Office, unit: Unit, sheets: dict[str, Sheet], row: LedgerRow) -> Iterator[Breach]:
    """Rule again on a row and carry its sheet on with the ruling that was given."""
    job = row.heard.entry.job
    sheet = sheets.get(job) or Sheet(job)
    given = Ruling(row.accepted, row.reason, row.details)
    again = office.rules.decide(sheet, row.heard)
    if given.reason == Reason.NOT_HERE and given.details.get("what") == "job":
        # What the job's record says, the rules cannot say again; the record can, as nothing reopens a job.
        again = why_no_work(office.rules.table, unit.jobs.get(job), row.heard) or again
    if (again.accepted, again.reason) != (given.accepted, given.reason):
        yield Breach(
            "ruling",
            row.heard.order,
            job,
            f"Row {row.heard.order} was ruled “{given.reason or 'accepted'}”; "
            f"the rules now say “{again.reason or 'accepted'}”.",
        )
    sheets[job] = office.rules.evolve(sheet, row.heard, given)


class _UsesWalked:
    """The stored uses beside the ledger they were made from: fetched a page at a time, compared row by row."""

    def __init__(self, unit: Unit) -> None:
        self._unit = unit
        self._page: dict[int, list[Use]] = {}
        self._up_to = 0
        self._standing: dict[tuple[str, str, str], list[Use]] = {}

    def looked_at(self, row: LedgerRow, sheet: Sheet) -> Iterator[Breach]:
        order, job = row.heard.order, row.heard.entry.job
        if order > self._up_to:
            yield from self._left_over()
            self._fetch(order - 1, order - 1 + PAGE)
        kept = self._page.pop(order, [])
        made = uses_of(sheet, row.heard) if row.accepted else ()
        if [one._replace(replaced_by=None) for one in kept] != list(made):
            yield Breach("uses", order, job, f"What row {order} says of its wrench is not what is kept for tracing.")
        yield from self._replaced(kept, order, job)

    def ended(self) -> Iterator[Breach]:
        yield from self._left_over()
        after = self._unit.uses.between(self._up_to, LARGEST_WHOLE)
        if after:
            yield Breach(
                "uses", after[0].order, after[0].job, "Uses are kept for tracing of which the ledger has none."
            )
        for standing in self._standing.values():
            yield from (self._wrongly(one) for one in standing if one.replaced_by is not None)

    def _fetch(self, after: int, up_to: int) -> None:
        self._up_to = up_to
        for one in self._unit.uses.between(after, up_to):
            self._page.setdefault(one.order, []).append(one)

    def _left_over(self) -> Iterator[Breach]:
        for order, kept in sorted(self._page.items()):
            yield Breach("uses", order, kept[0].job, f"Uses are kept of row {order}, which the ledger does not have.")
        self._page.clear()

    def _replaced(self, kept: list[Use], order: int, job: str) -> Iterator[Breach]:
        """A sign-off says of what stood at its joint that it was replaced by this one."""
        first = [one for one in kept if one.is_first]
        if first:
            joint = (job, first[0].step, first[0].fastener)
            yield from (self._wrongly(one) for one in self._standing.get(joint, ()) if one.replaced_by != order)
            self._standing[joint] = first

    @staticmethod
    def _wrongly(one: Use) -> Breach:
        return Breach(
            "uses", one.order, one.job, f"Whether the sign-off of row {one.order} still stands is kept wrongly."
        )


def _end_breaches(unit: Unit, previous: str, order: int) -> Iterator[Breach]:
    """Rows taken off the end leave the chain whole; the ledger's own head remembers how far it had come."""
    head_order, head_hash = unit.ledger.head()
    if (head_order, head_hash) != (order, previous):
        yield Breach("end", order, "", f"The ledger had come to row {head_order}; it ends at row {order}.")


def _state_breaches(unit: Unit, job: str, sheet: Sheet) -> Iterator[Breach]:
    stored = unit.sheets.get(job)
    if stored is None:
        yield Breach("state_missing", 0, job, f"Job {job} has entries and no stored sheet.")
        return
    if stored.hash != sheet.hash:
        yield Breach("state", 0, job, f"The stored sheet of job {job} is not what its entries lead to.")
    if sheet.packet is not None:
        kept = unit.sheets.packet(sheet.packet.hash)
        if kept is None or packet_from(kept.as_json()).hash != sheet.packet.hash or kept != sheet.packet:
            yield Breach("packet", 0, job, f"The stored packet of job {job} is not the one that was pinned.")


def _named(row: LedgerRow) -> dict[str, PhotoNamed]:
    entry = row.heard.entry
    photo = photo_named_by(entry)
    return {entry.id: PhotoNamed(entry.id, entry.job, photo)} if photo else {}


def _photo_breaches(unit: Unit, named: Mapping[str, PhotoNamed]) -> Iterator[Breach]:
    """The register of photos beside the entries that name them."""
    kept = {one.id: one for one in unit.photos.all()}
    for key, one in named.items():
        there = kept.get(key)
        if there is None:
            yield Breach(
                "photo_unnamed", 0, one.job, f"Entry {key} names a photo that is not in the register of photos."
            )
        elif (there.job, there.sha256) != (one.job, one.sha256):
            yield Breach("photo_other", 0, one.job, f"The register of photos has another photo or job for entry {key}.")
    for key in sorted(set(kept) - set(named)):
        words = f"The register of photos has one for entry {key}, which the ledger does not have or which names none."
        yield Breach("photo_no_entry", 0, kept[key].job, words)


def _photo_file_breaches(office: Office, photos: Sequence[PhotoNamed]) -> Iterator[Breach]:
    """Every photo that has come is there, and is what its name says. One file at a time is in memory."""
    for sha256, job in {one.sha256: one.job for one in photos}.items():
        try:
            data = office.photos.read(sha256)
        except OursToMend:
            words = f"The file of photo {sha256} is not what its name says. Put back the one from a backup."
            yield Breach("photo_spoilt", 0, job, words)
            continue
        if data is None:
            words = f"The file of photo {sha256} is missing. Put it back from a backup."
            yield Breach("photo_missing", 0, job, words)


def rebuild(office: Office) -> int:
    """Put every stored state, packet, use and named photo to what the ledger leads to, and what jobs are found by.

    Reminders that a closed sheet leaves and that are not there are added; what was marked done stays so.
    Gives the number of sheets written. A photo whose file is lost stays one that has come: forgetting it mends nothing.
    """
    with office.store.writing() as unit:
        written = rebuild_in(office, unit)
        for job in unit.jobs.where(state=JobState.HANDED_BACK):
            sheet = unit.sheets.get(job.id)
            if sheet is not None:
                make_reminders(unit, job, sheet)
        unit.commit()
    return written


def rebuild_in(office: Office, unit: Unit, *, mend_photos: bool = True) -> int:
    """As `rebuild`, in a transaction that is open already; the caller commits.

    mend_photos: whether the register of photos is put to what the ledger names; what was just taken in is left as it
                 was where it came from.
    """
    sheets: dict[str, Sheet] = {}
    unit.uses.clear()
    named: dict[str, PhotoNamed] = {}
    for row in walk(unit):
        job = row.heard.entry.job
        sheet = sheets.get(job) or Sheet(job)
        sheets[job] = office.rules.evolve(sheet, row.heard, Ruling(row.accepted, row.reason, row.details))
        if row.accepted:
            unit.uses.add(uses_of(sheets[job], row.heard))
        named |= _named(row)
    if mend_photos:
        _rebuild_photos(office, unit, named)
    for sheet in sheets.values():
        if sheet.packet is not None:
            unit.sheets.put_packet(sheet.packet)
        unit.sheets.put(sheet)
    unit.search.rebuild()
    return len(sheets)


def _rebuild_photos(office: Office, unit: Unit, named: Mapping[str, PhotoNamed]) -> None:
    kept = {one.id: one for one in unit.photos.all()}
    for key in set(kept) - set(named):
        unit.remove_photo_named(key)
    for key, one in named.items():
        before = kept.get(key)
        if before is None:
            unit.photos.add(replace(one, here=office.photos.has(one.sha256)))
        elif (before.job, before.sha256) != (one.job, one.sha256):
            unit.photos.save(replace(one, here=office.photos.has(one.sha256)))


def catch_up(store: Store) -> bool:
    """After an upgrade: make what jobs and vehicles are found by, if nothing is yet. Says whether it did."""
    with store.reading() as unit:
        if not unit.search.is_behind():
            return False
    with store.writing() as unit:
        unit.search.rebuild()
        unit.commit()
    return True
