"""What the procedures of inspection, damper, strut, coil spring and stabiliser have to contain, as claims on packets.

Each claim is a requirement of the trade (common practice, no source, unless named in the procedure's file). Packets
are compiled from the product's own `shared/` for invented vehicles, one per layout.
"""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from app.domain.compiling import Order, compile_packet
from app.domain.grounds import axle_subject
from app.domain.offering import asked_options, why_not
from app.domain.packet import Axle, Packet, Pass, Step, Support
from app.domain.procedure import Book, load_book
from app.domain.records import AxleFacts, JobLine, Shop, Vehicle

SHARED = Path(__file__).parents[2] / "shared"
RIDE_HEIGHT = {Support.ON_WHEELS, Support.ON_RAMP}
STANDS = {Support.STANDS_FRAME, Support.STANDS_ARM, Support.STANDS_AXLE}
IN_THE_AIR = STANDS | {Support.LIFT_FRAME}
FAMILIES = ("inspection", "shock_absorber", "strut", "coil_spring", "stabiliser")
LAYOUTS = (
    "wishbone_lower_coil",
    "wishbone_upper_coil",
    "torsion_bar_lower",
    "torsion_bar_upper",
    "strut",
    "strut_arm_coil",
    "solid_coil",
    "solid_leaf",
    "twist_beam",
    "multilink_link_coil",
)
PLACES = (*((layout, "") for layout in LAYOUTS), *(("air", layout) for layout in LAYOUTS))

FACTS = {
    "joint_fixing": "bolted",
    "joint_stud": "castle",
    "axle_joints": "ball_joints",
    "wear_indicator": "yes",
    "grease_fitting": "yes",
    "strut_unit": "insert",
    "alignment": "cams",
    "arm_bushings": "pressed",
    "stabiliser": "yes",
    "height_sensor": "yes",
    "active_damper": "yes",
    "damper_limits_droop": "yes",
    "adas": "yes",
    "airbag_near": "yes",
}
ANSWERS = {
    ("shock_absorber", "unit"): "gas_strapped",
    ("shock_absorber", "upper_end"): "stem",
    ("shock_absorber", "lower_end"): "eye",
    ("coil_spring", "method"): "compressor",
    ("coil_spring", "transverse"): "yes",
    ("stabiliser", "parts"): "both",
}
# Which families go with which layouts, by what each layout has: a strut, a coil or air spring of its own, a bar.
NOT_FOR = {
    "inspection": set(),
    "shock_absorber": {"strut", "strut_arm_coil"},
    "strut": set(LAYOUTS) - {"strut", "strut_arm_coil"},
    "coil_spring": {"strut", "solid_leaf"},
    "stabiliser": {"twist_beam"},
}


@cache
def the_book() -> Book:
    return load_book(SHARED)


def refuses(family: str, layout: str, place: str) -> bool:
    """Whether the family does not go with the axle. In a leaf's place an air spring may stand, which can be changed."""
    if family == "coil_spring" and place == "solid_leaf":
        return False
    return (place or layout) in NOT_FOR[family]


def axle_facts(layout: str, place: str = "", **facts: str) -> AxleFacts:
    return AxleFacts(layout=layout, place=place, facts=tuple(sorted({**FACTS, **facts}.items())), mass_g=900_000)


def a_packet(
    family: str,
    layout: str,
    place: str = "",
    *,
    axle: Axle = Axle.FRONT,
    high_voltage: bool = False,
    options: dict[str, str] | None = None,
    **facts: str,
) -> Packet:
    """The packet of one line of this family on an axle of this layout, at the left where a line is of one corner."""
    book = the_book()
    procedure = book.procedures[family]
    held = axle_facts(layout, place, **facts)
    vehicle = Vehicle(
        id="vehicle",
        customer="customer",
        plate="TEST 1",
        vin="",
        model="invented",
        year=2015,
        colour="",
        tyre_front="",
        tyre_rear="",
        wheelbase_um=2_700_000,
        front=held,
        rear=held,
        high_voltage=high_voltage,
    )
    answers = {name: answer for (owner, name), answer in ANSWERS.items() if owner == family} | (options or {})
    chosen = {name: answers[name] for name in asked_options(procedure, [axle_subject(book, held)])}
    corner = "left" if procedure.scope == "corner" else ""
    line = JobLine("work", family, axle, corner, tuple(sorted(chosen.items())))
    shop = Shop(id="shop", name="Invented", address="", email="", phone="")
    order = Order("job", "1", 1, vehicle, (line,), {}, (), shop)
    packet = compile_packet(book, order)
    assert isinstance(packet, Packet), packet
    return packet


def work(packet: Packet) -> tuple[Step, ...]:
    return packet.steps_of_line["work"]


def keys(packet: Packet) -> list[str]:
    return [step.key for step in work(packet)]


def the_step(packet: Packet, key: str) -> Step:
    (found,) = (step for step in work(packet) if step.key == key)
    return found


def gate_keys(packet: Packet, step: Step) -> set[str]:
    return {packet.gate_by_id[gate].key for gate in step.gates}


