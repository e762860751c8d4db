"""A packet is compiled the same way every time, asks for what it is not told, and guesses nothing."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from app.domain.canonical import canonical
from app.domain.compiling import (
    BookFault,
    Order,
    Window,
    compile_packet,
    figure_keys,
    procedures_for,
    why_not,
)
from app.domain.packet import Axle, Packet, Pass, Support, Wrench
from app.domain.problems import Problem
from app.domain.procedure import Book
from app.domain.procedure_schema import FastenerText
from app.domain.records import JobLine, SpringFacts
from app.texts import SENTENCES, sentence
from tests.unit.procedure_cast import (
    SHOP,
    a_figure,
    a_line,
    a_vehicle,
    an_axle,
    an_order,
    keys,
    made,
    refused,
    the_book,
    the_step,
    waits_for,
)

ARM = {
    "arm": "lower",
    "work": "bushings",
    "method": "lowering",
    "damper_on_arm": "yes",
    "link_on_arm": "yes",
    "heat": "no",
}

# --- The same bytes every time ------------------------------------------------------------------------------------

HASH_OF_A_FRESH_PROCESS = """
from tests.unit.procedure_cast import a_line, a_vehicle, made
from app.domain.packet import Axle
lines = (a_line(), a_line("stabiliser", Axle.REAR, "", line_id="bar", parts="both"))
print(made(*lines).hash)
"""


@pytest.mark.parametrize("seed", ["0", "1", "4711"])
def test_a_fresh_process_with_another_hash_seed_gives_the_same_bytes(seed: str) -> None:
    here = made(a_line(), a_line("stabiliser", Axle.REAR, "", line_id="bar", parts="both")).hash

    ran = subprocess.run(
        [sys.executable, "-c", HASH_OF_A_FRESH_PROCESS],
        cwd=Path(__file__).parents[2],
        env={**os.environ, "PYTHONHASHSEED": seed},
        capture_output=True,
        text=True,
        check=True,
    )

    assert ran.stdout.strip() == here


def test_the_order_in_which_facts_and_wrenches_were_written_does_not_matter() -> None:
    vehicle = a_vehicle()
    turned = replace(vehicle, front=replace(vehicle.front, facts=tuple(reversed(vehicle.front.facts))))
    wrenches = tuple(Wrench(tag, tag, "N·m", 1, 2, "2027-01-01") for tag in ("B", "A"))

    one = compile_packet(the_book(), replace(an_order(a_line(), vehicle=vehicle), wrenches=wrenches))
    other = compile_packet(the_book(), replace(an_order(a_line(), vehicle=turned), wrenches=wrenches[::-1]))

    assert isinstance(one, Packet)
    assert isinstance(other, Packet)
    assert canonical(one.as_json()) == canonical(other.as_json())
    assert [wrench.tag for wrench in one.wrenches] == ["A", "B"]


def test_a_packet_names_the_text_it_was_compiled_from() -> None:
    packet = made(a_line())
    changed = replace(the_book(), digests={**the_book().digests, "ball_joint": "other"})

    other = compile_packet(changed, an_order(a_line()))

    assert isinstance(other, Packet)
    assert packet.procedures.keys() == {"opening", "ball_joint", "closing"}
    assert packet.procedures["ball_joint"].startswith("1:")
    assert packet.procedures["ball_joint"] != other.procedures["ball_joint"]
    assert packet.procedures["closing"] == other.procedures["closing"]


# --- Editions and revisions ---------------------------------------------------------------------------------------


def test_an_unchanged_step_keeps_its_revision_and_a_changed_one_counts_on() -> None:
    first = made(a_line())
    second = made(a_line(), vehicle=a_vehicle(an_axle(wear_indicator="no", grease_fitting="no")), previous=first)
    third = made(a_line(), vehicle=a_vehicle(an_axle(joint_stud="self_locking")), previous=second)

    assert {step.revision for step in first.steps} == {1}
    assert (first.edition, second.edition, third.edition) == (1, 2, 3)
    # Without its fitting the joint is not greased; what came after the greasing now comes after the stud.
    assert "grease" not in keys(second)
    assert the_step(second, "unchain").revision == 2
    assert the_step(second, "stud_castle").revision == 2
    assert the_step(second, "right_part").revision == 1
    assert the_step(third, "stud_locknut").revision == 1
    assert the_step(third, "unchain").revision == 3


def test_the_same_order_again_changes_nothing_but_the_edition() -> None:
    first = made(a_line())

    again = made(a_line(), previous=first)

    assert replace(again, edition=1) == first


def test_a_changed_figure_raises_only_the_step_that_has_it() -> None:
    key = "front/lower_ball_joint_stud"
    before = compile_packet(the_book(), an_order(a_line(), figures={key: a_figure("81 lbf·ft")}))
    assert isinstance(before, Packet)

    after = compile_packet(the_book(), an_order(a_line(), figures={key: a_figure("95 lbf·ft")}, previous=before))

    assert isinstance(after, Packet)
    assert [step.key for step in after.steps if step.revision != 1] == ["stud_castle"]


# --- What is asked for --------------------------------------------------------------------------------------------


def test_a_missing_fact_is_asked_for_and_never_taken_for_a_no() -> None:
    vehicle = a_vehicle(an_axle(without=("grease_fitting", "joint_fixing")))

    problems = refused(a_line(), vehicle=vehicle)

    assert {(one.code, one.field) for one in problems} == {
        ("fact_missing", "front.grease_fitting"),
        ("fact_missing", "front.joint_fixing"),
    }
    assert {one.details["ask"] for one in problems} == {
        the_book().facts["grease_fitting"].ask,
        the_book().facts["joint_fixing"].ask,
    }


def test_a_fact_that_can_change_nothing_is_not_asked_for() -> None:
    """Of the strut's unit a ball joint knows nothing; a wear indicator is only on the joint that carries."""
    without = ("strut_unit", "arm_bushings", "damper_limits_droop", "wear_indicator", "axle_joints")
    vehicle = a_vehicle(an_axle(without=without))

    assert made(a_line(joint_position="upper"), vehicle=vehicle)
    assert [one.field for one in refused(a_line(), vehicle=vehicle)] == ["front.wear_indicator"]


