"""The store on SQLite and PostgreSQL. Core statements only: there is no session that could hold rows back.

Writes have one path, `SqlStore.writing`: it takes the write lock first (BEGIN IMMEDIATE on SQLite, the ledger head's
row on PostgreSQL), so what a unit reads before it writes cannot change under it, and order numbers are commit order.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from functools import cached_property
from threading import Lock
from typing import Any, Generic, TypeVar

from pydantic import ValidationError
from sqlalchemy import (
    Connection,
    CursorResult,
    Dialect,
    Engine,
    and_,
    bindparam,
    delete,
    func,
    insert,
    literal,
    or_,
    select,
    update,
)
from sqlalchemy.dialects.postgresql import insert as postgresql_insert
from sqlalchemy.dialects.sqlite import insert as sqlite_insert
from sqlalchemy.sql import Executable

from app.domain import records
from app.domain.estimate import Answer, Estimate, ShopPrices
from app.domain.handback import Consent, HandbackEdition, HandbackPrint, Retorque
from app.domain.packet import Packet, packet_from
from app.domain.problems import AlreadyThere, NotFound, OursToMend, TooBusy
from app.domain.readiness import ReadinessCheck
from app.domain.search_words import noted_on
from app.domain.sheet import Sheet, sheet_from
from app.domain.uses import Use
from app.ports import Added, Ledger, LedgerMark, LedgerRow, Register, Search, Sheets, Uses, Whose
from app.storage import mapping, tables
from app.storage.added import OnlyAdded
from app.storage.columns import utc
from app.storage.engine import BUSY_MS, WRITES
from app.storage.mapping import Shape, Values, table_of, text_of
from app.storage.ready import Ready
from app.storage.recent import Recent
from app.storage.search import SearchStatements, SqlSearch

R = TypeVar("R")

_LEDGER = table_of(tables.EntryRow)
_HEADS = table_of(tables.LedgerHeadRow)
_SHEETS = table_of(tables.SheetRow)
_PACKETS = table_of(tables.PacketRow)
_COUNTERS = table_of(tables.CounterRow)
_USES = table_of(tables.UseRow)


class SqlStore:
    """Hands out units. It keeps the packets and sheets read last; a sheet so kept is used only when the entries' count
    and the state's hash, read in the same transaction, are still its own."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self.packets: Recent[Packet] = Recent(64)
        self.sheets: Recent[tuple[int, str, Sheet]] = Recent(256)
        self._sqlite = engine.dialect.name == "sqlite"
        # SQLite polls for its lock; threads of one process queue here instead.
        self._writer = Lock()

    @contextmanager
    def reading(self) -> Iterator[SqlUnit]:
        with self.engine.connect() as connection:
            if not self._sqlite:
                connection = connection.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)
            yield from self._unit(connection, writes=False)

    @contextmanager
    def writing(self) -> Iterator[SqlUnit]:
        if not self._sqlite:
            with self.engine.connect() as connection:
                yield from self._unit(connection, writes=True)
            return
        if not self._writer.acquire(timeout=BUSY_MS / 1_000):
            raise TooBusy(f"another writing unit of this process has been open for {BUSY_MS} ms; leave it first")
        try:
            with self.engine.connect().execution_options(**{WRITES: True}) as connection:
                yield from self._unit(connection, writes=True)
        finally:
            self._writer.release()

    def _unit(self, connection: Connection, writes: bool) -> Iterator[SqlUnit]:
        transaction = connection.begin()
        unit = SqlUnit(self, connection, writes)
        try:
            if writes:
                unit.lock()
            yield unit
        finally:
            unit.close()
            if transaction.is_active:
                transaction.rollback()