def comes_before(packet: Packet, first: Step, second: Step) -> bool:
    """Whether the second step waits, step by step, for the first."""
    todo, seen = list(second.after), set()
    while todo:
        one = todo.pop()
        if one == first.id:
            return True
        if one not in seen:
            seen.add(one)
            todo += packet.step_by_id[one].after
    return False


def in_order(packet: Packet, *wanted: str) -> None:
    """Each of these steps waits for the one named before it."""
    steps = [the_step(packet, key) for key in wanted]
    for first, second in pairwise(steps):
        assert comes_before(packet, first, second), f"{second.key} does not wait for {first.key}"


@cache
def every_packet(family: str) -> tuple[tuple[str, Packet], ...]:
    """A packet for every axle the family goes with, front and rear, with every way to open the line."""
    return tuple(
        (f"{layout} {place} {axle} {options}", a_packet(family, layout, place, axle=axle, options=options))
        for layout, place in PLACES
        if not refuses(family, layout, place)
        for axle in (Axle.FRONT, Axle.REAR)
        for options in option_sets(family)
    )


def option_sets(family: str) -> list[dict[str, str]]:
    if family == "shock_absorber":
        return [
            {"unit": unit, "upper_end": upper, "lower_end": lower}
            for unit in ("gas_strapped", "hand_primed")
            for upper in ("eye", "stem")
            for lower in ("eye", "stem")
        ]
    if family == "coil_spring":
        return [{"method": method} for method in ("compressor", "lowering")]
    if family == "stabiliser":
        return [{"parts": parts} for parts in ("both", "bushings", "links")]
    return [{}]


# --- Every family -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize(("layout", "place"), PLACES)
def test_a_family_compiles_for_a_layout_or_says_why_not(family: str, layout: str, place: str) -> None:
    """Each layout either gets steps, or a sentence; there is nothing in between."""
    refusal = why_not(the_book(), family, axle_facts(layout, place))

    if refuses(family, layout, place):
        assert refusal is not None
        assert refusal.code == "not_for_layout"
        assert len(str(refusal.details["says"])) > 60
        assert str(refusal.details["says"]).endswith(".")
    else:
        assert refusal is None
        assert len(work(a_packet(family, layout, place))) >= 12


@pytest.mark.parametrize("family", FAMILIES)
def test_a_pass_at_ride_height_is_made_at_ride_height_after_it_was_drawn_up(family: str) -> None:
    """What is clamped where the car stands is never brought to its figure while the wheels hang."""
    for label, packet in every_packet(family):
        snugs = {
            (step.axle, step.corner, one.figure_key): step
            for step in work(packet)
            for one in step.fasteners
            if one.tighten is Pass.SNUG
        }
        late = [
            (step, one)
            for step in work(packet)
            for one in step.fasteners
            if one.tighten is Pass.FINAL
            and set(one.load_states) & RIDE_HEIGHT
            and not set(one.load_states) & IN_THE_AIR
        ]
        for step, one in late:
            assert set(step.supports) <= RIDE_HEIGHT, f"{label}: {step.key}"
            snug = snugs.get((step.axle, step.corner, one.figure_key))
            assert snug is not None, f"{label}: {one.figure_key} was never drawn up"
            assert set(snug.supports) <= IN_THE_AIR, f"{label}: {snug.key}"
            assert comes_before(packet, snug, step), f"{label}: {step.key}"


@pytest.mark.parametrize("family", FAMILIES)
def test_bushings_that_clamp_are_finished_at_ride_height(family: str) -> None:
    """Links, bar brackets, spring links and transverse rods are among those; a stem or a bolt in metal is not."""
    late = {
        "link_upper",
        "link_lower",
        "bar_bushing_bracket",
        "spring_link_outer",
        "spring_link_inner",
        "transverse_rod",
    }
    metal = {"strut_to_knuckle", "strut_centre_nut", "strut_ring_nut", "lower_ball_joint_stud", "upper_spring_seat"}
    for label, packet in every_packet(family):
        for step in work(packet):
            for one in step.fasteners:
                if one.tighten is Pass.FINAL and one.figure_key in late:
                    assert set(one.load_states) <= RIDE_HEIGHT, f"{label}: {step.key}"
                if one.tighten is Pass.FINAL and one.figure_key in metal:
                    assert set(one.load_states) & IN_THE_AIR, f"{label}: {step.key}"


@pytest.mark.parametrize("family", FAMILIES)
def test_a_step_under_the_vehicle_asks_for_its_stands(family: str) -> None:
    """No step is done on stands or a lift without the checks for that; what is done anywhere has nobody under it."""
    for label, packet in every_packet(family):
        for step in work(packet):
            if set(step.supports) == set(Support):
                continue
            asked = gate_keys(packet, step)
            if set(step.supports) & STANDS:
                assert "stands" in asked, f"{label}: {step.key}"
            if set(step.supports) & {Support.LIFT_FRAME, Support.ON_RAMP}:
                assert "lift" in asked, f"{label}: {step.key}"


