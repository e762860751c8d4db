"""Enter a calibration certificate: what a wrench was found to give, the verdict by ISO 6789, the next date, the file.

A wrench that did not pass is tagged out, and what was tightened with it can be traced (`trace_uses`). One that passed,
or was set right and found true, is in date again, and what happened to it before is looked at with that.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from app.domain.problems import AlreadyThere, NotFound
from app.domain.records import Calibration, CalibrationPoint, Tool, ToolKind
from app.ports import Unit
from app.trade.quantity import Dimension, Quantity
from app.trade.torque_tool import Interval, ToolType, calibration_points, judge_calibration, months_later
from app.use_cases.keep_tool import CYCLES, LONGEST_MONTHS, TORQUE_MNM, renewed, save_tool
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.renew_sheets import Renewed
from app.use_cases.shop_time import date_words
from app.use_cases.typed_fields import Reader

ROWS = 15
PAPER_LIMIT = 5_000_000
# First bytes of the kinds of file a certificate may be.
PAPER_KINDS = ((b"%PDF-", "application/pdf"), (b"\xff\xd8\xff", "image/jpeg"), (b"\x89PNG\r\n\x1a\n", "image/png"))
# House rules: a reading further off is a slip of the unit more often than a wrench; and how near to 20, 60 and 100 % of
# the range a setting has to lie to stand for it.
DOUBT_PPM = 200_000
NEAR_PERCENT = 5


@dataclass(frozen=True, slots=True)
class Paper:
    """A file as it was sent. `too_large`: more came than is taken, so its bytes are not here."""

    name: str
    data: bytes
    too_large: bool = False


@dataclass(frozen=True, slots=True)
class CalibrationWanted:
    """What was typed. `readings`: (set, measured) pairs; a bare number is in the wrench's own unit.

    id: made when the form was, so that a form sent twice is one calibration. adjusted, sure: "yes" when ticked.
    """

    id: str
    done_on: str
    done_by: str
    document: str
    readings: tuple[tuple[str, str], ...]
    due_on: str = ""
    adjusted: str = ""
    sure: str = ""
    paper: Paper | None = None


@dataclass(frozen=True, slots=True)
class Calibrated:
    calibration: Calibration
    tool: Tool
    renewed: Renewed


def calibrate_tool(office: Office, person: str, tool_id: str, wanted: CalibrationWanted) -> Calibrated:
    """Keep a calibration and what follows from it. A form sent twice gives what the first one gave.

    Raises: Refused with every problem found; NotFound.
    """
    with office.store.reading() as unit:
        tool, before = _wrench(unit, tool_id), unit.calibrations.get(wanted.id)
        today = office.clock().astimezone(zone_of(the_shop(unit))).date()
    if before is not None:
        return Calibrated(before, tool, Renewed())
    made = _read(office, person, tool, wanted, today)
    if wanted.paper is not None and wanted.paper.name:
        made = replace(
            made, certificate=office.papers.keep(wanted.paper.data), certificate_name=wanted.paper.name[-80:]
        )
    with office.store.writing() as unit:
        tool = _wrench(unit, tool_id)
        made = replace(made, good_on=last_good(tool, unit.calibrations.where(tool=tool.id), made.done_on))
        try:
            unit.calibrations.add(made)
        except AlreadyThere:
            return Calibrated(unit.calibrations.get(made.id) or made, tool, Renewed())
        tool = _followed(office, unit, person, tool, made)
        unit.commit()
    return Calibrated(made, tool, renewed(office, person))


def _wrench(unit: Unit, tool_id: str) -> Tool:
    tool = unit.tools.get(tool_id)
    if tool is None or tool.kind is not ToolKind.TORQUE_WRENCH:
        raise NotFound("tool", tool_id)
    return tool


def is_true_again(one: Calibration) -> bool:
    """Whether the wrench may be used after it: found true, or set right and then found true."""
    return one.passes or one.adjusted


def last_good(tool: Tool, calibrations: Iterable[Calibration], before: date | None) -> date | None:
    """The newest day before another on which the wrench was known to be good; None when no such day is known."""
    days = [one.done_on for one in calibrations if is_true_again(one)]
    days += [tool.checked_on] if tool.checked_on is not None else []
    return max((day for day in days if before is None or day < before), default=None)


def out_of_true_words(one: Calibration) -> str:
    worst = max(one.points, key=lambda point: abs(point.deviation_ppm))
    return f"Found out of true on {date_words(one.done_on)}: {percent_words(worst.deviation_ppm)}"


def percent_words(ppm: int) -> str:
    """A deviation with its sign and two places, rounded away from zero where it is half: "+6.00 %"."""
    hundredths = (abs(ppm) + 50) // 100
    sign = "-" if ppm < 0 and hundredths else "+" if hundredths else ""
    return f"{sign}{hundredths // 100}.{hundredths % 100:02d} %"


def _followed(office: Office, unit: Unit, person: str, tool: Tool, made: Calibration) -> Tool:
    """What a calibration does to the tool; one older than what is known does nothing."""
    newest = max((one.done_on for one in unit.calibrations.where(tool=tool.id)), default=made.done_on)
    if made.done_on < newest or (tool.checked_on is not None and made.done_on < tool.checked_on):
        return tool
    if not is_true_again(made):
        tool = replace(tool, fault=out_of_true_words(made))
    else:
        # A reason that somebody wrote by hand stays until somebody takes it off by hand.
        waiting = [one for one in unit.tool_events.where(tool=tool.id) if one.seen_by is None]
        for one in waiting:
            seen = replace(
                one, seen_by=person, seen_at=office.clock(), seen_words=f"Calibrated: {made.document}".strip()
            )
            unit.tool_events.save(seen)
        by_us = bool(waiting) or tool.fault in {out_of_true_words(one) for one in _failed(unit, tool)}
        tool = replace(
            tool, fault="" if by_us else tool.fault, checked_on=made.done_on, due_on=made.due_on,
            cycles=None if tool.cycles is None else CYCLES[0],
        )  # fmt: skip
    save_tool(unit, tool)
    return tool


def _failed(unit: Unit, tool: Tool) -> list[Calibration]:
    return [one for one in unit.calibrations.where(tool=tool.id) if not is_true_again(one)]


# --- Reading the form ---------------------------------------------------------------------------------------------


def _read(office: Office, person: str, tool: Tool, wanted: CalibrationWanted, today: date) -> Calibration:
    read = Reader()
    done_on = read.day(wanted.done_on, "done_on")
    if done_on is None and not wanted.done_on.strip():
        read.wrong("calibration_day_missing", "done_on")
    elif done_on is not None and done_on > today:
        read.wrong("day_to_come", "done_on")
    done_by = read.words(wanted.done_by, "done_by", missing="calibrated_by_missing", limit=120)
    document = read.words(wanted.document, "document", limit=120)
    points = _points(read, tool, wanted)
    adjusted = wanted.adjusted == "yes"
    largest = Quantity(Dimension.TORQUE, tool.high_mnm)
    kind = ToolType(tool.type) if tool.type else ToolType.TYPE_II_A
    passes, allowed = False, 0
    if points:
        judged = judge_calibration(
            [(_torque(one.set_mnm), _torque(one.measured_mnm)) for one in points], largest, kind
        )  # fmt: skip
        passes, allowed = judged.passes, judged.allowed.value
        points = tuple(
            replace(one, deviation_ppm=found.value) for one, found in zip(points, judged.deviations, strict=True)
        )
        _doubts(read, points, wanted)
        if passes:
            _covered(read, tool, points)
    due_on = _due(read, wanted, done_on, true_again=passes or adjusted)
    _paper(read, wanted.paper)
    read.done()
    assert done_on is not None
    return Calibration(
        wanted.id or office.new_id(), tool.id, done_on, done_by, document, points, allowed, passes,
        adjusted and not passes, due_on, "", "", person, office.clock(),
    )  # fmt: skip


def _torque(mnm: int) -> Quantity:
    return Quantity(Dimension.TORQUE, mnm)


def _points(read: Reader, tool: Tool, wanted: CalibrationWanted) -> tuple[CalibrationPoint, ...]:
    """The rows in which something was measured. A row with a setting alone was not used."""
    points = []
    for number, (set_text, measured_text) in enumerate(wanted.readings[:ROWS]):
        if not measured_text.strip():
            continue
        at = read.amount(set_text, f"set.{number}", Dimension.TORQUE, tool.unit, *TORQUE_MNM)
        got = read.amount(measured_text, f"measured.{number}", Dimension.TORQUE, tool.unit, 1, 2 * TORQUE_MNM[1])
        if at is not None and not tool.low_mnm <= at.value <= tool.high_mnm:
            read.wrong("setting_outside", f"set.{number}", tag=tool.tag, typed=set_text.strip()[:40])
        elif at is not None and got is not None:
            points.append(
                CalibrationPoint(
                    at.value, _with_unit(set_text, tool), got.value, _with_unit(measured_text, tool), 0
                )
            )  # fmt: skip
    if not points and not any(one.field.startswith(("set.", "measured.")) for one in read.problems):
        read.wrong("readings_missing", "measured.0")
    return tuple(points)


def _with_unit(text: str, tool: Tool) -> str:
    """A figure as typed; a bare number has the wrench's unit put beside it."""
    typed = text.strip()[:40]
    return typed if any(ch.isalpha() for ch in typed) else f"{typed} {tool.unit}"


