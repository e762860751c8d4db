"""People: roles, the second person, hold tags, handing over, notes, settling what was set aside, handing back."""

from __future__ import annotations

import pytest

from app.domain import entry as e
from app.domain.case import Reason
from app.domain.entry import Kind
from app.domain.packet import Axle, Pass, Support
from app.domain.standing import open_points
from tests.builders import (
    ADA,
    BEN,
    CLEO,
    DEE,
    FAY,
    GUS,
    JOB,
    Play,
    Someone,
    a_fastener,
    a_measure,
    a_packet,
    a_reading,
    a_step,
    an_entry,
    heard,
    the_rules,
    whole_job,
    with_step,
)


def play_with(*steps: object) -> Play:
    return Play(a_packet(*(steps or (a_step(),)), gates=()))  # type: ignore[arg-type]


# --- Roles -----------------------------------------------------------------------------------------------------------

BODIES: dict[Kind, e.Body] = {
    Kind.PACKET_PINNED: e.PacketPinned(a_packet().as_json()),
    Kind.GATE_ANSWERED: e.GateAnswered(gate="g", answers={}),
    Kind.READING_TAKEN: e.ReadingTaken(step="work", measure="gap", reading=a_reading("3 mm")),
    Kind.SIGNED_OFF: e.SignedOff(step="work", fastener="nut"),
    Kind.COUNTERSIGNED: e.Countersigned(step="work", fastener="nut"),
    Kind.STEP_DONE: e.StepDone(step="work"),
    Kind.STEP_REOPENED: e.StepReopened(step="work", reason="Wrong"),
    Kind.SUPPORT_CHANGED: e.SupportChanged(state=Support.ON_RAMP, axle=Axle.BOTH),
    Kind.HOLD_PLACED: e.HoldPlaced(reason="Wait"),
    Kind.HOLD_LIFTED: e.HoldLifted(hold="e-1", reason="Here"),
    Kind.HANDED_OVER: e.HandedOver(to=BEN.id, to_name=BEN.name),
    Kind.TEST_RECORDED: e.TestRecorded(step="work", choice="none", verdict="sound"),  # type: ignore[arg-type]
    Kind.NOTE_ADDED: e.NoteAdded(text="Seen"),
    Kind.PHOTO_ADDED: e.PhotoAdded(sha256="0" * 64, name="before"),
    Kind.SETTLED: e.Settled(aside="e-1", outcome="keep_as_note", reason="Known"),
    Kind.HANDED_BACK: e.HandedBack(),
}
WHO_MAY: dict[Kind, set[str]] = {
    Kind.PACKET_PINNED: {"foreman", "desk"},
    Kind.GATE_ANSWERED: {"technician"},
    Kind.READING_TAKEN: {"technician"},
    Kind.SIGNED_OFF: {"technician"},
    Kind.COUNTERSIGNED: {"technician", "foreman"},
    Kind.STEP_DONE: {"technician"},
    Kind.STEP_REOPENED: {"technician", "foreman"},
    Kind.SUPPORT_CHANGED: {"technician", "foreman"},
    Kind.HOLD_PLACED: {"technician", "foreman"},
    Kind.HOLD_LIFTED: {"technician", "foreman"},
    Kind.HANDED_OVER: {"technician", "foreman"},
    Kind.TEST_RECORDED: {"technician"},
    Kind.NOTE_ADDED: {"technician", "foreman", "desk"},
    Kind.PHOTO_ADDED: {"technician", "foreman"},
    Kind.SETTLED: {"foreman"},
    Kind.HANDED_BACK: {"foreman"},
}


@pytest.mark.parametrize("kind", list(Kind))
@pytest.mark.parametrize("role", ["technician", "foreman", "desk", "visitor"])
def test_each_kind_of_entry_is_open_to_its_roles_only(kind: Kind, role: str):
    who = Someone("p-1", "One", (role,))

    ruling = the_rules().decide(play_with().sheet, heard(an_entry(BODIES[kind], who), who))

    assert (ruling.reason == Reason.WRONG_ROLE) is (role not in WHO_MAY[kind])


