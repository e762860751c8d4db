"""The tables, as SQLModel classes. Their names are the plural of what they hold; every constraint has a name.

These are not the domain: `mapping` turns rows into records. `position` is the order rows were added in; `id` is
what the rest of the house knows. Triggers and rows that must be there from the start are in `migrations/`.
"""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum
from typing import Any, ClassVar

from sqlalchemy import CheckConstraint, ForeignKeyConstraint, Index, MetaData, UniqueConstraint
from sqlmodel import Field, SQLModel

from app.domain import records
from app.domain.estimate import Way
from app.domain.handback import AskedWhere
from app.domain.packet import Axle
from app.storage.columns import Day, Flag, Instant, Whole, Words
from app.trade.labour import Basis, Rounding

NAMING = {
    "pk": "pk_%(table_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
}


class Row(SQLModel):
    """Base of every table's class."""

    metadata: ClassVar[MetaData] = MetaData(naming_convention=NAMING)


def _args(*rules: UniqueConstraint | CheckConstraint | ForeignKeyConstraint | Index) -> Any:
    return (*rules, {"sqlite_strict": True})


def _one_of(column: str, values: type[StrEnum]) -> CheckConstraint:
    listed = ", ".join(f"'{value}'" for value in values)
    return CheckConstraint(f"{column} IN ({listed})", name=column)


def _yes_no(column: str) -> CheckConstraint:
    return CheckConstraint(f"{column} IN (false, true)", name=column)


def _refers(column: str, table: str) -> ForeignKeyConstraint:
    return ForeignKeyConstraint([column], [f"{table}.id"])


def _position() -> Any:
    return Field(default=None, sa_type=Whole, primary_key=True)


def _id() -> Any:
    return Field(sa_type=Words)


def _text() -> Any:
    return Field(sa_type=Words)


def _text_or_none() -> Any:
    return Field(default=None, sa_type=Words, nullable=True)


def _whole() -> Any:
    return Field(sa_type=Whole)


def _whole_or_none() -> Any:
    return Field(default=None, sa_type=Whole, nullable=True)


def _flag() -> Any:
    return Field(sa_type=Flag)


def _instant() -> Any:
    return Field(sa_type=Instant)


def _instant_or_none() -> Any:
    return Field(default=None, sa_type=Instant, nullable=True)


def _day_or_none() -> Any:
    return Field(default=None, sa_type=Day, nullable=True)


def _json() -> Any:
    """Nested facts, as canonical JSON text."""
    return Field(sa_type=Words, sa_column_kwargs={"info": {"json": True}})


class ShopRow(Row, table=True):
    __tablename__ = "shops"
    __table_args__ = _args(UniqueConstraint("id"))

    position: int | None = _position()
    id: str = _id()
    name: str = _text()
    address: str = _text()
    email: str = _text()
    phone: str = _text()
    timezone: str = _text()
    torque_unit: str = _text()
    gate_minutes: int = _whole()
    stand_margin_percent: int = _whole()
    compressor_margin_percent: int = _whole()
    retorque_km: int = _whole()
    retorque_days: int = _whole()
    watch_months: int = _whole()
    watch_km: int = _whole()
    comeback_days: int = _whole()
    language: str = _text()


class PersonRow(Row, table=True):
    __tablename__ = "people"
    __table_args__ = _args(UniqueConstraint("id"), UniqueConstraint("name"), _yes_no("active"))

    position: int | None = _position()
    id: str = _id()
    name: str = _text()
    roles: str = _json()
    pin_hash: str = _text()
    active: bool = _flag()
    wrong_tries: int = _whole()
    locked_until: datetime | None = _instant_or_none()
    language: str = _text()


class SignInRow(Row, table=True):
    __tablename__ = "sign_ins"
    __table_args__ = _args(UniqueConstraint("id"), _refers("person", "people"), Index(None, "person"))

    position: int | None = _position()
    id: str = _id()
    person: str = _text()
    csrf: str = _text()
    began_at: datetime = _instant()
    seen_at: datetime = _instant()