@pytest.mark.parametrize("family", FAMILIES)
def test_every_step_says_why_it_matters_and_leaves_no_blank(family: str) -> None:
    for label, packet in every_packet(family):
        for step in work(packet):
            assert len(step.why) > 20, f"{label}: {step.key}"
            for text in (step.title, step.do, step.why, step.caution):
                assert "{" not in text, f"{label}: {step.key}"
                assert "  " not in text, f"{label}: {step.key}: {text}"
                assert " ." not in text, f"{label}: {step.key}: {text}"
                assert " ," not in text, f"{label}: {step.key}: {text}"


FIGURE = re.compile(r"\d\s*(?:N\b|N·m|Nm|kN|lb|kg|mm|cm|in\b|kPa|bar|psi|°|degrees)")


@pytest.mark.parametrize("family", FAMILIES)
def test_no_torque_limit_or_force_is_printed_in_a_procedure(family: str) -> None:
    """Figures stand in the maker's papers: no text has a number with a unit, no measure brings a window."""
    for label, packet in every_packet(family):
        for step in work(packet):
            texts = [step.title, step.do, step.why, step.caution, *(one.ask for one in step.measures)]
            texts += [one.place for one in step.fasteners] + [one.what for one in step.one_time]
            assert not [text for text in texts if FIGURE.search(text)], f"{label}: {step.key}"
            assert all(one.low is None and one.high is None for one in step.measures), f"{label}: {step.key}"


@pytest.mark.parametrize("family", [family for family in FAMILIES if family != "inspection"])
def test_work_ends_with_alignment_codes_a_drive_and_a_second_person(family: str) -> None:
    """Closing every one: alignment after, codes read, road test, a second person's look, each after all of the work."""
    for label, packet in every_packet(family):
        last = [step for step in packet.steps if step.line == "closing"]
        for wanted in ("alignment_after", "codes_after", "road_test", "second_look"):
            ends = [step for step in last if step.key == wanted]
            assert ends, f"{label}: {wanted}"
            for step in work(packet):
                assert comes_before(packet, step, ends[0]), f"{label}: {wanted} does not wait for {step.key}"


@pytest.mark.parametrize("family", [family for family in FAMILIES if family not in ("inspection", "strut")])
def test_on_an_air_sprung_axle_the_air_is_out_before_anything_is_undone(family: str) -> None:
    """Height control off, air let out, body held: before the first step that takes a part off."""
    packet = a_packet(family, "air", "wishbone_lower_coil")
    down = the_step(packet, "air_down")

    assert "air_suspension" in gate_keys(packet, down)
    assert set(down.supports) <= IN_THE_AIR
    later = {"wheel_off", "wheels_off", "access", "links_off", "upper_off_carried", "air_spring_out"} & set(
        keys(packet)
    )
    assert later
    for step in work(packet):
        if step.key in later:
            assert comes_before(packet, down, step)


@pytest.mark.parametrize("family", ["shock_absorber", "strut", "coil_spring"])
def test_parts_that_age_in_pairs_are_offered_in_pairs(family: str) -> None:
    assert the_book().procedures[family].pairs


def test_left_and_right_of_an_axle_are_lines_of_their_own() -> None:
    for family in ("shock_absorber", "strut", "coil_spring"):
        assert the_book().procedures[family].scope == "corner"


# --- Inspection ---------------------------------------------------------------------------------------------------

# The tests of a full inspection, by the words that speak against the part.
AGAINST = {
    "tyre_wear": ("one edge", "feathered", "cups", "pressure"),
    "fault_codes": ("height", "damper", "air"),
    "bounce": ("keeps swinging", "damping"),
    "joint_play_load": ("maker",),
    "joint_play_follower": ("visible movement",),
    "wear_indicator": ("flush", "sunk", "replace"),
    "joint_boot": ("split", "leaking", "joint follows"),
    "joint_noise": ("clunk", "pop"),
    "arm_bushing_front": ("cracks", "squeezed out", "oil-soaked", "play under the bar"),
    "arm_bushing_rear": ("cracks", "squeezed out", "oil-soaked", "play under the bar"),
    "stabiliser_bushings": ("crushed", "cracked", "oil-soaked", "rolls more in turns"),
    "stabiliser_links": ("looseness", "crushed", "cracked"),
    "damper_leak": ("running oil",),
    "damper_mounts": ("loose", "perished"),
    "ride_height": ("lower", "tyres", "side"),
    "coil": ("broken", "cracked", "coating", "contact marks", "bump stops hammered into the frame"),
}
STRUT_AGAINST = {
    "strut_top_bearing": ("winds up", "jumps", "rough"),
    "strut_top_bushing": ("lifts", "knocks"),
}


@pytest.mark.parametrize(("key", "words"), AGAINST.items(), ids=AGAINST.keys())
def test_an_inspection_has_every_test_with_what_speaks_against_the_part(key: str, words: tuple[str, ...]) -> None:
    packet = a_packet("inspection", "wishbone_lower_coil")
    steps = [step for step in work(packet) if step.key == key]

    assert steps
    for step in steps:
        assert step.trial is not None
        assert any(choice.passes for choice in step.trial.choices)
        assert any(not choice.passes for choice in step.trial.choices)
        for word in words:
            assert word in step.trial.against.lower(), f"{key}: {word}"


