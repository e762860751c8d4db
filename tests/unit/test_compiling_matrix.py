"""Every layout with every procedure, with its options and the facts its conditions ask for: a packet, or why not.

What must hold of every packet is said once here and asked of all of them. Which work goes with which axle is written
down by hand below, from what each axle has (common practice, no source); it is not read from the procedures.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import product
from typing import TypeAlias

import pytest

from app.domain.canonical import canonical
from app.domain.compiling import compile_packet, procedures_for, why_not
from app.domain.conditions import atoms
from app.domain.grounds import axle_subject
from app.domain.offering import asked_options
from app.domain.packet import Axle, Packet, Pass, Step, Support, packet_from
from app.domain.pinning import why_not_pinned, why_not_read
from app.domain.problems import Problem
from app.domain.procedure_schema import Procedure
from app.domain.records import AxleFacts, JobLine
from tests.unit.procedure_cast import AXLES, FACTS, PLACES, a_vehicle, an_axle, an_order, befores, gate_keys, the_book

RIDE_HEIGHT = {Support.ON_WHEELS, Support.ON_RAMP}
STANDS = {Support.STANDS_FRAME, Support.STANDS_ARM, Support.STANDS_AXLE}
CHOOSABLE = tuple(key for key, procedure in the_book().procedures.items() if not procedure.is_frame)
MOST_COMBINATIONS = 8

STRUTS = ("strut", "strut_arm_coil")
SOLID = ("solid_coil", "solid_leaf")
# Drawn up by hand only so that the strut does not fall: no rubber is clamped by them.
METAL = {"strut_top_nuts"}

Far: TypeAlias = Mapping[str, frozenset[str]]


def expected_refusal(key: str, layout: str, place: str, options: Mapping[str, str], facts: Mapping[str, str]) -> bool:
    """Whether this work is not for this axle, by what the axle has."""
    own = place or layout
    if key == "ball_joint":
        not_steered_on_balls = own in SOLID and facts["axle_joints"] != "ball_joints"
        return own == "twist_beam" or not_steered_on_balls or (own in STRUTS and options["joint_position"] == "upper")
    if key == "control_arm":
        bonded = options["work"] == "bushings" and facts["arm_bushings"] == "bonded"
        return own in ("twist_beam", "solid_leaf") or bonded or (own in STRUTS and options["arm"] == "upper")
    if key == "shock_absorber":
        return own in STRUTS
    if key == "strut":
        return own not in STRUTS
    if key == "coil_spring":
        return own == "strut" or (own == "solid_leaf" and layout != "air")
    if key == "stabiliser":
        return own == "twist_beam" or facts["stabiliser"] == "no"
    if key == "recheck":
        return False
    assert key == "inspection", f"say here which axles {key} is for"
    return False


def relevant_facts(procedure: Procedure) -> tuple[str, ...]:
    """The facts a procedure's own conditions, or those of its gates, look at."""
    book = the_book()
    conditions = [step.when for step in procedure.steps]
    conditions += [refusal.when for refusal in procedure.refuse]
    conditions += [option.when for option in procedure.options.values()]
    gates = {gate for step in procedure.steps for gate in step.gates}
    conditions += [book.gates[gate].when for gate in gates]
    asked = {atom.key for condition in conditions for atom in atoms(condition)} | set(procedure.needs_facts)
    return tuple(key for key in book.facts if key in asked)


def fact_sets(procedure: Procedure) -> Iterator[dict[str, str]]:
    """Every combination where these are few; else each fact's every answer, one fact at a time."""
    book, keys = the_book(), relevant_facts(procedure)
    answers = [tuple(book.facts[key].choices) for key in keys]
    combinations = 1
    for some in answers:
        combinations *= len(some)
    if combinations <= MOST_COMBINATIONS:
        yield from (dict(zip(keys, chosen, strict=True)) for chosen in product(*answers))
        return
    yield {}
    for key, some in zip(keys, answers, strict=True):
        yield from ({key: answer} for answer in some)


def option_sets(procedure: Procedure, facts: AxleFacts) -> Iterator[dict[str, str]]:
    """Every way the desk could open a line: an option that is not asked after those before it is left open."""

    def grow(names: list[str], chosen: dict[str, str]) -> Iterator[dict[str, str]]:
        if not names:
            yield chosen
            return
        name, rest = names[0], names[1:]
        if name not in asked_options(procedure, [axle_subject(the_book(), facts)], chosen):
            yield from grow(rest, chosen)
            return
        for choice in procedure.options[name].choices:
            yield from grow(rest, {**chosen, name: choice})

    yield from grow(list(procedure.options), {})