def test_one_fitting_role_is_enough():
    assert play_with().finishes("work", GUS).accepted


def test_somebody_without_any_role_may_do_nothing():
    nobody = Someone("p-0", "Nobody", ())
    play = play_with()

    assert {play.does(nobody, body).reason for body in BODIES.values()} == {Reason.WRONG_ROLE}


def test_an_entry_for_another_job_is_set_aside():
    play = play_with()

    ruling = play.does(ADA, e.StepDone(step="work"), job="job-2")

    assert (ruling.reason, ruling.details["what"]) == (Reason.NOT_HERE, "job")
    assert play.sheet.job == JOB


# --- The second person -----------------------------------------------------------------------------------------------

CRITICAL = a_step("work", fasteners=(a_fastener(critical=True), a_fastener("bolt")), countersign=True)


def test_a_critical_fastener_wants_a_second_persons_own_reading():
    play = play_with(CRITICAL)
    play.signs("110 N·m")

    mine = play.counters("110 N·m", who=ADA)
    outside = play.counters("99 N·m", who=BEN)
    other = play.counters("111 N·m", who=BEN)

    assert (mine.reason, mine.details["name"]) == (Reason.SAME_PERSON, "Ada")
    assert outside.reason == Reason.READING_OUTSIDE
    assert other.accepted
    assert play.sheet.step("work").counters["nut"].values == (111_000,)


def test_the_second_reading_meets_the_same_rules_for_wrench_and_figure():
    play = play_with(CRITICAL)
    play.signs("110 N·m")

    assert play.counters("110 N·m", wrench="W9").reason == Reason.TOOL_UNFIT
    assert play.counters().reason == Reason.NOT_FINISHED


def test_there_is_no_second_reading_before_the_first():
    play = play_with(CRITICAL)

    ruling = play.counters("110 N·m")

    assert (ruling.reason, ruling.details["missing"]) == (Reason.NOT_FINISHED, "first_reading")


def test_there_is_one_second_reading():
    play = play_with(CRITICAL)
    play.signs("110 N·m")
    play.counters("111 N·m")

    ruling = play.counters("112 N·m", who=CLEO)

    assert (ruling.reason, ruling.details["unequal"]) == (Reason.ALREADY_SIGNED, 1)


def test_a_snug_pass_has_no_second_reading():
    play = play_with(a_step(fasteners=(a_fastener(tighten=Pass.SNUG, figure=None),)))
    play.does(ADA, e.SignedOff(step="work", fastener="nut"))

    assert play.counters().reason == Reason.NOT_HERE


def test_a_look_comes_after_the_step_is_done_and_says_what_was_seen():
    play = play_with(a_step(countersign=True))
    early = play.counters(fastener="", seen="Pins in", wrench="")
    play.finishes("work")
    silent = play.counters(fastener="", seen="  ", wrench="")
    said = play.counters(fastener="", seen="Pins in", wrench="")
    again = play.counters(fastener="", seen="Pins in", wrench="", who=CLEO)

    assert (early.reason, early.details["missing"]) == (Reason.NOT_FINISHED, "done")
    assert (silent.reason, silent.details["missing"]) == (Reason.NOT_FINISHED, "seen")
    assert said.accepted
    assert again.reason == Reason.ALREADY_SIGNED
    assert play.sheet.step("work").seen_text == "Pins in"


def test_a_look_is_had_by_somebody_whose_hands_were_not_in_it():
    """Neither who closed the step nor who signed a fastener of it looks at their own work."""
    play = play_with(CRITICAL)
    play.signs("110 N·m")
    play.signs("110 N·m", fastener="bolt", who=BEN)
    play.finishes("work", ADA)

    looks = [play.counters(fastener="", seen="Tight", wrench="", who=who) for who in (ADA, BEN, CLEO)]

    assert [one.reason for one in looks] == [Reason.SAME_PERSON, Reason.SAME_PERSON, ""]


