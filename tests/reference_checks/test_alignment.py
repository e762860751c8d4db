"""Alignment against outside figures (data/alignment.csv), its traps, and shims against an outside solver."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.trade import alignment
from app.trade.alignment import ShimEffect, ShimMove, ShimStock, ToeMeasure
from app.trade.limits import Limits, judge
from tests.reference_checks.chassis_rows import Numbers, cases, check
from tests.si import angle, mm, ratio

# TM 9-2320-280-34 table 20-3, single rows for 0.12 in (3.05 mm): what the sum "both" is predicted from.
TABLES = {
    "front": (
        ShimEffect("front", mm(3.048), {"caster": angle(0.6), "camber": angle(0.5)}),
        ShimEffect("rear", mm(3.048), {"caster": angle(-0.6), "camber": angle(0.0)}),
    ),
    "rear": (
        ShimEffect("front", mm(3.048), {"caster": angle(0.5), "camber": angle(-0.1)}),
        ShimEffect("rear", mm(3.048), {"caster": angle(-0.5), "camber": angle(0.6)}),
    ),
}


def shim_change_deg(row: Numbers) -> float:
    moves = [
        ShimMove(bolt, mm(abs(row[f"{bolt}_in"]) * 25.4), int(math.copysign(1, row[f"{bolt}_in"])))
        for bolt in ("front", "rear")
        if row[f"{bolt}_in"]
    ]
    return alignment.predict(TABLES[row.word("axle")], moves)[row.word("angle")].si


def sides(row: Numbers):
    return angle(row["left_deg"]), angle(row["right_deg"])


def decimal_deg(row: Numbers) -> float:
    return alignment.from_degrees_minutes(row["negative"] == 1, int(row["degrees"]), row["minutes"]).si


def toe_angle_deg(row: Numbers) -> float:
    return alignment.toe_angle(mm(row["toe_mm"]), mm(row["diameter_mm"]), ToeMeasure(row.word("measure"))).si


def toe_length_mm(row: Numbers) -> float:
    found = alignment.toe_length(angle(row["angle_deg"]), mm(row["diameter_mm"]), ToeMeasure(row.word("measure")))
    return found.si * 1000


def off_by_deg(row: Numbers) -> float:
    limits = Limits(angle(row["target"]), angle(row["low"]), angle(row["high"]))
    return judge(angle(row["reading"]), limits).off_by.si


SUMS = {
    "decimal_deg": decimal_deg,
    "toe_angle_deg": toe_angle_deg,
    "toe_length_mm": toe_length_mm,
    "thrust_deg": lambda row: alignment.thrust_angle(*sides(row)).si,
    "cross_deg": lambda row: alignment.cross(*sides(row)).si,
    "total_toe_deg": lambda row: alignment.total_toe(*sides(row)).si,
    "in_use_mm": lambda row: alignment.limit_in_use(mm(row["maker_mm"]), ratio(row["factor"])).si * 1000,
    "side_slip_ft_per_mile": lambda row: alignment.side_slip(angle(row["angle_deg"])).si * 5280,
    "shim_change_deg": shim_change_deg,
    "shim_turns_deg": lambda row: alignment.shim_effect(mm(row["shim_mm"]), mm(row["lever_mm"])).si,
    "off_by_deg": off_by_deg,
}


@pytest.mark.parametrize("row", cases("alignment.csv"))
def test_alignment_agrees_with_the_outside(row):
    check(row, SUMS)


def test_the_minus_of_a_zero_is_kept():
    """Trap A-01: −0°45′ is −0.75°, and goes back to print with its minus."""
    assert alignment.to_degrees_minutes(angle(-0.75)) == alignment.DegreesMinutes(True, 0, 45)


def test_the_two_definitions_of_toe_length_are_never_mixed():
    """Trap A-06: a rule of thumb for one definition, used for the other, is wrong by two."""
    at_17_inch = mm(431.8)
    by_rule = alignment.toe_length(angle(1), at_17_inch, ToeMeasure.FRONT_EDGE_TO_CENTRE).si
    across = alignment.toe_length(angle(1), at_17_inch, ToeMeasure.FRONT_TO_REAR_EDGE).si
    assert across == pytest.approx(2 * by_rule, rel=1e-5)


@pytest.mark.parametrize(("axle", "camber"), [("front", 0.5), ("rear", 0.5)])
def test_printed_rows_of_both_shims_add_up(axle, camber):
    """A-26: the row of both bolts is the sum of the rows of each, front and rear suspension alike."""
    off = alignment.table_mismatch(TABLES[axle], {"caster": angle(0), "camber": angle(camber)})
    assert {name: amount.value for name, amount in off.items()} == {"caster": 0, "camber": 0}


def test_a_misprinted_row_is_found_out():
    """Trap A-27: TM 9-2320-387-24-2 table 34-2 prints +0.5° camber for a pair of 0.06 in shims too; half is right."""
    half = [
        ShimEffect(
            effect.bolt,
            mm(1.524),
            {name: angle(change.si / 2) for name, change in effect.change.items()},
        )
        for effect in TABLES["front"]
    ]
    assert alignment.table_mismatch(half, {"camber": angle(0.5)})["camber"].si == 0.25


tenths = st.integers(-8, 8).map(lambda n: n / 10)
two_bolts = st.tuples(tenths, tenths, tenths, tenths).filter(lambda t: abs(t[0] * t[3] - t[1] * t[2]) > 0.05)


@settings(max_examples=40, deadline=None)
@given(two_bolts, tenths, tenths, st.integers(1, 4), st.integers(0, 4))
def test_shims_are_as_good_as_an_integer_programme(table, camber, caster, thick, thin):
    """An outside oracle: scipy's mixed-integer solver minimises the worst angle left over the same stock."""
    from scipy import optimize

    a_camber, b_camber, a_caster, b_caster = table
    plan = alignment.solve_shims(
        (
            ShimEffect("a", mm(2), {"camber": angle(a_camber), "caster": angle(a_caster)}),
            ShimEffect("b", mm(2), {"camber": angle(b_camber), "caster": angle(b_caster)}),
        ),
        {"camber": angle(camber), "caster": angle(caster)},
        (ShimStock(mm(2), thick), ShimStock(mm(1), thin)),
        most_per_bolt=4,
    )
    # Unknowns: thick at a, thin at a, thick at b, thin at b, and the worst angle left.
    per = np.array([[a_camber, a_camber / 2, b_camber, b_camber / 2], [a_caster, a_caster / 2, b_caster, b_caster / 2]])
    wish = np.array([camber, caster])
    worst = optimize.milp(
        c=[0, 0, 0, 0, 1],
        integrality=[1, 1, 1, 1, 0],
        bounds=optimize.Bounds([0, 0, 0, 0, 0], [4, 4, 4, 4, np.inf]),
        constraints=[
            optimize.LinearConstraint(np.column_stack((per, [-1, -1])), -np.inf, wish),
            optimize.LinearConstraint(np.column_stack((per, [1, 1])), wish, np.inf),
            optimize.LinearConstraint([[1, 0, 1, 0, 0], [0, 1, 0, 1, 0]], -np.inf, [thick, thin]),
            optimize.LinearConstraint([[1, 1, 0, 0, 0], [0, 0, 1, 1, 0]], -np.inf, 4),
        ],
    )
    assert worst.success
    assert max(abs(left.si) for left in plan.remains.values()) == pytest.approx(worst.fun, abs=1.1e-3)
