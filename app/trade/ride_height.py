"""Ride height: four corners against what the maker prints, after allowing for tyres and pressures.

A height from the ground is only as good as the tyre under it, so the tyre is asked about first and a reading taken on
wrong pressures is not judged by guesswork: either an allowance is given or the answer is "check first".
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from app.trade.limits import Judged, Limits, Standing, judge
from app.trade.problems import OutOfRange
from app.trade.quantity import Dimension, Quantity, from_si, need


class Corner(StrEnum):
    FRONT_LEFT = "front_left"
    FRONT_RIGHT = "front_right"
    REAR_LEFT = "rear_left"
    REAR_RIGHT = "rear_right"


class Axle(StrEnum):
    FRONT = "front"
    REAR = "rear"


class Verdict(StrEnum):
    """The words of the sheet: sound, watch, replace; and check first, when the readings cannot carry a verdict yet."""

    SOUND = "sound"
    WATCH = "watch"
    REPLACE = "replace"
    CHECK_FIRST = "check_first"


class Reason(StrEnum):
    CORNER_LOW = "corner_low"
    CORNER_HIGH = "corner_high"
    SIDES_DIFFER = "sides_differ"
    RAKE_OFF = "rake_off"
    PRESSURES_NOT_SET = "pressures_not_set"
    NOT_SETTLED = "not_settled"
    NOT_EMPTY = "not_empty"


class CheckFirst(StrEnum):
    """What to look at before a spring is blamed, in the order to look."""

    PRESSURES = "pressures"
    TYRE_SIZE = "tyre_size"
    LOAD_AND_FUEL = "load_and_fuel"
    LEVEL_FLOOR = "level_floor"
    SETTLED = "settled"
    BUSHINGS_CLAMPED_HANGING = "bushings_clamped_hanging"
    SPRING_SEATS = "spring_seats"
    TORSION_BAR_ADJUSTER = "torsion_bar_adjuster"
    SPRINGS = "springs"


@dataclass(frozen=True, slots=True)
class Heights:
    """Ground to the stated point, at each corner, as measured."""

    front_left: Quantity
    front_right: Quantity
    rear_left: Quantity
    rear_right: Quantity


@dataclass(frozen=True, slots=True)
class HeightSpec:
    """What the maker prints. Sides and rake may not be printed at all: then they are not judged.

    side_difference: the most that left and right of one axle may differ.
    rake: rear mean less front mean, with its own room below and above.
    """

    front: Limits
    rear: Limits
    side_difference: Quantity | None = None
    rake: Limits | None = None


@dataclass(frozen=True, slots=True)
class Circumstances:
    """How the readings were taken. `raises` is what the fitted tyres (or a pressure known to be off) add to the height
    at each axle, negative where they lower it; see `tyre.height_change_mm` and `pressure_allowance`."""

    pressures_set: bool
    settled: bool
    empty: bool
    raises: Mapping[Axle, Quantity] | None = None
    torsion_bars: bool = False


@dataclass(frozen=True, slots=True)
class Judgement:
    """The verdict with all it rests on. `corners` hold the readings as allowed for; differences are left − right."""

    verdict: Verdict
    reasons: tuple[tuple[Reason, str], ...]
    check_first: tuple[CheckFirst, ...]
    corners: Mapping[Corner, Judged]
    side_difference: Mapping[Axle, Quantity]
    rake: Quantity


def judge_heights(measured: Heights, spec: HeightSpec, how: Circumstances) -> Judgement:
    """Judge four heights against the spec: sound, watch or replace, with reasons and what to check first.

    A corner below its limit speaks for replacing the springs of that axle; a corner above, sides that differ or a rake
    outside speak for a closer look. Readings on wrong pressures, unsettled or loaded are not judged: CHECK_FIRST.

    Units:  lengths; compared in whole micrometres, never rounded first.
    Raises: WrongDimension, OutOfRange naming the corner or limit; the spec is never filled in.
    Source: common practice, no source (order of the checks, settling by jouncing, side-to-side comparison); that the
            four corners are compared side to side on level ground: COMAR 11.14.05.03 (read 25 Nov 2026, no figure).
            The maker's limits are the ones that count.
    """
    allowed = _allow(measured, how)
    corners = {
        corner: judge(height, spec.front if corner in _FRONT else spec.rear) for corner, height in allowed.items()
    }
    sides = {
        Axle.FRONT: _minus(allowed[Corner.FRONT_LEFT], allowed[Corner.FRONT_RIGHT]),
        Axle.REAR: _minus(allowed[Corner.REAR_LEFT], allowed[Corner.REAR_RIGHT]),
    }
    rake = _rake(allowed)
    reasons = [*_before_judging(how), *_against_spec(corners, sides, rake, spec)]
    verdict = _verdict(reasons)
    return Judgement(verdict, tuple(reasons), _what_first(verdict, how), corners, sides, rake)


def pressure_allowance(squash_at_placard: Quantity, placard: Quantity, actual: Quantity) -> Quantity:
    """Estimate what an off pressure adds to the height at an axle: squash·(1 − placard/actual); negative is lower.

    `squash_at_placard` is how much the loaded tyre is flattened at its right pressure: free radius less the height of
    the wheel's centre. An estimate to decide whether pressure explains a low corner; setting the pressure is better.

    Range:  pressures between half and twice the placard's; a tyre's stiffness taken as proportional to its pressure.
    Raises: OutOfRange outside that range.
    Source: common practice, no source.
    """
    squash = need(squash_at_placard, Dimension.LENGTH, "squash_at_placard", at_least_zero=True)
    right = need(placard, Dimension.PRESSURE, "placard", positive=True)
    found = need(actual, Dimension.PRESSURE, "actual", positive=True)
    if not right / 2 <= found <= right * 2:
        raise OutOfRange("actual", "is less than half or more than twice the placard's; set the pressure and measure")
    return from_si(Dimension.LENGTH, squash * (1 - right / found))


# Inside ----------------------------------------------------------------------------------------------------------

_FRONT = (Corner.FRONT_LEFT, Corner.FRONT_RIGHT)


def _allow(measured: Heights, how: Circumstances) -> dict[Corner, Quantity]:
    raises = how.raises or {}
    for axle, amount in raises.items():
        need(amount, Dimension.LENGTH, f"raises.{axle}")
    allowed = {}
    for corner in Corner:
        reading: Quantity = getattr(measured, corner.value)
        need(reading, Dimension.LENGTH, corner.value, positive=True)
        tyre = raises.get(Axle.FRONT if corner in _FRONT else Axle.REAR)
        allowed[corner] = Quantity(Dimension.LENGTH, reading.value - (tyre.value if tyre else 0))
    return allowed


def _minus(left: Quantity, right: Quantity) -> Quantity:
    return Quantity(Dimension.LENGTH, left.value - right.value)


def _rake(allowed: Mapping[Corner, Quantity]) -> Quantity:
    front = sum(allowed[corner].value for corner in _FRONT)
    rear = sum(height.value for corner, height in allowed.items() if corner not in _FRONT)
    return Quantity(Dimension.LENGTH, round((rear - front) / 2))


def _before_judging(how: Circumstances) -> list[tuple[Reason, str]]:
    found = []
    if not how.pressures_set:
        found.append((Reason.PRESSURES_NOT_SET, ""))
    if not how.settled:
        found.append((Reason.NOT_SETTLED, ""))
    if not how.empty:
        found.append((Reason.NOT_EMPTY, ""))
    return found


def _against_spec(
    corners: Mapping[Corner, Judged], sides: Mapping[Axle, Quantity], rake: Quantity, spec: HeightSpec
) -> list[tuple[Reason, str]]:
    found = [
        (Reason.CORNER_LOW if row.standing is Standing.BELOW else Reason.CORNER_HIGH, corner.value)
        for corner, row in corners.items()
        if row.standing is not Standing.WITHIN
    ]
    if spec.side_difference is not None:
        need(spec.side_difference, Dimension.LENGTH, "side_difference", at_least_zero=True)
        found += [
            (Reason.SIDES_DIFFER, axle.value)
            for axle, difference in sides.items()
            if abs(difference.value) > spec.side_difference.value
        ]
    if spec.rake is not None and judge(rake, spec.rake).standing is not Standing.WITHIN:
        found.append((Reason.RAKE_OFF, ""))
    return found


_NOT_YET = {Reason.PRESSURES_NOT_SET, Reason.NOT_SETTLED, Reason.NOT_EMPTY}


def _verdict(reasons: list[tuple[Reason, str]]) -> Verdict:
    kinds = {reason for reason, _ in reasons}
    if kinds & _NOT_YET:
        return Verdict.CHECK_FIRST
    if Reason.CORNER_LOW in kinds:
        return Verdict.REPLACE
    return Verdict.WATCH if kinds else Verdict.SOUND


def _what_first(verdict: Verdict, how: Circumstances) -> tuple[CheckFirst, ...]:
    if verdict is Verdict.SOUND:
        return ()
    first = []
    if not how.pressures_set:
        first.append(CheckFirst.PRESSURES)
    if how.raises is None:
        first.append(CheckFirst.TYRE_SIZE)
    if not how.empty:
        first.append(CheckFirst.LOAD_AND_FUEL)
    first.append(CheckFirst.LEVEL_FLOOR)
    if not how.settled:
        first.append(CheckFirst.SETTLED)
    if verdict is not Verdict.CHECK_FIRST:
        first += [CheckFirst.BUSHINGS_CLAMPED_HANGING, CheckFirst.SPRING_SEATS]
        first.append(CheckFirst.TORSION_BAR_ADJUSTER if how.torsion_bars else CheckFirst.SPRINGS)
    return tuple(first)
