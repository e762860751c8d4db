"""Hazard gates: one person, one support state, one time (trade.md's section on gates is the specification).

The principle of asking again at a hand-over is that of 29 CFR 1910.147(f)(4); that a gate lapses with the support
state and with time is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from app.domain import entry as e
from app.domain.case import Reason
from app.domain.packet import Axle, Check, CheckKind, Pass, Support
from app.domain.standing import gate_state
from tests.builders import (
    ADA,
    BEN,
    CLEAR,
    FAY,
    ON_STANDS,
    SPRING,
    SPRING_OPEN,
    STANDS_OPEN,
    Play,
    a_fastener,
    a_gate,
    a_measure,
    a_packet,
    a_reading,
    a_step,
    ms,
)

GATED = a_step(
    "work", supports=ON_STANDS, gates=("stands:front",), measures=(a_measure(required=False),),
    fasteners=(a_fastener("nut", critical=True),),
)  # fmt: skip


def on_stands(*gates: object, **over: object) -> Play:
    play = Play(a_packet(replace(GATED, **over), gates=gates or (a_gate(),)))  # type: ignore[arg-type]
    play.holds_vehicle(Support.STANDS_FRAME)
    return play


# --- Shut ------------------------------------------------------------------------------------------------------------


def test_nothing_is_recorded_behind_a_gate_nobody_has_answered():
    """A step's readings, sign-offs and end all wait for its gate."""
    play = on_stands()

    rulings = [play.measures("3 mm", step="work"), play.signs("110 N·m"), play.finishes("work")]

    assert [one.reason for one in rulings] == [Reason.GATE_SHUT] * 3
    assert play.sheet.steps == {}


def test_a_gate_half_answered_is_shut():
    """Every check counts; there is no "all"."""
    play = on_stands()
    play.answers({key: STANDS_OPEN[key] for key in ("bears_on", "label_basis", "label")})

    ruling = play.measures("3 mm", step="work")

    assert ruling.reason == Reason.GATE_SHUT


def test_a_gate_may_be_answered_one_check_at_a_time():
    """Answers of one person add up while nothing else changes."""
    play = on_stands()
    for key, answer in STANDS_OPEN.items():
        play.answers({key: answer})

    assert play.measures("3 mm", step="work").accepted


@pytest.mark.parametrize(
    ("check", "answer"),
    [
        ("bears_on", e.Answer(choice="jack")),
        ("bears_on", e.Answer(choice="something nobody offered")),
        ("bears_on", e.Answer(ready=True)),
        ("bears_on", e.Answer()),
        ("label", e.Answer(value=499_999, text="499.999", unit="kg")),
        ("label", e.Answer(value=-500_000)),
        ("label", e.Answer(choice="frame")),
        ("label_basis", e.Answer(choice="none")),
        ("shaken", e.Answer(ready=False)),
        ("shaken", e.Answer(choice="yes")),
    ],
)
def test_one_answer_that_does_not_fit_keeps_the_gate_shut(check: str, answer: e.Answer):
    """A "no" anywhere keeps the step shut."""
    play = on_stands()
    taken = play.answers({**STANDS_OPEN, check: answer})

    ruling = play.measures("3 mm", step="work")

    assert taken.accepted, "the answer itself is kept"
    assert ruling.reason == Reason.GATE_SHUT


def test_an_open_gate_shuts_when_a_check_is_answered_no_later():
    """What was seen last counts."""
    play = on_stands()
    play.answers(STANDS_OPEN)
    play.answers({"shaken": e.Answer(ready=False)})

    assert play.measures("3 mm", step="work").reason == Reason.GATE_SHUT


def test_a_label_counts_half_unless_it_says_each():
    """A stand's label is read as per pair unless it says each (house rule)."""
    play = on_stands()
    pair = e.Answer(choice="pair")
    play.answers({**STANDS_OPEN, "label_basis": pair, "label": e.Answer(value=999_999)})
    assert play.measures("3 mm", step="work").reason == Reason.GATE_SHUT

    play.answers({"label": e.Answer(value=1_000_000)})
    assert play.measures("3 mm", step="work").accepted


