"""What a source prints, as a person typed it: torques in their three shapes, and the amounts of every other kind.

Nothing here keeps anything. `keep_figure` and `import_figures` both read through here, so that a page and a file are
held to the same rules; two readings are compared by `is_same`, whatever their texts look like.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from app.domain.packet import Stage
from app.domain.problems import Problem
from app.domain.records import FigureRecord
from app.domain.spec_places import Ends, SpecPlace, tyre_key
from app.trade.problems import TradeProblem
from app.trade.quantity import Dimension, Quantity
from app.trade.torque_tool import Window, window_of
from app.trade.units import as_typed, find_unit, parse_quantity
from app.use_cases.keep_tool import TORQUE_MNM, torque_unit
from app.use_cases.typed_amount import amount_typed
from app.use_cases.typed_fields import Reader

# A single target without a printed tolerance: ±4 %, decided in D-006.
HOUSE_TOLERANCE = Quantity(Dimension.RATIO, 40_000, "%", "4 %")
TURN_MDEG = (1_000, 1_080_000)
STAGES = 4


class Shape(StrEnum):
    """How the source prints a torque."""

    SINGLE = "single"
    RANGE = "range"
    STAGES = "stages"


@dataclass(frozen=True, slots=True)
class FigureTyped:
    """The figure as typed from the source; a bare number is in `unit`.

    Which fields count depends on the place, and for a torque on the shape.
    stages: (torque or turn, tolerance) in order.
    tyre: for a ride height, the tyre it is given for.
    """

    shape: str
    unit: str
    target: str = ""
    tolerance: str = ""
    low: str = ""
    high: str = ""
    stages: tuple[tuple[str, str], ...] = ()
    tyre: str = ""


@dataclass(frozen=True, slots=True)
class Value:
    """A figure as read: a torque in `stages`, anything else in low, target, high; `text` as printed."""

    text: str = ""
    unit: str = ""
    stages: tuple[Stage, ...] = ()
    low: int | None = None
    target: int | None = None
    high: int | None = None
    tyre: str = ""

    def is_same(self, other: Value) -> bool:
        """The very same windows and targets, for the same tyre; what the texts look like does not matter."""
        return (
            [replace(one, text="") for one in self.stages] == [replace(one, text="") for one in other.stages]
            and (self.low, self.target, self.high) == (other.low, other.target, other.high)
            and tyre_key(self.tyre) == tyre_key(other.tyre)
        )


def value_of(figure: FigureRecord) -> Value:
    return Value(figure.text, figure.unit, figure.stages, figure.low, figure.target, figure.high, figure.tyre)


def read_value(read: Reader, place: SpecPlace, typed: FigureTyped) -> Value:
    """The figure, empty after a problem."""
    if place.ends is Ends.TORQUE:
        stages, text, unit = read_torque(read, typed)
        return Value(text, unit, stages)
    before = len(read.problems)
    made = _read_amount(read, place, typed)
    return Value() if len(read.problems) > before else made


# --- Amounts -------------------------------------------------------------------------------------------------------


def _read_amount(read: Reader, place: SpecPlace, typed: FigureTyped) -> Value:
    unit = _unit(read, place, typed.unit)
    tyre = read.words(typed.tyre, "tyre", missing="tyre_missing" if place.needs_tyre else "", limit=40)
    if typed.tolerance.strip():
        return _around(read, place, typed, unit, tyre)
    low = _amount(read, place, typed.low, "low", unit, needed=place.ends is Ends.WINDOW)
    target = _amount(read, place, typed.target, "target", unit, needed=place.ends is Ends.VALUE)
    high = _amount(read, place, typed.high, "high", unit, needed=place.ends in (Ends.WINDOW, Ends.MOST))
    if place.ends is Ends.MOST and (low or target):
        read.wrong("only_most", "target" if target else "low")
    _need_order(read, low, target, high)
    parts = [] if low is None and high is None else [_ends_text(low, high)]
    if target is not None:
        parts.append(f"target {as_typed(target)}" if parts else as_typed(target))
    return Value(", ".join(parts), unit, (), _whole(low), _whole(target), _whole(high), tyre)


def _whole(amount: Quantity | None) -> int | None:
    return None if amount is None else amount.value


def _around(read: Reader, place: SpecPlace, typed: FigureTyped, unit: str, tyre: str) -> Value:
    """A figure and how far it may be off to either side."""
    if typed.low.strip() or typed.high.strip():
        read.wrong("tolerance_and_ends", "tolerance")
    target = _amount(read, place, typed.target, "target", unit, needed=True)
    off = _off(read, place, typed.tolerance, unit)
    if target is None or off is None:
        return Value()
    margin = off.value if off.dimension is not Dimension.RATIO else abs(target.value) * off.value // 1_000_000
    text = f"{as_typed(target)} ±{as_typed(off)}"
    return Value(text, unit, (), target.value - margin, target.value, target.value + margin, tyre)


def _off(read: Reader, place: SpecPlace, text: str, unit: str) -> Quantity | None:
    typed = text.strip().removeprefix("+/-").removeprefix("±").strip()
    dimension = Dimension.RATIO if "%" in typed else place.dimension
    found = amount_typed(typed, dimension, "" if dimension is Dimension.RATIO else unit, "tolerance")
    if isinstance(found, Problem):
        read.problems.append(found)
        return None
    if found.value <= 0 or (dimension is Dimension.RATIO and found.value >= 1_000_000):
        read.wrong("tolerance_too_large", "tolerance", typed=typed[:40])
        return None
    return found


def _unit(read: Reader, place: SpecPlace, text: str) -> str:
    """The unit as the table spells it; the place's usual one when none was said."""
    try:
        return find_unit(text.strip() or place.unit, place.dimension).symbol
    except TradeProblem:
        read.wrong("unit_not_for_place", "unit", typed=text.strip()[:20], usual=place.unit)
        return place.unit


