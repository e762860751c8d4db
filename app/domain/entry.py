"""An entry: one thing a person did to a sheet, in the form it is sent, kept and replayed.

The envelope is the same for every kind; the body has one small shape per kind, read strictly: whole numbers stay whole
numbers and an unknown key is an unknown form. An entry in a form this version does not know is kept whole and set
aside, so reading a body gives `None` rather than raising. The bounds here are those of `shared/contracts`.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import Annotated, Any, TypeAlias

from pydantic import ConfigDict, Field, StringConstraints, TypeAdapter
from pydantic.dataclasses import dataclass as checked

from app.domain.canonical import LARGEST_WHOLE, NotCanonical, canonical
from app.domain.packet import Axle, Support, Verdict

ENTRY_FORM = 1
TEXT_LIMIT = 2_000
LIST_LIMIT = 50

# Names of things: no spaces and nothing beyond ASCII, so that both ends sort and compare them alike.
Name: TypeAlias = Annotated[str, StringConstraints(pattern=r"^[!-~]{1,100}$")]
NameOrNone: TypeAlias = Annotated[str, StringConstraints(pattern=r"^[!-~]{0,100}$")]
Sha256: TypeAlias = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
Whole: TypeAlias = Annotated[int, Field(strict=True, ge=-LARGEST_WHOLE, le=LARGEST_WHOLE)]


class Kind(StrEnum):
    """What was done, in the past tense."""

    PACKET_PINNED = "packet_pinned"
    GATE_ANSWERED = "gate_answered"
    READING_TAKEN = "reading_taken"
    SIGNED_OFF = "signed_off"
    COUNTERSIGNED = "countersigned"
    STEP_DONE = "step_done"
    STEP_REOPENED = "step_reopened"
    SUPPORT_CHANGED = "support_changed"
    HOLD_PLACED = "hold_placed"
    HOLD_LIFTED = "hold_lifted"
    HANDED_OVER = "handed_over"
    TEST_RECORDED = "test_recorded"
    NOTE_ADDED = "note_added"
    PHOTO_ADDED = "photo_added"
    SETTLED = "settled"
    HANDED_BACK = "handed_back"


@dataclass(frozen=True, slots=True)
class Basis:
    """What the person saw when doing it: the packet's hash, the revisions, the hold tags. `None` where none was shown.

    holds: the ids of all hold tags on the sheet as it was shown, those taken off again too.
    """

    packet: NameOrNone = ""
    step_revision: Whole | None = None
    support_revision: Whole | None = None
    gate_revision: Whole | None = None
    holds: Annotated[tuple[Name, ...], Field(max_length=1_000)] | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """`seq` is gapless per tablet. `noted_at_ms` is its own clock (UTC, ms since 1970): kept, never trusted."""

    v: Whole
    id: Name
    tablet: Name
    seq: Whole
    job: Name
    kind: Name
    body: Mapping[str, Any]
    person: Name
    noted_at_ms: Whole
    basis: Basis = field(default_factory=Basis)
    clock_offset_ms: Whole = 0
    bundle: NameOrNone = ""


@dataclass(frozen=True)
class Heard:
    """An entry as the office heard it: its place in the one order, when, and who the person was at that moment."""

    entry: Entry
    order: int
    heard_at_ms: int
    name: str
    roles: tuple[str, ...]

    @cached_property
    def body(self) -> Body | None:
        """The entry's body in its kind's shape, read once: who rules on it and what it changes ask for the same."""
        return read_body(self.entry)


_BOUNDED = ConfigDict(extra="forbid", str_max_length=TEXT_LIMIT)


@checked(frozen=True, config=_BOUNDED)
class Reading:
    """A value in its dimension's small unit, beside the text and unit as typed."""

    value: Whole
    text: str = ""
    unit: str = ""

    @property
    def typed(self) -> str:
        return f"{self.text} {self.unit}".strip()


@checked(frozen=True, config=_BOUNDED)
class Extension:
    """A crow-foot or extension on the wrench: length drive to fastener, whole degrees out of line (0 in line)."""

    length_um: Whole
    angle_deg: Whole = 0


@checked(frozen=True, config=_BOUNDED)
class Answer:
    """An answer to a gate's check: the observation chosen, a number, or yes/no, by the check's kind."""

    choice: str = ""
    ready: bool | None = None
    value: Whole | None = None
    text: str = ""
    unit: str = ""


@checked(frozen=True, config=ConfigDict(extra="forbid"))
class PacketPinned:
    packet: dict[str, Any]


