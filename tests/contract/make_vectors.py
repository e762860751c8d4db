"""Writes `shared/vectors/rules.json`: cases that every implementation of the rules has to rule on alike.

Run `python -m tests.contract.make_vectors` after a change to the rules, and read what changed: the reason of each case
is reasoned by hand, stands in its name and is checked here before anything is written; details and hashes are what this
implementation gave (regression values), so a changed one asks for a look, never for a blind copy.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import timedelta
from functools import partial
from typing import Any

from app.domain import entry as e
from app.domain.canonical import plain
from app.domain.entry import Kind, entry_json
from app.domain.packet import Axle, Check, CheckKind, Choice, Line, OneTime, Pass, PriceState, Stage, Support, Verdict
from app.domain.sheet import Sheet
from tests.builders import (
    ADA,
    BEARS_ON,
    BEGAN,
    BEN,
    CLEAR,
    CLEO,
    DEE,
    FAY,
    LABEL,
    ON_STANDS,
    PLAY_TRIAL,
    ROOT,
    SPRING,
    SPRING_OPEN,
    STANDS_OPEN,
    Play,
    a_fastener,
    a_figure,
    a_gate,
    a_measure,
    a_packet,
    a_reading,
    a_step,
    a_turn,
    a_wrench,
    ms,
    whole_job,
    with_step,
)
from tests.made_up import FULL

VECTORS = ROOT / "shared" / "vectors" / "rules.json"
ABOUT = (
    "Cases for the rules: before (a sheet's state; its packet is under packets by packet_hash), heard (the entry, its "
    "place in the order, when, and who it was), the ruling, and the SHA-256 of the canonical JSON of the state after. "
    "Reasons are reasoned by hand and stand in the names. Details and hashes are regression values of the first "
    "implementation. Each case stands by itself."
)


def torque(**over: Any) -> Play:
    step = a_step("work", fasteners=(a_fastener(**over),))
    return Play(a_packet(step, gates=()))


def one(*steps: Any, **over: Any) -> Play:
    return Play(a_packet(*steps, **{"gates": (), **over}))


def on_stands(**over: Any) -> Play:
    step = a_step("work", supports=ON_STANDS, gates=("stands:front",), fasteners=(a_fastener(critical=True),))
    play = Play(a_packet(replace(step, **over), gates=(a_gate(),)))
    play.holds_vehicle(Support.STANDS_FRAME)
    return play


def by_tag(waits_minutes: int) -> Play:
    """A gate that asks for the stands' tag, in date for half an hour more; answered, then a sign-off behind it."""
    until = ms(BEGAN + timedelta(minutes=30))
    tag = Check(
        id="stands_tag", kind=CheckKind.SEEN, ask="What tag is on the stands?", otherwise="S1 would do.",
        choices=(Choice("S1", "S1, tall", True, until), Choice("S2", "S2: tagged out", False)),
    )  # fmt: skip
    step = a_step("work", supports=ON_STANDS, gates=("stands:front",), fasteners=(a_fastener(critical=True),))
    play = Play(a_packet(step, gates=(a_gate(checks=(tag,)),)))
    play.holds_vehicle(Support.STANDS_FRAME)
    play.wait(minutes=waits_minutes)
    play.answers({"stands_tag": e.Answer(choice="S1")})
    play.signs("110 N·m")
    return play


Case = tuple[str, str, Callable[[], Play]]
CASES: list[Case] = []


def case(name: str, reason: str = "") -> Callable[[Callable[[], Play]], Callable[[], Play]]:
    """The play's last entry is the case. `reason` is what it should be set aside for, by hand; "" for accepted."""

    def keep(make: Callable[[], Play]) -> Callable[[], Play]:
        CASES.append((name, reason, make))
        return make

    return keep


def says(play: Play, who: Any, body: Any, **over: Any) -> Play:
    play.does(who, body, **over)
    return play


@case("a step before the one it waits for", "step_locked")
def _() -> Play:
    play = one(a_step("first"), a_step("second", after=("first",)))
    return says(play, ADA, e.StepDone(step="second"))


def priced(state: PriceState) -> Play:
    """One step whose line has a price under the estimate's second edition."""
    line = Line("l1", "ball_joint", 1, "Ball joint", Axle.FRONT, price=state, price_edition=2)
    return one(a_step("work", measures=(a_measure(),), trial=PLAY_TRIAL, fasteners=(a_fastener(),)), lines=(line,))


@case("a step whose price waits for the customer", "not_agreed")
def _() -> Play:
    return says(priced(PriceState.WAITING), ADA, e.StepDone(step="work"))


@case("a sign-off after the price went further than was agreed", "not_agreed")
def _() -> Play:
    play = priced(PriceState.CHANGED)
    play.signs("110 N·m")
    return play


@case("a test of work that the customer does not want", "not_agreed")
def _() -> Play:
    body = e.TestRecorded(step="work", choice="none", verdict=Verdict.SOUND)
    return says(priced(PriceState.REFUSED), ADA, body)


@case("a reading before the price is agreed", "not_agreed")
def _() -> Play:
    return says(priced(PriceState.WAITING), ADA, e.ReadingTaken(step="work", measure="gap", reading=a_reading("3 mm")))


@case("a sign-off with the price agreed")
def _() -> Play:
    play = priced(PriceState.AGREED)
    play.signs("110 N·m")
    return play


@case("a sign-off of a joint that is put back as it was")
def _() -> Play:
    play = priced(PriceState.PUT_BACK)
    play.signs("110 N·m")
    return play


@case("a step done again once the price is agreed settles what was set aside")
def _() -> Play:
    line = Line("l1", "ball_joint", 1, "Ball joint", Axle.FRONT, price=PriceState.WAITING, price_edition=1)
    play = one(a_step("work"), lines=(line,))
    play.finishes("work")
    agreed = replace(line, price=PriceState.AGREED)
    play.does(FAY, e.PacketPinned(replace(play.packet, edition=2, lines=(agreed,)).as_json()))
    play.finishes("work")
    return play


