"""What was measured before the work beside what was measured after it: heights, alignment, fault codes, road test.

A value is of the same thing when it has the same name at the same place of the vehicle; "after" is what the closing
steps measured, "before" what any other line did, the latest of each.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TypeAlias

from app.domain.joining import CLOSING_LINE
from app.domain.packet import Measure, Packet, Step
from app.domain.sheet import Sheet, StepNow, Taken

Typed: TypeAlias = Callable[[str, str], str]
HEIGHTS, ALIGNMENT = "heights", "alignment"
_HEIGHT = re.compile(r"(?:height_)?((?:front|rear)_(?:left|right))")
ANGLES = (
    "camber_left", "camber_right", "camber_cross", "caster_left", "caster_right", "caster_cross", "toe_left",
    "toe_right", "toe_total", "steering_wheel",
)  # fmt: skip
CORNERS = ("front_left", "front_right", "rear_left", "rear_right")
_SAID = (("codes_before", "codes_after"),)


@dataclass(frozen=True, slots=True)
class ComparedValue:
    """One thing measured twice. Texts are as typed, "" where it was not measured; `change` is after less before.

    before_small, after_small: the values in µm or in thousandths of a degree.
    """

    key: str
    what: str
    before: str
    after: str
    change: str
    before_small: int | None
    after_small: int | None


@dataclass(frozen=True, slots=True)
class Compared:
    """Values of one kind. axle: "front" or "rear"; "" for the whole vehicle. drawing: its name in the letter."""

    kind: str
    axle: str
    rows: tuple[ComparedValue, ...]
    drawing: str


@dataclass(frozen=True, slots=True)
class SaidTwice:
    """A test's outcome before and after in words; "" where it was not made."""

    what: str
    before: str
    after: str


def compared(packet: Packet, sheet: Sheet, as_typed: Typed, *, after_needed: bool = True) -> tuple[Compared, ...]:
    """Heights first, then each axle's alignment. after_needed: what has nothing from after the work is left out."""
    found: dict[tuple[str, str], dict[str, list[tuple[bool, Measure, Taken]]]] = {}
    for step, now in _touched(packet, sheet):
        for measure in step.measures:
            place = _place(step, measure)
            if place is not None and measure.id in now.readings:
                kind, axle, key = place
                after = step.line == CLOSING_LINE
                rows = found.setdefault((kind, axle), {})
                rows.setdefault(key, []).append((after, measure, now.readings[measure.id]))
    groups = (_group(kind, axle, rows, as_typed) for (kind, axle), rows in sorted(found.items(), key=_order))
    return tuple(one for one in groups if not after_needed or any(row.after for row in one.rows))


def said_twice(packet: Packet, sheet: Sheet) -> tuple[SaidTwice, ...]:
    """Fault codes before and after, in the words of who read them."""
    told = {}
    for step, now in _touched(packet, sheet):
        if step.trial is not None and now.outcome is not None:
            choice = next((one.words for one in step.trial.choices if one.key == now.outcome.choice), "")
            reason = " ".join(now.outcome.reason.split())
            told[step.key] = f"{choice} ({reason})" if reason and choice else choice or reason
    return tuple(
        SaidTwice("codes", told.get(before, ""), told.get(after, ""))
        for before, after in _SAID
        if told.get(before) or told.get(after)
    )


def _order(one: tuple[tuple[str, str], object]) -> tuple[int, int]:
    (kind, axle), _ = one
    return (0 if kind == HEIGHTS else 1, 0 if axle != "rear" else 1)


def _touched(packet: Packet, sheet: Sheet) -> Iterator[tuple[Step, StepNow]]:
    return ((step, sheet.step(step.id)) for step in packet.steps if step.id in sheet.steps)


def _place(step: Step, measure: Measure) -> tuple[str, str, str] | None:
    """Kind, axle and name of what is measured; None for what is not compared."""
    if measure.dimension == "length":
        corner = _HEIGHT.fullmatch(measure.id)
        return (HEIGHTS, "", corner[1]) if corner is not None else None
    if measure.dimension == "angle" and measure.id in ANGLES and step.key.startswith("alignment"):
        return (ALIGNMENT, step.axle.value, measure.id)
    return None


def is_height(measure: Measure, corner: str) -> bool:
    """Whether this is the ride height at that corner."""
    found = _HEIGHT.fullmatch(measure.id) if measure.dimension == "length" else None
    return found is not None and found[1] == corner


def _group(kind: str, axle: str, rows: dict[str, list[tuple[bool, Measure, Taken]]], as_typed: Typed) -> Compared:
    keys = sorted(rows, key=lambda key: ANGLES.index(key) if key in ANGLES else CORNERS.index(key))
    values = tuple(_value(kind, key, rows[key], as_typed) for key in keys)
    return Compared(kind, axle, values, drawing="heights" if kind == HEIGHTS else f"alignment-{axle}")


def _value(kind: str, key: str, read: list[tuple[bool, Measure, Taken]], as_typed: Typed) -> ComparedValue:
    before = _latest([taken for after, _, taken in read if not after])
    after = _latest([taken for is_after, _, taken in read if is_after])
    return ComparedValue(
        key=key,
        what=_what(kind, read[-1][1]),
        before=as_typed(before.text, before.unit) if before else "",
        after=as_typed(after.text, after.unit) if after else "",
        change=change_words(kind, after.value - before.value) if before and after else "",
        before_small=before.value if before else None,
        after_small=after.value if after else None,
    )


def _what(kind: str, measure: Measure) -> str:
    """What was measured; of a height the corner alone, which its question names first."""
    asked = measure.ask.partition(",")[0] if kind == HEIGHTS else measure.ask
    return " ".join(asked.split())


def _latest(read: list[Taken]) -> Taken | None:
    return max(read, key=lambda one: one.mark.at_ms, default=None)


def change_words(kind: str, small: int) -> str:
    """ "+13 mm" to a tenth of a millimetre, "−0.5°" to a hundredth of a degree."""
    step, places, unit = (100, 10, " mm") if kind == HEIGHTS else (10, 100, "°")
    whole = (abs(small) + step // 2) // step
    if not whole:
        return f"0{unit}"
    front, rest = divmod(whole, places)
    digits = f".{rest:0{len(str(places)) - 1}d}".rstrip("0").rstrip(".")
    return f"{'+' if small > 0 else '−'}{front}{digits}{unit}"