def test_a_label_answered_before_its_basis_is_judged_again_when_the_basis_comes():
    """The order of answering changes nothing."""
    play = on_stands()
    for key in ("label", "bears_on", "shaken", "label_basis"):
        play.answers({key: STANDS_OPEN[key]})

    assert play.measures("3 mm", step="work").accepted


def test_a_limit_that_could_not_be_computed_never_opens():
    """No mass known, no load computed: the software does not guess in its place."""
    unknown = Check(
        id="label", kind=CheckKind.VALUE, ask="Rating?", otherwise="Give the axle's mass.", needs_input="mass"
    )
    play = on_stands(a_gate(checks=(unknown,)))
    play.answers({"label": e.Answer(value=9_000_000)})

    assert play.measures("3 mm", step="work").reason == Reason.GATE_SHUT


def test_a_number_without_any_limit_never_opens():
    """A value check is a number that must fit: with nothing to fit into it cannot pass."""
    boundless = Check(id="label", kind=CheckKind.VALUE, ask="Rating?", otherwise="Stay out.")
    play = on_stands(a_gate(checks=(boundless,)))
    play.answers({"label": e.Answer(value=9_000_000)})

    assert play.measures("3 mm", step="work").reason == Reason.GATE_SHUT


def test_a_number_below_nothing_does_not_fit_an_upper_limit():
    """A distance or a rating cannot be negative; a slipped sign is not an answer."""
    inboard = Check(id="inboard", kind=CheckKind.VALUE, ask="How far in?", otherwise="Move them.", at_most=300_000)
    play = on_stands(a_gate(checks=(inboard,)))
    play.answers({"inboard": e.Answer(value=-1)})
    assert play.measures("3 mm", step="work").reason == Reason.GATE_SHUT

    play.answers({"inboard": e.Answer(value=0)})
    assert play.measures("3 mm", step="work").accepted


def test_every_gate_of_a_step_has_to_be_open():
    play = on_stands(a_gate(), SPRING, gates=("stands:front", SPRING.id))
    play.answers(STANDS_OPEN)
    assert play.measures("3 mm", step="work").reason == Reason.GATE_SHUT

    play.answers(SPRING_OPEN, gate=SPRING.id)
    assert play.measures("3 mm", step="work").accepted


def test_a_gate_is_asked_only_in_the_support_states_it_is_for():
    """A step that may be done on a lift or on stands names both gates; the one that fits is asked."""
    lift = a_gate("lift", checks=(CLEAR,), supports=(Support.LIFT_FRAME,))
    play = on_stands(a_gate(), lift, supports=(*ON_STANDS, Support.LIFT_FRAME), gates=("lift", "stands:front"))
    play.answers(STANDS_OPEN)
    assert play.measures("3 mm", step="work").accepted

    play.holds_vehicle(Support.LIFT_FRAME)
    assert play.measures("3 mm", step="work").details["gate"] == "lift"

    play.answers(SPRING_OPEN, gate="lift")
    assert play.measures("3 mm", step="work").accepted


# --- Stale: another person -------------------------------------------------------------------------------------------


def test_another_person_has_to_answer_the_gate_again():
    play = on_stands()
    play.answers(STANDS_OPEN)

    ruling = play.measures("3 mm", step="work", who=BEN)

    assert (ruling.reason, ruling.details["why"]) == (Reason.GATE_STALE, "person")


def test_a_gate_answered_by_two_people_between_them_is_not_open():
    """One person clears it: another's answers begin from nothing."""
    play = on_stands()
    play.answers({key: STANDS_OPEN[key] for key in ("bears_on", "label_basis", "label")})
    play.answers({"shaken": STANDS_OPEN["shaken"]}, who=BEN)

    assert play.measures("3 mm", step="work", who=BEN).reason == Reason.GATE_SHUT
    assert play.measures("3 mm", step="work", who=ADA).reason == Reason.GATE_SHUT


def test_handing_over_makes_every_gate_stale_for_the_one_who_hands_over_too():
    """What the other did in between is not known: handed over and back, it is asked again."""
    play = on_stands()
    play.answers(STANDS_OPEN)
    play.does(ADA, e.HandedOver(to=BEN.id, to_name=BEN.name))

    ruling = play.measures("3 mm", step="work", who=ADA)

    assert (ruling.reason, ruling.details["why"]) == (Reason.GATE_STALE, "person")


