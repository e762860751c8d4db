"""The torque wrench: settings, windows, stages, deviation, range, due, and the castellated nut."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade import torque_tool
from app.trade.problems import InputMissing, OutOfRange, TradeProblem, WrongDimension
from app.trade.quantity import Dimension, Quantity
from app.trade.torque_tool import (
    CastleAction,
    DueReason,
    Interval,
    Place,
    RangeRule,
    SinceCalibration,
    ToolType,
    Window,
    castle_nut,
    due,
    is_due,
    judge_stages,
    setting_with_extension,
    torque_at_fastener,
    usable_range,
    window_of,
)
from app.trade.units import parse_quantity


def _nm(amount: float) -> Quantity:
    return Quantity(Dimension.TORQUE, round(amount * 1000), "N·m")


def _mm(amount: float) -> Quantity:
    return Quantity(Dimension.LENGTH, round(amount * 1000), "mm")


def _deg(amount: float) -> Quantity:
    return Quantity(Dimension.ANGLE, round(amount * 1000), "°")


def _percent(amount: float) -> Quantity:
    return Quantity(Dimension.RATIO, round(amount * 10_000), "%")


TARGET, LENGTH, EXTENSION, IN_LINE = _nm(80), _mm(400), _mm(50), _deg(0)
LARGEST = _nm(200)
TORQUES = st.integers(1_000, 1_000_000).map(lambda value: Quantity(Dimension.TORQUE, value))
LENGTHS = st.integers(150_000, 1_500_000).map(lambda value: Quantity(Dimension.LENGTH, value))
REACHES = st.integers(0, 149_000).map(lambda value: Quantity(Dimension.LENGTH, value))
ANGLES = st.integers(-180_000, 180_000).map(lambda value: Quantity(Dimension.ANGLE, value))


def test_in_line_the_setting_is_lower_square_it_is_the_torque_and_turned_back_it_is_higher() -> None:
    """The angle by statics: several pages have it the wrong way round."""
    settings = [setting_with_extension(TARGET, LENGTH, EXTENSION, _deg(angle)).value for angle in (0, 45, 90, 180)]

    assert settings == [71_111, 73_503, 80_000, 91_429]


def test_an_extension_turned_to_either_side_gives_the_same() -> None:
    for angle in (0, 30, 90, 135):
        assert setting_with_extension(TARGET, LENGTH, EXTENSION, _deg(angle)) == setting_with_extension(
            TARGET, LENGTH, EXTENSION, _deg(-angle)
        )


@pytest.mark.parametrize(
    ("arguments", "problem", "argument"),
    [
        ((_mm(1), LENGTH, EXTENSION, IN_LINE), WrongDimension, "target"),
        ((None, LENGTH, EXTENSION, IN_LINE), InputMissing, "target"),
        ((TARGET, None, EXTENSION, IN_LINE), InputMissing, "wrench_length"),
        ((TARGET, LENGTH, None, IN_LINE), InputMissing, "extension"),
        ((TARGET, LENGTH, EXTENSION, None), InputMissing, "angle"),
        ((TARGET, TARGET, EXTENSION, IN_LINE), WrongDimension, "wrench_length"),
        ((TARGET, LENGTH, IN_LINE, IN_LINE), WrongDimension, "extension"),
        ((TARGET, LENGTH, EXTENSION, LENGTH), WrongDimension, "angle"),
        ((_nm(-1), LENGTH, EXTENSION, IN_LINE), OutOfRange, "target"),
        ((TARGET, _mm(0), EXTENSION, IN_LINE), OutOfRange, "wrench_length"),
        ((TARGET, LENGTH, _mm(-5), IN_LINE), OutOfRange, "extension"),
        ((TARGET, LENGTH, EXTENSION, _deg(200)), OutOfRange, "angle"),
        ((TARGET, LENGTH, _mm(400), _deg(180)), OutOfRange, "extension"),
    ],
)
def test_an_extension_that_cannot_be_is_refused_by_name(
    arguments: tuple[Quantity, Quantity, Quantity, Quantity], problem: type[TradeProblem], argument: str
) -> None:
    for sum_of in (setting_with_extension, torque_at_fastener):
        with pytest.raises(problem) as caught:
            sum_of(*arguments)
        assert caught.value.argument in (argument, "setting")


@given(TORQUES, LENGTHS, REACHES, ANGLES)
def test_setting_and_torque_undo_each_other(
    target: Quantity, length: Quantity, reach: Quantity, angle: Quantity
) -> None:
    """To the mN·m that the setting is held in, as the lever passes it on."""
    setting = setting_with_extension(target, length, reach, angle)
    back = torque_at_fastener(setting, length, reach, angle)

    assert abs(back.value - target.value) <= 2


@given(TORQUES, LENGTHS, st.tuples(REACHES, REACHES))
def test_a_longer_extension_in_line_needs_a_lower_setting(
    target: Quantity, length: Quantity, reaches: tuple[Quantity, Quantity]
) -> None:
    short, long = sorted(reaches, key=lambda reach: reach.value)

    assert (
        setting_with_extension(target, length, long, IN_LINE).value
        <= setting_with_extension(target, length, short, IN_LINE).value
        <= target.value
    )


@given(TORQUES, LENGTHS, REACHES)
def test_square_to_the_wrench_nothing_changes(target: Quantity, length: Quantity, reach: Quantity) -> None:
    assert setting_with_extension(target, length, reach, _deg(90)).value == target.value


def test_run_on_torque_is_added() -> None:
    assert torque_tool.add_run_on(_nm(30), _nm(4)).value == 34_000
    with pytest.raises(OutOfRange):
        torque_tool.add_run_on(_nm(30), _nm(-4))


# --- windows


def test_a_range_is_kept_as_printed_and_its_ends_count() -> None:
    low, high = parse_quantity("50 lb-ft", Dimension.TORQUE), parse_quantity("65 lb-ft", Dimension.TORQUE)
    window = window_of(low=low, high=high)

    assert (window.low, window.target, window.high) == (low, None, high)
    assert window.place(low) is Place.WITHIN
    assert window.place(high) is Place.WITHIN
    assert window.place(Quantity(Dimension.TORQUE, low.value - 1)) is Place.BELOW
    assert window.place(Quantity(Dimension.TORQUE, high.value + 1)) is Place.ABOVE
    assert low.value < window.aim.value < high.value


def test_a_target_takes_its_tolerance_as_a_share_or_an_amount() -> None:
    by_share = window_of(_nm(100), tolerance=_percent(4))
    by_amount = window_of(_nm(100), tolerance=_nm(5), tolerance_below=_nm(2))

    assert (by_share.low, by_share.aim, by_share.high) == (_nm(96), _nm(100), _nm(104))
    assert (by_amount.low, by_amount.high) == (_nm(98), _nm(105))


def test_a_tolerance_is_never_widened_by_rounding() -> None:
    window = window_of(Quantity(Dimension.TORQUE, 109_821), tolerance=_percent(4))

    assert window.high.value - 109_821 == 109_821 - window.low.value == 4_392  # 4392.84 cut off


@pytest.mark.parametrize(
    ("given", "problem", "argument"),
    [
        ({}, InputMissing, "target"),
        ({"target": _nm(100)}, InputMissing, "tolerance"),
        ({"low": _nm(50)}, InputMissing, "high"),
        ({"high": _nm(50)}, InputMissing, "low"),
        ({"low": _nm(50), "high": _nm(40)}, OutOfRange, "high"),
        ({"low": _nm(50), "high": _deg(40)}, WrongDimension, "high"),
        ({"low": _nm(50), "high": _nm(60), "target": _nm(70)}, OutOfRange, "target"),
        ({"low": _nm(0), "high": _nm(60)}, OutOfRange, "low"),
        ({"low": _mm(1), "high": _mm(60)}, WrongDimension, "low"),
        ({"target": _mm(100), "tolerance": _percent(4)}, WrongDimension, "target"),
        ({"target": _nm(0), "tolerance": _percent(4)}, OutOfRange, "target"),
        ({"target": _deg(0), "tolerance": _percent(4)}, OutOfRange, "target"),
        ({"target": _nm(100), "tolerance": _percent(100)}, OutOfRange, "tolerance"),
        ({"target": _nm(100), "tolerance": _percent(-4)}, OutOfRange, "tolerance"),
        ({"target": _nm(100), "tolerance": _mm(5)}, WrongDimension, "tolerance"),
    ],
)
def test_a_window_that_cannot_be_is_refused_by_name(
    given: dict[str, Quantity], problem: type[TradeProblem], argument: str
) -> None:
    with pytest.raises(problem) as caught:
        window_of(**given)

    assert caught.value.argument == argument


def test_a_reading_of_another_dimension_is_refused() -> None:
    with pytest.raises(WrongDimension):
        window_of(_nm(100), tolerance=_percent(4)).place(_deg(100))


STAGES = (
    window_of(_nm(40), tolerance=_percent(4)),
    window_of(_nm(80), tolerance=_percent(4)),
    window_of(_deg(90), tolerance=_deg(5)),
)


def test_stages_are_met_in_order_torque_first_and_angle_after() -> None:
    assert judge_stages(STAGES, []).next == 0
    assert judge_stages(STAGES, [_nm(40)]).next == 1
    assert judge_stages(STAGES, [_nm(40), _nm(90)]).places == (Place.WITHIN, Place.ABOVE, None)
    assert judge_stages(STAGES, [_nm(40), _nm(90)]).next == 1
    assert judge_stages(STAGES, [_nm(40), _nm(80), _deg(92)]).is_done
    assert not judge_stages(STAGES, [_nm(40), _nm(80), _deg(80)]).is_done


def test_stages_out_of_order_or_of_another_kind_are_refused() -> None:
    with pytest.raises(OutOfRange):
        judge_stages(STAGES, [_nm(40), None, _deg(90)])
    with pytest.raises(OutOfRange):
        judge_stages(STAGES, [_nm(40), _nm(80), _deg(90), _deg(90)])
    with pytest.raises(WrongDimension):
        judge_stages(STAGES, [_nm(40), _deg(80)])
    with pytest.raises(InputMissing):
        judge_stages([], [])


@given(st.integers(2, 10**6), st.integers(1, 500_000), st.integers(0, 2 * 10**6))
def test_every_reading_has_exactly_one_place(target: int, tolerance_ppm: int, reading: int) -> None:
    window = window_of(Quantity(Dimension.TORQUE, target), tolerance=Quantity(Dimension.RATIO, tolerance_ppm))
    place = window.place(Quantity(Dimension.TORQUE, reading))

    assert (place is Place.WITHIN) == (window.low.value <= reading <= window.high.value)
    assert window.low.value <= target <= window.high.value


# --- deviation and range


def test_deviation_is_positive_when_the_wrench_promises_more_than_it_gives() -> None:
    assert torque_tool.deviation(_nm(100), _nm(97)).value == 30_928
    assert torque_tool.deviation(_nm(100), _nm(103)).value < 0
    for setting, measured in ((_nm(0), _nm(1)), (_nm(1), _nm(0))):
        with pytest.raises(OutOfRange):
            torque_tool.deviation(setting, measured)


def test_a_wrench_passes_when_every_reading_lies_within_what_is_allowed() -> None:
    good = [(_nm(40), _nm(39)), (_nm(120), _nm(122)), (_nm(200), _nm(199))]

    assert torque_tool.judge_calibration(good, LARGEST).passes
    assert not torque_tool.judge_calibration([*good, (_nm(100), _nm(95))], LARGEST).passes
    with pytest.raises(InputMissing):
        torque_tool.judge_calibration([], LARGEST)


def test_small_tools_and_bars_are_allowed_six_percent() -> None:
    assert torque_tool.permissible_deviation(_nm(10)).value == 60_000
    assert torque_tool.permissible_deviation(_nm(10.001)).value == 40_000
    assert torque_tool.permissible_deviation(LARGEST, ToolType.TYPE_I_A).value == 60_000
    assert torque_tool.permissible_deviation(LARGEST, ToolType.TYPE_I_B).value == 40_000


def test_the_range_starts_at_the_lowest_mark_or_says_that_it_is_assumed() -> None:
    marked, assumed = usable_range(LARGEST, _nm(20)), usable_range(LARGEST)

    assert (marked.low, marked.rule, marked.is_assumed) == (_nm(20), RangeRule.LOWEST_MARK, False)
    assert (assumed.low, assumed.rule, assumed.is_assumed) == (_nm(40), RangeRule.FIFTH_OF_LARGEST, True)
    assert [marked.place(_nm(each)) for each in (19, 20, 200, 201)] == [
        Place.BELOW,
        Place.WITHIN,
        Place.WITHIN,
        Place.ABOVE,
    ]
    with pytest.raises(OutOfRange):
        usable_range(LARGEST, _nm(201))
    with pytest.raises(WrongDimension):
        usable_range(_mm(1))
    with pytest.raises(WrongDimension):
        marked.place(_mm(1))


# --- due

GOOD, TODAY = date(2026, 1, 15), date(2026, 6, 1)


def test_a_wrench_in_date_is_not_due() -> None:
    verdict = due(GOOD, TODAY, LARGEST, SinceCalibration(cycles=10, heaviest=_nm(200)))

    assert not verdict.is_due
    assert verdict.due_on == date(2027, 1, 15)
    assert is_due(GOOD, TODAY, LARGEST) is False


@pytest.mark.parametrize(
    ("since", "today", "reason"),
    [
        (SinceCalibration(), date(2027, 1, 15), DueReason.DATE),
        (SinceCalibration(cycles=5000), TODAY, DueReason.CYCLES),
        (SinceCalibration(heaviest=_nm(250.001)), TODAY, DueReason.OVERLOAD),
        (SinceCalibration(was_dropped=True), TODAY, DueReason.DROP),
        (SinceCalibration(was_repaired=True), TODAY, DueReason.REPAIR),
    ],
)
def test_each_reason_makes_it_due(since: SinceCalibration, today: date, reason: DueReason) -> None:
    assert due(GOOD, today, LARGEST, since).reasons == (reason,)
    assert is_due(GOOD, today, LARGEST, since)


def test_exactly_a_quarter_above_is_no_overload() -> None:
    assert not is_due(GOOD, TODAY, LARGEST, SinceCalibration(heaviest=_nm(250)))


def test_a_wrench_never_checked_is_due() -> None:
    verdict = due(None, TODAY, LARGEST)

    assert verdict.reasons == (DueReason.NEVER_CHECKED,)
    assert verdict.due_on is None


def test_the_shops_own_interval_takes_precedence() -> None:
    assert is_due(GOOD, date(2026, 4, 15), LARGEST, interval=Interval(months=3))
    assert not is_due(GOOD, date(2026, 4, 14), LARGEST, interval=Interval(months=3))
    assert due(date(2024, 2, 29), TODAY, LARGEST).due_on == date(2025, 2, 28)
    assert due(date(2025, 8, 31), TODAY, LARGEST, interval=Interval(months=6)).due_on == date(2026, 2, 28)


def test_a_history_that_cannot_be_is_refused() -> None:
    for call in (
        lambda: due(TODAY + timedelta(days=1), TODAY, LARGEST),
        lambda: due(GOOD, TODAY, LARGEST, SinceCalibration(cycles=-1)),
        lambda: due(GOOD, TODAY, LARGEST, interval=Interval(months=0)),
        lambda: due(GOOD, TODAY, LARGEST, interval=Interval(months=12 * 9000)),
        lambda: due(GOOD, TODAY, _nm(0), SinceCalibration(heaviest=_nm(1))),
    ):
        with pytest.raises(OutOfRange):
            call()


@given(st.dates(date(2000, 1, 1), date(2090, 1, 1)), st.integers(0, 2000), st.integers(0, 2000))
def test_once_due_it_stays_due(last: date, days: int, more: int) -> None:
    early = is_due(last, last + timedelta(days=days), LARGEST)
    late = is_due(last, last + timedelta(days=days + more), LARGEST)

    assert late or not early


# --- castellated nut


def test_slot_and_hole_that_meet_take_the_pin() -> None:
    for ahead in (0, 60, -120, 360):
        assert castle_nut(_deg(ahead)).action is CastleAction.PIN
        assert castle_nut(_deg(ahead)).further.value == 0


def test_it_turns_on_to_the_next_slot_and_never_back() -> None:
    assert castle_nut(_deg(15)).further == Quantity(Dimension.ANGLE, 15_000)
    assert castle_nut(_deg(-15)).further == Quantity(Dimension.ANGLE, 45_000)
    assert castle_nut(_deg(15)).at_most == Quantity(Dimension.ANGLE, 60_000)


def test_at_the_highest_torque_a_part_is_changed_instead() -> None:
    assert castle_nut(_deg(15), torque=_nm(88), highest=_nm(88)).action is CastleAction.CHANGE_PART
    assert castle_nut(_deg(15), torque=_nm(80), highest=_nm(88)).action is CastleAction.TURN_ON
    assert castle_nut(_deg(0), torque=_nm(88), highest=_nm(88)).action is CastleAction.PIN


def test_a_nut_that_cannot_be_is_refused() -> None:
    with pytest.raises(WrongDimension):
        castle_nut(_mm(1))
    for slots in (0, 3, 13):
        with pytest.raises(OutOfRange):
            castle_nut(_deg(1), slots=slots)
    with pytest.raises(OutOfRange):
        castle_nut(_deg(1), torque=_nm(90), highest=_nm(88))
    with pytest.raises(InputMissing):
        castle_nut(_deg(1), highest=_nm(88))


@given(st.integers(-720_000, 720_000), st.integers(4, 12))
def test_the_further_turn_is_forward_and_less_than_a_slot(ahead: int, slots: int) -> None:
    nut = castle_nut(Quantity(Dimension.ANGLE, ahead), slots=slots)

    assert 0 <= nut.further.value < 360_000 / slots
    left = ((ahead - nut.further.value) * slots) % 360_000
    assert min(left, 360_000 - left) <= slots, "after the turn slot and hole meet, to the millidegree"


def test_a_window_is_a_value() -> None:
    assert Window(_nm(1), None, _nm(2)) == Window(_nm(1), None, _nm(2))