def test_a_fact_only_a_gate_needs_is_asked_for_too() -> None:
    """The sensor is unplugged only where there is one; only then does an airbag near it matter."""
    bare, wired = (a_vehicle(an_axle(height_sensor=there, without=("airbag_near",))) for there in ("no", "yes"))

    assert made(a_line(), vehicle=bare)
    assert [one.field for one in refused(a_line(), vehicle=wired)] == ["front.airbag_near"]


def test_what_one_axle_says_of_the_vehicle_holds_for_both() -> None:
    """A camera is the vehicle's; it is enough that one axle's record knows of it."""
    vehicle = a_vehicle(an_axle(without=("adas",)), an_axle("solid_leaf", adas="yes"))

    assert "camera_calibration" in keys(made(a_line(), vehicle=vehicle), "closing")


def test_the_upper_joint_may_be_fixed_otherwise_than_the_lower() -> None:
    vehicle = a_vehicle(an_axle(joint_fixing="pressed", joint_fixing_upper="riveted"))

    assert "fit_pressed" in keys(made(a_line(), vehicle=vehicle))
    assert "fit_riveted" in keys(made(a_line(joint_position="upper"), vehicle=vehicle))


@pytest.mark.parametrize(
    ("line", "code", "field"),
    [
        (a_line("no_such"), "unknown_procedure", "work"),
        (a_line("closing", Axle.BOTH, ""), "unknown_procedure", "work"),
        (a_line(corner=""), "corner_missing", "work"),
        (a_line(corner="middle"), "corner_missing", "work"),
        (a_line(axle=Axle.BOTH), "axle_wrong", "work"),
        (a_line("stabiliser", corner="left", parts="both"), "corner_unneeded", "work"),
        (a_line(joint_position="middle"), "option_unknown", "work.joint_position"),
        (a_line(joint_position=""), "option_missing", "work.joint_position"),
        (a_line(colour="red"), "option_unknown", "work.colour"),
        (JobLine("work", "ball_joint", Axle.FRONT, "left"), "option_missing", "work.joint_position"),
        (a_line("control_arm", **{**ARM, "arm": "upper"}), "option_unknown", "work.method"),
    ],
)  # fmt: skip
def test_a_line_that_cannot_be_opened_says_so(line: JobLine, code: str, field: str) -> None:
    assert (code, field) in {(one.code, one.field) for one in refused(line)}


def test_no_lines_and_the_same_line_twice_are_refused() -> None:
    assert [one.code for one in refused()] == ["lines_missing"]
    assert [(one.code, one.field) for one in refused(a_line(), a_line(line_id="again"))] == [("line_twice", "again")]
    assert [one.code for one in refused(a_line(), a_line(corner="right"))] == ["line_twice"]
    assert [one.code for one in refused(a_line(line_id="closing"))] == ["line_twice"]


