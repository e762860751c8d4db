"""Made-up histories: random people, orders, times, support states, editions and stale views of the sheet.

After every entry the oracle of `tests.bay_oracle`, which knows nothing of the rules' own code, is asked whether the
trade would let it count. Beside that: what is set aside changes nothing else, replaying gives the same state to the
byte, the state goes through JSON and back, and nothing in it is a float.
"""

from __future__ import annotations

import json
import random
from collections import Counter
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Any

from hypothesis import HealthCheck, event, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from app.domain import entry as e
from app.domain.canonical import canonical, digest
from app.domain.case import Ruling
from app.domain.packet import Axle, Packet, Step, Support, Verdict, packet_from
from app.domain.rules import replay
from app.domain.sheet import Sheet, sheet_from
from tests.bay_oracle import Bay, Fact
from tests.builders import (
    ADA,
    BEN,
    CAST,
    DEE,
    FAY,
    GUS,
    JOB,
    SPRING,
    SPRING_OPEN,
    STANDS_OPEN,
    Play,
    Someone,
    a_packet,
    a_reading,
    with_step,
)

GATE_IDS = ("stands:front", SPRING.id)
OPEN = {"stands:front": STANDS_OPEN, SPRING.id: SPRING_OPEN}
BAD = {
    "bears_on": e.Answer(choice="jack"), "label_basis": e.Answer(choice="none"), "label": e.Answer(value=400_000),
    "shaken": e.Answer(ready=False), "clear": e.Answer(ready=False),
}  # fmt: skip


CHANGES = ("do", "gate", "figure", "wrench", "silent", "same edition")


def no_float(text: str) -> None:
    raise AssertionError(f"a float in the state: {text}")


