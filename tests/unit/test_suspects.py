"""Suspects from a sheet: the table against the procedures, what counts as evidence, ruling out, and worked cases.

Expected ranks are common practice, no source, except where one is named. No figure of ours is expected: only the order.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from app.domain.bounce import Trait
from app.domain.evidence import COMPLAINT, Evidence, evidence_of
from app.domain.packet import Axle, Support, Verdict
from app.domain.records import Job
from app.domain.ruling_out import Judged, not_ruled_out, ruling_out, waits_for_ruling_out
from app.domain.sheet import Sheet, StepNow
from app.domain.suspect_table import suspects_from
from app.texts import WORDS
from app.trade.damping import Confidence, TraceReading
from app.trade.quantity import Dimension, from_si
from app.trade.suspects import figure, posterior, rank
from app.use_cases.propose_lines import proposals
from app.use_cases.see_suspects import most_telling
from app.use_cases.suspect_weights import PATH, suspect_table
from tests.suspect_sheets import RULED_OUT, an_inspection, found, step_of, with_all_ruled_out
from tests.unit.procedure_cast import AXLES, a_vehicle, an_axle, the_book
from tests.unit.test_trade_suspects import the_library

TABLE = suspect_table()
STEPS = {step.key: step for step in the_book().procedures["inspection"].steps}


def read(sheet: Sheet) -> Evidence:
    evidence = evidence_of(TABLE, sheet)
    assert evidence is not None
    return evidence


def order_of(sheet: Sheet) -> list[str]:
    evidence = read(sheet)
    return [one.part for one in rank(evidence.network, evidence.seen, explained=0)]


# --- The table against the procedures -------------------------------------------------------------------------


def test_every_step_choice_and_reading_of_the_table_is_the_inspection_s_own() -> None:
    for key, rows in TABLE.signs.items():
        step = STEPS[key]
        assert step.trial is not None
        choices = {one.key for one in step.trial.choices}
        for row in rows:
            assert {*row.shows, *row.clean} <= choices, key
            assert not set(row.shows) & set(row.clean), key
            assert set(row.readings) <= {one.id for one in step.measures}, key


def test_every_choice_that_speaks_against_a_part_is_a_sign_or_is_known_to_say_nothing() -> None:
    """A new choice of the inspection has to be thought about here."""
    says_nothing = {
        ("tyre_size", "no_placard"),  # nothing was compared
        ("steering_play", "no_limit"),  # play without a limit is not judged by the number
        ("ride_height", "high"),  # a wrong spring, not a worn one
    }
    silent = set()
    for key, rows in TABLE.signs.items():
        step = STEPS[key]
        assert step.trial is not None
        shown = {choice for row in rows for choice in row.shows}
        silent |= {(key, one.key) for one in step.trial.choices if not one.passes and one.key not in shown}

    assert silent == says_nothing


def test_every_test_of_the_inspection_is_in_the_table() -> None:
    about = {"complaint", "complaint_when", "complaint_where", "complaint_changes", "fit_to_drive", "road_test"}
    tests = {key for key, step in STEPS.items() if step.trial is not None}

    assert tests - about == set(TABLE.signs)


def test_every_answer_about_the_complaint_is_in_the_table() -> None:
    def choices(key: str) -> set[str]:
        trial = STEPS[key].trial
        assert trial is not None
        assert all(one.passes for one in trial.choices), "a question, not a test"
        return {one.key for one in trial.choices}

    complaint = TABLE.complaint
    assert choices(complaint.kind) == {*complaint.kinds, "none"}
    assert choices(complaint.when.step) == set(complaint.when.fits)
    assert choices(complaint.changes.step) == set(complaint.changes.fits)
    assert choices(complaint.where.step) == set(complaint.where.places)


def test_what_is_ruled_out_are_steps_of_the_inspection_and_parts_renew_by_procedures_there_are() -> None:
    for steps in TABLE.rule_out.values():
        assert set(steps) <= set(STEPS)
    for row in TABLE.parts.values():
        assert set(row.there_with) <= set(STEPS)
        assert set(row.work) <= set(the_book().procedures)
        assert bool(row.work) or not row.suspension or row.at == "axle"


def test_every_part_of_the_table_and_all_that_is_ruled_out_has_words() -> None:
    assert {key for key in WORDS if key.startswith("suspect_part.")} == {f"suspect_part.{key}" for key in TABLE.parts}
    assert {key for key in WORDS if key.startswith("rule_out.")} == {f"rule_out.{key}" for key in TABLE.rule_out}


def test_the_table_says_whose_judgement_its_weights_are() -> None:
    assert any("own judgement" in line for line in TABLE.about)


@pytest.mark.parametrize(
    ("where", "value"),
    [
        (("parts", "damper", "prior"), 0),
        (("parts", "damper", "prior"), 1_000),
        (("parts", "damper", "prior"), 0.5),
        (("parts", "damper", "prior"), "110"),
        (("complaint", "kinds", "clunk", "links"), {"gearbox": 100}),
        (("stand_ins",), {"load_joint": ["gearbox"]}),
        (("v",), 2),
        (("surprise",), 1),
    ],
)
def test_a_table_that_does_not_hold_together_is_refused(where: tuple[str, ...], value: object) -> None:
    data = json.loads(PATH.read_text("utf-8"))
    at = data
    for key in where[:-1]:
        at = at[key]
    at[where[-1]] = value

    with pytest.raises(ValidationError):
        suspects_from(data)


@pytest.mark.parametrize(("layout", "place"), AXLES)
def test_each_layout_has_the_suspects_its_axle_has(layout: str, place: str) -> None:
    """A strut has no load joint, one with the coil on its arm no follower, a twist beam no joint at all."""
    held = place or layout
    families = {one.family for one in read(Sheet("job", an_inspection(layout, place=place))).places.values()}

    assert ("load_joint" in families) is (held not in ("strut", "twist_beam", "solid_coil", "solid_leaf"))
    assert ("follower_joint" in families) is (held not in ("strut_arm_coil", "twist_beam", "solid_coil", "solid_leaf"))
    assert ("axle_joint" in families) is (held in ("solid_coil", "solid_leaf"))
    assert ({"top_bearing", "top_mount"} <= families) is (held in ("strut", "strut_arm_coil"))
    assert {"spring", "damper", "tyre", "wheel_bearing", "steering", "brake"} <= families


@pytest.mark.parametrize(("layout", "place"), AXLES)
def test_no_part_shares_more_signs_than_the_guard_reckons_with_quickly(layout: str, place: str) -> None:
    network = read(Sheet("job", an_inspection(layout, Axle.FRONT, Axle.REAR, place=place, adas="yes"))).network

    for part in network.parts:
        shared = [one for one in network.signs if part.key in one.links and len(one.links) > 1]
        assert len(shared) <= 7, part.key


def test_a_wear_indicator_on_an_axle_without_a_load_joint_speaks_of_the_joint_it_has() -> None:
    network = read(Sheet("job", an_inspection("strut"))).network

    sign = network.sign_by_key["front.wear_indicator.left.flush"]
    assert set(sign.links) == {"front.left.follower_joint"}


# --- What counts -----------------------------------------------------------------------------------------------


def test_a_sheet_without_an_inspection_has_no_evidence() -> None:
    assert evidence_of(TABLE, Sheet("job")) is None


def test_a_finding_at_the_suspension_counts_only_once_the_others_are_judged() -> None:
    packet = an_inspection()
    leak = {"damper_leak.left": "running"}

    early, late = read(found(packet, leak)), read(with_all_ruled_out(packet, leak))

    assert [one.step.key for one in early.waiting] == ["damper_leak"]
    assert "front.damper_leak.left.running" not in early.seen
    assert late.seen["front.damper_leak.left.running"]
    assert not late.waiting
    assert "front.damper_leak.left" not in {one.step.id for one in early.open_tests}


@pytest.mark.parametrize("left_out", [*RULED_OUT, "tyre_pressure"])
def test_each_of_the_four_keeps_a_finding_from_counting_while_one_side_is_open(left_out: str) -> None:
    packet = an_inspection()
    sheet = with_all_ruled_out(packet, {"damper_leak.left": "running"})
    step = next(one for one in packet.steps if one.key == left_out)
    sheet = sheet.with_step(step.id, StepNow())

    group = next(key for key, steps in TABLE.rule_out.items() if left_out in steps)
    assert not_ruled_out(TABLE, sheet, "front") == (group,)
    assert waits_for_ruling_out(TABLE, sheet, step_of(packet, "damper_leak.left")) == (group,)


def test_sound_needs_no_ruling_out_and_neither_do_the_others_own_findings() -> None:
    evidence = read(found(an_inspection(), {"damper_leak.left": "dry", "brakes.left": "drag"}))

    assert evidence.seen["front.damper_leak.left.running"] is False
    assert evidence.seen["front.brakes.left.drag"] is True
    assert not evidence.waiting


def test_one_axle_s_ruling_out_does_not_count_for_the_other() -> None:
    packet = an_inspection("wishbone_lower_coil", Axle.FRONT, Axle.REAR)
    front = {step.id: RULED_OUT[step.key] for step in packet.steps if step.line == "front" and step.key in RULED_OUT}
    sheet = found(packet, {**front, "front.damper_leak.left": "running", "rear.damper_leak.left": "running"})
    for step in packet.steps:
        if step.line == "front" and step.key in ("tyre_pressure", "tyre_wear", "steering_play"):
            whole = with_all_ruled_out(packet, {}).step(step.id)
            sheet = sheet.with_step(step.id, StepNow(readings=whole.readings, outcome=sheet.step(step.id).outcome))

    assert not_ruled_out(TABLE, sheet, "front") == ()
    assert set(not_ruled_out(TABLE, sheet, "rear")) == {"tyres", "wheel_bearings", "brakes"}
    assert [one.step.id for one in read(sheet).waiting] == ["rear.damper_leak.left"]


def test_what_is_judged_and_not_sound_is_told_apart() -> None:
    sheet = with_all_ruled_out(an_inspection(), {"brakes.left": "drag"})

    judged = {one.key: one.judged for one in ruling_out(TABLE, sheet, "front")}

    assert judged["brakes"] is Judged.FOUND
    assert judged["steering"] is Judged.SOUND


def test_what_a_person_judged_sound_all_the_same_does_not_count_and_is_shown() -> None:
    evidence = read(with_all_ruled_out(an_inspection(), {"damper_leak.left": "running!"}))

    assert [one.step.key for one in evidence.overruled] == ["damper_leak"]
    assert "front.damper_leak.left.running" not in evidence.seen


def test_a_value_over_its_limit_counts_whatever_was_chosen() -> None:
    packet = an_inspection()
    sheet = with_all_ruled_out(packet, {"joint_play_load.left": "within"})
    step = step_of(packet, "joint_play_load.left")
    typed = {"load_axial": "1.6 mm", "load_axial_limit": "1.2 mm", "load_radial": "0.2 mm"}
    over = found(packet, {"joint_play_load.left": "within"}, {"joint_play_load.left": typed}).step(step.id)

    evidence = read(sheet.with_step(step.id, over))

    assert evidence.seen["front.joint_play_load.left.over"]
    assert evidence.said["front.joint_play_load.left.over"].beyond == ("Axial play",)


def test_a_choice_that_says_nothing_is_no_evidence_and_no_open_test() -> None:
    evidence = read(with_all_ruled_out(an_inspection(), {"bounce.left": "not_telling"}))

    assert not [key for key in evidence.seen if ".bounce." in key]
    assert not [one for one in evidence.open_tests if one.step.id == "front.bounce.left"]


def test_the_newest_of_two_answers_about_the_complaint_counts() -> None:
    packet = an_inspection("strut", Axle.FRONT, Axle.REAR)
    evidence = read(found(packet, {"front.complaint": "clunk", "rear.complaint": "sag"}))

    assert evidence.said[COMPLAINT].seen == "Sags or sits crooked"
    assert {one.key for one in evidence.unasked} == {"complaint_when", "complaint_where", "complaint_changes"}


def test_no_complaint_is_no_evidence() -> None:
    assert COMPLAINT not in read(found(an_inspection(), {"complaint": "none"})).seen


# --- The trace of a bounce ----------------------------------------------------------------------------------------

SWINGS_ON, TOO_STIFF = "front.bounce.left.swings_on", "front.bounce.left.too_stiff"


def traced(ratio: float, within: float = 0.01) -> TraceReading:
    return TraceReading(
        from_si(Dimension.RATIO, ratio), from_si(Dimension.RATIO, within), from_si(Dimension.FREQUENCY, 1.4),
        from_si(Dimension.RATIO, 3), from_si(Dimension.RATIO, 0), Confidence.GOOD,
    )  # fmt: skip


def with_traces(outcomes: Mapping[str, str], **sides: float | TraceReading) -> Evidence:
    traces = {
        f"front.bounce.{side}": one if isinstance(one, TraceReading) else traced(one) for side, one in sides.items()
    }
    evidence = evidence_of(TABLE, with_all_ruled_out(an_inspection(), outcomes), traces)
    assert evidence is not None
    return evidence


@pytest.mark.parametrize(
    ("left", "swings_on", "too_stiff"),
    [
        # Usual for road cars is 0.2 to 0.4: `trade.damping.against_typical`, with its source.
        (traced(0.10), True, None),
        (traced(0.19, 0.02), None, False),
        (traced(0.30), False, False),
        (traced(0.40, 0.03), False, None),
        (traced(0.48, 0.05), None, True),
        (traced(0.30, 0.15), None, None),
    ],
)
def test_a_trace_is_a_sign_where_its_own_uncertainty_leaves_no_doubt(
    left: TraceReading, swings_on: bool | None, too_stiff: bool | None
) -> None:
    evidence = with_traces({}, left=left)

    assert evidence.seen.get(SWINGS_ON) is swings_on
    assert evidence.seen.get(TOO_STIFF) is too_stiff


@pytest.mark.parametrize(
    ("left", "right", "shows"),
    [
        (traced(0.24), traced(0.39), True),
        (traced(0.39), traced(0.24), False),
        (traced(0.30), traced(0.33), False),
        (traced(0.24, 0.03), traced(0.39, 0.03), None),
    ],
)
def test_a_side_far_weaker_than_the_other_shows_the_sign_and_the_stronger_one_does_not(
    left: TraceReading, right: TraceReading, shows: bool | None
) -> None:
    """More than three tenths short of the other side, by the table; each lies within what is usual by itself."""
    assert with_traces({}, left=left, right=right).seen.get(SWINGS_ON) is shows


def test_far_apart_raises_the_weaker_side_s_damper_and_leaves_the_other() -> None:
    alone, beside = with_traces({}, left=0.24), with_traces({}, left=0.24, right=0.39)

    def of(evidence: Evidence, side: str) -> float:
        return figure(evidence.network, evidence.seen, f"front.{side}.damper")

    assert of(beside, "left") > of(alone, "left")
    assert of(beside, "right") < of(beside, "left")
    assert beside.said[SWINGS_ON].traced is not None
    assert beside.said[SWINGS_ON].traced.says == (Trait.APART,)


def test_a_trace_counts_like_the_same_bounce_counted_and_both_count_once() -> None:
    counted = with_traces({"bounce.left": "swings_on"})
    recorded = with_traces({}, left=0.10)
    both = with_traces({"bounce.left": "swings_on"}, left=0.10)

    figures = [figure(one.network, one.seen, "front.left.damper") for one in (counted, both)]
    assert figures[0] == pytest.approx(figures[1])
    assert recorded.seen[SWINGS_ON]
    assert recorded.network.sign_by_key[SWINGS_ON] == counted.network.sign_by_key[SWINGS_ON]


def test_a_trace_below_counts_whatever_was_chosen_but_not_where_the_car_does_not_let_it_be_told() -> None:
    still, not_telling = (with_traces({"bounce.left": one}, left=0.10) for one in ("still", "not_telling"))

    assert still.seen[SWINGS_ON]
    assert SWINGS_ON not in not_telling.seen
    assert [one.sign for one in not_telling.overruled] == [SWINGS_ON]


def test_a_trace_waits_for_the_ruling_out_as_a_finding_does_and_a_clear_one_does_not() -> None:
    sheet = Sheet("job", an_inspection())
    weak = evidence_of(TABLE, sheet, {"front.bounce.left": traced(0.10)})
    clear = evidence_of(TABLE, sheet, {"front.bounce.left": traced(0.30)})

    assert weak is not None
    assert clear is not None
    assert [one.sign for one in weak.waiting] == [SWINGS_ON]
    assert SWINGS_ON not in weak.seen
    assert clear.seen[SWINGS_ON] is False


@given(st.data())
@settings(max_examples=60, deadline=None)
def test_a_trace_more_never_goes_the_wrong_way(data: st.DataObject) -> None:
    """One more recorded bounce, beside whatever else was found: what speaks for a damper never lowers it, what clears
    it never raises it, and the other side is moved by nothing but being compared."""
    ratios = st.builds(traced, st.floats(0.02, 0.6), st.floats(0.002, 0.2))
    choices = st.sampled_from(["", "still", "swings_on", "too_stiff", "not_telling"])
    outcomes = {
        **{f"bounce.{side}": one for side in ("left", "right") if (one := data.draw(choices))},
        **data.draw(st.sampled_from([{}, {"damper_leak.left": "running"}, {"coil.left": "bump_stop"}])),
        "complaint": data.draw(st.sampled_from(["float", "clunk", "none"])),
    }
    other = {"right": data.draw(ratios)} if data.draw(st.booleans()) else {}
    before, after = with_traces(outcomes, **other), with_traces(outcomes, **other, left=data.draw(ratios))

    for side in ("left", "right"):
        part = f"front.{side}.damper"
        signs = [key for key in after.network.sign_by_key if key.startswith(f"front.bounce.{side}.")]
        turned = {after.seen.get(key) for key in signs if after.seen.get(key) != before.seen.get(key)}
        elsewhere = {key for key in after.seen.keys() | before.seen if after.seen.get(key) != before.seen.get(key)}
        moved = figure(after.network, after.seen, part) - figure(before.network, before.seen, part)
        if not elsewhere:
            assert moved == pytest.approx(0, abs=1e-9)
        elif turned == {True} and elsewhere <= set(signs):
            assert moved >= -1e-9
        elif turned == {False} and elsewhere <= set(signs):
            assert moved <= 1e-9


# --- Laws on the real table -------------------------------------------------------------------------------------

STRUT = an_inspection("strut")
TESTED = [step for step in STRUT.steps if step.key in TABLE.signs and step.key not in RULED_OUT]


@given(st.data())
@settings(max_examples=40, deadline=None)
def test_on_the_real_table_one_more_test_never_goes_the_wrong_way(data: st.DataObject) -> None:
    """Any clean result of a test leaves its parts where they were or lower, any other leaves them or raises them."""
    asked = data.draw(st.lists(st.sampled_from(TESTED), max_size=6, unique_by=lambda step: step.id))
    before = {step.id: data.draw(_choice_of(step)) for step in asked}
    extra = data.draw(st.sampled_from([step for step in TESTED if step.id not in before]))
    result = data.draw(_choice_of(extra))

    old = read(with_all_ruled_out(STRUT, {"complaint": "clunk", **before}))
    new = read(with_all_ruled_out(STRUT, {"complaint": "clunk", **before, extra.id: result}))

    added = {key: value for key, value in new.seen.items() if key not in old.seen}
    for part in new.places:
        its = {value for key, value in added.items() if part in new.network.sign_by_key[key].links}
        moved = figure(new.network, new.seen, part) - figure(old.network, old.seen, part)
        if its == {True}:
            assert moved >= -1e-9
        if its == {False}:
            assert moved <= 1e-9


def _choice_of(step: object) -> st.SearchStrategy[str]:
    return st.sampled_from([one.key for one in step.trial.choices])  # type: ignore[attr-defined]


@pytest.mark.parametrize("kind", sorted(TABLE.complaint.kinds))
def test_an_answer_that_fits_a_part_never_lowers_it(kind: str) -> None:
    """The complaint is one sign: an answer takes from the parts it does not fit, and so leaves or raises the others."""
    packet = an_inspection("wishbone_lower_coil")
    plain = read(found(packet, {"complaint": kind}))
    for answers, name in ((TABLE.complaint.when, "complaint_when"), (TABLE.complaint.changes, "complaint_changes")):
        for answer, fits in answers.fits.items():
            told = read(found(packet, {"complaint": kind, name: answer}))
            for key, place in told.places.items():
                moved = figure(told.network, told.seen, key) - figure(plain.network, plain.seen, key)
                if fits is None:
                    assert moved == pytest.approx(0)
                elif place.family in fits:
                    assert moved >= -1e-9


def test_the_corner_the_customer_points_at_comes_before_the_same_part_elsewhere() -> None:
    packet = an_inspection("wishbone_lower_coil", Axle.FRONT, Axle.REAR)
    for axle, side in product(("front", "rear"), ("left", "right")):
        evidence = read(found(packet, {"front.complaint": "clunk", "front.complaint_where": f"{axle}_{side}"}))
        exact = posterior(evidence.network, evidence.seen)
        here = exact[f"{axle}.{side}.stabiliser_link"]
        others = [exact[f"{a}.{s}.stabiliser_link"] for a, s in product(("front", "rear"), ("left", "right"))]
        assert here == max(others)
        assert sorted(others)[-2] < here


# --- Worked cases -----------------------------------------------------------------------------------------------

# What was found, and what a chassis technician would suspect first. Common practice, no source, unless one is named.
WORKED: Mapping[str, tuple[str, Mapping[str, str], str]] = {
    "bounces on and on, oil runs from the seal": (
        # Running oil, not a film: Directive 2014/45/EU annex I, 5.3.2.
        "strut",
        {"complaint": "float", "complaint_when": "bumps", "bounce.left": "swings_on", "damper_leak.left": "running"},
        "front.left.damper",
    ),
    "cups in the tread, and the corner keeps swinging": (
        "wishbone_lower_coil",
        {"complaint": "tyres", "tyre_wear.right": "cupped", "bounce.right": "swings_on"},
        "front.right.damper",
    ),
    "collar of the wear indicator flush, clunk in turns": (
        # Flush or sunk is rejected: Utah R714-160-10(1)(a).
        "wishbone_lower_coil",
        {"complaint": "clunk", "complaint_when": "turning", "wear_indicator.left": "flush"},
        "front.left.load_joint",
    ),
    "visible movement in a follower that should have none": (
        "wishbone_lower_coil",
        {"complaint": "clunk", "joint_play_follower.right": "visible", "joint_play_load.right": "none"},
        "front.right.follower_joint",
    ),
    "play over the limit, boot split, joint pops": (
        "wishbone_upper_coil",
        {"complaint": "clunk", "joint_play_load.left": "over", "joint_boot.left": "split", "joint_noise.left": "clunk"},
        "front.left.load_joint",
    ),
    "the coil winds up and jumps when parking": (
        "strut",
        {"complaint": "clunk", "complaint_when": "parking", "strut_top_bearing.left": "winds"},
        "front.left.top_bearing",
    ),
    "the strut's top lifts over bumps": (
        "strut",
        {"complaint": "clunk", "complaint_when": "bumps", "strut_top_bushing.right": "knocks"},
        "front.right.top_mount",
    ),
    "rattles on rough road, link loose": (
        "strut",
        {"complaint": "clunk", "complaint_when": "bumps", "stabiliser_links.right": "loose"},
        "front.right.stabiliser_link",
    ),
    "rolls in turns, bushings crushed": (
        "wishbone_lower_coil",
        {"complaint": "roll", "complaint_when": "turning", "stabiliser_bushings": "crushed"},
        "front.axle.stabiliser_bushing",
    ),
    "pulls when braking, rear arm bushing squeezed out": (
        "multilink_link_coil",
        {"complaint": "pull", "complaint_when": "braking", "arm_bushing_rear.left": "squeezed"},
        "front.left.rear_bushing",
    ),
    "sits low on the left, coil broken": (
        "wishbone_lower_coil",
        {"complaint": "sag", "complaint_where": "front_left", "ride_height": "side_difference", "coil.left": "broken"},
        "front.left.spring",
    ),
    "pulls to one side, that brake drags": (
        "strut",
        {"complaint": "pull", "complaint_where": "front_right", "brakes.right": "drag"},
        "front.right.brake",
    ),
    "growls at speed, bearing rough": (
        "strut",
        {"complaint": "shimmy", "complaint_when": "speed", "wheel_bearing.left": "rough"},
        "front.left.wheel_bearing",
    ),
    "feathered tyre, track rod end moves": (
        # Feathered: toe. TM 9-2610-200-14 p. 2-12 shows the wear; the cause is common practice.
        "wishbone_lower_coil",
        {"complaint": "tyres", "tyre_wear.left": "feathered", "steering_linkage.left": "outer"},
        "front.left.track_rod",
    ),
    "king pin knocks": (
        "solid_leaf",
        {"complaint": "shimmy", "axle_joint_play.left": "binds"},
        "front.left.axle_joint",
    ),
    "sinks overnight, bellows bubble": (
        "air",
        {"complaint": "sag", "complaint_when": "standing", "air_spring.right": "sinks"},
        "front.right.spring",
    ),
}


@pytest.mark.parametrize(("layout", "seen", "first"), WORKED.values(), ids=WORKED.keys())
def test_a_worked_case_puts_first_what_a_technician_would(layout: str, seen: Mapping[str, str], first: str) -> None:
    place = "wishbone_lower_coil" if layout == "air" else ""
    packet = an_inspection(layout, place=place)

    assert order_of(with_all_ruled_out(packet, seen))[0] == first


def test_the_same_test_clean_takes_the_part_from_the_front() -> None:
    packet = an_inspection("strut")
    with_link = {"complaint": "clunk", "complaint_when": "bumps", "stabiliser_links.right": "loose"}
    clean = {**with_link, "stabiliser_links.right": "sound"}

    places = [
        order_of(with_all_ruled_out(packet, seen)).index("front.right.stabiliser_link") for seen in (with_link, clean)
    ]

    assert places[0] == 0
    assert places[1] > 10


# --- The next most telling test ------------------------------------------------------------------------------


def test_the_most_telling_test_is_one_nobody_has_made_and_each_is_named_once() -> None:
    sheet = with_all_ruled_out(an_inspection("strut"), {"complaint": "clunk", "stabiliser_links.left": "sound"})
    evidence = read(sheet)

    named = most_telling(sheet, evidence)

    ids = [one.test.step.id for one in named]
    assert len(ids) == len(set(ids))
    assert "front.stabiliser_links.left" not in ids
    assert all(sheet.step(key).outcome is None for key in ids)
    assert all(first.bits >= second.bits - 1e-8 for first, second in pairwise(named))
    assert named[0].bits > 0


def test_a_rattle_over_bumps_asks_for_the_links_first_and_a_float_for_the_dampers() -> None:
    """Common practice, no source: begin with what most often makes this complaint."""
    packet = an_inspection("strut")

    def first(kind: str) -> str:
        sheet = with_all_ruled_out(packet, {"complaint": kind, "complaint_when": "bumps"})
        return most_telling(sheet, read(sheet))[0].test.step.key

    assert first("clunk") == "stabiliser_links"
    assert first("float") in ("bounce", "damper_leak")


def test_whether_it_can_be_made_now_follows_how_the_vehicle_is_held() -> None:
    sheet = with_all_ruled_out(an_inspection("strut"), {"complaint": "float"})

    ways = {one.test.step.key: one.now for one in most_telling(sheet, read(sheet))}

    assert sheet.support.state is Support.ON_WHEELS
    assert ways["bounce"]
    assert not ways["damper_leak"]


def test_the_verdict_alone_changes_nothing_in_the_order() -> None:
    """Watch and replace say what to do about it; what was seen is the evidence."""
    packet = an_inspection("strut")
    sheet = with_all_ruled_out(packet, {"damper_leak.left": "running"})
    step = step_of(packet, "damper_leak.left")
    outcome = sheet.step(step.id).outcome
    assert outcome is not None
    watched = sheet.with_step(step.id, StepNow(outcome=replace(outcome, verdict=Verdict.WATCH)))

    assert order_of(watched) == order_of(sheet)


# --- The real table against the library -------------------------------------------------------------------------


@pytest.mark.parametrize(
    "seen",
    [
        {"complaint": "sag", "ride_height": "low", "coil.left": "bump_stop"},
        {
            "complaint": "sag",
            "complaint_where": "front_left",
            "tyre_wear.left": "inner_edge",
            "bounce.left": "swings_on",
        },
        {
            "complaint": "sag",
            "tyre_wear.left": "cupped",
            "tyre_wear.right": "feathered",
            "ride_height": "side_difference",
        },
        {
            "tyre_size": "mixed",
            "tyre_wear.left": "outer_edge",
            "axle_bushing_front.left": "play",
            "brakes.right": "drag",
        },
    ],
)
def test_the_real_table_gives_what_the_library_gives(seen: Mapping[str, str]) -> None:
    """On the axle with the fewest parts, whose signs the library can hold as tables."""
    packet = an_inspection("twist_beam", stabiliser="no")
    evidence = read(with_all_ruled_out(packet, seen))
    engine = the_library(evidence.network, evidence.seen)
    engine.makeInference()

    for part, ours in posterior(evidence.network, evidence.seen).items():
        assert ours == pytest.approx(engine.posterior(part)[1], abs=1e-9), part


# --- What a finding proposes ------------------------------------------------------------------------------------------


def test_a_proposal_says_what_keeps_its_finding_from_counting() -> None:
    packet = an_inspection("strut")
    vehicle = a_vehicle(an_axle("strut"), an_axle("strut"))
    job = Job("job", "1", "v1", "c1", "It swings", None, datetime(2026, 3, 2, tzinfo=UTC), "p", None, ())
    leak = {"damper_leak.left": "running"}

    early = proposals(the_book(), vehicle, job, found(packet, leak))
    late = proposals(the_book(), vehicle, job, with_all_ruled_out(packet, leak))

    assert [one.waits for one in early] == [("tyres", "wheel_bearings", "steering", "brakes")]
    assert [one.waits for one in late] == [()]
    assert [one.row for one in early] == [one.row for one in late]