@pytest.mark.parametrize(
    ("front", "code", "field"),
    [
        (an_axle("hovering"), "unknown_layout", "front.layout"),
        (an_axle("air"), "place_missing", "front.place"),
        (an_axle("air", "air"), "place_missing", "front.place"),
        (an_axle("air", "hovering"), "place_missing", "front.place"),
        (an_axle(joint_fixing="glued"), "fact_unknown", "front.joint_fixing"),
        (an_axle(colour="red"), "fact_unknown", "front.colour"),
    ],
)
def test_a_vehicles_record_that_cannot_be_is_named(front: object, code: str, field: str) -> None:
    vehicle = a_vehicle(front)  # type: ignore[arg-type]

    assert (code, field) in {(one.code, one.field) for one in refused(a_line(), vehicle=vehicle)}


def test_every_problem_has_its_sentence_with_every_blank_filled() -> None:
    """The desk reads these; a blank nobody fills would be an error in front of a customer."""
    problems: list[Problem] = [
        *refused(), *refused(a_line(), a_line(line_id="again")), *refused(a_line("no_such")),
        *refused(a_line(corner="")), *refused(a_line(axle=Axle.BOTH)),
        *refused(a_line("stabiliser", corner="left", parts="both")), *refused(a_line(joint_position="middle")),
        *refused(a_line(joint_position="")), *refused(a_line(), vehicle=a_vehicle(an_axle("hovering"))),
        *refused(a_line(), vehicle=a_vehicle(an_axle("air"))),
        *refused(a_line(), vehicle=a_vehicle(an_axle(joint_fixing="glued"))),
        *refused(a_line(), vehicle=a_vehicle(an_axle(without=("joint_fixing",)))),
        *refused(a_line(joint_position="upper"), vehicle=a_vehicle(an_axle("strut"))),
    ]  # fmt: skip

    assert {one.code for one in problems} >= {
        "lines_missing", "line_twice", "unknown_procedure", "corner_missing", "axle_wrong", "corner_unneeded",
        "option_unknown", "option_missing", "unknown_layout", "place_missing", "fact_unknown", "fact_missing",
        "not_for_layout",
    }  # fmt: skip
    for one in problems:
        assert one.code in SENTENCES
        text = sentence(one.code, **one.details)
        assert len(text.split()) > 4
        assert "{" not in text


# --- How the lines are tied together ------------------------------------------------------------------------------


def test_what_has_to_wait_for_ride_height_waits_for_the_weight_on_the_wheels() -> None:
    """Snug in the air, then wheels on, down, settled, then the figure: in this order and no other."""
    packet = made(a_line("control_arm", **ARM))
    closing = {step.key: step for step in packet.steps_of_line["closing"]}
    snug, final = the_step(packet, "arm_in"), the_step(packet, "pivots_final")

    chain = (snug, packet.step_by_id["closing.wheels_on.front_left"], closing["lower"],
             packet.step_by_id["closing.wheel_torque.front_left"], closing["settle"], final, closing["none_waiting"],
             closing["alignment_after"], closing["road_test"], closing["second_look"])  # fmt: skip
    for earlier, later in pairwise(chain):
        assert waits_for(packet, later, earlier), f"{later.id} does not wait for {earlier.id}"
    assert set(final.supports) == {Support.ON_WHEELS, Support.ON_RAMP}
    assert {one.tighten for one in snug.fasteners} == {Pass.SNUG}
    assert {one.figure_key for one in snug.fasteners} == {"lower_arm_pivot_front", "lower_arm_pivot_rear"}
    assert all(one.figure is None for one in snug.fasteners)


def test_closing_comes_after_every_line_and_opening_before_every_line() -> None:
    packet = made(a_line(), a_line("control_arm", corner="right", line_id="arm", **ARM))
    first, last = packet.steps_of_line["opening"], packet.steps_of_line["closing"]
    down = {step.id for step in last if step.key == "settle"}

    assert [line.id for line in packet.lines] == ["opening", "work", "arm", "closing"]
    assert first
    for step in (*packet.steps_of_line["work"], *packet.steps_of_line["arm"]):
        assert all(waits_for(packet, step, one) for one in first), step.id
        for end in last:
            late = any(waits_for(packet, step, packet.step_by_id[one]) for one in down)
            if not late:
                assert waits_for(packet, end, step), f"{end.id} does not wait for {step.id}"
    assert all(
        waits_for(packet, the_step(packet, "road_test", "closing"), step) for step in packet.steps_of_line["arm"]
    )