class SqlUnit:
    """One transaction. Once committed or left it is over."""

    def __init__(self, store: SqlStore, connection: Connection, writes: bool) -> None:
        self.store = store
        self.statements = _statements(connection.dialect)
        self._connection: Connection | None = connection
        self._writes = writes
        self.search: Search = (found := SqlSearch(self))
        self.shops: Register[records.Shop] = SqlRegister(self, mapping.SHOPS)
        self.people: Register[records.Person] = SqlRegister(self, mapping.PEOPLE)
        sign_ins, photos = SqlRegister(self, mapping.SIGN_INS), SqlRegister(self, mapping.PHOTOS)
        self.sign_ins: Register[records.SignIn] = sign_ins
        self.tablets: Register[records.Tablet] = SqlRegister(self, mapping.TABLETS)
        self.tablet_people: Register[records.TabletPerson] = SqlRegister(self, mapping.TABLET_PEOPLE)
        self.enrolment_codes: Register[records.EnrolmentCode] = SqlRegister(self, mapping.ENROLMENT_CODES)
        self.tablet_alarms: Register[records.TabletAlarm] = SqlRegister(self, mapping.TABLET_ALARMS)
        self.readiness: Register[ReadinessCheck] = SqlRegister(self, mapping.READINESS)
        self.bays: Register[records.Bay] = SqlRegister(self, mapping.BAYS)
        self.customers: Register[records.Customer] = Watched(self, mapping.CUSTOMERS, found.keep_customers)
        self.vehicles: Register[records.Vehicle] = Watched(self, mapping.VEHICLES, found.keep_vehicles)
        self.jobs: Register[records.Job] = Watched(self, mapping.JOBS, found.keep_jobs)
        self.placements: Register[records.Placement] = SqlRegister(self, mapping.PLACEMENTS)
        self.reminders: Register[records.Reminder] = SqlRegister(self, mapping.REMINDERS)
        self.figures: Register[records.FigureRecord] = SqlRegister(self, mapping.FIGURES)
        self.figure_choices: Register[records.FigureChoice] = SqlRegister(self, mapping.FIGURE_CHOICES)
        self.figure_imports: Register[records.FigureImport] = SqlRegister(self, mapping.FIGURE_IMPORTS)
        self.tools: Register[records.Tool] = SqlRegister(self, mapping.TOOLS)
        self.calibrations: Register[records.Calibration] = SqlRegister(self, mapping.CALIBRATIONS)
        self.tool_events: Register[records.ToolEvent] = SqlRegister(self, mapping.TOOL_EVENTS)
        self.loans: Register[records.Loan] = SqlRegister(self, mapping.LOANS)
        self.photos: Register[records.PhotoNamed] = photos
        self._forgets = {"sign_ins": sign_ins.forget, "photos": photos.forget}
        self.outbox: Register[records.OutgoingMessage] = SqlRegister(self, mapping.OUTBOX)
        self.prices: Added[ShopPrices] = OnlyAdded(SqlRegister(self, mapping.PRICES))
        self.estimates: Added[Estimate] = OnlyAdded(Watched(self, mapping.ESTIMATES, found.keep_estimates))
        self.answers: Added[Answer] = OnlyAdded(SqlRegister(self, mapping.ANSWERS))
        self.consents: Added[Consent] = OnlyAdded(SqlRegister(self, mapping.CONSENTS))
        self.retorques: Added[Retorque] = OnlyAdded(SqlRegister(self, mapping.RETORQUES))
        self.handbacks: Added[HandbackEdition] = OnlyAdded(SqlRegister(self, mapping.HANDBACKS))
        self.handback_prints: Added[HandbackPrint] = OnlyAdded(SqlRegister(self, mapping.HANDBACK_PRINTS))
        ledger, sheets = SqlLedger(self), SqlSheets(self, found)
        self.ledger: Ledger = ledger
        self.sheets: Sheets = sheets
        self._written_last = (ledger, sheets)
        self.uses: Uses = SqlUses(self)

    def read(self, statement: Executable, values: Mapping[str, Any] | None = None) -> CursorResult[Any]:
        return self._in_use.execute(statement, values)

    @property
    def holds_the_lock(self) -> bool:
        return self._writes and self._connection is not None

    def write(self, statement: Executable, values: Mapping[str, Any] | None = None) -> CursorResult[Any]:
        self.has_to_write()
        return self.read(statement, values)

    def has_to_write(self) -> None:
        """Raises: OursToMend in a unit that only reads, or is over."""
        if not self._writes:
            raise OursToMend("a reading unit cannot write; open it with writing()")
        if self._connection is None:
            raise OursToMend("this unit is over: it was committed or left; open another one")

    def write_all(self, statement: Executable, rows: Sequence[Mapping[str, Any]]) -> int:
        """The same statement for many rows; gives how many it took."""
        if self._connection is None or not self._writes:
            raise OursToMend("this unit is over, or only reads; open another one with writing()")
        return self._connection.execute(statement, list(rows)).rowcount

    def found(self, statement: Ready, values: Mapping[str, Any]) -> dict[str, Any] | None:
        """The one row that a statement finds; None where there is none."""
        return statement.row(self._in_use, values)

    def written(self, statement: Ready, values: Mapping[str, Any]) -> int:
        """How many rows a statement took."""
        self.has_to_write()
        return statement.count(self._in_use, values)

    @property
    def _in_use(self) -> Connection:
        if self._connection is None:
            raise OursToMend("this unit is over: it was committed or left; open another one")
        return self._connection

    def lock(self) -> None:
        """Take the write lock where beginning the transaction has not done so."""
        if self.statements.name == "postgresql":
            self.ledger.next_order()

    def remove_sign_in(self, key: str) -> None:
        self.write(self.statements.remove_sign_in, {"id": key})
        self._forgets["sign_ins"]()

    def remove_photo_named(self, key: str) -> None:
        self.write(self.statements.remove_photo_named, {"id": key})
        self._forgets["photos"]()

    def take_number(self, counter: str) -> int:
        number: int = self.write(self.statements.take_number, {"name": counter, "value": 1}).scalar_one()
        return number

    def numbers(self) -> Mapping[str, int]:
        return {row.name: row.value for row in self.read(select(_COUNTERS.c.name, _COUNTERS.c.value))}

    def begin_number(self, counter: str, last: int) -> None:
        if counter in self.numbers():
            raise AlreadyThere("counter", counter)
        self.write(insert(_COUNTERS), {"name": counter, "value": last})

    def due_messages(self, now: datetime, limit: int) -> Sequence[records.OutgoingMessage]:
        statement = self.statements.due_and_lock if self._writes else self.statements.due
        rows = self.read(statement, {"now": utc(now), "most": limit})
        return tuple(mapping.OUTBOX.to_record(dict(row)) for row in rows.mappings())

    def placements_between(self, begins: datetime, ends: datetime) -> Sequence[records.Placement]:
        rows = self.read(
            self.statements.placements_between, {"begins": utc(begins), "ends": utc(ends), "withdrawn": False}
        )
        return tuple(mapping.PLACEMENTS.to_record(dict(row)) for row in rows.mappings())

    def newest_jobs(self, state: records.JobState, limit: int) -> Sequence[records.Job]:
        rows = self.read(self.statements.newest_jobs, {"state": state.value, "most": limit})
        return tuple(mapping.JOBS.to_record(dict(row)) for row in rows.mappings())

    def book_mark(self) -> str:
        return mapping.mark_of(self.read(self.statements.book))

    def commit(self) -> None:
        if self._connection is None:
            raise OursToMend("this unit is over: it was committed or left; open another one")
        for one in self._written_last:
            one.write_later()
        self._connection.commit()
        self.close()

    def close(self) -> None:
        self._connection = None


