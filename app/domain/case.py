"""One entry before the rules, and the ruling it gets: the words `questions`, `changes` and `rules` share."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import cast

from app.domain import entry as e
from app.domain.entry import Heard, json_bytes
from app.domain.packet import Fastener, Packet, Step, Wrench, packet_from_json
from app.domain.rule_table import RuleTable
from app.domain.sheet import Mark, Sheet
from app.domain.torque import at_fastener


class Reason(StrEnum):
    """Why an entry is set aside. Each has its sentence in `app/texts.py`."""

    STEP_LOCKED = "step_locked"
    GATE_SHUT = "gate_shut"
    GATE_STALE = "gate_stale"
    WRONG_SUPPORT = "wrong_support"
    HELD = "held"
    TOOL_UNFIT = "tool_unfit"
    READING_OUTSIDE = "reading_outside"
    SPEC_UNVERIFIED = "spec_unverified"
    NEEDS_SECOND_PERSON = "needs_second_person"
    SAME_PERSON = "same_person"
    STEP_CHANGED = "step_changed"
    ALREADY_SIGNED = "already_signed"
    AWAY_WHEN_HELD = "away_when_held"
    UNKNOWN_FORM = "unknown_form"
    NOT_FINISHED = "not_finished"
    NOT_HERE = "not_here"
    WRONG_ROLE = "wrong_role"
    HANDED_BACK = "handed_back"
    NOT_AGREED = "not_agreed"


@dataclass(frozen=True, slots=True)
class Ruling:
    """What the office says of an entry: accepted, or set aside with a reason and the blanks of its sentence."""

    accepted: bool
    reason: str = ""
    details: Mapping[str, str | int] = field(default_factory=dict)


ACCEPTED = Ruling(True)


def aside(reason: Reason, **details: str | int) -> Ruling:
    return Ruling(False, str(reason), details)


@dataclass(frozen=True, slots=True)
class Case:
    """One entry before the rules: what the questions look at."""

    table: RuleTable
    sheet: Sheet
    heard: Heard
    body: e.Body | None

    @property
    def packet(self) -> Packet:
        return cast(Packet, self.sheet.packet)

    @property
    def step_id(self) -> str:
        return target_of(self.body)[0]

    @property
    def step(self) -> Step:
        return self.packet.step_by_id[self.step_id]

    @property
    def fastener(self) -> Fastener | None:
        wanted = getattr(self.body, "fastener", "")
        return next((one for one in self.step.fasteners if wanted and one.id == wanted), None)

    @property
    def person(self) -> str:
        return self.heard.entry.person


def target_of(body: e.Body | None) -> tuple[str, str]:
    """Which step, and what within it (or within the sheet), an entry is about."""
    match body:
        case e.GateAnswered(gate=gate):
            return "", gate
        case e.ReadingTaken(step=step, measure=measure):
            return step, measure
        case e.SignedOff(step=step, fastener=fastener) | e.Countersigned(step=step, fastener=fastener):
            return step, fastener
        case e.HoldLifted(hold=hold):
            return "", hold
        case e.Settled(aside=key):
            return "", key
        case (
            e.StepDone(step=step)
            | e.StepReopened(step=step)
            | e.HoldPlaced(step=step)
            | e.TestRecorded(step=step)
            | e.NoteAdded(step=step)
            | e.PhotoAdded(step=step)
        ):
            return step, ""
        case _:
            return "", ""


def mark_of(heard: Heard) -> Mark:
    return Mark(person=heard.entry.person, name=heard.name, at_ms=heard.heard_at_ms, entry=heard.entry.id)


def torques_of(
    table: RuleTable, packet: Packet, body: e.SignedOff | e.Countersigned, fastener: Fastener
) -> tuple[int, ...]:
    """The values at the fastener, one per stage: torques after the sum for an extension, angles as read."""
    wrench = packet.wrench_by_tag.get(body.wrench)
    stages = fastener.figure.stages if fastener.figure else ()
    values = []
    for index, reading in enumerate(body.readings):
        turned = index < len(stages) and stages[index].target_mdeg is not None
        if turned or wrench is None or not wrench.length_um or not extension_can_be(wrench, body.extension):
            values.append(reading.value)
        else:
            extension = cast(e.Extension, body.extension)
            cosine = table.cosine(extension.angle_deg)
            values.append(at_fastener(reading.value, wrench.length_um, extension.length_um, cosine))
    return tuple(values)


def extension_can_be(wrench: Wrench, extension: e.Extension | None) -> bool:
    """Whether this extension can be on this wrench, and adds to its arm rather than undoing it.

    Two metres and half a turn are house bounds against slips of the keypad.
    """
    if extension is None or wrench.length_um is None or wrench.length_um <= 0:
        return False
    if not (0 < extension.length_um <= 2_000_000 and 0 <= extension.angle_deg <= 180):
        return False
    return extension.angle_deg <= 90 or extension.length_um < wrench.length_um


def read_packet(body: e.PacketPinned) -> Packet | None:
    """The packet in a body, read as strictly as a body is: nothing is turned into another kind of value."""
    try:
        return packet_from_json(json_bytes(body.packet))
    except ValueError:
        return None
