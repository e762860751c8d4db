"""What interrupted whoever comes back: told from what is on the sheet, to whom it concerns, never in the way."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from app.domain import entry as e
from app.domain.coming_back import AWAY_MS
from app.domain.packet import Pass, Support
from app.domain.view_parts import Look
from tests.builders import (
    ADA,
    BEN,
    CLEAR,
    DEE,
    FAY,
    SPRING,
    STANDS_OPEN,
    Play,
    Someone,
    a_fastener,
    a_figure,
    a_gate,
    a_measure,
    a_packet,
    a_step,
    a_turn,
    whole_job,
)
from tests.unit.test_view import on_stands, see

FOUR = tuple(f"bolt_{number}" for number in (1, 2, 3, 4))


def line(play: Play, who: Someone = ADA, look: Look = Look(), **about: Any) -> dict[str, Any]:
    return see(play, who, look, **about)["came_back"]


def said(play: Play, who: Someone = ADA, **about: Any) -> str:
    """All that the line says; "" where there is none."""
    found = line(play, who, **about)
    return " ".join([found["words"], *found["points"]]) if found["shown"] else ""


def four_bolts(**over: Any) -> Play:
    """Four bolts in one step, two of them tightened."""
    bolts = tuple(a_fastener(one, place=f"Bolt {one[-1]}", **over) for one in FOUR)
    play = Play(a_packet(a_step("first"), a_step(fasteners=bolts)))
    play.finishes("first")
    for one in FOUR[:2]:
        play.signs("110 N·m", fastener=one)
    return play


# --- When ---------------------------------------------------------------------------------------------------------


def test_after_ten_minutes_without_an_own_entry_it_is_asked_and_not_before():
    """House rule; the shortest time that a gate stands open is 15 minutes."""
    play = four_bolts()
    play.wait(seconds=AWAY_MS // 1_000 - 2)
    assert said(play) == ""

    play.wait(seconds=1)
    assert said(play).startswith("Away 10 minutes, since t480? Start again at step 2, “Work”.")


def test_what_somebody_else_records_does_not_end_the_break_and_is_told():
    play = four_bolts()
    play.wait(minutes=12)
    play.does(BEN, e.NoteAdded("Washer found", step="work"))

    assert "Ben recorded something here after that, last at t492." in said(play)
    assert "recorded something" not in said(play, BEN)


@pytest.mark.parametrize("who", [BEN, DEE, FAY])
def test_who_recorded_nothing_here_or_may_close_no_step_is_not_asked(who):
    play = four_bolts()
    play.wait(minutes=12)

    assert said(play, who) == ""


def test_an_own_entry_ends_it():
    play = four_bolts()
    play.wait(minutes=12)
    assert said(play)

    play.signs("110 N·m", fastener="bolt_3")
    assert said(play) == ""


def test_what_was_set_aside_is_an_own_act_as_well():
    play = four_bolts()
    play.wait(minutes=12)
    assert not play.signs("300 N·m", fastener="bolt_3").accepted

    assert said(play) == ""


def test_put_away_it_stays_away_until_the_next_break():
    play = four_bolts()
    play.wait(minutes=12)
    link = line(play, look=Look(step="first"))["put_away"]
    seen = link.partition("seen=")[2]
    assert link.startswith("/jobs/1001/sheet?step=first&")
    assert line(play, look=Look(seen=f"other {seen}"))["shown"] is False

    play.signs("110 N·m", fastener="bolt_3")
    play.wait(minutes=12)
    assert line(play, look=Look(seen=f"other {seen}"))["shown"] is True


def test_whoever_handed_over_is_not_asked_nor_on_a_sheet_that_is_over():
    play = four_bolts()
    play.wait(minutes=12)
    assert said(play, closed=True) == ""

    play.does(ADA, e.HandedOver(to=BEN.id, to_name=BEN.name, note=""))
    play.wait(minutes=12)
    assert said(play) == ""

    over = whole_job()
    over.does(FAY, e.HandedBack(note=""))
    over.wait(minutes=12)
    assert said(over) == ""


def test_a_clock_that_was_set_back_asks_nothing():
    play = four_bolts()
    play.wait(minutes=-30)

    assert said(play) == ""


def test_after_two_hours_the_time_of_day_says_more_than_minutes():
    play = four_bolts()
    play.wait(minutes=121)

    assert said(play).startswith("Away since t480? Start again at step 2")


# --- Where --------------------------------------------------------------------------------------------------------


def test_a_series_half_done_names_what_is_missing_and_leads_there():
    play = four_bolts()
    play.signs("110 N·m", fastener="bolt_3")
    play.wait(minutes=12)

    assert "Tightened: 3 of 4; the reading is missing for: Bolt 4." in said(play)
    assert line(play)["link"] == "/jobs/1001/sheet?step=work#fastener-bolt_4"


def test_snug_nuts_are_drawn_up_and_not_tightened():
    play = four_bolts(tighten=Pass.SNUG, figure=None)
    for one in FOUR[:3]:
        play.does(ADA, e.SignedOff(step="work", fastener=one))
    play.wait(minutes=12)

    assert "Drawn up: 3 of 4; not yet: Bolt 4." in said(play)


def test_values_half_measured_name_what_is_missing():
    measures = (a_measure(), a_measure("end", ask="End play"), a_measure("extra", ask="Extra", required=False))
    play = Play(a_packet(a_step(measures=measures)))
    play.measures(step="work")
    play.wait(minutes=12)

    assert "Measured: 1 of 2; the reading is missing for: End play." in said(play)
    assert line(play)["link"].endswith("#measures-end")


def test_stages_of_which_none_is_on_record_are_begun_again_as_the_maker_says():
    """A form records all stages together, so a break between them leaves no trace."""
    figure = a_figure(stages=(*a_figure().stages, a_turn()))
    bolts = (a_fastener("bolt_1", place="Bolt 1"), a_fastener("bolt_2", place="Bolt 2", figure=figure))
    play = Play(a_packet(a_step(fasteners=bolts)))
    play.signs("110 N·m", fastener="bolt_1")
    play.wait(minutes=12)
    assert "Bolt 2: 2 stages, and none of them is on record." in said(play)

    # A figure that nobody compared is not told of.
    once = replace(bolts[1], figure=replace(figure, verified=False))
    play = Play(a_packet(a_step(fasteners=(bolts[0], once))))
    play.signs("110 N·m", fastener="bolt_1")
    play.wait(minutes=12)
    assert "stages" not in said(play)


def test_a_star_is_begun_again():
    """Common practice, no source; the closing's step says so too."""
    nuts = a_fastener("wheel_nuts", figure_key="wheel_nuts")
    play = Play(a_packet(a_step("first"), a_step(fasteners=(nuts,))))
    play.finishes("first")
    play.wait(minutes=12)

    assert "A star that was begun is begun again" in said(play)
    assert "nothing of it is on record yet" in said(play)


