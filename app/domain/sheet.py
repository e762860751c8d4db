"""A sheet: what replaying the ledger of one job gives. State only; how it changes is in `rules`.

Only what was touched is here, so the state stays small beside its packet. All instants are whole milliseconds UTC as
the office heard them. The JSON form is what both ends hash and compare.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from functools import cached_property
from hashlib import sha256
from json.encoder import encode_basestring
from typing import Any, TypeVar

from pydantic import TypeAdapter

from app.domain.canonical import canonical
from app.domain.packet import Axle, Packet, Pass, Support, Verdict


class Written:
    """A part of the state that writes itself once.

    Every entry writes the whole state anew, and most of it is the very objects of the entry before: keeping their text
    makes that eight times cheaper (60 steps done, 38 kB: 0.93 ms to 0.11 ms).
    """

    @cached_property
    def text(self) -> str:
        """Canonical JSON."""
        return canonical(_PARTS[type(self)].dump_python(self, mode="json")).decode()


@dataclass(frozen=True, slots=True)
class Mark:
    """Who, when, by which entry."""

    person: str
    name: str
    at_ms: int
    entry: str


@dataclass(frozen=True, slots=True)
class Taken:
    """A measured value with what was typed. `within` is None where nothing limits it."""

    mark: Mark
    value: int
    text: str
    unit: str
    within: bool | None = None


@dataclass(frozen=True, slots=True)
class Signature:
    """A fastener's sign-off. `values` are at the fastener: mN·m after the sum for an extension, or mdeg for a turn."""

    mark: Mark
    tighten: Pass
    texts: tuple[str, ...] = ()
    values: tuple[int, ...] = ()
    wrench: str = ""
    extension_um: int = 0
    extension_deg: int = 0
    new_part: bool = False


@dataclass(frozen=True, slots=True)
class Outcome:
    """A test's result: the observation chosen, the verdict, the reason."""

    mark: Mark
    choice: str
    verdict: Verdict
    reason: str


@dataclass(frozen=True, slots=True)
class Note:
    mark: Mark
    text: str
    photo: str = ""


@dataclass(frozen=True)
class StepNow(Written):
    """A touched step. What a reopening set back is in the ledger, counted for nothing here."""

    done: Mark | None = None
    readings: Mapping[str, Taken] = field(default_factory=dict)
    signatures: Mapping[str, Signature] = field(default_factory=dict)
    counters: Mapping[str, Signature] = field(default_factory=dict)
    seen: Mark | None = None
    seen_text: str = ""
    outcome: Outcome | None = None
    new_parts: tuple[str, ...] = ()
    notes: tuple[Note, ...] = ()
    reopened: tuple[Note, ...] = ()


@dataclass(frozen=True, slots=True)
class Said:
    """An answer given at a gate, as typed, and whether it lets the gate open."""

    choice: str
    ready: bool | None
    value: int | None
    text: str
    passes: bool
    entry: str
    at_ms: int


@dataclass(frozen=True)
class GateNow(Written):
    """A gate being answered or cleared: by one person, in one support state. `revision` counts changes.

    began_at_ms is when the oldest of its answers was given: from there its time runs. A hand-over ends it for everyone.
    """

    person: str
    name: str
    support_revision: int
    began_at_ms: int
    answers: Mapping[str, Said] = field(default_factory=dict)
    cleared_at_ms: int | None = None
    revision: int = 1
    handed_over: bool = False


@dataclass(frozen=True, slots=True)
class SupportNow:
    """How the vehicle is held now. Revision 0: nobody has said yet; it came in on its wheels."""

    state: Support = Support.ON_WHEELS
    axle: Axle = Axle.BOTH
    bears: str = ""
    revision: int = 0
    mark: Mark | None = None


@dataclass(frozen=True)
class Hold(Written):
    """A hold tag. step "" holds the whole sheet."""

    mark: Mark
    step: str
    reason: str
    lifted: Mark | None = None
    lifted_reason: str = ""


@dataclass(frozen=True)
class Aside(Written):
    """An entry set aside: kept, shown, counting for nothing, until a named person settles it."""

    mark: Mark
    kind: str
    step: str
    target: str
    reason: str
    details: Mapping[str, str | int]
    settled: Mark | None = None
    outcome: str = ""
    settled_reason: str = ""


@dataclass(frozen=True, slots=True)
class HandOver:
    mark: Mark
    to: str
    to_name: str
    note: str