def test_answers_given_before_a_hand_over_do_not_add_up_with_later_ones():
    play = on_stands()
    play.answers({key: STANDS_OPEN[key] for key in ("bears_on", "label_basis", "label")})
    play.does(ADA, e.HandedOver(to=BEN.id, to_name=BEN.name))
    play.answers({"shaken": STANDS_OPEN["shaken"]})

    assert play.measures("3 mm", step="work").reason == Reason.GATE_SHUT


# --- Stale: another support state ------------------------------------------------------------------------------------


@pytest.mark.parametrize("state", [Support.STANDS_FRAME, Support.STANDS_ARM])
def test_changing_the_support_state_makes_the_gate_stale(state: Support):
    """Let down and set again, even in the same state, it is asked again."""
    play = on_stands()
    play.answers(STANDS_OPEN)
    play.holds_vehicle(Support.ON_WHEELS)
    play.holds_vehicle(state)

    ruling = play.measures("3 mm", step="work")

    assert (ruling.reason, ruling.details["why"]) == (Reason.GATE_STALE, "support")


def test_answers_given_in_another_support_state_do_not_add_up():
    play = on_stands()
    play.answers({key: STANDS_OPEN[key] for key in ("bears_on", "label_basis", "label")})
    play.holds_vehicle(Support.STANDS_FRAME)
    play.answers({"shaken": STANDS_OPEN["shaken"]})

    assert play.measures("3 mm", step="work").reason == Reason.GATE_SHUT


def test_a_gate_that_does_not_follow_support_stays_open_when_it_changes():
    play = on_stands(SPRING, gates=(SPRING.id,))
    play.answers(SPRING_OPEN, gate=SPRING.id)
    play.holds_vehicle(Support.STANDS_ARM)

    assert play.measures("3 mm", step="work").accepted


def test_a_gate_answered_by_someone_who_saw_another_support_state_is_set_aside():
    """The support state was changed elsewhere while the tablet was away."""
    play = on_stands()
    seen = play.sees()
    play.holds_vehicle(Support.STANDS_ARM, who=BEN)

    ruling = play.does(ADA, e.GateAnswered(gate="stands:front", answers=STANDS_OPEN), basis=seen)

    assert (ruling.reason, ruling.details["why"]) == (Reason.GATE_STALE, "support")
    assert ruling.details["title"] == "Stands under the vehicle"


def test_a_record_by_someone_who_saw_another_support_state_is_set_aside_with_the_gate_named():
    play = on_stands()
    seen = play.sees("work")
    play.holds_vehicle(Support.STANDS_ARM, who=ADA)
    play.answers(STANDS_OPEN)

    body = e.ReadingTaken(step="work", measure="gap", reading=a_reading("3 mm"))
    ruling = play.does(ADA, body, basis=seen)

    assert (ruling.reason, ruling.details["why"]) == (Reason.GATE_STALE, "support")
    assert ruling.details["title"] == "Stands under the vehicle"


def test_a_record_seen_in_another_support_state_is_set_aside_without_a_gate_too():
    """A height measured on wheels does not count as one measured now, with the vehicle let down anew since."""
    play = Play(a_packet(a_step("work", supports=(Support.ON_WHEELS,), measures=(a_measure(),)), gates=()))
    seen = play.sees("work")
    play.holds_vehicle(Support.STANDS_FRAME, who=BEN)
    play.holds_vehicle(Support.ON_WHEELS, who=BEN)

    body = e.ReadingTaken(step="work", measure="gap", reading=a_reading("3 mm"))
    ruling = play.does(ADA, body, basis=seen)

    assert (ruling.reason, ruling.details["why"]) == (Reason.WRONG_SUPPORT, "moved")