def test_two_corners_are_two_lines_that_do_not_wait_for_each_other() -> None:
    packet = made(a_line(), a_line(corner="right", line_id="other"))

    for step in packet.steps_of_line["other"]:
        assert not any(one.startswith("work.") for one in step.after), step.id
    assert packet.lines[1].title == "Ball joint, lower, front left"
    assert packet.lines[2].title == "Ball joint, lower, front right"


def test_only_corners_that_were_worked_on_are_closed() -> None:
    one = made(a_line())
    axle = made(a_line("stabiliser", corner="", parts="both"))
    both = made(a_line(), a_line("stabiliser", Axle.REAR, "", line_id="bar", parts="links"))

    def wheels(packet: Packet) -> list[str]:
        return [step.corner + " " + step.axle for step in packet.steps if step.key == "wheel_torque"]

    assert wheels(one) == ["left front"]
    assert wheels(axle) == ["left front", "right front"]
    assert wheels(both) == ["left front", "left rear", "right rear"]
    assert both.lines[-1].axle is Axle.BOTH


def test_an_inspection_alone_has_no_closing_and_one_beside_work_comes_first() -> None:
    alone = made(a_line("inspection", corner=""))
    beside = made(a_line(), a_line("inspection", corner="", line_id="look"))
    elsewhere = made(a_line(), a_line("inspection", Axle.REAR, "", line_id="look"))

    assert [line.id for line in alone.lines] == ["work"]
    begin = the_step(beside, "right_part")
    assert waits_for(beside, begin, the_step(beside, "ride_height", "look"))
    assert "ride_height" not in keys(beside, "opening")
    assert not waits_for(elsewhere, the_step(elsewhere, "right_part"), the_step(elsewhere, "ride_height", "look"))
    assert "ride_height" in keys(elsewhere, "opening")


def test_the_same_joint_is_drawn_up_and_brought_to_its_figure_once() -> None:
    """A book that forgets a final pass is not compiled: a snug nut nobody comes back to is how wheels come off."""
    forgetful = _without_final(the_book(), "pivot_front")

    with pytest.raises(BookFault, match="lower_arm_pivot_front is drawn up in line work and never"):
        compile_packet(forgetful, an_order(a_line("control_arm", **ARM)))


def test_a_joint_brought_to_its_figure_twice_in_a_line_is_refused() -> None:
    twice = _with_fastener(the_book(), "look_over", FastenerText(id="x", figure="lower_arm_pivot_front", place="x"))

    with pytest.raises(BookFault, match="lower_arm_pivot_front is brought to its figure 2 times in line work"):
        compile_packet(twice, an_order(a_line("control_arm", **ARM)))


def _without_final(book: Book, fastener: str) -> Book:
    arm = book.procedures["control_arm"]
    steps = tuple(
        step.model_copy(update={"fasteners": tuple(one for one in step.fasteners if one.id != fastener)})
        if step.key == "pivots_final"
        else step
        for step in arm.steps
    )
    return replace(book, procedures={**book.procedures, "control_arm": arm.model_copy(update={"steps": steps})})


def _with_fastener(book: Book, key: str, fastener: FastenerText) -> Book:
    arm = book.procedures["control_arm"]
    steps = tuple(
        step.model_copy(update={"fasteners": (*step.fasteners, fastener)}) if step.key == key else step
        for step in arm.steps
    )
    return replace(book, procedures={**book.procedures, "control_arm": arm.model_copy(update={"steps": steps})})


# --- Figures, windows, gates --------------------------------------------------------------------------------------


def test_a_figure_nobody_gave_stays_absent_and_is_listed() -> None:
    packet = made(a_line())
    (nut,) = the_step(packet, "stud_castle").fasteners

    assert nut.figure is None
    assert "figure:front/lower_ball_joint_stud" in packet.missing
    assert "figure:front/wheel_nuts" in packet.missing