class SqlRegister(Generic[R]):
    """A register is a table and its shape; what it does is the same for all of them.

    A unit that writes keeps what it got by its id: it holds the write lock, so nobody but itself changes it, and a
    batch asks for the same few people and jobs with every entry.
    """

    def __init__(self, unit: SqlUnit, shape: Shape[R]) -> None:
        self._unit = unit
        self._shape = shape
        self._got: dict[str, R] = {}

    @property
    def _statements(self) -> _RegisterStatements:
        return self._unit.statements.register(self._shape)

    def get(self, key: str) -> R | None:
        kept = self._got.get(key)
        if kept is not None and self._unit.holds_the_lock:
            return kept
        row = self._unit.found(self._statements.get, {"id": key})
        if row is None:
            return None
        record = self._got[key] = self._shape.to_record(row)
        return record

    def forget(self) -> None:
        """What was got may have changed."""
        self._got.clear()

    def all(self) -> Sequence[R]:
        return self._records(self._unit.read(self._statements.all))

    def where(self, **equals: object) -> Sequence[R]:
        columns = self._shape.table.columns
        wanted = [columns[name] == value for name, value in self._shape.asked(equals).items()]
        return self._records(self._unit.read(self._statements.all.where(*wanted)))

    def add(self, record: R) -> None:
        self.forget()
        values = self._shape.to_values(record)
        self._need_references(values)
        if self._unit.write(self._statements.add, values).rowcount == 0:
            raise AlreadyThere(self._shape.kind, self._taken(values, new=True))

    def add_all(self, records: Sequence[R]) -> None:
        """In one statement. Where a row was not taken, they are gone through one by one to name it."""
        self.forget()
        rows = [self._shape.to_values(record) for record in records]
        if not rows:
            return
        for values in self._unlike_in_references(rows):
            self._need_references(values)
        if self._unit.write_all(self._statements.add, rows) != len(rows):
            taken = next((one for one in rows if self._is_taken(one)), rows[0])
            raise AlreadyThere(self._shape.kind, str(taken["id"]))

    def _unlike_in_references(self, rows: Sequence[Values]) -> Sequence[Values]:
        """One row for each set of things referred to."""
        columns = [reference.column for reference in self._shape.references]
        return tuple({tuple(row[name] for name in columns): row for row in rows}.values())

    def _is_taken(self, values: Values) -> bool:
        """Whether another row holds a value of this one that has to be unique."""
        return any(
            self._unit.read(statement, {"id": values["id"], **{c: values[c] for c in group}}).first() is not None
            for group, statement in self._statements.holders
        )

    def save(self, record: R) -> None:
        self.forget()
        values = self._shape.to_values(record)
        self._need_references(values)
        bound = {f"to_{name}": value for name, value in values.items()}
        if self._unit.written(self._statements.save_one, bound) == 0:
            if self.get(values["id"]) is None:
                raise NotFound(self._shape.kind, values["id"])
            raise AlreadyThere(self._shape.kind, self._taken(values, new=False))

    def save_all(self, records: Sequence[R]) -> None:
        """In one statement. Where a row was not saved, they are gone through one by one to name it."""
        self.forget()
        rows = [self._shape.to_values(record) for record in records]
        if not rows:
            return
        for values in self._unlike_in_references(rows):
            self._need_references(values)
        bound = [{f"to_{name}": value for name, value in values.items()} for values in rows]
        if self._unit.write_all(self._statements.save, bound) != len(rows):
            missing = next((one["id"] for one in rows if self.get(one["id"]) is None), None)
            if missing is not None:
                raise NotFound(self._shape.kind, missing)
            taken = next((one for one in rows if self._is_taken(one)), rows[0])
            raise AlreadyThere(self._shape.kind, str(taken["id"]))

    def _records(self, rows: CursorResult[Any]) -> Sequence[R]:
        return tuple(self._shape.to_record(dict(row)) for row in rows.mappings())

    def _need_references(self, values: Values) -> None:
        for reference, statement in self._statements.references:
            value = values[reference.column]
            if value is not None and self._unit.read(statement, {"id": value}).first() is None:
                raise NotFound(reference.kind, value)

    def _taken(self, values: Values, new: bool) -> str:
        """Which of the values that have to be unique is the one that is taken."""
        if new and self.get(values["id"]) is not None:
            return str(values["id"])
        for group, statement in self._statements.holders:
            if self._unit.read(statement, {"id": values["id"], **{c: values[c] for c in group}}).first() is not None:
                return " ".join(str(values[column]) for column in group)
        raise OursToMend(f"{self._shape.table.name} refused {values['id']!r} but none of its values is taken")