class TabletRow(Row, table=True):
    """Who enrolled or retired it is no reference: this row is written with every entry, and would be asked for each."""

    __tablename__ = "tablets"
    __table_args__ = _args(UniqueConstraint("id"), UniqueConstraint("name"), _yes_no("retired"))

    position: int | None = _position()
    id: str = _id()
    name: str = _text()
    last_seq: int = _whole()
    seen_at: datetime | None = _instant_or_none()
    retired: bool = _flag()
    secret_hash: str = _text()
    enrolled_at: datetime | None = _instant_or_none()
    enrolled_by: str = _text()
    retired_at: datetime | None = _instant_or_none()
    retired_by: str = _text()
    retired_because: str = _text()
    said_at: datetime | None = _instant_or_none()
    said_seq: int = _whole()
    waiting: int = _whole()
    waiting_from: int = _whole()
    photos_waiting: int = _whole()
    bundle: str = _text()
    clock_offset_ms: int = _whole()
    owes_since: datetime | None = _instant_or_none()
    contacts: int = _whole()


class TabletPersonRow(Row, table=True):
    __tablename__ = "tablet_people"
    __table_args__ = _args(
        UniqueConstraint("id"), _refers("tablet", "tablets"), _refers("person", "people"), Index(None, "tablet")
    )

    position: int | None = _position()
    id: str = _id()
    tablet: str = _text()
    person: str = _text()
    first_at: datetime = _instant()
    last_at: datetime = _instant()


class EnrolmentCodeRow(Row, table=True):
    __tablename__ = "enrolment_codes"
    __table_args__ = _args(UniqueConstraint("id"), _refers("made_by", "people"))

    position: int | None = _position()
    id: str = _id()
    made_by: str = _text()
    made_at: datetime = _instant()
    ends_at: datetime = _instant()
    used_at: datetime | None = _instant_or_none()
    tablet: str = _text()
    wrong_tries: int = _whole()
    locked_until: datetime | None = _instant_or_none()


class TabletAlarmRow(Row, table=True):
    __tablename__ = "tablet_alarms"
    __table_args__ = _args(
        UniqueConstraint("id"),
        _refers("tablet", "tablets"),
        _one_of("kind", records.AlarmKind),
        Index(None, "settled_at"),
    )

    position: int | None = _position()
    id: str = _id()
    tablet: str = _text()
    kind: str = _text()
    raised_at: datetime = _instant()
    since: datetime | None = _instant_or_none()
    count: int = _whole()
    first_seq: int = _whole()
    last_seq: int = _whole()
    people: str = _json()
    job: str = _text()
    settled_at: datetime | None = _instant_or_none()
    settled_by: str = _text()
    settled_because: str = _text()


class ReadinessCheckRow(Row, table=True):
    """One row for each tablet: its id is the tablet's."""

    __tablename__ = "readiness_checks"
    __table_args__ = _args(UniqueConstraint("id"), _refers("tablet", "tablets"))

    position: int | None = _position()
    id: str = _id()
    tablet: str = _text()
    checked_at: datetime = _instant()
    points: str = _json()


class BayRow(Row, table=True):
    __tablename__ = "bays"
    __table_args__ = _args(
        UniqueConstraint("id"),
        UniqueConstraint("name"),
        _one_of("lift", records.LiftKind),
        _yes_no("active"),
        _refers("lift_tool", "tools"),
    )

    position: int | None = _position()
    id: str = _id()
    name: str = _text()
    lift: str = _text()
    capacity_g: int = _whole()
    inspected_on: date | None = _day_or_none()
    active: bool = _flag()
    lift_tool: str | None = _text_or_none()


class CustomerRow(Row, table=True):
    __tablename__ = "customers"
    __table_args__ = _args(UniqueConstraint("id"))

    position: int | None = _position()
    id: str = _id()
    name: str = _text()
    email: str = _text()
    phone: str = _text()
    language: str = _text()


class VehicleRow(Row, table=True):
    """`plate_folded` is what makes a plate unique however it is written; empty for a vehicle without a plate."""

    __tablename__ = "vehicles"
    __table_args__ = _args(
        UniqueConstraint("id"),
        UniqueConstraint("plate_folded"),
        _refers("customer", "customers"),
        _yes_no("high_voltage"),
        Index(None, "customer"),
        Index(None, "model"),
    )

    position: int | None = _position()
    id: str = _id()
    customer: str = _text()
    plate: str = _text()
    plate_folded: str | None = _text_or_none()
    vin: str = _text()
    model: str = _text()
    year: int | None = _whole_or_none()
    colour: str = _text()
    tyre_front: str = _text()
    tyre_rear: str = _text()
    wheelbase_um: int | None = _whole_or_none()
    front: str = _json()
    rear: str = _json()
    high_voltage: bool = _flag()
    hv_wait_s: int | None = _whole_or_none()
    airbag_wait_s: int | None = _whole_or_none()


