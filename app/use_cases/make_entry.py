"""From a form's fields to entries: what was typed, read into the body of its kind, or the problems beside its fields.

Only form is judged here (an empty field, a number that cannot be read). Whether an entry counts is the rules' to say,
so anything that can be read becomes an entry and is kept.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from app.domain import entry as e
from app.domain.entry import ENTRY_FORM, TEXT_LIMIT, Basis, Body, Entry, Kind, body_json
from app.domain.packet import (
    Axle,
    Check,
    CheckKind,
    Fastener,
    Gate,
    Measure,
    Packet,
    Pass,
    Stage,
    Step,
    Support,
    Verdict,
)
from app.domain.problems import Problem
from app.domain.sheet import Sheet
from app.domain.standing import is_one_time
from app.domain.view_torque import extension_of
from app.trade.quantity import Dimension, Quantity
from app.use_cases.typed_amount import amount_typed, reading_of

_ID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_SHA256 = re.compile(r"[0-9a-f]{64}")
_NAME = re.compile(r"[!-~]{1,100}")
LARGEST_REVISION = 10**9

Bodies: TypeAlias = tuple[tuple[str, Body], ...]


@dataclass(frozen=True)
class Sent:
    """A form as it came: fields by name, on which sheet, by whom. `people`: those a sheet can be handed to, by id."""

    fields: Mapping[str, str]
    sheet: Sheet
    person: str
    now_ms: int
    people: Mapping[str, str]
    new_id: Callable[[], str]

    @property
    def packet(self) -> Packet:
        packet = self.sheet.packet
        assert packet is not None  # entries_from looks first
        return packet

    def text(self, name: str) -> str:
        return self.fields.get(name, "").strip()

    @property
    def step(self) -> Step | None:
        return self.packet.step_by_id.get(self.text("step"))


def entries_from(sent: Sent) -> tuple[Entry, ...] | tuple[Problem, ...]:
    """The entries a form makes (several readings typed together are one each), or everything wrong with its fields."""
    maker = _MAKERS.get(sent.text("kind"))
    if maker is None or sent.sheet.packet is None:
        return (Problem("kind_unknown"),)
    too_long = _too_long(sent)
    if too_long:
        return tuple(too_long)
    made = maker(sent)
    if isinstance(made, list):
        return tuple(made)
    return tuple(_entry(sent, id_field, body) for id_field, body in made)


def _too_long(sent: Sent) -> list[Problem]:
    return [
        Problem("too_long", name, {"limit": TEXT_LIMIT})
        for name, text in sorted(sent.fields.items())
        if len(text) > TEXT_LIMIT and not name.startswith("basis_")
    ]


def _entry(sent: Sent, id_field: str, body: Body) -> Entry:
    given = sent.text(id_field)
    return Entry(
        v=ENTRY_FORM,
        id=given if _ID.fullmatch(given) else sent.new_id(),
        tablet="",
        seq=0,
        job=sent.sheet.job,
        kind=sent.text("kind"),
        body=body_json(body),
        person=sent.person,
        noted_at_ms=sent.now_ms,
        basis=basis_of(sent.fields),
    )


def basis_of(fields: Mapping[str, str]) -> Basis:
    """What the person saw, as the form carries it; what is not there, or cannot be read, was not shown."""
    packet = fields.get("basis_packet", "").strip()
    holds = fields.get("basis_holds")
    return Basis(
        packet=packet if _NAME.fullmatch(packet) else "",
        step_revision=_revision(fields.get("basis_step", "")),
        support_revision=_revision(fields.get("basis_support", "")),
        gate_revision=_revision(fields.get("basis_gate", "")),
        holds=None if holds is None else tuple(one for one in holds.split() if _NAME.fullmatch(one))[:1_000],
    )


def _revision(text: str) -> int | None:
    text = text.strip()
    if not (text.isascii() and text.isdigit() and len(text) <= 9):
        return None
    return min(int(text), LARGEST_REVISION)


# --- One maker per kind of form -----------------------------------------------------------------------------------


def _gate_answered(sent: Sent) -> Bodies | list[Problem]:
    gate = sent.packet.gate_by_id.get(sent.text("gate"))
    if gate is None:
        return (("entry", e.GateAnswered(sent.text("gate"), {})),)
    answers: dict[str, e.Answer] = {}
    problems: list[Problem] = []
    for check in gate.checks:
        name = f"answer.{check.id}"
        typed = sent.text(name)
        if not typed:
            continue
        read = _answer(check, typed, name)
        if isinstance(read, Problem):
            problems.append(read)
        else:
            answers[check.id] = read
    if not answers and not problems:
        problems.append(Problem("answer_missing", _first_answer(gate)))
    return problems or (("entry", e.GateAnswered(gate.id, answers)),)


def _first_answer(gate: Gate) -> str:
    return f"answer.{gate.checks[0].id}" if gate.checks else ""


def _answer(check: Check, typed: str, name: str) -> e.Answer | Problem:
    match check.kind:
        case CheckKind.SEEN:
            known = any(one.key == typed for one in check.choices)
            return e.Answer(choice=typed) if known else Problem("choose_one", name)
        case CheckKind.READY:
            return e.Answer(ready=typed == "yes") if typed in ("yes", "no") else Problem("choose_one", name)
        case CheckKind.VALUE:
            read = amount_typed(typed, Dimension(check.dimension), check.unit, name)
            if isinstance(read, Problem):
                return read
            reading = reading_of(read)
            return e.Answer(value=reading.value, text=reading.typed, unit=reading.unit)


def _reading_taken(sent: Sent) -> Bodies | list[Problem]:
    step = sent.step
    measures = step.measures if step is not None else ()
    made: list[tuple[str, Body]] = []
    problems: list[Problem] = []
    for measure in measures:
        name = f"value.{measure.id}"
        if not sent.text(name):
            continue
        read = amount_typed(sent.text(name), Dimension(measure.dimension), measure.unit, name)
        if isinstance(read, Problem):
            problems.append(read)
        else:
            trace = sent.text(f"trace.{measure.id}")
            body = e.ReadingTaken(sent.text("step"), measure.id, reading_of(read), trace)
            made.append((f"entry.{measure.id}", body))
    if not made and not problems:
        problems.append(Problem("nothing_given", _first_value(measures)))
    return problems or tuple(made)


def _first_value(measures: tuple[Measure, ...]) -> str:
    return f"value.{measures[0].id}" if measures else ""


def _test_recorded(sent: Sent) -> Bodies | list[Problem]:
    step = sent.step
    choices = step.trial.choices if step is not None and step.trial is not None else ()
    chosen = next((one for one in choices if one.key == sent.text("choice")), None)
    verdict, reason = sent.text("verdict"), sent.text("reason")
    problems = []
    if chosen is None:
        problems.append(Problem("observation_missing", "choice"))
    if verdict not in list(Verdict):
        problems.append(Problem("verdict_missing", "verdict"))
    elif not reason and (verdict != Verdict.SOUND or (chosen is not None and not chosen.passes)):
        problems.append(Problem("verdict_reason_missing", "reason"))
    if problems:
        return problems
    return (("entry", e.TestRecorded(sent.text("step"), sent.text("choice"), Verdict(verdict), reason)),)


@dataclass(frozen=True, slots=True)
class _Tightened:
    """What a first or second reading at a fastener has in common."""

    readings: tuple[e.Reading, ...]
    wrench: str
    extension: e.Extension | None


def _signed_off(sent: Sent) -> Bodies | list[Problem]:
    fastener = _fastener(sent)
    problems: list[Problem] = []
    new_part = sent.text("new_part") == "yes"
    if fastener is not None and is_one_time(fastener) and not new_part:
        problems.append(Problem("new_part_missing", "new_part"))
    tightened = _tightened(sent, fastener)
    if isinstance(tightened, list):
        problems = [*tightened, *problems]
    if problems or isinstance(tightened, list):
        return problems
    body = e.SignedOff(
        sent.text("step"), sent.text("fastener"), tightened.readings, tightened.wrench, tightened.extension, new_part
    )
    return (("entry", body),)


def _countersigned(sent: Sent) -> Bodies | list[Problem]:
    if not sent.text("fastener"):
        if not sent.text("seen"):
            return [Problem("seen_missing", "seen")]
        return (("entry", e.Countersigned(sent.text("step"), seen=sent.text("seen"))),)
    tightened = _tightened(sent, _fastener(sent))
    if isinstance(tightened, list):
        return tightened
    body = e.Countersigned(
        sent.text("step"), sent.text("fastener"), tightened.readings, tightened.wrench, tightened.extension
    )
    return (("entry", body),)


def _fastener(sent: Sent) -> Fastener | None:
    step = sent.step
    return next((one for one in step.fasteners if one.id == sent.text("fastener")), None) if step is not None else None


def _tightened(sent: Sent, fastener: Fastener | None) -> _Tightened | list[Problem]:
    """The readings, one per stage, in the wrench's own unit unless another is typed; none for a snug pass."""
    if fastener is None or fastener.tighten is Pass.SNUG:
        return _Tightened((), "", None)
    wrench = sent.packet.wrench_by_tag.get(sent.text("wrench"))
    if wrench is None:
        return [Problem("wrench_missing", "wrench")]
    extension = extension_typed(sent.text("extension"), sent.text("angle"))
    problems = [extension] if isinstance(extension, Problem) else []
    readings = []
    for number, stage in enumerate(fastener.figure.stages if fastener.figure else ()):
        name = f"reading.{number}"
        read = _stage_reading(stage, sent.text(name), wrench.unit, name)
        if isinstance(read, Problem):
            problems.append(read)
        elif read.dimension is Dimension.TORQUE and wrench.unit and read.unit != wrench.unit:
            details = {"tag": wrench.tag, "unit": wrench.unit, "typed": read.text}
            problems.append(Problem("wrench_unit", name, details))
        else:
            readings.append(reading_of(read))
    if problems or isinstance(extension, Problem):
        return problems
    return _Tightened(tuple(readings), wrench.tag, extension)


