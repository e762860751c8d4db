"""What stands, lifts, jacks and compressors have to bear, against cases worked by hand and named sources."""

from __future__ import annotations

from dataclasses import replace

import pytest

from app.domain.packet import Axle
from app.domain.reckoning import heaviest_stand, reckon
from app.domain.records import SpringFacts, Vehicle
from app.trade.loads import AxleMasses
from app.trade.problems import OutOfRange
from app.trade.quantity import Dimension, Quantity
from tests.unit.procedure_cast import SHOP, a_vehicle, an_axle

# 1500 kg, centre of gravity 1.5 m ahead of the rear axle, wheelbase 2.7 m: 833.333 kg in front, the rest behind.
FRONT_G, REAR_G, BASE_UM = 833_333, 666_667, 2_700_000


def the_car(**more: object) -> Vehicle:
    return a_vehicle(an_axle(mass_g=FRONT_G), an_axle("solid_leaf", mass_g=REAR_G), **more)  # type: ignore[arg-type]


def kg(value: int) -> Quantity:
    return Quantity(Dimension.MASS, value)


def mm(value: int) -> Quantity:
    return Quantity(Dimension.LENGTH, value * 1_000)


def test_one_end_up_on_stands_600_mm_inboard_puts_536_kg_on_each() -> None:
    """Moments about the axle left down: 1500 · 1.5 / 2.1 = 1071.4 kg on the pair, 535.7 kg on each.

    Source: a hand-worked case of statics, no publication; the front stands alone at 2.1 m from the rear axle. With both
    ends up at that distance the pair would carry 1500 · 0.9 / 1.5 = 900 kg, which is less.
    """
    axles = AxleMasses(kg(FRONT_G), kg(REAR_G), Quantity(Dimension.LENGTH, BASE_UM))

    assert heaviest_stand(axles, Axle.FRONT, mm(600)).value == pytest.approx(535_700, rel=0.01)


def test_the_gate_reckons_with_stands_a_quarter_of_the_wheelbase_inboard() -> None:
    """By hand: 1500 · 1.5 / 2.025 = 1111.1 kg on the pair, 555.6 kg on each, and 25 % over it is 694.4 kg.

    The label has to reach the next whole kilogram, so that a stand marked with the figure shown is enough.
    """
    reckoning = reckon("stand_load", the_car(), Axle.FRONT, SHOP)

    assert reckoning.value == 695_000
    assert [line.text for line in reckoning.lines] == ["556 kg", "695 kg"]
    assert "front 833 kg, rear 667 kg, wheelbase 2700 mm" in reckoning.lines[0].inputs
    assert "675 mm" in reckoning.lines[0].inputs
    assert "25 %" in reckoning.lines[1].inputs


def test_stands_set_inboard_have_to_bear_more_than_half_the_axle() -> None:
    """The trap of sizing stands by the axle's weight: half of 833 kg would be 417 kg."""
    reckoning = reckon("stand_load", the_car(), Axle.FRONT, replace(SHOP, stand_margin_percent=0))

    assert reckoning.value is not None
    assert reckoning.value > FRONT_G // 2


def test_the_rear_is_reckoned_about_the_front_axle() -> None:
    """By hand: 1500 · 1.2 / 2.025 = 888.9 kg on the pair; with both ends up 1500 · 0.525 / 1.35 = 583.3 kg."""
    reckoning = reckon("stand_load", the_car(), Axle.REAR, replace(SHOP, stand_margin_percent=0))

    assert reckoning.value == 445_000


def test_a_vehicle_that_would_tip_over_its_stands_is_not_reckoned() -> None:
    """80 % in front puts the weight 2.16 m ahead of the rear axle, beyond the stands' line at 2.025 m: it tips."""
    with pytest.raises(OutOfRange):
        heaviest_stand(AxleMasses(kg(1_200_000), kg(300_000), mm(2_700)), Axle.FRONT, mm(675))
    vehicle = a_vehicle(an_axle(mass_g=1_200_000), an_axle("solid_leaf", mass_g=300_000))

    reckoning = reckon("stand_load", vehicle, Axle.FRONT, SHOP)

    assert reckoning.value is None
    assert "nearer to the axle" in reckoning.needs


def test_how_far_in_the_stands_may_stand_is_what_the_sum_took_for_granted() -> None:
    assert reckon("stand_inboard", the_car(), Axle.FRONT, SHOP).value == BASE_UM // 4