@pytest.mark.parametrize(("key", "words"), STRUT_AGAINST.items(), ids=STRUT_AGAINST.keys())
def test_a_strut_axle_has_its_bearing_and_bushing_tested(key: str, words: tuple[str, ...]) -> None:
    steps = [step for step in work(a_packet("inspection", "strut")) if step.key == key]

    assert {step.corner for step in steps} == {"left", "right"}
    for step in steps:
        assert step.trial is not None
        for word in words:
            assert word in step.trial.against.lower()
        assert set(step.supports) <= RIDE_HEIGHT


@pytest.mark.parametrize(
    "key",
    ["tyre_wear", "bounce", "joint_play_load", "joint_play_follower", "wear_indicator", "joint_boot", "joint_noise"],
)
def test_what_is_tested_at_a_corner_is_tested_on_both_sides(key: str) -> None:
    packet = a_packet("inspection", "wishbone_lower_coil")

    assert sorted(step.corner for step in work(packet) if step.key == key) == ["left", "right"]


def test_the_complaint_is_confirmed_on_the_road_only_after_a_look() -> None:
    packet = a_packet("inspection", "strut")

    in_order(packet, "complaint", "road_test")
    in_order(packet, "fit_to_drive", "road_test")
    assert the_step(packet, "road_test").supports == (Support.ON_WHEELS,)


@pytest.mark.parametrize(
    "key", ["tyre_pressure", "tyre_size", "wheel_bearing", "steering_linkage", "steering_play", "brakes"]
)
def test_tyres_bearings_steering_and_brakes_are_ruled_out(key: str) -> None:
    packet = a_packet("inspection", "strut")
    summary = the_step(packet, "summary")

    steps = [step for step in work(packet) if step.key == key]

    assert steps
    assert all(comes_before(packet, step, summary) for step in steps)


def test_values_are_asked_for_where_there_are_values() -> None:
    packet = a_packet("inspection", "wishbone_lower_coil")

    def required(key: str) -> set[str]:
        return {one.id for step in work(packet) if step.key == key for one in step.measures if one.required}

    assert required("bounce") == {"swings"}
    assert required("joint_play_load") == {"load_axial", "load_radial"}
    assert required("joint_play_follower") == {"follower_axial", "follower_radial"}
    assert required("tyre_wear") == {"tread_inner", "tread_middle", "tread_outer"}
    assert {"height_front_left", "height_front_right", "height_rear_left", "height_rear_right"} <= required(
        "ride_height"
    )


def test_no_measure_of_the_inspection_answers_for_another() -> None:
    """Makers' windows are kept by measure, so one name means one thing."""
    for layout, place in PLACES:
        owners: dict[str, str] = {}
        for step in work(a_packet("inspection", layout, place)):
            for one in step.measures:
                assert owners.setdefault(one.id, step.key) == step.key, one.id


@pytest.mark.parametrize(("layout", "place"), PLACES)
def test_play_is_felt_where_the_layout_says(layout: str, place: str) -> None:
    """Joints and bushings are tested with the vehicle held as the table of layouts says, and the text tells where."""
    packet = a_packet("inspection", layout, place)
    held = the_book().layouts[place or layout]
    felt = ("joint_play_load", "joint_play_follower", "axle_joint_play", "arm_bushing_front", "arm_bushing_rear")
    steps = [step for step in work(packet) if step.key in (*felt, "axle_bushing_front", "axle_bushing_rear")]

    assert steps
    for step in steps:
        assert set(step.supports) == set(held.joint_support), step.key
        assert held.joint_stand_words in step.do, step.key


@pytest.mark.parametrize(
    ("layout", "load", "follower"),
    [
        ("wishbone_lower_coil", True, True),
        ("wishbone_upper_coil", True, True),
        ("torsion_bar_lower", True, True),
        ("torsion_bar_upper", True, True),
        ("strut", False, True),
        ("strut_arm_coil", True, False),
        ("multilink_link_coil", True, True),
        ("twist_beam", False, False),
    ],
)
def test_load_joint_and_follower_are_tested_where_they_exist(layout: str, load: bool, follower: bool) -> None:
    """A strut has no load joint; with the coil on its arm its only joint carries; a twist beam has none at all."""
    found = keys(a_packet("inspection", layout))

    assert ("joint_play_load" in found) is load
    assert ("joint_play_follower" in found) is follower


def test_a_solid_axle_has_its_king_pins_or_joints_tested_where_it_steers() -> None:
    assert "axle_joint_play" in keys(a_packet("inspection", "solid_leaf", axle_joints="king_pins"))
    assert "axle_joint_play" in keys(a_packet("inspection", "solid_coil", axle_joints="ball_joints"))
    assert "axle_joint_play" not in keys(a_packet("inspection", "solid_coil", axle_joints="none"))


def test_ride_height_comes_after_tyre_size_and_pressures_on_level_ground() -> None:
    packet = a_packet("inspection", "strut")
    height = the_step(packet, "ride_height")

    for step in work(packet):
        if step.key in ("tyre_size", "tyre_pressure"):
            assert comes_before(packet, step, height)
    assert height.supports == (Support.ON_WHEELS,)
    assert "level floor" in height.do.lower()