class Bench:
    """A play watched by the oracle: the moves people make, and the checks after each."""

    def __init__(self, play: Play | None = None) -> None:
        self.play = play or Play()
        self.bay = Bay()
        self.views: dict[str, list[e.Basis]] = {}
        self.counts: Counter[str] = Counter()
        self.does(FAY, e.PacketPinned(a_packet().as_json()))

    @property
    def packet(self) -> Packet:
        assert self.play.sheet.packet is not None
        return self.play.sheet.packet

    def does(self, who: Someone, body: e.Body, basis: e.Basis | None = None, *, wait_s: float = 1) -> Ruling:
        self.play.wait(seconds=wait_s)
        before = self.play.sheet.as_json()
        step = getattr(body, "step", "")
        self.views.setdefault(step, []).append(self.play.sees(step))
        ruling = self.play.does(who, body, basis=basis)
        one, _ = self.play.history[-1]
        against = self.bay.objections(one.entry, body, who.roles, one.heard_at_ms)
        if ruling.accepted:
            assert against == [], f"{one.entry.kind} by {who.name} was accepted, and the trade says: {against}"
            pinned = packet_from(body.packet) if isinstance(body, e.PacketPinned) else None
            self.bay = self.bay.and_then(Fact(body, who.id, one.heard_at_ms, one.entry.id, pinned))
        else:
            self.check_nothing_but_the_list_changed(before, one.entry.id)
        self.counts[f"{one.entry.kind} {ruling.reason or 'accepted'}"] += 1
        return ruling

    def check_nothing_but_the_list_changed(self, before: dict[str, Any], entry_id: str) -> None:
        after = self.play.sheet.as_json()
        assert after.pop("entries") == before.pop("entries") + 1
        asides = after.pop("asides")
        asides.pop(entry_id)
        assert asides == before.pop("asides")
        assert after == before

    def check_state(self) -> None:
        sheet = self.play.sheet
        text = canonical(sheet.as_json())
        assert sheet.text.encode() == text
        assert sheet.hash == digest(sheet.as_json())
        assert replay(self.play.rules, JOB, self.play.history).hash == sheet.hash
        kept = sheet_from(json.loads(text, parse_float=no_float), sheet.packet)
        assert canonical(kept.as_json()) == text
        assert kept == sheet
        assert sheet.entries == len(self.play.history)

    # The next sensible thing to do, so that a history gets somewhere

    def next_step(self) -> Step | None:
        return next((step for step in self.packet.steps if not self.bay.is_done(step.id)), None)

    def goes_on(self, who: Someone) -> Ruling | None:
        """What a careful person would do next; None when all is done."""
        step = self.next_step()
        if step is None:
            return None
        state, axle, _ = self.bay.support()
        wanted = [load for one in step.fasteners for load in one.load_states] or list(step.supports)
        wanted = [one for one in wanted if one in step.supports]
        if state not in wanted or (axle is not Axle.FRONT and state.startswith("stands")):
            return self.does(who, e.SupportChanged(state=wanted[0], axle=Axle.FRONT))
        at = int((self.play.now + timedelta(seconds=1)).timestamp() * 1_000)
        for gate in self.packet.gates:
            asked = not gate.supports or state in gate.supports
            if gate.id in step.gates and asked and self.bay.against_gate(gate, who.id, at):
                return self.does(who, e.GateAnswered(gate=gate.id, answers=OPEN[gate.id]))
        return self.does(who, self.next_record(step))

    def next_record(self, step: Step) -> e.Body:
        begun = [fact.body for fact in self.bay.since_begun(step.id)]
        for measure in step.measures:
            if not any(isinstance(body, e.ReadingTaken) and body.measure == measure.id for body in begun):
                return e.ReadingTaken(step=step.id, measure=measure.id, reading=a_reading("3 mm"))
        if step.trial is not None and not any(isinstance(body, e.TestRecorded) for body in begun):
            return e.TestRecorded(step=step.id, choice="none", verdict=Verdict.SOUND)
        for fastener in step.fasteners:
            if not any(isinstance(body, e.SignedOff) and body.fastener == fastener.id for body in begun):
                return self.sign_off(step.id, fastener.id, "110 N·m")
        return e.StepDone(step=step.id, new_parts=tuple(part.id for part in step.one_time))

    def pins_change(self, step: str, change: str) -> None:
        """The foreman changes something on the sheet: sometimes in a way that may not be."""
        packet = self.packet
        nxt = replace(packet, edition=packet.edition + 1)
        match change:
            case "do":
                changed = with_step(packet, step, do=f"Do it as in edition {nxt.edition}.")
            case "gate":
                reworded = tuple(replace(gate, intro=f"Edition {nxt.edition}.") for gate in packet.gates)
                changed = replace(nxt, gates=(reworded[0], packet.gates[1]))
            case "figure":
                fasteners = packet.step_by_id["stud"].fasteners
                figure = fasteners[0].figure
                assert figure is not None
                flipped = replace(fasteners[0], figure=replace(figure, verified=not figure.verified))
                changed = with_step(packet, "stud", fasteners=(flipped,))
            case "wrench":
                (wrench,) = packet.wrenches
                changed = replace(nxt, wrenches=(replace(wrench, fault="" if wrench.fault else "dropped"),))
            case "silent":
                steps = tuple(replace(one, do="!") if one.id == step else one for one in packet.steps)
                changed = replace(nxt, steps=steps)
            case _:
                changed = packet
        self.does(FAY, e.PacketPinned(changed.as_json()))

    def is_signed(self) -> bool:
        return self.bay.first_of("stud", e.SignedOff, "nut") is not None

    def sign_off(self, step: str, fastener: str, typed: str, wrench: str = "W1") -> e.SignedOff:
        if fastener == "pivot_snug":
            return e.SignedOff(step=step, fastener=fastener)
        return e.SignedOff(
            step=step, fastener=fastener, readings=(a_reading(typed),), wrench=wrench, new_part=fastener == "pivot"
        )


PEOPLE = st.sampled_from(CAST)
WORKERS = st.sampled_from((ADA, BEN))
MOSTLY_WORKERS = st.sampled_from((ADA, BEN, ADA, BEN, GUS, FAY, DEE))
STEP_IDS = st.sampled_from([step.id for step in a_packet().steps])
TYPED = st.sampled_from(["110 N·m", "104.5 N·m", "104.4 N·m", "115.5 N·m", "116 N·m", "0 N·m", "-110 N·m", "81 lbf·ft"])
SPANS = st.sampled_from([1, 1, 1, 60, 14 * 60, 16 * 60, 59 * 60, 61 * 60])


