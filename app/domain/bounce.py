"""The bounce test: which measure counts its swings, and the trace a tablet's own motion sensor writes beside it. Pure.

A trace is text, so that it travels in the entry that counts the swings: the samples a second, a semicolon, then whole
numbers of cm/s² along the plumb line, parted by commas, empty where the sensor gave none: `50;-12,4,,96`. What cannot
be read as one is kept as it came and read as no trace.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from app.domain.packet import Step
from app.domain.sheet import Sheet

SWINGS = "swings"
# More than any sensor gives, in cm/s²; what is beyond it is no reading.
LARGEST = 100_000
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


def bounces(sheet: Sheet) -> Iterator[Step]:
    """The steps of a sheet at which swings are counted, in their order."""
    if sheet.packet is not None:
        yield from (step for step in sheet.packet.steps if any(one.id == SWINGS for one in step.measures))