def test_the_bounce_test_may_be_recorded_and_needs_the_wheels_on_the_ground() -> None:
    steps = [step for step in work(a_packet("inspection", "solid_leaf")) if step.key == "bounce"]

    assert all(step.supports == (Support.ON_WHEELS,) for step in steps)
    assert all("trace" in step.do for step in steps)


def test_each_kind_of_spring_is_looked_at_as_what_it_is() -> None:
    kinds = {"coil", "torsion_bar", "leaf", "air_spring"}

    def looked_at(layout: str, place: str = "") -> set[str]:
        return kinds & set(keys(a_packet("inspection", layout, place)))

    assert looked_at("strut") == {"coil"}
    assert looked_at("torsion_bar_upper") == {"torsion_bar"}
    assert looked_at("solid_leaf") == {"leaf"}
    assert looked_at("air", "solid_leaf") == {"air_spring"}


def test_independent_tests_wait_for_nothing_and_the_summary_waits_for_all() -> None:
    """In any order where that is safe: only the road test and the height have something before them."""
    for layout, place in PLACES:
        packet = a_packet("inspection", layout, place)
        steps = work(packet)
        summary = the_step(packet, "summary")
        waiting = {step.key for step in steps if step.after} - {"summary"}

        assert waiting == {"road_test", "ride_height"}
        assert steps[-1] is summary
        assert all(comes_before(packet, step, summary) for step in steps if step is not summary)
        for verdict in ("sound", "watch", "replace"):
            assert verdict in summary.do


# --- Shock absorber -----------------------------------------------------------------------------------------------


def test_where_the_damper_limits_droop_the_axle_is_carried_before_it_comes_off() -> None:
    packet = a_packet("shock_absorber", "solid_coil")

    in_order(packet, "carry", "upper_off_carried", "lower_off")
    assert "arm_carried" in gate_keys(packet, the_step(packet, "upper_off_carried"))


def test_where_it_does_not_the_stop_is_looked_at_first() -> None:
    packet = a_packet("shock_absorber", "solid_coil", damper_limits_droop="no")

    assert "carry" not in keys(packet)
    assert "rests on its own stop" in the_step(packet, "upper_off").do


def test_the_damper_comes_off_one_end_then_the_other_with_its_washers_noted() -> None:
    packet = a_packet("shock_absorber", "wishbone_lower_coil")

    in_order(packet, "order_noted", "upper_off_carried", "lower_off", "compare", "upper_on_stem", "lower_on_eye")
    assert the_step(packet, "order_noted").photo


@pytest.mark.parametrize("ends", [("eye", "eye"), ("eye", "stem"), ("stem", "eye"), ("stem", "stem")])
def test_a_strapped_unit_has_its_strap_cut_last(ends: tuple[str, str]) -> None:
    options = {"unit": "gas_strapped", "upper_end": ends[0], "lower_end": ends[1]}
    packet = a_packet("shock_absorber", "twist_beam", options=options)

    in_order(packet, f"upper_on_{ends[0]}", f"lower_on_{ends[1]}", "cut_strap")
    assert "prime" not in keys(packet)
    assert "pushes" in the_step(packet, "cut_strap").caution


def test_a_unit_without_a_strap_is_primed_before_it_goes_in() -> None:
    packet = a_packet("shock_absorber", "twist_beam", options={"unit": "hand_primed"})

    in_order(packet, "prime", "upper_on_stem")
    assert "cut_strap" not in keys(packet)


def test_a_gas_unit_is_said_to_push_out_on_its_own() -> None:
    packet = a_packet("shock_absorber", "wishbone_lower_coil")

    assert "by itself" in the_step(packet, "upper_off_carried").caution


def test_an_eye_is_finished_at_ride_height_and_a_stem_where_it_stands() -> None:
    packet = a_packet("shock_absorber", "wishbone_lower_coil")

    (stem,) = the_step(packet, "upper_on_stem").fasteners
    (snug,) = the_step(packet, "lower_on_eye").fasteners
    (eye,) = the_step(packet, "lower_final").fasteners

    assert stem.tighten is Pass.FINAL
    assert set(stem.load_states) <= IN_THE_AIR
    assert (snug.tighten, eye.tighten) == (Pass.SNUG, Pass.FINAL)
    assert set(eye.load_states) <= RIDE_HEIGHT


def test_both_sides_are_bounced_at_the_end() -> None:
    packet = a_packet("shock_absorber", "wishbone_lower_coil")

    in_order(packet, "lower_final", "bounce_after")
    assert "other side" in the_step(packet, "bounce_after").do


# --- Strut --------------------------------------------------------------------------------------------------------


def test_hose_leads_and_link_come_off_the_strut_first() -> None:
    packet = a_packet("strut", "strut")

    in_order(packet, "leads_off", "unplug", "link_off", "scribe", "lower_bolts_out")
    assert "brake hose bracket" in the_step(packet, "leads_off").do


def test_the_knuckle_is_carried_before_the_lower_bolts_come_out() -> None:
    for layout in ("strut", "strut_arm_coil"):
        packet = a_packet("strut", layout)

        in_order(packet, "knuckle_carried", "lower_bolts_out", "top_off")
        assert "arm_carried" in gate_keys(packet, the_step(packet, "lower_bolts_out"))