@case("a gate nobody answered", "gate_shut")
def _() -> Play:
    play = on_stands()
    play.signs("110 N·m")
    return play


@case("a gate answered by another person", "gate_stale")
def _() -> Play:
    play = on_stands()
    play.answers(STANDS_OPEN)
    play.signs("110 N·m", who=BEN)
    return play


@case("a gate answered, the vehicle then let down and set on stands again", "gate_stale")
def _() -> Play:
    play = on_stands()
    play.answers(STANDS_OPEN)
    play.holds_vehicle(Support.ON_WHEELS)
    play.holds_vehicle(Support.STANDS_FRAME)
    play.signs("110 N·m")
    return play


@case("a gate answered an hour and a minute ago", "gate_stale")
def _() -> Play:
    play = on_stands()
    play.answers(STANDS_OPEN)
    play.wait(minutes=61)
    play.signs("110 N·m")
    return play


@case("a gate answered before a hand-over", "gate_stale")
def _() -> Play:
    play = on_stands()
    play.answers(STANDS_OPEN)
    play.does(ADA, e.HandedOver(to=BEN.id, to_name=BEN.name))
    play.signs("110 N·m")
    return play


@case("a gate with one bad answer", "gate_shut")
def _() -> Play:
    play = on_stands()
    play.answers({**STANDS_OPEN, "bears_on": e.Answer(choice="jack")})
    play.signs("110 N·m")
    return play


@case("a bad answer itself")
def _() -> Play:
    play = on_stands()
    play.answers({**STANDS_OPEN, "bears_on": e.Answer(choice="jack")})
    return play


@case("a gate answered with stands on their last day in date")
def _() -> Play:
    return by_tag(25)


@case("a gate answered with stands whose last day has ended", "gate_shut")
def _() -> Play:
    return by_tag(30)


@case("a stand's label read as per pair, half of it too little", "gate_shut")
def _() -> Play:
    play = on_stands()
    play.answers({**STANDS_OPEN, "label_basis": e.Answer(choice="pair"), "label": e.Answer(value=999_999)})
    play.signs("110 N·m")
    return play


@case("a stand's label read as per pair, half of it just enough")
def _() -> Play:
    play = on_stands()
    play.answers({**STANDS_OPEN, "label_basis": e.Answer(choice="pair"), "label": e.Answer(value=1_000_000)})
    play.signs("110 N·m")
    return play


@case("answers seen in another support state", "gate_stale")
def _() -> Play:
    play = on_stands()
    seen = play.sees()
    play.holds_vehicle(Support.STANDS_ARM, BEN)
    return says(play, ADA, e.GateAnswered(gate="stands:front", answers=STANDS_OPEN), basis=seen)


@case("answers to a gate reworded in the next edition", "step_changed")
def _() -> Play:
    play = on_stands()
    seen, packet = play.sees(), play.sheet.packet
    assert packet is not None
    play.pins(replace(packet, edition=2, gates=(a_gate(intro="Read this first."),)))
    return says(play, ADA, e.GateAnswered(gate="stands:front", answers=STANDS_OPEN), basis=seen)


@case("answers to a check that is not asked", "not_here")
def _() -> Play:
    play = on_stands()
    play.answers({"colour": e.Answer(choice="red")})
    return play


@case("work on stands with the vehicle on its wheels", "wrong_support")
def _() -> Play:
    return says(one(a_step(supports=ON_STANDS)), ADA, e.StepDone(step="work"))


@case("work at the rear with stands under the front", "wrong_support")
def _() -> Play:
    play = one(a_step(axle=Axle.REAR, supports=ON_STANDS))
    play.holds_vehicle(Support.STANDS_FRAME, axle=Axle.FRONT)
    return says(play, ADA, e.StepDone(step="work"))


@case("a change of support during a hold on the sheet")
def _() -> Play:
    play = on_stands()
    play.hangs_tag()
    play.holds_vehicle(Support.ON_WHEELS)
    return play


@case("a step with a tag on it, seen", "held")
def _() -> Play:
    play = one(a_step())
    tag = play.hangs_tag("work")
    return says(play, ADA, e.StepDone(step="work"), basis=replace(play.sees("work"), holds=(tag,)))


@case("a step with a tag on it, not seen", "away_when_held")
def _() -> Play:
    play = one(a_step())
    play.hangs_tag("work")
    return says(play, ADA, e.StepDone(step="work"), basis=replace(play.sees("work"), holds=()))


@case("a step whose tag was hung and taken off unseen", "away_when_held")
def _() -> Play:
    play = one(a_step())
    tag = play.hangs_tag("work")
    play.does(FAY, e.HoldLifted(hold=tag, reason="Here"))
    return says(play, ADA, e.StepDone(step="work"), basis=replace(play.sees("work"), holds=()))


@case("a tag on the whole sheet")
def _() -> Play:
    return says(one(a_step()), FAY, e.HoldPlaced(reason="Wait for the part"))


@case("a tag without a word", "not_finished")
def _() -> Play:
    return says(one(a_step()), FAY, e.HoldPlaced(reason=" \n", step="work"))


@case("a hand-over with a gate open")
def _() -> Play:
    play = on_stands()
    play.answers(STANDS_OPEN)
    return says(play, ADA, e.HandedOver(to=BEN.id, to_name=BEN.name, note="Nut is hand tight"))


@case("a hand-over to nobody", "not_finished")
def _() -> Play:
    return says(one(a_step()), ADA, e.HandedOver(to="", to_name=""))


@case("a photo of a step")
def _() -> Play:
    return says(one(a_step()), ADA, e.PhotoAdded(sha256="ab" * 32, name="washers", step="work"))


@case("another's tag taken off by a technician", "held")
def _() -> Play:
    play = one(a_step())
    tag = play.hangs_tag("work", ADA)
    return says(play, BEN, e.HoldLifted(hold=tag, reason="Fine"))


@case("another's tag taken off by the foreman with a reason")
def _() -> Play:
    play = one(a_step())
    tag = play.hangs_tag("work", ADA)
    return says(play, FAY, e.HoldLifted(hold=tag, reason="Part is here"))