def test_a_gate_half_answered_answered_or_run_out_is_named():
    play = on_stands()
    play.answers({"bears_on": STANDS_OPEN["bears_on"]})
    play.wait(minutes=12)
    assert "Clear at the gate “Stands under the vehicle”: 1 of 4." in said(play)
    assert line(play)["link"] == "/jobs/1001/sheet?step=undo#in-hand"

    play.gets_onto_stands()
    play.wait(minutes=12)
    assert "You answered the gate “Stands under the vehicle” at t492: look whether it is all still so." in said(play)
    assert f"You answered the gate “{SPRING.title}” at t492: look whether" in said(play)

    play.wait(minutes=4)
    assert f"You answered the gate “{SPRING.title}” at t492; it is asked again." in said(play)


def test_another_persons_gate_is_not_told_as_ones_own():
    gate = a_gate("cutting", checks=(CLEAR, replace(CLEAR, id="eyes")), title="Cutting", supports=())
    play = Play(a_packet(a_step(gates=("cutting",)), gates=(gate,)))
    play.does(ADA, e.NoteAdded("Rivets rusty", step="work"))
    play.answers({"clear": e.Answer(ready=True)}, gate="cutting", who=BEN)
    play.wait(minutes=12)

    assert "Cutting" not in said(play)
    assert "Clear at the gate “Cutting”: 1 of 2." in said(play, BEN)


def test_an_act_on_the_whole_sheet_leads_to_what_comes_next():
    play = Play(a_packet())
    play.holds_vehicle(Support.ON_RAMP)
    play.wait(minutes=12)

    assert said(play).startswith("Away 12 minutes, since t480? Step 1, “Look”, comes next: nothing of it")


def test_it_hides_nothing_and_asks_no_answer():
    """The same card, with the same forms, before and after."""
    play = four_bolts()
    before = see(play, look=Look(step="work", fastener="bolt_3", wrench="W1"))
    play.wait(minutes=12)
    after = see(play, look=Look(step="work", fastener="bolt_3", wrench="W1"))

    assert before["came_back"] == {"shown": False}
    assert after["came_back"]["shown"] is True
    assert after["hand"] == before["hand"]


def test_nothing_left_to_do_asks_nothing():
    play = whole_job()
    play.wait(minutes=12)

    assert said(play) == ""