class Watched(SqlRegister[R]):
    """A register whose records something else in the store is made from: told after each change, in its transaction."""

    def __init__(self, unit: SqlUnit, shape: Shape[R], changed: Callable[[Sequence[R]], None]) -> None:
        super().__init__(unit, shape)
        self._changed = changed

    def add(self, record: R) -> None:
        super().add(record)
        self._changed((record,))

    def add_all(self, records: Sequence[R]) -> None:
        super().add_all(records)
        self._changed(records)

    def save(self, record: R) -> None:
        super().save(record)
        self._changed((record,))

    def save_all(self, records: Sequence[R]) -> None:
        super().save_all(records)
        self._changed(records)


class SqlLedger:
    def __init__(self, unit: SqlUnit) -> None:
        self._unit = unit
        self._head: tuple[int, str] | None = None
        self._is_moved = False

    def find(self, entry_id: str) -> LedgerRow | None:
        row = self._unit.read(self._unit.statements.find_entry, {"entry": entry_id}).mappings().one_or_none()
        return None if row is None else mapping.ledger_row(dict(row))

    def next_order(self) -> tuple[int, str]:
        if self._head is None:
            self._unit.has_to_write()
            row = self._unit.found(self._unit.statements.head, {})
            assert row is not None, "the ledger has a head from its first migration on"
            self._head = row["entries"], row["hash"]
        entries, last = self._head
        return entries + 1, last

    def append(self, row: LedgerRow) -> None:
        order, previous = self.next_order()
        entry = row.heard.entry
        if (row.heard.order, row.previous) != (order, previous):
            raise OursToMend(
                f"the next row is {order} after {previous!r}, got {row.heard.order} after {row.previous!r}"
            )
        if self._unit.written(self._unit.statements.append, mapping.ledger_values(row)) == 0:
            taken = entry.id if self.find(entry.id) else f"{entry.tablet} {entry.seq}"
            raise AlreadyThere("entry", taken)
        self._head = (order, row.hash)
        self._is_moved = True

    def write_later(self) -> None:
        """Write how far the ledger has come: once, however many rows came in this unit."""
        if self._head is not None and self._is_moved:
            self._unit.written(self._unit.statements.move_head, {"to_entries": self._head[0], "to_hash": self._head[1]})
            self._is_moved = False

    def of_job(self, job: str) -> Sequence[LedgerRow]:
        return self._rows(self._unit.statements.entries_of_job, {"of": job})

    def last_of(self, jobs: Sequence[str]) -> dict[str, LedgerMark]:
        rows = self._unit.read(self._unit.statements.last_of, {"jobs": list(jobs)})
        return {row.job: LedgerMark(row.order, row.hash, row.heard_at_ms) for row in rows}

    def walk(self, after: int = 0, limit: int = 1_000) -> Sequence[LedgerRow]:
        return self._rows(self._unit.statements.walk, {"after": after, "most": limit})

    def count(self) -> int:
        number: int = self._unit.read(self._unit.statements.count_entries).scalar_one()
        return number

    def head(self) -> tuple[int, str]:
        self.write_later()
        row = self._unit.read(self._unit.statements.look_at_head).mappings().one()
        return row["entries"], row["hash"]

    def _rows(self, statement: Executable, values: Values) -> Sequence[LedgerRow]:
        return tuple(mapping.ledger_row(dict(row)) for row in self._unit.read(statement, values).mappings())


