"""Steps: their order, what they need to be done, how a test is judged, opening again, and a foreman's changes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from app.domain import entry as e
from app.domain.case import Reason
from app.domain.packet import Axle, OneTime, Support, Verdict
from app.domain.standing import missing_parts, supported, waits_for
from tests.builders import (
    ADA,
    BEN,
    DEE,
    FAY,
    PLAY_TRIAL,
    SPRING,
    STANDS_OPEN,
    STEPS,
    Play,
    a_fastener,
    a_gate,
    a_measure,
    a_packet,
    a_reading,
    a_step,
    whole_job,
    with_step,
)


def play_with(*steps: object, **over: object) -> Play:
    return Play(a_packet(*steps, gates=over.pop("gates", ()), **over))  # type: ignore[arg-type]


# --- Order -----------------------------------------------------------------------------------------------------------


def test_a_step_waits_for_those_before_it():
    play = play_with(a_step("first"), a_step("second", after=("first",)))

    early = play.finishes("second")
    play.finishes("first")

    assert (early.reason, early.details["first"]) == (Reason.STEP_LOCKED, "First")
    assert play.finishes("second").accepted


def test_steps_that_wait_for_nothing_may_be_done_in_any_order():
    play = play_with(a_step("one"), a_step("two"))

    assert play.finishes("two").accepted
    assert play.finishes("one").accepted


def test_a_step_names_the_first_it_waits_for():
    play = play_with(a_step("a"), a_step("b"), a_step("c", after=("a", "b")))
    play.finishes("a")
    packet = play.sheet.packet
    assert packet is not None

    waiting = waits_for(play.sheet, packet.step_by_id["c"])

    assert waiting is not None
    assert waiting.id == "b"


def test_the_whole_job_is_accepted_entry_by_entry():
    """The default packet, worked through as the trade would."""
    play = whole_job()

    assert [ruling.reason for _, ruling in play.history] == [""] * len(play.history)
    assert play.does(FAY, e.HandedBack()).accepted


# --- Support states --------------------------------------------------------------------------------------------------


def test_a_step_is_done_only_in_its_support_states():
    play = play_with(a_step("work", supports=(Support.LIFT_FRAME,)))

    ruling = play.finishes("work")

    assert ruling.reason == Reason.WRONG_SUPPORT
    assert (ruling.details["now"], ruling.details["wanted"]) == ("on_wheels", "lift_frame")


def test_stands_under_one_axle_do_not_hold_the_other():
    play = play_with(a_step("work", axle=Axle.REAR, supports=(Support.STANDS_FRAME,)))
    play.holds_vehicle(Support.STANDS_FRAME, axle=Axle.FRONT)
    assert play.finishes("work").reason == Reason.WRONG_SUPPORT

    play.holds_vehicle(Support.STANDS_FRAME, axle=Axle.BOTH)
    assert play.finishes("work").accepted


@pytest.mark.parametrize(
    ("state", "under", "step", "held"),
    [
        (Support.STANDS_ARM, Axle.FRONT, Axle.FRONT, True),
        (Support.STANDS_ARM, Axle.FRONT, Axle.REAR, False),
        (Support.STANDS_ARM, Axle.FRONT, Axle.BOTH, False),
        (Support.STANDS_ARM, Axle.BOTH, Axle.BOTH, True),
        (Support.LIFT_FRAME, Axle.FRONT, Axle.BOTH, True),
        (Support.ON_WHEELS, Axle.FRONT, Axle.REAR, True),
    ],
)
def test_stands_hold_their_axle_and_a_lift_the_whole_vehicle(state: Support, under: Axle, step: Axle, held: bool):
    play = play_with(a_step())
    play.holds_vehicle(state, axle=under)

    assert supported(play.sheet.support, step, (state,)) is held


# --- What a step needs to be done ------------------------------------------------------------------------------------


def test_a_step_is_done_when_everything_it_asks_for_is_recorded():
    """Measures, the test, fasteners, new parts: in the order the card shows them."""
    full = a_step(
        "work", measures=(a_measure(),), trial=PLAY_TRIAL, fasteners=(a_fastener(),),
        one_time=(OneTime("cotter", "Cotter pin"),),
    )  # fmt: skip
    play = play_with(full)
    missing = []
    for act in (
        lambda: play.measures("3 mm", step="work"),
        lambda: play.tests("work"),
        lambda: play.signs("110 N·m"),
    ):
        missing.append(play.finishes("work").details["missing"])
        act()
    missing.append(play.finishes("work", ADA, "something else").details["missing"])

    done = play.finishes("work", ADA, "cotter")

    assert missing == ["measure", "test", "fastener", "new_part"]
    assert done.accepted
    assert play.sheet.step("work").new_parts == ("cotter",)
    assert missing_parts(play.sheet, full) == ()


def test_a_measure_nobody_requires_may_be_left_out():
    assert play_with(a_step(measures=(a_measure(required=False),))).finishes("work").accepted


def test_a_measure_that_must_fit_is_set_aside_outside_its_window():
    play = play_with(a_step(measures=(a_measure(),)))

    low, inside, high = (play.measures(typed, step="work") for typed in ("1.999 mm", "2 mm", "4.001 mm"))

    assert (low.reason, low.details["window"]) == (Reason.READING_OUTSIDE, "2 to 4 mm")
    assert inside.accepted
    assert high.reason == Reason.READING_OUTSIDE


def test_a_measure_that_is_a_finding_is_recorded_outside_its_window_too():
    play = play_with(a_step(measures=(a_measure(must=False),)))

    assert play.measures("-7 mm", step="work").accepted
    taken = play.sheet.step("work").readings["gap"]
    assert (taken.value, taken.text, taken.within) == (-7_000, "-7", False)


def test_a_later_reading_outside_keeps_the_step_open_though_an_earlier_one_fitted():
    """What was read last is what holds."""
    play = play_with(a_step(measures=(a_measure(),)))
    play.measures("3 mm", step="work")
    play.measures("5 mm", step="work")

    early = play.finishes("work")
    play.measures("3.1 mm", step="work")

    assert (early.reason, early.details["missing"]) == (Reason.NOT_FINISHED, "reading_inside")
    assert early.details["what"] == "5 mm"
    assert play.finishes("work").accepted


def test_a_second_reading_outside_keeps_the_step_open():
    """Two people who read differently at one nut: somebody has to look again."""
    play = play_with(a_step(fasteners=(a_fastener(critical=True),)))
    play.signs("110 N·m")
    play.counters("130 N·m")
    assert play.finishes("work").details["missing"] == "reading_inside"

    play.counters("111 N·m")
    assert play.finishes("work").accepted


def test_a_step_is_done_once():
    """Another person did the same step while the tablet was away: kept as a second record, set aside."""
    play = play_with(a_step())
    play.finishes("work")

    ruling = play.finishes("work", BEN)

    assert (ruling.reason, ruling.details["name"]) == (Reason.ALREADY_SIGNED, "Ada")
    assert play.sheet.step("work").done.person == ADA.id  # type: ignore[union-attr]


def test_a_done_step_sets_new_readings_aside():
    play = play_with(a_step(measures=(a_measure(),)))
    play.measures("3 mm", step="work")
    play.finishes("work")

    assert play.measures("3.5 mm", step="work").reason == Reason.ALREADY_SIGNED
    assert play.sheet.step("work").readings["gap"].text == "3"


def test_what_is_not_on_the_sheet_is_set_aside():
    play = play_with(a_step(measures=(a_measure(),)))

    wrong = [
        play.finishes("nowhere"),
        play.measures("3 mm", step="work", measure="nothing"),
        play.tests("work"),
        play.does(ADA, e.NoteAdded(text="Look", step="nowhere")),
        play.does(FAY, e.HoldPlaced(reason="Wait", step="nowhere")),
        play.does(ADA, e.PhotoAdded(sha256="0" * 64, name="before", step="nowhere")),
    ]

    assert [one.reason for one in wrong] == [Reason.NOT_HERE] * len(wrong)


# --- Tests of parts --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("choice", "verdict", "reason", "ruling"),
    [
        ("none", Verdict.SOUND, "", ""),
        ("moves", Verdict.REPLACE, "2 mm of play at the rim", ""),
        ("moves", Verdict.REPLACE, " ", Reason.NOT_FINISHED),
        ("moves", Verdict.SOUND, "", Reason.NOT_FINISHED),
        ("none", Verdict.WATCH, "", Reason.NOT_FINISHED),
        ("moves", Verdict.SOUND, "As new: the maker allows 1 mm", ""),
        ("else", Verdict.SOUND, "", Reason.NOT_HERE),
    ],
)
def test_a_verdict_other_than_sound_and_an_observation_against_the_part_want_a_reason(
    choice: str, verdict: Verdict, reason: str, ruling: str
):
    play = play_with(a_step(trial=PLAY_TRIAL))

    given = play.does(ADA, e.TestRecorded(step="work", choice=choice, verdict=verdict, reason=reason))

    assert given.reason == ruling


def test_the_last_verdict_before_the_step_is_done_counts():
    play = play_with(a_step(trial=PLAY_TRIAL))
    play.tests("work")
    play.does(BEN, e.TestRecorded(step="work", choice="moves", verdict=Verdict.REPLACE, reason="Play"))
    play.finishes("work")

    outcome = play.sheet.step("work").outcome
    assert outcome is not None
    assert (outcome.verdict, outcome.mark.name) == (Verdict.REPLACE, "Ben")


# --- Opening again ---------------------------------------------------------------------------------------------------


def test_a_step_opened_again_begins_from_nothing_with_the_reason_kept():
    play = play_with(a_step(fasteners=(a_fastener(),)))
    play.does(ADA, e.NoteAdded(text="Thread is dry", step="work"))
    play.signs("110 N·m")
    play.finishes("work")

    opened = play.does(ADA, e.StepReopened(step="work", reason="Wrong nut"))

    now = play.sheet.step("work")
    assert opened.accepted
    assert (now.done, now.signatures, now.counters) == (None, {}, {})
    assert [note.text for note in now.notes] == ["Thread is dry"]
    assert [note.text for note in now.reopened] == ["Wrong nut"]
    assert play.finishes("work").reason == Reason.NOT_FINISHED


def test_opening_again_wants_a_reason_and_something_to_open():
    play = play_with(a_step(), a_step("other"))
    play.finishes("work")

    assert play.does(ADA, e.StepReopened(step="work", reason=" \n")).reason == Reason.NOT_FINISHED
    assert play.does(ADA, e.StepReopened(step="other", reason="Wrong")).reason == Reason.NOT_FINISHED
    assert play.does(DEE, e.StepReopened(step="work", reason="Wrong")).reason == Reason.WRONG_ROLE


def test_a_step_opened_again_locks_those_that_wait_for_it():
    play = play_with(a_step("first"), a_step("second", after=("first",)))
    play.finishes("first")
    play.does(FAY, e.StepReopened(step="first", reason="Look again"))

    assert play.finishes("second").reason == Reason.STEP_LOCKED


def test_a_step_opened_again_lies_behind_its_gate_as_before():
    play = Play(a_packet())
    play.tests()
    play.finishes("look")
    play.gets_onto_stands()
    play.finishes("undo")
    play.wait(minutes=61)
    play.does(ADA, e.StepReopened(step="undo", reason="Nut still on"))

    assert play.finishes("undo").reason == Reason.GATE_STALE


# --- Changed by the foreman ------------------------------------------------------------------------------------------


def test_a_record_of_a_step_since_changed_is_set_aside_and_an_untouched_step_is_accepted():
    play = play_with(a_step("work"), a_step("other"))
    seen_work, seen_other = play.sees("work"), play.sees("other")
    assert play.sheet.packet is not None
    play.pins(with_step(play.sheet.packet, "work", do="Do it otherwise."))

    changed = play.does(ADA, e.StepDone(step="work"), basis=seen_work)
    untouched = play.does(ADA, e.StepDone(step="other"), basis=seen_other)

    assert (changed.reason, changed.details["seen"], changed.details["now"]) == (Reason.STEP_CHANGED, 1, 2)
    assert untouched.accepted


def test_a_record_that_does_not_say_which_text_was_read_is_set_aside():
    play = play_with(a_step())

    assert play.does(ADA, e.StepDone(step="work"), basis=e.Basis()).reason == Reason.STEP_CHANGED


def test_a_changed_step_begins_again_and_an_untouched_one_keeps_its_record():
    play = play_with(a_step("work"), a_step("other"))
    play.finishes("work")
    play.finishes("other")
    assert play.sheet.packet is not None
    play.pins(with_step(play.sheet.packet, "work", do="Do it otherwise."))

    assert play.sheet.step("work").done is None
    assert play.sheet.step("other").done is not None


def test_notes_of_a_step_that_is_gone_move_to_the_sheet():
    """Nothing anyone wrote is dropped."""
    play = play_with(a_step("work"), a_step("other"))
    play.does(ADA, e.NoteAdded(text="Stud is bent", step="work"))
    assert play.sheet.packet is not None
    play.pins(a_packet(a_step("other"), gates=(), edition=2))

    assert [note.text for note in play.sheet.notes] == ["Stud is bent"]
    assert play.finishes("work").reason == Reason.NOT_HERE


# --- What may be pinned ----------------------------------------------------------------------------------------------


def test_only_the_next_edition_for_this_job_is_pinned():
    play = play_with(a_step())
    packet = play.sheet.packet
    assert packet is not None

    again, skipped, other_job = (
        play.pins(packet),
        play.pins(replace(packet, edition=3)),
        play.pins(replace(packet, edition=2, job="job-2")),
    )

    assert [one.reason for one in (again, skipped, other_job)] == [Reason.STEP_CHANGED] * 3
    assert play.pins(replace(packet, edition=2)).accepted


def test_nothing_is_recorded_before_a_packet_is_pinned():
    play = Play()

    rulings = [
        play.finishes("work"),
        play.holds_vehicle(Support.ON_RAMP),
        play.answers(STANDS_OPEN),
        play.does(ADA, e.NoteAdded(text="Came in on a trailer")),
        play.does(FAY, e.HandedBack()),
    ]

    assert [one.reason for one in rulings] == [Reason.NOT_HERE] * len(rulings)


TWICE = a_step("twice")
SOUND = a_packet()


@pytest.mark.parametrize(
    ("packet", "why"),
    [
        (replace(SOUND, v=2), "form 2"),
        (a_packet(TWICE, TWICE), "twice"),
        (replace(SOUND, steps=()), "no steps"),
        (a_packet(a_step(gates=("nothing",))), "gate nothing"),
        (a_packet(a_step(after=("nothing",))), "comes after nothing"),
        (a_packet(a_step(measures=(a_measure(), a_measure()))), "measure 'gap'"),
        (a_packet(a_step(fasteners=(a_fastener(""),))), "fastener has no name"),
        (a_packet(gates=(a_gate(), a_gate(), SPRING)), "gate 'stands:front'"),
        (a_packet(gates=(a_gate(checks=()), SPRING)), "asks nothing"),
        (a_packet(wrenches=(replace(SOUND.wrenches[0], due_on="soon"),)), "due on"),
        (a_packet(wrenches=SOUND.wrenches * 2), "wrench 'W1'"),
    ],
)
def test_a_packet_that_does_not_hold_together_is_not_pinned(packet: object, why: str):
    """A rule that looks for a gate has to find it; a date has to compare as one."""
    play = Play()

    ruling = play.pins(packet)  # type: ignore[arg-type]

    assert ruling.reason == Reason.UNKNOWN_FORM
    assert why in str(ruling.details["why"])
    assert play.sheet.packet is None


def test_a_packet_that_reading_would_alter_is_not_pinned():
    """Text for a number, a whole number for yes, a key nobody knows, a number no tablet holds exactly."""
    for path, value in (
        (("gates", 0, "stale_after_s"), "3600"),
        (("gates", 0, "follows_support"), 1),
        (("steps", 0, "invented"), "x"),
        (("wrenches", 0, "low_mnm"), 40_000.0),
        (("wrenches", 0, "high_mnm"), 2**53),
    ):
        data = SOUND.as_json()
        inner = data
        for key in path[:-1]:
            inner = inner[key]
        inner[path[-1]] = value
        play = Play()

        ruling = play.does(FAY, e.PacketPinned(data))

        assert ruling.reason == Reason.UNKNOWN_FORM, path
        assert play.sheet.packet is None


def test_a_step_may_not_change_in_silence():
    """Marks of what was done hang on the revision: a change has to raise it."""
    play = Play(SOUND)
    silent = replace(STEPS[0], do="Do something else.")
    lower = replace(STEPS[0], revision=0)

    for step in (silent, lower):
        ruling = play.pins(replace(SOUND, edition=2, steps=(step, *STEPS[1:])))
        assert ruling.reason == Reason.UNKNOWN_FORM
        assert "revision" in str(ruling.details["why"])


def test_a_reading_keeps_what_was_typed():
    play = play_with(a_step(measures=(a_measure(),)))
    play.does(ADA, e.ReadingTaken(step="work", measure="gap", reading=a_reading("0.12 in")))

    taken = play.sheet.step("work").readings["gap"]
    assert (taken.value, taken.text, taken.unit) == (3_048, "0.12", "in")