def every_case(key: str, layout: str, place: str) -> Iterator[tuple[dict[str, str], dict[str, str], Axle]]:
    procedure = the_book().procedures[key]
    for facts in fact_sets(procedure):
        for options in option_sets(procedure, an_axle(layout, place, **facts)):
            yield facts, options, Axle.REAR if len(facts) % 2 else Axle.FRONT


def result_of(
    key: str, layout: str, place: str, facts: dict[str, str], options: dict[str, str], axle: Axle
) -> Packet | tuple[Problem, ...]:
    procedure = the_book().procedures[key]
    held = an_axle(layout, place, **facts)
    corner = "right" if procedure.scope == "corner" else ""
    line = JobLine("work", key, Axle.BOTH if procedure.scope == "vehicle" else axle, corner, tuple(options.items()))
    return compile_packet(
        the_book(), an_order(line, vehicle=a_vehicle(held, held, high_voltage=bool(len(options) % 2)))
    )


@pytest.mark.parametrize("key", CHOOSABLE)
@pytest.mark.parametrize(("layout", "place"), AXLES)
def test_every_layout_compiles_or_says_why_not(key: str, layout: str, place: str) -> None:
    """The full matrix. Every packet that comes out keeps the promises below."""
    cases = list(every_case(key, layout, place))
    assert cases
    pinned: set[str] = set()

    for facts, options, axle in cases:
        label = f"{facts} {options}"
        made = result_of(key, layout, place, facts, options, axle)
        known = {**FACTS, **facts}
        if expected_refusal(key, layout, place, options, known):
            assert isinstance(made, tuple), label
            (problem,) = made
            assert problem.code == "not_for_layout", label
            assert_is_a_sentence(str(problem.details["says"]))
            assert why_not(the_book(), key, an_axle(layout, place, **facts), options) is not None, label
        else:
            assert isinstance(made, Packet), f"{label}: {made}"
            assert why_not(the_book(), key, an_axle(layout, place, **facts), options) is None, label
            if str(options) not in pinned:
                pinned.add(str(options))
                assert_packet_can_be_pinned(made, label)
            far = befores(made)
            assert far.keys() == made.step_by_id.keys(), label
            assert_packet_is_whole(made, label)
            assert_final_passes(made, far, label)
            assert_gates_stand_where_they_must(made, label)
            if layout == "air":
                assert_air_is_out_first(made, far, label)


def assert_is_a_sentence(text: str) -> None:
    assert text.endswith(".")
    assert len(text.split()) >= 8
    assert "{" not in text


def assert_packet_can_be_pinned(packet: Packet, label: str) -> None:
    """It is read back without loss, and has no float in it (`canonical` refuses one)."""
    data = packet.as_json()
    assert (why_not_read(data, packet), why_not_pinned(packet, None)) == (None, None), label
    assert packet_from(data) == packet, label
    assert canonical(data) == canonical(packet.as_json()), label


def assert_packet_is_whole(packet: Packet, label: str) -> None:
    """Every gate is asked by a step, and every text is filled in."""
    assert {gate for step in packet.steps for gate in step.gates} == packet.gate_by_id.keys(), label
    for step in packet.steps:
        assert step.supports, f"{label}: {step.id}"
        for text in (step.title, step.do, step.why, step.caution):
            assert "{" not in text, f"{label}: {step.id}"
            assert "  " not in text, f"{label}: {step.id}: {text}"
            assert not text or text == text.strip(), f"{label}: {step.id}"
        assert len(step.why) > 15, f"{label}: {step.id}"


def assert_final_passes(packet: Packet, far: Far, label: str) -> None:
    """Every joint that is drawn up gets its figure once, later, at ride height; nothing else is at ride height only."""
    finals: dict[tuple[str, str, str, str], Step] = {}
    for step in packet.steps:
        for one in step.fasteners:
            key = (step.line, step.axle, step.corner, one.figure_key)
            if one.tighten is Pass.FINAL:
                assert key not in finals, f"{label}: {key} has two final passes"
                finals[key] = step
            assert set(one.load_states) & set(step.supports), f"{label}: {one.id} can never be signed in {step.id}"
    for step in packet.steps:
        for one in step.fasteners:
            if one.tighten is Pass.SNUG:
                last = finals.get((step.line, step.axle, step.corner, one.figure_key))
                assert last is not None, f"{label}: {one.figure_key} is never brought to its figure"
                assert step.id in far[last.id], f"{label}: {one.figure_key} gets its figure before it is drawn up"
                (final,) = (f for f in last.fasteners if f.figure_key == one.figure_key)
                assert not set(step.supports) & RIDE_HEIGHT, f"{label}: {step.id}"
                if one.figure_key not in METAL:
                    assert set(final.load_states) <= RIDE_HEIGHT, f"{label}: {one.figure_key}"