class SqlSheets:
    def __init__(self, unit: SqlUnit, search: SqlSearch) -> None:
        self._unit = unit
        self._search = search
        # As they stand in the database now, so that only what was written on them since is searched for words.
        self._as_kept: dict[str, Sheet] = {}
        # Packets put in this unit may yet be rolled back, so they are not kept for others.
        self._put_here: set[str] = set()
        # Put in this unit and not written yet: of many entries for one job in a batch, only the last state is.
        self._put_last: dict[str, Sheet] = {}

    def get(self, job: str) -> Sheet | None:
        sheet = self._get(job)
        if sheet is not None:
            self._as_kept[job] = sheet
        return sheet

    def _get(self, job: str) -> Sheet | None:
        if job in self._put_last:
            return self._put_last[job]
        kept = self._unit.store.sheets.get(job)
        if kept is not None:
            row = self._unit.found(self._unit.statements.sheet_mark, {"of": job})
            if row is None:
                return None
            if (row["entries"], row["hash"]) == kept[:2]:
                return kept[2]
        return self._read(job)

    def heads(self, jobs: Sequence[str]) -> dict[str, tuple[str, str]]:
        self.write_later()
        rows = self._unit.read(self._unit.statements.sheet_heads, {"jobs": list(jobs)})
        return {row.job: (row.hash, row.packet or "") for row in rows}

    def put(self, sheet: Sheet) -> None:
        self._unit.has_to_write()
        packet = sheet.packet.hash if sheet.packet else None
        if packet is not None and not self._holds(packet):
            raise NotFound("packet", packet)
        self._put_last[sheet.job] = sheet
        before, noted = self._as_kept.get(sheet.job), noted_on(sheet)
        if before is None or noted_on(before) != noted:
            self._search.keep_noted(sheet.job, noted)
        self._as_kept[sheet.job] = sheet

    def write_later(self) -> None:
        for sheet in self._put_last.values():
            packet = sheet.packet.hash if sheet.packet else None
            told = {"job": sheet.job, "packet": packet, "entries": sheet.entries, "hash": sheet.hash}
            self._unit.written(self._unit.statements.put_sheet, {**told, "state": sheet.text})
            self._unit.store.sheets.keep(sheet.job, (sheet.entries, sheet.hash, sheet))
        self._put_last.clear()

    def put_packet(self, packet: Packet) -> None:
        self._unit.write(self._unit.statements.put_packet, {"hash": packet.hash, "packet": text_of(packet.as_json())})
        self._put_here.add(packet.hash)

    def packet(self, packet_hash: str) -> Packet | None:
        kept = self._unit.store.packets.get(packet_hash)
        if kept is not None:
            return kept
        text = self._unit.read(self._unit.statements.packet, {"of": packet_hash}).scalar_one_or_none()
        if text is None:
            return None
        packet = packet_from(json.loads(text))
        if packet.hash != packet_hash:
            raise OursToMend(f"the packet kept under {packet_hash} has the hash {packet.hash}")
        if packet_hash not in self._put_here:
            self._unit.store.packets.keep(packet_hash, packet)
        return packet

    def packet_hashes(self) -> Sequence[str]:
        return tuple(sorted(self._unit.read(select(_PACKETS.c.hash)).scalars()))

    def _holds(self, packet_hash: str) -> bool:
        if packet_hash in self._put_here or self._unit.store.packets.get(packet_hash) is not None:
            return True
        return self.packet(packet_hash) is not None

    def _read(self, job: str) -> Sheet | None:
        row = self._unit.read(self._unit.statements.sheet, {"of": job}).one_or_none()
        if row is None:
            return None
        if _sha256(row.state) != row.hash:
            raise OursToMend(f"the sheet of job {job} is not what its hash says; rebuild it from the ledger")
        packet = self.packet(row.packet) if row.packet else None
        try:
            sheet = sheet_from(json.loads(row.state), packet)
        except ValidationError as error:
            raise OursToMend(
                f"the sheet of job {job} has another version's form; rebuild it from the ledger"
            ) from error
        self._unit.store.sheets.keep(job, (row.entries, row.hash, sheet))
        return sheet


