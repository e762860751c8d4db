"""Limits with unequal room below and above."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade.limits import Limits, Standing, around, judge
from app.trade.problems import OutOfRange, WrongDimension
from tests.si import angle, mm

# TM 9-2320-387-24-2 table 34-1: rear camber 0.5° (−1° to +2°), the limits printed as angles, not as room.
REAR_CAMBER = Limits(angle(0.5), angle(-1), angle(2))


@pytest.mark.parametrize(
    ("reading", "standing", "off"),
    [(-1.1, Standing.BELOW, -0.1), (-1, Standing.WITHIN, 0), (2, Standing.WITHIN, 0), (2.25, Standing.ABOVE, 0.25)],
)
def test_the_two_sides_are_kept_apart(reading, standing, off):
    found = judge(angle(reading), REAR_CAMBER)
    assert (found.standing, found.off_by.si) == (standing, off)


def test_room_around_a_target_may_be_unequal():
    limits = around(mm(380), mm(10), mm(15))
    assert (limits.low.si, limits.high.si) == (0.37, 0.395)
    with pytest.raises(OutOfRange):
        around(mm(380), mm(-10), mm(15))


def test_a_target_outside_its_own_limits_is_refused():
    with pytest.raises(OutOfRange):
        Limits(angle(3), angle(-1), angle(2))
    with pytest.raises(WrongDimension):
        Limits(angle(0), mm(-1), angle(2))
    with pytest.raises(WrongDimension):
        judge(mm(1), REAR_CAMBER)


@given(st.integers(-5000, 5000))
def test_what_is_off_brings_the_reading_back_to_the_nearer_limit(thousandths):
    found = judge(angle(thousandths / 1000), REAR_CAMBER)
    back = found.reading.value - found.off_by.value
    assert REAR_CAMBER.low.value <= back <= REAR_CAMBER.high.value
    assert (found.off_by.value == 0) == (found.standing is Standing.WITHIN)