class JobRow(Row, table=True):
    __tablename__ = "jobs"
    __table_args__ = _args(
        UniqueConstraint("id"),
        UniqueConstraint("number"),
        _refers("vehicle", "vehicles"),
        _refers("customer", "customers"),
        _refers("opened_by", "people"),
        _one_of("state", records.JobState),
        Index(None, "vehicle"),
        Index(None, "customer"),
        Index(None, "state"),
    )

    position: int | None = _position()
    id: str = _id()
    number: str = _text()
    vehicle: str = _text()
    customer: str = _text()
    complaint: str = _text()
    promised_at: datetime | None = _instant_or_none()
    opened_at: datetime = _instant()
    opened_by: str = _text()
    odometer_km: int | None = _whole_or_none()
    lines: str = _json()
    state: str = _text()
    comeback_of: str = _text()


class ReminderRow(Row, table=True):
    __tablename__ = "reminders"
    __table_args__ = _args(
        UniqueConstraint("id"),
        _refers("job", "jobs"),
        _refers("vehicle", "vehicles"),
        _refers("done_by", "people"),
        _one_of("kind", records.ReminderKind),
        Index(None, "vehicle"),
        Index(None, "done_at"),
    )

    position: int | None = _position()
    id: str = _id()
    job: str = _text()
    vehicle: str = _text()
    kind: str = _text()
    what: str = _text()
    due_on: date = Field(sa_type=Day)
    due_km: int | None = _whole_or_none()
    made_at: datetime = _instant()
    done_at: datetime | None = _instant_or_none()
    done_by: str | None = _text_or_none()
    done_words: str = _text()


class PlacementRow(Row, table=True):
    """That two placements in one bay never overlap is a use case's rule; the index makes it quick to ask."""

    __tablename__ = "placements"
    __table_args__ = _args(
        UniqueConstraint("id"),
        _refers("job", "jobs"),
        _refers("bay", "bays"),
        _refers("technician", "people"),
        _refers("placed_by", "people"),
        _yes_no("withdrawn"),
        Index(None, "bay", "begins_at"),
        Index(None, "job"),
        Index(None, "technician"),
    )

    position: int | None = _position()
    id: str = _id()
    job: str = _text()
    bay: str = _text()
    technician: str = _text()
    begins_at: datetime = _instant()
    ends_at: datetime = _instant()
    placed_by: str = _text()
    withdrawn: bool = _flag()


class FigureRow(Row, table=True):
    __tablename__ = "figures"
    __table_args__ = _args(
        UniqueConstraint("id"),
        UniqueConstraint("model", "axle", "place_key", "edition"),
        _refers("typed_by", "people"),
        _refers("compared_by", "people"),
        _one_of("axle", Axle),
        _yes_no("one_time"),
        _yes_no("critical"),
        _yes_no("withdrawn"),
        _one_of("kind", records.FigureKind),
        _yes_no("replaced"),
        Index(None, "place_key"),
    )

    position: int | None = _position()
    id: str = _id()
    model: str = _text()
    axle: str = _text()
    place_key: str = _text()
    edition: int = _whole()
    text: str = _text()
    unit: str = _text()
    stages: str = _json()
    thread: str = _text()
    strength: str = _text()
    lubrication: str = _text()
    one_time: bool = _flag()
    critical: bool = _flag()
    document: str = _text()
    page: str = _text()
    document_date: str = _text()
    typed_by: str = _text()
    typed_at: datetime = _instant()
    compared_by: str | None = _text_or_none()
    compared_at: datetime | None = _instant_or_none()
    compared_text: str = _text()
    withdrawn: bool = _flag()
    confirmed_because: str = _text()
    kind: str = _text()
    low: int | None = _whole_or_none()
    target: int | None = _whole_or_none()
    high: int | None = _whole_or_none()
    tyre: str = _text()
    point: str = _text()
    replaced: bool = _flag()


class FigureChoiceRow(Row, table=True):
    __tablename__ = "figure_choices"
    __table_args__ = _args(
        UniqueConstraint("id"),
        _refers("job", "jobs"),
        _refers("figure", "figures"),
        _refers("newer", "figures"),
        _refers("asked_by", "people"),
        _refers("decided_by", "people"),
        _one_of("choice", records.Choice),
        Index(None, "job"),
        Index(None, "figure"),
    )

    position: int | None = _position()
    id: str = _id()
    job: str = _text()
    figure: str = _text()
    newer: str = _text()
    asked_by: str = _text()
    asked_at: datetime = _instant()
    choice: str = _text()
    decided_by: str | None = _text_or_none()
    decided_at: datetime | None = _instant_or_none()
    reason: str = _text()


