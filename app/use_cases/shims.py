"""Shims as they were found and as they were left, read off the notes of a sheet.

The note is written in one form by `record_shims`; whoever types the same words by hand is read too.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from app.domain.drawing_compared import Stack, Word, shims_picture
from app.domain.sheet import Note, Sheet

PLACES = ("front_left", "front_right", "rear_left", "rear_right")
BOLT_LIMIT, MOST_UM = 40, 50_000  # nobody stacks five centimetres of shims (house rule)
_WRITTEN = re.compile(
    r"Shims, (front|rear) (left|right), ([^:\n]{1,40}): ([0-9.]{1,7}) mm before, ([0-9.]{1,7}) mm after"
)


@dataclass(frozen=True, slots=True)
class ShimsLeft:
    """A stack at one bolt, before and after the work. place: one of PLACES."""

    place: str
    bolt: str
    before: str
    after: str
    before_um: int
    after_um: int


def shims_of(sheet: Sheet) -> tuple[ShimsLeft, ...]:
    """The stacks on a sheet, the newest at each bolt, in the order of the corners and then as they were entered."""
    notes: list[Note] = [*sheet.notes, *(note for step in sheet.steps.values() for note in step.notes)]
    found: dict[tuple[str, str], ShimsLeft] = {}
    for note in sorted(notes, key=lambda one: (one.mark.at_ms, one.mark.entry)):
        read = _WRITTEN.fullmatch(note.text.strip())
        before, after = (_um(read[group]) if read else None for group in (4, 5))
        if read is not None and before is not None and after is not None:
            place = f"{read[1]}_{read[2]}"
            stack = ShimsLeft(place, read[3], f"{read[4]} mm", f"{read[5]} mm", before, after)
            found[place, read[3].casefold()] = stack
    return tuple(sorted(found.values(), key=lambda one: PLACES.index(one.place)))


def shims_drawn(stacks: Sequence[ShimsLeft], word: Word) -> dict[str, Any]:
    """The drawing of stacks of which only the whole thickness is known: each as one plate."""

    def name(place: str) -> str:
        said = word("compared", place)
        return said[:1].upper() + said[1:]

    def plates(thick_um: int) -> tuple[int, ...]:
        return (thick_um,) if thick_um else ()

    return shims_picture(
        [
            Stack(f"{name(one.place)}, {one.bolt}", plates(one.before_um), plates(one.after_um), one.before, one.after)
            for one in stacks
        ],
        word,
    )


def _um(text: str) -> int | None:
    whole, _, rest = text.partition(".")
    if not whole.isdigit() or (rest and not rest.isdigit()):
        return None
    um = int(whole) * 1_000 + int((rest + "000")[:3])
    return um if um <= MOST_UM else None
