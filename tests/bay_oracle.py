"""What the trade says may be recorded, worked out anew from the list of what was accepted so far.

A second opinion on the rules, for the tests that make up histories: it keeps no state, calls nothing of `standing`,
`questions` or `changes`, and reads only the packets and the accepted entries, oldest first. It names every objection it
has; an accepted entry it objects to is a hole in the rules.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

from app.domain import entry as e
from app.domain.packet import Axle, Check, CheckKind, Fastener, Gate, Packet, Pass, Step, Support

ON_THE_WHOLE = {"on_wheels", "on_ramp", "lift_frame"}


@dataclass(frozen=True)
class Fact:
    """Something accepted: what, by whom, when heard; for a packet that was pinned, the packet as read."""

    body: e.Body
    person: str
    at_ms: int
    entry: str
    packet: Packet | None = None


@dataclass(frozen=True)
class Bay:
    """The history of one sheet, as a list of facts."""

    facts: tuple[Fact, ...] = ()

    def and_then(self, fact: Fact) -> Bay:
        return Bay((*self.facts, fact))

    # What is so now

    def packets(self) -> list[Packet]:
        return [fact.packet for fact in self.facts if fact.packet is not None]

    def read(self, fact: Fact) -> Packet:
        assert fact.packet is not None
        return fact.packet

    def support(self) -> tuple[str, Axle, int]:
        """State, axle and how often it was changed."""
        changes = [fact.body for fact in self.facts if isinstance(fact.body, e.SupportChanged)]
        return (changes[-1].state.value, changes[-1].axle, len(changes)) if changes else ("on_wheels", Axle.BOTH, 0)

    def held(self, step: str) -> bool:
        lifted = {fact.body.hold for fact in self.facts if isinstance(fact.body, e.HoldLifted)}
        hung = [fact for fact in self.facts if isinstance(fact.body, e.HoldPlaced) and fact.body.step in ("", step)]
        return any(fact.entry not in lifted for fact in hung)

    def since_begun(self, step_id: str) -> list[Fact]:
        """What was recorded of a step since it was last opened again or changed by the foreman."""
        kept: list[Fact] = []
        text: Step | None = None
        for fact in self.facts:
            match fact.body:
                case e.PacketPinned():
                    now = next((step for step in self.read(fact).steps if step.id == step_id), None)
                    if now != text:
                        kept = []
                    text = now
                case e.StepReopened(step=step) if step == step_id:
                    kept = []
                case _ if getattr(fact.body, "step", None) == step_id:
                    kept.append(fact)
        return kept

    def is_done(self, step_id: str) -> bool:
        return any(isinstance(fact.body, e.StepDone) for fact in self.since_begun(step_id))

    def first_of(self, step_id: str, kind: type, fastener: str) -> Fact | None:
        found = (fact for fact in self.since_begun(step_id) if isinstance(fact.body, kind))
        return next((fact for fact in found if getattr(fact.body, "fastener", None) == fastener), None)

    # Gates

    def answers(self, gate: Gate) -> list[Fact]:
        """The answers to a gate that may be taken together: one person's, in one support state, with no hand-over, no
        other person's answer and no change of the gate in between."""
        run: list[Fact] = []
        wording: Gate | None = None
        for fact in self.facts:
            match fact.body:
                case e.GateAnswered(gate=answered) if answered == gate.id:
                    run = [fact] if run and run[-1].person != fact.person else [*run, fact]
                case e.SupportChanged() if gate.follows_support:
                    run = []
                case e.HandedOver():
                    run = []
                case e.PacketPinned():
                    now = next((one for one in self.read(fact).gates if one.id == gate.id), None)
                    run = run if now == wording else []
                    wording = now
        return run

    def against_gate(self, gate: Gate, person: str | None, at_ms: int) -> str | None:
        run = self.answers(gate)
        if not run:
            return f"{gate.id}: nobody has answered it in this state"
        if person is not None and run[-1].person != person:
            return f"{gate.id}: another person answered it"
        said: dict[str, tuple[e.Answer, int]] = {}
        for fact in run:
            assert isinstance(fact.body, e.GateAnswered)
            said |= {key: (answer, fact.at_ms) for key, answer in fact.body.answers.items()}
        for check in gate.checks:
            if check.id not in said:
                return f"{gate.id}: {check.id} is not answered"
            answer, given_at = said[check.id]
            if at_ms - given_at > gate.stale_after_s * 1_000:
                return f"{gate.id}: {check.id} was answered too long ago"
            if not self._opens(check, answer, {key: one for key, (one, _) in said.items()}):
                return f"{gate.id}: {check.id} was answered badly"
        return None

    def _opens(self, check: Check, answer: e.Answer, said: dict[str, e.Answer]) -> bool:
        if check.kind is CheckKind.READY:
            return answer.ready is True
        if check.kind is CheckKind.SEEN:
            return answer.choice in {choice.key for choice in check.choices if choice.passes}
        if answer.value is None or check.needs_input:
            return False
        needed = check.at_least
        if check.halve_unless and said.get(check.halve_unless[0], e.Answer()).choice != check.halve_unless[1]:
            needed = None if needed is None else needed * 2
        return (needed is None or answer.value >= needed) and (check.at_most is None or answer.value <= check.at_most)

    # The verdict

    def objections(self, entry: e.Entry, body: e.Body, roles: tuple[str, ...], at_ms: int) -> list[str]:
        """Everything the trade has against recording this, for the kinds that record work; nothing for the others."""
        if not isinstance(body, (e.ReadingTaken, e.TestRecorded, e.SignedOff, e.StepDone, e.Countersigned)):
            return []
        packets = self.packets()
        step = next((one for one in packets[-1].steps if one.id == body.step), None) if packets else None
        if step is None:
            return ["there is no such step"]
        return [
            *self._of_the_sheet(entry, body, step, roles),
            *self._of_the_vehicle(entry, body, step),
            *self._of_the_gates(entry, body, step, packets[-1], at_ms),
            *self._of_the_record(entry, body, step, packets[-1], at_ms),
        ]

    def _of_the_sheet(self, entry: e.Entry, body: e.Body, step: Step, roles: tuple[str, ...]) -> Iterator[str]:
        if not set(roles) & ({"technician", "foreman"} if isinstance(body, e.Countersigned) else {"technician"}):
            yield "not this person's to do"
        if any(isinstance(fact.body, e.HandedBack) for fact in self.facts):
            yield "the job was handed back"
        if self.held(step.id):
            yield "a hold tag hangs"
        if entry.basis.step_revision != step.revision:
            yield "another text of the step was read"
        if not isinstance(body, e.Countersigned):
            if self.is_done(step.id):
                yield "the step is done"
            if not all(map(self.is_done, step.after)):
                yield "a step before it is not done"

    def _of_the_vehicle(self, entry: e.Entry, body: e.Body, step: Step) -> Iterator[str]:
        fastener = _fastener(step, body)
        wanted = [] if isinstance(body, e.Countersigned) else [step.supports]
        wanted += [fastener.load_states] if fastener is not None else []
        state, axle, changes = self.support()
        for states in wanted:
            if state not in {one.value for one in states}:
                yield f"the vehicle is {state}"
            elif state not in ON_THE_WHOLE and axle not in (Axle.BOTH, step.axle):
                yield "the stands are under the other axle"
        seen = entry.basis.support_revision
        # A step for every state has nothing that moving could upset, but for its gates, which are looked at apart.
        if wanted and seen is not None and seen != changes and len(step.supports) < len(Support):
            yield "the vehicle was moved since the person looked"

    def _of_the_gates(self, entry: e.Entry, body: e.Body, step: Step, packet: Packet, at_ms: int) -> Iterator[str]:
        if isinstance(body, e.Countersigned) and not body.fastener:
            return
        second = isinstance(body, e.Countersigned)
        state = self.support()[0]
        for gate in packet.gates:
            asked = not gate.supports or state in {one.value for one in gate.supports}
            if gate.id in step.gates and asked and (gate.follows_support or not second):
                against = self.against_gate(gate, None if second else entry.person, at_ms)
                if against is not None:
                    yield against

    def _of_the_record(self, entry: e.Entry, body: e.Body, step: Step, packet: Packet, at_ms: int) -> Iterator[str]:
        match body:
            case e.ReadingTaken(measure=key, reading=reading):
                measure = next((one for one in step.measures if one.id == key), None)
                if measure is None:
                    yield "there is no such measure"
                elif measure.must and not (measure.low or 0) <= reading.value <= (measure.high or 0):
                    yield "the reading lies outside"
            case e.TestRecorded(choice=choice):
                if step.trial is None or choice not in {one.key for one in step.trial.choices}:
                    yield "there is no such observation"
            case e.SignedOff(fastener=key):
                fastener = _fastener(step, body)
                if fastener is None:
                    yield "there is no such fastener"
                else:
                    if self.first_of(step.id, e.SignedOff, key) is not None:
                        yield "it is signed already"
                    if fastener.one_time and not body.new_part:
                        yield "the part is not new"
                    yield from _torque(fastener, body, packet, at_ms)
            case e.Countersigned(fastener=key) if key:
                fastener, first = _fastener(step, body), self.first_of(step.id, e.SignedOff, key)
                if fastener is None or first is None:
                    yield "there is nothing to read a second time"
                elif first.person == entry.person:
                    yield "the same person read it first"
                else:
                    yield from _torque(fastener, body, packet, at_ms)
            case e.Countersigned():
                hands = {fact.person for fact in self.since_begun(step.id) if _is_hands_on(fact.body)}
                if not self.is_done(step.id) or entry.person in hands:
                    yield "a second person looks at what is done"
            case e.StepDone(new_parts=new):
                yield from self._missing(step, new)

    def _missing(self, step: Step, new_parts: tuple[str, ...]) -> Iterator[str]:
        begun = [fact.body for fact in self.since_begun(step.id)]
        read = {body.measure for body in begun if isinstance(body, e.ReadingTaken)}
        signed = {body.fastener for body in begun if isinstance(body, e.SignedOff)}
        if any(measure.required and measure.id not in read for measure in step.measures):
            yield "a measure is missing"
        if any(fastener.id not in signed for fastener in step.fasteners):
            yield "a fastener is not signed"
        if step.trial is not None and not any(isinstance(body, e.TestRecorded) for body in begun):
            yield "the test is missing"
        if any(part.id not in new_parts for part in step.one_time):
            yield "a part is not new"