def test_a_step_that_may_be_done_however_the_vehicle_is_held_does_not_mind_that_it_was_moved():
    """Bench work goes on while another lowers the vehicle."""
    play = Play(a_packet(a_step("work", measures=(a_measure(),)), gates=()))
    seen = play.sees("work")
    play.holds_vehicle(Support.STANDS_FRAME, who=BEN)

    body = e.ReadingTaken(step="work", measure="gap", reading=a_reading("3 mm"))

    assert play.does(ADA, body, basis=seen).accepted


def test_a_change_of_support_always_counts_whoever_says_it_and_however_late():
    """It can only shut gates. Refused, the sheet would go on believing what is no longer so."""
    play = on_stands()
    seen = play.sees()
    play.holds_vehicle(Support.STANDS_ARM, who=BEN)
    play.hangs_tag()

    late = play.does(ADA, e.SupportChanged(state=Support.ON_WHEELS, axle=Axle.BOTH), basis=seen)
    foreman = play.holds_vehicle(Support.STANDS_FRAME, who=FAY)

    assert late.accepted
    assert foreman.accepted
    assert play.sheet.support.state is Support.STANDS_FRAME


def test_a_vehicle_let_down_during_a_hold_has_its_gates_stale_after_it():
    play = on_stands()
    play.answers(STANDS_OPEN)
    tag = play.hangs_tag()
    play.holds_vehicle(Support.ON_WHEELS)
    play.holds_vehicle(Support.STANDS_FRAME)
    play.does(FAY, e.HoldLifted(hold=tag, reason="Part is here"))

    assert play.measures("3 mm", step="work").reason == Reason.GATE_STALE


# --- Stale: time passed ----------------------------------------------------------------------------------------------


def test_a_gate_stands_open_for_the_shops_time_and_not_a_moment_longer():
    play = on_stands()
    play.answers(STANDS_OPEN)
    answered_at = ms(play.now) - 1_000
    hour = 3_600_000

    assert gate_state(play.sheet, "stands:front", ADA.id, answered_at + hour) is None
    assert gate_state(play.sheet, "stands:front", ADA.id, answered_at + hour + 1) == "time"


def test_time_runs_from_the_oldest_answer():
    """Stands shaken an hour ago are not made good by a label read just now."""
    play = on_stands()
    play.answers({key: STANDS_OPEN[key] for key in ("bears_on", "label_basis", "shaken")})
    play.wait(minutes=50)
    play.answers({"label": STANDS_OPEN["label"]})
    assert play.measures("3 mm", step="work").accepted
    play.wait(minutes=15)

    ruling = play.measures("3 mm", step="work")

    assert (ruling.reason, ruling.details["why"]) == (Reason.GATE_STALE, "time")


def test_answering_every_check_again_keeps_the_gate_open_longer():
    play = on_stands()
    play.answers(STANDS_OPEN)
    play.wait(minutes=50)
    for key, answer in STANDS_OPEN.items():
        play.answers({key: answer})
    play.wait(minutes=50)

    assert play.measures("3 mm", step="work").accepted


def test_answers_older_than_the_shops_time_do_not_add_up():
    play = on_stands()
    play.answers({key: STANDS_OPEN[key] for key in ("bears_on", "label_basis", "label")})
    play.wait(minutes=61)
    play.answers({"shaken": STANDS_OPEN["shaken"]})

    assert play.measures("3 mm", step="work").reason == Reason.GATE_SHUT


def test_a_gate_is_not_open_before_it_was_answered():
    """A server clock set back must not lengthen the time a gate stands open."""
    play = on_stands()
    play.answers(STANDS_OPEN)
    play.wait(days=-1)

    ruling = play.measures("3 mm", step="work")

    assert (ruling.reason, ruling.details["why"]) == (Reason.GATE_STALE, "time")


def test_the_tablets_own_clock_opens_and_shuts_nothing():
    """The claimed time is kept and never trusted."""
    play = on_stands()
    body = e.GateAnswered(gate="stands:front", answers=STANDS_OPEN)
    play.does(ADA, body, noted_at_ms=0, clock_offset_ms=-(10**12))

    assert play.measures("3 mm", step="work").accepted


# --- The gate itself changed -----------------------------------------------------------------------------------------


