"""The view of a sheet: what its page shows, to whom, and when. Pure: the same in, the same out."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime
from itertools import count
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from app.domain import entry as e
from app.domain.packet import Axle, CheckKind, Pass, Reckoned, Support
from app.domain.procedure import load_book
from app.domain.sheet import Sheet
from app.domain.view import LOAD_JOINTS, view_of
from app.domain.view_bar import bar_view
from app.domain.view_gate import LAST_MS
from app.domain.view_parts import About, Look, Scene, Told, Viewer, Voice
from app.texts import say_ruling, word
from tests.builders import (
    ADA,
    BEARS_ON,
    BEN,
    DEE,
    FAY,
    JOB,
    LABEL,
    SHAKEN,
    SPRING,
    STANDS_OPEN,
    STEPS,
    Play,
    Someone,
    a_fastener,
    a_figure,
    a_gate,
    a_packet,
    a_step,
    a_turn,
    a_wrench,
    ms,
    whole_job,
)
from tests.unit.procedure_cast import SHARED


def see(play: Play, who: Someone = ADA, look: Look = Look(), told: Told = Told(), **about: Any) -> dict[str, Any]:
    """The view of what a play has led to, at its moment."""
    return view_of(scene(play, who, look, told, **about))


def scene(play: Play, who: Someone = ADA, look: Look = Look(), told: Told = Told(), **about: Any) -> Scene:
    ids = count(1)
    return Scene(
        sheet=play.sheet,
        viewer=Viewer(who.id, who.name, who.roles),
        now_ms=ms(play.now),
        table=play.rules.table,
        voice=Voice(say_ruling, word, lambda at_ms: f"t{at_ms // 60_000 % 1_440}", lambda: f"id-{next(ids)}"),
        about=About(people=((ADA.id, ADA.name), (BEN.id, BEN.name)), **about),
        look=look,
        told=told,
    )


def on_stands() -> Play:
    """The default sheet with its look done and the vehicle on stands; no gate answered yet."""
    play = Play(a_packet())
    play.tests()
    play.finishes("look")
    play.holds_vehicle(Support.STANDS_FRAME)
    return play


def at_the_nut(**over: Any) -> Play:
    """A sheet of one step with one nut to sign off."""
    return Play(a_packet(a_step(fasteners=(a_fastener(**over),)), wrenches=WRENCHES))


WRENCHES = (
    a_wrench("W1"),
    a_wrench("W2", due_on="2026-03-01"),
    a_wrench("W3", low_mnm=200_000, high_mnm=400_000),
    a_wrench("W4", fault="slips"),
    a_wrench("W5", length_um=None),
)
NUT = Look(step="work", fastener="nut", wrench="W1")


def plain(value: Any, path: str = "view") -> None:
    """Fails on anything but texts, whole numbers, yes and no, lists and text-keyed objects."""
    if isinstance(value, dict):
        for key, item in value.items():
            assert type(key) is str, f"{path}: key {key!r}"
            assert key not in OF_THEIR_OWN, f"{path}.{key} is a method of every text, list or object"
            plain(item, f"{path}.{key}")
    elif isinstance(value, list):
        for number, item in enumerate(value):
            plain(item, f"{path}[{number}]")
    else:
        assert type(value) in (str, int, bool), f"{path}: {type(value).__name__}"


OF_THEIR_OWN = {name for kind in (dict, list, str, int) for name in dir(kind)}


# --- The whole ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("who", [ADA, BEN, FAY, DEE])
@pytest.mark.parametrize("made", [lambda: Play(a_packet()), on_stands, at_the_nut, whole_job])
def test_a_view_holds_only_what_both_ends_can_hold(made, who):
    """No absent values, no fractions, no objects of ours; and no key that a template would read as a method."""
    play = made()

    for step in ("", *(one.id for one in play.sheet.packet.steps)):
        plain(see(play, who, Look(step=step, fastener="nut", wrench="W1", extension="150 mm")))


def test_the_same_in_gives_the_same_out():
    play = on_stands()

    assert json.dumps(see(play)) == json.dumps(see(play))


def test_a_sheet_without_a_packet_says_so():
    play = Play()

    assert see(play)["ready"] is False


def test_every_form_has_an_id_of_its_own():
    """Two forms of one page never carry the same id: the second would be taken for the first, and be lost."""
    play = Play(a_packet())
    ids = [value for name, value in hidden_fields(see(play)) if name == "entry" or name.startswith("entry.")]

    assert len(ids) > 5
    assert len(ids) == len(set(ids))


def hidden_fields(value: Any) -> list[tuple[str, str]]:
    if isinstance(value, dict):
        own = [(one["name"], one["value"]) for one in value["hidden"]] if "key" in value and "hidden" in value else []
        return own + [pair for item in value.values() for pair in hidden_fields(item)]
    return [pair for item in value for pair in hidden_fields(item)] if isinstance(value, list) else []


def test_every_form_says_what_was_seen():
    play = on_stands()
    hidden = dict(see(play)["hand"]["barriers"][0]["form"]["hidden"][number].values() for number in range(9))

    assert hidden["basis_packet"] == play.sheet.packet.hash
    assert hidden["basis_support"] == "1"
    assert hidden["gate"] == "stands:front"


# --- Which step is in hand ----------------------------------------------------------------------------------------


def test_the_first_open_step_that_nothing_comes_before_is_in_hand():
    play = Play(a_packet(a_step("late", after=("early",)), a_step("early")))

    assert see(play)["hand"]["id"] == "early"


def test_a_step_that_is_asked_for_is_in_hand_and_says_what_comes_first():
    hand = see(Play(a_packet()), look=Look(step="undo"))["hand"]

    assert hand["id"] == "undo"
    assert hand["waits"]["name"] == "Look"
    assert not hand["open_here"]
    assert not any(gate["asked"] for gate in hand["barriers"])


def test_an_unknown_step_gives_the_first_open_one():
    assert see(Play(a_packet()), look=Look(step="no such"))["hand"]["id"] == "look"


def test_a_done_step_is_a_line_with_value_name_and_time():
    play = on_stands()
    row = see(play)["groups"][0]["rows"][0]

    assert (row["mark"], row["values_words"], row["by"]) == ("done", "sound", "Ada")
    assert row["at"]


def test_a_finished_sheet_shows_no_step_and_says_that_it_was_handed_back():
    play = whole_job()
    play.does(FAY, e.HandedBack())
    view = see(play)

    assert view["hand"] == {"shown": False}
    assert view["closed"]
    assert "Fay" in view["closed_words"]


def test_when_all_is_done_the_view_names_what_still_waits():
    play = at_the_nut(critical=True)
    play.signs("110 N·m")
    play.finishes("work")
    view = see(play)

    assert view["finished"]["shown"]
    assert not view["finished"]["ready"]
    assert [point["words"] for point in view["finished"]["points"]] == ["Ball joint stud nut"]


# --- Marks --------------------------------------------------------------------------------------------------------


def marks(play: Play, who: Someone = ADA) -> dict[str, str]:
    return {row["id"]: row["mark"] for row in see(play, who)["groups"][0]["rows"]}


def test_marks_tell_how_far_each_step_is():
    play = on_stands()

    assert marks(play)["look"] == "done"
    assert marks(play)["undo"] == "shut"
    assert marks(play)["fit"] == "empty"


def test_a_cleared_gate_opens_the_mark():
    play = on_stands()
    play.gets_onto_stands()

    assert marks(play)["undo"] == "open"
    assert marks(play, BEN)["undo"] == "shut"


def test_a_critical_joint_is_pinned_only_once_the_second_person_has_read_it():
    play = at_the_nut(critical=True)
    play.signs("110 N·m")
    play.finishes("work")
    assert marks(play)["work"] == "done"

    play.counters("111 N·m")
    assert marks(play)["work"] == "signed"


def test_a_hold_on_a_step_hangs_its_tag_there_alone():
    play = Play(a_packet(a_step("one"), a_step("two")))
    play.hangs_tag("two")

    assert marks(play) == {"one": "open", "two": "held"}


# --- Gates --------------------------------------------------------------------------------------------------------


def test_behind_a_shut_gate_the_text_cannot_be_read_and_nothing_can_be_recorded():
    hand = see(on_stands())["hand"]

    assert not hand["readable"]
    assert not hand["open_here"]
    assert not hand["finish"]["shown"]


def test_only_the_first_shut_gate_asks():
    barriers = see(on_stands())["hand"]["barriers"]

    assert [(gate["id"], gate["asked"]) for gate in barriers] == [("stands:front", True), (SPRING.id, False)]


def test_nothing_is_chosen_or_filled_in_beforehand():
    """Not on the first asking, and not on asking again."""
    play = on_stands()
    play.gets_onto_stands()
    play.wait(hours=2)

    for check in see(play)["hand"]["barriers"][0]["checks"]:
        chosen = [option for option in check["choice"].get("options", []) if option["chosen"]]
        assert chosen == []
        assert check["field"].get("typed", "") == ""


def test_a_no_keeps_the_gate_shut_says_what_to_do_and_offers_a_hold_tag():
    play = on_stands()
    play.answers({"bears_on": e.Answer(choice="jack")})
    gate = see(play)["hand"]["barriers"][0]

    assert gate["refused"]
    assert gate["checks"][0]["otherwise"] == "Set them again."
    assert gate["checks"][0]["answer"] == "The jack"
    assert see(play)["hand"]["gate_hold"]["shown"]


def test_answers_given_so_far_stay_and_count():
    play = on_stands()
    play.answers({"bears_on": e.Answer(choice="frame"), "shaken": e.Answer(ready=True)})
    gate = see(play)["hand"]["barriers"][0]

    assert gate["progress"] == "2 of 4 clear"
    assert [check["passed"] for check in gate["checks"]] == [True, False, False, True]


@pytest.mark.parametrize(
    ("change", "who", "words"),
    [
        (lambda play: None, BEN, "You are working here now"),
        (lambda play: play.holds_vehicle(Support.STANDS_ARM), ADA, "How the vehicle is held has changed"),
        (lambda play: play.wait(minutes=61), ADA, "After 60 minutes"),
        (lambda play: play.does(ADA, e.HandedOver(to=ADA.id, to_name="Ada")), ADA, "handed over"),
    ],
)
def test_a_stale_gate_says_why_and_asks_again(change, who, words):
    play = on_stands()
    play.answers(STANDS_OPEN)
    change(play)
    gate = see(play, who)["hand"]["barriers"][0]

    assert gate["id"] == "stands:front"
    assert words in gate["again"]["words"]
    assert gate["asked"]
    assert not any(check["answered"] for check in gate["checks"])


def test_an_open_gate_says_who_answered_and_until_when():
    play = on_stands()
    play.gets_onto_stands()
    cleared = see(play)["hand"]["cleared"]

    assert [gate["is_open"] for gate in cleared] == [True, True]
    assert "Ada" in cleared[0]["cleared"]


def test_a_gate_that_never_grows_old_is_asked_again_at_the_end_of_the_calendar():
    """A moment past the last date has no words in any zone; the page is shown all the same."""
    gate = replace(a_gate(checks=(SHAKEN,), supports=()), stale_after_s=2**53 - 1)
    play = Play(a_packet(a_step(gates=("stands:front",)), gates=(gate,)))
    play.answers({SHAKEN.id: e.Answer(ready=True)})
    at = scene(play)
    moments: list[int] = []
    view_of(replace(at, voice=replace(at.voice, when=lambda at_ms: str(moments.append(at_ms)))))

    assert max(moments) == LAST_MS
    assert datetime.fromtimestamp(LAST_MS / 1_000, UTC).astimezone(ZoneInfo("Pacific/Kiritimati")).year == 9999


def test_a_check_whose_limit_is_not_known_names_what_is_missing():
    gate = a_gate(checks=(replace(LABEL, at_least=None, needs_input="the mass on the front axle"),), supports=())
    play = Play(a_packet(a_step(gates=("stands:front",)), gates=(gate,)))
    view = see(play)["hand"]["barriers"][0]

    assert view["stuck"]
    assert view["checks"][0]["needs"] == "the mass on the front axle"


def test_computed_values_come_with_their_inputs_and_certainty():
    gate = a_gate(reckoned=(Reckoned("Load on one stand", "527 kg", "front 790 kg", "level"),), supports=())
    play = Play(a_packet(a_step(gates=("stands:front",)), gates=(gate,)))

    assert see(play)["hand"]["barriers"][0]["reckoned"] == [
        {"label": "Load on one stand", "text": "527 kg", "inputs": "front 790 kg", "certainty": "level"}
    ]


def test_each_kind_of_question_has_its_kind_of_answer():
    checks = (BEARS_ON, LABEL, SHAKEN)
    play = Play(a_packet(a_step(gates=("stands:front",)), gates=(a_gate(checks=checks, supports=()),)))
    seen, value, ready = see(play)["hand"]["barriers"][0]["checks"]

    assert [option["words"] for option in seen["choice"]["options"]] == ["The frame", "The jack"]
    assert (value["kind"], value["field"]["unit"], value["field"]["hint"]) == (CheckKind.VALUE, "kg", "Needed: 500 kg")
    assert [option["value"] for option in ready["choice"]["options"]] == ["yes", "no"]


def test_a_foreman_sees_the_gate_as_it_stands_and_is_not_asked():
    play = on_stands()
    assert not see(play, FAY)["hand"]["barriers"][0]["may"]

    play.gets_onto_stands()
    assert see(play, FAY)["hand"]["readable"]


def test_a_gate_is_not_asked_while_the_vehicle_is_held_wrong():
    play = Play(a_packet(replace(STEPS[1], after=()), gates=(a_gate(supports=()), SPRING)))
    hand = see(play)["hand"]

    assert hand["held_wrong"]["shown"]
    assert hand["held_wrong"]["wanted"][0] == "on stands under the frame"
    assert not any(gate["asked"] for gate in hand["barriers"])


# --- Torque -------------------------------------------------------------------------------------------------------


def nut(play: Play, look: Look = NUT, who: Someone = ADA, told: Told = Told()) -> dict[str, Any]:
    return see(play, who, look, told)["hand"]["fasteners"][0]


def test_wrenches_that_may_not_be_used_are_listed_with_the_reason():
    wrenches = nut(at_the_nut(), Look(step="work"))["wrenches"]

    assert [one["tag"] for one in wrenches["fit"]] == ["W1", "W5"]
    assert {one["tag"]: one["why"] for one in wrenches["unfit"]} == {
        "W2": "was due on 1 Mar 2026",
        "W3": "reaches 200 N·m to 400 N·m only",
        "W4": "marked as faulty: slips",
    }


def test_without_a_fit_wrench_the_card_says_what_would_do():
    play = Play(a_packet(a_step(fasteners=(a_fastener(),)), wrenches=WRENCHES[1:3]))
    wrenches = nut(play, Look(step="work"))["wrenches"]

    assert wrenches["none_fits"]
    assert wrenches["need"] == "110 N·m"


def test_a_reading_is_never_filled_in_beforehand():
    assert nut(at_the_nut())["hand"]["readings"][0]["typed"] == ""


def test_the_wrench_is_set_to_the_figure_in_its_own_unit():
    play = Play(a_packet(a_step(fasteners=(a_fastener(),)), wrenches=(a_wrench(unit="lbf·ft"),)))
    hand = nut(play)["hand"]

    # 110 N·m / 1.3558179483 N·m per lbf·ft = 81.13 lbf·ft; 104.5 is 77.08 and 115.5 is 85.19, ends rounded inwards.
    # Source: NIST SP 811 (2008), appendix B.8, from memory.
    assert hand["set"] == [{"name": "", "text": "81.1 lbf·ft", "window": "77.1 lbf·ft to 85.1 lbf·ft"}]
    assert hand["readings"][0]["unit"] == "lbf·ft"


def test_with_an_extension_the_sum_is_shown_with_what_the_wrench_must_read():
    hand = nut(at_the_nut(), replace(NUT, extension="100 mm"))["hand"]

    # 110 · 400/(400 + 100) = 88; 104.5 → 83.6; 115.5 → 92.4. Statics: T = setting·(L + E)/L.
    assert hand["set"] == [{"name": "", "text": "88 N·m", "window": "83.6 N·m to 92.4 N·m"}]
    assert hand["setting"]["sum"] == "110 N·m × 400 mm / (400 mm + 100 mm) = 88 N·m"


def test_an_extension_at_a_right_angle_changes_nothing():
    hand = nut(at_the_nut(), replace(NUT, extension="100 mm", angle="90"))["hand"]

    assert hand["set"] == [{"name": "", "text": "110 N·m", "window": "104.5 N·m to 115.5 N·m"}]


@pytest.mark.parametrize(
    ("look", "words"),
    [
        (replace(NUT, extension="long"), "length"),
        (replace(NUT, extension="0 mm"), "length"),
        (replace(NUT, extension="3 m"), "length"),
        (replace(NUT, extension="100 mm", angle="a lot"), "angle"),
        (replace(NUT, extension="100 mm", angle="200"), "angle"),
        (replace(NUT, extension="500 mm", angle="180"), "no sum can be done"),
        (replace(NUT, wrench="W5", extension="100 mm"), "length is not known"),
        (replace(NUT, wrench="W2"), "was due"),
    ],
)
def test_what_cannot_be_used_says_why_and_takes_no_reading(look, words):
    hand = nut(at_the_nut(), look)["hand"]

    assert not hand["usable"]
    assert words in hand["trouble"]
    assert hand["extension"] == look.extension


@pytest.mark.parametrize(
    ("figure", "mode"),
    [(None, "no_figure"), (a_figure(verified=False), "not_compared"), (a_figure(), "sign")],
)
def test_no_compared_figure_no_sign_off(figure, mode):
    assert nut(at_the_nut(figure=figure))["mode"] == mode


def test_a_figure_typed_once_keeps_its_number_to_itself():
    """Whoever compares it has to read the source, not what the first person typed."""
    once = a_figure(verified=False)

    shown = nut(at_the_nut(figure=once))["figure"]

    assert (shown["shown"], shown["compared"], shown["source"]) == (True, False, once.source)
    assert (shown["text"], shown["stages"]) == ("", [])
    assert nut(at_the_nut(figure=a_figure()))["figure"]["text"] == a_figure().text


def test_the_final_pass_waits_for_its_load_state():
    view = nut(at_the_nut(load_states=(Support.STANDS_ARM,)))

    assert view["mode"] == "load"
    assert view["load_words"] == "on stands under the arms"


def test_a_snug_pass_asks_for_no_wrench():
    view = nut(at_the_nut(tighten=Pass.SNUG, figure=None))

    assert view["mode"] == "snug"
    assert not view["wrench_chosen"]


def test_a_staged_figure_asks_a_reading_for_each_stage():
    figure = a_figure(stages=(*a_figure("40 N·m", "38 N·m", "42 N·m").stages, a_turn()), text="40 N·m + 90°")
    view = nut(at_the_nut(figure=figure))

    assert [one["unit"] for one in view["hand"]["readings"]] == ["N·m", "°"]
    assert [one["name"] for one in view["figure"]["stages"]] == ["Stage 1", "Stage 2"]


def test_a_reading_outside_stays_in_sight_with_its_tick_beyond_the_bar():
    play = at_the_nut()
    play.signs("131 N·m")
    view = nut(play)

    assert view["mode"] == "sign"
    assert view["outside"][0]["bar"]["side"] == "high"
    assert view["outside"][0]["bar"]["apart"] == "15.5 N·m"
    assert see(play)["hand"]["finish"]["ready"] is False


def test_a_second_person_reads_for_themselves_and_the_first_is_told_so():
    play = at_the_nut(critical=True)
    play.signs("110 N·m")

    assert nut(play)["mode"] == "other_person"
    assert see(play)["other_person"]["shown"]
    assert nut(play, who=BEN)["mode"] == "second"
    assert nut(play, who=BEN)["form"]["hidden"][1] == {"name": "kind", "value": "countersigned"}
    assert nut(play, who=DEE)["mode"] == "rest"


def test_with_an_extension_the_bar_shows_what_the_joint_got():
    play = at_the_nut()
    play.signs("88 N·m", extension=e.Extension(100_000))
    signed = nut(play, Look(step="work"))["signed"]

    assert signed["words"] == "88 N·m"
    assert signed["bars"][0]["reading"] == "110 N·m"
    assert signed["extension"] == "100 mm at 0°"


# --- The window bar -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("reading", "at", "side"),
    [(104_500, "20.0%", "within"), (115_500, "80.0%", "within"), (110_000, "50.0%", "within"),
     (104_499, "19.9%", "low"), (115_700, "81.0%", "high"), (0, "4.0%", "low"), (10**9, "96.0%", "high")],
)  # fmt: skip
def test_the_tick_stands_where_the_reading_lies(reading, at, side):
    bar = bar_view("torque", "N·m", 104_500, 115_500, target=110_000, reading=reading)

    assert (bar["reading_at"], bar["side"]) == (at, side)
    assert bool(bar["apart"]) is (side != "within")


def test_limits_are_never_shown_wider_than_they_are():
    """A limit that its unit cannot say exactly is rounded into the window, so that no one reads up to a wrong edge."""
    # 100 N·m = 73.756 lbf·ft, 120 N·m = 88.507 lbf·ft. Source: NIST SP 811 (2008), appendix B.8, from memory.
    bar = bar_view("torque", "lbf·ft", 100_000, 120_000)

    assert (bar["low"], bar["high"]) == ("73.8 lbf·ft", "88.5 lbf·ft")


def test_a_limit_on_one_side_leaves_the_other_open():
    bar = bar_view("length", "mm", None, 2_000, reading=2_500)

    assert (bar["low_shown"], bar["low_at"], bar["high_at"]) == (False, "0.0%", "80.0%")
    assert bar["apart"] == "0.5 mm"


def test_without_limits_there_is_no_bar():
    assert not bar_view("length", "mm", None, None, reading=2_500)["shown"]


def test_a_window_without_width_takes_only_its_own_value():
    assert bar_view("length", "mm", 5, 5, reading=5)["side"] == "within"
    assert bar_view("length", "mm", 5, 5, reading=6)["side"] == "high"


# --- Roles, holds, hand-over, what was set aside ------------------------------------------------------------------


def test_the_desk_sees_the_sheet_and_can_only_write_a_note():
    view = see(Play(a_packet()), DEE)

    assert not view["hand"]["open_here"]
    assert not view["support"]["shown"]
    assert not view["hold"]["shown"]
    assert view["note"]["shown"]


def test_only_who_hung_a_tag_takes_it_off_or_a_foreman_with_a_reason():
    play = Play(a_packet())
    play.hangs_tag(who=ADA)

    assert see(play, ADA)["tags"][0]["lifts"]
    assert not see(play, BEN)["tags"][0]["lifts"]
    assert see(play, FAY)["tags"][0]["lifts"]
    assert not see(play, ADA)["hand"]["open_here"]


def test_a_sheet_goes_to_somebody_else_only():
    assert [one["words"] for one in see(Play(a_packet()))["hand_over"]["to"]["options"]] == ["Ben"]


def test_what_was_set_aside_says_why_and_what_now():
    play = Play(a_packet(a_step("one"), a_step("two", after=("one",))))
    play.finishes("two")
    row = see(play)["asides"]["rows"][0]

    assert "first do “One”" in row["words"]
    assert row["now_words"].startswith("Do it again")
    assert row["step_name"] == "Two"


def test_what_was_set_aside_and_done_since_is_no_longer_shown():
    play = Play(a_packet(a_step("one"), a_step("two", after=("one",))))
    play.finishes("two")
    play.finishes("one")
    play.finishes("two")

    assert not see(play)["asides"]["shown"]


# --- What is said, and the focus ----------------------------------------------------------------------------------


def test_what_was_typed_is_kept_with_the_trouble_beside_its_field():
    told = Told(
        form="sign-nut-W1", typed={"reading.0": "abc"}, troubles={"reading.0": "no"}, lines=(("reading.0", "no"),)
    )
    view = see(at_the_nut(), look=NUT, told=told)
    reading = view["hand"]["fasteners"][0]["hand"]["readings"][0]

    assert (reading["typed"], reading["trouble"]) == ("abc", "no")
    assert view["told"]["lines"][0]["field"] == reading["id"]
    assert view["focus"] == "told"


def test_what_was_typed_for_one_wrench_is_not_kept_for_another():
    told = Told(form="sign-nut-W5", typed={"reading.0": "110"})

    assert nut(at_the_nut(), told=told)["hand"]["readings"][0]["typed"] == ""


def test_after_recording_the_focus_goes_to_the_next_thing():
    play = at_the_nut()
    assert see(play, told=Told(recorded=True))["focus"] == "in-hand"

    play.signs("110 N·m")
    view = see(play, look=Look(step="work"), told=Told(recorded=True))
    assert view["focus"] == "finish"
    assert "Work" in view["speak"]


def test_nothing_takes_the_focus_on_a_page_just_opened():
    view = see(Play(a_packet()))

    assert (view["focus"], view["speak"]) == ("", "")


# --- The drawing --------------------------------------------------------------------------------------------------


def test_the_drawing_follows_the_step_and_how_the_vehicle_is_held():
    play = on_stands()
    drawing = see(play)["drawing"]

    assert (drawing["layout"], drawing["axle"], drawing["support"]) == ("wishbone_lower_coil", "front", "stands_frame")
    assert drawing["load_joint"] == "lower"


def test_stands_at_the_other_axle_are_not_drawn_here():
    play = Play(a_packet())
    play.holds_vehicle(Support.STANDS_FRAME, axle=Axle.REAR)

    assert see(play)["drawing"]["support"] == "on_wheels"


def test_the_star_order_is_shown_where_wheel_nuts_are_drawn_up_and_nowhere_else():
    nuts = Play(a_packet(a_step("work", fasteners=(a_fastener("nuts", figure_key="wheel_nuts"),))))
    other = Play(a_packet(a_step("work", fasteners=(a_fastener("nut"),))))

    assert [len(one["nuts"]) for one in see(nuts)["drawing"]["stars"]] == [4, 5, 6]
    assert see(other)["drawing"]["stars"] == []


def test_an_air_spring_is_drawn_in_its_place_and_its_load_joint_is_the_place_s():
    packet = replace(a_packet(), layouts={"front": "air", "front_place": "wishbone_upper_coil"})
    drawing = see(Play(packet))["drawing"]

    assert (drawing["layout"], drawing["place"], drawing["load_joint"]) == ("air", "wishbone_upper_coil", "upper")
    assert drawing["picture"]["ring"]["shown"]


def test_the_view_of_an_empty_sheet_needs_no_packet():
    play = Play(sheet=Sheet(JOB))

    assert see(play) == {"ready": False, "address": "/jobs//sheet"}


def test_a_stands_load_is_told_only_while_the_vehicle_is_on_stands():
    """On a lift nothing stands on them: a load beside the drawing would be read as what the lift's pads carry."""
    load = Reckoned("Load on one stand", "547 kg", "")
    play = Play(a_packet(*STEPS, gates=(a_gate(reckoned=(load,)), SPRING)))
    play.tests()
    play.finishes("look")
    play.holds_vehicle(Support.LIFT_FRAME)
    on_lift = see(play)["drawing"]["loads"]
    play.holds_vehicle(Support.STANDS_FRAME)

    assert on_lift == []
    assert see(play)["drawing"]["loads"] == [{"label": "Load on one stand", "text": "547 kg"}]


def test_the_drawing_rings_the_joint_that_the_layouts_name():
    """What the tablet's drawing knows by itself says of every layout what the procedures' own table says."""
    asked = {key: one.load_joint for key, one in load_book(SHARED).layouts.items()}

    drawn = {key: LOAD_JOINTS.get(key, "none") for key in asked}

    assert set(LOAD_JOINTS) <= set(asked)
    assert drawn == {key: "unknown" if joint == "as_place" else joint for key, joint in asked.items()}
