"""Where a vehicle's weight goes: axles, corners, stands, and through the lever onto the spring.

What belongs here: statics of the standing vehicle. Positions are distances behind the front axle, along the vehicle.
All sums take the vehicle as about level; with a centre of gravity above the axle line, raising one end moves weight
*off* the raised end, so a stand computed level is never computed too light (see `cg_height`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from app.trade.gravity import GRAVITY
from app.trade.problems import InputMissing, OutOfRange
from app.trade.quantity import SMALL_UNITS, Dimension, Quantity, from_si, need

_HALF = Quantity(Dimension.RATIO, 500_000)


@dataclass(frozen=True, slots=True)
class AxleMasses:
    """What stands on each axle, and the wheelbase between them."""

    front: Quantity
    rear: Quantity
    wheelbase: Quantity

    @property
    def total(self) -> Quantity:
        return Quantity(Dimension.MASS, self.front.value + self.rear.value)


@dataclass(frozen=True, slots=True)
class Split:
    """A load as it falls on the two axles. Negative: that axle is relieved (a load behind the rear axle)."""

    front: Quantity
    rear: Quantity


@dataclass(frozen=True, slots=True)
class Corners:
    """One amount for each corner, in the order the trade reads them out."""

    front_left: Quantity
    front_right: Quantity
    rear_left: Quantity
    rear_right: Quantity


@dataclass(frozen=True, slots=True)
class CornerFractions:
    """Parts of the whole: on the front axle, on the left side, on the front-left/rear-right diagonal."""

    front: Quantity
    left: Quantity
    diagonal: Quantity


@dataclass(frozen=True, slots=True)
class StandLoad:
    """What each stand carries, and what stays on the wheels. None: there is no stand, or the wheels are in the air.

    `heaviest` is the stand to choose the pair by. `over_axle` is how much more the stands of the worse end carry than
    that axle did (negative: less). `to_tipping` is how far the centre of gravity may be from where it is taken to be
    before the vehicle tips over a line of stands. `assumed` names what was assumed.
    """

    front_left: Quantity | None
    front_right: Quantity | None
    rear_left: Quantity | None
    rear_right: Quantity | None
    front_wheels: Quantity | None
    rear_wheels: Quantity | None
    heaviest: Quantity
    over_axle: Quantity
    to_tipping: Quantity
    assumed: tuple[str, ...]


class Basis(StrEnum):
    """How a stand's label means its figure. A label that does not say is read as the pair's."""

    EACH = "each"
    PER_PAIR = "per_pair"
    UNSAID = "unsaid"


@dataclass(frozen=True, slots=True)
class LabelMargin:
    """A load beside a label. `one_bears` is what the label grants one stand; `margin` is that over the load."""

    one_bears: Quantity
    margin: Quantity
    spare: Quantity
    within_label: bool
    counted_as: Basis


@dataclass(frozen=True, slots=True)
class SpringForces:
    """Force of one corner's spring at ride height and with the wheel hanging.

    `loose_when_hanging` says that the spring has come to its free length before the wheel hangs.
    """

    at_ride_height: Quantity
    hanging: Quantity
    loose_when_hanging: bool


# Axles and corners -----------------------------------------------------------------------------------------------


def axle_split(mass: Quantity, wheelbase: Quantity, cg_behind_front: Quantity) -> AxleMasses:
    """Give what the two axles carry: front m·(L − b)/L, rear m·b/L.

    Units:  a mass and two lengths; the two shares add up to the mass to the gram.
    Raises: OutOfRange if the centre of gravity is not between the axles (naming `cg_behind_front`).
    Source: moments about an axle; Gillespie, Fundamentals of Vehicle Dynamics, ch. 1 (from memory).
    """
    need(mass, Dimension.MASS, "mass", positive=True)
    base = need(wheelbase, Dimension.LENGTH, "wheelbase", positive=True)
    behind = need(cg_behind_front, Dimension.LENGTH, "cg_behind_front")
    if not 0 < behind < base:
        raise OutOfRange(
            "cg_behind_front",
            "must lie between the axles; measure from the front axle backwards",
            reason="outside_wheelbase",
        )
    rear = Quantity(Dimension.MASS, round(mass.value * cg_behind_front.value / wheelbase.value))
    return AxleMasses(Quantity(Dimension.MASS, mass.value - rear.value), rear, wheelbase)


def load_split(load: Quantity, wheelbase: Quantity, behind_front: Quantity) -> Split:
    """Give what a load put anywhere on the vehicle adds to each axle; behind the rear axle it relieves the front.

    Raises: OutOfRange for a negative load or a wheelbase of zero.
    Source: moments. A truck maker's body-builder manual (fig. B-2) prints the same case with a slip of 1 lb.
    """
    need(load, Dimension.MASS, "load", at_least_zero=True)
    need(wheelbase, Dimension.LENGTH, "wheelbase", positive=True)
    need(behind_front, Dimension.LENGTH, "behind_front")
    rear = Quantity(Dimension.MASS, round(load.value * behind_front.value / wheelbase.value))
    return Split(Quantity(Dimension.MASS, load.value - rear.value), rear)


def cg_behind_front(axles: AxleMasses) -> Quantity:
    """Give how far the centre of gravity lies behind the front axle: L·rear/(front + rear)."""
    front, rear, base = _axles(axles)
    return from_si(Dimension.LENGTH, base * rear / (front + rear))


def corners_from_axles(
    axles: AxleMasses, left_share_front: Quantity | None = None, left_share_rear: Quantity | None = None
) -> tuple[Corners, tuple[str, ...]]:
    """Give the four corner masses from the axles, and what was assumed: an unknown side share counts as half.

    Raises: OutOfRange for a share outside 0 … 1.
    """
    _axles(axles)
    assumed: list[str] = []
    front = _share(left_share_front, "left_share_front", assumed)
    rear = _share(left_share_rear, "left_share_rear", assumed)
    front_left, front_right = _shared(axles.front, front)
    rear_left, rear_right = _shared(axles.rear, rear)
    return Corners(front_left, front_right, rear_left, rear_right), tuple(assumed)


def corner_fractions(corners: Corners) -> CornerFractions:
    """Give the parts on the front, on the left and on one diagonal, from four corner masses off the scales.

    Raises: OutOfRange if a corner is negative or nothing weighs anything.
    """
    fl = need(corners.front_left, Dimension.MASS, "front_left", at_least_zero=True)
    fr = need(corners.front_right, Dimension.MASS, "front_right", at_least_zero=True)
    rl = need(corners.rear_left, Dimension.MASS, "rear_left", at_least_zero=True)
    rr = need(corners.rear_right, Dimension.MASS, "rear_right", at_least_zero=True)
    total = fl + fr + rl + rr
    if total <= 0:
        raise OutOfRange("corners", "must weigh something; read all four scales")
    return CornerFractions(
        from_si(Dimension.RATIO, (fl + fr) / total),
        from_si(Dimension.RATIO, (fl + rl) / total),
        from_si(Dimension.RATIO, (fl + rr) / total),
    )


def cg_height(axles: AxleMasses, raised_by: Quantity, front_mass_raised: Quantity, wheel_radius: Quantity) -> Quantity:
    """Give the height of the centre of gravity from weighing the front axle while the front is raised.

    h = r + (c − L·W′/W)·cot θ, with sin θ = H/L and c the distance from the centre of gravity to the rear axle.

    Range:  suspension locked or stiff, wheels free to turn; raise in three or more steps (ISO 10392:2011 cl. 6.2).
    Raises: OutOfRange if raised by nothing or by the wheelbase and more, or if the raised axle weighs *more* than it
            did level by a figure that puts the centre of gravity below the floor.
    Source: openbooks.link/?p=9580 (formula, read 25 Nov 2026); ISO 10392:2011 for the procedure.
    """
    front, rear, base = _axles(axles)
    lift = need(raised_by, Dimension.LENGTH, "raised_by", positive=True)
    weighed = need(front_mass_raised, Dimension.MASS, "front_mass_raised", positive=True)
    radius = need(wheel_radius, Dimension.LENGTH, "wheel_radius", positive=True)
    if lift >= base:
        raise OutOfRange("raised_by", "must be less than the wheelbase")
    to_rear = base * front / (front + rear)
    cot = math.sqrt(1 - (lift / base) ** 2) / (lift / base)
    height = radius + (to_rear - base * weighed / (front + rear)) * cot
    if height <= 0:
        raise OutOfRange("front_mass_raised", "puts the centre of gravity below the floor; weigh again")
    return from_si(Dimension.LENGTH, height)


def front_mass_when_raised(
    axles: AxleMasses, raised_by: Quantity, height_of_cg: Quantity, wheel_radius: Quantity
) -> Quantity:
    """Give what the front axle weighs while the front is raised: the other way round of `cg_height`.

    Raises: OutOfRange as `cg_height`.
    """
    front, rear, base = _axles(axles)
    lift = need(raised_by, Dimension.LENGTH, "raised_by", at_least_zero=True)
    height = need(height_of_cg, Dimension.LENGTH, "height_of_cg", positive=True)
    radius = need(wheel_radius, Dimension.LENGTH, "wheel_radius", positive=True)
    if lift >= base:
        raise OutOfRange("raised_by", "must be less than the wheelbase")
    tan = (lift / base) / math.sqrt(1 - (lift / base) ** 2)
    return from_si(Dimension.MASS, front - (front + rear) * (height - radius) * tan / base)


# Stands ----------------------------------------------------------------------------------------------------------


def stand_load(
    axles: AxleMasses,
    *,
    front_stands_at: Quantity | None = None,
    rear_stands_at: Quantity | None = None,
    left_share: Quantity | None = None,
) -> StandLoad:
    """Give what each stand carries, for a pair under the front, under the rear, or both.

    Stands set inboard of an axle carry *more* than the axle did. One end up, the other on its wheels:
    R = m·(distance of the centre of gravity from the wheels left down)/(distance of the stands from them).

    Units:  positions are distances behind the front axle. `left_share` is the part of each pair's load that the left
            stand takes; unknown counts as half and is named in `assumed`.
    Range:  about level (see the module's head), four points or two and an axle, a rigid body.
    Raises: InputMissing if no stand is given; OutOfRange for stands outside the wheelbase, a front pair not ahead of
            the rear pair, or stands with the centre of gravity past them or nearer than a twentieth of the wheelbase.
    Source: moments about the other support; the twentieth is a house rule (no source): a centre of gravity is not
            known more closely, and a person pulling on a bar moves it.
    """
    front_mass, rear_mass, base = _axles(axles)
    total, cg = front_mass + rear_mass, base * rear_mass / (front_mass + rear_mass)
    if front_stands_at is None and rear_stands_at is None:
        raise InputMissing("front_stands_at", "needs where the stands are, under the front, the rear, or both")
    front_at = _inside(front_stands_at, base, "front_stands_at")
    rear_at = _inside(rear_stands_at, base, "rear_stands_at")
    front_line = 0.0 if front_at is None else front_at
    rear_line = base if rear_at is None else rear_at
    if front_line >= rear_line:
        raise OutOfRange(
            "front_stands_at", "must be ahead of the stands under the rear; check both positions", reason="stands_order"
        )
    if cg - front_line < _LEAST_TO_TIPPING * base:
        raise OutOfRange(
            "front_stands_at", "is too near the vehicle's weight or behind it: it tips; move it ahead", reason="tips"
        )
    if rear_line - cg < _LEAST_TO_TIPPING * base:
        raise OutOfRange(
            "rear_stands_at",
            "is too near the vehicle's weight or ahead of it: it tips; move it rearward",
            reason="tips",
        )
    assumed: list[str] = []
    share = _share(left_share, "left_share", assumed)
    span = rear_line - front_line
    on_front = from_si(Dimension.MASS, total * (rear_line - cg) / span)
    on_rear = Quantity(Dimension.MASS, axles.total.value - on_front.value)
    front_pair = None if front_at is None else _shared(on_front, share)
    rear_pair = None if rear_at is None else _shared(on_rear, share)
    stands = [*(front_pair or ()), *(rear_pair or ())]
    over = [on_front.value - axles.front.value] if front_pair else []
    over += [on_rear.value - axles.rear.value] if rear_pair else []
    return StandLoad(
        front_pair[0] if front_pair else None,
        front_pair[1] if front_pair else None,
        rear_pair[0] if rear_pair else None,
        rear_pair[1] if rear_pair else None,
        None if front_pair else on_front,
        None if rear_pair else on_rear,
        max(stands, key=lambda stand: stand.value),
        Quantity(Dimension.MASS, max(over)),
        from_si(Dimension.LENGTH, min(cg - front_line, rear_line - cg)),
        tuple(assumed),
    )


# See `stand_load`: nearer than this part of the wheelbase to a line of stands is refused as tipping.
_LEAST_TO_TIPPING = 0.05


def label_margin(load: Quantity, rating: Quantity, basis: Basis) -> LabelMargin:
    """Put the load on one stand beside its label.

    A label read as the pair's grants one stand half; one that does not say is read as the pair's. No proof-load factor
    is counted: none was found that holds for every maker, so the label's figure is all a stand is taken to bear.

    Units:  masses, as labels print them.
    Raises: OutOfRange for a rating of zero or a negative load.
    Source: house rule; ASME PASE defines the rating as the maximum published load (the standard itself was not read).
    """
    carried = need(load, Dimension.MASS, "load", at_least_zero=True)
    need(rating, Dimension.MASS, "rating", positive=True)
    counted_as = Basis.EACH if basis is Basis.EACH else Basis.PER_PAIR
    # Halves are rounded down, so that a gram is never granted that the label does not print.
    one = rating if counted_as is Basis.EACH else Quantity(Dimension.MASS, rating.value // 2)
    margin = one.si / carried if carried else float(_MOST_MARGIN)
    return LabelMargin(
        Quantity(Dimension.MASS, one.value),
        from_si(Dimension.RATIO, min(margin, _MOST_MARGIN)),
        Quantity(Dimension.MASS, one.value - load.value),
        load.value <= one.value,
        counted_as,
    )


# A stand that carries nothing has no finite margin; this stands for "far more than enough".
_MOST_MARGIN = 1_000.0


# Through the lever to the spring ---------------------------------------------------------------------------------


def motion_ratio(spring_travel: Quantity, wheel_travel: Quantity) -> Quantity:
    """Give the motion ratio as *spring travel over wheel travel* (some books print the inverse).

    Raises: OutOfRange for travels that are not positive.
    Source: Barton and Fieldhouse, Automotive Chassis Engineering, sect. 3.9 p. 179 (their R = b/c is the inverse).
    """
    spring = need(spring_travel, Dimension.LENGTH, "spring_travel", positive=True)
    wheel = need(wheel_travel, Dimension.LENGTH, "wheel_travel", positive=True)
    return from_si(Dimension.RATIO, spring / wheel)


def wheel_rate(spring_rate: Quantity, ratio: Quantity) -> Quantity:
    """Give the rate felt at the wheel: k·(motion ratio)². Strictly valid for small movements about ride height.

    Source: Barton and Fieldhouse, eq. 3.33 p. 179.
    """
    k = need(spring_rate, Dimension.RATE, "spring_rate", positive=True)
    mr = need(ratio, Dimension.RATIO, "ratio", positive=True)
    return from_si(Dimension.RATE, k * mr * mr)


def spring_forces(
    corner_mass: Quantity, unsprung_mass: Quantity, ratio: Quantity, spring_rate: Quantity, droop: Quantity
) -> SpringForces:
    """Give one spring's force at ride height and with its wheel hanging.

    At ride height (corner − unsprung)·g/(motion ratio); hanging, less k·(motion ratio)·droop, and never below zero.

    Units:  masses, a ratio of spring travel over wheel travel, a rate at the spring, the wheel's travel from ride
            height to hanging.
    Range:  one coil per corner carrying the whole corner; no help or hindrance from a stabiliser bar, bushings or gas.
    Raises: OutOfRange if the unsprung mass is not less than the corner's.
    Source: Barton and Fieldhouse, eqs. 3.29 to 3.33 p. 179.
    """
    corner = need(corner_mass, Dimension.MASS, "corner_mass", positive=True)
    unsprung = need(unsprung_mass, Dimension.MASS, "unsprung_mass", at_least_zero=True)
    mr = need(ratio, Dimension.RATIO, "ratio", positive=True)
    k = need(spring_rate, Dimension.RATE, "spring_rate", positive=True)
    travel = need(droop, Dimension.LENGTH, "droop", at_least_zero=True)
    if unsprung >= corner:
        raise OutOfRange("unsprung_mass", "must be less than the mass on that corner")
    ride = (corner - unsprung) * GRAVITY / mr
    hanging = ride - k * mr * travel
    return SpringForces(from_si(Dimension.FORCE, ride), from_si(Dimension.FORCE, max(hanging, 0.0)), hanging <= 0)


def weight(mass: Quantity) -> Quantity:
    """Give the force that a mass exerts by its weight, at standard gravity."""
    return from_si(Dimension.FORCE, need(mass, Dimension.MASS, "mass", at_least_zero=True) * GRAVITY)


# Inside ----------------------------------------------------------------------------------------------------------


def _axles(axles: AxleMasses) -> tuple[float, float, float]:
    return (
        need(axles.front, Dimension.MASS, "axles.front", positive=True),
        need(axles.rear, Dimension.MASS, "axles.rear", positive=True),
        need(axles.wheelbase, Dimension.LENGTH, "axles.wheelbase", positive=True),
    )


def _inside(position: Quantity | None, base: float, argument: str) -> float | None:
    if position is None:
        return None
    at = need(position, Dimension.LENGTH, argument)
    if not 0 <= at <= base:
        raise OutOfRange(
            argument, "must be between the axles; measure from the front axle backwards", reason="outside_wheelbase"
        )
    return at


def _share(share: Quantity | None, argument: str, assumed: list[str]) -> Quantity:
    if share is None:
        assumed.append(argument)
        return _HALF
    part = need(share, Dimension.RATIO, argument, at_least_zero=True)
    if part > 1:
        raise OutOfRange(argument, "must be between 0 and 1: the part that falls on the left", reason="share")
    return share


def _shared(mass: Quantity, left: Quantity) -> tuple[Quantity, Quantity]:
    on_left = round(mass.value * left.value / SMALL_UNITS[Dimension.RATIO][1])
    return Quantity(Dimension.MASS, on_left), Quantity(Dimension.MASS, mass.value - on_left)
