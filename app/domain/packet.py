"""A packet: everything a sheet needs, compiled from procedures and one vehicle's facts, pinned and hashed.

The same shape travels to the tablet, so every field is text, a whole number in a named small unit, true, false, or
lists and objects of these. What is *done* to a sheet is not here (that is `sheet`), nor how a packet is made
(`compiling`). Absent figures are `None`: a packet never guesses.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import Annotated, Any

from pydantic import Field, TypeAdapter

from app.domain.canonical import digest


class Support(StrEnum):
    """How the vehicle is held. Common practice, no source. A jack alone is not among them, on purpose."""

    ON_WHEELS = "on_wheels"
    ON_RAMP = "on_ramp"
    LIFT_FRAME = "lift_frame"
    STANDS_FRAME = "stands_frame"
    STANDS_ARM = "stands_arm"
    STANDS_AXLE = "stands_axle"


class Axle(StrEnum):
    FRONT = "front"
    REAR = "rear"
    BOTH = "both"


class CheckKind(StrEnum):
    """How a gate asks: an observation to choose, a number to enter, or a thing in place to confirm."""

    SEEN = "seen"
    VALUE = "value"
    READY = "ready"


class Signal(StrEnum):
    """Signal words of ANSI Z535.4, gravest first."""

    DANGER = "danger"
    WARNING = "warning"
    CAUTION = "caution"


class Pass(StrEnum):
    """Which tightening this is: drawn up so that it still turns, or to its figure."""

    SNUG = "snug"
    FINAL = "final"


class Verdict(StrEnum):
    SOUND = "sound"
    WATCH = "watch"
    REPLACE = "replace"


class PriceState(StrEnum):
    """How the price of a line stands with the customer."""

    NONE = ""  # nobody prices this work
    WAITING = "waiting"  # not answered, or not offered yet
    AGREED = "agreed"
    CHANGED = "changed"  # agreed, and then the price went further than may be passed without asking
    REFUSED = "refused"
    PUT_BACK = "put_back"  # refused after it was begun


@dataclass(frozen=True, slots=True)
class Choice:
    """One observation in words. `passes` is whether it lets the gate open (or, in a test, speaks for the part).

    until_ms: the instant from which it passes no longer: a tool's last day in date has ended. Left out of the plain
    form where there is none, so that a packet pinned before there was such a thing keeps its hash.
    """

    key: str
    words: str
    passes: bool
    until_ms: Annotated[int | None, Field(exclude_if=lambda until: until is None)] = None

    def passes_at(self, at_ms: int) -> bool:
        return self.passes and (self.until_ms is None or at_ms < self.until_ms)


@dataclass(frozen=True, slots=True)
class Reckoned:
    """A computed value shown at a gate or step: what it is, its text, from what, and how certain."""

    label: str
    text: str
    inputs: str
    certainty: str = ""


@dataclass(frozen=True, slots=True)
class Check:
    """One question of a gate.

    seen:  `choices`, of which those with `passes` open it.
    value: a number of `dimension`, at least/at most in its small unit. `needs_input` names the figure that is missing
           so that the limit could not be computed; such a check cannot pass. With `halve_unless` (check id, choice
           key) the value counts half unless that other check was answered so (a stand's label is read per pair
           unless it says each).
    ready: yes or no.
    """

    id: str
    kind: CheckKind
    ask: str
    otherwise: str
    choices: tuple[Choice, ...] = ()
    dimension: str = ""
    unit: str = ""
    at_least: int | None = None
    at_most: int | None = None
    halve_unless: tuple[str, str] | None = None
    limit_text: str = ""
    needs_input: str = ""


@dataclass(frozen=True, slots=True)
class Gate:
    """The checks in front of one or more steps. `id` is the instance on this sheet (`stands:front`), `key` the kind.

    supports: the states of support in which it is asked at all; none given means in every one. A step that may be
    done on a lift or on stands names both gates, and only the one that fits is asked.
    """

    id: str
    key: str
    title: str
    signal: Signal
    symbol: str
    intro: str
    checks: tuple[Check, ...]
    stale_after_s: int
    follows_support: bool
    reckoned: tuple[Reckoned, ...] = ()
    supports: tuple[Support, ...] = ()

    def is_asked(self, state: Support) -> bool:
        return not self.supports or state in self.supports


@dataclass(frozen=True, slots=True)
class Measure:
    """A value to record. Outside low..high it either keeps the step open (`must`) or is a finding."""

    id: str
    ask: str
    dimension: str
    unit: str
    must: bool = False
    required: bool = True
    low: int | None = None
    high: int | None = None
    window_text: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of a staged tightening: a torque window in mN·m, or a further turn in thousandths of a degree."""

    low_mnm: int | None = None
    target_mnm: int | None = None
    high_mnm: int | None = None
    low_mdeg: int | None = None
    target_mdeg: int | None = None
    high_mdeg: int | None = None
    text: str = ""


@dataclass(frozen=True, slots=True)
class Figure:
    """A torque figure with where it came from. It counts only once a second person compared it with its source."""

    id: str
    text: str
    unit: str
    stages: tuple[Stage, ...]
    source: str
    verified: bool
    thread: str = ""
    strength: str = ""
    lubrication: str = ""
    one_time: bool = False
    critical: bool = False


