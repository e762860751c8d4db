"""Heights and angles from a file, as an alignment rack or a spreadsheet writes it, recorded as readings of the sheet.

A file is looked at first and recorded whole or not at all; each line becomes the reading that would have been typed at
its step, and the rules judge it as they judge a typed one. What stands on the sheet already is not recorded again.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, replace

from app.domain.case import Ruling
from app.domain.entry import Entry, ReadingTaken
from app.domain.joining import CLOSING_LINE
from app.domain.packet import Measure, Packet, Step
from app.domain.problems import OursToMend, Problem, Refused
from app.domain.records import JobState
from app.domain.sheet import Sheet
from app.trade.quantity import Dimension, Quantity
from app.use_cases.before_after import ANGLES, CORNERS, is_height
from app.use_cases.office import Office
from app.use_cases.office_entry import office_entry
from app.use_cases.record_entry import record_form
from app.use_cases.see_sheet import job_by_number
from app.use_cases.typed_amount import amount_typed, reading_of

TEXT_LIMIT, LINES_LIMIT = 20_000, 100
# Each column, and what stands in it. `README.md` and the page show this very list.
COLUMNS: Mapping[str, str] = {
    "when": "before or after the work",
    "axle": "front or rear; may stay empty for a ride height",
    "measure": "its key, as listed below",
    "value": "as it was read; a bare number is in mm or in degrees",
}
KEYS = (*CORNERS, *ANGLES)
WHEN = ("before", "after")


@dataclass(frozen=True, slots=True)
class LineRead:
    """One line: where it goes, or what is wrong with it. same: it is on the sheet already. ruling: once recorded."""

    number: int
    text: str
    step: Step | None = None
    measure: Measure | None = None
    value: Quantity | None = None
    same: bool = False
    problem: Problem | None = None
    ruling: Ruling | None = None


def look_at(office: Office, number: str, text: str) -> tuple[LineRead, ...]:
    """What a file's lines say, none of it recorded.

    Raises: Refused for what is no such file at all; NotFound.
    """
    with office.store.reading() as unit:
        job = job_by_number(unit, number)
        sheet = unit.sheets.get(job.id)
    if job.state is not JobState.OPEN or sheet is None or sheet.packet is None:
        raise Refused([Problem("job_not_open", "file", {"number": number})])
    return tuple(_line(sheet.packet, sheet, at, cells) for at, cells in _rows(text))


def record_all(office: Office, person: str, number: str, text: str) -> tuple[LineRead, ...]:
    """Record every line that is not on the sheet yet; gives each with its ruling.

    Raises: Refused as `look_at`, and where any line has a problem: then nothing is recorded.
    """
    lines = look_at(office, number, text)
    if any(one.problem is not None for one in lines):
        raise Refused([Problem("measured_lines", "file")])
    return tuple(one if one.same else _recorded(office, person, number, one) for one in lines)


def _recorded(office: Office, person: str, number: str, line: LineRead) -> LineRead:
    with office.store.reading() as unit:
        job = job_by_number(unit, number)
        sheet = unit.sheets.get(job.id) or Sheet(job.id)
    if line.step is None or line.measure is None or line.value is None:
        raise OursToMend(f"line {line.number} has no place on the sheet and is to be recorded")
    body = ReadingTaken(line.step.id, line.measure.id, reading_of(line.value))
    entry: Entry = office_entry(office, person, sheet, body)
    entry = replace(entry, basis=replace(entry.basis, step_revision=line.step.revision))
    return replace(line, ruling=record_form(office, entry).ruling)


def _rows(text: str) -> list[tuple[int, dict[str, str]]]:
    if len(text) > TEXT_LIMIT:
        raise Refused([Problem("too_long", "file", {"limit": TEXT_LIMIT})])
    first = next((line for line in text.splitlines() if line.strip(" \t,;")), "")
    separator = max(";\t,", key=first.count)
    try:
        rows = list(csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""), delimiter=separator, strict=True))
    except csv.Error:
        raise Refused([Problem("measured_header", "file", {"names": ", ".join(COLUMNS)})]) from None
    filled = [(at, row) for at, row in enumerate(rows, 1) if any(cell.strip() for cell in row)]
    header = [cell.strip().casefold() for cell in filled[0][1]] if filled else []
    if sorted(header) != sorted(COLUMNS):
        raise Refused([Problem("measured_header", "file", {"names": ", ".join(COLUMNS)})])
    if not 1 < len(filled) <= LINES_LIMIT + 1:
        raise Refused([Problem("measured_count", "file", {"limit": LINES_LIMIT})])
    return [
        (at, {name: cell.strip().removeprefix("'") for name, cell in zip(header, row, strict=False)})
        if len(row) <= len(header)
        else (at, {"measure": separator.join(row)})
        for at, row in filled[1:]
    ]


def _line(packet: Packet, sheet: Sheet, number: int, cells: Mapping[str, str]) -> LineRead:
    when, axle, key = (cells.get(name, "").casefold() for name in ("when", "axle", "measure"))
    shown = ", ".join(filter(None, (when, axle, key, cells.get("value", ""))))[:120]
    if when not in WHEN:
        return LineRead(number, shown, problem=Problem("measured_when", "", {"typed": when[:40]}))
    if key not in KEYS:
        return LineRead(number, shown, problem=Problem("measured_key", "", {"typed": key[:40]}))
    found = _asked(packet, when == "after", axle, key)
    if found is None:
        return LineRead(number, shown, problem=Problem("measured_not_asked", "", {"typed": shown}))
    step, measure = found
    value = amount_typed(cells.get("value", ""), Dimension(measure.dimension), measure.unit, "value")
    if isinstance(value, Problem):
        return LineRead(number, shown, step, measure, problem=value)
    there = sheet.step(step.id).readings.get(measure.id)
    same = there is not None and there.value == value.value
    return LineRead(number, shown, step, measure, value, same=same)


def _asked(packet: Packet, after: bool, axle: str, key: str) -> tuple[Step, Measure] | None:
    """The step that asks for it: after the work the closing's, before it whichever other does first."""
    return next(
        (
            (step, measure)
            for step in packet.steps
            if (step.line == CLOSING_LINE) is after
            for measure in step.measures
            if (is_height(measure, key) if key in CORNERS else _is_angle(step, measure, axle, key))
        ),
        None,
    )


def _is_angle(step: Step, measure: Measure, axle: str, key: str) -> bool:
    return measure.id == key and step.key.startswith("alignment") and step.axle.value == axle