class SheetHistory(RuleBasedStateMachine):
    bench: Bench

    @initialize(moves=st.integers(0, 24))
    def a_job_is_opened_and_got_somewhere(self, moves: int) -> None:
        self.bench = self.a_bench()
        for _ in range(moves):
            self.bench.goes_on(ADA)

    def a_bench(self) -> Bench:
        return Bench()

    def stale_view(self, step: str, data: st.DataObject) -> e.Basis | None:
        """Mostly what is so now; sometimes what was so at an earlier move, or nothing at all."""
        views = self.bench.views.get(step, [])
        return data.draw(st.sampled_from([None, None, None, e.Basis(), *views[-3:]]), label="basis")

    @rule(who=WORKERS, times=st.integers(1, 6), span=SPANS)
    def goes_on_carefully(self, who: Someone, times: int, span: int) -> None:
        self.bench.play.wait(seconds=span)
        for _ in range(times):
            ruling = self.bench.goes_on(who)
            event("careful: " + ("nothing left" if ruling is None else ruling.reason or "accepted"))

    @rule(who=WORKERS, span=SPANS, data=st.data())
    def tries_the_next_thing_without_looking(self, who: Someone, span: int, data: st.DataObject) -> None:
        """Whatever happened just before: another person, another state, time gone by, a tag, a change."""
        step = self.bench.next_step()
        if step is not None:
            self.bench.does(who, self.bench.next_record(step), self.stale_view(step.id, data), wait_s=span)

    @precondition(lambda self: self.bench.is_signed())
    @rule(who=PEOPLE, typed=TYPED, span=SPANS, data=st.data())
    def tries_a_second_reading(self, who: Someone, typed: str, span: int, data: st.DataObject) -> None:
        body = e.Countersigned(step="stud", fastener="nut", readings=(a_reading(typed),), wrench="W1")
        self.bench.does(who, body, self.stale_view("stud", data), wait_s=span)

    @rule(who=MOSTLY_WORKERS, step=STEP_IDS, data=st.data(), span=SPANS)
    def records_something(self, who: Someone, step: str, data: st.DataObject, span: int) -> None:
        fasteners = [one.id for one in self.bench.packet.step_by_id[step].fasteners] or ["nut"]
        fastener = data.draw(st.sampled_from(fasteners), label="fastener")
        typed = data.draw(TYPED, label="typed")
        wrench = data.draw(st.sampled_from(["W1", "W1", "W9"]), label="wrench")
        body: e.Body = data.draw(
            st.sampled_from(
                [
                    e.StepDone(step=step, new_parts=("cotter",)),
                    e.ReadingTaken(step=step, measure="gap", reading=a_reading(typed.replace("N·m", "mm"))),
                    e.ReadingTaken(step=step, measure="gap", reading=a_reading("2.5 mm")),
                    e.TestRecorded(step=step, choice="none", verdict=Verdict.SOUND),
                    self.bench.sign_off(step, fastener, typed, wrench),
                    e.Countersigned(step=step, fastener=fastener, readings=(a_reading(typed),), wrench=wrench),
                    e.Countersigned(step=step, seen="Tight"),
                ]
            ),
            label="body",
        ) if "lbf" not in typed else self.bench.sign_off(step, fastener, typed, wrench)  # fmt: skip
        ruling = self.bench.does(who, body, self.stale_view(step, data), wait_s=span)
        event(f"{type(body).__name__}: {ruling.reason or 'accepted'}")

    @rule(who=WORKERS, state=st.sampled_from(Support), axle=st.sampled_from(Axle))
    def moves_the_vehicle(self, who: Someone, state: Support, axle: Axle) -> None:
        self.bench.does(who, e.SupportChanged(state=state, axle=axle))

    @rule(who=PEOPLE, gate=st.sampled_from(GATE_IDS), data=st.data(), span=SPANS)
    def answers_some_of_a_gate(self, who: Someone, gate: str, data: st.DataObject, span: int) -> None:
        keys = data.draw(st.lists(st.sampled_from(list(OPEN[gate])), min_size=1, unique=True), label="checks")
        bad = data.draw(st.sampled_from([None, None, None, *keys]), label="bad")
        answers = {key: BAD[key] if key == bad else OPEN[gate][key] for key in keys}
        self.bench.does(who, e.GateAnswered(gate=gate, answers=answers), self.stale_view("", data), wait_s=span)

    @precondition(lambda self: not self.bench.play.sheet.holds)
    @rule(who=PEOPLE, step=st.one_of(st.just(""), STEP_IDS))
    def hangs_a_tag(self, who: Someone, step: str) -> None:
        self.bench.does(who, e.HoldPlaced(reason="Wait", step=step))

    @precondition(lambda self: bool(self.bench.play.sheet.holds))
    @rule(who=PEOPLE, data=st.data())
    def takes_a_tag_off(self, who: Someone, data: st.DataObject) -> None:
        hold = data.draw(st.sampled_from(list(self.bench.play.sheet.holds)), label="tag")
        self.bench.does(who, e.HoldLifted(hold=hold, reason="Part is here"))

    @rule(step=STEP_IDS, who=PEOPLE)
    def opens_a_step_again(self, step: str, who: Someone) -> None:
        self.bench.does(who, e.StepReopened(step=step, reason="Look again"))

    @rule(who=WORKERS, to=WORKERS)
    def hands_over(self, who: Someone, to: Someone) -> None:
        self.bench.does(who, e.HandedOver(to=to.id, to_name=to.name))

    @rule(step=STEP_IDS, change=st.sampled_from(CHANGES))
    def the_foreman_changes_the_sheet(self, step: str, change: str) -> None:
        self.bench.pins_change(step, change)

    @precondition(lambda self: bool(self.bench.play.sheet.asides))
    @rule(who=st.sampled_from((FAY, GUS, DEE)), data=st.data())
    def settles_something(self, who: Someone, data: st.DataObject) -> None:
        key = data.draw(st.sampled_from(list(self.bench.play.sheet.asides)), label="aside")
        self.bench.does(who, e.Settled(aside=key, outcome="keep_as_note", reason="Known"))

    @rule(who=PEOPLE)
    def notes_something(self, who: Someone) -> None:
        self.bench.does(who, e.NoteAdded(text="µ – ü – 漢"))

    @rule()
    def the_foreman_tries_to_hand_back(self) -> None:
        ruling = self.bench.does(FAY, e.HandedBack())
        if ruling.accepted:
            assert all(self.bench.bay.is_done(step.id) for step in self.bench.packet.steps)

    @invariant()
    def the_state_holds(self) -> None:
        if hasattr(self, "bench"):
            self.bench.check_state()