@dataclass(frozen=True, slots=True)
class Fastener:
    """A joint to tighten in one pass. `load_states` are the support states in which this pass counts."""

    id: str
    place: str
    tighten: Pass
    load_states: tuple[Support, ...]
    figure_key: str
    thread: str = ""
    strength: str = ""
    lubrication: str = ""
    one_time: bool = False
    critical: bool = False
    castellated: bool = False
    figure: Figure | None = None


@dataclass(frozen=True, slots=True)
class OneTime:
    """A part that is new every time: cotter pin, self-locking nut, stretch bolt."""

    id: str
    what: str


@dataclass(frozen=True, slots=True)
class Trial:
    """A test of a part: what may be observed, and for which part the verdict is given."""

    id: str
    part: str
    choices: tuple[Choice, ...]
    against: str = ""

    @property
    def is_question(self) -> bool:
        """Whether it only asks: nothing that may be chosen speaks against a part, so there is no verdict to give."""
        return all(one.passes for one in self.choices)


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do. `after` are the steps that must be done first; `revision` grows when the foreman changes it."""

    id: str
    line: str
    key: str
    title: str
    do: str
    why: str
    axle: Axle
    supports: tuple[Support, ...]
    corner: str = ""
    caution: str = ""
    gates: tuple[str, ...] = ()
    measures: tuple[Measure, ...] = ()
    fasteners: tuple[Fastener, ...] = ()
    one_time: tuple[OneTime, ...] = ()
    tools: tuple[str, ...] = ()
    trial: Trial | None = None
    after: tuple[str, ...] = ()
    countersign: bool = False
    photo: str = ""
    reckoned: tuple[Reckoned, ...] = ()
    revision: int = 1


@dataclass(frozen=True, slots=True)
class Line:
    """One procedure on one corner, axle or the whole vehicle.

    price: how its price stands with the customer, and under which edition of the estimate. Only `agreed`, and
    `put_back` (the customer said no after it was begun: joints are closed again), let its steps be recorded. Left out
    of the plain form where nobody prices the work, so that a packet pinned before there were prices keeps its hash.
    """

    id: str
    procedure: str
    version: int
    title: str
    axle: Axle
    corner: str = ""
    price: Annotated[PriceState, Field(exclude_if=lambda state: state == "")] = PriceState.NONE
    price_edition: Annotated[int, Field(exclude_if=lambda edition: edition == 0)] = 0


@dataclass(frozen=True, slots=True)
class Wrench:
    """A torque wrench as the tool crib knows it. `length_um` is grip to drive, for the sum with an extension.

    `due_on` is a date (YYYY-MM-DD): on that day it is still in date; "" when nobody wrote one down. `due_end_ms` is the
    instant that day ends by the shop's own time zone, so that neither end needs a time zone to rule; without it the day
    is taken as a UTC day. `fault` is a code when it may not be used.
    """

    tag: str
    name: str
    unit: str
    low_mnm: int
    high_mnm: int
    due_on: str
    length_um: int | None = None
    fault: str = ""
    due_end_ms: int | None = None


@dataclass(frozen=True)
class Packet:
    """What is pinned. `edition` counts from 1; `procedures` says which text each line was compiled from."""

    v: int
    job: str
    number: str
    edition: int
    vehicle: Mapping[str, str]
    layouts: Mapping[str, str]
    lines: tuple[Line, ...]
    steps: tuple[Step, ...]
    gates: tuple[Gate, ...]
    wrenches: tuple[Wrench, ...]
    procedures: Mapping[str, str]
    missing: tuple[str, ...] = field(default=())

    @cached_property
    def hash(self) -> str:
        return digest(self.as_json())

    @cached_property
    def step_by_id(self) -> Mapping[str, Step]:
        return {step.id: step for step in self.steps}

    @cached_property
    def line_by_id(self) -> Mapping[str, Line]:
        return {line.id: line for line in self.lines}

    @cached_property
    def gate_by_id(self) -> Mapping[str, Gate]:
        return {gate.id: gate for gate in self.gates}

    @cached_property
    def wrench_by_tag(self) -> Mapping[str, Wrench]:
        return {wrench.tag: wrench for wrench in self.wrenches}

    @cached_property
    def steps_of_line(self) -> Mapping[str, tuple[Step, ...]]:
        return {line.id: tuple(s for s in self.steps if s.line == line.id) for line in self.lines}

    def as_json(self) -> dict[str, Any]:
        """The plain JSON form that is hashed, stored and sent."""
        return _PACKET.dump_python(self, mode="json")  # type: ignore[no-any-return]


_PACKET: TypeAdapter[Packet] = TypeAdapter(Packet)


def packet_from(data: Mapping[str, Any]) -> Packet:
    """Read a packet back from its JSON form.

    Raises: pydantic.ValidationError for a form this version does not know.
    """
    return _PACKET.validate_python(data)


def packet_from_json(text: bytes) -> Packet:
    """Read a packet from JSON with JSON's own strictness: text is no number, and 1 is not yes.

    Raises: pydantic.ValidationError for a form this version does not know.
    """
    return _PACKET.validate_json(text, strict=True)
