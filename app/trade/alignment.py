"""Wheel alignment: angles as the trade writes them, toe as length and angle, thrust, cross values, limits, shims.

Signs, fixed here and used everywhere (after SAE J670, from memory): camber is positive with the top outward, caster
with the upper pivot rearward, toe with the front edges inward (toe-in); a positive thrust angle points to the right.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from app.trade.problems import InputMissing, OutOfRange
from app.trade.quantity import SMALL_UNITS, Dimension, Quantity, from_si, need

# Degrees and minutes ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class DegreesMinutes:
    """An angle as printed. The sign stands apart, because in −0°45′ it would be lost on the zero."""

    negative: bool
    degrees: int
    minutes: float


def from_degrees_minutes(negative: bool, degrees: int, minutes: float) -> Quantity:
    """Give an angle from degrees and minutes, the sign given apart.

    Raises: OutOfRange for negative degrees or minutes (say `negative`), or minutes of 60 and more.
    """
    if degrees < 0:
        raise OutOfRange("degrees", "must not be negative; the sign is given apart, or it is lost on a zero")
    if not 0 <= minutes < 60:
        raise OutOfRange("minutes", f"must be from 0 to below 60, got {minutes}")
    amount = degrees + minutes / 60
    return from_si(Dimension.ANGLE, -amount if negative else amount)


def to_degrees_minutes(angle: Quantity) -> DegreesMinutes:
    """Give an angle in degrees and minutes, minutes to a tenth (a thousandth of a degree is 0.06′)."""
    need(angle, Dimension.ANGLE, "angle")
    tenths = round(abs(angle.value) * 600 / SMALL_UNITS[Dimension.ANGLE][1])
    return DegreesMinutes(angle.value < 0, tenths // 600, tenths % 600 / 10)


# Toe -------------------------------------------------------------------------------------------------------------


class ToeMeasure(StrEnum):
    """What a toe *length* was measured between. The two differ by a factor of two, so it is never assumed.

    FRONT_TO_REAR_EDGE: how much further in the front edge of one wheel stands than its rear edge, over the full
    diameter: D·sin θ. FRONT_EDGE_TO_CENTRE: how far the front edge stands in from the wheel's centre: (D/2)·sin θ.
    """

    FRONT_TO_REAR_EDGE = "front_to_rear_edge"
    FRONT_EDGE_TO_CENTRE = "front_edge_to_centre"


def toe_angle(length: Quantity, diameter: Quantity, measure: ToeMeasure) -> Quantity:
    """Give one wheel's toe angle from its toe length at a stated diameter.

    Units:  lengths; the diameter is that of the points measured (rim edge, scribed line), not of the tyre by habit.
    Raises: OutOfRange if the length is not less than what it is measured over.
    Source: sine of the right triangle; example in an owners' forum, post 1974396790 (read 25 Nov 2026).
    """
    reach = _reach(diameter, measure)
    toe = need(length, Dimension.LENGTH, "length")
    if abs(toe) >= reach:
        raise OutOfRange(
            "length", "must be far less than the diameter it was measured at; check both", reason="toe_too_long"
        )
    return from_si(Dimension.ANGLE, math.degrees(math.asin(toe / reach)))


def toe_length(angle: Quantity, diameter: Quantity, measure: ToeMeasure) -> Quantity:
    """Give one wheel's toe length at a diameter from its angle. The angle is the wheel's; the length is the diameter's.

    Raises: OutOfRange for an angle of 90° or more.
    """
    reach = _reach(diameter, measure)
    theta = need(angle, Dimension.ANGLE, "angle")
    if abs(theta) >= 90:
        raise OutOfRange("angle", "must be less than 90°", reason="right_angle")
    return from_si(Dimension.LENGTH, reach * math.sin(math.radians(theta)))


def total_toe(left: Quantity, right: Quantity) -> Quantity:
    """Give the total toe of an axle: left + right, both as angles or both as lengths of one measure.

    Raises: WrongDimension if one is an angle and the other a length.
    """
    dimension = _angle_or_length(left, "left")
    need(right, dimension, "right")
    return Quantity(dimension, left.value + right.value)


def thrust_angle(left_rear: Quantity, right_rear: Quantity) -> Quantity:
    """Give the thrust angle: (left rear toe − right rear toe)/2, toe-in positive; positive points to the right.

    Source: bisector of the rear wheels' total toe; the sign is a convention (from memory), fixed here.
    """
    need(left_rear, Dimension.ANGLE, "left_rear")
    need(right_rear, Dimension.ANGLE, "right_rear")
    # Halved exactly, half to even: the tablet does the same sum in whole numbers.
    return Quantity(Dimension.ANGLE, round(Fraction(left_rear.value - right_rear.value, 2)))


def cross(left: Quantity, right: Quantity) -> Quantity:
    """Give a cross value (camber or caster): left − right.

    Source: convention (from memory); the pull goes to the side of more camber or less caster.
    """
    need(left, Dimension.ANGLE, "left")
    need(right, Dimension.ANGLE, "right")
    return Quantity(Dimension.ANGLE, left.value - right.value)


def side_slip(angle: Quantity) -> Quantity:
    """Give the sideways travel of a wheel per distance rolled, as a ratio: tan of its toe angle.

    Raises: OutOfRange for an angle of 90° or more.
    """
    theta = need(angle, Dimension.ANGLE, "angle")
    if abs(theta) >= 90:
        raise OutOfRange("angle", "must be less than 90°", reason="right_angle")
    return from_si(Dimension.RATIO, math.tan(math.radians(theta)))


def limit_in_use(makers_value: Quantity, factor: Quantity) -> Quantity:
    """Give the limit for a vehicle in use from the maker's value and a jurisdiction's factor.

    The factor is data with its own source (for one: 1.5 in 49 CFR 570.7(d)); none is built in here.

    Raises: OutOfRange for a factor below 1.
    """
    dimension = _angle_or_length(makers_value, "makers_value")
    times = need(factor, Dimension.RATIO, "factor", positive=True)
    if times < 1:
        raise OutOfRange("factor", "must be 1 or more: it widens the maker's value")
    return from_si(dimension, makers_value.si * times)


# Shims -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ShimEffect:
    """What a shim of one thickness at one bolt changes, by the name of the angle ("camber", "caster").

    Linear: half the thickness changes half as much, and taking a shim out reverses the sign.
    """

    bolt: str
    thickness: Quantity
    change: Mapping[str, Quantity]


@dataclass(frozen=True, slots=True)
class ShimStock:
    """Shims on the shelf: how thick, and how many there are."""

    thickness: Quantity
    count: int


@dataclass(frozen=True, slots=True)
class ShimMove:
    """So many shims of one thickness put in at a bolt (negative count: taken out)."""

    bolt: str
    thickness: Quantity
    count: int


@dataclass(frozen=True, slots=True)
class ShimPlan:
    """Which shims go where, what they will change, and what is left of the wish. No moves: leave it as it is."""

    moves: tuple[ShimMove, ...]
    changes: Mapping[str, Quantity]
    remains: Mapping[str, Quantity]


# A table in which more sets of shims than this could be tried is refused rather than searched in part.
_MOST_TRIALS = 400_000
_MOST_AT_ONE_BOLT = 6


def solve_shims(
    effects: Sequence[ShimEffect],
    wanted: Mapping[str, Quantity],
    stock: Sequence[ShimStock],
    *,
    fitted: Sequence[ShimMove] = (),
    most_per_bolt: int = 4,
) -> ShimPlan:
    """Find the whole shims, in stock or fitted now, that bring the angles nearest to the wanted changes.

    Every possible set is tried, because rounding each bolt by itself can miss the best one. Best is: the worst angle
    left least off; then the sum of what is left; then the fewest shims handled.

    Units:  `wanted` are *changes* of angle, not the angles to reach. `fitted` are the shims there now, which may be
            taken out (and, once out, may go in elsewhere only if they are in `stock`).
    Shapes: each bolt once in `effects`; every angle in `wanted` changed by at least one bolt.
    Raises: InputMissing with no effects, no wish, or an angle that no bolt changes; OutOfRange for a thickness of zero,
            a negative count, a bolt named twice, or a search too large to finish.
    Source: superposition of a linear table, e.g. TM 9-2320-280-34 table 20-3 ("combinations of additions or
            subtractions will provide desired results").
    """
    if not wanted:
        raise InputMissing("wanted", "needs the change of at least one angle; zero if it is to stay")
    names = sorted(wanted)
    rows = _effect_rows(effects, wanted, names)
    goal = [need(wanted[name], Dimension.ANGLE, f"wanted.{name}") for name in names]
    shelf = _shelf(stock)
    choices = [_choices(bolt, shelf, fitted, most_per_bolt) for bolt in rows]
    trials = math.prod(len(choice) for choice in choices)
    if trials > _MOST_TRIALS:
        raise OutOfRange(
            "stock", "gives too many sets to try them all; give fewer thicknesses or a lower most_per_bolt"
        )
    best: tuple[tuple[float, float, int, int], list[_Choice]] | None = None
    for picked in _together(choices, [count for _, count in shelf]):
        left = list(goal)
        for choice, row in zip(picked, rows.values(), strict=True):
            for i, per_um in enumerate(row):
                left[i] -= per_um * choice.um
        sizes = [abs(amount) for amount in left]
        # Rounded so that two sets that differ only in the last bit of a float count as equal.
        score = (
            round(max(sizes), 9),
            round(sum(sizes), 9),
            sum(choice.handled for choice in picked),
            sum(abs(choice.um) for choice in picked),
        )
        if best is None or score < best[0]:
            best = (score, list(picked))
    assert best is not None  # "leave it as it is" is always among the sets
    return _plan(list(rows), rows, best[1], shelf, names, goal)


def predict(effects: Sequence[ShimEffect], moves: Sequence[ShimMove]) -> Mapping[str, Quantity]:
    """Give the change of every angle that a set of shims will make, by adding up the table.

    Raises: OutOfRange if a move names a bolt that the table does not have.
    """
    totals: dict[str, float] = {}
    by_bolt = {effect.bolt: effect for effect in effects}
    for effect in effects:
        for name, change in effect.change.items():
            need(change, Dimension.ANGLE, f"effects.{effect.bolt}.{name}")
            totals.setdefault(name, 0.0)
    for move in moves:
        if move.bolt not in by_bolt:
            raise OutOfRange("moves", f"names the bolt {move.bolt!r}, which the table does not have")
        effect = by_bolt[move.bolt]
        reference = need(effect.thickness, Dimension.LENGTH, "effects.thickness", positive=True)
        thickness = need(move.thickness, Dimension.LENGTH, "moves.thickness", positive=True)
        for name, change in effect.change.items():
            totals[name] += change.si * move.count * thickness / reference
    return {name: from_si(Dimension.ANGLE, total) for name, total in totals.items()}


def table_mismatch(single: Sequence[ShimEffect], together: Mapping[str, Quantity]) -> Mapping[str, Quantity]:
    """Give how far a printed "all bolts together" row is from the sum of its single rows; zero everywhere is right.

    A linear table must add up. A row that does not is a misprint and must not be worked from.

    Shapes: the single rows are of the same shim thickness as the row of all together.
    Raises: OutOfRange if the single rows are of unequal thickness; InputMissing for an angle no single row has.
    Source: TM 9-2320-280-34 table 20-3 adds up; one row of TM 9-2320-387-24-2 table 34-2 does not.
    """
    if not single:
        raise InputMissing("single", "needs the row of each bolt by itself")
    if len({effect.thickness.value for effect in single}) != 1:
        raise OutOfRange("single", "rows must be for one thickness of shim")
    found: dict[str, Quantity] = {}
    for name, printed in together.items():
        need(printed, Dimension.ANGLE, f"together.{name}")
        parts = [effect.change[name] for effect in single if name in effect.change]
        if not parts:
            raise InputMissing("single", f"no row says what it does to {name}")
        found[name] = Quantity(Dimension.ANGLE, printed.value - sum(part.value for part in parts))
    return found


def shim_effect(thickness: Quantity, lever: Quantity) -> Quantity:
    """Give the angle a shim turns an arm's plane by, over the lever it acts at: atan(t/lever).

    Raises: OutOfRange for a lever of zero.
    """
    t = need(thickness, Dimension.LENGTH, "thickness")
    arm = need(lever, Dimension.LENGTH, "lever", positive=True)
    return from_si(Dimension.ANGLE, math.degrees(math.atan(t / arm)))


# Inside ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Choice:
    """One way to change the shims at one bolt: taken from the shelf by thickness, taken out of what is fitted."""

    bolt: str
    put_in: tuple[int, ...]
    taken_out: tuple[tuple[int, int], ...]
    um: int
    handled: int


def _reach(diameter: Quantity, measure: ToeMeasure) -> float:
    across = need(diameter, Dimension.LENGTH, "diameter", positive=True)
    return across if measure is ToeMeasure.FRONT_TO_REAR_EDGE else across / 2


def _angle_or_length(quantity: Quantity, argument: str) -> Dimension:
    dimension = Dimension.LENGTH if quantity.dimension is Dimension.LENGTH else Dimension.ANGLE
    need(quantity, dimension, argument)
    return dimension


def _effect_rows(
    effects: Sequence[ShimEffect], wanted: Mapping[str, Quantity], names: list[str]
) -> dict[str, list[float]]:
    if not effects:
        raise InputMissing("effects", "needs the maker's table: what a shim at each bolt changes")
    rows: dict[str, list[float]] = {}
    for effect in effects:
        if effect.bolt in rows:
            raise OutOfRange("effects", f"names the bolt {effect.bolt!r} twice; give one row for each bolt alone")
        need(effect.thickness, Dimension.LENGTH, f"effects.{effect.bolt}.thickness", positive=True)
        for name, change in effect.change.items():
            need(change, Dimension.ANGLE, f"effects.{effect.bolt}.{name}")
        rows[effect.bolt] = [
            effect.change[name].si / effect.thickness.value if name in effect.change else 0.0 for name in names
        ]
    for i, name in enumerate(names):
        if wanted[name].value and not any(row[i] for row in rows.values()):
            raise InputMissing("effects", f"no bolt in the table changes {name}")
    return rows


def _shelf(stock: Sequence[ShimStock]) -> list[tuple[int, int]]:
    counts: dict[int, int] = {}
    for shim in stock:
        need(shim.thickness, Dimension.LENGTH, "stock.thickness", positive=True)
        if shim.count < 0:
            raise OutOfRange("stock.count", "cannot be negative; count what is on the shelf", reason="negative")
        counts[shim.thickness.value] = counts.get(shim.thickness.value, 0) + shim.count
    return sorted(counts.items())


def _choices(bolt: str, shelf: list[tuple[int, int]], fitted: Sequence[ShimMove], most_per_bolt: int) -> list[_Choice]:
    if not 0 < most_per_bolt <= _MOST_AT_ONE_BOLT:
        raise OutOfRange("most_per_bolt", f"must be from 1 to {_MOST_AT_ONE_BOLT}")
    there = _fitted_at(bolt, fitted)
    found = []
    for put_in in _counts([min(count, most_per_bolt) for _, count in shelf], most_per_bolt):
        for out in _counts([count for _, count in there], sum(count for _, count in there)):
            # Taking a shim out and putting the same one in is work for nothing.
            outs = tuple((um, n) for (um, _), n in zip(there, out, strict=True) if n)
            ins = {um for (um, _), n in zip(shelf, put_in, strict=True) if n}
            if ins & {um for um, _ in outs}:
                continue
            um = sum(t * n for (t, _), n in zip(shelf, put_in, strict=True)) - sum(t * n for t, n in outs)
            found.append(_Choice(bolt, put_in, outs, um, sum(put_in) + sum(out)))
    return found


def _fitted_at(bolt: str, fitted: Sequence[ShimMove]) -> list[tuple[int, int]]:
    counts: dict[int, int] = {}
    for shim in fitted:
        need(shim.thickness, Dimension.LENGTH, "fitted.thickness", positive=True)
        if shim.count < 0:
            raise OutOfRange(
                "fitted.count", "cannot be negative; count what is between arm and frame now", reason="negative"
            )
        if shim.bolt == bolt and shim.count:
            counts[shim.thickness.value] = counts.get(shim.thickness.value, 0) + shim.count
    return sorted(counts.items())


def _counts(most_of_each: list[int], most_in_all: int) -> Iterator[tuple[int, ...]]:
    if not most_of_each:
        yield ()
        return
    for n in range(min(most_of_each[0], most_in_all) + 1):
        for rest in _counts(most_of_each[1:], most_in_all - n):
            yield (n, *rest)


def _together(choices: list[list[_Choice]], on_shelf: list[int]) -> Iterator[tuple[_Choice, ...]]:
    """Every choice at every bolt that the one shelf can serve together."""
    if not choices:
        yield ()
        return
    for choice in choices[0]:
        left = [have - n for have, n in zip(on_shelf, choice.put_in, strict=True)]
        if min(left, default=0) < 0:
            continue
        for rest in _together(choices[1:], left):
            yield (choice, *rest)


def _plan(
    bolts: list[str],
    rows: dict[str, list[float]],
    picked: list[_Choice],
    shelf: list[tuple[int, int]],
    names: list[str],
    goal: list[float],
) -> ShimPlan:
    moves: list[ShimMove] = []
    for choice in picked:
        moves += [
            ShimMove(choice.bolt, Quantity(Dimension.LENGTH, um), n)
            for (um, _), n in zip(shelf, choice.put_in, strict=True)
            if n
        ]
        moves += [ShimMove(choice.bolt, Quantity(Dimension.LENGTH, um), -n) for um, n in choice.taken_out]
    changes = {
        name: from_si(
            Dimension.ANGLE,
            sum(rows[bolt][i] * choice.um for bolt, choice in zip(bolts, picked, strict=True)),
        )
        for i, name in enumerate(names)
    }
    remains = {name: from_si(Dimension.ANGLE, goal[i] - changes[name].si) for i, name in enumerate(names)}
    return ShimPlan(tuple(moves), changes, remains)
