"""The store in memory, for tests and for trying things: the same promises as the databases, and the same mapping.

It keeps column values, never the records themselves, so nothing that a caller still holds can change what is kept.
A published state is never changed again: writers work on a copy, and committing puts the copy in its place.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from threading import Lock
from typing import Generic, TypeVar

from app.domain import records
from app.domain.estimate import Answer, Estimate, ShopPrices
from app.domain.handback import Consent, HandbackEdition, HandbackPrint, Retorque
from app.domain.packet import Packet, packet_from
from app.domain.problems import AlreadyThere, NotFound, OursToMend
from app.domain.readiness import ReadinessCheck
from app.domain.search_words import fits, job_words, noted_on, noted_words, vehicle_words
from app.domain.sheet import Sheet, sheet_from
from app.domain.uses import Use
from app.ports import Added, Hit, Ledger, LedgerMark, LedgerRow, Register, Search, Sheets, Uses, Whose
from app.storage import mapping
from app.storage.added import OnlyAdded
from app.storage.columns import utc
from app.storage.mapping import Shape, Values, text_of
from app.storage.recent import Recent
from app.storage.search import hit_of

R = TypeVar("R")

_LOCK_SECONDS = 10.0


@dataclass(frozen=True)
class _State:
    """Everything kept. The dictionaries are in the order things were added."""

    tables: dict[str, dict[str, Values]] = field(default_factory=dict)
    numbers: dict[str, int] = field(default_factory=dict)
    ledger: list[Values] = field(default_factory=list)
    ledger_index: dict[str, int] = field(default_factory=dict)
    sequences: set[tuple[str, int]] = field(default_factory=set)
    sheets: dict[str, tuple[str | None, str]] = field(default_factory=dict)
    packets: dict[str, str] = field(default_factory=dict)
    uses: dict[tuple[int, int], Use] = field(default_factory=dict)

    def copy(self) -> _State:
        return _State(
            tables={name: dict(rows) for name, rows in self.tables.items()},
            numbers=dict(self.numbers),
            ledger=list(self.ledger),
            ledger_index=dict(self.ledger_index),
            sequences=set(self.sequences),
            sheets=dict(self.sheets),
            packets=dict(self.packets),
            uses=dict(self.uses),
        )


class MemoryStore:
    def __init__(self) -> None:
        self._state = _State()
        self._writer = Lock()

    @contextmanager
    def reading(self) -> Iterator[MemoryUnit]:
        yield from self._unit(self._state, writes=False)

    @contextmanager
    def writing(self) -> Iterator[MemoryUnit]:
        if not self._writer.acquire(timeout=_LOCK_SECONDS):
            raise OursToMend(f"another writing unit has been open for {_LOCK_SECONDS:.0f} s; leave it first")
        try:
            yield from self._unit(self._state.copy(), writes=True)
        finally:
            self._writer.release()

    def publish(self, state: _State) -> None:
        self._state = state

    def _unit(self, state: _State, writes: bool) -> Iterator[MemoryUnit]:
        unit = MemoryUnit(self, state, writes)
        try:
            yield unit
        finally:
            unit.close()


class MemoryUnit:
    """One transaction. Once committed or left it is over."""

    def __init__(self, store: MemoryStore, state: _State, writes: bool) -> None:
        self._store = store
        self._state: _State | None = state
        self._writes = writes
        self.shops: Register[records.Shop] = MemoryRegister(self, mapping.SHOPS)
        self.people: Register[records.Person] = MemoryRegister(self, mapping.PEOPLE)
        self.sign_ins: Register[records.SignIn] = MemoryRegister(self, mapping.SIGN_INS)
        self.tablets: Register[records.Tablet] = MemoryRegister(self, mapping.TABLETS)
        self.tablet_people: Register[records.TabletPerson] = MemoryRegister(self, mapping.TABLET_PEOPLE)
        self.enrolment_codes: Register[records.EnrolmentCode] = MemoryRegister(self, mapping.ENROLMENT_CODES)
        self.tablet_alarms: Register[records.TabletAlarm] = MemoryRegister(self, mapping.TABLET_ALARMS)
        self.readiness: Register[ReadinessCheck] = MemoryRegister(self, mapping.READINESS)
        self.bays: Register[records.Bay] = MemoryRegister(self, mapping.BAYS)
        self.customers: Register[records.Customer] = MemoryRegister(self, mapping.CUSTOMERS)
        self.vehicles: Register[records.Vehicle] = MemoryRegister(self, mapping.VEHICLES)
        self.jobs: Register[records.Job] = MemoryRegister(self, mapping.JOBS)
        self.placements: Register[records.Placement] = MemoryRegister(self, mapping.PLACEMENTS)
        self.reminders: Register[records.Reminder] = MemoryRegister(self, mapping.REMINDERS)
        self.figures: Register[records.FigureRecord] = MemoryRegister(self, mapping.FIGURES)
        self.figure_choices: Register[records.FigureChoice] = MemoryRegister(self, mapping.FIGURE_CHOICES)
        self.figure_imports: Register[records.FigureImport] = MemoryRegister(self, mapping.FIGURE_IMPORTS)
        self.tools: Register[records.Tool] = MemoryRegister(self, mapping.TOOLS)
        self.calibrations: Register[records.Calibration] = MemoryRegister(self, mapping.CALIBRATIONS)
        self.tool_events: Register[records.ToolEvent] = MemoryRegister(self, mapping.TOOL_EVENTS)
        self.loans: Register[records.Loan] = MemoryRegister(self, mapping.LOANS)
        self.photos: Register[records.PhotoNamed] = MemoryRegister(self, mapping.PHOTOS)
        self.outbox: Register[records.OutgoingMessage] = MemoryRegister(self, mapping.OUTBOX)
        self.prices: Added[ShopPrices] = OnlyAdded(MemoryRegister(self, mapping.PRICES))
        self.estimates: Added[Estimate] = OnlyAdded(MemoryRegister(self, mapping.ESTIMATES))
        self.answers: Added[Answer] = OnlyAdded(MemoryRegister(self, mapping.ANSWERS))
        self.consents: Added[Consent] = OnlyAdded(MemoryRegister(self, mapping.CONSENTS))
        self.retorques: Added[Retorque] = OnlyAdded(MemoryRegister(self, mapping.RETORQUES))
        self.handbacks: Added[HandbackEdition] = OnlyAdded(MemoryRegister(self, mapping.HANDBACKS))
        self.handback_prints: Added[HandbackPrint] = OnlyAdded(MemoryRegister(self, mapping.HANDBACK_PRINTS))
        self.ledger: Ledger = MemoryLedger(self)
        self.sheets: Sheets = MemorySheets(self)
        self.uses: Uses = MemoryUses(self)
        self.search: Search = MemorySearch(self)

    def seen(self) -> _State:
        if self._state is None:
            raise OursToMend("this unit is over: it was committed or left; open another one")
        return self._state

    def changing(self) -> _State:
        if not self._writes:
            raise OursToMend("a reading unit cannot write; open it with writing()")
        return self.seen()

    def remove_sign_in(self, key: str) -> None:
        self.changing().tables.get(mapping.SIGN_INS.table.name, {}).pop(key, None)

    def remove_photo_named(self, key: str) -> None:
        self.changing().tables.get(mapping.PHOTOS.table.name, {}).pop(key, None)

    def take_number(self, counter: str) -> int:
        numbers = self.changing().numbers
        numbers[counter] = numbers.get(counter, 0) + 1
        return numbers[counter]

    def numbers(self) -> Mapping[str, int]:
        return dict(self.seen().numbers)

    def begin_number(self, counter: str, last: int) -> None:
        numbers = self.changing().numbers
        if counter in numbers:
            raise AlreadyThere("counter", counter)
        numbers[counter] = last

    def due_messages(self, now: datetime, limit: int) -> Sequence[records.OutgoingMessage]:
        due = [
            message
            for message in self.outbox.where(state=records.MessageState.WAITING)
            if (message.next_try_at is None or message.next_try_at <= now)
            and (message.taken_until is None or message.taken_until <= now)
        ]
        return tuple(sorted(due, key=lambda message: message.made_at)[:limit])

    def placements_between(self, begins: datetime, ends: datetime) -> Sequence[records.Placement]:
        found = [
            one
            for one in self.placements.where(withdrawn=False)
            if one.begins_at < utc(ends) and one.ends_at > utc(begins)
        ]
        return tuple(sorted(found, key=lambda one: one.begins_at))

    def newest_jobs(self, state: records.JobState, limit: int) -> Sequence[records.Job]:
        return tuple(self.jobs.where(state=state)[::-1][:limit])

    def book_mark(self) -> str:
        rows = self.seen().tables.get(mapping.FIGURES.table.name, {}).values()
        return mapping.mark_of([row[name] for name in mapping.MARKED] for row in rows)

    def commit(self) -> None:
        state = self.seen()
        if self._writes:
            self._store.publish(state)
        self.close()

    def close(self) -> None:
        self._state = None


class MemoryRegister(Generic[R]):
    def __init__(self, unit: MemoryUnit, shape: Shape[R]) -> None:
        self._unit = unit
        self._shape = shape

    def get(self, key: str) -> R | None:
        row = self._rows().get(key)
        return None if row is None else self._record(row)

    def all(self) -> Sequence[R]:
        return tuple(self._record(row) for row in self._rows().values())

    def where(self, **equals: object) -> Sequence[R]:
        asked = self._shape.asked(equals)
        found = (row for row in self._rows().values() if all(row[name] == value for name, value in asked.items()))
        return tuple(self._record(row) for row in found)

    def add(self, record: R) -> None:
        values = self._shape.to_values(record)
        rows = self._unit.changing().tables.setdefault(self._shape.table.name, {})
        self._need_references(values)
        if values["id"] in rows:
            raise AlreadyThere(self._shape.kind, values["id"])
        self._need_unique(values)
        rows[values["id"]] = values

    def add_all(self, records: Sequence[R]) -> None:
        """As `add`, with what has to be unique gathered once."""
        rows = self._unit.changing().tables.setdefault(self._shape.table.name, {})
        groups = [
            (group, {tuple(row[column] for column in group) for row in rows.values()}) for group in self._shape.unique
        ]
        for record in records:
            values = self._shape.to_values(record)
            self._need_references(values)
            if values["id"] in rows:
                raise AlreadyThere(self._shape.kind, values["id"])
            for group, taken in groups:
                wanted = tuple(values[column] for column in group)
                if None not in wanted and wanted in taken:
                    raise AlreadyThere(self._shape.kind, values["id"])
                taken.add(wanted)
            rows[values["id"]] = values

    def save(self, record: R) -> None:
        values = self._shape.to_values(record)
        rows = self._unit.changing().tables.setdefault(self._shape.table.name, {})
        self._need_references(values)
        if values["id"] not in rows:
            raise NotFound(self._shape.kind, values["id"])
        self._need_unique(values)
        rows[values["id"]] = values

    def save_all(self, records: Sequence[R]) -> None:
        for record in records:
            self.save(record)

    def _rows(self) -> dict[str, Values]:
        return self._unit.seen().tables.get(self._shape.table.name, {})

    def _record(self, row: Values) -> R:
        return self._shape.to_record({name: row[name] for name in self._shape.columns})

    def _need_references(self, values: Values) -> None:
        for reference in self._shape.references:
            value = values[reference.column]
            if value is not None and value not in self._unit.seen().tables.get(reference.table, {}):
                raise NotFound(reference.kind, value)

    def _need_unique(self, values: Values) -> None:
        """As in SQL, nothing (None) equals nothing."""
        for group in self._shape.unique:
            wanted = [values[column] for column in group]
            if None in wanted:
                continue
            for other in self._rows().values():
                if other["id"] != values["id"] and [other[column] for column in group] == wanted:
                    raise AlreadyThere(self._shape.kind, " ".join(str(value) for value in wanted))


class MemoryLedger:
    def __init__(self, unit: MemoryUnit) -> None:
        self._unit = unit

    def find(self, entry_id: str) -> LedgerRow | None:
        state = self._unit.seen()
        at = state.ledger_index.get(entry_id)
        return None if at is None else mapping.ledger_row(state.ledger[at])

    def next_order(self) -> tuple[int, str]:
        ledger = self._unit.changing().ledger
        return len(ledger) + 1, ledger[-1]["hash"] if ledger else ""

    def append(self, row: LedgerRow) -> None:
        order, previous = self.next_order()
        entry = row.heard.entry
        if (row.heard.order, row.previous) != (order, previous):
            raise OursToMend(
                f"the next row is {order} after {previous!r}, got {row.heard.order} after {row.previous!r}"
            )
        state = self._unit.changing()
        if entry.id in state.ledger_index:
            raise AlreadyThere("entry", entry.id)
        if (entry.tablet, entry.seq) in state.sequences:
            raise AlreadyThere("entry", f"{entry.tablet} {entry.seq}")
        state.ledger_index[entry.id] = len(state.ledger)
        state.sequences.add((entry.tablet, entry.seq))
        state.ledger.append(mapping.ledger_values(row))

    def of_job(self, job: str) -> Sequence[LedgerRow]:
        return tuple(mapping.ledger_row(row) for row in self._unit.seen().ledger if row["job"] == job)

    def last_of(self, jobs: Sequence[str]) -> dict[str, LedgerMark]:
        found = {}
        for row in self._unit.seen().ledger:
            if row["job"] in jobs:
                found[row["job"]] = LedgerMark(row["order"], row["hash"], row["heard_at_ms"])
        return found

    def walk(self, after: int = 0, limit: int = 1_000) -> Sequence[LedgerRow]:
        first = max(after, 0)
        return tuple(mapping.ledger_row(row) for row in self._unit.seen().ledger[first : first + limit])

    def count(self) -> int:
        return len(self._unit.seen().ledger)

    def head(self) -> tuple[int, str]:
        ledger = self._unit.seen().ledger
        return len(ledger), ledger[-1]["hash"] if ledger else ""


# Packets are large and never change: one that was read and checked is not parsed again.
_PACKETS: Recent[tuple[str, Packet]] = Recent(64)


class MemorySheets:
    def __init__(self, unit: MemoryUnit) -> None:
        self._unit = unit

    def get(self, job: str) -> Sheet | None:
        kept = self._unit.seen().sheets.get(job)
        if kept is None:
            return None
        packet, state = kept
        return sheet_from(json.loads(state), self.packet(packet) if packet else None)

    def heads(self, jobs: Sequence[str]) -> dict[str, tuple[str, str]]:
        kept = {job: self._unit.seen().sheets[job] for job in jobs if job in self._unit.seen().sheets}
        return {job: (hashlib.sha256(text.encode()).hexdigest(), packet or "") for job, (packet, text) in kept.items()}

    def put(self, sheet: Sheet) -> None:
        state = self._unit.changing()
        packet = sheet.packet.hash if sheet.packet else None
        if packet is not None and packet not in state.packets:
            raise NotFound("packet", packet)
        state.sheets[sheet.job] = (packet, sheet.text)

    def put_packet(self, packet: Packet) -> None:
        self._unit.changing().packets.setdefault(packet.hash, text_of(packet.as_json()))

    def packet(self, packet_hash: str) -> Packet | None:
        text = self._unit.seen().packets.get(packet_hash)
        if text is None:
            return None
        known = _PACKETS.get(packet_hash)
        if known is not None and known[0] == text:
            return known[1]
        if hashlib.sha256(text.encode()).hexdigest() != packet_hash:
            raise OursToMend(f"the packet kept under {packet_hash} is not what its hash says")
        packet = packet_from(json.loads(text))
        _PACKETS.keep(packet_hash, (text, packet))
        return packet

    def packet_hashes(self) -> Sequence[str]:
        return tuple(sorted(self._unit.seen().packets))


class MemoryUses:
    def __init__(self, unit: MemoryUnit) -> None:
        self._unit = unit

    def add(self, uses: Sequence[Use]) -> None:
        kept = self._unit.changing().uses
        for use in uses:
            for key, one in kept.items():
                if use.replaces(one):
                    kept[key] = one._replace(replaced_by=use.order)
        for use in uses:
            kept[use.order, use.stage] = use

    def of_tool(self, tag: str, since_ms: int) -> tuple[Sequence[Use], Mapping[str, Whose]]:
        return self._with_whose(tuple(one for one in self._all() if one.tool == tag and one.heard_at_ms >= since_ms))

    def of_figure(self, figure: str) -> tuple[Sequence[Use], Mapping[str, Whose]]:
        return self._with_whose(tuple(one for one in self._all() if one.figure == figure))

    def of_job(self, job: str) -> Sequence[Use]:
        return tuple(one for one in self._all() if one.job == job)

    def has_tool(self, tag: str) -> bool:
        return any(one.tool == tag for one in self._all())

    def between(self, after: int, up_to: int) -> Sequence[Use]:
        return tuple(one for one in self._all() if after < one.order <= up_to)

    def clear(self) -> None:
        self._unit.changing().uses.clear()

    def _all(self) -> list[Use]:
        return sorted(self._unit.seen().uses.values(), key=lambda one: (one.order, one.stage))

    def _with_whose(self, uses: Sequence[Use]) -> tuple[Sequence[Use], Mapping[str, Whose]]:
        found = {}
        for job_id in dict.fromkeys(one.job for one in uses):
            job = self._unit.jobs.get(job_id)
            vehicle = self._unit.vehicles.get(job.vehicle) if job else None
            customer = self._unit.customers.get(job.customer) if job else None
            if job is not None and vehicle is not None and customer is not None:
                found[job_id] = Whose(
                    job.id, job.number, job.state.value, vehicle.id, vehicle.plate, vehicle.model, customer.name,
                    customer.phone, customer.email,
                )  # fmt: skip
        return uses, found


class MemorySearch:
    """Looks at every record each time: there is no index that could differ from them."""

    def __init__(self, unit: MemoryUnit) -> None:
        self._unit = unit

    def find(self, words: Sequence[str], limit: int) -> Sequence[Hit]:
        if not words:
            return ()
        hits: list[Hit] = []
        for job in reversed(self._unit.jobs.all()):
            vehicle, customer = self._unit.vehicles.get(job.vehicle), self._unit.customers.get(job.customer)
            sheet = self._unit.sheets.get(job.id)
            about = job_words(job, vehicle, customer, self._unit.estimates.where(job=job.id))
            noted = noted_words(noted_on(sheet)) if sheet is not None else ""
            if vehicle is not None and fits(f"{about} {noted}".split(), words):
                hits.append(hit_of(job, vehicle, customer))
        for vehicle in reversed(self._unit.vehicles.all()):
            owner = self._unit.customers.get(vehicle.customer)
            if fits(vehicle_words(vehicle, owner).split(), words):
                hits.append(hit_of(None, vehicle, owner))
        return tuple(hits[:limit])

    def rebuild(self) -> None:
        self._unit.changing()

    def is_behind(self) -> bool:
        return False

    def amiss(self) -> Sequence[str]:
        return ()
