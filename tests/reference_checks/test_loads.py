"""Axles, stands and levers against outside figures (data/loads.csv), and their traps."""

from __future__ import annotations

import numpy as np
import pytest

from app.trade import loads
from app.trade.quantity import Quantity
from tests.reference_checks.chassis_rows import Numbers, cases, check
from tests.si import length, mass, mm, rate, ratio

LB, INCH = 0.45359237, 0.0254
LBF_PER_IN = 4.4482216152605 / INCH


def axles(row: Numbers) -> loads.AxleMasses:
    return loads.axle_split(mass(row["mass_kg"]), length(row["wheelbase_m"]), length(row["cg_m"]))


def newtons(part: Quantity, over: int = 1) -> float:
    return loads.weight(part).si / over


def a_load(row: Numbers) -> loads.Split:
    return loads.load_split(
        mass(row["load_lb"] * LB), length(row["wheelbase_in"] * INCH), length(row["behind_in"] * INCH)
    )


def on_stands(row: Numbers) -> loads.StandLoad:
    at = {f"{end}_stands_at": length(row[f"{end}_stands_m"]) for end in ("front", "rear") if f"{end}_stands_m" in row}
    return loads.stand_load(axles(row), **at)


def pair_kg(*stands: Quantity | None) -> float:
    return sum(stand.si for stand in stands if stand is not None)


def kg(amount: Quantity | None) -> float:
    assert amount is not None
    return amount.si


def springs(row: Numbers) -> loads.SpringForces:
    return loads.spring_forces(
        mass(row["corner_kg"]),
        mass(row["unsprung_kg"]),
        ratio(row["ratio"]),
        rate(row["spring_n_per_mm"] * 1000),
        mm(row["droop_mm"]),
    )


SUMS = {
    "load_on_rear_lb": lambda row: a_load(row).rear.si / LB,
    "load_on_front_lb": lambda row: a_load(row).front.si / LB,
    "weight_n": lambda row: loads.weight(mass(row["mass_kg"])).si,
    "front_axle_n": lambda row: newtons(axles(row).front),
    "rear_axle_n": lambda row: newtons(axles(row).rear),
    "front_wheel_n": lambda row: newtons(axles(row).front, 2),
    "rear_wheel_n": lambda row: newtons(axles(row).rear, 2),
    "front_when_raised_kg": lambda row: (
        loads.front_mass_when_raised(
            axles(row), length(row["raised_m"]), length(row["height_m"]), length(row["radius_m"])
        ).si
    ),
    "cg_height_m": lambda row: (
        loads.cg_height(axles(row), length(row["raised_m"]), mass(row["weighed_kg"]), length(row["radius_m"])).si
    ),
    "stands_kg": lambda row: pair_kg(on_stands(row).front_left, on_stands(row).front_right),
    "rear_stands_kg": lambda row: pair_kg(on_stands(row).rear_left, on_stands(row).rear_right),
    "one_stand_kg": lambda row: on_stands(row).heaviest.si,
    "rear_on_ground_kg": lambda row: kg(on_stands(row).rear_wheels),
    "wheel_rate_lbf_per_in": lambda row: (
        loads.wheel_rate(rate(row["spring_lbf_per_in"] * LBF_PER_IN), ratio(row["ratio"])).si / LBF_PER_IN
    ),
    "spring_at_ride_n": lambda row: springs(row).at_ride_height.si,
    "spring_hanging_n": lambda row: springs(row).hanging.si,
    "label_one_kg": lambda row: (
        loads.label_margin(mass(100), mass(row["rating_kg"]), loads.Basis(row.word("basis"))).one_bears.si
    ),
}


@pytest.mark.parametrize("row", cases("loads.csv"))
def test_loads_agree_with_the_outside(row):
    check(row, SUMS)


def test_two_axles_always_share_the_whole_load():
    """Trap L-01: a manual prints 62.14 and 38.86 of 100 lb; the two do not add up."""
    split = loads.load_split(mass(100 * LB), length(214 * INCH), length(133 * INCH))
    assert split.front.value + split.rear.value == mass(100 * LB).value
    assert split.front.si / LB != pytest.approx(38.86, abs=0.5)


def test_the_axle_nearer_to_the_weight_carries_more():
    """Trap L-03g: a worked answer swaps the axles' names; weight ahead of the middle loads the front."""
    ahead = loads.axle_split(mass(1530), length(2.7), length(1.15))
    assert ahead.front.value > ahead.rear.value


def test_stands_agree_with_a_solved_balance():
    """An outside oracle: numpy solves forces and moments for both supports."""
    for base, behind, front_at, rear_at in (
        (2.7, 1.2, 0.6, None),
        (2.7, 1.2, None, 2.2),
        (3.1, 1.7, 0.4, 2.8),
        (2.4, 1.1, 0.0, 2.4),
    ):
        first, second = front_at if front_at is not None else 0.0, rear_at if rear_at is not None else base
        expected = np.linalg.solve([[1, 1], [first, second]], [1600, 1600 * behind])
        found = loads.stand_load(
            loads.axle_split(mass(1600), length(base), length(behind)),
            front_stands_at=None if front_at is None else length(front_at),
            rear_stands_at=None if rear_at is None else length(rear_at),
        )
        front = pair_kg(found.front_left, found.front_right, found.front_wheels)
        rear = pair_kg(found.rear_left, found.rear_right, found.rear_wheels)
        assert (front, rear) == pytest.approx(tuple(expected), abs=0.01)