class FigureImportRow(Row, table=True):
    __tablename__ = "figure_imports"
    __table_args__ = _args(
        UniqueConstraint("id"), _refers("person", "people"), Index(None, "person"), Index(None, "digest")
    )

    position: int | None = _position()
    id: str = _id()
    person: str = _text()
    file_name: str = _text()
    digest: str = _text()
    text: str = _text()
    note: str = _text()
    report: str = _text()
    made_at: datetime = _instant()
    done_at: datetime | None = _instant_or_none()


class ToolRow(Row, table=True):
    __tablename__ = "tools"
    __table_args__ = _args(UniqueConstraint("id"), UniqueConstraint("tag"), _one_of("kind", records.ToolKind))

    position: int | None = _position()
    id: str = _id()
    tag: str = _text()
    kind: str = _text()
    name: str = _text()
    unit: str = _text()
    low_mnm: int = _whole()
    high_mnm: int = _whole()
    length_um: int | None = _whole_or_none()
    rating: int = _whole()
    rating_basis: str = _text()
    due_on: date | None = _day_or_none()
    fault: str = _text()
    type: str = _text()
    checked_on: date | None = _day_or_none()
    cycles: int | None = _whole_or_none()


class CalibrationRow(Row, table=True):
    __tablename__ = "calibrations"
    __table_args__ = _args(
        UniqueConstraint("id"),
        _refers("tool", "tools"),
        _refers("entered_by", "people"),
        _yes_no("passes"),
        _yes_no("adjusted"),
        Index(None, "tool"),
    )

    position: int | None = _position()
    id: str = _id()
    tool: str = _text()
    done_on: date = Field(sa_type=Day)
    done_by: str = _text()
    document: str = _text()
    points: str = _json()
    allowed_ppm: int = _whole()
    passes: bool = _flag()
    adjusted: bool = _flag()
    due_on: date | None = _day_or_none()
    certificate: str = _text()
    certificate_name: str = _text()
    entered_by: str = _text()
    entered_at: datetime = _instant()
    good_on: date | None = _day_or_none()


class ToolEventRow(Row, table=True):
    __tablename__ = "tool_events"
    __table_args__ = _args(
        UniqueConstraint("id"),
        _refers("tool", "tools"),
        _refers("reported_by", "people"),
        _refers("seen_by", "people"),
        _one_of("kind", records.Mishap),
        Index(None, "tool"),
    )

    position: int | None = _position()
    id: str = _id()
    tool: str = _text()
    kind: str = _text()
    words: str = _text()
    torque_mnm: int | None = _whole_or_none()
    torque_text: str = _text()
    reported_by: str = _text()
    reported_at: datetime = _instant()
    seen_by: str | None = _text_or_none()
    seen_at: datetime | None = _instant_or_none()
    seen_words: str = _text()


class LoanRow(Row, table=True):
    """That a tool has one open loan is a use case's rule, kept under the write lock."""

    __tablename__ = "loans"
    __table_args__ = _args(
        UniqueConstraint("id"), _refers("tool", "tools"), _refers("person", "people"), Index(None, "tool")
    )

    position: int | None = _position()
    id: str = _id()
    tool: str = _text()
    person: str = _text()
    taken_at: datetime = _instant()
    given_back_at: datetime | None = _instant_or_none()


class PhotoNamedRow(Row, table=True):
    """A job or an entry of a tablet's may be unknown here and is kept all the same, so nothing is referred to."""

    __tablename__ = "photos"
    __table_args__ = _args(UniqueConstraint("id"), Index(None, "sha256"), Index(None, "job"), _yes_no("here"))

    position: int | None = _position()
    id: str = _id()
    job: str = _text()
    sha256: str = _text()
    here: bool = _flag()
    refused: str = _text()


class OutgoingMessageRow(Row, table=True):
    __tablename__ = "outbox"
    __table_args__ = _args(
        UniqueConstraint("id"),
        UniqueConstraint("key"),
        _one_of("state", records.MessageState),
        Index(None, "state", "made_at"),
        Index(None, "job"),
    )

    position: int | None = _position()
    id: str = _id()
    key: str = _text()
    job: str = _text()
    to: str = _text()
    subject: str = _text()
    text: str = _text()
    html: str = _text()
    message_id: str = _text()
    made_at: datetime = _instant()
    state: str = _text()
    tries: int = _whole()
    next_try_at: datetime | None = _instant_or_none()
    sent_at: datetime | None = _instant_or_none()
    last_answer: str = _text()
    taken_until: datetime | None = _instant_or_none()
    came_back_at: datetime | None = _instant_or_none()
    came_back_because: str = _text()
    came_back_noted_by: str = _text()


