"""What use cases need from outside, as Protocols. `storage` and `mail` implement them; tests have their own.

A `Store` hands out a `Unit`: one transaction with every register in it. Leaving it without `commit()` changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol, TypeVar

from app.domain import records
from app.domain.entry import Heard
from app.domain.estimate import Answer, Estimate, ShopPrices
from app.domain.handback import Consent, Drawn, HandbackEdition, HandbackPrint, Retorque
from app.domain.packet import Packet
from app.domain.readiness import ReadinessCheck
from app.domain.sheet import Sheet
from app.domain.uses import Use

R = TypeVar("R")

Clock = Callable[[], datetime]
NewId = Callable[[], str]


class Register(Protocol[R]):
    """A set of records with an `id`. Order of `all` is the order they were added in."""

    def get(self, key: str) -> R | None: ...

    def add(self, record: R) -> None:
        """Raises: AlreadyThere when the id, or another field that has to be unique, is taken."""

    def add_all(self, records: Sequence[R]) -> None:
        """Add many at once. Raises: as `add`; then the unit is to be left without committing."""

    def save(self, record: R) -> None:
        """Replace the record with this id. Raises: NotFound."""

    def save_all(self, records: Sequence[R]) -> None:
        """Replace many at once. Raises: as `save`; then the unit is to be left without committing."""

    def all(self) -> Sequence[R]: ...

    def where(self, **equals: object) -> Sequence[R]:
        """The records whose named fields equal the values given, in the order they were added."""


class Added(Protocol[R]):
    """A set of records that is only ever added to. Otherwise as a `Register`."""

    def get(self, key: str) -> R | None: ...

    def add(self, record: R) -> None:
        """Raises: AlreadyThere."""

    def all(self) -> Sequence[R]: ...

    def where(self, **equals: object) -> Sequence[R]: ...


@dataclass(frozen=True, slots=True)
class LedgerRow:
    """A heard entry with its first ruling, chained: `hash` = SHA-256 over `previous` and the row's canonical form.

    `raw` is the entry exactly as it came, so that an unknown form is kept whole.
    """

    heard: Heard
    raw: str
    accepted: bool
    reason: str
    details: dict[str, str | int]
    previous: str
    hash: str


@dataclass(frozen=True, slots=True)
class LedgerMark:
    """How far one job's rows have come: its last row's order number, hash and instant."""

    order: int
    hash: str
    heard_at_ms: int


class Ledger(Protocol):
    """Only ever added to. The order numbers are gapless and are the commit order."""

    def find(self, entry_id: str) -> LedgerRow | None: ...

    def next_order(self) -> tuple[int, str]:
        """The order number the next row gets, and the hash it is chained to. Holds the write lock until the end."""

    def append(self, row: LedgerRow) -> None:
        """Raises: AlreadyThere for an id, or a (tablet, seq), that is there already."""

    def of_job(self, job: str) -> Sequence[LedgerRow]: ...

    def last_of(self, jobs: Sequence[str]) -> Mapping[str, LedgerMark]:
        """The last row of each of these jobs that has any."""

    def walk(self, after: int = 0, limit: int = 1_000) -> Sequence[LedgerRow]:
        """Rows with an order number beyond `after`, lowest first."""

    def count(self) -> int: ...

    def head(self) -> tuple[int, str]:
        """How far the ledger had come by its own account: the last order number and hash (0 and "" before any)."""


class Sheets(Protocol):
    """Current states: can be rebuilt from the ledger at any time, and a command does so."""

    def get(self, job: str) -> Sheet | None: ...

    def heads(self, jobs: Sequence[str]) -> Mapping[str, tuple[str, str]]:
        """The hash of the state and of the packet ("" before one is pinned) of each of these jobs that has a sheet."""

    def put(self, sheet: Sheet) -> None: ...

    def put_packet(self, packet: Packet) -> None: ...

    def packet(self, packet_hash: str) -> Packet | None: ...

    def packet_hashes(self) -> Sequence[str]:
        """The hash of every packet that is kept, sorted."""


@dataclass(frozen=True, slots=True)
class Whose:
    """A job with the vehicle and the customer it is about, as far as somebody who has to call needs it."""

    job: str
    number: str
    state: str
    vehicle: str
    plate: str
    model: str
    customer: str
    phone: str
    email: str


class Uses(Protocol):
    """What the ledger says of wrenches and figures (`domain.uses`): made from it, and made anew by `rebuild`."""

    def add(self, uses: Sequence[Use]) -> None:
        """Add the rows of one entry. A sign-off replaces what was signed at the same joint before."""

    def of_tool(self, tag: str, since_ms: int) -> tuple[Sequence[Use], Mapping[str, Whose]]:
        """What was read off a tool from an instant on, in the order heard, and whose jobs these are."""

    def of_figure(self, figure: str) -> tuple[Sequence[Use], Mapping[str, Whose]]:
        """What was signed against a figure, in the order heard, and whose jobs these are."""

    def of_job(self, job: str) -> Sequence[Use]: ...

    def has_tool(self, tag: str) -> bool: ...

    def between(self, after: int, up_to: int) -> Sequence[Use]:
        """Rows of the entries after one order number up to and with another, in the order heard."""

    def clear(self) -> None: ...


@dataclass(frozen=True, slots=True)
class Hit:
    """A job that a search found, with its vehicle and customer; or a vehicle with its owner (`job` is "" then)."""

    job: str
    number: str
    state: str
    opened_at: datetime | None
    complaint: str
    comeback_of: str
    vehicle: str
    plate: str
    vin: str
    model: str
    customer: str


class Search(Protocol):
    """Jobs and vehicles by what is known of them (`domain.search_words`). The store keeps what they are found by in the
    transaction that changes it: nobody has to add to it."""

    def find(self, words: Sequence[str], limit: int) -> Sequence[Hit]:
        """What has a word beginning with each of these (as `asked_words` gives them), what was added last first."""

    def rebuild(self) -> None:
        """Make it anew from the records and the sheets as they stand in this transaction."""

    def is_behind(self) -> bool:
        """Whether nothing is kept to be found by and there are vehicles: a database from before there was a search."""

    def amiss(self) -> Sequence[str]:
        """The ids of jobs and vehicles that are kept to be found by other words than theirs."""


class Unit(Protocol):
    """One transaction. Registers are named for what they hold."""

    shops: Register[records.Shop]
    people: Register[records.Person]
    sign_ins: Register[records.SignIn]
    tablets: Register[records.Tablet]
    tablet_people: Register[records.TabletPerson]
    enrolment_codes: Register[records.EnrolmentCode]
    tablet_alarms: Register[records.TabletAlarm]
    readiness: Register[ReadinessCheck]
    bays: Register[records.Bay]
    customers: Register[records.Customer]
    vehicles: Register[records.Vehicle]
    jobs: Register[records.Job]
    placements: Register[records.Placement]
    reminders: Register[records.Reminder]
    figures: Register[records.FigureRecord]
    figure_choices: Register[records.FigureChoice]
    figure_imports: Register[records.FigureImport]
    tools: Register[records.Tool]
    calibrations: Register[records.Calibration]
    tool_events: Register[records.ToolEvent]
    loans: Register[records.Loan]
    photos: Register[records.PhotoNamed]
    outbox: Register[records.OutgoingMessage]
    prices: Added[ShopPrices]
    estimates: Added[Estimate]
    answers: Added[Answer]
    consents: Added[Consent]
    retorques: Added[Retorque]
    handbacks: Added[HandbackEdition]
    handback_prints: Added[HandbackPrint]
    ledger: Ledger
    sheets: Sheets
    uses: Uses
    search: Search

    def remove_sign_in(self, key: str) -> None: ...

    def remove_photo_named(self, key: str) -> None:
        """Of a photo that no entry names."""

    def take_number(self, counter: str) -> int:
        """The next number of a named counter, from 1, gapless, in this transaction."""

    def numbers(self) -> Mapping[str, int]:
        """The last number taken of each counter."""

    def begin_number(self, counter: str, last: int) -> None:
        """Let a counter that was never used go on after this number. Raises: AlreadyThere."""

    def due_messages(self, now: datetime, limit: int) -> Sequence[records.OutgoingMessage]:
        """Waiting messages whose time has come and that nobody has taken, oldest first."""

    def placements_between(self, begins: datetime, ends: datetime) -> Sequence[records.Placement]:
        """Placements, not withdrawn, that share any moment with this span, those that begin first first."""

    def newest_jobs(self, state: records.JobState, limit: int) -> Sequence[records.Job]:
        """The jobs in this state that were added last, the newest first."""

    def book_mark(self) -> str:
        """Tells one state of the figures from another: which there are, and whether each counts. Quick to ask."""

    def commit(self) -> None: ...


class Store(Protocol):
    def reading(self) -> AbstractContextManager[Unit]:
        """A transaction that only reads."""

    def writing(self) -> AbstractContextManager[Unit]:
        """A transaction that may write; it holds the write lock from its beginning."""


@dataclass(frozen=True, slots=True)
class Delivery:
    """What a mail server said. `kept` = accepted for delivery; `for_good` = it will never take this message."""

    kept: bool
    for_good: bool
    answer: str


@dataclass(frozen=True, slots=True)
class Letter:
    """A letter ready for the outbox, and as it is printed.

    paper: the HTML that is printed, with photos named by their hash; "" for a letter that is only mailed.
    drawings: what `html` and `paper` show as `cid:NAME`. language: the one it is written in.
    """

    subject: str
    text: str
    html: str
    paper: str = ""
    drawings: tuple[Drawn, ...] = ()
    language: str = "en"


@dataclass(frozen=True, slots=True)
class Enclosure:
    """A file that goes with a letter. `shown_as`: the name of a picture the letter shows within; "" for a file of its
    own."""

    name: str
    kind: str
    data: bytes
    shown_as: str = ""


@dataclass(frozen=True, slots=True)
class Paper:
    """What is printed: a letter's HTML, and the drawings (SVG) and photos it names. `made_at` is in the file."""

    title: str
    author: str
    language: str
    html: str
    drawings: tuple[Drawn, ...]
    photos: Mapping[str, bytes]
    made_at: datetime