def _fastener(step: Step, body: e.Body) -> Fastener | None:
    return next((one for one in step.fasteners if one.id == getattr(body, "fastener", "")), None)


def _is_hands_on(body: e.Body) -> bool:
    return isinstance(body, (e.SignedOff, e.StepDone))


def _torque(fastener: Fastener, body: e.SignedOff | e.Countersigned, packet: Packet, at_ms: int) -> Iterator[str]:
    if fastener.tighten is Pass.SNUG:
        if body.readings or isinstance(body, e.Countersigned):
            yield "snug is not a reading"
        return
    figure = fastener.figure
    if figure is None or not figure.stages or not figure.verified:
        yield "there is no compared figure"
        return
    wrench = next((one for one in packet.wrenches if one.tag == body.wrench), None)
    if wrench is None or wrench.fault:
        yield "the wrench is not fit"
        return
    if datetime.fromtimestamp(at_ms / 1_000, UTC).date().isoformat() > wrench.due_on:
        yield "the wrench is out of date"
    if len(body.readings) != len(figure.stages):
        yield "a reading is missing"
        return
    for stage, reading in zip(figure.stages, body.readings, strict=True):
        if not wrench.low_mnm <= reading.value <= wrench.high_mnm:
            yield "the wrench is outside its range"
        if not (stage.low_mnm or 0) <= reading.value <= (stage.high_mnm or 0) and body.extension is None:
            yield "the torque lies outside"