TestSheetHistory = SheetHistory.TestCase
TestSheetHistory.settings = settings(
    max_examples=200, stateful_step_count=12, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)


@dataclass
class Mishaps:
    """What goes wrong around a careful worker, drawn from one seeded source."""

    bench: Bench
    chance: random.Random
    worker: Someone = ADA

    @property
    def other(self) -> Someone:
        return BEN if self.worker is ADA else ADA

    def one(self) -> None:
        mishaps = (
            self.vehicle_moved, self.vehicle_moved_and_back, self.time_passes, self.handed_over, self.badly_answered,
            self.other_answers_one, self.other_answers_all, self.tagged, self.sheet_changed, self.opened_again,
            self.other_comes, self.nothing,
        )  # fmt: skip
        self.chance.choice(mishaps)()

    def vehicle_moved(self) -> None:
        state, axle = self.chance.choice(list(Support)), self.chance.choice(list(Axle))
        self.bench.does(self.chance.choice((self.worker, FAY)), e.SupportChanged(state=state, axle=axle))

    def vehicle_moved_and_back(self) -> None:
        state, axle, _ = self.bench.bay.support()
        self.vehicle_moved()
        self.bench.does(self.worker, e.SupportChanged(state=Support(state), axle=axle))

    def time_passes(self) -> None:
        self.bench.play.wait(minutes=self.chance.choice([14, 16, 40, 61]))

    def handed_over(self) -> None:
        self.bench.does(self.worker, e.HandedOver(to=self.other.id, to_name=self.other.name))

    def badly_answered(self) -> None:
        gate = self.chance.choice(GATE_IDS)
        key = self.chance.choice(list(OPEN[gate]))
        self.bench.does(self.worker, e.GateAnswered(gate=gate, answers={key: BAD[key]}))

    def answers_one_again(self) -> None:
        gate = self.chance.choice(GATE_IDS)
        key = self.chance.choice(list(OPEN[gate]))
        self.bench.does(self.worker, e.GateAnswered(gate=gate, answers={key: OPEN[gate][key]}))

    def other_answers_one(self) -> None:
        gate = self.chance.choice(GATE_IDS)
        key = self.chance.choice(list(OPEN[gate]))
        self.bench.does(self.other, e.GateAnswered(gate=gate, answers={key: OPEN[gate][key]}))

    def other_answers_all(self) -> None:
        for gate in GATE_IDS:
            self.bench.does(self.other, e.GateAnswered(gate=gate, answers=OPEN[gate]))

    def tagged(self) -> None:
        step = self.bench.next_step()
        self.bench.does(FAY, e.HoldPlaced(reason="Wait", step=self.chance.choice(("", step.id if step else ""))))

    def sheet_changed(self) -> None:
        step = self.bench.next_step()
        self.bench.pins_change(step.id if step else "look", self.chance.choice((*CHANGES, "figure", "figure")))

    def opened_again(self) -> None:
        step = self.chance.choice(self.bench.packet.steps).id
        self.bench.does(FAY, e.StepReopened(step=step, reason="Look again"))

    def other_comes(self) -> None:
        self.worker = self.other

    def nothing(self) -> None:
        pass

    def put_right(self) -> None:
        """The foreman takes tags off and gives figures and wrenches back, so that the work can go on."""
        for key, hold in self.bench.play.sheet.holds.items():
            if hold.lifted is None:
                self.bench.does(FAY, e.HoldLifted(hold=key, reason="Part is here"))
        (wrench,) = self.bench.packet.wrenches
        figure = self.bench.packet.step_by_id["stud"].fasteners[0].figure
        if wrench.fault:
            self.bench.pins_change("look", "wrench")
        if figure is not None and not figure.verified:
            self.bench.pins_change("stud", "figure")


