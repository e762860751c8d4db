"""Questions about a figure from what is known of the same place elsewhere: another model, the other axle.

A doubt, never a correction: sister models do differ. What is known elsewhere says only what would be odd.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from app.trade.fastener import Question, QuestionKind
from app.trade.problems import TradeProblem
from app.trade.quantity import Dimension, Quantity
from app.trade.units import TABLE, amount_in, show, small_of

# House rules, decided here: judgement, no source.
_APART = 2  # more than twice, or less than half, of the nearest is asked about
_CLOSE = 0.03  # in another unit the same number would be within this part of one that is known
_UNLIKE = 0.15  # and as typed it is not within this part of any
_UNITS_MIXED_UP = {
    Dimension.TORQUE: ("N·m", "lbf·ft", "lbf·in", "kgf·m", "kgf·cm"),
    Dimension.LENGTH: ("mm", "in", "cm", "m"),
    Dimension.MASS: ("kg", "lb"),
    Dimension.RATE: ("N/mm", "lbf/in", "kgf/mm"),
    Dimension.DURATION: ("s", "min"),
    Dimension.ANGLE: ("°", "′"),
}


@dataclass(frozen=True, slots=True, order=True)
class Neighbour:
    """A figure of the same place elsewhere: its value in the small unit, and whose it is in words."""

    value: int
    words: str


class Neighbours:
    """What is known of one place, by value, so that the nearest is found at once however many there are."""

    def __init__(self, known: Iterable[Neighbour] = ()) -> None:
        self._known = sorted(known)
        self._out: frozenset[Neighbour] = frozenset()

    def without(self, own: Sequence[Neighbour]) -> Neighbours:
        """The same without a figure's own former self."""
        left = Neighbours()
        left._known, left._out = self._known, frozenset(own)
        return left

    def nearest(self, value: int) -> Neighbour | None:
        at = bisect_left(self._known, Neighbour(value, ""))
        reach = 1 + len(self._out)
        near = [one for one in self._known[max(0, at - reach) : at + reach] if one not in self._out]
        return min(near, key=lambda one: abs(one.value - value), default=None)


def question_beside(figure: Quantity, known: Neighbours, *, reach: int = 0) -> tuple[Question, ...]:
    """Say why a figure may be odd beside its neighbours. Empty means that nothing speaks against it.

    reach: how far, in the small unit, the nearest may lie away; 0 looks at the ratio instead.
    Asks when the same number in another unit would be what a neighbour has, and when no neighbour is anywhere near.
    Source: house rule (thresholds above).
    """
    nearest = known.nearest(figure.value)
    if nearest is None:
        return ()
    return _other_unit(figure, known, nearest) or _far(figure, nearest, reach)


def _other_unit(figure: Quantity, known: Neighbours, nearest: Neighbour) -> tuple[Question, ...]:
    if _is_within(figure.value, nearest.value, _UNLIKE):
        return ()
    typed_unit = figure.unit or TABLE[figure.dimension].default
    number = amount_in(figure, figure.dimension, typed_unit)
    for unit in _others(figure.dimension, typed_unit):
        try:
            value = round(small_of(number, figure.dimension, unit))
        except TradeProblem:
            continue
        alike = known.nearest(value)
        if alike is not None and _is_within(value, alike.value, _CLOSE):
            return (
                _doubt(
                    "neighbour_other_unit",
                    f"{show(figure)} is unlike {_shown(figure, nearest)}; the same number in {unit} would be like "
                    f"{alike.words}. Which unit does the source print?",
                ),
            )
    return ()


def _others(dimension: Dimension, unit: str) -> Sequence[str]:
    return tuple(one for one in _UNITS_MIXED_UP.get(dimension, ()) if one != unit)


def _far(figure: Quantity, nearest: Neighbour, reach: int) -> tuple[Question, ...]:
    if reach:
        odd = abs(figure.value - nearest.value) > reach
    else:
        odd = not nearest.value <= _APART * figure.value or not figure.value <= _APART * nearest.value
    if not odd:
        return ()
    says = f"{show(figure)} is far from the nearest known for this place, {_shown(figure, nearest)}."
    return (_doubt("neighbour_far", f"{says} Compare with the source again."),)


def _shown(figure: Quantity, one: Neighbour) -> str:
    unit = figure.unit or TABLE[figure.dimension].default
    return f"{show(Quantity(figure.dimension, one.value), unit)} of {one.words}"


def _is_within(value: int, other: int, part: float) -> bool:
    return abs(value - other) <= part * abs(other)


def _doubt(code: str, sentence: str) -> Question:
    return Question(code, QuestionKind.DOUBT, sentence)