def test_a_figure_is_taken_for_its_own_axle_with_what_the_spec_book_knows_of_the_bolt() -> None:
    key = "lower_ball_joint_stud"
    figure = a_figure(thread="M14x1.5", strength="10", lubrication="dry", one_time=True)
    order = an_order(a_line(), figures={f"front/{key}": figure, f"rear/{key}": a_figure("other")})
    packet = compile_packet(the_book(), order)
    assert isinstance(packet, Packet)

    (nut,) = the_step(packet, "stud_castle").fasteners

    assert nut.figure == figure
    assert (nut.thread, nut.strength, nut.lubrication) == ("M14x1.5", "10", "dry")
    assert nut.one_time
    assert nut.critical
    assert nut.castellated
    assert f"figure:front/{key}" not in packet.missing


def test_a_makers_window_for_a_measure_is_shown_with_its_source() -> None:
    window = Window(390_000, 410_000, "390 to 410 mm", "invented document p. 3")
    order = replace(an_order(a_line()), windows={"front/closing/front_left": window})
    packet = compile_packet(the_book(), order)
    assert isinstance(packet, Packet)

    (left,) = (one for one in the_step(packet, "ride_height", "closing").measures if one.id == "front_left")

    assert (left.low, left.high, left.window_text, left.source) == (390_000, 410_000, "390 to 410 mm", window.source)


def test_gates_are_asked_once_for_an_axle_once_for_the_vehicle_or_at_every_step() -> None:
    packet = made(a_line(), a_line(corner="right", line_id="other"))
    ids = set(packet.gate_by_id)

    assert {"stands:front", "lift", "lowering"} <= ids
    assert {"joint_separation:work.break_taper", "joint_separation:other.break_taper"} <= ids
    assert len([one for one in packet.gates if one.key == "stands"]) == 1


def test_a_gate_is_asked_only_in_the_states_it_is_about() -> None:
    packet = made(a_line())

    assert packet.gate_by_id["stands:front"].supports == (
        Support.STANDS_FRAME, Support.STANDS_ARM, Support.STANDS_AXLE,
    )  # fmt: skip
    assert packet.gate_by_id["lift"].supports == (Support.LIFT_FRAME, Support.ON_RAMP)


def test_a_gates_time_is_the_shops_or_its_own() -> None:
    order = an_order(a_line(), shop=replace(SHOP, gate_minutes=45))
    packet = compile_packet(the_book(), order)
    assert isinstance(packet, Packet)

    assert packet.gate_by_id["stands:front"].stale_after_s == 45 * 60
    assert packet.gate_by_id["joint_separation:work.break_taper"].stale_after_s == 15 * 60


def test_the_load_joint_is_called_one_and_the_follower_the_other() -> None:
    load, follower = made(a_line()), made(a_line(joint_position="upper"))

    assert "carries the spring's force" in load.gate_by_id["joint_separation:work.break_taper"].intro
    assert "is a follower" in follower.gate_by_id["joint_separation:work.break_taper"].intro


def test_no_spring_is_let_go_by_calling_a_load_joint_a_follower() -> None:
    """The answer that no spring bears on the joint opens the gate for a follower, and for no load joint."""

    def answer(packet: Packet) -> bool:
        gate = packet.gate_by_id["joint_separation:work.break_taper"]
        (check,) = (one for one in gate.checks if one.id == "spring_held")
        (choice,) = (one for one in check.choices if one.key == "follower")
        return choice.passes

    assert not answer(made(a_line()))
    assert answer(made(a_line(joint_position="upper")))


def test_waiting_nuts_cannot_be_denied_at_the_lowering_gate() -> None:
    """That no nut waits is only right where none does."""

    def denies(packet: Packet) -> bool:
        (check,) = (one for one in packet.gate_by_id["lowering"].checks if one.id == "waiting_nuts")
        (choice,) = (one for one in check.choices if one.key == "none_wait")
        return choice.passes

    assert not denies(made(a_line("control_arm", **ARM)))
    assert denies(made(a_line(joint_position="upper")))


def test_high_voltage_is_asked_only_of_a_vehicle_that_has_it() -> None:
    riveted = an_axle(joint_fixing="riveted")

    assert "high_voltage" in made(a_line(), vehicle=a_vehicle(riveted, high_voltage=True)).gate_by_id
    assert "high_voltage" not in made(a_line(), vehicle=a_vehicle(riveted)).gate_by_id