def test_the_strut_is_scribed_against_the_knuckle_and_cams_are_marked() -> None:
    with_cams, without = a_packet("strut", "strut"), a_packet("strut", "strut", alignment="none")

    in_order(with_cams, "scribe", "cams_marked", "lower_bolts_out", "lower_bolts_in")
    assert "cams_marked" not in keys(without)
    assert "scribed line" in the_step(without, "lower_bolts_in").do


def test_at_the_top_only_the_outer_fasteners_are_undone_with_a_second_person() -> None:
    step = the_step(a_packet("strut", "strut"), "top_off")

    assert "second person" in step.do
    assert "only the small outer fasteners" in step.do
    assert "Never the centre nut while the coil is loaded" in step.caution


def test_the_centre_nut_is_marked_as_forbidden_before_the_car_is_raised() -> None:
    packet = a_packet("strut", "strut")

    in_order(packet, "mark_centre_nut", "hold_vehicle", "top_off")
    assert "Nobody touches it on the vehicle" in the_step(packet, "mark_centre_nut").caution


def test_the_force_is_asked_about_before_compressing_and_the_nut_only_after_the_coil_is_loose() -> None:
    packet = a_packet("strut", "strut")

    in_order(packet, "top_off", "hook_up", "compress", "centre_nut_off", "strip_top")
    assert "spring_force" in gate_keys(packet, the_step(packet, "compress"))
    assert "centre_nut" in gate_keys(packet, the_step(packet, "centre_nut_off"))
    assert "coil can be turned by hand" in the_step(packet, "compress").do
    hooked = the_step(packet, "hook_up")
    assert "rated above the force" in hooked.do
    assert "exactly opposite" in hooked.do
    assert "Guard" in hooked.do
    assert "out of line" in the_step(packet, "centre_nut_off").do


def test_no_other_step_undoes_the_centre_nut() -> None:
    """Exactly one step carries the centre nut's gate, and it is the one that takes the nut off."""
    packet = a_packet("strut", "strut")

    assert [step.key for step in work(packet) if "centre_nut" in gate_keys(packet, step)] == ["centre_nut_off"]


@pytest.mark.parametrize(
    ("unit", "there", "gone"), [("insert", "insert_in", "sealed_changed"), ("sealed", "sealed_changed", "insert_in")]
)
def test_an_insert_is_changed_in_its_tube_and_a_sealed_unit_whole(unit: str, there: str, gone: str) -> None:
    packet = a_packet("strut", "strut", strut_unit=unit)

    in_order(packet, "strip_top", there, "coil_in")
    assert gone not in keys(packet)


@pytest.mark.parametrize("key", ["judge_seats", "judge_stop", "judge_top_bearing", "judge_top_bushing", "judge_coil"])
def test_what_wears_on_a_strut_is_judged_before_it_goes_together(key: str) -> None:
    packet = a_packet("strut", "strut")

    in_order(packet, "strip_top", key, "coil_in")
    assert the_step(packet, key).trial is not None


def test_coil_ends_sit_in_their_pockets_and_seats_the_right_way_round() -> None:
    step = the_step(a_packet("strut", "strut"), "coil_in")

    assert "pocket" in step.do
    assert "the right way round" in step.do
    assert step.photo


def test_the_centre_nut_has_its_figure_before_the_compressor_is_let_off() -> None:
    packet = a_packet("strut", "strut")
    step = the_step(packet, "centre_nut_on")
    (nut,) = step.fasteners

    in_order(packet, "coil_in", "centre_nut_on", "let_off", "strut_in")
    assert "by hand" in step.do
    assert (nut.figure_key, nut.tighten, nut.one_time, nut.critical) == ("strut_centre_nut", Pass.FINAL, True, True)


def test_the_strut_goes_back_with_two_people_and_every_joint_gets_its_figure() -> None:
    packet = a_packet("strut", "strut")
    finals = {one.figure_key for step in work(packet) for one in step.fasteners if one.tighten is Pass.FINAL}

    in_order(packet, "strut_in", "lower_bolts_in", "top_tight", "link_on", "leads_on", "link_final")
    assert "Two people" in the_step(packet, "strut_in").do
    assert finals == {
        "strut_ring_nut",
        "strut_centre_nut",
        "strut_to_knuckle",
        "strut_top_nuts",
        "brake_hose_bracket",
        "link_upper",
    }


def test_a_strut_without_a_coil_has_no_compressor_and_its_arm_stays_carried() -> None:
    packet = a_packet("strut", "strut_arm_coil")

    assert not {"hook_up", "compress", "centre_nut_off", "coil_in", "let_off"} & set(keys(packet))
    in_order(packet, "knuckle_carried", "strip_bare", "bare_together", "strut_in", "release_knuckle")
    assert "coil" in the_step(packet, "strip_bare").caution


def test_an_air_strut_loses_its_air_first_and_is_never_put_in_a_compressor() -> None:
    packet = a_packet("strut", "air", "strut")

    in_order(packet, "hold_vehicle", "air_down", "wheel_off", "top_off", "air_strut_bench", "strut_in")
    assert "air_suspension" in gate_keys(packet, the_step(packet, "air_down"))
    assert not {"hook_up", "compress", "insert_out"} & set(keys(packet))