@case("a torque at the low end of its window")
def _() -> Play:
    play = torque()
    play.signs("104.5 N·m")
    return play


@case("a torque just under its window", "reading_outside")
def _() -> Play:
    play = torque()
    play.signs("104.499 N·m")
    return play


@case("a torque with no figure", "spec_unverified")
def _() -> Play:
    play = torque(figure=None)
    play.signs("110 N·m")
    return play


@case("a torque whose figure nobody compared", "spec_unverified")
def _() -> Play:
    play = torque(figure=a_figure(verified=False))
    play.signs("110 N·m")
    return play


@case("a torque whose figure has no stages, read by reading nothing", "spec_unverified")
def _() -> Play:
    play = torque(figure=a_figure(stages=()))
    play.signs()
    return play


@case("a torque and a further turn, both inside")
def _() -> Play:
    play = torque(figure=a_figure(stages=(*a_figure().stages, a_turn())))
    play.signs("110 N·m", "90 °")
    return play


@case("a torque and a further turn, the turn too small", "reading_outside")
def _() -> Play:
    play = torque(figure=a_figure(stages=(*a_figure().stages, a_turn())))
    play.signs("110 N·m", "84.999 °")
    return play


@case("a torque and a further turn, one reading for both", "not_finished")
def _() -> Play:
    play = torque(figure=a_figure(stages=(*a_figure().stages, a_turn())))
    play.signs("110 N·m")
    return play


@case("a torque whose window has no ends", "reading_outside")
def _() -> Play:
    play = torque(figure=a_figure(stages=(Stage(target_mnm=110_000),)))
    play.signs("110 N·m")
    return play


@case("an extension of a tenth in line, 100 read for 110 at the nut")
def _() -> Play:
    play = torque()
    play.signs("100 N·m", extension=e.Extension(length_um=40_000))
    return play


@case("an extension at 45 degrees, 102.5 read")
def _() -> Play:
    play = torque()
    play.signs("102.5 N·m", extension=e.Extension(length_um=40_000, angle_deg=45))
    return play


@case("an extension turned back by 135 degrees, 118 read")
def _() -> Play:
    play = torque()
    play.signs("118 N·m", extension=e.Extension(length_um=40_000, angle_deg=135))
    return play


@case("an extension as long as the wrench, turned back", "tool_unfit")
def _() -> Play:
    play = torque()
    play.signs("110 N·m", extension=e.Extension(length_um=400_000, angle_deg=180))
    return play


@case("a wrench due the day before", "tool_unfit")
def _() -> Play:
    play = one(a_step(fasteners=(a_fastener(),)), wrenches=(a_wrench(due_on="2026-03-01"),))
    play.signs("110 N·m")
    return play


@case("a wrench due today")
def _() -> Play:
    play = one(a_step(fasteners=(a_fastener(),)), wrenches=(a_wrench(due_on="2026-03-02"),))
    play.signs("110 N·m")
    return play


@case("a wrench whose day has ended at the shop", "tool_unfit")
def _() -> Play:
    wrench = a_wrench(due_on="2026-03-02", due_end_ms=1_772_438_400_000)
    play = one(a_step(fasteners=(a_fastener(),)), wrenches=(wrench,))
    play.signs("110 N·m")
    return play


@case("a wrench beyond its range though the nut would get it", "tool_unfit")
def _() -> Play:
    play = one(a_step(fasteners=(a_fastener(),)), wrenches=(a_wrench(high_mnm=109_999),))
    play.signs("110 N·m")
    return play


@case("a wrench in another unit than the reading", "tool_unfit")
def _() -> Play:
    play = one(a_step(fasteners=(a_fastener(),)), wrenches=(a_wrench(unit="lbf·ft"),))
    play.signs("110 N·m")
    return play


@case("a final pass with the wheels hanging", "wrong_support")
def _() -> Play:
    play = torque(load_states=(Support.ON_WHEELS, Support.ON_RAMP))
    play.holds_vehicle(Support.LIFT_FRAME)
    play.signs("110 N·m")
    return play


@case("a snug pass")
def _() -> Play:
    return says(torque(tighten=Pass.SNUG, figure=None), ADA, e.SignedOff(step="work", fastener="nut"))


@case("a snug pass with a reading", "not_here")
def _() -> Play:
    play = torque(tighten=Pass.SNUG, figure=None)
    play.signs("110 N·m")
    return play


@case("a one-time nut not renewed", "not_finished")
def _() -> Play:
    play = torque(one_time=True)
    play.signs("110 N·m")
    return play


@case("a nut signed before, with another value", "already_signed")
def _() -> Play:
    play = torque()
    play.signs("110 N·m")
    play.signs("114 N·m", who=BEN)
    return play


@case("a second reading by the first person", "same_person")
def _() -> Play:
    play = torque(critical=True)
    play.signs("110 N·m")
    play.counters("110 N·m", who=ADA)
    return play


@case("a second reading behind a gate whose support has moved", "gate_stale")
def _() -> Play:
    play = on_stands()
    play.answers(STANDS_OPEN)
    play.signs("110 N·m")
    play.holds_vehicle(Support.STANDS_ARM)
    play.counters("110 N·m")
    return play


@case("a second look by somebody who signed a nut of the step", "same_person")
def _() -> Play:
    play = one(a_step(fasteners=(a_fastener(),), countersign=True))
    play.signs("110 N·m", who=BEN)
    play.finishes("work", ADA)
    play.counters(fastener="", seen="Tight", wrench="", who=BEN)
    return play


@case("a handback with a second reading missing", "needs_second_person")
def _() -> Play:
    play = torque(critical=True)
    play.signs("110 N·m")
    play.finishes("work")
    return says(play, FAY, e.HandedBack())


@case("a handback with a step open", "not_finished")
def _() -> Play:
    return says(one(a_step()), FAY, e.HandedBack())


@case("a step done with the measure missing", "not_finished")
def _() -> Play:
    return says(one(a_step(measures=(a_measure(),))), ADA, e.StepDone(step="work"))


