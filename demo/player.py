"""Plays a sheet on through the use cases, as one technician would, so that the demo has jobs in every state.

It reads what the packet asks for and answers it: holds the vehicle the way a step needs, answers gates with what lets
them open, records readings inside their windows, signs with a wrench that fits. It never writes around a rule: an entry
that is set aside ends the play.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field

from app.domain import entry as e
from app.domain.entry import ENTRY_FORM, Basis, Entry
from app.domain.packet import (
    Axle,
    Check,
    CheckKind,
    Fastener,
    Measure,
    Packet,
    Pass,
    Step,
    Support,
    Trial,
    Verdict,
    Wrench,
)
from app.domain.sheet import Sheet
from app.domain.standing import (
    asked_gates,
    date_of,
    gate_state,
    is_one_time,
    supported,
    waits_for,
    waits_for_second,
    within,
)
from app.trade.quantity import Dimension, Quantity
from app.trade.units import show
from app.use_cases.office import Office
from app.use_cases.record_entry import OFFICE_TABLET, record_form
from app.use_cases.typed_amount import amount_typed, reading_of
from demo.pictures import a_photo
from demo.readings import LABELS, USUAL, Found, reading_for

Until = Callable[[Step], bool]


class PlayStopped(AssertionError):
    """The rules set something aside that a play by the book would not have: the demo or a procedure is at fault."""


@dataclass
class Player:
    """`person` works, `second` gives the second readings and looks."""

    office: Office
    job: str
    person: str
    second: str
    found: Mapping[str, Found] = field(default_factory=dict)

    @property
    def sheet(self) -> Sheet:
        with self.office.store.reading() as unit:
            return unit.sheets.get(self.job) or Sheet(self.job)

    def play(self, until: Until = lambda _: False) -> None:
        """Do every step in order, until one of which `until` is true is next."""
        for step in self.steps_to_do():
            if until(step):
                return
            self.do(step)

    def steps_to_do(self) -> Iterator[Step]:
        while True:
            sheet = self.sheet
            packet = packet_of(sheet)
            step = next(
                (one for one in packet.steps if sheet.step(one.id).done is None and waits_for(sheet, one) is None), None
            )
            if step is None:
                return
            yield step

    def do(self, step: Step) -> None:
        self.hold_for(step)
        self.answer_gates(step)
        for measure in step.measures:
            reading = reading_of_measure(step, measure)
            if reading is not None:
                self.say(e.ReadingTaken(step.id, measure.id, reading), step)
        if step.trial is not None:
            self.say(self.outcome(step, step.trial), step)
        for fastener in step.fasteners:
            self.say(self.signature(step, fastener), step)
        if step.photo:
            self.photograph(step)
        self.say(e.StepDone(step.id, tuple(one.id for one in step.one_time)), step)
        self.second_readings(step)

    def hold_for(self, step: Step) -> None:
        """Hold the vehicle so that the step, and every joint tightened in it, may be done."""
        wanted = [state for state in step.supports if all(state in one.load_states for one in step.fasteners)] or list(
            step.supports
        )
        if supported(self.sheet.support, step.axle, tuple(wanted)):
            return
        axle = step.axle if wanted[0].value.startswith("stands") else Axle.BOTH
        self.say(e.SupportChanged(wanted[0], axle, bears_on(wanted[0])))

    def answer_gates(self, step: Step) -> None:
        sheet = self.sheet
        for gate in asked_gates(sheet, step):
            if gate_state(sheet, gate.id, self.person, self.office.now_ms) is not None:
                self.say(e.GateAnswered(gate.id, {check.id: passing_answer(check) for check in gate.checks}))

    def outcome(self, step: Step, trial: Trial) -> e.TestRecorded:
        """What the test shows: all well, unless `found` says otherwise."""
        found = self.found.get(step.id)
        if found is not None:
            return e.TestRecorded(step.id, found.choice, Verdict(found.verdict), found.reason)
        return e.TestRecorded(step.id, next(one.key for one in trial.choices if one.passes), Verdict.SOUND)

    def signature(self, step: Step, fastener: Fastener) -> e.SignedOff:
        if fastener.tighten is Pass.SNUG:
            return e.SignedOff(step.id, fastener.id, new_part=is_one_time(fastener))
        wrench = fit_wrench(packet_of(self.sheet), fastener, date_of(self.office.now_ms))
        return e.SignedOff(
            step.id, fastener.id, readings_of(fastener), wrench.tag, new_part=is_one_time(fastener)
        )  # fmt: skip

    def photograph(self, step: Step | None = None, words: str = "", *, sent: bool = True) -> None:
        """Take a photo, of the step where it asks for one. sent: its bytes have come from the tablet too."""
        sheet = self.sheet
        data = a_photo(sheet.entries)
        if sent:
            self.office.photos.keep(data)
        name = hashlib.sha256(data).hexdigest()
        self.say(e.PhotoAdded(name, words, step.id if step is not None else ""), step)

    def second_readings(self, step: Step) -> None:
        sheet = self.sheet
        for fastener in step.fasteners:
            if fastener.place in waits_for_second(sheet, step):
                wrench = fit_wrench(packet_of(sheet), fastener, date_of(self.office.now_ms))
                body = e.Countersigned(step.id, fastener.id, readings_of(fastener), wrench.tag)
                self.say(body, step, self.second)
        if step.title in waits_for_second(self.sheet, step):
            self.say(e.Countersigned(step.id, seen="Looked over, as on the list"), step, self.second)

    def say(self, body: e.Body, step: Step | None = None, person: str = "") -> None:
        """Record an entry; a ruling against it ends the play."""
        recorded = record_form(self.office, self.entry(body, step, person))
        if not recorded.ruling.accepted:
            raise PlayStopped(f"{e.kind_of(body)} {body}: {recorded.ruling.reason} {dict(recorded.ruling.details)}")

    def entry(self, body: e.Body, step: Step | None = None, person: str = "") -> Entry:
        sheet = self.sheet
        return Entry(
            v=ENTRY_FORM,
            id=self.office.new_id(),
            tablet=OFFICE_TABLET,
            seq=0,
            job=self.job,
            kind=e.kind_of(body),
            body=e.body_json(body),
            person=person or self.person,
            noted_at_ms=self.office.now_ms,
            basis=Basis(
                packet=packet_of(sheet).hash,
                step_revision=step.revision if step else None,
                support_revision=sheet.support.revision,
                holds=tuple(sheet.holds),
            ),
        )


def packet_of(sheet: Sheet) -> Packet:
    if sheet.packet is None:
        raise PlayStopped(f"job {sheet.job} has no packet")
    return sheet.packet


def bears_on(state: Support) -> str:
    return "the marked points" if state.value.startswith("stands") or state is Support.LIFT_FRAME else ""


def passing_answer(check: Check) -> e.Answer:
    """An answer that lets the gate open; there is none when a figure the limit needs is missing."""
    match check.kind:
        case CheckKind.SEEN:
            return e.Answer(choice=next(one.key for one in check.choices if one.passes))
        case CheckKind.READY:
            return e.Answer(ready=True)
        case CheckKind.VALUE:
            if check.needs_input:
                raise PlayStopped(f"check {check.id} needs {check.needs_input}")
            return e.Answer(value=(read := label_of(check)).value, text=read.typed, unit=read.unit)


def label_of(check: Check) -> e.Reading:
    """What the label says, where that passes; else just what is needed."""
    read = read_amount(LABELS[check.id], check.dimension, check.unit)
    counted = read.value // 2 if check.halve_unless else read.value
    if within(counted, check.at_least, check.at_most) is not False:
        return read
    value = check.at_least if check.at_least is not None else check.at_most or 0
    value = value * 2 if check.halve_unless else value
    return e.Reading(value, show(Quantity(Dimension(check.dimension), value), check.unit), "")


def reading_of_measure(step: Step, measure: Measure) -> e.Reading | None:
    """What was measured, as it would be typed; `None` where the field is left empty."""
    typed = reading_for(step.id, measure.id, measure.dimension)
    if typed is None and not measure.required:
        return None
    return read_amount(typed or USUAL[measure.dimension], measure.dimension, measure.unit)


def read_amount(typed: str, dimension: str, unit: str) -> e.Reading:
    read = amount_typed(typed, Dimension(dimension), unit, "value")
    if not isinstance(read, Quantity):
        raise PlayStopped(f"{typed!r} is no {dimension}: {read}")
    return reading_of(read)


def fit_wrench(packet: Packet, fastener: Fastener, today: str) -> Wrench:
    wanted = [one.target_mnm for one in fastener.figure.stages if one.target_mnm] if fastener.figure else []
    for wrench in packet.wrenches:
        in_range = all(wrench.low_mnm <= torque <= wrench.high_mnm for torque in wanted)
        if in_range and not wrench.fault and wrench.due_on >= today:
            return wrench
    raise PlayStopped(f"no fit wrench for {fastener.place}: {wanted}")


def readings_of(fastener: Fastener) -> tuple[e.Reading, ...]:
    if fastener.figure is None:
        raise PlayStopped(f"no figure for {fastener.place}")
    return tuple(
        e.Reading(one.target_mdeg, str(one.target_mdeg // 1_000), "°")
        if one.target_mdeg is not None
        else e.Reading(one.target_mnm or 0, f"{(one.target_mnm or 0) / 1_000:g}", "N·m")
        for one in fastener.figure.stages
    )