@dataclass(frozen=True)
class Sheet:
    """The state of one job's sheet.

    entries:     counts every entry heard, accepted or set aside.
    editions:    hashes of the packets pinned so far; the place in the list, from 1, is the edition.
    gates_since: gate id -> the edition since which it reads as it does now, where that is not its first.
    """

    job: str
    packet: Packet | None = None
    entries: int = 0
    support: SupportNow = field(default_factory=SupportNow)
    steps: Mapping[str, StepNow] = field(default_factory=dict)
    gates: Mapping[str, GateNow] = field(default_factory=dict)
    holds: Mapping[str, Hold] = field(default_factory=dict)
    asides: Mapping[str, Aside] = field(default_factory=dict)
    hand_overs: tuple[HandOver, ...] = ()
    notes: tuple[Note, ...] = ()
    handed_back: Mark | None = None
    handed_back_note: str = ""
    editions: tuple[str, ...] = ()
    gates_since: Mapping[str, int] = field(default_factory=dict)

    def step(self, step_id: str) -> StepNow:
        return self.steps.get(step_id, _UNTOUCHED)

    def with_step(self, step_id: str, now: StepNow) -> Sheet:
        return replace(self, steps={**self.steps, step_id: now})

    def holds_on(self, step_id: str) -> Iterator[tuple[str, Hold]]:
        """The hold tags hung on this step (or, for "", on the whole sheet), those taken off again too."""
        return ((key, hold) for key, hold in in_order(self.holds) if hold.step in ("", step_id))

    def open_hold(self, step_id: str) -> tuple[str, Hold] | None:
        """The hold tag that stops this step (or, for "", the whole sheet), if one hangs."""
        return next(((key, hold) for key, hold in self.holds_on(step_id) if hold.lifted is None), None)

    def as_json(self) -> dict[str, Any]:
        """The plain state; the packet by its hash."""
        state: dict[str, Any] = _STATE.dump_python(_state_of(self), mode="json")
        return state

    @cached_property
    def text(self) -> str:
        """Canonical JSON of the state: what is stored and hashed."""
        state = _state_of(self)
        parts = ((field.name, getattr(state, field.name)) for field in fields(state))
        return _object((name, _text(part)) for name, part in parts)

    @cached_property
    def hash(self) -> str:
        return sha256(self.text.encode()).hexdigest()


def _text(part: object) -> str:
    """Canonical JSON of a part of the state, from what its own parts have written already."""
    # Most of a state is empty most of the time, and it is written with every entry.
    if isinstance(part, (dict, tuple)) and not part:
        return "{}" if isinstance(part, dict) else "[]"
    if isinstance(part, Mapping) and part and all(isinstance(one, Written) for one in part.values()):
        return _object((key, one.text) for key, one in part.items())
    return canonical(part).decode()


def _object(members: Iterable[tuple[str, str]]) -> str:
    return "{" + ",".join(f"{encode_basestring(key)}:{text}" for key, text in sorted(members)) + "}"


_PARTS: dict[type, TypeAdapter[Any]] = {part: TypeAdapter(part) for part in (StepNow, GateNow, Hold, Aside)}
_UNTOUCHED = StepNow()
_Marked = TypeVar("_Marked", Signature, Hold, Aside)


def in_order(marked: Mapping[str, _Marked]) -> list[tuple[str, _Marked]]:
    """What was signed, hung or set aside as the office heard it; what was heard at one instant by its key.

    An object's own order does not count: a sheet read back has its keys sorted, and one replayed has them as they came.
    """
    return sorted(marked.items(), key=lambda item: (item[1].mark.at_ms, item[0]))


@dataclass(frozen=True)
class _State:
    """The sheet without its packet: what is stored and hashed."""

    job: str
    packet_hash: str
    entries: int
    support: SupportNow
    steps: Mapping[str, StepNow]
    gates: Mapping[str, GateNow]
    holds: Mapping[str, Hold]
    asides: Mapping[str, Aside]
    hand_overs: tuple[HandOver, ...]
    notes: tuple[Note, ...]
    handed_back: Mark | None
    handed_back_note: str
    editions: tuple[str, ...]
    gates_since: Mapping[str, int]


_STATE: TypeAdapter[_State] = TypeAdapter(_State)


def _state_of(sheet: Sheet) -> _State:
    return _State(
        job=sheet.job,
        packet_hash=sheet.packet.hash if sheet.packet else "",
        entries=sheet.entries,
        support=sheet.support,
        steps=sheet.steps,
        gates=sheet.gates,
        holds=sheet.holds,
        asides=sheet.asides,
        hand_overs=sheet.hand_overs,
        notes=sheet.notes,
        handed_back=sheet.handed_back,
        handed_back_note=sheet.handed_back_note,
        editions=sheet.editions,
        gates_since=sheet.gates_since,
    )


def sheet_from(data: Mapping[str, Any], packet: Packet | None) -> Sheet:
    """Put a stored state and its packet together again.

    Raises: pydantic.ValidationError for a form this version does not know.
    """
    state = _STATE.validate_python(data)
    return Sheet(
        job=state.job,
        packet=packet,
        entries=state.entries,
        support=state.support,
        steps=state.steps,
        gates=state.gates,
        holds=state.holds,
        asides=state.asides,
        hand_overs=state.hand_overs,
        notes=state.notes,
        handed_back=state.handed_back,
        handed_back_note=state.handed_back_note,
        editions=state.editions,
        gates_since=state.gates_since,
    )