@case("a step done with a later reading outside", "not_finished")
def _() -> Play:
    play = one(a_step(measures=(a_measure(),)))
    play.measures("3 mm", step="work")
    play.measures("5 mm", step="work")
    return says(play, ADA, e.StepDone(step="work"))


@case("a finding outside its window")
def _() -> Play:
    play = one(a_step(measures=(a_measure(must=False),)))
    play.measures("-7 mm", step="work")
    return play


@case("a replace verdict without a reason", "not_finished")
def _() -> Play:
    body = e.TestRecorded(step="work", choice="moves", verdict=Verdict.REPLACE)
    return says(one(a_step(trial=PLAY_TRIAL)), ADA, body)


@case("a step done with its one-time part renewed, and a reading taken back inside settling the one outside")
def _() -> Play:
    play = one(a_step(measures=(a_measure(),), one_time=(OneTime("cotter", "Cotter pin"),)))
    play.measures("5 mm", step="work")
    play.measures("3 mm", step="work")
    return says(play, ADA, e.StepDone(step="work", new_parts=("cotter", "cotter")))


@case("a step changed by the foreman meanwhile", "step_changed")
def _() -> Play:
    play = one(a_step())
    seen, packet = play.sees("work"), play.sheet.packet
    assert packet is not None
    play.pins(with_step(packet, "work", do="Otherwise."))
    return says(play, ADA, e.StepDone(step="work"), basis=seen)


@case("the next edition, with a begun step changed and a note on it kept")
def _() -> Play:
    play = one(a_step(fasteners=(a_fastener(),)), a_step("gone"))
    play.does(ADA, e.NoteAdded(text="Dry thread", step="work"))
    play.does(ADA, e.NoteAdded(text="Bent", step="gone"))
    play.signs("110 N·m")
    play.pins(a_packet(a_step(do="Otherwise.", revision=2, fasteners=(a_fastener(),)), gates=(), edition=2))
    return play


@case("an edition that changes a step in silence", "unknown_form")
def _() -> Play:
    play = one(a_step())
    play.pins(a_packet(a_step(do="Otherwise."), gates=(), edition=2))
    return play


@case("an edition that skips one", "step_changed")
def _() -> Play:
    play = one(a_step())
    play.pins(a_packet(a_step(), gates=(), edition=3))
    return play


@case("a step done by the desk", "wrong_role")
def _() -> Play:
    return says(one(a_step()), DEE, e.StepDone(step="work"))


@case("a step that is not on the sheet", "not_here")
def _() -> Play:
    return says(one(a_step()), ADA, e.StepDone(step="elsewhere"))


@case("a form number yet to come", "unknown_form")
def _() -> Play:
    return says(one(a_step()), ADA, e.StepDone(step="work"), v=2)


@case("a body with a key too many", "unknown_form")
def _() -> Play:
    return says(one(a_step()), ADA, {"step": "work", "new_parts": [], "mood": "good"}, kind="step_done")


@case("a text of 2001 characters beyond the first plane", "unknown_form")
def _() -> Play:
    return says(one(a_step()), ADA, {"text": "𝔐" * 2_001}, kind="note_added")


@case("a text of 2000 characters beyond the first plane")
def _() -> Play:
    return says(one(a_step()), ADA, {"text": "𝔐" * 2_000}, kind="note_added")


@case("a step opened again with a reason")
def _() -> Play:
    play = torque()
    play.signs("110 N·m")
    play.finishes("work")
    return says(play, FAY, e.StepReopened(step="work", reason="Wrong nut"))


@case("a settled record, twice", "already_signed")
def _() -> Play:
    play = one(a_step())
    play.finishes("work")
    play.finishes("work", CLEO)
    twice = play.last_id
    play.does(FAY, e.Settled(aside=twice, outcome="keep_as_note", reason="Twice"))
    return says(play, FAY, e.Settled(aside=twice, outcome="do_again", reason="Twice"))


@case("a note after the handback", "handed_back")
def _() -> Play:
    play = whole_job()
    play.does(FAY, e.HandedBack())
    return says(play, ADA, e.NoteAdded(text="A rag in the boot"))


@case("what came after the handback, settled")
def _() -> Play:
    play = whole_job()
    play.does(FAY, e.HandedBack())
    play.does(ADA, e.NoteAdded(text="A rag in the boot"))
    return says(play, FAY, e.Settled(aside=play.last_id, outcome="keep_as_note", reason="Rang"))


@case("the whole job handed back")
def _() -> Play:
    return says(whole_job(), FAY, e.HandedBack(note="Keys at the desk"))


@case("a gate for the joint, asked in every support state, answered")
def _() -> Play:
    play = Play(a_packet())
    play.answers(SPRING_OPEN, gate=SPRING.id)
    return play


@case("a reading of the largest whole number both ends hold", "reading_outside")
def _() -> Play:
    body = e.ReadingTaken(step="work", measure="gap", reading=e.Reading(2**53 - 1, "9007199254740.991", "mm"))
    return says(one(a_step(measures=(a_measure(),))), ADA, body)


@case("a reading one beyond the largest whole number both ends hold", "unknown_form")
def _() -> Play:
    body = {"step": "work", "measure": "gap", "reading": {"value": 2**53}}
    return says(one(a_step(measures=(a_measure(),))), ADA, body, kind="reading_taken")


@case("a reading as typed in inches")
def _() -> Play:
    body = e.ReadingTaken(step="work", measure="gap", reading=a_reading("0.12 in"))
    return says(one(a_step(measures=(a_measure(),))), ADA, body)


@case("a step with nothing but a reading, opened again")
def _() -> Play:
    play = one(a_step(measures=(a_measure(),)))
    play.measures("3 mm", step="work")
    return says(play, ADA, e.StepReopened(step="work", reason="Wrong shim"))


@case("a refusal a person settled, the same then accepted: it stays as that person settled it")
def _() -> Play:
    play = one(a_step("first"), a_step("second", after=("first",)))
    play.finishes("second")
    play.does(FAY, e.Settled(aside=play.last_id, outcome="keep_as_note", reason="Seen"))
    play.finishes("first")
    play.finishes("second")
    return play