def test_a_step_that_wants_no_look_takes_none():
    play = play_with(a_step())
    play.finishes("work")

    assert play.counters(fastener="", seen="Fine", wrench="").reason == Reason.NOT_HERE


def test_opening_a_step_again_takes_the_second_persons_word_back_too():
    play = play_with(CRITICAL)
    play.signs("110 N·m")
    play.counters("110 N·m")
    play.does(FAY, e.StepReopened(step="work", reason="Loose"))

    assert play.counters("110 N·m").details["missing"] == "first_reading"


# --- Hold tags -------------------------------------------------------------------------------------------------------


def test_a_tag_on_a_step_stops_that_step_and_no_other():
    play = play_with(a_step("work", measures=(a_measure(required=False),)), a_step("other"))
    tag = play.hangs_tag("work", reason="Part is wrong")

    held = play.finishes("work")

    assert (held.reason, held.details["hold"], held.details["name"]) == (Reason.HELD, tag, "Fay")
    assert held.details["why"] == "Part is wrong"
    assert play.measures("3 mm", step="work").reason == Reason.HELD
    assert play.finishes("other").accepted


def test_a_tag_on_the_sheet_stops_every_step_and_every_gate():
    play = Play(a_packet())
    play.hangs_tag()

    assert play.tests().reason == Reason.HELD
    assert play.answers({"bears_on": e.Answer(choice="frame")}).reason == Reason.HELD


def test_a_tag_stops_the_second_person_too():
    play = play_with(CRITICAL)
    play.signs("110 N·m")
    play.hangs_tag("work")

    assert play.counters("110 N·m").reason == Reason.HELD


def test_two_tags_have_to_come_off_both():
    play = play_with()
    first, second = play.hangs_tag("work"), play.hangs_tag("work", ADA)
    play.does(FAY, e.HoldLifted(hold=first, reason=""))
    assert play.finishes("work").reason == Reason.HELD

    play.does(ADA, e.HoldLifted(hold=second, reason=""))
    assert play.finishes("work").accepted


def test_only_who_hung_a_tag_takes_it_off_or_the_foreman_with_a_reason():
    """Source: principle of 29 CFR 1910.147(e)(3)."""
    play = play_with()
    tag = play.hangs_tag("work", ADA)

    other = play.does(BEN, e.HoldLifted(hold=tag, reason="It is fine"))
    wordless = play.does(FAY, e.HoldLifted(hold=tag, reason=" "))
    foreman = play.does(FAY, e.HoldLifted(hold=tag, reason="Part is here"))

    assert (other.reason, other.details["name"]) == (Reason.HELD, "Ada")
    assert wordless.reason == Reason.NOT_FINISHED
    assert foreman.accepted
    assert play.does(ADA, e.HoldLifted(hold=tag, reason="")).reason == Reason.NOT_HERE


def test_a_tag_says_why():
    assert play_with().does(FAY, e.HoldPlaced(reason="", step="work")).reason == Reason.NOT_FINISHED


def from_away(play: Play, holds: tuple[str, ...], who: Someone = ADA) -> str:
    """The reason an entry gets that comes late from a tablet which had seen these tags."""
    seen = play.sees("work")
    basis = e.Basis(seen.packet, seen.step_revision, seen.support_revision, holds=holds)
    return play.does(who, e.StepDone(step="work"), basis=basis, tablet="t-2").reason


def test_work_by_somebody_who_had_not_seen_the_tag_is_set_aside_for_the_foreman():
    play = play_with()
    tag = play.hangs_tag("work")

    assert from_away(play, ()) == Reason.AWAY_WHEN_HELD
    assert from_away(play, (tag,)) == Reason.HELD


def test_a_tag_hung_and_taken_off_while_a_tablet_was_away_still_sets_its_work_aside():
    """Whether the work was done before, during or after, nobody can tell."""
    play = play_with()
    tag = play.hangs_tag()
    play.does(FAY, e.HoldLifted(hold=tag, reason="Part is here"))

    assert from_away(play, ()) == Reason.AWAY_WHEN_HELD
    assert from_away(play, (tag,)) == ""