@dataclass(frozen=True, slots=True)
class Printed:
    """A PDF. standard: "ua-1" where it is accessible by ISO 14289-1. left_out: photos that could not be printed."""

    pdf: bytes
    standard: str
    left_out: tuple[str, ...] = ()


class Printer(Protocol):
    def pdf(self, paper: Paper) -> Printed:
        """The letter as a PDF: the same paper gives the same bytes."""

    def png(self, svg: str) -> bytes:
        """A drawing as a picture."""


@dataclass(frozen=True, slots=True)
class Sender:
    """Who a letter comes from: the name people see, the address it is sent from, and where answers go."""

    name: str
    address: str
    reply_to: str


class Postman(Protocol):
    def deliver(
        self, message: records.OutgoingMessage, sender: Sender, enclosures: Sequence[Enclosure] = ()
    ) -> Delivery:
        """Hand one message over. Never raises for what a network or a mail server does."""


class Papers(Protocol):
    """Files that are kept as they came, by the SHA-256 of their bytes. What is kept once is never changed."""

    def keep(self, data: bytes) -> str:
        """Keep bytes; gives their SHA-256. The same bytes twice are kept once."""

    def read(self, sha256: str) -> bytes | None:
        """The bytes of this hash, whole and unaltered, or None."""

    def hashes(self) -> Sequence[str]:
        """Every hash that is kept, sorted."""