class SqlUses:
    def __init__(self, unit: SqlUnit) -> None:
        self._unit = unit

    def add(self, uses: Sequence[Use]) -> None:
        for use in uses:
            self._unit.write(self._unit.statements.add_use, use._asdict())
        signed = next((use for use in uses if use.is_first), None)
        if signed is not None:
            place = {"to_job": signed.job, "to_step": signed.step, "to_fastener": signed.fastener}
            self._unit.write(self._unit.statements.replace_uses, {**place, "to_kind": signed.kind, "by": signed.order})

    def of_tool(self, tag: str, since_ms: int) -> tuple[Sequence[Use], Mapping[str, Whose]]:
        return self._with_whose("tool", {"of": tag, "since": since_ms})

    def of_figure(self, figure: str) -> tuple[Sequence[Use], Mapping[str, Whose]]:
        return self._with_whose("figure", {"of": figure, "since": 0})

    def of_job(self, job: str) -> Sequence[Use]:
        return self._uses(self._unit.statements.uses_of_job, {"of": job})

    def has_tool(self, tag: str) -> bool:
        return self._unit.read(self._unit.statements.tool_used, {"of": tag}).first() is not None

    def between(self, after: int, up_to: int) -> Sequence[Use]:
        return self._uses(self._unit.statements.uses_between, {"after": after, "up_to": up_to})

    def clear(self) -> None:
        self._unit.write(delete(_USES))

    def _with_whose(self, column: str, values: Values) -> tuple[Sequence[Use], Mapping[str, Whose]]:
        uses, whose = self._unit.statements.uses_by[column]
        return self._uses(uses, values), {row[0]: Whose(*tuple(row)) for row in self._unit.read(whose, values).all()}

    def _uses(self, statement: Executable, values: Values) -> Sequence[Use]:
        # Plain tuples from the cursor: a recall reads tens of thousands of these at once.
        return list(map(Use._make, self._unit.read(statement, values).all()))


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


class _RegisterStatements:
    """A register's statements, built once so that SQLAlchemy finds them compiled."""

    def __init__(self, shape: Shape[Any], insert: Any, dialect: Dialect) -> None:
        table = shape.table
        columns = table.columns
        own = [columns[name] for name in shape.columns]
        self.all = select(*own).order_by(columns.position)
        self.get = Ready(select(*own).where(columns.id == bindparam("id")), dialect)
        self.add = _counted(insert(table).on_conflict_do_nothing().inline())
        self.save = self._save(shape)
        self.save_one = Ready(self.save, dialect)
        self.references = tuple(
            (reference, select(literal(1)).where(_id_column(reference.table) == bindparam("id")))
            for reference in shape.references
        )
        self.holders = tuple(
            (
                group,
                select(columns.id).where(columns.id != bindparam("id"), *(columns[c] == bindparam(c) for c in group)),
            )
            for group in shape.unique
        )

    def _save(self, shape: Shape[Any]) -> Any:
        """Update by id, unless another row holds one of the values that have to be unique."""
        columns = shape.table.columns
        new = {c.name: bindparam(f"to_{c.name}", type_=c.type) for c in columns if c.name != "position"}
        statement = update(shape.table).where(columns.id == new["id"])
        if shape.unique:
            other = shape.table.alias("other")
            taken = or_(*(and_(*(other.columns[c] == new[c] for c in group)) for group in shape.unique))
            statement = statement.where(~select(literal(1)).where(other.columns.id != new["id"], taken).exists())
        return statement.values({name: value for name, value in new.items() if name != "id"})