class ShopPricesRow(Row, table=True):
    """Editions of what the workshop charges. Only ever added to."""

    __tablename__ = "prices"
    __table_args__ = _args(
        UniqueConstraint("id"),
        UniqueConstraint("edition"),
        _one_of("basis", Basis),
        _one_of("rounding", Rounding),
        _refers("kept_by", "people"),
    )

    position: int | None = _position()
    id: str = _id()
    edition: int = _whole()
    currency: str = _text()
    rate_minor: int = _whole()
    basis: str = _text()
    rounding: str = _text()
    jurisdiction: str = _text()
    valid_days: int = _whole()
    registration: str = _text()
    taxes: str = _json()
    kept_by: str = _text()
    kept_at: datetime = _instant()


class EstimateRow(Row, table=True):
    """Editions of jobs' estimates. Only ever added to."""

    __tablename__ = "estimates"
    __table_args__ = _args(
        UniqueConstraint("id"),
        UniqueConstraint("job", "edition"),
        _refers("job", "jobs"),
        _refers("made_by", "people"),
    )

    position: int | None = _position()
    id: str = _id()
    job: str = _text()
    number: str = _text()
    edition: int = _whole()
    currency: str = _text()
    jurisdiction: str = _text()
    valid_until: date = Field(sa_type=Day)
    parties: str = _json()
    lines: str = _json()
    why: str = _text()
    made_by: str = _text()
    made_by_name: str = _text()
    made_at: datetime = _instant()


class AnswerRow(Row, table=True):
    """What customers said to estimates. Only ever added to."""

    __tablename__ = "answers"
    __table_args__ = _args(
        UniqueConstraint("id"),
        _one_of("way", Way),
        _yes_no("old_parts"),
        _refers("job", "jobs"),
        _refers("recorded_by", "people"),
        Index(None, "job"),
    )

    position: int | None = _position()
    id: str = _id()
    job: str = _text()
    edition: int = _whole()
    way: str = _text()
    name: str = _text()
    number: str = _text()
    said_at: datetime = _instant()
    read_out_minor: int = _whole()
    signature: str = _text()
    old_parts: bool = _flag()
    words: str = _text()
    answers: str = _json()
    recorded_by: str = _text()
    recorded_by_name: str = _text()
    recorded_at: datetime = _instant()


class ConsentRow(Row, table=True):
    """Whether a customer may be mailed, as often as they were asked. Only ever added to."""

    __tablename__ = "consents"
    __table_args__ = _args(
        UniqueConstraint("id"),
        _yes_no("yes"),
        _one_of("place", AskedWhere),
        _refers("customer", "customers"),
        _refers("recorded_by", "people"),
        Index(None, "customer"),
    )

    position: int | None = _position()
    id: str = _id()
    customer: str = _text()
    yes: bool = _flag()
    place: str = _text()
    recorded_by: str = _text()
    recorded_by_name: str = _text()
    recorded_at: datetime = _instant()


class RetorqueRow(Row, table=True):
    """When wheels come to be torqued again. Only ever added to."""

    __tablename__ = "retorques"
    __table_args__ = _args(
        UniqueConstraint("id"), _refers("job", "jobs"), _refers("recorded_by", "people"), Index(None, "job")
    )

    position: int | None = _position()
    id: str = _id()
    job: str = _text()
    comes_at: datetime | None = _instant_or_none()
    recorded_by: str = _text()
    recorded_by_name: str = _text()
    recorded_at: datetime = _instant()


class HandbackRow(Row, table=True):
    """Editions of what customers were handed. Only ever added to.

    Who made one is not referred to: the person of an entry may be unknown here and the entry is kept all the same.
    """

    __tablename__ = "handbacks"
    __table_args__ = _args(
        UniqueConstraint("id"), UniqueConstraint("job", "edition"), _refers("job", "jobs"), Index(None, "message")
    )

    position: int | None = _position()
    id: str = _id()
    job: str = _text()
    edition: int = _whole()
    language: str = _text()
    why: str = _text()
    changes: str = _json()
    facts: str = _text()
    subject: str = _text()
    text: str = _text()
    html: str = _text()
    paper: str = _text()
    drawings: str = _json()
    photos: str = _json()
    message: str = _text()
    not_mailed: str = _text()
    made_by: str = _text()
    made_by_name: str = _text()
    made_at: datetime = _instant()