# --- Coil spring --------------------------------------------------------------------------------------------------


def test_a_coil_on_the_lower_arm_is_held_by_a_compressor_before_the_joint_is_opened() -> None:
    packet = a_packet("coil_spring", "wishbone_lower_coil", options={"method": "compressor"})
    opened = the_step(packet, "arm_open_compressed")

    in_order(
        packet, "compressor_damper_off", "compressor_in_arm", "arm_open_compressed", "coil_out_compressed", "match"
    )
    assert "spring_force" in gate_keys(packet, the_step(packet, "compressor_in_arm"))
    assert {"spring_loose", "joint_separation"} <= gate_keys(packet, opened)
    in_order(packet, "coil_in_compressed", "joint_together", "let_off", "damper_on")


def test_a_coil_let_down_on_a_jack_is_chained_first() -> None:
    for layout in ("wishbone_lower_coil", "strut_arm_coil"):
        packet = a_packet("coil_spring", layout, options={"method": "lowering"})

        in_order(packet, "chain_coil", "arm_open_lowering", "arm_down", "match", "coil_in_lowered", "joint_together")
        assert "joint_separation" in gate_keys(packet, the_step(packet, "arm_open_lowering"))
        assert "spring_lowering" in gate_keys(packet, the_step(packet, "arm_down"))
        assert not {"compressor_in_arm", "let_off"} & set(keys(packet))


def test_a_coil_on_the_upper_arm_is_compressed_at_the_tower_with_the_arm_blocked() -> None:
    packet = a_packet("coil_spring", "wishbone_upper_coil")
    blocked = the_step(packet, "upper_arm_blocked")

    in_order(packet, "upper_arm_blocked", "hold_vehicle", "compress_at_tower", "upper_coil_out", "coil_in_compressed")
    in_order(packet, "upper_carried", "upper_damper_off", "compress_at_tower")
    in_order(packet, "coil_in_compressed", "seat_upper_on", "let_off")
    assert set(blocked.supports) <= RIDE_HEIGHT
    assert "spring_force" in gate_keys(packet, the_step(packet, "compress_at_tower"))
    assert "spring_loose" in gate_keys(packet, the_step(packet, "upper_coil_out"))


@pytest.mark.parametrize("layout", ["torsion_bar_lower", "torsion_bar_upper"])
def test_a_torsion_bar_is_unwound_with_its_puller_and_the_turns_are_counted_and_restored(layout: str) -> None:
    packet = a_packet("coil_spring", layout)

    in_order(packet, "bar_marked", "bar_unwound", "bar_out", "bar_in", "bar_wound", "bar_height")
    for key, measure in (("bar_unwound", "turns_out"), ("bar_wound", "turns_in")):
        step = the_step(packet, key)
        assert "torsion_bar" in gate_keys(packet, step)
        assert measure in {one.id for one in step.measures if one.required}
        assert any("Puller" in tool for tool in step.tools)
    assert not {"match", "seats", "coil_in_compressed"} & set(keys(packet))


def test_a_link_with_the_coil_is_jacked_and_chained_before_its_bolt_comes_out() -> None:
    packet = a_packet("coil_spring", "multilink_link_coil")

    in_order(packet, "link_jacked", "link_damper_off", "link_down", "match", "coil_in_lowered", "link_together")
    assert "hain" in the_step(packet, "link_jacked").do
    assert "spring_lowering" in gate_keys(packet, the_step(packet, "link_down"))
    in_order(packet, "link_together", "link_bolts_final")


@pytest.mark.parametrize("layout", ["solid_coil", "twist_beam"])
def test_an_axle_is_lowered_with_dampers_off_and_hoses_watched(layout: str) -> None:
    packet = a_packet("coil_spring", layout)
    down = the_step(packet, "axle_down")

    in_order(packet, "axle_jacked", "axle_dampers_off", "axle_down", "match", "coil_in_lowered", "damper_on")
    assert "spring_lowering" in gate_keys(packet, down)
    assert set(down.supports) <= {Support.STANDS_FRAME, Support.LIFT_FRAME}
    assert "brake hoses" in down.do
    assert "sensor leads" in down.do
    assert "both" in down.do


def test_only_a_solid_axle_is_asked_about_a_transverse_rod() -> None:
    assert {"transverse_off", "transverse_on", "transverse_final"} <= set(keys(a_packet("coil_spring", "solid_coil")))
    assert "transverse_off" not in keys(a_packet("coil_spring", "solid_coil", options={"transverse": "no"}))
    assert "transverse_off" not in keys(a_packet("coil_spring", "twist_beam"))