def test_whatever_goes_wrong_around_a_careful_worker_the_oracle_has_no_objection():
    """One thing goes wrong, then somebody records the next thing, or a later one, without looking: over and over."""
    chance = random.Random(1_947)
    seen: Counter[str] = Counter()
    finished = 0
    for _ in range(240):
        bench = Bench()
        mishaps = Mishaps(bench, chance)
        for _ in range(45):
            if bench.goes_on(mishaps.worker) is None:
                finished += 1
                break
            if chance.random() < 0.4:
                blind_try(bench, mishaps, chance)
        bench.check_state()
        seen += bench.counts

    accepted = Counter(key.split()[0] for key in seen.elements() if key.endswith("accepted"))
    assert finished >= 60
    assert min(accepted[kind] for kind in ("step_done", "signed_off", "reading_taken", "countersigned")) >= 20
    refused = {key.split()[1] for key in seen}
    assert {"gate_shut", "gate_stale", "held", "step_changed", "wrong_support", "step_locked", "same_person"} <= refused


def blind_try(bench: Bench, mishaps: Mishaps, chance: random.Random) -> None:
    step = bench.next_step()
    tried = chance.choice([*([step] * 3 if step else ()), *bench.packet.steps])
    body, seen = bench.next_record(tried), bench.play.sees(tried.id)
    for _ in range(chance.choice([1, 1, 2])):
        mishaps.one()
        if chance.random() < 0.4:
            mishaps.answers_one_again()
    person = chance.choice((mishaps.worker, mishaps.worker, mishaps.other))
    bench.does(person, body, chance.choice((None, None, seen)))
    if bench.is_signed():
        second = e.Countersigned(step="stud", fastener="nut", readings=(a_reading("110 N·m"),), wrench="W1")
        bench.does(chance.choice((mishaps.worker, mishaps.other)), second)
    mishaps.put_right()


def test_replaying_no_history_gives_an_empty_sheet():
    assert replay(Play().rules, JOB, []) == Sheet(JOB)
