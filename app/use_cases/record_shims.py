"""Shims as they were found and as they were left, recorded as a note at the alignment after the work.

The note is written in one form, so that `shims` can read it back and it can be drawn.
"""

from __future__ import annotations

from dataclasses import dataclass

from app.domain.case import Ruling
from app.domain.entry import NoteAdded
from app.domain.joining import CLOSING_LINE
from app.domain.packet import Packet
from app.domain.problems import Problem, Refused
from app.domain.sheet import Sheet
from app.trade.quantity import Dimension, Quantity
from app.use_cases.office import Office
from app.use_cases.office_entry import office_entry
from app.use_cases.record_entry import record_form
from app.use_cases.see_sheet import job_by_number
from app.use_cases.shims import BOLT_LIMIT, MOST_UM, PLACES
from app.use_cases.typed_amount import amount_typed


@dataclass(frozen=True, slots=True)
class ShimsTyped:
    """What was filled in: place as one of PLACES, the bolt's name, the whole stack before and after."""

    place: str
    bolt: str
    before: str
    after: str


def record_shims(office: Office, person: str, number: str, typed: ShimsTyped) -> Ruling:
    """Record a stack. The newest at a bolt counts.

    Raises: Refused with every problem found; NotFound.
    """
    with office.store.reading() as unit:
        job = job_by_number(unit, number)
        sheet = unit.sheets.get(job.id) or Sheet(job.id)
    bolt = " ".join(typed.bolt.replace(":", " ").split())
    before, after = (_thickness(text, name) for text, name in ((typed.before, "before"), (typed.after, "after")))
    problems = [one for one in (before, after) if isinstance(one, Problem)]
    if typed.place not in PLACES:
        problems.append(Problem("choose_one", "place"))
    if not 0 < len(bolt) <= BOLT_LIMIT:
        problems.append(Problem("shims_bolt", "bolt", {"limit": BOLT_LIMIT}))
    step = _step(sheet.packet, typed.place) if sheet.packet is not None and typed.place in PLACES else None
    if step is None and not problems:
        problems.append(Problem("shims_no_step", "place"))
    if problems or isinstance(before, Problem) or isinstance(after, Problem):
        raise Refused(problems)
    words = f"Shims, {typed.place.replace('_', ' ')}, {bolt}: {_mm(before)} mm before, {_mm(after)} mm after"
    entry = office_entry(office, person, sheet, NoteAdded(words, step or ""))
    return record_form(office, entry).ruling


def _step(packet: Packet | None, place: str) -> str | None:
    axle = place.partition("_")[0]
    steps = packet.steps if packet is not None else ()
    return next(
        (
            step.id
            for step in steps
            if step.line == CLOSING_LINE and step.key == "alignment_after" and step.axle.value == axle
        ),
        None,
    )


def _thickness(text: str, field: str) -> Quantity | Problem:
    read = amount_typed(text, Dimension.LENGTH, "mm", field)
    if isinstance(read, Quantity) and not 0 <= read.value <= MOST_UM:
        return Problem("shims_thickness", field, {"typed": text[:40]})
    return read


def _mm(thickness: Quantity) -> str:
    whole, rest = divmod(thickness.value, 1_000)
    return f"{whole}.{rest:03d}".rstrip("0").rstrip(".")