@checked(frozen=True, config=_BOUNDED)
class GateAnswered:
    gate: str
    answers: Annotated[dict[str, Answer], Field(max_length=LIST_LIMIT)]


@checked(frozen=True, config=_BOUNDED)
class ReadingTaken:
    """trace: what a tablet's motion sensor wrote beside it (`domain.bounce`), "" for most."""

    step: str
    measure: str
    reading: Reading
    trace: Annotated[str, Field(exclude_if=lambda text: text == "")] = ""


@checked(frozen=True, config=_BOUNDED)
class SignedOff:
    """One reading per stage of the figure; none for a snug pass. The reading is what the wrench said."""

    step: str
    fastener: str
    readings: Annotated[tuple[Reading, ...], Field(max_length=LIST_LIMIT)] = ()
    wrench: str = ""
    extension: Extension | None = None
    new_part: bool = False


@checked(frozen=True, config=_BOUNDED)
class Countersigned:
    """A second person's own reading of a fastener, or (fastener "") own look at a step, in words."""

    step: str
    fastener: str = ""
    readings: Annotated[tuple[Reading, ...], Field(max_length=LIST_LIMIT)] = ()
    wrench: str = ""
    extension: Extension | None = None
    seen: str = ""


@checked(frozen=True, config=_BOUNDED)
class StepDone:
    step: str
    new_parts: Annotated[tuple[str, ...], Field(max_length=LIST_LIMIT)] = ()


@checked(frozen=True, config=_BOUNDED)
class StepReopened:
    step: str
    reason: str


@checked(frozen=True, config=_BOUNDED)
class SupportChanged:
    state: Support
    axle: Axle
    bears: str = ""


@checked(frozen=True, config=_BOUNDED)
class HoldPlaced:
    """A hold tag on a step, or (step "") on the whole sheet."""

    reason: str
    step: str = ""


@checked(frozen=True, config=_BOUNDED)
class HoldLifted:
    hold: str
    reason: str


@checked(frozen=True, config=_BOUNDED)
class HandedOver:
    to: str
    to_name: str
    note: str = ""


@checked(frozen=True, config=_BOUNDED)
class TestRecorded:
    step: str
    choice: str
    verdict: Verdict
    reason: str = ""


@checked(frozen=True, config=_BOUNDED)
class NoteAdded:
    text: str
    step: str = ""


@checked(frozen=True, config=_BOUNDED)
class PhotoAdded:
    """A photo, by the SHA-256 of its bytes; the bytes travel apart, so that a full tablet never blocks a sign-off."""

    sha256: Sha256
    name: str
    step: str = ""


@checked(frozen=True, config=_BOUNDED)
class Settled:
    """How a named person settled what was set aside: do it again, or keep it as a note. It never comes to count."""

    aside: str
    outcome: str
    reason: str


@checked(frozen=True, config=_BOUNDED)
class HandedBack:
    note: str = ""


Body: TypeAlias = (
    PacketPinned
    | GateAnswered
    | ReadingTaken
    | SignedOff
    | Countersigned
    | StepDone
    | StepReopened
    | SupportChanged
    | HoldPlaced
    | HoldLifted
    | HandedOver
    | TestRecorded
    | NoteAdded
    | PhotoAdded
    | Settled
    | HandedBack
)

_KIND_BY_TYPE: dict[type, Kind] = {
    PacketPinned: Kind.PACKET_PINNED,
    GateAnswered: Kind.GATE_ANSWERED,
    ReadingTaken: Kind.READING_TAKEN,
    SignedOff: Kind.SIGNED_OFF,
    Countersigned: Kind.COUNTERSIGNED,
    StepDone: Kind.STEP_DONE,
    StepReopened: Kind.STEP_REOPENED,
    SupportChanged: Kind.SUPPORT_CHANGED,
    HoldPlaced: Kind.HOLD_PLACED,
    HoldLifted: Kind.HOLD_LIFTED,
    HandedOver: Kind.HANDED_OVER,
    TestRecorded: Kind.TEST_RECORDED,
    NoteAdded: Kind.NOTE_ADDED,
    PhotoAdded: Kind.PHOTO_ADDED,
    Settled: Kind.SETTLED,
    HandedBack: Kind.HANDED_BACK,
}
_BODIES: dict[str, TypeAdapter[Any]] = {kind: TypeAdapter(shape) for shape, kind in _KIND_BY_TYPE.items()}
_ENTRY: TypeAdapter[Entry] = TypeAdapter(Entry)


