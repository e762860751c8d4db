"""Rows to records and back: dull on purpose. A record's columns have its fields' names.

Nested facts are canonical JSON text, enums their value. What has to be unique, and what refers to what, is read off the
tables, so that the memory store keeps the very promises the databases keep.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from enum import Enum
from functools import cached_property, lru_cache
from typing import Any, Generic, TypeAlias, TypeVar

from pydantic import TypeAdapter
from sqlalchemy import Table, UniqueConstraint
from sqlmodel import SQLModel

from app.domain import records
from app.domain.canonical import canonical
from app.domain.entry import Heard, entry_kept
from app.domain.estimate import Answer, Estimate, LineAnswer, OfferedLine, Parties, ShopPrices, TaxRow, Way
from app.domain.handback import AskedWhere, Changed, Consent, Drawn, HandbackEdition, HandbackPrint, Retorque
from app.domain.packet import Axle, Stage
from app.domain.readiness import ReadinessCheck, ReadinessPoint
from app.ports import LedgerRow
from app.storage import tables
from app.storage.columns import utc
from app.trade import labour

R = TypeVar("R")
Values: TypeAlias = dict[str, Any]

_AXLE = TypeAdapter(records.AxleFacts)
_LINES = TypeAdapter(tuple[records.JobLine, ...])
_POINTS = TypeAdapter(tuple[ReadinessPoint, ...])
_STAGES = TypeAdapter(tuple[Stage, ...])
_TAXES = TypeAdapter(tuple[TaxRow, ...])
_PARTIES = TypeAdapter(Parties)
_OFFERED = TypeAdapter(tuple[OfferedLine, ...])
_ANSWERED = TypeAdapter(tuple[LineAnswer, ...])
_CHANGED = TypeAdapter(tuple[Changed, ...])
_DRAWN = TypeAdapter(tuple[Drawn, ...])
_CALIBRATED = TypeAdapter(tuple[records.CalibrationPoint, ...])


@dataclass(frozen=True)
class Reference:
    """A column that names a row of another table by its id."""

    column: str
    table: str
    kind: str


@dataclass(frozen=True)
class Shape(Generic[R]):
    """How one kind of record is kept: its table, and both directions of the mapping."""

    kind: str
    table: Table
    to_values: Callable[[R], Values]
    to_record: Callable[[Values], R]

    @cached_property
    def columns(self) -> tuple[str, ...]:
        """The record's own columns: all but the position and what only serves to compare."""
        return tuple(c.name for c in self.table.columns if c.name not in ("position", "plate_folded"))

    @cached_property
    def plain(self) -> frozenset[str]:
        """The columns that can be asked for by value."""
        return frozenset(name for name in self.columns if not self.table.columns[name].info.get("json"))

    @cached_property
    def unique(self) -> tuple[tuple[str, ...], ...]:
        """The columns, or groups of them, that no two rows share; the id apart."""
        found = [
            tuple(rule.columns.keys())
            for rule in self.table.constraints
            if isinstance(rule, UniqueConstraint) and rule.columns.keys() != ["id"]
        ]
        return tuple(sorted(found))

    @cached_property
    def references(self) -> tuple[Reference, ...]:
        found = [(key.parent.name, key.column.table.name) for key in self.table.foreign_keys]
        return tuple(Reference(column, table, _KINDS[table]) for column, table in sorted(found))

    def asked(self, equals: Mapping[str, object]) -> Values:
        """What `where` was asked for, as column values.

        Raises: TypeError for a field that is not a plain column.
        """
        for name in equals:
            if name not in self.plain:
                raise TypeError(f"where() of {self.table.name} takes {', '.join(sorted(self.plain))}; got {name!r}")
        return {name: _value(value) for name, value in equals.items()}


def _value(value: Any) -> Any:
    """What a plain column holds: an enum by its value, an instant in UTC (a naive one is refused)."""
    if isinstance(value, Enum):
        return value.value
    return utc(value) if isinstance(value, datetime) else value


def _fields(record: Any) -> Values:
    return {field.name: _value(getattr(record, field.name)) for field in fields(record)}