def test_away_when_held_waits_for_the_foreman_though_the_work_is_accepted_later():
    play = play_with()
    tag = play.hangs_tag("work")
    from_away(play, ())
    late = play.last_id
    play.does(FAY, e.HoldLifted(hold=tag, reason="Part is here"))
    play.finishes("work")

    assert play.sheet.asides[late].settled is None
    assert play.does(FAY, e.Settled(aside=late, outcome="keep_as_note", reason="Done before")).accepted


# --- Handing over, notes, photos -------------------------------------------------------------------------------------


def test_a_hand_over_names_who_takes_over():
    play = play_with()

    assert play.does(ADA, e.HandedOver(to="", to_name="")).reason == Reason.NOT_FINISHED
    assert play.does(ADA, e.HandedOver(to=BEN.id, to_name="Ben", note="Nut is hand tight")).accepted
    assert [(one.mark.name, one.to_name) for one in play.sheet.hand_overs] == [("Ada", "Ben")]


def test_a_note_may_be_added_by_anybody_at_any_time_but_not_an_empty_one():
    play = play_with()
    play.finishes("work")
    play.hangs_tag()

    assert play.does(DEE, e.NoteAdded(text="Customer rang", step="work")).accepted
    assert play.does(DEE, e.NoteAdded(text="Customer rang")).accepted
    assert play.does(DEE, e.NoteAdded(text=" \t")).reason == Reason.NOT_FINISHED
    assert [note.text for note in play.sheet.step("work").notes] == ["Customer rang"]


def test_a_photo_is_kept_as_a_note_with_its_hash():
    play = play_with()
    play.does(ADA, e.PhotoAdded(sha256="ab" * 32, name="washers", step="work"))

    assert [(one.text, one.photo) for one in play.sheet.step("work").notes] == [("washers", "ab" * 32)]


# --- What was set aside ----------------------------------------------------------------------------------------------


def test_what_was_only_too_early_is_settled_by_the_same_thing_done_later():
    play = play_with(a_step("first"), a_step("second", after=("first",)))
    play.finishes("second")
    early = play.last_id
    play.finishes("first")
    assert play.sheet.asides[early].settled is None, "another step does not settle it"

    play.finishes("second", BEN)

    one = play.sheet.asides[early]
    assert (one.outcome, one.settled.name if one.settled else "") == ("done_since", "Ben")


def test_a_reading_outside_is_settled_by_one_inside_at_the_same_fastener_only():
    play = play_with(a_step(fasteners=(a_fastener(), a_fastener("bolt"))))
    play.signs("130 N·m")
    outside = play.last_id
    play.signs("110 N·m", fastener="bolt")
    assert play.sheet.asides[outside].settled is None

    play.signs("110 N·m")
    assert play.sheet.asides[outside].outcome == "done_since"


@pytest.mark.parametrize("reason", [Reason.ALREADY_SIGNED, Reason.SAME_PERSON, Reason.STEP_CHANGED, Reason.HELD])
def test_what_is_more_than_too_early_waits_for_a_named_person(reason: Reason):
    assert reason not in the_rules().table.settles_itself


def test_the_foreman_settles_with_an_outcome_and_a_reason():
    play = play_with()
    play.finishes("work")
    play.finishes("work", BEN)
    second = play.last_id

    technician = play.does(BEN, e.Settled(aside=second, outcome="keep_as_note", reason="Twice"))
    wordless = play.does(FAY, e.Settled(aside=second, outcome="keep_as_note", reason=""))
    invented = play.does(FAY, e.Settled(aside=second, outcome="make_it_count", reason="Twice"))
    settled = play.does(FAY, e.Settled(aside=second, outcome="keep_as_note", reason="Twice"))
    again = play.does(FAY, e.Settled(aside=second, outcome="do_again", reason="Twice"))

    assert [one.reason for one in (technician, wordless, invented, settled, again)] == [
        Reason.WRONG_ROLE, Reason.NOT_FINISHED, Reason.NOT_HERE, "", Reason.ALREADY_SIGNED,
    ]  # fmt: skip
    assert play.sheet.asides[second].settled_reason == "Twice"


