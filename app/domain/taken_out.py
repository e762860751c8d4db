"""What a take-out holds, and how a record becomes a line of it and back. The form: `shared/contracts/take_out.md`.

Every table of the store has a fate here: it is carried, made anew from what is carried, or left behind with a reason.
A test walks the tables, so that a new register cannot be forgotten.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from datetime import UTC, date, datetime
from enum import Enum
from functools import lru_cache
from typing import Any

from pydantic import TypeAdapter, ValidationError

from app.domain import records
from app.domain.canonical import Json, canonical
from app.domain.estimate import Answer, Estimate, ShopPrices
from app.domain.handback import Consent, HandbackEdition, HandbackPrint, Retorque
from app.domain.readiness import ReadinessCheck

FORMAT = 1

# Registers by the name they have in `ports.Unit`, in the order they are taken in: what is referred to comes first.
CARRIED: Mapping[str, type] = {
    "shops": records.Shop,
    "people": records.Person,
    "customers": records.Customer,
    "vehicles": records.Vehicle,
    "tools": records.Tool,
    "bays": records.Bay,
    "tablets": records.Tablet,
    "tablet_people": records.TabletPerson,
    "tablet_alarms": records.TabletAlarm,
    "readiness": ReadinessCheck,
    "jobs": records.Job,
    "placements": records.Placement,
    "reminders": records.Reminder,
    "figures": records.FigureRecord,
    "figure_choices": records.FigureChoice,
    "figure_imports": records.FigureImport,
    "calibrations": records.Calibration,
    "tool_events": records.ToolEvent,
    "loans": records.Loan,
    "photos": records.PhotoNamed,
    "outbox": records.OutgoingMessage,
    "prices": ShopPrices,
    "estimates": Estimate,
    "answers": Answer,
    "consents": Consent,
    "retorques": Retorque,
    "handbacks": HandbackEdition,
    "handback_prints": HandbackPrint,
}
# Tables that are no registers and have a file of their own.
CARRIED_APART: Mapping[str, str] = {
    "ledger": "ledger.jsonl",
    "ledger_heads": "ledger.jsonl: the head is its last row",
    "packets": "packets.jsonl",
    "counters": "counters.jsonl",
}
REBUILT: Mapping[str, str] = {
    "sheets": "what the ledger's entries lead to",
    "uses": "what the ledger says of wrenches and figures",
    "search_texts": "what records and sheets are found by",
    "search_index": "the index over those, as SQLite keeps it",
}
LEFT_BEHIND: Mapping[str, str] = {
    "sign_ins": "whoever is signed in at a browser signs in again",
    "enrolment_codes": "a code makes a tablet of one installation, for ten minutes",
}


@dataclass(frozen=True, slots=True)
class LedgerLine:
    """A row of the ledger. `raw` is the entry exactly as it came; `hash` chains the row to `previous`."""

    order: int
    entry_id: str
    tablet: str
    seq: int
    job: str
    kind: str
    person: str
    name: str
    roles: tuple[str, ...]
    heard_at_ms: int
    raw: str
    accepted: bool
    reason: str
    details: dict[str, str | int]
    previous: str
    hash: str


@dataclass(frozen=True, slots=True)
class PacketLine:
    """A packet under its hash: SHA-256 of the canonical JSON of `packet`."""

    hash: str
    packet: dict[str, Any]


@dataclass(frozen=True, slots=True)
class CounterLine:
    """The last number taken of a counter."""

    name: str
    value: int


@dataclass(frozen=True, slots=True)
class FileLine:
    """A file of the take-out: its path with slashes, how many bytes it has, and their SHA-256."""

    path: str
    bytes: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Manifest:
    """What a take-out holds. Two take-outs of equal content have equal manifests, so it names no day.

    format:   of the take-out; this is 1. database: the form of the database it came from, its newest migration.
    entries, head: how many rows the ledger has, and the hash of the last ("" where there is none).
    files:    everything beside the manifest, by path.
    missing:  paths of photos and papers that records name and that were not there, whole, when this was taken out.
    """

    format: int
    database: str
    entries: int
    head: str
    files: tuple[FileLine, ...]
    missing: tuple[str, ...] = ()


class NotInForm(ValueError):
    """A line is not in the form of what it ought to hold; says where and why."""


def without_credentials(record: Any) -> Any:
    """A record as it leaves: a tablet's secret stays behind, even as a hash, so the tablet is enrolled anew."""
    return replace(record, secret_hash="") if isinstance(record, records.Tablet) else record


def line_of(record: Any) -> bytes:
    """A record as one line of canonical JSON, with its end."""
    return canonical(plain(record)) + b"\n"


def record_from(kind: type, line: bytes, *, exact: bool = True) -> Any:
    """The record on a line.

    exact:  whether the line has to be what `line_of` makes of the record read from it: a key nobody knows, a number
            written otherwise, an instant without its zone would be lost or altered.
    Raises: NotInForm.
    """
    try:
        record = _reader(kind).validate_json(line, strict=True)
    except ValidationError as wrong:
        first = wrong.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        raise NotInForm(f"{where}: {first['msg']}" if where else str(first["msg"])) from wrong
    if exact and line_of(record) != line.rstrip(b"\n") + b"\n":
        raise NotInForm("it is not written as a take-out writes it")
    return record


@lru_cache
def _reader(kind: type) -> TypeAdapter[Any]:
    return TypeAdapter(kind)


def schema_of(kind: type) -> dict[str, Any]:
    """JSON Schema of a line."""
    return _reader(kind).json_schema()


def plain(value: Any) -> Json:
    """A record as plain JSON: instants in UTC to the microsecond, days, sets sorted; otherwise as `canonical`."""
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, frozenset):
        return sorted(plain(one) for one in value)  # type: ignore[type-var]
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(one) for key, one in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, (str, bytes)):
        return [plain(one) for one in value]
    return value  # type: ignore[no-any-return]


# --- Paths -----------------------------------------------------------------------------------------------------------

MANIFEST = "manifest.json"
LEDGER, PACKETS, COUNTERS = "ledger.jsonl", "packets.jsonl", "counters.jsonl"
PHOTOS, PAPERS = "photos", "papers"


def records_path(register: str) -> str:
    return f"records/{register}.jsonl"


def file_path(room: str, sha256: str) -> str:
    """Where a photo or a paper stands. `room` is PHOTOS or PAPERS."""
    return f"{room}/{sha256[:2]}/{sha256}"


def needed_paths() -> tuple[str, ...]:
    """The files every take-out has, empty or not."""
    return (*(records_path(name) for name in CARRIED), LEDGER, PACKETS, COUNTERS)


def lines_in() -> Mapping[str, type]:
    """What each line of each of these files is."""
    return {
        **{records_path(name): kind for name, kind in CARRIED.items()},
        LEDGER: LedgerLine,
        PACKETS: PacketLine,
        COUNTERS: CounterLine,
    }
