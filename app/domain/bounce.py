"""The bounce test: which measure counts its swings, and the trace a tablet's own motion sensor writes beside it. Pure.

A trace is text, so that it travels in the entry that counts the swings: the samples a second, a semicolon, then whole
numbers of cm/s² along the plumb line, parted by commas, empty where the sensor gave none: `50;-12,4,,96`. What cannot
be read as one is kept as it came and read as no trace.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from app.domain.packet import Step
from app.domain.sheet import Sheet
from app.trade.damping import TraceReading, Typical, against_typical
from app.trade.quantity import Dimension, from_si

SWINGS = "swings"
# More than any sensor gives, in cm/s²; what is beyond it is no reading.
LARGEST = 100_000
# No bounce in a workshop is read closer than this, whatever the fit says. House rule (no source).
LEAST_WITHIN = 0.01
_TRACE = re.compile(r"([0-9]{1,3});((?:-?[0-9]{1,6})?(?:,(?:-?[0-9]{1,6})?)*)")


@dataclass(frozen=True, slots=True)
class Trace:
    """samples: cm/s² along the plumb line, evenly `rate` a second, `None` where one is missing."""

    rate: int
    samples: tuple[int | None, ...]


def read_trace(text: str) -> Trace | None:
    """The trace a text is, or `None` where it is none."""
    found = _TRACE.fullmatch(text.strip())
    if found is None:
        return None
    samples = tuple(int(one) if one else None for one in found[2].split(","))
    if any(one is not None and abs(one) > LARGEST for one in samples):
        return None
    return Trace(int(found[1]), samples)


def is_bounce(step: Step) -> bool:
    return any(one.id == SWINGS for one in step.measures)


def bounces(sheet: Sheet) -> Iterator[Step]:
    """The steps of a sheet at which swings are counted, in their order."""
    if sheet.packet is not None:
        yield from filter(is_bounce, sheet.packet.steps)


class Trait(StrEnum):
    """What a trace can say of a damper. BELOW, ABOVE: outside of what is usual for road cars. APART: it damps far less
    than the other side of its axle."""

    BELOW = "below"
    ABOVE = "above"
    APART = "apart"


def within_of(reading: TraceReading) -> float:
    return max(reading.within.si, LEAST_WITHIN)


def beside_typical(reading: TraceReading) -> Typical | None:
    """Beside what is usual for road cars; `None` at its edge, where the reading's own uncertainty lies across it."""
    low, high = (max(LEAST_WITHIN, reading.damping_ratio.si + way * within_of(reading)) for way in (-1, 1))
    found = {against_typical(from_si(Dimension.RATIO, one)) for one in (low, high)}
    return found.pop() if len(found) == 1 else None


def traits_of(
    reading: TraceReading, other: TraceReading | None, apart: float
) -> tuple[frozenset[Trait], frozenset[Trait]]:
    """What this trace says, and what it clears its damper of; what it cannot settle is in neither.

    other: the same test at the axle's other side. apart: by which share of the stronger side the weaker one falls short
    before that says anything. The uncertainty of both counts for the damper.
    """
    says, clears = set(), set()
    beside = beside_typical(reading)
    for trait, where in ((Trait.BELOW, Typical.BELOW), (Trait.ABOVE, Typical.ABOVE)):
        if beside is where:
            says.add(trait)
        elif beside is not None or _is_clear_of(reading, trait):
            clears.add(trait)
    if other is not None:
        least = (other.damping_ratio.si - within_of(other)) * (1 - apart)
        if reading.damping_ratio.si + within_of(reading) < least:
            says.add(Trait.APART)
        elif reading.damping_ratio.si >= other.damping_ratio.si * (1 - apart):
            clears.add(Trait.APART)
    return frozenset(says), frozenset(clears)


def _is_clear_of(reading: TraceReading, trait: Trait) -> bool:
    """At one edge of what is usual, and so beyond doubt not outside the other."""
    way, where = (-1, Typical.BELOW) if trait is Trait.BELOW else (1, Typical.ABOVE)
    end = max(LEAST_WITHIN, reading.damping_ratio.si + way * within_of(reading))
    return against_typical(from_si(Dimension.RATIO, end)) is not where


def other_side(step: Step, steps: Mapping[str, Step]) -> Step | None:
    """The same test at the other side of the axle, in the same line of work."""
    return next(
        (
            one
            for one in steps.values()
            if one.key == step.key and one.line == step.line and one.corner and one.corner != step.corner
        ),
        None,
    )