def assert_gates_stand_where_they_must(packet: Packet, label: str) -> None:
    for step in packet.steps:
        asked = gate_keys(packet, step)
        anywhere = set(step.supports) == set(Support)
        if not anywhere and set(step.supports) & STANDS and "lowering" not in asked:
            assert "stands" in asked, f"{label}: {step.id}"
        if not anywhere and Support.LIFT_FRAME in step.supports and "lowering" not in asked:
            assert "lift" in asked, f"{label}: {step.id}"
        for gate_id in step.gates:
            gate = packet.gate_by_id[gate_id]
            assert not gate.supports or set(gate.supports) & set(step.supports), f"{label}: {gate_id} is never asked"
            for check in gate.checks:
                if check.choices:
                    assert any(choice.passes for choice in check.choices), f"{label}: {gate_id} {check.id} cannot pass"
                    assert any(not choice.passes for choice in check.choices), f"{label}: {gate_id} {check.id}"


def assert_air_is_out_first(packet: Packet, far: Far, label: str) -> None:
    """On an air sprung axle nothing is tightened, parted, cut or let down before the air is out.

    A re-check undoes nothing and wants the weight on the joint: there the height control is off first.
    """
    undoing = {"joint_separation", "arm_carried", "cutting", "heat", "spring_force", "centre_nut", "spring_lowering"}
    work = packet.steps_of_line["work"]
    outs = {one.id for one in work if "air_suspension" in gate_keys(packet, one) or one.key == "control_off"}
    for step in work:
        bench = set(step.supports) == set(Support)
        parts = bool(gate_keys(packet, step) & undoing or step.fasteners or step.one_time)
        if parts and not bench:
            assert step.id in outs or outs & far[step.id], f"{label}: {step.id}"


@pytest.mark.parametrize(("layout", "place"), AXLES)
def test_the_stands_gate_accepts_only_what_the_layout_asks_for(layout: str, place: str) -> None:
    """Stands under the arm where the coil is on the lower arm or link, under the axle where it is solid, else frame."""
    under_arm = {"wishbone_lower_coil", "torsion_bar_lower", "strut_arm_coil", "multilink_link_coil"}
    held = an_axle(layout, place)
    packet = compile_packet(
        the_book(), an_order(JobLine("work", "inspection", Axle.FRONT), vehicle=a_vehicle(held, held))
    )
    assert isinstance(packet, Packet)

    (check,) = (check for check in packet.gate_by_id["stands:front"].checks if check.id == "bears_on")

    wanted = {"stands_frame"} | ({"stands_arm"} if (place or layout) in under_arm else set())
    wanted |= {"stands_axle"} if (place or layout) in SOLID else set()
    assert {choice.key for choice in check.choices if choice.passes} == wanted


@pytest.mark.parametrize(("layout", "place"), AXLES)
def test_joint_play_is_felt_in_the_state_the_layout_asks_for(layout: str, place: str) -> None:
    """As the table of layouts has it: on the arm, on the axle, or hanging from the frame."""
    own = place or layout
    on_arm = {"wishbone_lower_coil", "torsion_bar_lower", "strut_arm_coil", "multilink_link_coil"}
    wanted = (
        {Support.STANDS_ARM}
        if own in on_arm
        else {Support.STANDS_AXLE}
        if own in SOLID
        else {Support.LIFT_FRAME, Support.STANDS_FRAME}
    )
    held = an_axle(layout, place)
    packet = compile_packet(
        the_book(), an_order(JobLine("work", "inspection", Axle.FRONT), vehicle=a_vehicle(held, held))
    )
    assert isinstance(packet, Packet)

    felt = [step for step in packet.steps if step.key.startswith(("joint_play", "arm_bushing", "axle_bushing"))]

    assert felt or own == "twist_beam"
    assert all(set(step.supports) == wanted for step in felt), [(step.key, step.supports) for step in felt]


@pytest.mark.parametrize(("layout", "place"), AXLES)
def test_what_is_offered_at_the_desk_is_what_can_be_opened(layout: str, place: str) -> None:
    """An offer without a refusal has a choice of options that compiles; one with a refusal has none."""
    facts = an_axle(layout, place)

    for offer in procedures_for(the_book(), facts):
        procedure = the_book().procedures[offer.procedure]
        results = [
            (options, result_of(offer.procedure, layout, place, {}, options, Axle.FRONT))
            for options in option_sets(procedure, facts)
        ]
        if offer.refusal is not None:
            assert all(isinstance(result, tuple) for _, result in results), offer.procedure
        else:
            assert any(isinstance(result, Packet) for _, result in results), offer.procedure
        for options, result in results:
            if any((name, choice) in offer.refused_choices for name, choice in options.items()):
                assert isinstance(result, tuple), (offer.procedure, options)


def test_the_hand_written_table_knows_every_place() -> None:
    assert set(PLACES) | {"air"} == set(the_book().layouts)
