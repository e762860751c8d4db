"""Ties the steps of a job's lines together: what waits for what, and what waits for the weight on the wheels.

The text of a step is not looked at here, only where it is done and in which states of support.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from app.domain.grounds import BookFault
from app.domain.packet import Axle, Line, Step, Support
from app.domain.procedure_schema import Procedure, StepText

OPENING_LINE = "opening"
CLOSING_LINE = "closing"
RIDE_HEIGHT = (Support.ON_WHEELS, Support.ON_RAMP)


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a step is done: an axle and, if it has one, a side."""

    axle: Axle
    side: str = ""

    @property
    def word(self) -> str:
        axle = "front and rear" if self.axle is Axle.BOTH else str(self.axle)
        return f"{axle} {self.side}".strip()


@dataclass(frozen=True)
class Plan:
    """A line of work with its procedure, its place, and the sides it concerns."""

    line: Line
    procedure: Procedure
    spot: Spot
    sides: tuple[Spot, ...]
    options: Mapping[str, str]

    def goes_before(self, work: Plan) -> bool:
        """Whether this looks at an axle before the other works on it: found first, then mended."""
        same = Axle.BOTH in (self.spot.axle, work.spot.axle) or self.spot.axle is work.spot.axle
        return self.procedure.family == "inspection" and work.procedure.is_work and same


@dataclass(frozen=True)
class Draft:
    """A compiled step whose `after` so far knows only its own line; `text` says what it was made from."""

    step: Step
    text: StepText
    plan: Plan
    spot: Spot

    @property
    def needs_wheels_down(self) -> bool:
        return all(state in RIDE_HEIGHT for state in self.step.supports)

    @property
    def is_in_the_air(self) -> bool:
        return not any(state in RIDE_HEIGHT for state in self.step.supports)


# --- Inside a line -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Befores:
    """Which steps of its own line a step waits for, reaching past those that are switched off."""

    plan: Plan
    present: Mapping[str, Mapping[Spot, str]]
    texts: Mapping[str, StepText]

    @cached_property
    def named(self) -> Mapping[str, tuple[str, ...]]:
        keys = list(self.texts)
        return {
            key: text.after if text.after is not None else tuple(keys[max(0, at - 1) : at])
            for at, (key, text) in enumerate(self.texts.items())
        }

    def of(self, key: str, spot: Spot) -> tuple[str, ...]:
        return tuple(dict.fromkeys(one for before in self.named[key] for one in self._ids(before, spot)))

    def _ids(self, key: str, spot: Spot) -> tuple[str, ...]:
        fitting = tuple(step_id for at, step_id in self.present[key].items() if _touches(at, spot))
        return fitting or self.of(key, spot)


def _touches(one: Spot, other: Spot) -> bool:
    """Whether two spots have ground in common: the same side, or a side and its axle."""
    axles = Axle.BOTH in (one.axle, other.axle) or one.axle is other.axle
    return axles and (not one.side or not other.side or one.side == other.side)


# --- Between lines -------------------------------------------------------------------------------------------------


def joined(plans: tuple[Plan, ...], drafts: Mapping[str, tuple[Draft, ...]]) -> tuple[tuple[Step, ...], bool]:
    """Tie the lines together: opening and inspection first, closing last, late steps once the weight is on the wheels.

    Gives the steps in the order of the lines, and whether any of them is late.
    """
    late = {step_id for plan in plans if plan.procedure.is_work for step_id in _late(drafts[plan.line.id])}
    opening, closing = drafts.get(OPENING_LINE, ()), drafts.get(CLOSING_LINE, ())
    opened = ends(opening, ())
    others = [draft for plan in plans if plan.line.id != CLOSING_LINE for draft in drafts[plan.line.id]]
    finished = ends(others, late)
    down = tuple(draft.step.id for draft in closing if draft.text.weight_on)
    if late and not down:
        raise BookFault("steps wait for the weight on the wheels, and no closing step puts it there")
    late_ends = ends([draft for draft in others if draft.step.id in late], ())
    steps = []
    for plan in plans:
        for draft in drafts[plan.line.id]:
            step = draft.step
            more: tuple[str, ...] = ()
            if plan.line.id == CLOSING_LINE:
                more = finished if not step.after else ()
                if set(step.after) & set(down):
                    more = (*more, *late_ends)
            elif step.id in late:
                more = () if any(one in late for one in step.after) else down
            elif plan.procedure.is_work and not step.after:
                inspected = [one for one in plans if one.goes_before(plan)]
                more = (*opened, *(end for one in inspected for end in ends(drafts[one.line.id], ())))
            steps.append(replace(step, after=tuple(dict.fromkeys((*step.after, *more)))))
    return tuple(steps), bool(late)


def _late(drafts: tuple[Draft, ...]) -> Iterator[str]:
    """Steps that need the weight on the wheels after work in the air, and whatever comes after them."""
    in_the_air: set[str] = set()
    late: set[str] = set()
    for draft in _in_order(drafts):
        step = draft.step
        if any(one in in_the_air for one in step.after) or draft.is_in_the_air:
            in_the_air.add(step.id)
        waits = draft.needs_wheels_down and any(one in in_the_air for one in step.after)
        if waits or any(one in late for one in step.after):
            late.add(step.id)
            yield step.id


def _in_order(drafts: tuple[Draft, ...]) -> Iterator[Draft]:
    """Each step after all it waits for. The book has no circles."""
    given: set[str] = set()
    left = list(drafts)
    while left:
        ready = [draft for draft in left if all(one in given for one in draft.step.after)]
        for draft in ready:
            given.add(draft.step.id)
            yield draft
        left = [draft for draft in left if draft.step.id not in given]


def ends(drafts: Sequence[Draft], leaving_out: Iterable[str]) -> tuple[str, ...]:
    """The steps nobody waits for, among those not left out."""
    out = set(leaving_out)
    kept = [draft.step for draft in drafts if draft.step.id not in out]
    waited_for = {one for step in kept for one in step.after}
    return tuple(step.id for step in kept if step.id not in waited_for)
