"""What readings of one step say together. Figures of the reference table `alignment.csv` where it has them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.findings import findings
from app.domain.packet import Axle, Measure, Step, Support
from app.domain.procedure import load_book
from app.domain.sheet import Mark, Taken
from app.texts import WORDS
from tests.builders import ADA, Play, a_packet, a_step
from tests.unit.procedure_cast import SHARED
from tests.unit.test_view import see

MARK = Mark("p-ada", "Ada", 0, "e-1")
FOUR = ("front_left", "front_right", "rear_left", "rear_right")


def a_measuring_step(dimension: str, *names: str, axle: Axle = Axle.FRONT) -> Step:
    unit = "mm" if dimension == "length" else "°"
    return a_step("measure", axle=axle, measures=tuple(Measure(one, one, dimension, unit) for one in names))


def taken(**values: int) -> dict[str, Taken]:
    return {name: Taken(MARK, value, str(value), "") for name, value in values.items()}


def amounts(step: Step, readings: dict[str, Taken]) -> dict[str, int]:
    return {one.key: one.amount.value for one in findings(step, readings)}


@pytest.mark.parametrize("prefix", ["", "height_"])
def test_four_heights_give_both_sides_and_the_rake(prefix: str) -> None:
    """380 - 372 = 8; 394 - 396 = -2; (394 + 396)/2 - (380 + 372)/2 = 19, all by hand."""
    step = a_measuring_step("length", *(prefix + one for one in FOUR))
    heights = dict(zip(step.measures, (380_000, 372_000, 394_000, 396_000), strict=True))

    found = amounts(step, taken(**{measure.id: height for measure, height in heights.items()}))

    assert found == {"side_front": 8_000, "side_rear": -2_000, "rake": 19_000}


def test_nothing_is_said_of_a_side_that_was_not_measured() -> None:
    step = a_measuring_step("length", *FOUR)

    assert amounts(step, taken(front_left=380_000, rear_right=395_000)) == {}
    assert amounts(step, taken(front_left=380_000, front_right=380_000)) == {"side_front": 0}


def test_rear_toe_gives_total_and_thrust_by_the_reference_row() -> None:
    """A-08a: left 0.2°, right 0.05° point 0.075° to the right."""
    step = a_measuring_step("angle", "toe_left", "toe_right", axle=Axle.REAR)

    assert amounts(step, taken(toe_left=200, toe_right=50)) == {"total_toe": 250, "thrust": 75}


def test_front_toe_has_a_total_and_no_thrust() -> None:
    """A-09c: 0.10° and 0.15° are 0.25° together."""
    step = a_measuring_step("angle", "toe_left", "toe_right")

    assert amounts(step, taken(toe_left=100, toe_right=150)) == {"total_toe": 250}


def test_camber_and_caster_are_crossed_left_less_right() -> None:
    """A-09a: -0.5 less -0.8 is 0.3; A-09b: 3.2 less 3.6 is -0.4."""
    step = a_measuring_step("angle", "camber_left", "camber_right", "caster_left", "caster_right")

    found = amounts(step, taken(camber_left=-500, camber_right=-800, caster_left=3_200, caster_right=3_600))

    assert found == {"cross_camber": 300, "cross_caster": -400}


def test_other_things_measured_on_both_sides_are_compared_where_they_are_lengths() -> None:
    step = a_measuring_step("length", "level_left", "level_right")

    assert amounts(step, taken(level_left=350_000, level_right=346_000)) == {"side": 4_000}


def test_play_is_compared_with_the_limit_typed_for_its_direction() -> None:
    """1.8 - 1.2 = 0.6 beyond; 0.8 - 0.3 = 0.5 below, by hand. The key says which way, the amount has no sign."""
    step = a_measuring_step("length", "load_axial", "load_axial_limit", "load_radial", "load_radial_limit")
    readings = taken(load_axial=1_800, load_axial_limit=1_200, load_radial=300, load_radial_limit=800)

    assert amounts(step, readings) == {"beyond_limit_axial": 600, "within_limit_radial": 500}
    assert [one.text for one in findings(step, readings)] == ["0.6 mm", "0.5 mm"]


def test_one_limit_for_a_joint_counts_for_both_directions() -> None:
    step = a_measuring_step("length", "follower_radial", "follower_axial", "follower_limit")

    found = amounts(step, taken(follower_radial=200, follower_axial=600, follower_limit=500))

    assert found == {"within_limit_radial": 300, "beyond_limit_axial": 100}


def test_a_value_at_its_limit_is_not_beyond_it() -> None:
    step = a_measuring_step("length", "free_play", "free_play_limit")

    assert amounts(step, taken(free_play=30_000, free_play_limit=30_000)) == {"within_limit": 0}


def test_without_a_limit_nothing_is_said_of_play() -> None:
    step = a_measuring_step("length", "load_axial", "load_axial_limit")

    assert amounts(step, taken(load_axial=1_800)) == {}


def test_a_stated_height_is_compared_with_the_axle_of_the_step_alone() -> None:
    """643 - 655 = -12; 657 - 655 = 2, by hand. The rear axle has a height of its own."""
    step = a_measuring_step("length", *(f"height_{one}" for one in FOUR), "height_stated")
    heights = {f"height_{one}": value for one, value in zip(FOUR, (643_000, 657_000, 668_000, 667_000), strict=True)}

    found = amounts(step, taken(**heights, height_stated=655_000))

    assert (found["stated_left"], found["stated_right"]) == (-12_000, 2_000)
    assert "stated_left" not in amounts(step, taken(height_rear_left=668_000, height_stated=655_000))


LIMITS = [f"{way}_limit{what}" for way in ("beyond", "within") for what in ("", "_axial", "_radial")]
SIDES = ["side", "side_front", "side_rear", "rake", "stated_left", "stated_right"]
ANGLES = ["total_toe", "thrust", "cross_camber", "cross_caster"]


@pytest.mark.parametrize("key", [*LIMITS, *SIDES, *ANGLES])
def test_every_comparison_has_its_words(key: str) -> None:
    assert f"finding.{key}" in WORDS


def test_every_limit_that_a_procedure_asks_for_is_compared_with_something() -> None:
    """A limit nobody compares would be typed for nothing."""
    asked = [
        ({one.id for one in step.measures}, limit.id)
        for procedure in load_book(SHARED).procedures.values()
        for step in procedure.steps
        for limit in step.measures
        if limit.id.endswith("_limit")
    ]

    assert asked
    for names, limit in asked:
        own = a_measuring_step("length", *sorted(names))
        assert findings(own, taken(**dict.fromkeys(names, 1_000))), limit


@given(st.tuples(*[st.integers(1, 2_000_000)] * 4))
def test_lifting_every_corner_alike_changes_no_comparison(heights: tuple[int, int, int, int]) -> None:
    step = a_measuring_step("length", *FOUR)
    higher = {name: height + 40_000 for name, height in zip(FOUR, heights, strict=True)}

    assert amounts(step, taken(**dict(zip(FOUR, heights, strict=True)))) == amounts(step, taken(**higher))


def test_the_sheet_shows_the_comparison_with_what_it_was_made_from() -> None:
    step = a_measuring_step("length", *FOUR)
    play = Play(a_packet(step, gates=()))
    play.holds_vehicle(Support.ON_WHEELS)
    play.measures("380 mm", step="measure", measure="front_left")
    play.measures("372 mm", step="measure", measure="front_right")

    shown = see(play, ADA)["hand"]["measures"]["findings"]

    assert shown == [
        {"label": "Front, left less right", "text": "+8.0 mm", "inputs": "380 mm, 372 mm", "certainty": ""}
    ]