def in_two_goes(minutes: int) -> Play:
    """The gate answered but for one check, then that one half an hour later, then the nut after so many minutes."""
    play = on_stands()
    play.answers({key: answer for key, answer in STANDS_OPEN.items() if key != "shaken"})
    play.wait(minutes=30)
    play.answers({"shaken": STANDS_OPEN["shaken"]})
    play.wait(minutes=minutes)
    return play


@case("the second half of a gate's answers")
def _() -> Play:
    return in_two_goes(0)


@case("a gate answered in two goes, both within the hour")
def _() -> Play:
    play = in_two_goes(29)
    play.signs("110 N·m")
    return play


@case("a gate answered in two goes, the first more than an hour ago", "gate_stale")
def _() -> Play:
    play = in_two_goes(31)
    play.signs("110 N·m")
    return play


# --- Order: by when it was heard, names by code point; never by the order of an object's keys -------------------------


@case("two tags, the first with the higher number for an id, the ruling naming the first", "held")
def _() -> Play:
    play = one(a_step())
    play.does(FAY, e.HoldPlaced(reason="First"), id="20")
    play.does(FAY, e.HoldPlaced(reason="Second"), id="10")
    return says(play, ADA, e.StepDone(step="work"))


@case("two readings outside, the first with the higher number for an id, the ruling naming the first", "not_finished")
def _() -> Play:
    play = one(a_step(measures=(a_measure("gap"), a_measure("play"))))
    for measure, typed, key in (("gap", "9 mm", "20"), ("play", "8 mm", "10")):
        play.measures("3 mm", step="work", measure=measure)
        body = e.ReadingTaken(step="work", measure=measure, reading=a_reading(typed))
        play.does(ADA, body, id=key)
    return says(play, ADA, e.StepDone(step="work"))


@case("a handback with two tags hanging, the ruling naming the first", "not_finished")
def _() -> Play:
    play = one(a_step())
    play.finishes("work")
    play.does(FAY, e.HoldPlaced(reason="First"), id="20")
    play.does(FAY, e.HoldPlaced(reason="Second"), id="10")
    return says(play, FAY, e.HandedBack())


@case("an edition without two steps, their notes moving in the order of the names: 10 before 9")
def _() -> Play:
    play = one(a_step("work"), a_step("9"), a_step("10"))
    play.does(ADA, e.NoteAdded(text="On 9", step="9"))
    play.does(ADA, e.NoteAdded(text="On 10", step="10"))
    play.pins(a_packet(a_step("work"), gates=(), edition=2))
    return play


@case("an edition without a step that was opened again, the reason moving to the sheet")
def _() -> Play:
    play = one(a_step("work"), a_step("gone"))
    play.finishes("gone")
    play.does(FAY, e.StepReopened(step="gone", reason="Wrong nut"))
    play.pins(a_packet(a_step("work"), gates=(), edition=2))
    return play


@case("new parts, sorted by code point beyond the first plane too")
def _() -> Play:
    names = ("\U0001f527", "\uffee", "b")
    play = one(a_step(one_time=tuple(OneTime(name, name) for name in names)))
    return says(play, ADA, e.StepDone(step="work", new_parts=names))


# --- Families: one rule each, a row to a case ------------------------------------------------------------------------


def family(name: str, rows: Iterable[tuple[str, Any, str]], make: Callable[[Any], Play]) -> None:
    """Rows of what the case is, what `make` needs for it, and the reason by hand ("" for accepted)."""
    CASES.extend((f"{name}: {what}", reason, partial(make, given)) for what, given, reason in rows)


def _held_and_done(given: tuple[Support, Axle, Axle]) -> Play:
    state, under, at = given
    play = one(a_step(axle=at, supports=(state,)))
    play.holds_vehicle(state, axle=under)
    return says(play, ADA, e.StepDone(step="work"))


F, R, B = Axle.FRONT, Axle.REAR, Axle.BOTH
family(
    "stands hold their axle, a lift the whole vehicle",
    [
        ("front under front", (Support.STANDS_ARM, F, F), ""),
        ("front under rear", (Support.STANDS_ARM, F, R), "wrong_support"),
        ("front under both", (Support.STANDS_ARM, F, B), "wrong_support"),
        ("rear under front", (Support.STANDS_FRAME, R, F), "wrong_support"),
        ("rear under rear", (Support.STANDS_FRAME, R, R), ""),
        ("rear under both", (Support.STANDS_FRAME, R, B), "wrong_support"),
        ("both under front", (Support.STANDS_AXLE, B, F), ""),
        ("both under rear", (Support.STANDS_AXLE, B, R), ""),
        ("both under both", (Support.STANDS_AXLE, B, B), ""),
        ("a lift said to be at the front, work at the rear", (Support.LIFT_FRAME, F, R), ""),
        ("a ramp said to be at the front, work at both", (Support.ON_RAMP, F, B), ""),
        ("wheels said to be at the rear, work at the front", (Support.ON_WHEELS, R, F), ""),
    ],
    _held_and_done,
)


def _plain_body(given: tuple[str, dict[str, Any]]) -> Play:
    kind, body = given
    who = {"packet_pinned": FAY}.get(kind, ADA)
    return says(one(a_step()), who, body, kind=kind)


