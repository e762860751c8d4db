"""Loads: axles, corners, stands, labels, and the lever to the spring."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade import loads
from app.trade.loads import AxleMasses, Basis, Corners
from app.trade.problems import InputMissing, OutOfRange, WrongDimension
from tests.si import force, length, mass, mm, rate, ratio

CAR = loads.axle_split(mass(1500), length(2.7), length(1.2))

vehicles = st.builds(
    lambda kg, base, part: loads.axle_split(mass(kg), length(base), length(base * part)),
    st.floats(600, 4000),
    st.floats(2, 4.5),
    st.floats(0.3, 0.7),
)


# Axles -----------------------------------------------------------------------------------------------------------


@given(vehicles)
def test_the_axles_add_up_to_the_gram_and_lead_back_to_the_same_place(vehicle):
    assert vehicle.total.value == vehicle.front.value + vehicle.rear.value
    again = loads.axle_split(vehicle.total, vehicle.wheelbase, loads.cg_behind_front(vehicle))
    assert again.front.value == pytest.approx(vehicle.front.value, abs=2)


@given(st.floats(600, 4000), st.floats(2, 4), st.floats(0.1, 0.8))
def test_moving_weight_back_loads_the_rear(kg, base, part):
    ahead = loads.axle_split(mass(kg), length(base), length(base * part))
    behind = loads.axle_split(mass(kg), length(base), length(base * (part + 0.1)))
    assert behind.rear.value > ahead.rear.value
    assert behind.front.value < ahead.front.value


@pytest.mark.parametrize("behind", [0, 2.7, -0.1, 3])
def test_a_centre_of_gravity_outside_the_axles_is_refused(behind):
    with pytest.raises(OutOfRange) as refused:
        loads.axle_split(mass(1500), length(2.7), length(behind))
    assert refused.value.argument == "cg_behind_front"


def test_a_load_behind_the_rear_axle_relieves_the_front():
    split = loads.load_split(mass(100), length(2.7), length(3.24))
    assert (split.front.si, split.rear.si) == (-20, 120)


def test_axles_take_no_other_dimension():
    with pytest.raises(WrongDimension):
        loads.axle_split(force(1), length(2.7), length(1.2))
    with pytest.raises(WrongDimension):
        loads.stand_load(AxleMasses(mass(800), force(1), length(2.7)), front_stands_at=length(0.3))
    with pytest.raises(InputMissing):
        loads.axle_split(None, length(2.7), length(1.2))
    with pytest.raises(OutOfRange):
        loads.axle_split(mass(0), length(2.7), length(1.2))


def test_corners_from_axles_say_which_side_shares_were_assumed():
    corners, assumed = loads.corners_from_axles(CAR, left_share_front=ratio(0.52))
    assert assumed == ("left_share_rear",)
    assert corners.front_left.value == round(CAR.front.value * 0.52)
    assert corners.rear_left.value == pytest.approx(corners.rear_right.value, abs=1)
    with pytest.raises(OutOfRange):
        loads.corners_from_axles(CAR, left_share_front=ratio(1.1))


def test_corner_fractions_of_an_even_vehicle_are_halves():
    even = loads.corner_fractions(Corners(mass(400), mass(400), mass(400), mass(400)))
    assert {even.front.si, even.left.si, even.diagonal.si} == {0.5}
    twisted = loads.corner_fractions(Corners(mass(500), mass(400), mass(400), mass(500)))
    assert twisted.diagonal.si == pytest.approx(1000 / 1800, abs=1e-6)
    assert (twisted.front.si, twisted.left.si) == (0.5, 0.5)
    with pytest.raises(OutOfRange):
        loads.corner_fractions(Corners(mass(0), mass(0), mass(0), mass(0)))


# Height of the centre of gravity ---------------------------------------------------------------------------------


@given(vehicles, st.floats(0.2, 1.2), st.floats(0.4, 0.9))
def test_the_height_comes_back_from_the_weighing(vehicle, raised, height):
    weighed = loads.front_mass_when_raised(vehicle, length(raised), length(height), length(0.31))
    assert loads.cg_height(vehicle, length(raised), weighed, length(0.31)).si == pytest.approx(height, abs=2e-4)


@given(vehicles, st.floats(0.1, 1.0))
def test_raising_the_front_takes_weight_off_it(vehicle, raised):
    """The claim at the head of the module: a stand computed level is never computed too light."""
    weighed = loads.front_mass_when_raised(vehicle, length(raised), length(0.55), length(0.31))
    assert weighed.value < vehicle.front.value


def test_impossible_weighings_are_refused():
    for raised in (length(0), length(2.7)):
        with pytest.raises(OutOfRange):
            loads.cg_height(CAR, raised, mass(820), length(0.31))
    with pytest.raises(OutOfRange) as refused:
        loads.cg_height(CAR, length(0.3), mass(900), length(0.31))
    assert refused.value.argument == "front_mass_raised"
    with pytest.raises(OutOfRange):
        loads.front_mass_when_raised(CAR, length(2.7), length(0.5), length(0.31))


# Stands ----------------------------------------------------------------------------------------------------------


@given(vehicles, st.floats(0.02, 0.2))
def test_inboard_stands_carry_more_than_the_axle_did(vehicle, part):
    inboard = length(vehicle.wheelbase.si * part)
    found = loads.stand_load(vehicle, front_stands_at=inboard)
    assert found.front_left is not None
    assert found.front_right is not None
    assert found.front_left.value + found.front_right.value > vehicle.front.value
    assert found.over_axle.value > 0
    rear = loads.stand_load(vehicle, rear_stands_at=length(vehicle.wheelbase.si * (1 - part)))
    assert rear.over_axle.value > 0


@given(vehicles, st.floats(0.0, 0.2), st.floats(0.8, 1.0), st.floats(0.3, 0.7))
def test_supports_always_add_up_to_the_vehicle(vehicle, front, rear, share):
    base = vehicle.wheelbase.si
    at = {"front_stands_at": length(base * front), "rear_stands_at": length(base * rear)}
    for stands in (at, dict(list(at.items())[:1]), dict(list(at.items())[1:])):
        found = loads.stand_load(vehicle, **stands, left_share=ratio(share))
        parts = (
            found.front_left,
            found.front_right,
            found.rear_left,
            found.rear_right,
            found.front_wheels,
            found.rear_wheels,
        )
        assert sum(part.value for part in parts if part is not None) == vehicle.total.value
        assert found.heaviest.value == max(part.value for part in parts[:4] if part is not None)


@given(vehicles, st.floats(0.0, 0.15))
def test_the_further_inboard_the_heavier(vehicle, part):
    base = vehicle.wheelbase.si
    nearer = loads.stand_load(vehicle, front_stands_at=length(base * part))
    further = loads.stand_load(vehicle, front_stands_at=length(base * (part + 0.05)))
    assert further.heaviest.value > nearer.heaviest.value
    assert further.to_tipping.value <= nearer.to_tipping.value


def test_stands_on_the_axle_line_carry_the_axle():
    found = loads.stand_load(CAR, front_stands_at=length(0))
    assert found.over_axle.value == 0
    assert found.rear_wheels == CAR.rear
    assert found.front_wheels is None


def test_an_uneven_side_makes_one_stand_the_heavier():
    even = loads.stand_load(CAR, front_stands_at=length(0.4))
    leaning = loads.stand_load(CAR, front_stands_at=length(0.4), left_share=ratio(0.55))
    assert even.assumed == ("left_share",)
    assert leaning.assumed == ()
    assert leaning.heaviest == leaning.front_left
    assert leaning.heaviest.value > even.heaviest.value


@pytest.mark.parametrize(
    ("stands", "argument"),
    [
        ({"front_stands_at": length(-0.1)}, "front_stands_at"),
        ({"rear_stands_at": length(2.8)}, "rear_stands_at"),
        ({"front_stands_at": length(1.2)}, "front_stands_at"),
        ({"front_stands_at": length(1.1)}, "front_stands_at"),
        ({"front_stands_at": length(1.5)}, "front_stands_at"),
        ({"rear_stands_at": length(1.1)}, "rear_stands_at"),
        ({"front_stands_at": length(0.9), "rear_stands_at": length(0.8)}, "front_stands_at"),
    ],
)
def test_stands_outside_the_wheelbase_or_past_the_weight_are_refused(stands, argument):
    with pytest.raises(OutOfRange) as refused:
        loads.stand_load(CAR, **stands)
    assert refused.value.argument == argument


def test_no_stand_at_all_is_asked_for():
    with pytest.raises(InputMissing):
        loads.stand_load(CAR)


# Labels ----------------------------------------------------------------------------------------------------------


def test_a_label_that_does_not_say_counts_as_the_pairs():
    each = loads.label_margin(mass(1200), mass(2000), Basis.EACH)
    pair = loads.label_margin(mass(1200), mass(2000), Basis.PER_PAIR)
    unsaid = loads.label_margin(mass(1200), mass(2000), Basis.UNSAID)

    assert each.within_label
    assert each.spare.si == 800
    assert not pair.within_label
    assert (unsaid.within_label, unsaid.one_bears, unsaid.counted_as) == (False, pair.one_bears, Basis.PER_PAIR)


def test_the_label_itself_is_the_limit():
    assert loads.label_margin(mass(1000), mass(2000), Basis.PER_PAIR).within_label
    over = loads.label_margin(mass(1000.001), mass(2000), Basis.PER_PAIR)
    assert not over.within_label
    assert over.spare.value == -1


def test_an_odd_gram_is_not_granted():
    assert loads.label_margin(mass(1), mass(2000.001), Basis.UNSAID).one_bears.value == 1_000_000


def test_labels_of_nothing_and_negative_loads_are_refused():
    with pytest.raises(OutOfRange):
        loads.label_margin(mass(1), mass(0), Basis.EACH)
    with pytest.raises(OutOfRange):
        loads.label_margin(mass(-1), mass(100), Basis.EACH)
    with pytest.raises(WrongDimension):
        loads.label_margin(force(1), mass(100), Basis.EACH)
    assert loads.label_margin(mass(0), mass(100), Basis.EACH).within_label


@given(st.floats(1, 3000), st.floats(100, 6000), st.sampled_from(Basis))
def test_the_margin_says_the_same_as_the_verdict(carried, label, basis):
    found = loads.label_margin(mass(carried), mass(label), basis)
    assert found.within_label == (found.spare.value >= 0)
    if abs(found.margin.si - 1) > 1e-4:
        assert found.within_label == (found.margin.si > 1)


# The lever -------------------------------------------------------------------------------------------------------


def test_a_spring_beside_the_wheel_bears_the_corner_and_halfway_in_twice_that():
    beside = loads.spring_forces(mass(400), mass(40), ratio(1), rate(25e3), mm(80))
    halfway = loads.spring_forces(mass(400), mass(40), ratio(0.5), rate(100e3), mm(80))

    assert beside.at_ride_height.si == pytest.approx(360 * 9.80665, abs=1e-3)
    assert halfway.at_ride_height.si == pytest.approx(2 * beside.at_ride_height.si, abs=2e-3)
    assert halfway.hanging.si == pytest.approx(2 * beside.hanging.si, abs=3e-3)


def test_a_hanging_spring_never_pulls():
    loose = loads.spring_forces(mass(400), mass(40), ratio(1), rate(25e3), mm(200))
    assert loose.hanging.value == 0
    assert loose.loose_when_hanging
    assert not loads.spring_forces(mass(400), mass(40), ratio(1), rate(25e3), mm(80)).loose_when_hanging


@given(st.floats(0.4, 1), st.floats(0, 0.15), st.floats(0.01, 0.05))
def test_more_droop_leaves_less_force(mr, droop, more):
    less = loads.spring_forces(mass(500), mass(45), ratio(mr), rate(20e3), length(droop + more))
    assert (
        less.hanging.value
        < loads.spring_forces(mass(500), mass(45), ratio(mr), rate(20e3), length(droop)).hanging.value
    )


def test_impossible_levers_and_masses_are_refused():
    with pytest.raises(OutOfRange) as refused:
        loads.spring_forces(mass(40), mass(40), ratio(1), rate(25e3), mm(80))
    assert refused.value.argument == "unsprung_mass"
    with pytest.raises(OutOfRange):
        loads.motion_ratio(mm(0), mm(10))
    with pytest.raises(OutOfRange):
        loads.wheel_rate(rate(25e3), ratio(0))
    with pytest.raises(WrongDimension):
        loads.wheel_rate(rate(25e3), mm(600))


def test_the_wheel_rate_follows_from_force_and_travel_alone():
    """Moments about the pivot: wheel force = MR × spring force, spring travel = MR × wheel travel."""
    mr = loads.motion_ratio(mm(60), mm(100))
    spring_force = 50e3 * 0.06
    assert loads.wheel_rate(rate(50e3), mr).si == pytest.approx(0.6 * spring_force / 0.1)