class _Statements:
    """Every other statement, for one dialect."""

    def __init__(self, dialect: Dialect) -> None:
        self.name = name = dialect.name
        self._dialect = dialect
        self._insert: Any = postgresql_insert if name == "postgresql" else sqlite_insert
        self._registers: dict[str, _RegisterStatements] = {}

    def register(self, shape: Shape[Any]) -> _RegisterStatements:
        made = self._registers.get(shape.table.name)
        if made is None:
            made = self._registers[shape.table.name] = _RegisterStatements(shape, self._insert, self._dialect)
        return made

    remove_sign_in = delete(mapping.SIGN_INS.table).where(mapping.SIGN_INS.table.c.id == bindparam("id"))

    remove_photo_named = delete(mapping.PHOTOS.table).where(mapping.PHOTOS.table.c.id == bindparam("id"))

    book = select(*(mapping.FIGURES.table.c[name] for name in mapping.MARKED)).order_by(
        mapping.FIGURES.table.c.position
    )

    find_entry = select(_LEDGER).where(_LEDGER.c.entry_id == bindparam("entry"))
    entries_of_job = select(_LEDGER).where(_LEDGER.c.job == bindparam("of")).order_by(_LEDGER.c.order)
    walk = (
        select(_LEDGER).where(_LEDGER.c.order > bindparam("after")).order_by(_LEDGER.c.order).limit(bindparam("most"))
    )
    last_of = select(_LEDGER.c.job, _LEDGER.c.order, _LEDGER.c.hash, _LEDGER.c.heard_at_ms).where(
        _LEDGER.c.order.in_(
            select(func.max(_LEDGER.c.order))
            .where(_LEDGER.c.job.in_(bindparam("jobs", expanding=True)))
            .group_by(_LEDGER.c.job)
        )
    )
    count_entries = select(func.count()).select_from(_LEDGER)
    look_at_head = select(_HEADS.c.entries, _HEADS.c.hash).where(_HEADS.c.id == 1)
    sheet_heads = select(_SHEETS.c.job, _SHEETS.c.hash, _SHEETS.c.packet).where(
        _SHEETS.c.job.in_(bindparam("jobs", expanding=True))
    )
    sheet = select(_SHEETS).where(_SHEETS.c.job == bindparam("of"))
    packet = select(_PACKETS.c.packet).where(_PACKETS.c.hash == bindparam("of"))

    use_columns = tuple(_USES.c[name] for name in Use._fields)
    uses_of_job = select(*use_columns).where(_USES.c.job == bindparam("of")).order_by(_USES.c.order, _USES.c.stage)
    uses_between = (
        select(*use_columns)
        .where(_USES.c.order > bindparam("after"), _USES.c.order <= bindparam("up_to"))
        .order_by(_USES.c.order, _USES.c.stage)
    )
    tool_used = select(literal(1)).where(_USES.c.tool == bindparam("of")).limit(1)
    replace_uses = (
        update(_USES)
        .where(_USES.c.job == bindparam("to_job"), _USES.c.step == bindparam("to_step"))
        .where(_USES.c.fastener == bindparam("to_fastener"), _USES.c.kind == bindparam("to_kind"))
        .where(_USES.c.replaced_by.is_(None), _USES.c.order < bindparam("by"))
        .values(replaced_by=bindparam("by"))
    )

    @cached_property
    def add_use(self) -> Any:
        return self._insert(_USES)

    @cached_property
    def uses_by(self) -> Mapping[str, tuple[Any, Any]]:
        """By the column asked for: the rows in the order heard, and whose jobs they are."""
        return {name: self._uses_by(_USES.c[name]) for name in ("tool", "figure")}

    def _uses_by(self, column: Any) -> tuple[Any, Any]:
        wanted = (column == bindparam("of"), _USES.c.heard_at_ms >= bindparam("since"))
        jobs, vehicles, customers = (one.table.columns for one in (mapping.JOBS, mapping.VEHICLES, mapping.CUSTOMERS))
        whose = (
            select(
                jobs.id, jobs.number, jobs.state, vehicles.id, vehicles.plate, vehicles.model, customers.name,
                customers.phone, customers.email,
            )
            .join_from(mapping.JOBS.table, mapping.VEHICLES.table, jobs.vehicle == vehicles.id)
            .join(mapping.CUSTOMERS.table, jobs.customer == customers.id)
            .where(jobs.id.in_(select(_USES.c.job).where(*wanted)))
        )  # fmt: skip
        return select(*self.use_columns).where(*wanted).order_by(_USES.c.order, _USES.c.stage), whose

    @cached_property
    def search(self) -> SearchStatements:
        return SearchStatements(self.name, self._insert)

    @cached_property
    def head(self) -> Ready:
        return Ready(select(_HEADS.c.entries, _HEADS.c.hash).where(_HEADS.c.id == 1).with_for_update(), self._dialect)

    @cached_property
    def move_head(self) -> Ready:
        moved: dict[str, Any] = {"entries": bindparam("to_entries"), "hash": bindparam("to_hash")}
        return Ready(update(_HEADS).where(_HEADS.c.id == 1).values(moved), self._dialect)

    @cached_property
    def append(self) -> Ready:
        return Ready(self._insert(_LEDGER).on_conflict_do_nothing().inline(), self._dialect)

    @cached_property
    def sheet_mark(self) -> Ready:
        found = select(_SHEETS.c.entries, _SHEETS.c.hash).where(_SHEETS.c.job == bindparam("of"))
        return Ready(found, self._dialect)

    @cached_property
    def put_sheet(self) -> Ready:
        statement = self._insert(_SHEETS)
        changed = {name: statement.excluded[name] for name in ("packet", "entries", "hash", "state")}
        return Ready(statement.on_conflict_do_update(index_elements=["job"], set_=changed), self._dialect)

    @cached_property
    def put_packet(self) -> Any:
        return self._insert(_PACKETS).on_conflict_do_nothing()

    @cached_property
    def take_number(self) -> Any:
        statement = self._insert(_COUNTERS)
        counted = statement.on_conflict_do_update(index_elements=["name"], set_={"value": _COUNTERS.c.value + 1})
        return counted.returning(_COUNTERS.c.value)

    @cached_property
    def placements_between(self) -> Any:
        placed = mapping.PLACEMENTS.table.columns
        return (
            select(*(placed[name] for name in mapping.PLACEMENTS.columns))
            .where(placed.withdrawn == bindparam("withdrawn"))
            .where(placed.begins_at < bindparam("ends", type_=placed.begins_at.type))
            .where(placed.ends_at > bindparam("begins", type_=placed.begins_at.type))
            .order_by(placed.begins_at, placed.position)
        )

    @cached_property
    def newest_jobs(self) -> Any:
        jobs = mapping.JOBS.table.columns
        return (
            select(*(jobs[name] for name in mapping.JOBS.columns))
            .where(jobs.state == bindparam("state"))
            .order_by(jobs.position.desc())
            .limit(bindparam("most"))
        )

    @cached_property
    def due(self) -> Any:
        outbox = mapping.OUTBOX.table.columns
        now = bindparam("now", type_=outbox.made_at.type)
        return (
            select(*(outbox[name] for name in mapping.OUTBOX.columns))
            .where(outbox.state == records.MessageState.WAITING.value)
            .where(or_(outbox.next_try_at.is_(None), outbox.next_try_at <= now))
            .where(or_(outbox.taken_until.is_(None), outbox.taken_until <= now))
            .order_by(outbox.made_at, outbox.position)
            .limit(bindparam("most"))
        )

    @cached_property
    def due_and_lock(self) -> Any:
        """On PostgreSQL, past what another worker is looking at; SQLite renders no lock, its writer is alone."""
        return self.due.with_for_update(skip_locked=True)


def _statements(dialect: Dialect) -> _Statements:
    """Those of a dialect by its name; what a server's version changes of them is nothing."""
    made = _BY_DIALECT.get(dialect.name)
    if made is None:
        made = _BY_DIALECT[dialect.name] = _Statements(dialect)
    return made


_BY_DIALECT: dict[str, _Statements] = {}


def _counted(statement: Any) -> Any:
    """Keep the number of rows an INSERT made: none means that something unique was taken."""
    return statement.execution_options(preserve_rowcount=True)


def _id_column(table: str) -> Any:
    return tables.Row.metadata.tables[table].columns.id