def test_the_lift_has_to_bear_the_whole_vehicle() -> None:
    reckoning = reckon("vehicle_mass", the_car(), Axle.BOTH, SHOP)

    assert reckoning.value == 1_500_000
    assert reckoning.lines[0].text == "1500 kg"


def test_a_jack_has_to_bear_what_stands_on_the_axle() -> None:
    assert reckon("jack_load", the_car(), Axle.FRONT, SHOP).value == 834_000
    assert reckon("jack_load", the_car(), Axle.BOTH, SHOP).value == 834_000


def test_a_coil_compressed_by_150_mm_at_30_newton_a_millimetre() -> None:
    """4500 N and 337.5 J (shown as 338), as much as lifting 34.4 kg by one metre.

    Source: F = k·x and E = k·x²/2, worked by hand; 337.5 / 9.80665 = 34.4.
    """
    force = reckon("spring_force", the_car(), Axle.FRONT, SHOP)
    energy = reckon("spring_energy", the_car(), Axle.FRONT, SHOP)

    (line,) = force.lines
    assert line.text.startswith("4500 N, at most ")
    assert energy.lines[0].text.startswith("338 J, at most ")
    assert "34 kg by one metre" in energy.lines[0].text
    assert "30.0 N/mm" in line.inputs
    assert "400 mm" in line.inputs
    assert "250 mm" in line.inputs
    assert "assumed" in line.certainty


def test_the_gate_counts_with_the_most_the_coil_may_hold_and_a_margin_over_it() -> None:
    force = reckon("spring_force", the_car(), Axle.FRONT, SHOP)
    rating = reckon("compressor_rating", the_car(), Axle.FRONT, replace(SHOP, compressor_margin_percent=50))

    assert force.value is not None
    assert rating.value is not None
    assert force.value >= 4_500_000
    assert rating.value == pytest.approx(force.value * 1.5, abs=1_000)
    assert "50 %" in rating.lines[-1].inputs


@pytest.mark.parametrize(
    ("spring", "needs"),
    [
        (SpringFacts(), "the coil's rate, front axle"),
        (SpringFacts(rate_npm=30_000), "the coil's free length, front axle"),
        (SpringFacts(30_000, 400_000), "the coil's length at ride height, front axle"),
        (SpringFacts(30_000, 250_000, 400_000), "coil figures that go together, front axle"),
        (SpringFacts(0, 400_000, 250_000), "coil figures that go together, front axle"),
    ],
)
@pytest.mark.parametrize("name", ["spring_force", "spring_energy", "compressor_rating"])
def test_a_coil_figure_that_is_missing_or_impossible_is_named(name: str, spring: SpringFacts, needs: str) -> None:
    reckoning = reckon(name, a_vehicle(an_axle(spring=spring)), Axle.FRONT, SHOP)

    assert reckoning.value is None
    assert reckoning.lines == ()
    assert reckoning.needs.startswith(needs)


@pytest.mark.parametrize(
    ("vehicle", "needs"),
    [
        (a_vehicle(an_axle(mass_g=None)), "the mass on the front axle"),
        (a_vehicle(rear=an_axle(mass_g=None)), "the mass on the rear axle"),
        (a_vehicle(wheelbase_um=None), "the wheelbase"),
    ],
)
def test_stands_are_not_reckoned_without_masses_and_wheelbase(vehicle: Vehicle, needs: str) -> None:
    for axle in (Axle.FRONT, Axle.REAR, Axle.BOTH):
        reckoning = reckon("stand_load", vehicle, axle, SHOP)

        assert reckoning.value is None
        assert reckoning.needs == needs


def test_a_waiting_time_is_this_vehicles_own_or_none() -> None:
    known = reckon("hv_wait", the_car(hv_wait_s=600), Axle.BOTH, SHOP)
    unknown = reckon("airbag_wait", the_car(hv_wait_s=600), Axle.BOTH, SHOP)

    assert (known.value, known.text) == (600_000, "10 min")
    assert unknown.value is None
    assert "from its maker" in unknown.needs


def test_for_both_axles_the_harder_counts() -> None:
    front, rear = (reckon("stand_load", the_car(), axle, SHOP).value for axle in (Axle.FRONT, Axle.REAR))

    assert front is not None
    assert rear is not None
    assert reckon("stand_load", the_car(), Axle.BOTH, SHOP).value == max(front, rear)
