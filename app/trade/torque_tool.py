"""The torque wrench: what to set, what counts as within, and whether the wrench is fit.

Belongs here: settings with an extension, windows, deviation, usable range, when a wrench is due, castellated nuts. Does
not belong here: what torque a joint needs (its maker says), nor what the bolt bears (`fastener`).
"""

from __future__ import annotations

import calendar
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from fractions import Fraction

from app.trade.problems import InputMissing, OutOfRange, WrongDimension
from app.trade.quantity import Dimension, Quantity, from_si, need

# -----------------------------------------------------------------------------------------------------------
# Extensions


def setting_with_extension(target: Quantity, wrench_length: Quantity, extension: Quantity, angle: Quantity) -> Quantity:
    """Give what to set the wrench to so that the fastener gets `target`: T·L/(L + E·cos angle).

    wrench_length: from the square drive to the middle of the grip. extension: from the square drive to the fastener.
    angle: of the extension against the wrench. 0° in line, 90° square to it (nothing changes), 180° turned back.
    A straight socket extension on the axis of the drive changes nothing and is no extension in this sense.
    Raises: InputMissing, WrongDimension; OutOfRange for lengths that cannot be, an angle beyond ±180°, or an extension
            turned back so far that the fastener sits at or behind the grip.
    Source: statics; tool manual M199 (easymanua.ls/performance-tool/m199, p. 7) and
            engineersedge.com/manufacturing_spec/torque_wrench_2.htm, both read 2026-11-25. Some pages state the angle
            the wrong way round.
    """
    torque = need(target, Dimension.TORQUE, "target", at_least_zero=True)
    return from_si(Dimension.TORQUE, torque / _gain(wrench_length, extension, angle))


def torque_at_fastener(setting: Quantity, wrench_length: Quantity, extension: Quantity, angle: Quantity) -> Quantity:
    """Give the torque at the fastener when the wrench shows `setting`. The inverse of `setting_with_extension`."""
    torque = need(setting, Dimension.TORQUE, "setting", at_least_zero=True)
    return from_si(Dimension.TORQUE, torque * _gain(wrench_length, extension, angle))


def _gain(wrench_length: Quantity, extension: Quantity, angle: Quantity) -> float:
    """How many times its setting the wrench gives the fastener."""
    length = need(wrench_length, Dimension.LENGTH, "wrench_length", positive=True)
    reach = need(extension, Dimension.LENGTH, "extension", at_least_zero=True)
    turned = need(angle, Dimension.ANGLE, "angle")
    if abs(turned) > 180:
        raise OutOfRange("angle", f"lies between -180° and 180°, got {turned:g}°")
    # At exactly 90° the cosine is a hair off zero in floats; the rule says that nothing changes there.
    along = 0.0 if abs(turned) == 90 else reach * math.cos(math.radians(turned))
    if along <= -length:
        raise OutOfRange("extension", "reaches back to the grip or beyond it: no torque can be set that way")
    return (length + along) / length


def add_run_on(target: Quantity, drag: Quantity) -> Quantity:
    """Give the target with the torque that a self-locking nut needs just to turn added to it.

    An aircraft rule: not for a vehicle figure that already includes it or says otherwise.
    Source: FAA AC 43.13-1B, paragraph 7-40 d (landseaskyspace.com/ac4313/7-43.html, read 2026-11-25).
    """
    return from_si(
        Dimension.TORQUE,
        need(target, Dimension.TORQUE, "target", positive=True)
        + need(drag, Dimension.TORQUE, "drag", at_least_zero=True),
    )


# -----------------------------------------------------------------------------------------------------------
# Windows


class Place(StrEnum):
    """Where a reading lies against its window."""

    BELOW = "below"
    WITHIN = "within"
    ABOVE = "above"


