"""Every reason an entry can be set aside for, by a named case; the list of codes and the list of cases are equal."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from app.domain import entry as e
from app.domain.case import ACCEPTED, Reason, Ruling
from app.domain.packet import Axle, Line, PriceState, Support
from app.texts import SENTENCES
from tests.builders import (
    ADA,
    BEN,
    DEE,
    FAY,
    STANDS_OPEN,
    Play,
    a_fastener,
    a_figure,
    a_packet,
    a_step,
    whole_job,
    with_step,
)


def torque_play(**over: object) -> Play:
    return Play(a_packet(a_step("work", fasteners=(a_fastener(**over),)), gates=()))


def a_step_before_the_one_it_waits_for() -> Ruling:
    return Play(a_packet(a_step("first"), a_step("second", after=("first",)), gates=())).finishes("second")


def _on_stands_before_undoing() -> Play:
    play = Play(a_packet())
    play.tests()
    play.finishes("look")
    play.holds_vehicle(Support.STANDS_FRAME)
    return play


def a_step_behind_a_gate_nobody_answered() -> Ruling:
    return _on_stands_before_undoing().finishes("undo")


def a_step_behind_a_gate_another_person_answered() -> Ruling:
    play = _on_stands_before_undoing()
    play.answers(STANDS_OPEN)
    return play.finishes("undo", BEN)


def undoing_with_the_vehicle_on_its_wheels() -> Ruling:
    play = Play(a_packet())
    play.tests()
    play.finishes("look")
    return play.finishes("undo")


def a_step_with_a_hold_tag_on_it() -> Ruling:
    play = Play(a_packet())
    play.hangs_tag("look")
    return play.tests()


def a_torque_read_on_a_wrench_out_of_date() -> Ruling:
    packet = torque_play().sheet.packet
    assert packet is not None
    play = Play(replace(packet, wrenches=(replace(packet.wrenches[0], due_on="2026-01-01"),)))
    return play.signs("110 N·m")


def a_torque_beyond_its_window() -> Ruling:
    return torque_play().signs("120 N·m")


def a_torque_whose_figure_nobody_compared() -> Ruling:
    return torque_play(figure=a_figure(verified=False)).signs("110 N·m")


def a_handback_with_a_second_reading_missing() -> Ruling:
    play = torque_play(critical=True)
    play.signs("110 N·m")
    play.finishes("work")
    return play.does(FAY, e.HandedBack())


def a_second_reading_by_the_first_person() -> Ruling:
    play = torque_play(critical=True)
    play.signs("110 N·m")
    return play.counters("110 N·m", who=ADA)


def a_step_the_foreman_changed_meanwhile() -> Ruling:
    play = Play(a_packet())
    seen = play.sees("look")
    assert play.sheet.packet is not None
    play.pins(with_step(play.sheet.packet, "look", do="Look twice."))
    return play.does(ADA, e.StepDone(step="look"), basis=seen)


def a_fastener_signed_twice() -> Ruling:
    play = torque_play()
    play.signs("110 N·m")
    return play.signs("111 N·m", who=BEN)


def work_by_a_tablet_that_was_away_when_the_tag_was_hung() -> Ruling:
    play = Play(a_packet())
    seen = replace(play.sees("look"), holds=())
    play.hangs_tag("look")
    return play.does(ADA, e.StepDone(step="look"), basis=seen)


def an_entry_of_a_form_yet_to_be_invented() -> Ruling:
    return Play(a_packet()).does(ADA, {"colour": "red"}, kind="painted", v=7)


def a_step_done_with_a_measure_missing() -> Ruling:
    return torque_play().finishes("work")


def a_step_that_is_not_on_the_sheet() -> Ruling:
    return Play(a_packet()).finishes("nowhere")


def a_step_done_by_the_desk() -> Ruling:
    return Play(a_packet()).finishes("look", DEE)


def a_note_after_the_handback() -> Ruling:
    play = whole_job()
    play.does(FAY, e.HandedBack())
    return play.does(ADA, e.NoteAdded(text="One more thing"))


def a_step_whose_price_the_customer_has_not_agreed_to() -> Ruling:
    line = Line("l1", "ball_joint", 1, "Ball joint", Axle.FRONT, price=PriceState.WAITING, price_edition=1)
    return Play(a_packet(a_step("work"), gates=(), lines=(line,))).finishes("work")


CASES: tuple[tuple[Reason, Callable[[], Ruling]], ...] = (
    (Reason.STEP_LOCKED, a_step_before_the_one_it_waits_for),
    (Reason.GATE_SHUT, a_step_behind_a_gate_nobody_answered),
    (Reason.GATE_STALE, a_step_behind_a_gate_another_person_answered),
    (Reason.WRONG_SUPPORT, undoing_with_the_vehicle_on_its_wheels),
    (Reason.HELD, a_step_with_a_hold_tag_on_it),
    (Reason.TOOL_UNFIT, a_torque_read_on_a_wrench_out_of_date),
    (Reason.READING_OUTSIDE, a_torque_beyond_its_window),
    (Reason.SPEC_UNVERIFIED, a_torque_whose_figure_nobody_compared),
    (Reason.NEEDS_SECOND_PERSON, a_handback_with_a_second_reading_missing),
    (Reason.SAME_PERSON, a_second_reading_by_the_first_person),
    (Reason.STEP_CHANGED, a_step_the_foreman_changed_meanwhile),
    (Reason.ALREADY_SIGNED, a_fastener_signed_twice),
    (Reason.AWAY_WHEN_HELD, work_by_a_tablet_that_was_away_when_the_tag_was_hung),
    (Reason.UNKNOWN_FORM, an_entry_of_a_form_yet_to_be_invented),
    (Reason.NOT_FINISHED, a_step_done_with_a_measure_missing),
    (Reason.NOT_HERE, a_step_that_is_not_on_the_sheet),
    (Reason.WRONG_ROLE, a_step_done_by_the_desk),
    (Reason.HANDED_BACK, a_note_after_the_handback),
    (Reason.NOT_AGREED, a_step_whose_price_the_customer_has_not_agreed_to),
)


@pytest.mark.parametrize(("reason", "case"), CASES, ids=[f"{reason}-{case.__name__}" for reason, case in CASES])
def test_each_reason_has_its_case(reason: Reason, case: Callable[[], Ruling]):
    ruling = case()

    assert (ruling.accepted, ruling.reason) == (False, reason)


def test_every_reason_is_covered_and_none_is_invented():
    assert [reason for reason, _ in CASES] == list(Reason)


def test_every_reason_has_a_sentence_whose_blanks_the_rules_fill():
    """Nobody is told "a hold tag hangs here, placed by …"."""
    for reason, case in CASES:
        details = case().details
        SENTENCES[str(reason)].format_map(dict(details))


def test_what_settles_itself_is_among_the_reasons():
    play = Play(a_packet())

    assert play.rules.table.settles_itself <= set(Reason)
    assert ACCEPTED.reason == ""