def test_settling_never_makes_it_count():
    play = play_with(a_step(fasteners=(a_fastener(),)))
    play.signs("130 N·m")
    play.does(FAY, e.Settled(aside=play.last_id, outcome="keep_as_note", reason="Wrench was upside down"))

    assert play.sheet.step("work").signatures == {}
    assert play.finishes("work").reason == Reason.NOT_FINISHED


def test_what_is_set_aside_changes_nothing_but_the_count_and_the_list():
    play = whole_job()
    before = play.sheet.as_json()
    play.finishes("road_test")

    after = play.sheet.as_json()

    assert {key for key in after if after[key] != before[key]} == {"entries", "asides"}


# --- Handing back ----------------------------------------------------------------------------------------------------


def test_a_sheet_is_handed_back_when_everything_is_closed():
    play = whole_job()

    assert open_points(play.sheet) == ()
    assert play.does(FAY, e.HandedBack(note="Keys at the desk")).accepted
    assert play.sheet.handed_back is not None
    assert play.sheet.handed_back_note == "Keys at the desk"


def test_an_open_step_a_tag_and_something_set_aside_each_keep_the_sheet():
    play = play_with(a_step("work"), a_step("other"))
    kinds = []

    def tries() -> None:
        ruling = play.does(FAY, e.HandedBack())
        kinds.append((ruling.reason, ruling.details.get("missing")))

    play.finishes("work")
    tries()
    play.finishes("other")
    tag = play.hangs_tag()
    tries()
    play.does(FAY, e.HoldLifted(hold=tag, reason=""))
    play.finishes("work")
    twice = play.last_id
    tries()
    play.does(FAY, e.Settled(aside=twice, outcome="keep_as_note", reason="Tapped twice"))
    tries()

    assert kinds == [
        (Reason.NOT_FINISHED, "step"), (Reason.NOT_FINISHED, "hold"), (Reason.NOT_FINISHED, "aside"), ("", None),
    ]  # fmt: skip


def test_a_handback_tried_too_early_does_not_stand_in_its_own_way():
    play = play_with()
    play.does(FAY, e.HandedBack())
    early = play.last_id
    play.finishes("work")

    assert play.does(FAY, e.HandedBack()).accepted
    assert play.sheet.asides[early].outcome == "done_since"


def test_a_handback_waits_for_the_second_person():
    play = play_with(a_step(fasteners=(a_fastener(critical=True),)))
    play.signs("110 N·m")
    play.finishes("work")

    ruling = play.does(FAY, e.HandedBack())

    assert (ruling.reason, ruling.details["what"]) == (Reason.NEEDS_SECOND_PERSON, "Ball joint stud nut")
    play.counters("110 N·m")
    assert play.does(FAY, e.HandedBack()).accepted


def test_after_the_handback_nothing_counts_any_more_but_what_came_late_can_be_settled():
    """A tablet that comes home late must not leave something unsettled for ever."""
    play = whole_job()
    play.does(FAY, e.HandedBack())

    late = play.does(ADA, e.NoteAdded(text="Left a rag in the boot"))
    late_id = play.last_id
    settled = play.does(FAY, e.Settled(aside=late_id, outcome="keep_as_note", reason="Rang the customer"))

    assert (late.reason, late.details["name"]) == (Reason.HANDED_BACK, "Fay")
    assert settled.accepted
    packet = play.sheet.packet
    assert packet is not None
    for ruling in (
        play.pins(with_step(packet, "look", do="Again.")),
        play.does(FAY, e.StepReopened(step="look", reason="Again")),
        play.does(FAY, e.HandedBack()),
    ):
        assert ruling.reason == Reason.HANDED_BACK
