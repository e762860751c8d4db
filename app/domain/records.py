"""The people and things of a workshop, as plain frozen records. No behaviour beyond what reads off the record itself.

Instants are UTC-aware datetimes; ids are text (UUIDv7) made outside; amounts are whole numbers in the small unit their
name says. What a person did to a sheet is not here: that is an entry.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from app.domain.packet import Axle, Stage


class Role(StrEnum):
    TECHNICIAN = "technician"
    FOREMAN = "foreman"
    DESK = "desk"


@dataclass(frozen=True, slots=True)
class Shop:
    """The workshop's own name, address for letters, and choices. One row.

    gate_minutes:   after how long an answered gate is asked again (house rule; the shop sets it).
    stand_margin_percent, compressor_margin_percent: how far a rating must lie above the computed load.
    retorque_km:    after what distance wheels are torqued again (the shop's own setting).
    """

    id: str
    name: str
    address: str
    email: str
    phone: str
    timezone: str = "UTC"
    torque_unit: str = "N·m"
    gate_minutes: int = 60
    stand_margin_percent: int = 25
    compressor_margin_percent: int = 25
    retorque_km: int = 80


@dataclass(frozen=True, slots=True)
class Person:
    """`pin_hash` is an argon2id hash. `wrong_tries` and `locked_until` slow down guessing."""

    id: str
    name: str
    roles: frozenset[Role]
    pin_hash: str
    active: bool = True
    wrong_tries: int = 0
    locked_until: datetime | None = None


@dataclass(frozen=True, slots=True)
class SignIn:
    """A person signed in at a browser. The id is the SHA-256 of the cookie's token, which the store never holds."""

    id: str
    person: str
    csrf: str
    began_at: datetime
    seen_at: datetime


@dataclass(frozen=True, slots=True)
class Tablet:
    """A device that sends entries. `last_seq` is the last number of its gapless sequence that the office holds."""

    id: str
    name: str
    last_seq: int = 0
    seen_at: datetime | None = None
    retired: bool = False


class LiftKind(StrEnum):
    TWO_POST = "two_post"
    FOUR_POST = "four_post"
    SCISSOR = "scissor"
    DRIVE_ON = "drive_on"
    FLAT = "flat"


@dataclass(frozen=True, slots=True)
class Bay:
    """A place to work. A flat bay has no lift: its capacity is that of its stands. A lift is inspected yearly."""

    id: str
    name: str
    lift: LiftKind
    capacity_g: int
    inspected_on: date | None
    active: bool = True


@dataclass(frozen=True, slots=True)
class Customer:
    id: str
    name: str
    email: str
    phone: str
    language: str = "en"


@dataclass(frozen=True, slots=True)
class SpringFacts:
    """What is known of an axle's coil (per side), each absent when nobody has given it.

    installed_um is its length at ride height; hanging_um its length with the wheel hanging.
    """

    rate_npm: int | None = None
    free_length_um: int | None = None
    installed_um: int | None = None
    hanging_um: int | None = None
    wire_um: int | None = None
    source: str = ""


@dataclass(frozen=True, slots=True)
class AxleFacts:
    """One axle: its layout (a key of `shared/layouts.yaml`) and the facts that switch steps on and off.

    place:  for an air sprung axle, the layout key whose place the air spring takes ("" otherwise).
    facts:  keys and values listed in `shared/layouts.yaml` under `facts`, for example joint_fixing -> riveted.
    mass_g: on this axle as weighed or plated; None when not known (no sum is done then).
    """

    layout: str
    mass_g: int | None = None
    track_um: int | None = None
    place: str = ""
    facts: tuple[tuple[str, str], ...] = ()
    spring: SpringFacts = field(default_factory=SpringFacts)


@dataclass(frozen=True, slots=True)
class Vehicle:
    """`model` is the shop's own name for a kind of vehicle: figures are kept per model and axle.

    airbag_wait_s, hv_wait_s: waiting times of *this* vehicle after disconnecting, from its maker; None = not known.
    """

    id: str
    customer: str
    plate: str
    vin: str
    model: str
    year: int | None
    colour: str
    tyre_front: str
    tyre_rear: str
    wheelbase_um: int | None
    front: AxleFacts
    rear: AxleFacts
    high_voltage: bool = False
    hv_wait_s: int | None = None
    airbag_wait_s: int | None = None


class JobState(StrEnum):
    """A job's life outside its sheet. What is done inside is the sheet's own state."""

    OPEN = "open"
    HANDED_BACK = "handed_back"
    CANCELLED = "cancelled"


@dataclass(frozen=True, slots=True)
class JobLine:
    """A procedure on a corner, an axle or the vehicle; options are the procedure's own (joint_position -> lower)."""

    id: str
    procedure: str
    axle: Axle
    corner: str = ""
    options: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Job:
    """`complaint` is in the customer's words. `number` is what people say aloud."""

    id: str
    number: str
    vehicle: str
    customer: str
    complaint: str
    promised_at: datetime | None
    opened_at: datetime
    opened_by: str
    odometer_km: int | None
    lines: tuple[JobLine, ...]
    state: JobState = JobState.OPEN


@dataclass(frozen=True, slots=True)
class Placement:
    """A job given to a bay and a technician for a time. Two placements in one bay never overlap."""

    id: str
    job: str
    bay: str
    technician: str
    begins_at: datetime
    ends_at: datetime
    placed_by: str
    withdrawn: bool = False


class FigureKind(StrEnum):
    """What a figure of the spec book is about."""

    FASTENER = "fastener"
    RIDE_HEIGHT = "ride_height"
    ALIGNMENT = "alignment"
    PLAY = "play"
    SPRING = "spring"
    MASS = "mass"
    WAIT = "wait"


@dataclass(frozen=True, slots=True)
class FigureRecord:
    """A figure of the spec book: of a model and axle, with its source. An edition is never changed.

    It counts once `compared_by`, another person than `typed_by`, has typed it again from the source and it was equal.
    A correction is a new edition; once that counts, the one before is `replaced`, and may stay in use on a sheet only
    where the foreman says so (`FigureChoice`). One that is `withdrawn` counts nowhere.
    `place_key` is the fastener key of `shared/procedures`, or a key of `domain.spec_places`. A fastener's figure is in
    `stages`; every other kind is in low, target, high: whole numbers in the small unit of the place's dimension.
    `tyre` and `point` go with a ride height: the tyre it is given for, and what it is measured to.
    `confirmed_because` is what the person who typed it said when the sums doubted it; empty when there was no doubt.
    """

    id: str
    model: str
    axle: Axle
    place_key: str
    edition: int
    text: str
    unit: str
    stages: tuple[Stage, ...]
    thread: str
    strength: str
    lubrication: str
    one_time: bool
    critical: bool
    document: str
    page: str
    document_date: str
    typed_by: str
    typed_at: datetime
    compared_by: str | None = None
    compared_at: datetime | None = None
    compared_text: str = ""
    withdrawn: bool = False
    confirmed_because: str = ""
    kind: FigureKind = FigureKind.FASTENER
    low: int | None = None
    target: int | None = None
    high: int | None = None
    tyre: str = ""
    point: str = ""
    replaced: bool = False

    @property
    def is_verified(self) -> bool:
        """A second person read the same; it may have been replaced since."""
        return self.compared_by is not None and not self.withdrawn

    @property
    def counts(self) -> bool:
        return self.is_verified and not self.replaced


class Choice(StrEnum):
    """What the foreman says of a sheet that rests on a corrected figure."""

    ASKED = "asked"
    KEEP = "keep"
    RENEW = "renew"


@dataclass(frozen=True, slots=True)
class FigureChoice:
    """A job whose sheet rests on `figure`, which `newer` corrects: the foreman keeps it there or renews the sheet."""

    id: str
    job: str
    figure: str
    newer: str
    asked_by: str
    asked_at: datetime
    choice: Choice = Choice.ASKED
    decided_by: str | None = None
    decided_at: datetime | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class FigureImport:
    """A file of figures as it was sent. It waits for its sender's word; once imported, `text` is let go.

    digest: SHA-256 of the bytes, so that nobody compares a file with itself. note: how it was read.
    report: what was said, line by line (JSON).
    """

    id: str
    person: str
    file_name: str
    digest: str
    text: str
    note: str
    report: str
    made_at: datetime
    done_at: datetime | None = None


class ToolKind(StrEnum):
    TORQUE_WRENCH = "torque_wrench"
    STANDS = "stands"
    JACK = "jack"
    SPRING_COMPRESSOR = "spring_compressor"


@dataclass(frozen=True, slots=True)
class Tool:
    """A tool by its tag. For a wrench low/high are mN·m and unit its scale; otherwise `rating` is g or mN by kind."""

    id: str
    tag: str
    kind: ToolKind
    name: str
    unit: str = ""
    low_mnm: int = 0
    high_mnm: int = 0
    length_um: int | None = None
    rating: int = 0
    rating_basis: str = ""
    due_on: date | None = None
    fault: str = ""


class MessageState(StrEnum):
    WAITING = "waiting"
    SENT = "sent"
    UNDELIVERABLE = "undeliverable"


@dataclass(frozen=True, slots=True)
class OutgoingMessage:
    """A message in the outbox. `message_id` is its Message-ID for ever, however often it is tried.

    key: what it is about, unique ("handback:JOB:1"): asking twice for the same message gives the same row.
    """

    id: str
    key: str
    job: str
    to: str
    subject: str
    text: str
    html: str
    message_id: str
    made_at: datetime
    state: MessageState = MessageState.WAITING
    tries: int = 0
    next_try_at: datetime | None = None
    sent_at: datetime | None = None
    last_answer: str = ""
    taken_until: datetime | None = None
