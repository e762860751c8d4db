"""The people and things of a workshop, as plain frozen records. No behaviour beyond what reads off the record itself.

Instants are UTC-aware datetimes; ids are text (UUIDv7) made outside; amounts are whole numbers in the small unit their
name says. What a person did to a sheet is not here: that is an entry.
"""

from __future__ import annotations

from collections.abc import Iterable
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
    retorque_km:    after what distance wheels are torqued again (the shop's own setting); retorque_days: or when, if
                    nobody has said so by then.
    watch_months, watch_km: after how long, or how far, a part found worth watching is looked at again.
    comeback_days:  a vehicle that comes in again within so many days is asked whether it is the same complaint.
    language:       of every page that no person with a language of their own is signed in at (ISO 639).
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
    retorque_days: int = 14
    watch_months: int = 6
    watch_km: int = 10_000
    comeback_days: int = 90
    language: str = "en"


@dataclass(frozen=True, slots=True)
class Person:
    """`pin_hash` is an argon2id hash. `wrong_tries` and `locked_until` slow down guessing.

    language: of the pages this person reads; empty for the shop's.
    """

    id: str
    name: str
    roles: frozenset[Role]
    pin_hash: str
    active: bool = True
    wrong_tries: int = 0
    locked_until: datetime | None = None
    language: str = ""


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
    """A device that sends entries. `last_seq` is the last number of its gapless sequence that the office holds.

    secret_hash: SHA-256 of the secret it asks with; "" before it was enrolled. enrolled_by, retired_by: a person's id.
    said_…:      what it said of itself when it was heard last: the last number it ever used, how many of its entries
                 it has not sent and from which number, photos not sent, the bundle it runs.
    owes_since:  since when it has entries that are not here; None while it has none.
    clock_offset_ms: the office's clock less its own, when it was heard last.
    contacts:    the highest number of a contact that was heard; the tablet counts them.
    """

    id: str
    name: str
    last_seq: int = 0
    seen_at: datetime | None = None
    retired: bool = False
    secret_hash: str = ""
    enrolled_at: datetime | None = None
    enrolled_by: str = ""
    retired_at: datetime | None = None
    retired_by: str = ""
    retired_because: str = ""
    said_at: datetime | None = None
    said_seq: int = 0
    waiting: int = 0
    waiting_from: int = 0
    photos_waiting: int = 0
    bundle: str = ""
    clock_offset_ms: int = 0
    owes_since: datetime | None = None
    contacts: int = 0

    @property
    def owes(self) -> int:
        """How many entries it has told of that have not come."""
        return max(self.said_seq - self.last_seq, 0)


@dataclass(frozen=True, slots=True)
class TabletPerson:
    """A person who has signed in at a tablet. The id is both ids, so that there is one for each pair."""

    id: str
    tablet: str
    person: str
    first_at: datetime
    last_at: datetime


@dataclass(frozen=True, slots=True)
class EnrolmentCode:
    """A code that makes one device a tablet of this shop, once. The id is the code's SHA-256; the code is nowhere."""

    id: str
    made_by: str
    made_at: datetime
    ends_at: datetime
    used_at: datetime | None = None
    tablet: str = ""
    wrong_tries: int = 0
    locked_until: datetime | None = None


class AlarmKind(StrEnum):
    """went_back: it came back with less than it had. missing: entries it owed are no longer on it and never came.
    no_job: entries for a job this office does not have. retired: taken out of use while entries had not come.
    photo_refused: photos taken there that this office never keeps, whose bytes stay on the tablet; count: photos."""

    WENT_BACK = "went_back"
    MISSING = "missing"
    NO_JOB = "no_job"
    RETIRED = "retired"
    PHOTO_REFUSED = "photo_refused"


@dataclass(frozen=True, slots=True)
class TabletAlarm:
    """Something a tablet had that the office does not have. It stands until a foreman settles it by name and reason.

    count: how many entries; 0 where nobody can know. first_seq, last_seq: their numbers on that tablet, 0 if unknown.
    since: from when on they may be, as far as the office can tell. people: the names of who worked there since.
    """

    id: str
    tablet: str
    kind: AlarmKind
    raised_at: datetime
    since: datetime | None
    count: int
    first_seq: int
    last_seq: int
    people: tuple[str, ...] = ()
    job: str = ""
    settled_at: datetime | None = None
    settled_by: str = ""
    settled_because: str = ""


class LiftKind(StrEnum):
    TWO_POST = "two_post"
    FOUR_POST = "four_post"
    SCISSOR = "scissor"
    DRIVE_ON = "drive_on"
    FLAT = "flat"


@dataclass(frozen=True, slots=True)
class Bay:
    """A place to work. A flat bay has no lift: its capacity is that of its stands. A lift is inspected yearly.

    lift_tool: the lift in the tool crib; what it carries and when it was inspected are then the crib's.
    """

    id: str
    name: str
    lift: LiftKind
    capacity_g: int
    inspected_on: date | None
    active: bool = True
    lift_tool: str | None = None


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


def found_first(lines: Iterable[JobLine]) -> tuple[JobLine, ...]:
    """The lines as sheet, estimate and letter give them: what finds the fault before what mends it, else as ordered."""
    return tuple(sorted(lines, key=lambda line: line.procedure != "inspection"))


# How the id of a job begins that tracing opened.
RECHECK = "recheck-"


@dataclass(frozen=True, slots=True)
class Job:
    """`complaint` is in the customer's words; in the workshop's where it called the vehicle in.

    `number` is what people say aloud.

    comeback_of: the id of the earlier job whose complaint this is again, as said at the intake; "" otherwise.
    """

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
    comeback_of: str = ""

    @property
    def is_called_in(self) -> bool:
        """The workshop asked for the vehicle, and the complaint is in its words and not in the customer's."""
        return self.id.startswith(RECHECK)


class ReminderKind(StrEnum):
    """retorque: wheels to be torqued again. calibrate: a calibration that was not finished. watch: a part that was
    found worth watching."""

    RETORQUE = "retorque"
    CALIBRATE = "calibrate"
    WATCH = "watch"


@dataclass(frozen=True, slots=True)
class Reminder:
    """Something to call a customer about after a handback. It stands until somebody marks it done by name.

    id:     the job's and the step's, so that the same job gives the same reminders however often they are made.
    due_on: the day it is due at the latest; due_km: what the odometer shows then, where it was noted at the intake.
    """

    id: str
    job: str
    vehicle: str
    kind: ReminderKind
    what: str
    due_on: date
    due_km: int | None
    made_at: datetime
    done_at: datetime | None = None
    done_by: str | None = None
    done_words: str = ""


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
    LIFT = "lift"


@dataclass(frozen=True, slots=True)
class Tool:
    """A tool by its tag. For a wrench low/high are mN·m and unit its scale; otherwise `rating` is g or mN by kind.

    type:       a wrench's type and class by ISO 6789 ("II A"); a compressor's kind; "" when not known.
    checked_on: the day it was last found good: calibrated, or inspected.
    cycles:     a wrench's uses since then, where somebody counts them.
    fault:      why it is tagged out, in words; "" when it may be used.
    """

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
    type: str = ""
    checked_on: date | None = None
    cycles: int | None = None


@dataclass(frozen=True, slots=True)
class CalibrationPoint:
    """One reading of a calibration, as found: what the wrench was set to (or showed), and what was measured.

    Torques in mN·m beside the text as typed. deviation_ppm: (set - measured)/measured, the sign of ISO 6789.
    """

    set_mnm: int
    set_text: str
    measured_mnm: int
    measured_text: str
    deviation_ppm: int


@dataclass(frozen=True, slots=True)
class Calibration:
    """A wrench's calibration as its certificate says. Never changed: a mistake is another one of the same day.

    passes:      every reading as found lies within what is allowed (`allowed_ppm` either way).
    adjusted:    it was set right afterwards and found true, so that it may be used again though it did not pass.
    certificate: the SHA-256 of the certificate's file; "" when none was kept.
    good_on:     the day before it on which the wrench was last known to be good, by what was known when it was entered.
    """

    id: str
    tool: str
    done_on: date
    done_by: str
    document: str
    points: tuple[CalibrationPoint, ...]
    allowed_ppm: int
    passes: bool
    adjusted: bool
    due_on: date | None
    certificate: str
    certificate_name: str
    entered_by: str
    entered_at: datetime
    good_on: date | None = None


class Mishap(StrEnum):
    """What happens to a tool that nobody can see on it afterwards."""

    OVERLOAD = "overload"
    DROP = "drop"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class ToolEvent:
    """Something that happened to a tool. It is tagged out until somebody has looked: `seen_by`, and what was seen."""

    id: str
    tool: str
    kind: Mishap
    words: str
    torque_mnm: int | None
    torque_text: str
    reported_by: str
    reported_at: datetime
    seen_by: str | None = None
    seen_at: datetime | None = None
    seen_words: str = ""


@dataclass(frozen=True, slots=True)
class Loan:
    """Who has a tool and since when. A tool has one open loan at most."""

    id: str
    tool: str
    person: str
    taken_at: datetime
    given_back_at: datetime | None = None


class MessageState(StrEnum):
    """came_back: the mail server took it and somebody was told later that it did not arrive."""

    WAITING = "waiting"
    SENT = "sent"
    UNDELIVERABLE = "undeliverable"
    CAME_BACK = "came_back"


@dataclass(frozen=True, slots=True)
class PhotoNamed:
    """That an entry (`id`) names a photo, whatever became of the entry. Only such bytes are taken in and shown.

    here: its bytes have come whole. refused: the code of why they are never taken in; "" for all others.
    """

    id: str
    job: str
    sha256: str
    here: bool = False
    refused: str = ""


@dataclass(frozen=True, slots=True)
class OutgoingMessage:
    """A message in the outbox. `message_id` is its Message-ID however often it is tried, until it comes back.

    key: what it is about, unique ("handback:JOB:1"): asking twice for the same message gives the same row.
    came_back_…: when somebody noted that it came back, why by the returned message, and that person's id. They stay
                 when it is sent again, until it comes back again.
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
    came_back_at: datetime | None = None
    came_back_because: str = ""
    came_back_noted_by: str = ""
