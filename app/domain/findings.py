"""What two readings say together: sides that differ, rake, total toe, thrust, cross values, a value and its limit.

Readings belong together when a step asks for both sides of one thing: their names differ in `left` and `right` alone.
A limit typed from the maker's book (`load_axial_limit`) belongs to the reading of its name, or to every reading that
begins so; a height stated for an axle to that axle's two heights.
A comparison, never a verdict: what may differ is the maker's to say. The sums are in `app.trade`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from app.domain.packet import Axle, Step
from app.domain.sheet import Taken
from app.trade import alignment
from app.trade.quantity import Dimension, Quantity
from app.trade.units import show

LEFT, RIGHT = "_left", "_right"
LIMIT = "_limit"
STATED = "height_stated"


@dataclass(frozen=True, slots=True)
class Finding:
    """One comparison: its key among the words (`side_front`, `total_toe`), its amount, the unit asked for, and the
    names of the readings it was made from, in order. signed: the amount's sign says which way, not its key."""

    key: str
    amount: Quantity
    unit: str
    made_from: tuple[str, ...]
    signed: bool = True

    @property
    def text(self) -> str:
        """The amount, where it is signed with its plus as well as its minus; no more decimals than a rule shows."""
        places = 1 if self.unit == "mm" else None
        return f"{'+' if self.signed and self.amount.value > 0 else ''}{show(self.amount, self.unit, places)}"


def findings(step: Step, readings: Mapping[str, Taken]) -> tuple[Finding, ...]:
    """Everything that the step's readings so far allow. Left less right; rear mean less front mean.

    Source: signs as in `alignment` and `ride_height`.
    """
    return tuple(_found(step, readings))


def _found(step: Step, readings: Mapping[str, Taken]) -> Iterator[Finding]:
    asked = {measure.id: measure for measure in step.measures}
    for name, measure in asked.items():
        other = f"{name.removesuffix(LEFT)}{RIGHT}"
        if not name.endswith(LEFT) or other not in asked or name not in readings or other not in readings:
            continue
        dimension = Dimension(measure.dimension)
        pair = Quantity(dimension, readings[name].value), Quantity(dimension, readings[other].value)
        what = name.removesuffix(LEFT)
        if dimension is Dimension.LENGTH:
            side = Quantity(dimension, pair[0].value - pair[1].value)
            yield Finding(_side(what), side, measure.unit, (name, other))
        elif dimension is Dimension.ANGLE and what == "toe":
            yield Finding("total_toe", alignment.total_toe(*pair), measure.unit, (name, other))
            if step.axle is Axle.REAR:
                yield Finding("thrust", alignment.thrust_angle(*pair), measure.unit, (name, other))
        elif dimension is Dimension.ANGLE and what in ("camber", "caster"):
            yield Finding(f"cross_{what}", alignment.cross(*pair), measure.unit, (name, other))
    yield from _rake(step, readings)
    yield from _against_limits(step, readings)
    yield from _against_stated(step, readings)


def _side(what: str) -> str:
    return next((f"side_{end}" for end in ("front", "rear") if what.endswith(end)), "side")


def _rake(step: Step, readings: Mapping[str, Taken]) -> Iterator[Finding]:
    """Rear mean less front mean, once all four corners of one kind are there."""
    for measure in step.measures:
        if not measure.id.endswith(f"front{LEFT}") or measure.dimension != Dimension.LENGTH:
            continue
        kind = measure.id.removesuffix(f"front{LEFT}")
        names = tuple(f"{kind}{end}{side}" for end in ("front", "rear") for side in (LEFT, RIGHT))
        if all(name in readings for name in names):
            front_left, front_right, rear_left, rear_right = (readings[name].value for name in names)
            # Whole micrometres, halves down: the same at both ends, and far below what a rule can show.
            rake = Quantity(Dimension.LENGTH, (rear_left + rear_right - front_left - front_right) // 2)
            yield Finding("rake", rake, measure.unit, names)


def _against_limits(step: Step, readings: Mapping[str, Taken]) -> Iterator[Finding]:
    """How far a value lies beyond the limit that was typed beside it, or below it."""
    for limit in step.measures:
        if not limit.id.endswith(LIMIT) or limit.id not in readings:
            continue
        name = limit.id.removesuffix(LIMIT)
        for measure in step.measures:
            is_its = measure.id == name or measure.id.startswith(f"{name}_")
            if not is_its or measure.id.endswith(LIMIT) or measure.id not in readings:
                continue
            beyond = readings[measure.id].value - readings[limit.id].value
            way = next((f"_{one}" for one in ("axial", "radial") if measure.id.endswith(f"_{one}")), "")
            amount = Quantity(Dimension(measure.dimension), abs(beyond))
            key = f"{'beyond' if beyond > 0 else 'within'}_limit{way}"
            yield Finding(key, amount, measure.unit, (measure.id, limit.id), signed=False)


def _against_stated(step: Step, readings: Mapping[str, Taken]) -> Iterator[Finding]:
    """The heights of the step's own axle, less the height that the maker states for it."""
    stated = readings.get(STATED)
    if stated is None:
        return
    for measure in step.measures:
        for side in (LEFT, RIGHT):
            is_its = measure.id == f"height_{step.axle}{side}" and measure.dimension == Dimension.LENGTH
            if is_its and measure.id in readings:
                over = Quantity(Dimension.LENGTH, readings[measure.id].value - stated.value)
                yield Finding(f"stated{side}", over, measure.unit, (measure.id, STATED))