def _doubts(read: Reader, points: Sequence[CalibrationPoint], wanted: CalibrationWanted) -> None:
    odd = next((one for one in points if abs(one.deviation_ppm) > DOUBT_PPM), None)
    if odd is not None and wanted.sure != "yes":
        read.wrong(
            "reading_doubt", "sure", set=odd.set_text, measured=odd.measured_text, off=percent_words(odd.deviation_ppm)
        )  # fmt: skip


def _covered(read: Reader, tool: Tool, points: Iterable[CalibrationPoint]) -> None:
    """A wrench is found true at 60 and 100 % of its range and at its lowest point: 20 %, or its lowest mark.

    Source: `calibration_points` (2003 edition), `usable_range` (2017 edition, lowest mark).
    """
    settings = [one.set_mnm for one in points]
    fifth, middle, top = (one.value for one in calibration_points(_torque(tool.high_mnm)))
    missing = [
        name
        for name, wanted in (("the lowest", (fifth, tool.low_mnm)), ("60 %", (middle,)), ("100 %", (top,)))
        if not any(abs(at - one) * 100 <= NEAR_PERCENT * one for at in settings for one in wanted)
    ]
    if missing:
        read.wrong("points_missing", "measured.0", missing=", ".join(missing))


def _due(read: Reader, wanted: CalibrationWanted, done_on: date | None, *, true_again: bool) -> date | None:
    """The next date: as typed, else a year on. A wrench that is not true has none."""
    due = read.day(wanted.due_on, "due_on")
    if done_on is None or not true_again:
        return None
    if due is None:
        # Due on the anniversary itself (`torque_tool.due`): the day before is the last in date.
        return months_later(done_on, Interval().months) - timedelta(days=1)
    if due <= done_on:
        read.wrong("due_before_check", "due_on")
    elif due > months_later(done_on, LONGEST_MONTHS):
        read.wrong("due_too_far", "due_on", months=LONGEST_MONTHS)
    return due


def _paper(read: Reader, paper: Paper | None) -> None:
    if paper is None or not paper.name:
        return
    if paper.too_large or len(paper.data) > PAPER_LIMIT:
        read.wrong("paper_too_large", "certificate", limit=PAPER_LIMIT // 1_000_000)
    elif kind_of_paper(paper.data) is None:
        read.wrong("paper_unknown", "certificate", file=paper.name[-80:])


def kind_of_paper(data: bytes) -> str | None:
    """The media type by the file's first bytes; whatever its name says."""
    return next((kind for first, kind in PAPER_KINDS if data.startswith(first)), None)