@pytest.mark.parametrize(
    ("layout", "method"),
    [
        ("wishbone_lower_coil", "compressor"),
        ("wishbone_lower_coil", "lowering"),
        ("strut_arm_coil", "compressor"),
        ("wishbone_upper_coil", "compressor"),
        ("solid_coil", "compressor"),
        ("twist_beam", "compressor"),
        ("multilink_link_coil", "compressor"),
    ],
)
def test_a_new_coil_is_matched_by_free_length_wire_and_hand_and_put_in_its_pockets(layout: str, method: str) -> None:
    packet = a_packet("coil_spring", layout, options={"method": method})
    match = the_step(packet, "match")
    (put_in,) = (step for step in work(packet) if step.key in ("coil_in_compressed", "coil_in_lowered"))

    assert {one.id for one in match.measures} == {"old_free", "new_free", "old_wire", "new_wire"}
    assert match.trial is not None
    assert "hand" in {choice.key for choice in match.trial.choices}
    assert comes_before(packet, match, put_in)
    assert "pocket" in put_in.do
    assert put_in.photo
    assert gate_keys(packet, put_in) & {"spring_force", "spring_lowering"}


def test_force_and_energy_are_shown_at_every_gate_that_lets_a_coil_go() -> None:
    """Even where the sum cannot be made: the gate then says which figure is missing."""
    for layout in ("wishbone_lower_coil", "wishbone_upper_coil", "solid_coil", "multilink_link_coil"):
        packet = a_packet("coil_spring", layout)
        gates = [gate for gate in packet.gates if gate.key in ("spring_force", "spring_lowering")]

        assert gates
        for gate in gates:
            assert gate.reckoned or any(check.needs_input for check in gate.checks)


@pytest.mark.parametrize("place", [layout for layout in LAYOUTS if layout != "strut"])
def test_an_air_spring_is_changed_slack_with_the_axle_carried(place: str) -> None:
    packet = a_packet("coil_spring", "air", place)

    in_order(packet, "hold_vehicle", "air_down", "wheels_off", "air_carried", "air_spring_out", "air_spring_in")
    assert {"air_suspension", "arm_carried"} <= gate_keys(packet, the_step(packet, "air_spring_out"))
    assert not {"match", "let_off", "bar_unwound", "axle_down"} & set(keys(packet))
    filled = [step for step in packet.steps if step.key == "air_in"]
    assert filled
    assert all(comes_before(packet, the_step(packet, "air_spring_in"), step) for step in filled)


def test_where_a_drive_unit_hangs_on_the_axle_high_voltage_is_dead_first() -> None:
    packet = a_packet("coil_spring", "multilink_link_coil", high_voltage=True)

    in_order(packet, "make_dead", "hold_vehicle", "link_down")
    assert "high_voltage" in gate_keys(packet, the_step(packet, "make_dead"))
    assert "make_dead" not in keys(a_packet("coil_spring", "multilink_link_coil"))


def test_what_a_gate_asks_to_see_was_put_there_by_a_step_before_it() -> None:
    """The gate that asks what carries the arm or axle never stands in front of the step that first sets the jack."""
    sets_it = {"arm_jacked", "upper_carried", "link_jacked", "axle_jacked", "air_carried"}
    for label, packet in every_packet("coil_spring"):
        jacks = [step for step in work(packet) if step.key in sets_it]
        for step in work(packet):
            if gate_keys(packet, step) & {"arm_carried", "joint_separation", "spring_lowering"}:
                assert any(comes_before(packet, jack, step) for jack in jacks), f"{label}: {step.key}"


# --- Stabiliser ---------------------------------------------------------------------------------------------------


def test_the_bar_is_never_worked_on_with_one_side_low() -> None:
    packet = a_packet("stabiliser", "strut")
    held = the_step(packet, "hold_level")

    assert {one.id for one in held.measures if one.required} == {"level_left", "level_right"}
    assert "one wheel raised" in held.caution
    for step in work(packet):
        if step.key in ("links_off", "bushings_off", "links_on", "bushings_on"):
            assert comes_before(packet, held, step)


def test_bushings_go_in_dry_or_with_their_makers_grease() -> None:
    steps = [step for step in work(a_packet("stabiliser", "strut")) if step.key == "bushings_on"]

    assert {step.corner for step in steps} == {"left", "right"}
    assert all("dry, or with the grease its maker gives" in step.do for step in steps)


def test_links_and_brackets_of_both_sides_get_their_figure_at_ride_height() -> None:
    packet = a_packet("stabiliser", "solid_leaf")
    finals = sorted(
        (one.figure_key, step.corner)
        for step in work(packet)
        for one in step.fasteners
        if one.tighten is Pass.FINAL and set(one.load_states) <= RIDE_HEIGHT
    )

    assert finals == [
        (figure, side) for figure in ("bar_bushing_bracket", "link_lower", "link_upper") for side in ("left", "right")
    ]


def test_only_what_was_chosen_is_renewed() -> None:
    only_links = keys(a_packet("stabiliser", "strut", options={"parts": "links"}))
    only_bushings = keys(a_packet("stabiliser", "strut", options={"parts": "bushings"}))

    assert "links_compared" in only_links
    assert not {"bushings_off", "bushings_on", "brackets_final"} & set(only_links)
    assert {"bushings_off", "bushings_on", "brackets_final"} <= set(only_bushings)
    assert not {"links_off", "links_on", "links_final"} & set(only_bushings)


def test_an_axle_without_a_bar_says_so() -> None:
    refusal = why_not(the_book(), "stabiliser", axle_facts("strut", stabiliser="no"))

    assert refusal is not None
    assert "no stabiliser bar" in str(refusal.details["says"])