@dataclass(frozen=True, slots=True)
class Window:
    """From where to where a reading counts. All three of one dimension: torques, or angles of a stage.

    target is None where the source prints a range alone. Ends count as within.
    """

    low: Quantity
    target: Quantity | None
    high: Quantity

    @property
    def dimension(self) -> Dimension:
        return self.low.dimension

    @property
    def aim(self) -> Quantity:
        """What to set: the target, or the middle of a range printed alone."""
        if self.target is not None:
            return self.target
        return Quantity(self.dimension, (self.low.value + self.high.value) // 2, self.low.unit)

    def place(self, reading: Quantity) -> Place:
        """Say where a reading lies. Compared in whole small units, never rounded.

        Raises: WrongDimension for a reading of another dimension.
        """
        need(reading, self.dimension, "reading")
        if reading.value < self.low.value:
            return Place.BELOW
        return Place.ABOVE if reading.value > self.high.value else Place.WITHIN


def window_of(
    target: Quantity | None = None,
    *,
    low: Quantity | None = None,
    high: Quantity | None = None,
    tolerance: Quantity | None = None,
    tolerance_below: Quantity | None = None,
) -> Window:
    """Give the window of a printed figure: a range, a target with a tolerance, or both ends beside the target.

    tolerance: a ratio of the target (4 %) or an amount of its own dimension (±5 N·m, ±5°). tolerance_below: the lower
    one where it differs. Nothing is assumed: a single target without a tolerance is asked for one.
    Raises: InputMissing for a missing end or tolerance; WrongDimension for mixed dimensions; OutOfRange for ends that
            are swapped, a target outside them, or a window that reaches zero.
    """
    if low is not None or high is not None:
        return _range_window(target, low, high)
    if target is None:
        raise InputMissing("target", "needs a target, or the low and high end of a range", reason="target_or_range")
    _torque_or_angle(target, "target")
    if tolerance is None:
        raise InputMissing("tolerance", "needs the tolerance the source or the shop sets for a single figure")
    above = _tolerance(tolerance, target, "tolerance")
    below = above if tolerance_below is None else _tolerance(tolerance_below, target, "tolerance_below")
    if below >= target.value:
        raise OutOfRange("tolerance", "is as large as the target itself")
    return Window(
        Quantity(target.dimension, target.value - below, target.unit),
        target,
        Quantity(target.dimension, target.value + above, target.unit),
    )


def _range_window(target: Quantity | None, low: Quantity | None, high: Quantity | None) -> Window:
    if low is None:
        raise InputMissing("low", "needs the low end of the range")
    if high is None:
        raise InputMissing("high", "needs the high end of the range")
    _torque_or_angle(low, "low")
    need(high, low.dimension, "high")
    if high.value < low.value:
        raise OutOfRange("high", "is lower than the low end")
    if target is not None:
        need(target, low.dimension, "target")
        if not low.value <= target.value <= high.value:
            raise OutOfRange("target", "lies outside its own range", reason="outside_own_range")
    return Window(low, target, high)


def _torque_or_angle(quantity: Quantity, argument: str) -> None:
    if quantity.dimension is not Dimension.ANGLE:
        need(quantity, Dimension.TORQUE, argument, positive=True)
    elif quantity.value <= 0:
        raise OutOfRange(
            argument, f"needs more than zero, got {quantity.text or quantity.value}", reason="not_positive"
        )


def _tolerance(tolerance: Quantity, target: Quantity, argument: str) -> int:
    """A tolerance in the target's small unit."""
    if tolerance.value < 0:
        raise OutOfRange(argument, "cannot be negative", reason="negative")
    if tolerance.dimension is Dimension.RATIO:
        return tolerance.value * target.value // 1_000_000
    if tolerance.dimension is not target.dimension:
        raise WrongDimension(argument, f"needs a ratio or a {target.dimension}, got a {tolerance.dimension}")
    return tolerance.value


@dataclass(frozen=True, slots=True)
class StagesVerdict:
    """How far a fastener tightened in stages has come.

    places:  where each reading lies; None for a stage without one.
    next:    the first stage that has no reading within its window, counted from 0; None when all have.
    """

    places: tuple[Place | None, ...]
    next: int | None

    @property
    def is_done(self) -> bool:
        return self.next is None


def judge_stages(stages: Sequence[Window], readings: Sequence[Quantity | None]) -> StagesVerdict:
    """Say how far the stages are met: torque first, angle after, in the order the maker prints.

    Shapes: one window per stage, at least one; readings in the same order, missing ones None or left off the end.
    Raises: InputMissing without stages; OutOfRange for more readings than stages, or for one after a gap, because a
            stage cannot be done before the one it builds on; WrongDimension for a torque where an angle is due.
    """
    if not stages:
        raise InputMissing("stages", "needs at least one stage")
    if len(readings) > len(stages):
        raise OutOfRange("readings", f"has {len(readings)} readings for {len(stages)} stages")
    padded = (*readings, *[None] * (len(stages) - len(readings)))
    given = [reading is not None for reading in padded]
    if given != sorted(given, reverse=True):
        raise OutOfRange("readings", "has a reading for a stage whose forerunner has none")
    places = tuple(
        None if reading is None else stage.place(reading) for stage, reading in zip(stages, padded, strict=True)
    )
    unmet = [index for index, place in enumerate(places) if place is not Place.WITHIN]
    return StagesVerdict(places, unmet[0] if unmet else None)


# -----------------------------------------------------------------------------------------------------------
# Deviation and calibration


class ToolType(StrEnum):
    """Hand torque tools as ISO 6789 sorts them: type I shows the torque, type II is set and lets go."""

    TYPE_I_A = "I A"  # torsion or flexion bar
    TYPE_I_B = "I B"  # rigid housing, scale or dial
    TYPE_I_C = "I C"  # rigid housing, electronic
    TYPE_I_D = "I D"  # screwdriver, scale or dial
    TYPE_I_E = "I E"  # screwdriver, electronic
    TYPE_II_A = "II A"  # adjustable, graduated
    TYPE_II_B = "II B"  # fixed setting
    TYPE_II_C = "II C"  # adjustable, not graduated
    TYPE_II_D = "II D"  # screwdriver, adjustable, graduated
    TYPE_II_E = "II E"  # screwdriver, fixed
    TYPE_II_F = "II F"  # screwdriver, adjustable, not graduated
    TYPE_II_G = "II G"  # flexion bar, adjustable, graduated


_ALWAYS_SIX_PERCENT = frozenset(
    {ToolType.TYPE_I_A, ToolType.TYPE_I_D, ToolType.TYPE_II_D, ToolType.TYPE_II_E}
    | {ToolType.TYPE_II_F, ToolType.TYPE_II_G}
)
_FOUR_PERCENT = Quantity(Dimension.RATIO, 40_000)
_SIX_PERCENT = Quantity(Dimension.RATIO, 60_000)
_SMALL_TOOL_NM = 10.0


def deviation(setting: Quantity, measured: Quantity) -> Quantity:
    """Give the deviation of a wrench in the sign of ISO 6789: (set - measured)/measured.

    Positive: the wrench promises more than it gives (the joint gets too little).
    Source: ISO 6789:2003, clause 6.5 / ISO 6789-1:2017, clause 7 (sign from memory).
    """
    promised = need(setting, Dimension.TORQUE, "setting", positive=True)
    given = need(measured, Dimension.TORQUE, "measured", positive=True)
    return from_si(Dimension.RATIO, (promised - given) / given)


def permissible_deviation(largest: Quantity, tool_type: ToolType = ToolType.TYPE_II_A) -> Quantity:
    """Give the deviation allowed either way for a tool of that largest torque: 4 % above 10 N·m, else 6 %.

    Source: ISO 6789 (2003; carried into ISO 6789-1:2017, 5.1.5), read for type II class A in a tool maker's manual
    (manuzoid.com/manuals/7Bakw, 2026-11-25); the other types and classes from memory.
    """
    top = need(largest, Dimension.TORQUE, "largest", positive=True)
    return _SIX_PERCENT if tool_type in _ALWAYS_SIX_PERCENT or top <= _SMALL_TOOL_NM else _FOUR_PERCENT


@dataclass(frozen=True, slots=True)
class CalibrationVerdict:
    """The deviations found, in order, and whether all lie within what is allowed."""

    deviations: tuple[Quantity, ...]
    allowed: Quantity
    passes: bool


def judge_calibration(
    readings: Sequence[tuple[Quantity, Quantity]], largest: Quantity, tool_type: ToolType = ToolType.TYPE_II_A
) -> CalibrationVerdict:
    """Say whether a wrench is true, from (setting, measured) pairs.

    Raises: InputMissing without readings; as `deviation` for each pair.
    """
    if not readings:
        raise InputMissing("readings", "needs at least one pair of setting and measured torque")
    allowed = permissible_deviation(largest, tool_type)
    found = tuple(deviation(setting, measured) for setting, measured in readings)
    return CalibrationVerdict(found, allowed, all(abs(each.value) <= allowed.value for each in found))


def calibration_points(largest: Quantity) -> tuple[Quantity, Quantity, Quantity]:
    """Give the torques at which a wrench is checked: 20, 60 and 100 % of its largest.

    Source: ISO 6789:2003 as quoted in a tool maker's manual (manuzoid.com/manuals/7Bakw, read 2026-11-25).
    """
    need(largest, Dimension.TORQUE, "largest", positive=True)
    low, middle, top = (
        Quantity(Dimension.TORQUE, largest.value * share // 100, largest.unit) for share in (20, 60, 100)
    )
    return low, middle, top


class AsFound:
    """A wrench as a calibration found it: what it really gave when it said something else.

    Points: (set, measured) pairs of one wrench, at least one; several at one setting count by their mean. Between the
    settings checked the deviation is taken to run straight from one to the next; outside them the nearest one's holds.
    Both are house rules, with no source: a certificate says nothing of what lies between its points.
    Raises: InputMissing without points; OutOfRange for a torque that is not above zero.
    """

    def __init__(self, points: Sequence[tuple[Quantity, Quantity]]) -> None:
        if not points:
            raise InputMissing("readings", "needs at least one pair of setting and measured torque")
        measured: dict[int, list[int]] = {}
        for setting, given in points:
            need(setting, Dimension.TORQUE, "setting", positive=True)
            need(given, Dimension.TORQUE, "measured", positive=True)
            measured.setdefault(setting.value, []).append(given.value)
        # Each setting with 1 + its deviation, set/measured, as a fraction of whole numbers.
        self._points = [(at, at * len(each), sum(each)) for at, each in sorted(measured.items())]
        self._given: dict[int, int] = {}

    def given(self, said_mnm: int) -> int:
        """What the wrench gave when it said this, in whole mN·m: said / (1 + deviation), as ISO 6789 signs it."""
        known = self._given.get(said_mnm)
        if known is None:
            above, below = self._factor(said_mnm)
            known = self._given[said_mnm] = (2 * said_mnm * below + above) // (2 * above)
        return known

    def deviation_at(self, said_mnm: int) -> Fraction:
        """The deviation at a setting, as a part of what was given: 0.06 is 6 %."""
        return Fraction(*self._factor(said_mnm)) - 1

    def _factor(self, said_mnm: int) -> tuple[int, int]:
        """1 + the deviation at a setting, above and below the line. Whole numbers: a recall asks this very often."""
        first, last = self._points[0], self._points[-1]
        if said_mnm <= first[0]:
            return first[1:]
        if said_mnm >= last[0]:
            return last[1:]
        end = next(index for index, point in enumerate(self._points) if point[0] >= said_mnm)
        (low, above_low, below_low), (high, above_high, below_high) = self._points[end - 1], self._points[end]
        left, right = above_low * below_high * (high - said_mnm), above_high * below_low * (said_mnm - low)
        return left + right, below_low * below_high * (high - low)


def is_resolution_fine_enough(resolution: Quantity, reading: Quantity, allowed: Quantity) -> bool:
    """Say whether an electronic tool shows steps no coarser than a quarter of the deviation allowed at a reading.

    Source: ISO 6789-1:2017 (norbar.com/News-Events/Blog/ArticleID/67, read 2026-11-25).
    """
    step = need(resolution, Dimension.TORQUE, "resolution", positive=True)
    shown = need(reading, Dimension.TORQUE, "reading", positive=True)
    return step <= need(allowed, Dimension.RATIO, "allowed", positive=True) * shown / 4


# -----------------------------------------------------------------------------------------------------------
# Usable range


class RangeRule(StrEnum):
    """Where the low end of the range comes from."""

    LOWEST_MARK = "lowest_mark"  # ISO 6789-1:2017, 5.1.3
    FIFTH_OF_LARGEST = "fifth_of_largest"  # the 2003 habit, when no lower mark is known: assumed, and shown as such


@dataclass(frozen=True, slots=True)
class UsableRange:
    low: Quantity
    high: Quantity
    rule: RangeRule

    @property
    def is_assumed(self) -> bool:
        return self.rule is RangeRule.FIFTH_OF_LARGEST

    def place(self, setting: Quantity) -> Place:
        """Say whether a setting lies in the range; its ends do."""
        need(setting, Dimension.TORQUE, "setting")
        if setting.value < self.low.value:
            return Place.BELOW
        return Place.ABOVE if setting.value > self.high.value else Place.WITHIN


def usable_range(largest: Quantity, lowest_mark: Quantity | None = None) -> UsableRange:
    """Give the range a wrench may be used in: from its lowest marked value to its largest.

    Without a known mark the range starts at 20 % of the largest, which is an assumption and says so.
    Raises: WrongDimension; OutOfRange for a mark above the largest.
    Source: ISO 6789-1:2017, 5.1.3 (norbar.com/News-Events/Blog/ArticleID/67 and /68, read 2026-11-25); 20 % is the
            lowest check point of the 2003 edition.
    """
    need(largest, Dimension.TORQUE, "largest", positive=True)
    if lowest_mark is None:
        low = Quantity(Dimension.TORQUE, -(-largest.value // 5), largest.unit)
        return UsableRange(low, largest, RangeRule.FIFTH_OF_LARGEST)
    need(lowest_mark, Dimension.TORQUE, "lowest_mark", positive=True)
    if lowest_mark.value > largest.value:
        raise OutOfRange("lowest_mark", "is above the largest torque of the wrench")
    return UsableRange(lowest_mark, largest, RangeRule.LOWEST_MARK)


# -----------------------------------------------------------------------------------------------------------
# Due


class DueReason(StrEnum):
    """Why a wrench has to be calibrated before it is used again."""

    NEVER_CHECKED = "never_checked"
    DATE = "date"
    CYCLES = "cycles"
    OVERLOAD = "overload"
    DROP = "drop"
    REPAIR = "repair"


@dataclass(frozen=True, slots=True)
class Interval:
    """How long a calibration holds. The firm's own control procedure takes precedence over the default.

    Source: ISO 6789: 12 months or 5000 cycles, whichever comes first (norbar.com/News-Events/Blog/ArticleID/99 and
    mobiletestncal.com.au, read 2026-11-25); early after an overload of more than 25 % (mobiletestncal.com.au).
    """

    months: int = 12
    cycles: int = 5000
    overload: Quantity = Quantity(Dimension.RATIO, 250_000)  # noqa: RUF009 - a frozen value


@dataclass(frozen=True, slots=True)
class SinceCalibration:
    """What has happened to a wrench since it was last found true.

    cycles: None where nobody counts them. heaviest: the largest torque it was loaded with; None if not known.
    """

    cycles: int | None = None
    heaviest: Quantity | None = None
    was_dropped: bool = False
    was_repaired: bool = False


@dataclass(frozen=True, slots=True)
class Due:
    """reasons: why it is due, empty if it is not. due_on: the day from which the date alone makes it due."""

    reasons: tuple[DueReason, ...]
    due_on: date | None

    @property
    def is_due(self) -> bool:
        return bool(self.reasons)


def due(
    last_good: date | None,
    today: date,
    largest: Quantity,
    since: SinceCalibration | None = None,
    interval: Interval | None = None,
) -> Due:
    """Say whether a wrench is due, and why.

    Due on the anniversary itself, at the last counted cycle, after an overload of more than a quarter above its largest
    torque, after a drop and after a repair. Time is handed in: nothing here asks the clock.
    Raises: OutOfRange for a calibration in the future, negative cycles or an interval that is none.
    """
    since = since or SinceCalibration()
    interval = interval or Interval()
    if interval.months <= 0 or interval.cycles <= 0:
        raise OutOfRange("interval", "needs at least one month and one cycle", reason="interval")
    if since.cycles is not None and since.cycles < 0:
        raise OutOfRange("cycles", f"cannot be negative, got {since.cycles}")
    if last_good is not None and last_good > today:
        raise OutOfRange("last_good", f"lies in the future: {last_good.isoformat()}")
    due_on = None if last_good is None else months_later(last_good, interval.months)
    found = {
        DueReason.NEVER_CHECKED: last_good is None,
        DueReason.DATE: due_on is not None and today >= due_on,
        DueReason.CYCLES: since.cycles is not None and since.cycles >= interval.cycles,
        DueReason.OVERLOAD: _was_overloaded(largest, since.heaviest, interval.overload),
        DueReason.DROP: since.was_dropped,
        DueReason.REPAIR: since.was_repaired,
    }
    return Due(tuple(reason for reason, holds in found.items() if holds), due_on)


def is_due(
    last_good: date | None,
    today: date,
    largest: Quantity,
    since: SinceCalibration | None = None,
    interval: Interval | None = None,
) -> bool:
    """Say whether a wrench is due. `due` says why."""
    return due(last_good, today, largest, since, interval).is_due


def _was_overloaded(largest: Quantity, heaviest: Quantity | None, overload: Quantity) -> bool:
    need(largest, Dimension.TORQUE, "largest", positive=True)
    if heaviest is None:
        return False
    need(heaviest, Dimension.TORQUE, "heaviest", at_least_zero=True)
    need(overload, Dimension.RATIO, "overload", at_least_zero=True)
    return heaviest.value * 1_000_000 > largest.value * (1_000_000 + overload.value)


def months_later(day: date, months: int) -> date:
    """The same day so many months on; the last of the month where it has no such day."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    try:
        return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))
    except ValueError as error:
        raise OutOfRange("interval", f"of {months} months leaves the calendar", reason="calendar") from error


# -----------------------------------------------------------------------------------------------------------
# Castellated nut


class CastleAction(StrEnum):
    PIN = "pin"  # slot and hole meet: fit a new cotter pin
    TURN_ON = "turn_on"  # tighten on to the next slot
    CHANGE_PART = "change_part"  # the highest torque would be passed: change washer or nut, never back off


@dataclass(frozen=True, slots=True)
class CastleNut:
    """What to do with a castellated nut that has its torque.

    further:     how far to turn on until the next slot meets the hole; zero when they meet.
    at_most:     the largest turn that can ever be needed, one slot's spacing; `further` is always less.
    """

    action: CastleAction
    further: Quantity
    at_most: Quantity


def castle_nut(
    hole_ahead: Quantity,
    *,
    slots: int = 6,
    torque: Quantity | None = None,
    highest: Quantity | None = None,
) -> CastleNut:
    """Say how far to turn a castellated nut on so that a slot meets the hole. It is never turned back.

    hole_ahead: how far, in the tightening direction, the hole lies ahead of a slot; negative if the slot has passed it.
    torque, highest: the torque it has now, and the highest its source allows where it gives one. At the highest there
    is nothing left for turning on, so washer or nut is changed.
    Validity: slots evenly spaced, one cross hole; 4 to 12 slots.
    Raises: WrongDimension; OutOfRange for other slot counts, or a torque beyond the highest.
    Source: never slackened, common practice, no source; 360°/6 = 60° is geometry. Turning on until they meet:
            TM 10-3930-660-24-2, WP 0251. Starting at the lowest and never passing the highest, else changing washer or
            nut: FAA AC 43.13-1B, paragraph 7-40 f (landseaskyspace.com/ac4313/7-43.html, read 2026-11-25).
    """
    need(hole_ahead, Dimension.ANGLE, "hole_ahead")
    if not 4 <= slots <= 12:
        raise OutOfRange("slots", f"a castellated nut has 4 to 12 slots, got {slots}")
    full_turn = 360_000
    at_most = Quantity(Dimension.ANGLE, full_turn // slots)
    # Counted in slot-ths of a millidegree, so that 7 or 11 slots come out even.
    further = Quantity(Dimension.ANGLE, round((hole_ahead.value * slots) % full_turn / slots))
    if further.value == 0 or further.value >= at_most.value:
        return CastleNut(CastleAction.PIN, Quantity(Dimension.ANGLE, 0), at_most)
    if highest is not None:
        top = need(highest, Dimension.TORQUE, "highest", positive=True)
        if torque is None:
            raise InputMissing("torque", "needs the torque the nut has now, to compare with the highest")
        now = need(torque, Dimension.TORQUE, "torque", at_least_zero=True)
        if now > top:
            raise OutOfRange("torque", "is beyond the highest torque the source allows", reason="beyond_highest")
        if now == top:
            return CastleNut(CastleAction.CHANGE_PART, further, at_most)
    return CastleNut(CastleAction.TURN_ON, further, at_most)