def text_of(value: Any) -> str:
    return canonical(value).decode()


def _person_values(person: records.Person) -> Values:
    return _fields(person) | {"roles": text_of(sorted(person.roles))}


def _person(row: Values) -> records.Person:
    return records.Person(**row | {"roles": frozenset(records.Role(role) for role in json.loads(row["roles"]))})


def _alarm_values(alarm: records.TabletAlarm) -> Values:
    return _fields(alarm) | {"people": text_of(list(alarm.people))}


def _alarm(row: Values) -> records.TabletAlarm:
    return records.TabletAlarm(
        **row | {"kind": records.AlarmKind(row["kind"]), "people": tuple(json.loads(row["people"]))}
    )


def _readiness_values(check: ReadinessCheck) -> Values:
    return _fields(check) | {"points": text_of(check.points)}


def _readiness(row: Values) -> ReadinessCheck:
    return ReadinessCheck(**row | {"points": _POINTS.validate_python(json.loads(row["points"]))})


def _bay(row: Values) -> records.Bay:
    return records.Bay(**row | {"lift": records.LiftKind(row["lift"])})


def _vehicle_values(vehicle: records.Vehicle) -> Values:
    return _fields(vehicle) | {
        "plate_folded": vehicle.plate.strip().casefold() or None,
        "front": text_of(vehicle.front),
        "rear": text_of(vehicle.rear),
    }


def _vehicle(row: Values) -> records.Vehicle:
    front, rear = json.loads(row["front"]), json.loads(row["rear"])
    return records.Vehicle(**row | {"front": _AXLE.validate_python(front), "rear": _AXLE.validate_python(rear)})


def _job_values(job: records.Job) -> Values:
    return _fields(job) | {"lines": text_of(job.lines)}


def _job(row: Values) -> records.Job:
    lines = _LINES.validate_python(json.loads(row["lines"]))
    return records.Job(**row | {"lines": lines, "state": records.JobState(row["state"])})


def _reminder(row: Values) -> records.Reminder:
    return records.Reminder(**row | {"kind": records.ReminderKind(row["kind"])})


def _figure_values(figure: records.FigureRecord) -> Values:
    return _fields(figure) | {"stages": text_of(figure.stages)}


def _figure(row: Values) -> records.FigureRecord:
    stages = _STAGES.validate_python(json.loads(row["stages"]))
    kind = records.FigureKind(row["kind"])
    return records.FigureRecord(**row | {"stages": stages, "axle": Axle(row["axle"]), "kind": kind})


def _choice(row: Values) -> records.FigureChoice:
    return records.FigureChoice(**row | {"choice": records.Choice(row["choice"])})


def _tool(row: Values) -> records.Tool:
    return records.Tool(**row | {"kind": records.ToolKind(row["kind"])})


def _calibration_values(one: records.Calibration) -> Values:
    return _fields(one) | {"points": text_of(one.points)}


def _calibration(row: Values) -> records.Calibration:
    return records.Calibration(**row | {"points": _CALIBRATED.validate_python(json.loads(row["points"]))})


def _tool_event(row: Values) -> records.ToolEvent:
    return records.ToolEvent(**row | {"kind": records.Mishap(row["kind"])})


def _message(row: Values) -> records.OutgoingMessage:
    return records.OutgoingMessage(**row | {"state": records.MessageState(row["state"])})


def _prices_values(prices: ShopPrices) -> Values:
    return _fields(prices) | {"taxes": text_of(_TAXES.dump_python(prices.taxes, mode="json"))}


def _prices(row: Values) -> ShopPrices:
    taxes = _TAXES.validate_python(json.loads(row["taxes"]))
    return ShopPrices(
        **row | {"taxes": taxes, "basis": labour.Basis(row["basis"]), "rounding": labour.Rounding(row["rounding"])}
    )


def _estimate_values(one: Estimate) -> Values:
    return _fields(one) | {"parties": text_of(one.parties), "lines": text_of(one.lines)}


def _estimate(row: Values) -> Estimate:
    lines = _OFFERED.validate_python(json.loads(row["lines"]))
    return Estimate(**row | {"lines": lines, "parties": _PARTIES.validate_python(json.loads(row["parties"]))})