READ = {"step": "work", "measure": "gap"}
SIGN = {"step": "work", "fastener": "nut"}
family(
    "a body in another form",
    [
        ("a note without its text", ("note_added", {}), "unknown_form"),
        ("a note that is a number", ("note_added", {"text": 81}), "unknown_form"),
        ("a note that is nothing", ("note_added", {"text": None}), "unknown_form"),
        ("a note of 2001 letters", ("note_added", {"text": "x" * 2_001}), "unknown_form"),
        ("a kind in capitals", ("Note_Added", {"text": "Seen"}), "unknown_form"),
        ("a kind every object has", ("constructor", {"text": "Seen"}), "unknown_form"),
        ("a reading with a point", ("reading_taken", {**READ, "reading": {"value": 3.0}}), "unknown_form"),
        ("a reading with an exponent", ("reading_taken", {**READ, "reading": {"value": 1e300}}), "unknown_form"),
        ("a reading as text", ("reading_taken", {**READ, "reading": {"value": "3000"}}), "unknown_form"),
        ("a reading of yes", ("reading_taken", {**READ, "reading": {"value": True}}), "unknown_form"),
        ("a reading far below all", ("reading_taken", {**READ, "reading": {"value": -(10**40)}}), "unknown_form"),
        ("a reading as a list", ("reading_taken", {**READ, "reading": [3_000, "3", "mm"]}), "unknown_form"),
        ("a new part as a number", ("signed_off", {**SIGN, "new_part": 1}), "unknown_form"),
        ("readings as an object", ("signed_off", {**SIGN, "readings": {"value": 1}}), "unknown_form"),
        ("51 readings", ("signed_off", {**SIGN, "readings": [{"value": 1}] * 51}), "unknown_form"),
        ("an angle with a point", ("signed_off", {**SIGN, "extension": {"length_um": 1, "angle_deg": 45.0}}),
         "unknown_form"),
        ("a state nobody knows", ("support_changed", {"state": "on_a_jack", "axle": "front"}), "unknown_form"),
        ("an axle nobody knows", ("support_changed", {"state": "on_ramp", "axle": "middle"}), "unknown_form"),
        ("answers as a list", ("gate_answered", {"gate": "g", "answers": [["shaken", True]]}), "unknown_form"),
        ("ready as a number", ("gate_answered", {"gate": "g", "answers": {"a": {"ready": 1}}}), "unknown_form"),
        ("a check with a name of 2001 letters", ("gate_answered", {"gate": "g", "answers": {"x" * 2_001: {}}}),
         "unknown_form"),
        ("51 answers", ("gate_answered", {"gate": "g", "answers": {str(n): {} for n in range(51)}}), "unknown_form"),
        ("50 answers, at no gate", ("gate_answered", {"gate": "g", "answers": {str(n): {} for n in range(50)}}),
         "not_here"),
        ("a photo by a path", ("photo_added", {"sha256": "../../etc", "name": "x"}), "unknown_form"),
        ("a photo's hash in capitals", ("photo_added", {"sha256": "A" * 64, "name": "x"}), "unknown_form"),
        ("a verdict nobody knows", ("test_recorded", {"step": "work", "choice": "a", "verdict": "fine"}),
         "unknown_form"),
        ("a packet that is a list", ("packet_pinned", {"packet": []}), "unknown_form"),
        ("a packet that is empty", ("packet_pinned", {"packet": {}}), "unknown_form"),
        ("a hash with a key of its own called __proto__", ("note_added", {"text": "x", "__proto__": {}}),
         "unknown_form"),
    ],
    _plain_body,
)  # fmt: skip


def _note(text: str) -> Play:
    return says(one(a_step()), ADA, e.NoteAdded(text=text))


family(
    "a note of nothing but",
    [
        ("a next-line character", "\x85", "not_finished"),
        ("a file separator", "\x1c", "not_finished"),
        ("a no-break space", "\xa0", "not_finished"),
        ("an em space and an ideographic one", "\u2003\u3000", "not_finished"),
        ("a line separator", "\u2028", "not_finished"),
        ("a zero-width space, which is none", "\u200b", ""),
        ("a byte order mark, which is none", "\ufeff", ""),
    ],
    _note,
)


def _word(given: tuple[Any, Any]) -> Play:
    who, body = given
    play = one(a_step("work", trial=PLAY_TRIAL, countersign=True))
    play.tests("work")
    if not isinstance(body, e.TestRecorded):
        play.finishes("work")
        play.finishes("work")  # a second record, set aside by the id e-4
    return says(play, who, body)


NEL, BOM = "\x85", "\ufeff"
LOOK = {"step": "work", "choice": "moves", "verdict": Verdict.REPLACE}
family(
    "a word that",
    [
        ("is a space: what a second person saw", (BEN, e.Countersigned(step="work", seen=NEL)), "not_finished"),
        ("is none: what a second person saw", (BEN, e.Countersigned(step="work", seen=BOM)), ""),
        ("is a space: why a part is to be replaced", (ADA, e.TestRecorded(**LOOK, reason=NEL)), "not_finished"),
        ("is none: why a part is to be replaced", (ADA, e.TestRecorded(**LOOK, reason=BOM)), ""),
        ("is a space: why a tag was hung", (FAY, e.HoldPlaced(reason=NEL)), "not_finished"),
        ("is none: why a tag was hung", (FAY, e.HoldPlaced(reason=BOM)), ""),
        ("is a space: why a step was opened again", (FAY, e.StepReopened(step="work", reason=NEL)), "not_finished"),
        ("is a space: why a record was settled", (FAY, e.Settled("e-4", "do_again", NEL)), "not_finished"),
        ("is none: why a record was settled", (FAY, e.Settled("e-4", "do_again", BOM)), ""),
        ("is a space: to whom a job is handed over", (ADA, e.HandedOver(to=NEL, to_name="Ben")), "not_finished"),
        ("is a space: the heir's name", (ADA, e.HandedOver(to="p-ben", to_name=NEL)), "not_finished"),
        ("is none: the heir's name", (ADA, e.HandedOver(to="p-ben", to_name=BOM)), ""),
    ],
    _word,
)  # fmt: skip


def _signs(given: tuple[str, dict[str, Any], dict[str, Any]]) -> Play:
    typed, wrench, over = given
    play = one(a_step(fasteners=(a_fastener(),)), wrenches=(a_wrench(**wrench),))
    play.signs(typed, **over)
    return play


