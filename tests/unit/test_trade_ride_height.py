"""Ride height: four corners against the spec, tyres and pressures first."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade.limits import Standing, around
from app.trade.problems import InputMissing, OutOfRange, WrongDimension
from app.trade.ride_height import (
    Axle,
    CheckFirst,
    Circumstances,
    Corner,
    Heights,
    HeightSpec,
    Reason,
    Verdict,
    judge_heights,
    pressure_allowance,
)
from tests.si import angle, mm, pressure

SPEC = HeightSpec(
    around(mm(380), mm(10), mm(15)), around(mm(390), mm(12), mm(12)), mm(8), around(mm(10), mm(10), mm(10))
)
WELL = Circumstances(pressures_set=True, settled=True, empty=True, raises={})


def heights(fl=380, fr=380, rl=390, rr=390):
    return Heights(mm(fl), mm(fr), mm(rl), mm(rr))


def test_heights_at_their_targets_are_sound_and_need_no_look():
    found = judge_heights(heights(), SPEC, WELL)
    assert (found.verdict, found.reasons, found.check_first) == (Verdict.SOUND, (), ())
    assert found.rake.si == 0.01


def test_a_low_corner_speaks_for_the_springs_and_says_what_to_look_at_before():
    found = judge_heights(heights(fl=366, fr=374), SPEC, WELL)
    assert found.verdict is Verdict.REPLACE
    assert found.reasons == ((Reason.CORNER_LOW, "front_left"),)
    assert found.corners[Corner.FRONT_LEFT].off_by.si == -0.004
    assert found.check_first[0] is CheckFirst.LEVEL_FLOOR
    assert found.check_first[-1] is CheckFirst.SPRINGS


def test_torsion_bars_are_adjusted_before_anything_is_bought():
    bars = Circumstances(True, True, True, {}, torsion_bars=True)
    assert judge_heights(heights(fl=360), SPEC, bars).check_first[-1] is CheckFirst.TORSION_BAR_ADJUSTER


def test_the_limits_are_not_symmetrical():
    """15 mm above is within at the front where 15 mm below is not."""
    assert judge_heights(heights(fl=395, fr=395), HeightSpec(SPEC.front, SPEC.rear), WELL).verdict is Verdict.SOUND
    assert judge_heights(heights(fl=365, fr=365), HeightSpec(SPEC.front, SPEC.rear), WELL).verdict is Verdict.REPLACE


def test_sides_and_rake_are_looked_at_only_where_the_maker_prints_them():
    uneven = heights(fl=386, fr=376)
    assert judge_heights(uneven, SPEC, WELL).reasons == ((Reason.SIDES_DIFFER, "front"),)
    assert judge_heights(uneven, HeightSpec(SPEC.front, SPEC.rear), WELL).verdict is Verdict.SOUND
    tail_down = judge_heights(heights(390, 390, 384, 384), SPEC, WELL)
    assert tail_down.verdict is Verdict.WATCH
    assert tail_down.reasons == ((Reason.RAKE_OFF, ""),)


def test_a_high_corner_is_watched_not_replaced():
    found = judge_heights(heights(rl=403, rr=403), SPEC, WELL)
    assert found.verdict is Verdict.WATCH
    assert (Reason.CORNER_HIGH, "rear_left") in found.reasons


@pytest.mark.parametrize(
    ("how", "reason", "first"),
    [
        (Circumstances(False, True, True, {}), Reason.PRESSURES_NOT_SET, CheckFirst.PRESSURES),
        (Circumstances(True, False, True, {}), Reason.NOT_SETTLED, CheckFirst.SETTLED),
        (Circumstances(True, True, False, {}), Reason.NOT_EMPTY, CheckFirst.LOAD_AND_FUEL),
    ],
)
def test_readings_that_cannot_carry_a_verdict_get_none(how, reason, first):
    """Even a corner far below is not blamed on its spring while the tyre may be flat. The finding is still shown."""
    found = judge_heights(heights(fl=340), SPEC, how)
    assert found.verdict is Verdict.CHECK_FIRST
    assert found.reasons[0] == (reason, "")
    assert (Reason.CORNER_LOW, "front_left") in found.reasons
    assert first in found.check_first
    assert CheckFirst.SPRINGS not in found.check_first


def test_larger_tyres_do_not_hide_a_tired_spring():
    """Tyres that lift the axle by 12 mm are taken off the reading before it is judged."""
    lifted = Circumstances(True, True, True, {Axle.FRONT: mm(12)})
    found = judge_heights(heights(fl=378, fr=378), SPEC, lifted)
    assert found.verdict is Verdict.REPLACE
    assert found.corners[Corner.FRONT_LEFT].reading.si == 0.366
    assert found.corners[Corner.REAR_LEFT].reading.si == 0.39


def test_tyres_nobody_looked_at_are_the_first_thing_to_look_at():
    unknown = Circumstances(True, True, True, None)
    assert judge_heights(heights(fl=360), SPEC, unknown).check_first[0] is CheckFirst.TYRE_SIZE


readings = st.lists(st.integers(340, 430), min_size=4, max_size=4)


@given(readings, st.integers(-20, 20))
def test_an_allowance_is_the_same_as_a_shifted_reading(four, shift):
    both = {Axle.FRONT: mm(shift), Axle.REAR: mm(shift)}
    allowed = judge_heights(heights(*(h + shift for h in four)), SPEC, Circumstances(True, True, True, both))
    plain = judge_heights(heights(*four), SPEC, WELL)
    assert (allowed.verdict, allowed.reasons, allowed.rake) == (plain.verdict, plain.reasons, plain.rake)


@given(readings)
def test_swapping_the_sides_turns_the_differences_over_and_nothing_else(four):
    fl, fr, rl, rr = four
    found, swapped = judge_heights(heights(*four), SPEC, WELL), judge_heights(heights(fr, fl, rr, rl), SPEC, WELL)
    assert found.verdict is swapped.verdict
    assert found.side_difference[Axle.FRONT].value == -swapped.side_difference[Axle.FRONT].value
    assert found.corners[Corner.FRONT_LEFT].standing is swapped.corners[Corner.FRONT_RIGHT].standing


@given(readings, st.integers(1, 30))
def test_lowering_a_low_corner_never_makes_it_sound(four, drop):
    found = judge_heights(heights(*four), SPEC, WELL)
    lower = judge_heights(heights(four[0] - drop, *four[1:]), SPEC, WELL)
    if found.corners[Corner.FRONT_LEFT].standing is Standing.BELOW:
        assert lower.verdict is Verdict.REPLACE


def test_heights_that_cannot_be_are_refused_by_corner():
    with pytest.raises(OutOfRange) as refused:
        judge_heights(heights(rl=0), SPEC, WELL)
    assert refused.value.argument == "rear_left"
    with pytest.raises(WrongDimension):
        judge_heights(Heights(angle(1), mm(1), mm(1), mm(1)), SPEC, WELL)
    with pytest.raises(InputMissing):
        judge_heights(Heights(None, mm(1), mm(1), mm(1)), SPEC, WELL)
    with pytest.raises(WrongDimension):
        judge_heights(heights(), SPEC, Circumstances(True, True, True, {Axle.FRONT: angle(1)}))


def test_a_soft_tyre_lowers_and_a_hard_one_raises():
    assert pressure_allowance(mm(20), pressure(220e3), pressure(220e3)).value == 0
    assert pressure_allowance(mm(20), pressure(220e3), pressure(176e3)).si == pytest.approx(-0.005)
    assert pressure_allowance(mm(20), pressure(220e3), pressure(275e3)).si == pytest.approx(0.004)
    for actual in (pressure(100e3), pressure(450e3), pressure(0)):
        with pytest.raises(OutOfRange):
            pressure_allowance(mm(20), pressure(220e3), actual)