def _stage_reading(stage: Stage, typed: str, unit: str, name: str) -> Quantity | Problem:
    if stage.target_mdeg is not None:
        return amount_typed(typed, Dimension.ANGLE, "°", name)
    return amount_typed(typed, Dimension.TORQUE, unit, name)


def extension_typed(length: str, angle: str) -> e.Extension | Problem | None:
    """What is put on the wrench, as the card reads it too; `None` for nothing."""
    extension, trouble = extension_of(length, angle)
    if trouble:
        return Problem(trouble, "angle" if trouble == "extension_angle" else "extension")
    return extension


def _step_done(sent: Sent) -> Bodies | list[Problem]:
    step = sent.step
    parts = [one for one in step.one_time if sent.text(f"part.{one.id}") == "yes"] if step is not None else []
    known = sent.sheet.step(step.id).new_parts if step is not None else ()
    wanted = [one for one in step.one_time if one not in parts and one.id not in known] if step is not None else []
    if wanted:
        return [Problem("new_part_missing", f"part.{one.id}") for one in wanted]
    return (("entry", e.StepDone(sent.text("step"), tuple(one.id for one in parts))),)


def _step_reopened(sent: Sent) -> Bodies | list[Problem]:
    return _with_reason(sent, lambda reason: e.StepReopened(sent.text("step"), reason))