def _amount(read: Reader, place: SpecPlace, text: str, name: str, unit: str, *, needed: bool) -> Quantity | None:
    return read.amount(text, name, place.dimension, unit, *place.bounds, optional=not needed)


def _need_order(read: Reader, low: Quantity | None, target: Quantity | None, high: Quantity | None) -> None:
    if low is not None and high is not None and low.value >= high.value:
        read.wrong("range_swapped", "high")
    elif target is not None and (
        (low is not None and target.value < low.value) or (high is not None and target.value > high.value)
    ):
        read.wrong("target_outside", "target")


def _ends_text(low: Quantity | None, high: Quantity | None) -> str:
    if low is not None and high is not None:
        return f"{as_typed(low)} to {as_typed(high)}"
    if low is not None:
        return f"at least {as_typed(low)}"
    return f"at most {as_typed(high)}" if high is not None else ""


# --- Torques --------------------------------------------------------------------------------------------------------


def read_torque(read: Reader, typed: FigureTyped) -> tuple[tuple[Stage, ...], str, str]:
    """The stages, the figure as printed, and its unit; no stages after a problem."""
    unit = torque_unit(read, typed.unit, "unit") or "N·m"
    before = len(read.problems)
    match typed.shape:
        case Shape.SINGLE:
            made = [_stage(read, typed.target, typed.tolerance, unit, "target", "tolerance")]
        case Shape.RANGE:
            made = [_range(read, typed.low, typed.high, unit)]
        case Shape.STAGES:
            made = _staged(read, typed.stages, unit)
        case _:
            read.wrong("shape_missing", "shape")
            made = []
    stages = tuple(one for one in made if one is not None)
    if len(read.problems) > before:
        return (), "", unit
    return stages, ", then ".join(stage.text for stage in stages), unit


def _range(read: Reader, low_text: str, high_text: str, unit: str) -> Stage | None:
    low = read.amount(low_text, "low", Dimension.TORQUE, unit, *TORQUE_MNM)
    high = read.amount(high_text, "high", Dimension.TORQUE, unit, *TORQUE_MNM)
    if low is None or high is None:
        return None
    if low.value >= high.value:
        read.wrong("range_swapped", "high")
        return None
    window = window_of(low=low, high=high)
    return Stage(window.low.value, None, window.high.value, text=f"{as_typed(low)} to {as_typed(high)}")


def _staged(read: Reader, rows: Sequence[tuple[str, str]], unit: str) -> list[Stage | None]:
    filled = [(at, value, tolerance) for at, (value, tolerance) in enumerate(rows, 1) if value.strip()]
    for at, (value, tolerance) in enumerate(rows, 1):
        if tolerance.strip() and not value.strip():
            read.wrong("value_missing", f"stage{at}", example="50 N·m")
    if len(filled) < 2:
        read.wrong("stages_few", "stage1")
        return []
    if _is_turn(filled[0][1]):
        read.wrong("turn_first", f"stage{filled[0][0]}")
        return []
    return [
        _stage(read, value, tolerance, "", f"stage{at}", f"tolerance{at}", turn=_is_turn(value))
        for at, value, tolerance in filled
    ]


def _is_turn(text: str) -> bool:
    try:
        parse_quantity(text, Dimension.ANGLE)
    except TradeProblem:
        return False
    return True


def _stage(
    read: Reader, text: str, tolerance_text: str, unit: str, name: str, tolerance_name: str, *, turn: bool = False
) -> Stage | None:
    dimension, ends = (Dimension.ANGLE, TURN_MDEG) if turn else (Dimension.TORQUE, TORQUE_MNM)
    target = read.amount(text, name, dimension, unit, *ends)
    if target is None:
        return None
    tolerance = _tolerance(read, tolerance_text, target, tolerance_name)
    if tolerance is None:
        return None
    try:
        window = window_of(target, tolerance=tolerance)
    except TradeProblem:
        read.wrong("tolerance_too_large", tolerance_name, typed=tolerance_text.strip()[:40])
        return None
    printed = f" ±{as_typed(tolerance)}" if tolerance_text.strip() else ""
    return _stage_of(window, target, f"{as_typed(target)}{printed}", turn=turn)


def _stage_of(window: Window, target: Quantity, text: str, *, turn: bool) -> Stage:
    low, high = window.low.value, window.high.value
    if turn:
        return Stage(low_mdeg=low, target_mdeg=target.value, high_mdeg=high, text=text)
    return Stage(low_mnm=low, target_mnm=target.value, high_mnm=high, text=text)


def _tolerance(read: Reader, text: str, target: Quantity, name: str) -> Quantity | None:
    """The printed tolerance: a percentage or an amount. A torque without one has the house's; a turn needs one."""
    typed = text.strip().removeprefix("+/-").removeprefix("±").strip()
    if not typed:
        if target.dimension is Dimension.TORQUE:
            return HOUSE_TOLERANCE
        read.wrong("turn_tolerance_missing", name)
        return None
    dimension = Dimension.RATIO if "%" in typed else target.dimension
    found = amount_typed(typed, dimension, "" if dimension is Dimension.RATIO else target.unit, name)
    if isinstance(found, Problem):
        read.problems.append(found)
        return None
    if found.value <= 0:
        read.wrong("tolerance_too_large", name, typed=typed[:40])
        return None
    return found