MS = 1_772_438_400_000  # the moment the plays begin, 2 March 2026, 8:00 UTC; the packet is pinned then
family(
    "a torque and its wrench",
    [
        ("the high end", ("115.5 N·m", {}, {}), ""),
        ("just above the high end", ("115.501 N·m", {}, {}), "reading_outside"),
        ("nothing, which no wrench reads", ("0 N·m", {}, {}), "tool_unfit"),
        ("nothing, by a wrench that begins there", ("0 N·m", {"low_mnm": 0}, {}), "reading_outside"),
        ("less than nothing", ("-110 N·m", {}, {}), "tool_unfit"),
        ("81 lbf·ft by a wrench in lbf·ft", ("81 lbf·ft", {"unit": "lbf·ft"}, {}), ""),
        ("81 lbf·ft by a wrench in N·m", ("81 lbf·ft", {}, {}), "tool_unfit"),
        ("81 lbf·ft by a wrench of no unit", ("81 lbf·ft", {"unit": ""}, {}), ""),
        ("a wrench with a fault", ("110 N·m", {"fault": "dropped"}, {}), "tool_unfit"),
        ("a wrench nobody dated", ("110 N·m", {"due_on": ""}, {}), "tool_unfit"),
        ("a wrench nobody knows", ("110 N·m", {}, {"wrench": "W9"}), "tool_unfit"),
        ("a wrench by no name", ("110 N·m", {}, {"wrench": ""}), "tool_unfit"),
        ("the lowest the wrench reads", ("110 N·m", {"low_mnm": 110_000}, {}), ""),
        ("the highest the wrench reads", ("110 N·m", {"high_mnm": 110_000}, {}), ""),
        ("below the lowest it reads", ("110 N·m", {"low_mnm": 110_001}, {}), "tool_unfit"),
        ("a day that ends a second after", ("110 N·m", {"due_on": "2026-03-02", "due_end_ms": MS + 1_001}, {}), ""),
        ("a day that ends at that instant", ("110 N·m", {"due_on": "2026-03-02", "due_end_ms": MS + 1_000}, {}),
         "tool_unfit"),
        ("no length, and no need of one", ("110 N·m", {"length_um": None}, {}), ""),
        ("no length, with an extension", ("110 N·m", {"length_um": None}, {"extension": e.Extension(40_000)}),
         "tool_unfit"),
        ("a length of nothing, with an extension", ("110 N·m", {"length_um": 0}, {"extension": e.Extension(40_000)}),
         "tool_unfit"),
        ("an extension of nothing", ("110 N·m", {}, {"extension": e.Extension(0)}), "tool_unfit"),
        ("an extension beyond two metres", ("110 N·m", {}, {"extension": e.Extension(2_000_001)}), "tool_unfit"),
        ("an extension at a negative angle", ("110 N·m", {}, {"extension": e.Extension(40_000, -1)}), "tool_unfit"),
        ("an extension beyond half a turn", ("110 N·m", {}, {"extension": e.Extension(40_000, 181)}), "tool_unfit"),
        ("a tenth in line, 110 read is 121", ("110 N·m", {}, {"extension": e.Extension(40_000)}), "reading_outside"),
        ("a tenth square to it, 110 read is 110", ("110 N·m", {}, {"extension": e.Extension(40_000, 90)}), ""),
        ("a tenth turned back, 122 read is 109.8", ("122 N·m", {}, {"extension": e.Extension(40_000, 180)}), ""),
        ("a tenth turned back, 110 read is 99", ("110 N·m", {}, {"extension": e.Extension(40_000, 180)}),
         "reading_outside"),
    ],
    _signs,
)  # fmt: skip

TECHNICIANS = ("gate_answered", "reading_taken", "test_recorded", "signed_off", "step_done")
FOREMANS = ("packet_pinned", "settled", "handed_back")
AT_DESK = ("packet_pinned", "note_added")


def _by(given: tuple[Any, Kind]) -> Play:
    who, kind = given
    return says(one(a_step()), who, FULL[kind])


family("by the desk", [(kind, (DEE, kind), "wrong_role") for kind in Kind if kind not in AT_DESK], _by)
family("by the foreman", [(kind, (FAY, Kind(kind)), "wrong_role") for kind in TECHNICIANS], _by)
family("by a technician", [(kind, (ADA, Kind(kind)), "wrong_role") for kind in FOREMANS], _by)


def _unpinned(kind: Kind) -> Play:
    return says(Play(), FAY if kind in FOREMANS else ADA, FULL[kind])


family("before a sheet", [(kind, kind, "not_here") for kind in Kind if kind != "packet_pinned"], _unpinned)


def _handed_back(kind: Kind) -> Play:
    play = one(a_step())
    play.finishes("work")
    play.does(FAY, e.HandedBack())
    return says(play, FAY if kind in FOREMANS else ADA, FULL[kind])


family("after the handback", [(kind, kind, "handed_back") for kind in Kind if kind != "settled"], _handed_back)


def _gate_and_step(given: tuple[Any, e.Answer, int]) -> Play:
    check, answer, seconds = given
    step = a_step(supports=ON_STANDS, gates=("stands:front",))
    play = Play(a_packet(step, gates=(a_gate(checks=(check,)),)))
    play.holds_vehicle(Support.STANDS_FRAME)
    play.answers({check.id: answer})
    play.wait(seconds=seconds - 1)
    play.finishes("work")
    return play


ENOUGH = replace(LABEL, halve_unless=None)
family(
    "a gate's answer",
    [
        ("as much as the limit", (ENOUGH, e.Answer(value=500_000), 1), ""),
        ("one less than the limit", (ENOUGH, e.Answer(value=499_999), 1), "gate_shut"),
        ("no number", (ENOUGH, e.Answer(text="many"), 1), "gate_shut"),
        ("as much as the upper limit", (replace(ENOUGH, at_least=None, at_most=9), e.Answer(value=9), 1), ""),
        ("one more than the upper limit", (replace(ENOUGH, at_least=None, at_most=9), e.Answer(value=10), 1),
         "gate_shut"),
        ("below nothing, under an upper limit", (replace(ENOUGH, at_least=None, at_most=9), e.Answer(value=-1), 1),
         "gate_shut"),
        ("no limit to fit into", (replace(ENOUGH, at_least=None), e.Answer(value=500_000), 1), "gate_shut"),
        ("a limit that could not be computed", (replace(ENOUGH, needs_input="mass"), e.Answer(value=500_000), 1),
         "gate_shut"),
        ("half of an odd number, rounded down to the limit", (LABEL, e.Answer(value=1_000_001), 1), ""),
        ("ready", (CLEAR, e.Answer(ready=True), 1), ""),
        ("not ready", (CLEAR, e.Answer(ready=False), 1), "gate_shut"),
        ("nothing said of ready", (CLEAR, e.Answer(choice="yes"), 1), "gate_shut"),
        ("an observation that is none of them", (BEARS_ON, e.Answer(choice="constructor"), 1), "gate_shut"),
        ("an hour ago to the second", (CLEAR, e.Answer(ready=True), 3_600), ""),
        ("an hour and a second ago", (CLEAR, e.Answer(ready=True), 3_601), "gate_stale"),
        ("a second later by a clock set back", (CLEAR, e.Answer(ready=True), -1), "gate_stale"),
    ],
    _gate_and_step,
)  # fmt: skip