def _hold_placed(sent: Sent) -> Bodies | list[Problem]:
    return _with_reason(sent, lambda reason: e.HoldPlaced(reason, sent.text("step")))


def _hold_lifted(sent: Sent) -> Bodies | list[Problem]:
    return _with_reason(sent, lambda reason: e.HoldLifted(sent.text("hold"), reason))


def _with_reason(sent: Sent, make: Callable[[str], Body]) -> Bodies | list[Problem]:
    reason = sent.text("reason")
    return (("entry", make(reason)),) if reason else [Problem("reason_missing", "reason")]


def _support_changed(sent: Sent) -> Bodies | list[Problem]:
    state, axle = sent.text("state"), sent.text("axle")
    problems = []
    if state not in list(Support):
        problems.append(Problem("support_missing", "state"))
    elif state.startswith("stands") and axle not in list(Axle):
        problems.append(Problem("support_axle_missing", "axle"))
    if problems:
        return problems
    held = Axle(axle) if axle in list(Axle) else Axle.BOTH
    return (("entry", e.SupportChanged(Support(state), held, sent.text("bears"))),)


def _handed_over(sent: Sent) -> Bodies | list[Problem]:
    to = sent.text("to")
    name = sent.people.get(to)
    if name is None:
        return [Problem("person_missing", "to")]
    return (("entry", e.HandedOver(to, name, sent.text("note"))),)


def _note_added(sent: Sent) -> Bodies | list[Problem]:
    if not sent.text("text"):
        return [Problem("note_missing", "text")]
    return (("entry", e.NoteAdded(sent.text("text"), sent.text("step"))),)


def _photo_added(sent: Sent) -> Bodies | list[Problem]:
    """Its bytes are kept before: the form's file has become `sha256`."""
    if not _SHA256.fullmatch(sent.text("sha256")):
        return [Problem("photo_missing", "file")]
    return (("entry", e.PhotoAdded(sent.text("sha256"), sent.text("name"), sent.text("step"))),)


_MAKERS: Mapping[str, Callable[[Sent], Bodies | list[Problem]]] = {
    Kind.GATE_ANSWERED: _gate_answered,
    Kind.READING_TAKEN: _reading_taken,
    Kind.TEST_RECORDED: _test_recorded,
    Kind.SIGNED_OFF: _signed_off,
    Kind.COUNTERSIGNED: _countersigned,
    Kind.STEP_DONE: _step_done,
    Kind.STEP_REOPENED: _step_reopened,
    Kind.HOLD_PLACED: _hold_placed,
    Kind.HOLD_LIFTED: _hold_lifted,
    Kind.SUPPORT_CHANGED: _support_changed,
    Kind.HANDED_OVER: _handed_over,
    Kind.NOTE_ADDED: _note_added,
    Kind.PHOTO_ADDED: _photo_added,
}