def _answer_values(one: Answer) -> Values:
    return _fields(one) | {"answers": text_of(one.answers)}


def _answer(row: Values) -> Answer:
    answers = _ANSWERED.validate_python(json.loads(row["answers"]))
    return Answer(**row | {"answers": answers, "way": Way(row["way"])})


def _consent(row: Values) -> Consent:
    return Consent(**row | {"place": AskedWhere(row["place"])})


def _handback_values(one: HandbackEdition) -> Values:
    return _fields(one) | {name: text_of(getattr(one, name)) for name in ("changes", "drawings", "photos")}


def _handback(row: Values) -> HandbackEdition:
    changes, drawings = json.loads(row["changes"]), json.loads(row["drawings"])
    return HandbackEdition(
        **row
        | {
            "changes": _CHANGED.validate_python(changes),
            "drawings": _DRAWN.validate_python(drawings),
            "photos": tuple(json.loads(row["photos"])),
        }
    )


def _handback_print_values(one: HandbackPrint) -> Values:
    return _fields(one) | {name: text_of(getattr(one, name)) for name in ("pictures", "left_out")}


def _handback_print(row: Values) -> HandbackPrint:
    pictures = tuple((name, sha256) for name, sha256 in json.loads(row["pictures"]))
    return HandbackPrint(**row | {"pictures": pictures, "left_out": tuple(json.loads(row["left_out"]))})


def table_of(row: type[SQLModel]) -> Table:
    table: Table = row.__table__  # type: ignore[attr-defined]
    return table


SHOPS = Shape("shop", table_of(tables.ShopRow), _fields, lambda row: records.Shop(**row))
PEOPLE = Shape("person", table_of(tables.PersonRow), _person_values, _person)
SIGN_INS = Shape("sign_in", table_of(tables.SignInRow), _fields, lambda row: records.SignIn(**row))
TABLETS = Shape("tablet", table_of(tables.TabletRow), _fields, lambda row: records.Tablet(**row))
TABLET_PEOPLE = Shape(
    "tablet_person", table_of(tables.TabletPersonRow), _fields, lambda row: records.TabletPerson(**row)
)
ENROLMENT_CODES = Shape(
    "enrolment_code", table_of(tables.EnrolmentCodeRow), _fields, lambda row: records.EnrolmentCode(**row)
)
TABLET_ALARMS = Shape("tablet_alarm", table_of(tables.TabletAlarmRow), _alarm_values, _alarm)
READINESS = Shape("readiness", table_of(tables.ReadinessCheckRow), _readiness_values, _readiness)
BAYS = Shape("bay", table_of(tables.BayRow), _fields, _bay)
CUSTOMERS = Shape("customer", table_of(tables.CustomerRow), _fields, lambda row: records.Customer(**row))
VEHICLES = Shape("vehicle", table_of(tables.VehicleRow), _vehicle_values, _vehicle)
JOBS = Shape("job", table_of(tables.JobRow), _job_values, _job)
PLACEMENTS = Shape("placement", table_of(tables.PlacementRow), _fields, lambda row: records.Placement(**row))
REMINDERS = Shape("reminder", table_of(tables.ReminderRow), _fields, _reminder)
FIGURES = Shape("figure", table_of(tables.FigureRow), _figure_values, _figure)
FIGURE_CHOICES = Shape("figure_choice", table_of(tables.FigureChoiceRow), _fields, _choice)
FIGURE_IMPORTS = Shape(
    "figure_import", table_of(tables.FigureImportRow), _fields, lambda row: records.FigureImport(**row)
)
TOOLS = Shape("tool", table_of(tables.ToolRow), _fields, _tool)
CALIBRATIONS = Shape("calibration", table_of(tables.CalibrationRow), _calibration_values, _calibration)
TOOL_EVENTS = Shape("tool_event", table_of(tables.ToolEventRow), _fields, _tool_event)
LOANS = Shape("loan", table_of(tables.LoanRow), _fields, lambda row: records.Loan(**row))
PHOTOS = Shape("photo", table_of(tables.PhotoNamedRow), _fields, lambda row: records.PhotoNamed(**row))
OUTBOX = Shape("message", table_of(tables.OutgoingMessageRow), _fields, _message)
PRICES = Shape("prices", table_of(tables.ShopPricesRow), _prices_values, _prices)
ESTIMATES = Shape("estimate", table_of(tables.EstimateRow), _estimate_values, _estimate)
ANSWERS = Shape("answer", table_of(tables.AnswerRow), _answer_values, _answer)
CONSENTS = Shape("consent", table_of(tables.ConsentRow), _fields, _consent)
RETORQUES = Shape("retorque", table_of(tables.RetorqueRow), _fields, lambda row: Retorque(**row))
HANDBACKS = Shape("handback", table_of(tables.HandbackRow), _handback_values, _handback)
HANDBACK_PRINTS = Shape("handback_print", table_of(tables.HandbackPrintRow), _handback_print_values, _handback_print)