def _pins(packet: Any) -> Play:
    return says(Play(), FAY, e.PacketPinned(packet if isinstance(packet, dict) else packet.as_json()))


GOOD = a_packet(a_step(gates=("stands:front",)), gates=(a_gate(),))
AS_DATA = GOOD.as_json()


def altered(*path: str | int, to: Any) -> dict[str, Any]:
    data = copy.deepcopy(AS_DATA)
    inner: Any = data
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] = to
    return data


SHORT = {key: value for key, value in AS_DATA.items() if key != "missing"}
family(
    "a packet",
    [
        ("as it should be", GOOD, ""),
        ("without what may be left out", SHORT, ""),
        ("of another job", replace(GOOD, job="job-2"), "step_changed"),
        ("of edition 2 first", replace(GOOD, edition=2), "step_changed"),
        ("of another form", replace(GOOD, v=2), "unknown_form"),
        ("with no steps", replace(GOOD, steps=()), "unknown_form"),
        ("with a step twice", replace(GOOD, steps=GOOD.steps * 2), "unknown_form"),
        ("with a gate twice", replace(GOOD, gates=GOOD.gates * 2), "unknown_form"),
        ("with a gate that asks nothing", replace(GOOD, gates=(a_gate(checks=()),)), "unknown_form"),
        ("with a gate gone", replace(GOOD, gates=()), "unknown_form"),
        ("with a step after one that is gone", a_packet(a_step(after=("gone",)), gates=()), "unknown_form"),
        ("with a fastener of no name", a_packet(a_step(fasteners=(a_fastener(""),)), gates=()), "unknown_form"),
        ("with a wrench due soon", replace(GOOD, wrenches=(a_wrench(due_on="soon"),)), "unknown_form"),
        ("with seconds as text", altered("gates", 0, "stale_after_s", to="3600"), "unknown_form"),
        ("with a yes that is 1", altered("gates", 0, "follows_support", to=1), "unknown_form"),
        ("with a key nobody knows", altered("steps", 0, "invented", to="x"), "unknown_form"),
        ("with a number with a point", altered("wrenches", 0, "low_mnm", to=40_000.0), "unknown_form"),
        ("with a number no tablet holds", altered("wrenches", 0, "high_mnm", to=2**53), "unknown_form"),
        ("with an edition no tablet holds", altered("edition", to=2**60), "unknown_form"),
        ("with a vehicle that is a number", altered("vehicle", to=0.5), "unknown_form"),
        ("with a null where a text should be", altered("steps", 0, "caution", to=None), "unknown_form"),
    ],
    _pins,
)


def vectors() -> dict[str, Any]:
    packets: dict[str, Any] = {}
    made = [_made(name, reason, make(), packets) for name, reason, make in CASES]
    made += _whole_job(packets)
    return {"about": ABOUT, "v": 1, "packets": packets, "cases": made}


def _made(name: str, reason: str, play: Play, packets: dict[str, Any]) -> dict[str, Any]:
    ruling = play.history[-1][1]
    if ruling.reason != reason:
        raise SystemExit(f"{name}: by hand {reason or 'accepted'}, by the rules {ruling.reason or 'accepted'}")
    return _case(f"{name} -> {reason or 'accepted'}", play, len(play.history) - 1, packets)


def _whole_job(packets: dict[str, Any]) -> list[dict[str, Any]]:
    play = whole_job()
    cases = []
    for index, (one_heard, ruling) in enumerate(play.history):
        if not ruling.accepted:
            raise SystemExit(f"whole job, entry {index + 1}: {ruling.reason}")
        name = f"a whole job, entry {index + 1}, {one_heard.entry.kind} -> accepted"
        cases.append(_case(name, play, index, packets))
    return cases


def _case(name: str, play: Play, index: int, packets: dict[str, Any]) -> dict[str, Any]:
    before = Sheet(play.sheet.job)
    for one_heard, ruling in play.history[:index]:
        before = play.rules.evolve(before, one_heard, ruling)
    one_heard, ruling = play.history[index]
    if before.packet is not None:
        packets.setdefault(before.packet.hash, before.packet.as_json())
    return {
        "name": name,
        "before": before.as_json(),
        "heard": {
            "entry": entry_json(one_heard.entry),
            "order": one_heard.order,
            "heard_at_ms": one_heard.heard_at_ms,
            "name": one_heard.name,
            "roles": list(one_heard.roles),
        },
        "ruling": plain(ruling),
        "hash": play.rules.evolve(before, one_heard, ruling).hash,
    }


def text_of(data: dict[str, Any]) -> str:
    """One case, and one packet, to a line, so that a change shows which."""

    def line(value: Any) -> str:
        return json.dumps(value, ensure_ascii=False, separators=(",", ":"))

    packets = ",\n".join(f"{line(key)}:{line(value)}" for key, value in data["packets"].items())
    cases = ",\n".join(line(one_case) for one_case in data["cases"])
    head = f'{{"about":{line(data["about"])},\n"v":{data["v"]},\n'
    return f'{head}"packets":{{\n{packets}\n}},\n"cases":[\n{cases}\n]}}\n'


if __name__ == "__main__":
    VECTORS.parent.mkdir(exist_ok=True)
    VECTORS.write_text(text_of(vectors()), encoding="utf-8", newline="\n")