def test_answers_to_a_gate_worded_otherwise_are_set_aside():
    """The desk corrected the mass while the tablet was away: the limit shown was another one."""
    play = on_stands()
    seen = play.sees()
    packet = play.sheet.packet
    assert packet is not None
    heavier = replace(packet.gates[0].checks[2], at_least=700_000)
    checks = (*packet.gates[0].checks[:2], heavier, packet.gates[0].checks[3])
    play.pins(replace(packet, edition=2, gates=(replace(packet.gates[0], checks=checks),)))

    strong = {**STANDS_OPEN, "label": e.Answer(value=800_000)}
    ruling = play.does(ADA, e.GateAnswered(gate="stands:front", answers=strong), basis=seen)

    assert (ruling.reason, ruling.details["seen"], ruling.details["now"]) == (Reason.STEP_CHANGED, 1, 2)
    assert play.answers(strong).accepted


def test_answers_to_a_gate_left_as_it_was_are_accepted_from_an_older_edition():
    """An untouched thing is accepted, whatever else was changed."""
    play = on_stands()
    seen = play.sees()
    packet = play.sheet.packet
    assert packet is not None
    play.pins(replace(packet, edition=2, wrenches=()))

    ruling = play.does(ADA, e.GateAnswered(gate="stands:front", answers=STANDS_OPEN), basis=seen)

    assert ruling.accepted
    assert play.measures("3 mm", step="work").accepted


def test_a_gate_changed_by_a_new_edition_is_shut_again():
    play = on_stands()
    play.answers(STANDS_OPEN)
    packet = play.sheet.packet
    assert packet is not None
    play.pins(replace(packet, edition=2, gates=(replace(packet.gates[0], title="Stands, front"),)))

    assert play.measures("3 mm", step="work").reason == Reason.GATE_SHUT


def test_answers_to_a_gate_or_check_that_is_not_there_are_set_aside():
    play = on_stands()

    assert play.answers(STANDS_OPEN, gate="stands:rear").reason == Reason.NOT_HERE
    assert play.answers({"nobody_asked": e.Answer(ready=True)}).reason == Reason.NOT_HERE
    assert play.answers({}).reason == Reason.NOT_HERE


# --- A second person at the fastener ---------------------------------------------------------------------------------


def test_a_second_reading_needs_the_stands_still_checked_in_this_support_state():
    """The second pair of hands is under the same vehicle. Whoever answered, the check has to stand."""
    play = on_stands()
    play.answers(STANDS_OPEN)
    play.signs("110 N·m")
    play.holds_vehicle(Support.STANDS_FRAME)

    stale = play.counters("110 N·m")
    play.answers(STANDS_OPEN)
    checked = play.counters("110 N·m")

    assert stale.reason == Reason.GATE_STALE
    assert checked.accepted, "another person's answers serve: the second is this person's guest"


def test_a_second_reading_needs_the_stands_checked_within_the_shops_time():
    play = on_stands()
    play.answers(STANDS_OPEN)
    play.signs("110 N·m")
    play.wait(minutes=61)

    assert play.counters("110 N·m").reason == Reason.GATE_STALE


def test_a_second_reading_needs_the_stands_checked_at_all():
    play = on_stands()
    play.answers(STANDS_OPEN)
    play.signs("110 N·m")
    play.answers({"shaken": e.Answer(ready=False)})

    assert play.counters("110 N·m").reason == Reason.GATE_SHUT


def test_a_second_reading_does_not_ask_again_for_what_only_the_first_pass_faced():
    """A compressor let off since cannot be answered for; the gate that follows the support state can."""
    play = on_stands(a_gate(), SPRING, gates=("stands:front", SPRING.id))
    play.answers(STANDS_OPEN)
    play.answers(SPRING_OPEN, gate=SPRING.id)
    play.signs("110 N·m")
    play.wait(minutes=20)

    assert play.counters("110 N·m").accepted


def test_a_snug_pass_stands_behind_the_gate_too():
    snug = a_fastener("nut", tighten=Pass.SNUG, figure=None)
    play = on_stands(fasteners=(snug,))

    assert play.does(ADA, e.SignedOff(step="work", fastener="nut")).reason == Reason.GATE_SHUT