class HandbackPrintRow(Row, table=True):
    """The files of an edition, by hash. Only ever added to."""

    __tablename__ = "handback_prints"
    __table_args__ = _args(UniqueConstraint("id"))

    position: int | None = _position()
    id: str = _id()
    pdf: str = _text()
    pictures: str = _json()
    standard: str = _text()
    left_out: str = _json()
    made_at: datetime = _instant()


class CounterRow(Row, table=True):
    __tablename__ = "counters"
    __table_args__ = _args()

    name: str = Field(sa_type=Words, primary_key=True)
    value: int = _whole()


class LedgerHeadRow(Row, table=True):
    """One row: how many entries the ledger holds and the hash of its last. Locking it is the write lock."""

    __tablename__ = "ledger_heads"
    __table_args__ = _args(CheckConstraint("id = 1", name="one_row"))

    id: int = Field(sa_type=Whole, primary_key=True, sa_column_kwargs={"autoincrement": False})
    entries: int = _whole()
    hash: str = _text()


class EntryRow(Row, table=True):
    """The ledger. It refers to nothing by foreign key: what a tablet sent is kept even if we know none of it."""

    __tablename__ = "ledger"
    __table_args__ = _args(
        UniqueConstraint("entry_id"), UniqueConstraint("tablet", "seq"), _yes_no("accepted"), Index(None, "job")
    )

    order: int = Field(sa_type=Whole, primary_key=True, sa_column_kwargs={"autoincrement": False})
    entry_id: str = _text()
    tablet: str = _text()
    seq: int = _whole()
    job: str = _text()
    kind: str = _text()
    person: str = _text()
    name: str = _text()
    roles: str = _json()
    heard_at_ms: int = _whole()
    raw: str = _text()
    accepted: bool = _flag()
    reason: str = _text()
    details: str = _json()
    previous: str = _text()
    hash: str = _text()


class UseRow(Row, table=True):
    """What the ledger's torque sign-offs say of wrenches and figures, in a form that can be asked quickly.

    One row for each stage read off a wrench. It can be made anew from the ledger at any time, so it refers to nothing.
    The first index ends in the job, so that whose a recall's rows are is found without reading them twice.
    """

    __tablename__ = "uses"
    __table_args__ = _args(
        Index(None, "tool", "heard_at_ms", "job"),
        Index(None, "figure", "heard_at_ms"),
        Index(None, "job", "step", "fastener"),
    )

    order: int = Field(sa_type=Whole, primary_key=True, sa_column_kwargs={"autoincrement": False})
    stage: int = Field(sa_type=Whole, primary_key=True, sa_column_kwargs={"autoincrement": False})
    kind: str = _text()
    job: str = _text()
    step: str = _text()
    fastener: str = _text()
    place: str = _text()
    tool: str = _text()
    name: str = _text()
    heard_at_ms: int = _whole()
    reading: int = _whole()
    text: str = _text()
    value: int = _whole()
    low: int | None = _whole_or_none()
    high: int | None = _whole_or_none()
    figure: str = _text()
    replaced_by: int | None = _whole_or_none()


class SearchTextRow(Row, table=True):
    """What each job and each vehicle is found by (`domain.search_words`): made from records and sheets, kept by the
    store in the same transaction, and made anew by `rebuild`. So it refers to nothing.

    The index over both texts is in the migrations: an FTS5 table on SQLite, kept by triggers; a GIN on PostgreSQL.
    job is "" for a vehicle's own row.
    """

    __tablename__ = "search_texts"
    __table_args__ = _args(UniqueConstraint("id"))

    position: int | None = _position()
    id: str = _id()
    vehicle: str = _text()
    job: str = _text()
    words: str = _text()
    noted: str = _text()


class PacketRow(Row, table=True):
    __tablename__ = "packets"
    __table_args__ = _args()

    hash: str = Field(sa_type=Words, primary_key=True)
    packet: str = _json()


class SheetRow(Row, table=True):
    """The state beside the packet it stands on; `hash` is of the state's text."""

    __tablename__ = "sheets"
    __table_args__ = _args(ForeignKeyConstraint(["packet"], ["packets.hash"]))

    job: str = Field(sa_type=Words, primary_key=True)
    packet: str | None = _text_or_none()
    entries: int = _whole()
    hash: str = _text()
    state: str = _json()