REGISTERS: Mapping[str, Shape[Any]] = {
    "shops": SHOPS,
    "people": PEOPLE,
    "sign_ins": SIGN_INS,
    "tablets": TABLETS,
    "tablet_people": TABLET_PEOPLE,
    "enrolment_codes": ENROLMENT_CODES,
    "tablet_alarms": TABLET_ALARMS,
    "readiness": READINESS,
    "bays": BAYS,
    "customers": CUSTOMERS,
    "vehicles": VEHICLES,
    "jobs": JOBS,
    "placements": PLACEMENTS,
    "reminders": REMINDERS,
    "figures": FIGURES,
    "figure_choices": FIGURE_CHOICES,
    "figure_imports": FIGURE_IMPORTS,
    "tools": TOOLS,
    "calibrations": CALIBRATIONS,
    "tool_events": TOOL_EVENTS,
    "loans": LOANS,
    "photos": PHOTOS,
    "outbox": OUTBOX,
    "prices": PRICES,
    "estimates": ESTIMATES,
    "answers": ANSWERS,
    "consents": CONSENTS,
    "retorques": RETORQUES,
    "handbacks": HANDBACKS,
    "handback_prints": HANDBACK_PRINTS,
}
_KINDS = {shape.table.name: shape.kind for shape in REGISTERS.values()}


# What of a figure can change once it is there.
MARKED = ("id", "compared_by", "withdrawn", "replaced")


def mark_of(rows: Iterable[Sequence[Any]]) -> str:
    """A digest of some columns' values, the same whichever store they come from."""
    mark = hashlib.sha256()
    for row in rows:
        mark.update(" ".join(str(value) for value in row).encode())
        mark.update(b"\n")
    return mark.hexdigest()


@lru_cache(maxsize=64)
def _roles_text(roles: tuple[str, ...]) -> str:
    return text_of(roles)


def ledger_values(row: LedgerRow) -> Values:
    heard, entry = row.heard, row.heard.entry
    return {
        "order": heard.order,
        "entry_id": entry.id,
        "tablet": entry.tablet,
        "seq": entry.seq,
        "job": entry.job,
        "kind": _value(entry.kind),
        "person": entry.person,
        "name": heard.name,
        "roles": _roles_text(heard.roles),
        "heard_at_ms": heard.heard_at_ms,
        "raw": row.raw,
        "accepted": row.accepted,
        "reason": row.reason,
        "details": text_of(row.details),
        "previous": row.previous,
        "hash": row.hash,
    }


def ledger_row(row: Values) -> LedgerRow:
    heard = Heard(
        entry=entry_kept(
            row["raw"],
            id=row["entry_id"],
            tablet=row["tablet"],
            seq=row["seq"],
            job=row["job"],
            kind=row["kind"],
            person=row["person"],
        ),
        order=row["order"],
        heard_at_ms=row["heard_at_ms"],
        name=row["name"],
        roles=tuple(json.loads(row["roles"])),
    )
    return LedgerRow(
        heard=heard,
        raw=row["raw"],
        accepted=row["accepted"],
        reason=row["reason"],
        details=json.loads(row["details"]),
        previous=row["previous"],
        hash=row["hash"],
    )