@pytest.mark.parametrize(
    ("vehicle", "check", "needs"),
    [
        (a_vehicle(an_axle(mass_g=None)), ("stands:front", "label"), "the mass on the front axle"),
        (a_vehicle(rear=an_axle("solid_leaf", mass_g=None)), ("lift", "plate"), "the mass on the rear axle"),
        (a_vehicle(wheelbase_um=None), ("stands:front", "inboard"), "the wheelbase"),
        (a_vehicle(an_axle(joint_fixing="riveted"), high_voltage=True), ("high_voltage", "waited"),
         "this vehicle's waiting time after isolating its high voltage, from its maker"),
        (a_vehicle(an_axle(height_sensor="yes", airbag_near="yes")), ("airbag_near", "waited"),
         "this vehicle's waiting time after the battery is off, from its maker"),
    ],
)  # fmt: skip
def test_a_figure_that_is_missing_shuts_its_check_and_is_named(
    vehicle: object, check: tuple[str, str], needs: str
) -> None:
    packet = made(a_line(), vehicle=vehicle)  # type: ignore[arg-type]

    (found,) = (one for one in packet.gate_by_id[check[0]].checks if one.id == check[1])

    assert found.needs_input == needs
    assert found.at_least is None
    assert found.at_most is None
    assert f"input:{needs}" in packet.missing


def test_a_coil_nobody_measured_shuts_the_gate_of_its_compressor() -> None:
    vehicle = a_vehicle(an_axle(spring=SpringFacts(rate_npm=30_000)))
    packet = made(a_line("control_arm", **{**ARM, "method": "compressor"}), vehicle=vehicle)

    gate = packet.gate_by_id["spring_force:work.compress_coil"]
    (check,) = (one for one in gate.checks if one.id == "compressor")

    assert check.needs_input == "the coil's free length, front axle"
    assert gate.reckoned == ()


# --- For the desk -------------------------------------------------------------------------------------------------


def test_why_not_gives_the_sentence_or_nothing() -> None:
    problem = why_not(the_book(), "ball_joint", an_axle("strut"), {"joint_position": "upper"})

    assert problem is not None
    assert str(problem.details["says"]).startswith("This axle has struts and no upper ball joint.")
    assert why_not(the_book(), "ball_joint", an_axle("strut"), {"joint_position": "lower"}) is None
    assert why_not(the_book(), "ball_joint", an_axle("strut")) is None
    assert why_not(the_book(), "ball_joint", an_axle("solid_coil", without=("axle_joints",))) is None


def test_the_desk_is_offered_what_fits_the_axle_and_told_why_not_the_rest() -> None:
    offers = {offer.procedure: offer for offer in procedures_for(the_book(), an_axle("strut", without=("joint_stud",)))}

    assert "closing" not in offers
    assert offers["strut"].refusal is None
    assert offers["coil_spring"].refusal is not None
    assert offers["ball_joint"].refusal is None
    assert set(offers["ball_joint"].refused_choices) == {("joint_position", "upper")}
    assert offers["ball_joint"].missing_facts == ("joint_stud",)
    assert "method" not in offers["control_arm"].options
    assert offers["strut"].title
    assert "{" not in "".join(offer.title for offer in offers.values())


def test_figure_keys_lists_every_figure_a_packet_may_ask_for_once_with_its_place() -> None:
    places = figure_keys(the_book())
    listed = {place.key: place for place in places}

    assert len(listed) == len(places)
    assert [place.key for place in places] == sorted(listed)
    assert {"lower_ball_joint_stud", "upper_ball_joint_stud", "wheel_nuts", "lower_arm_pivot_front"} <= listed.keys()
    assert listed["lower_ball_joint_stud"].castellated
    assert listed["lower_ball_joint_stud"].critical
    assert set(listed["lower_ball_joint_stud"].procedures) >= {"ball_joint", "control_arm"}
    for place in places:
        assert place.place
        assert "{" not in place.place + place.key
        assert "  " not in place.place
    for line in (a_line(), a_line("control_arm", **ARM), a_line("stabiliser", corner="", parts="both")):
        asked = {one.figure_key for step in made(line).steps for one in step.fasteners}
        assert asked <= listed.keys()


def test_the_vehicle_and_its_layouts_travel_with_the_packet() -> None:
    vehicle = a_vehicle(an_axle("air", "wishbone_lower_coil"))
    packet = made(a_line(), vehicle=vehicle)

    assert packet.layouts == {"front": "air", "front_place": "wishbone_lower_coil", "rear": "solid_leaf"}
    assert packet.vehicle["plate"] == "TEST 1"
    assert packet.vehicle["year"] == "2015"


def test_an_order_is_not_changed_by_compiling_it() -> None:
    order = an_order(a_line())
    before = repr(order)

    compile_packet(the_book(), order)

    assert repr(order) == before
    assert isinstance(order, Order)
