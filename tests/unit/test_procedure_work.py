"""What the ball joint, the control arm, the opening and closing steps and the gates have to contain, as claims.

Each claim is a requirement of the trade (common practice, no source, unless named in the procedure's own file). Packets
are compiled from the product's own texts for invented vehicles.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from app.domain.packet import Axle, CheckKind, Packet, Pass, Signal, Support
from tests.unit.procedure_cast import (
    AXLES,
    SHARED,
    a_line,
    a_vehicle,
    an_axle,
    befores,
    gate_keys,
    keys,
    made,
    the_book,
    the_step,
    waits_for,
)

RIDE_HEIGHT = {Support.ON_WHEELS, Support.ON_RAMP}


def in_order(packet: Packet, *wanted: str, line: str = "work") -> None:
    """Each of these steps waits for the one named before it."""
    for first, second in pairwise(wanted):
        assert waits_for(packet, the_step(packet, second, line), the_step(packet, first, line)), (
            f"{second} does not wait for {first}"
        )


def joint(layout: str = "wishbone_lower_coil", place: str = "", *, position: str = "lower", **facts: str) -> Packet:
    return made(a_line(joint_position=position), vehicle=a_vehicle(an_axle(layout, place, **facts)))


def arm(
    layout: str = "wishbone_lower_coil", place: str = "", *, facts: dict[str, str] | None = None, **options: str
) -> Packet:
    """The packet of one arm; options that are not asked on this axle are left open."""
    asked = {"arm": "lower", "work": "arm", "damper_on_arm": "no", "link_on_arm": "no", **options}
    if layout in ("wishbone_lower_coil", "strut_arm_coil") and asked["arm"] == "lower":
        asked.setdefault("method", "compressor")
    if asked["work"] == "bushings" and (facts or {}).get("arm_bushings", "pressed") == "pressed":
        asked.setdefault("heat", "no")
    if (place or layout) == "strut":
        del asked["damper_on_arm"]
    return made(a_line("control_arm", **asked), vehicle=a_vehicle(an_axle(layout, place, **(facts or {}))))


# --- Ball joint ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("layout", ["wishbone_lower_coil", "strut_arm_coil", "multilink_link_coil"])
def test_with_the_spring_on_arm_or_link_it_is_carried_and_chained_before_the_nut_is_touched(layout: str) -> None:
    packet = joint(layout)

    in_order(packet, "raise", "carry_arm", "chain_coil", "back_off_nut", "break_taper")
    for key in ("carry_arm", "back_off_nut"):
        assert "arm_carried" in gate_keys(packet, the_step(packet, key))


def test_the_sprung_arm_is_carried_for_the_follower_too() -> None:
    """With the upper joint open only the jack is left under a lower arm that carries the coil."""
    packet = joint(position="upper")

    in_order(packet, "carry_arm", "carry_knuckle", "back_off_nut", "break_taper")


@pytest.mark.parametrize("position", ["lower", "upper"])
def test_with_the_coil_on_the_upper_arm_the_arm_is_blocked_while_the_weight_is_still_on(position: str) -> None:
    packet = joint("wishbone_upper_coil", position=position)

    in_order(packet, "block_upper_arm", "raise", "break_taper")
    assert set(the_step(packet, "block_upper_arm").supports) <= RIDE_HEIGHT
    assert set(the_step(packet, "block_out").supports) <= RIDE_HEIGHT
    assert waits_for(packet, the_step(packet, "block_out"), the_step(packet, "settle", "closing"))
    assert ("see_block" in keys(packet)) is (position == "upper")


@pytest.mark.parametrize(("layout", "position"), [("torsion_bar_lower", "lower"), ("torsion_bar_upper", "upper")])
def test_a_torsion_bar_on_the_load_joint_is_unwound_and_wound_by_counted_turns(layout: str, position: str) -> None:
    packet = joint(layout, position=position)

    in_order(packet, "unwind_bar", "break_taper", "stud_castle", "wind_bar")
    for key in ("unwind_bar", "wind_bar"):
        step = the_step(packet, key)
        assert "torsion_bar" in gate_keys(packet, step)
        assert {"turns", "thread_out"} <= {one.id for one in step.measures if one.required}


@pytest.mark.parametrize(
    ("fixing", "out", "back", "figure"),
    [
        ("riveted", "cut_rivets", "fit_riveted", "lower_ball_joint_flange"),
        ("bolted", "unbolt", "fit_bolted", "lower_ball_joint_flange"),
        ("pressed", "press_out", "fit_pressed", None),
        ("threaded", "unscrew", "fit_threaded", "lower_ball_joint_body"),
    ],
)
def test_each_fixing_comes_out_and_goes_in_its_own_way(fixing: str, out: str, back: str, figure: str | None) -> None:
    packet = joint(joint_fixing=fixing)
    finals = {one.figure_key for step in packet.steps_of_line["work"] for one in step.fasteners}

    in_order(packet, "break_taper", out, "look_at_seat", "compare", back, "boot", "stud_castle")
    ways = {"cut_rivets", "unbolt", "press_out", "unscrew", "fit_riveted", "fit_bolted", "fit_pressed", "fit_threaded"}
    assert ways & set(keys(packet)) == {out, back}
    assert finals == {"lower_ball_joint_stud"} | ({figure} if figure else set())


def test_rivets_are_cut_with_face_and_ears_covered_and_replaced_by_the_makers_bolts() -> None:
    packet = joint(joint_fixing="riveted")
    cut, fit = the_step(packet, "cut_rivets"), the_step(packet, "fit_riveted")
    (gate,) = (packet.gate_by_id[one] for one in cut.gates if packet.gate_by_id[one].key == "cutting")

    assert {"face", "ears", "hands"} <= {check.id for check in gate.checks}
    assert "of the strength class the maker gives" in fit.do
    assert [one.what for one in fit.one_time] == [
        "Bolts and nuts in place of the rivets, of the maker's strength class, new"
    ]
    assert fit.fasteners[0].critical


@pytest.mark.parametrize(
    ("stud", "undo", "part", "tighten", "new"),
    [
        ("castle", "back_off_nut", "break_taper", "stud_castle", "Cotter pin, new"),
        ("self_locking", "back_off_locknut", "break_taper", "stud_locknut", "Self-locking stud nut, new"),
        ("pinch", None, "open_pinch", "stud_pinch", "Pinch bolt and nut, new"),
    ],
)
def test_each_stud_is_parted_and_tightened_its_own_way_with_its_new_part(
    stud: str, undo: str | None, part: str, tighten: str, new: str
) -> None:
    packet = joint(joint_stud=stud)
    tight = the_step(packet, tighten)

    in_order(packet, *([undo] if undo else []), part, "compare", tighten)
    assert "joint_separation" in gate_keys(packet, the_step(packet, part))
    assert new in {one.what for one in tight.one_time}
    (fastener,) = tight.fasteners
    assert (fastener.tighten, fastener.critical, fastener.castellated) == (Pass.FINAL, True, stud == "castle")
    assert {"stud_castle", "stud_locknut", "stud_pinch"} & set(keys(packet)) == {tighten}


def test_the_nut_stays_on_by_some_threads_while_the_taper_is_broken() -> None:
    packet = joint()
    (gate,) = (one for one in packet.gates if one.key == "joint_separation")
    (check,) = (one for one in gate.checks if one.id == "nut_on")

    assert "stays on by a few full threads" in the_step(packet, "back_off_nut").do
    assert {choice.key: choice.passes for choice in check.choices} == {
        "some_threads": True,
        "off": False,
        "tight": False,
    }
    assert "a press-type one if the boot is to be kept" in the_step(packet, "break_taper").do


def test_old_and_new_are_compared_by_flange_diameter_length_and_taper() -> None:
    step = the_step(joint(), "compare")

    assert all(word in step.do.lower() for word in ("flange", "stud diameter", "stud length", "taper"))
    assert {one.id for one in step.measures} == {"old_diameter", "new_diameter", "old_length", "new_length"}


def test_a_castle_nut_only_ever_goes_forward() -> None:
    step = the_step(joint(), "stud_castle")

    assert "turn on to the next slot, never back" in step.do
    assert "Do not turn back" in step.caution


def test_the_boots_vent_looks_away_from_the_tyre() -> None:
    assert "inboard, away from the tyre" in the_step(joint(), "boot").do


def test_a_grease_fitting_is_started_by_hand_and_greased_to_the_boot() -> None:
    packet = joint()

    in_order(packet, "boot", "grease_fitting", "stud_castle", "grease")
    assert "by hand" in the_step(packet, "grease_fitting").do
    assert "boot just begins to swell" in the_step(packet, "grease").do
    assert not {"grease", "grease_fitting"} & set(keys(joint(grease_fitting="no")))


def test_a_wear_indicator_is_looked_at_on_the_load_joint_with_the_weight_on_the_wheels() -> None:
    assert set(the_step(joint(), "indicator").supports) == RIDE_HEIGHT
    assert "indicator" not in keys(joint(wear_indicator="no"))
    assert "indicator" not in keys(joint(position="upper"))


def test_on_a_solid_axle_track_rod_and_caliper_get_their_figures_back() -> None:
    packet = joint("solid_coil")

    in_order(packet, "axle_rests", "break_taper", "stud_castle", "knuckle_back")
    assert {one.figure_key for one in the_step(packet, "knuckle_back").fasteners} == {
        "track_rod_end",
        "caliper_bracket",
    }
    assert Support.STANDS_AXLE in the_step(packet, "break_taper").supports


def test_a_second_person_looks_at_the_joint_before_the_wheel_hides_it() -> None:
    packet = joint()

    assert the_step(packet, "look_over").countersign
    assert waits_for(packet, packet.step_by_id["closing.wheels_on.front_left"], the_step(packet, "look_over"))


# --- Control arm --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("position", ["lower", "upper"])
def test_shims_are_counted_measured_and_tagged_before_a_pivot_moves_and_go_back(position: str) -> None:
    packet = arm(arm=position, facts={"alignment": "shims"})
    before, after = the_step(packet, "shims_noted"), the_step(packet, "shims_back")

    in_order(packet, "shims_noted", "arm_out", "arm_in", "shims_back")
    wanted = {"front_count", "front_pack", "rear_count", "rear_pack"}
    assert {one.id for one in before.measures if one.required} == wanted
    assert {one.id for one in after.measures if one.required} == wanted
    assert "Tag each pack" in before.do
    assert before.photo
    assert "front to front, rear to rear" in after.do


def test_cams_are_marked_measured_and_tagged_before_a_pivot_moves_and_go_back() -> None:
    packet = arm(facts={"alignment": "cams"})

    in_order(packet, "cams_marked", "arm_out", "arm_in", "cams_back")
    assert {one.id for one in the_step(packet, "cams_marked").measures} == {"front_cam", "rear_cam"}
    assert not {"shims_noted", "shims_back"} & set(keys(packet))


# The axles that have such an arm or link; the matrix of layouts holds that the others say why not.
WITH_ARMS = [
    (layout, place, position)
    for layout, place in AXLES
    for position in ("lower", "upper")
    if (place or layout) not in ("twist_beam", "solid_leaf")
    and not (position == "upper" and (place or layout) in ("strut", "strut_arm_coil"))
]


@pytest.mark.parametrize(("layout", "place", "position"), WITH_ARMS)
def test_pivots_are_snug_in_the_air_and_get_their_figure_at_ride_height(layout: str, place: str, position: str) -> None:
    packet = arm(layout, place, arm=position)
    snug, final = the_step(packet, "arm_in"), the_step(packet, "pivots_final")

    assert "Snug is not tight" in snug.caution
    assert snug.fasteners
    assert {one.figure_key for one in snug.fasteners} <= {one.figure_key for one in final.fasteners}
    assert all(set(one.load_states) == RIDE_HEIGHT for one in final.fasteners)
    assert all(one.critical and one.one_time for one in final.fasteners)
    assert waits_for(packet, final, the_step(packet, "settle", "closing"))


def test_a_pressed_bushing_goes_in_by_its_marks_with_the_arm_supported_at_the_eye() -> None:
    packet = arm(work="bushings")

    in_order(packet, "arm_out", "clamp_arm", "bushing_out", "clean_eye", "bushing_in", "arm_in")
    step = the_step(packet, "bushing_in")
    assert "Turn the bushing to its marks" in step.do
    assert "Support the arm at the eye" in step.do
    assert "vice" in the_step(packet, "clamp_arm").do
    assert "cutting" in gate_keys(packet, the_step(packet, "bushing_out"))
    assert "razor sharp" in the_step(packet, "bushing_out").caution


def test_threaded_bushings_are_turned_in_evenly_and_get_their_figure_at_the_bench() -> None:
    packet = arm(work="bushings", facts={"arm_bushings": "threaded"})

    in_order(packet, "arm_out", "threaded_out", "threaded_look", "threaded_in", "arm_in")
    assert {one.figure_key for one in the_step(packet, "threaded_in").fasteners} == {
        "lower_arm_threaded_bushing_front", "lower_arm_threaded_bushing_rear",
    }  # fmt: skip
    assert not {"bushing_out", "bushing_in"} & set(keys(packet))


def test_heat_is_gated_and_watched_for_half_an_hour_after() -> None:
    """Source: 29 CFR 1910.252(a)(2)(iii), a fire watch for at least half an hour after hot work."""
    cold, hot = arm(work="bushings"), arm(work="bushings", heat="yes")
    (watched,) = the_step(hot, "fire_watch").measures
    (gate,) = (one for one in hot.gates if one.key == "heat")
    (planned,) = (one for one in gate.checks if one.id == "watch")

    assert not {"heat_eye", "fire_watch"} & set(keys(cold))
    in_order(hot, "heat_eye", "bushing_out", "fire_watch")
    assert (watched.low, watched.must) == (30 * 60_000, True)
    assert "1910.252" in watched.source
    assert planned.at_least == 30 * 60_000
    assert set(the_step(hot, "heat_eye").supports) == set(Support)
    assert all(waits_for(hot, end, the_step(hot, "fire_watch")) for end in hot.steps_of_line["closing"])


def test_a_whole_arm_is_compared_and_no_bushing_pressed() -> None:
    packet = arm(work="arm")

    in_order(packet, "arm_out", "compare_arm", "arm_in")
    assert not {"clamp_arm", "bushing_out", "bushing_in", "threaded_in"} & set(keys(packet))


@pytest.mark.parametrize("layout", ["wishbone_lower_coil", "strut_arm_coil"])
def test_a_lower_arm_with_the_coil_lets_it_down_by_the_way_that_was_chosen(layout: str) -> None:
    pressed, lowered = arm(layout), arm(layout, method="lowering")

    in_order(pressed, "carry_arm", "compress_coil", "coil_out", "break_taper", "arm_out", "arm_in", "release_coil")
    assert "spring_force" in gate_keys(pressed, the_step(pressed, "compress_coil"))
    assert "spring_loose" in gate_keys(pressed, the_step(pressed, "coil_out"))
    in_order(lowered, "carry_arm", "chain_coil", "break_taper", "let_down", "arm_out", "arm_in", "coil_in")
    assert "spring_lowering" in gate_keys(lowered, the_step(lowered, "let_down"))
    assert not {"compress_coil", "release_coil"} & set(keys(lowered))


def test_force_and_energy_are_shown_before_a_coil_is_let_down() -> None:
    packet = arm(method="lowering")
    step = the_step(packet, "let_down")
    (gate,) = (one for one in packet.gates if one.id == "spring_lowering:work.let_down")

    for shown in (step.reckoned, gate.reckoned):
        assert any(line.text.startswith("4500 N") for line in shown)
        assert any("one metre" in line.text for line in shown)
        assert all(line.inputs and line.certainty for line in shown if "coil" in line.label)


def test_an_arm_that_carries_no_spring_asks_nothing_about_one() -> None:
    for packet in (arm(arm="upper"), arm("strut"), arm("air", "wishbone_lower_coil")):
        asked = {gate.key for gate in packet.gates}
        assert not {"spring_force", "spring_loose", "spring_lowering", "torsion_bar"} & asked


def test_an_upper_arm_with_the_coil_is_opened_only_with_the_coil_compressed_at_its_tower() -> None:
    packet = arm("wishbone_upper_coil", arm="upper")

    in_order(packet, "compress_coil", "coil_out", "break_taper", "arm_out")
    assert "at the tower" in the_step(packet, "compress_coil").do
    assert "block_upper_arm" not in keys(packet)
    assert "block_upper_arm" in keys(arm("wishbone_upper_coil", arm="lower"))


def test_a_links_bolt_is_drawn_out_only_with_the_jack_bearing() -> None:
    packet = arm("multilink_link_coil")

    in_order(packet, "carry_arm", "chain_coil", "outer_bolt_out", "let_down", "arm_out")
    assert "joint_separation" in gate_keys(packet, the_step(packet, "outer_bolt_out"))
    (gate,) = (one for one in packet.gates if one.key == "joint_separation")
    (check,) = (one for one in gate.checks if one.id == "nut_on")
    assert {choice.key for choice in check.choices if choice.passes} == {"some_threads", "bolt"}


def test_damper_and_link_on_the_arm_are_drawn_up_and_finished_at_ride_height() -> None:
    packet = arm(damper_on_arm="yes", link_on_arm="yes")

    in_order(packet, "carry_arm", "damper_off", "damper_on", "damper_final")
    in_order(packet, "link_off", "link_on", "link_final")
    for key in ("damper_final", "link_final"):
        assert set(the_step(packet, key).supports) == RIDE_HEIGHT
    assert not {"damper_off", "link_off"} & set(keys(arm()))


# --- Opening and closing ------------------------------------------------------------------------------------------

ANGLES = ("camber_left", "camber_right", "toe_left", "toe_right", "caster_left", "caster_right", "steering_wheel")
# What makers limit for both wheels together; asked where the rack says it.
TOGETHER = ("toe_total", "camber_cross", "caster_cross")


def test_height_and_alignment_are_measured_after_as_they_were_before() -> None:
    packet = joint()

    assert [one.id for one in the_step(packet, "alignment_after", "closing").measures] == [*ANGLES, *TOGETHER]
    for before, after in (("ride_height", "ride_height"), ("alignment_before", "alignment_after")):
        first, last = the_step(packet, before, "opening"), the_step(packet, after, "closing")
        assert [(one.id, one.dimension) for one in first.measures] == [(one.id, one.dimension) for one in last.measures]
        assert all(one.required is (one.id not in TOGETHER) for one in last.measures)
    assert "compare each with the value from before" in the_step(packet, "alignment_after", "closing").do


def test_a_rear_axle_has_no_caster_and_no_steering_wheel() -> None:
    packet = made(a_line("stabiliser", Axle.REAR, "", parts="both"))

    measured = [one.id for one in the_step(packet, "alignment_after", "closing").measures]
    assert measured == [*ANGLES[:4], "toe_total", "camber_cross"]


def test_wheels_are_drawn_up_in_the_air_and_torqued_on_the_ground_in_star_order() -> None:
    packet = joint()
    on, torque = (packet.step_by_id[f"closing.{key}.front_left"] for key in ("wheels_on", "wheel_torque"))

    assert [one.tighten for one in on.fasteners] == [Pass.SNUG]
    (nuts,) = torque.fasteners
    assert (nuts.tighten, set(nuts.load_states), nuts.figure_key) == (Pass.FINAL, RIDE_HEIGHT, "wheel_nuts")
    assert "star order" in torque.do
    assert "star order" in on.do


def test_an_appointment_is_made_for_the_wheels_after_the_shops_own_distance() -> None:
    step = the_step(joint(), "retorque", "closing")

    assert step.title == "Wheels again after the first 80 km"
    assert step.trial is not None
    assert {choice.key for choice in step.trial.choices if choice.passes} == {"booked", "told", "elsewhere"}


@pytest.mark.parametrize(
    ("facts", "wanted"),
    [
        ({}, set()),
        ({"height_sensor": "yes"}, {"height_calibration", "codes_after"}),
        ({"active_damper": "yes"}, {"height_calibration", "codes_after"}),
        ({"adas": "yes"}, {"camera_calibration", "codes_after"}),
        ({"alignment": "shims"}, {"adjusters_tight"}),
        ({"alignment": "cams"}, {"adjusters_tight"}),
    ],
)
def test_calibrations_and_codes_are_asked_for_by_what_the_vehicle_has(facts: dict[str, str], wanted: set[str]) -> None:
    packet = joint(**facts)
    may_be = {"height_calibration", "camera_calibration", "codes_after", "adjusters_tight", "air_in"}

    assert may_be & set(keys(packet, "closing")) == wanted
    assert ("codes_before" in keys(packet, "opening")) is ("codes_after" in wanted)


def test_an_air_sprung_axle_is_filled_before_it_is_let_down_and_calibrated_after() -> None:
    packet = joint("air", "wishbone_lower_coil")

    in_order(packet, "air_in", "lower", "settle", "height_calibration", line="closing")


def test_the_job_ends_in_this_order() -> None:
    packet = joint(adas="yes", height_sensor="yes", alignment="shims")

    in_order(
        packet, "lower", "settle", "none_waiting", "ride_height", "height_calibration", "alignment_after",
        "adjusters_tight", "steering_straight", "camera_calibration", "road_test", "after_drive", "codes_after",
        "second_look", "retorque", line="closing",
    )  # fmt: skip
    assert the_step(packet, "second_look", "closing").countersign
    assert "lowering" in gate_keys(packet, the_step(packet, "lower", "closing"))


# --- Gates --------------------------------------------------------------------------------------------------------

GATES = {
    "stands": {"stands_tag", "bears_on", "label_basis", "label", "inboard", "floor", "jack_down", "shaken"},
    "lift": {"points", "lift_tag", "plate", "arms", "height", "inspected"},
    "spring_force": {"compressor_tag", "compressor", "condition", "hooks", "guard", "in_line"},
    "spring_loose": {"turns"},
    "spring_lowering": {"jack", "jack_tag", "jack_rating", "chained", "in_line"},
    "torsion_bar": {"puller", "mark", "in_line"},
    "joint_separation": {"carried", "spring_held", "nut_on", "clear"},
    "arm_carried": {"carried", "body", "clear"},
    "centre_nut": {"where", "turns", "untouched", "in_line"},
    "cutting": {"face", "ears", "hands", "others", "behind"},
    "heat": {"allowed", "near", "extinguisher", "watch"},
    "air_suspension": {"control", "supported", "air_out"},
    "high_voltage": {"isolated", "waited", "dead"},
    "airbag_near": {"battery", "waited", "clear"},
    "lowering": {"people", "waiting_nuts", "wheels"},
}


def test_every_gate_asks_at_least_this() -> None:
    gates = the_book().gates

    assert gates.keys() == GATES.keys()
    for key, wanted in GATES.items():
        assert {check.id for check in gates[key].checks} == wanted


def test_what_can_kill_asks_for_an_observation_or_a_value_never_only_a_tick() -> None:
    """Only a guard or a piece of equipment in reach is answered by yes, and never alone."""
    for key, gate in the_book().gates.items():
        ticks = {check.id for check in gate.checks if check.kind is CheckKind.READY}
        if gate.signal is Signal.DANGER:
            assert ticks <= {"guard", "extinguisher"}, key
            assert len(gate.checks) > len(ticks), key


def test_every_check_says_what_to_do_on_a_no() -> None:
    for key, gate in the_book().gates.items():
        for check in gate.checks:
            assert len(check.otherwise.split()) >= 3, f"{key} {check.id}"
            assert check.otherwise.endswith("."), f"{key} {check.id}"


def test_nothing_ever_says_that_something_is_safe() -> None:
    """The product shows what was checked, by whom and when; it vouches for nothing."""
    files = [SHARED / "gates.yaml", SHARED / "layouts.yaml", *sorted((SHARED / "procedures").glob("*.yaml"))]
    assert len(files) > 9

    for file in files:
        text = " ".join(file.read_text(encoding="utf-8").lower().split())
        for claim in (" is safe", " are safe", "safe to ", "safely"):
            assert claim not in text, f"{file.name}: {claim}"


def test_a_stands_label_counts_for_the_pair_unless_it_says_each() -> None:
    packet = joint()
    (label,) = (one for one in packet.gate_by_id["stands:front"].checks if one.id == "label")

    assert label.halve_unless == ("label_basis", "each")
    assert label.at_least is not None
    assert label.limit_text.startswith("at least ")


def test_a_step_names_only_gates_that_belong_to_what_is_done_there() -> None:
    """The gates of one kind of danger stand in front of exactly the steps that meet it."""
    riveted = joint(joint_fixing="riveted")
    hot = arm(work="bushings", heat="yes", method="lowering")
    wanted = {
        ("joint", "joint_separation"): {"break_taper"},
        ("joint", "cutting"): {"cut_rivets"},
        ("arm", "joint_separation"): {"break_taper"},
        ("arm", "cutting"): {"bushing_out", "bushing_in"},
        ("arm", "heat"): {"heat_eye"},
        ("arm", "spring_lowering"): {"let_down", "coil_in"},
    }
    packets = {"joint": riveted, "arm": hot}

    for (name, gate), steps in wanted.items():
        packet = packets[name]
        assert {step.key for step in packet.steps if gate in gate_keys(packet, step)} == steps, (name, gate)


def test_every_line_begins_from_the_same_measurements() -> None:
    packet = made(a_line(), a_line(corner="right", line_id="other"))
    far = befores(packet)
    opening = {step.id for step in packet.steps_of_line["opening"]}

    assert all(opening <= far[step.id] for step in packet.steps if step.line in ("work", "other"))