class Chest(Protocol):
    """Where a take-out is put down, file by file; a path has slashes and no file is put twice."""

    def put(self, path: str, pieces: Iterable[bytes]) -> tuple[int, str]:
        """Keep a file; gives how many bytes it has and their SHA-256. Raises: NoRoom."""


class OpenChest(Protocol):
    """A take-out as it is found: files by path, in pieces, as they are."""

    def read(self, path: str) -> Iterator[bytes] | None:
        """A file's bytes, or None where there is none of this path."""

    def paths(self) -> Sequence[str]:
        """Every file that is there, sorted."""


class Photos(Papers, Protocol):
    """Photos' bytes by their SHA-256: whole ones, and those that are still coming in pieces. `keep` raises NoRoom."""

    def has(self, sha256: str) -> bool:
        """Whether it is here whole."""

    def come(self, sha256: str) -> int:
        """How many bytes of one that is still coming are here."""

    def add_piece(self, sha256: str, offset: int, piece: bytes) -> int:
        """Add to the end of what has come, if the piece begins there; gives how much is here then.

        Raises: NoRoom, and then nothing of the piece is here.
        """

    def pieces(self, sha256: str) -> bytes: ...

    def drop_pieces(self, sha256: str) -> None: ...


class PinHasher(Protocol):
    def hash(self, pin: str) -> str: ...

    def matches(self, pin: str, pin_hash: str) -> bool: ...