def read_body(entry: Entry) -> Body | None:
    """Give the entry's body in its kind's shape, or `None` when this version does not know the form."""
    adapter = _BODIES.get(entry.kind)
    if adapter is None or entry.v != ENTRY_FORM:
        return None
    try:
        # JSON strictness: a whole number stays one, text is not a number, and yes is not 1.
        return adapter.validate_json(json_bytes(entry.body), strict=True)  # type: ignore[no-any-return]
    except (ValueError, TypeError, RecursionError):
        # ValueError has pydantic's ValidationError, a NaN and a lone surrogate under it; the others are a body that no
        # JSON can be: keys that are no text, or nesting without end.
        return None


_BODY = json.JSONEncoder(ensure_ascii=False, allow_nan=False)


def json_bytes(body: Mapping[str, Any]) -> bytes:
    """A body as JSON bytes, so that reading it follows JSON's own idea of types."""
    return _BODY.encode(body).encode()


def entry_json(entry: Entry) -> dict[str, Any]:
    return _ENTRY.dump_python(entry, mode="json")  # type: ignore[no-any-return]


def entry_from(data: Mapping[str, Any]) -> Entry:
    """Read an envelope. Keys it does not know are left to the raw bytes that are kept beside it.

    Raises: pydantic.ValidationError when the envelope itself is not one.
    """
    return _ENTRY.validate_python(data)


def entry_in_part(data: Mapping[str, Any]) -> Entry | None:
    """An envelope that cannot be read whole, with what of it says whose it is; None when not even that can be read.

    It reads as a form nobody knows (`v` 0), so it is kept and set aside, whatever its body says.
    """
    try:
        named = _NAMED.validate_python(data)
    except ValueError:
        return None
    body = data.get("body")
    return Entry(
        v=0,
        id=named.id,
        tablet=named.tablet,
        seq=named.seq,
        job=named.job,
        kind=named.kind,
        body=body if isinstance(body, dict) else {},
        person=named.person,
        noted_at_ms=0,
    )


def entry_kept(raw: str, *, id: str, tablet: str, seq: int, job: str, kind: str, person: str) -> Entry:
    """An entry from the text it is kept by; what of its envelope cannot be read is taken from what stands beside it."""
    try:
        data = json.loads(raw)
    except ValueError:
        data = {}
    if not isinstance(data, dict):
        data = {}
    beside = (id, tablet, seq, job, kind, person)
    try:
        entry = entry_from(data)
    except ValueError:
        return _of_unknown_form(data, *beside)
    same = (entry.id, entry.tablet, entry.seq, entry.job, entry.kind, entry.person) == beside
    return entry if same else _of_unknown_form(data, *beside)


def _of_unknown_form(data: dict[str, Any], id: str, tablet: str, seq: int, job: str, kind: str, person: str) -> Entry:
    body, form = data.get("body"), _whole(data, "v")
    return Entry(
        # What claims a form that is known, and cannot be read, is none of that form.
        v=0 if form == ENTRY_FORM else form,
        id=id,
        tablet=tablet,
        seq=seq,
        job=job,
        kind=kind,
        body=body if isinstance(body, dict) else {},
        person=person,
        noted_at_ms=_whole(data, "noted_at_ms"),
        basis=Basis(),
        clock_offset_ms=_whole(data, "clock_offset_ms"),
        bundle=data["bundle"] if isinstance(data.get("bundle"), str) else "",
    )


def _whole(data: Mapping[str, Any], name: str) -> int:
    value = data.get(name)
    return value if isinstance(value, int) and not isinstance(value, bool) else 0


def kept_text(envelope: Mapping[str, Any]) -> str:
    """The text an envelope is kept by: canonical where it can be, else in ASCII, which holds what no UTF-8 can."""
    try:
        return canonical(envelope).decode()
    except (NotCanonical, UnicodeError):
        return json.dumps(envelope, sort_keys=True, separators=(",", ":"))


@checked(frozen=True)
class _Named:
    """What an entry has to say of itself before it can be kept under its own name and number."""

    id: Name
    tablet: Name
    seq: Whole
    job: Name
    kind: Name
    person: Name


_NAMED: TypeAdapter[_Named] = TypeAdapter(_Named)


def body_json(body: Body) -> dict[str, Any]:
    """The plain form of a body, for building an entry."""
    return _BODIES[kind_of(body)].dump_python(body, mode="json")  # type: ignore[no-any-return]


def kind_of(body: Body) -> Kind:
    return _KIND_BY_TYPE[type(body)]
