"""Add a tool to the crib, change it, tag it out with a reason, put it back. Its change reaches open sheets.

A wrench's calibrations are `calibrate_tool`, what happens to a tool `report_mishap`, who has it `borrow_tool`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import Tool, ToolKind
from app.ports import Unit
from app.trade.problems import TradeProblem
from app.trade.quantity import Dimension
from app.trade.torque_tool import ToolType, months_later
from app.trade.units import find_unit, unit_symbols
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.renew_sheets import Renewed, renew_sheets
from app.use_cases.typed_fields import Reader

# House rules: what no such tool is below or beyond, in small units; a number outside is a slip of the unit.
TORQUE_MNM = (100, 5_000_000)
LENGTH_UM = (50_000, 2_500_000)
MASS_G = (100_000, 60_000_000)
FORCE_MN = (500_000, 500_000_000)
BASES = ("each", "pair")
CYCLES = (0, 1_000_000)

# How long an inspection counts, in months, where no other day is given. Lifts: ANSI/ALI ALOIM, yearly (from memory).
# Stands and jacks: every six months, as the principle of 29 CFR 1926.305(d)(1)(iv)(a) for jacks in use at one place
# (from memory); for stands it is a house rule.
CHECKED_EVERY = {ToolKind.STANDS: 6, ToolKind.JACK: 6, ToolKind.LIFT: 12}
# House rule: a day further off than this after a check is a slip of the year.
LONGEST_MONTHS = 36
COMPRESSOR_TYPES = ("bench", "hooks", "internal", "plates")


@dataclass(frozen=True, slots=True)
class ToolWanted:
    """What was typed. Which fields count depends on the kind: `low`, `high`, `unit`, `length` a wrench's; `rating` the
    others' (a mass; a spring compressor's is a force), `basis` the stands'. `type` is a wrench's by ISO 6789, or a
    compressor's; `checked_on` the day it was last found good; `cycles` a wrench's uses since then."""

    tag: str
    kind: str
    name: str
    unit: str = ""
    low: str = ""
    high: str = ""
    length: str = ""
    due_on: str = ""
    rating: str = ""
    basis: str = ""
    type: str = ""
    checked_on: str = ""
    cycles: str = ""


@dataclass(frozen=True, slots=True)
class Kept:
    """The tool as it is now, and what became of the open sheets."""

    tool: Tool
    renewed: Renewed


def add_tool(office: Office, person: str, wanted: ToolWanted) -> Kept:
    """Raises: Refused with every problem found."""
    tool = _read(office.new_id(), wanted, _today(office))
    with office.store.writing() as unit:
        _need_free(unit, tool)
        unit.tools.add(tool)
        unit.commit()
    return Kept(tool, renewed(office, person))


def change_tool(office: Office, person: str, tool_id: str, wanted: ToolWanted) -> Kept:
    """Change everything but the kind and the fault. Raises: Refused with every problem found; NotFound."""
    before = _get(office, tool_id)
    read = _read(tool_id, replace(wanted, kind=before.kind.value), _today(office))
    with office.store.writing() as unit:
        now = unit.tools.get(tool_id) or before
        tool = replace(read, fault=now.fault)
        _need_free(unit, tool)
        if tool.tag != now.tag and unit.uses.has_tool(now.tag):
            raise Refused([Problem("tag_used", "tag", {"tag": now.tag})])
        save_tool(unit, tool)
        unit.commit()
    return Kept(tool, renewed(office, person))


def _need_free(unit: Unit, tool: Tool) -> None:
    """A tag is there once however it is written: nobody tells w12 from W12 on a wrench.

    Raises: Refused.
    """
    for other in unit.tools.all():
        if other.id != tool.id and other.tag.casefold() == tool.tag.casefold():
            raise Refused([Problem("tag_taken", "tag", {"tag": other.tag})])


def save_tool(unit: Unit, tool: Tool) -> None:
    """Save a tool; a lift's capacity and inspection reach the bays that name it."""
    unit.tools.save(tool)
    for bay in unit.bays.where(lift_tool=tool.id):
        unit.bays.save(replace(bay, capacity_g=tool.rating, inspected_on=tool.checked_on))


def tag_out(office: Office, person: str, tool_id: str, why: str) -> Kept:
    """Take a tool out of use, saying why. Raises: Refused without a reason; NotFound."""
    read = Reader()
    reason = read.words(why, "fault", missing="fault_missing", limit=200)
    read.done()
    return _with_fault(office, person, tool_id, reason)


def put_back_in_use(office: Office, person: str, tool_id: str) -> Kept:
    """Take the tag off. Raises: NotFound; Refused while something that happened to it has not been looked at."""
    return _with_fault(office, person, tool_id, "")


def _with_fault(office: Office, person: str, tool_id: str, fault: str) -> Kept:
    with office.store.writing() as unit:
        tool = unit.tools.get(tool_id)
        if tool is None:
            raise NotFound("tool", tool_id)
        if not fault and any(one.seen_by is None for one in unit.tool_events.where(tool=tool_id)):
            raise Refused([Problem("mishap_not_seen", "fault", {"tag": tool.tag})])
        tool = replace(tool, fault=fault)
        save_tool(unit, tool)
        unit.commit()
    return Kept(tool, renewed(office, person))


def _get(office: Office, tool_id: str) -> Tool:
    with office.store.reading() as unit:
        tool = unit.tools.get(tool_id)
    if tool is None:
        raise NotFound("tool", tool_id)
    return tool


def renewed(office: Office, person: str) -> Renewed:
    """Sheets carry the wrenches, and at their gates the other tools; the Floor lists what is due."""
    office.announce("floor")
    return renew_sheets(office, person)


def _today(office: Office) -> date:
    with office.store.reading() as unit:
        return office.clock().astimezone(zone_of(the_shop(unit))).date()


def _read(tool_id: str, wanted: ToolWanted, today: date) -> Tool:
    read = Reader()
    if wanted.kind not in {kind.value for kind in ToolKind}:
        read.wrong("tool_kind_missing", "kind")
        read.done()
    kind = ToolKind(wanted.kind)
    tag = read.words(wanted.tag, "tag", missing="tag_missing", limit=20)
    if tag and not is_tag(tag):
        read.wrong("tag_unclear", "tag", typed=tag[:40])
    tool = Tool(tool_id, tag, kind, read.words(wanted.name, "name", missing="tool_name_missing", limit=80))
    tool = _dated(read, tool, wanted, today)
    tool = _wrench(read, tool, wanted) if kind is ToolKind.TORQUE_WRENCH else _rated(read, tool, wanted)
    read.done()
    return tool


def is_tag(text: str) -> bool:
    """Whether a tag can be typed, scanned and put into an address: letters, figures, blanks and . _ - within."""
    return text[:1].isalnum() and all(ch.isalnum() or ch in " ._-" for ch in text)


def _dated(read: Reader, tool: Tool, wanted: ToolWanted, today: date) -> Tool:
    """The day it was last checked and the day it is due: as typed, or counted from the first where a rule says so."""
    checked, due = read.day(wanted.checked_on, "checked_on"), read.day(wanted.due_on, "due_on")
    if checked is not None and checked > today:
        read.wrong("day_to_come", "checked_on")
    elif checked is not None and due is not None and due <= checked:
        read.wrong("due_before_check", "due_on")
    elif checked is not None and due is not None and due > months_later(checked, LONGEST_MONTHS):
        read.wrong("due_too_far", "due_on", months=LONGEST_MONTHS)
    elif checked is not None and due is None and tool.kind in CHECKED_EVERY:
        due = months_later(checked, CHECKED_EVERY[tool.kind])
    return replace(tool, checked_on=checked, due_on=due)


def _wrench(read: Reader, tool: Tool, wanted: ToolWanted) -> Tool:
    unit = torque_unit(read, wanted.unit, "unit") or "N·m"
    low = read.amount(wanted.low, "low", Dimension.TORQUE, unit, *TORQUE_MNM)
    high = read.amount(wanted.high, "high", Dimension.TORQUE, unit, *TORQUE_MNM)
    length = read.amount(wanted.length, "length", Dimension.LENGTH, "mm", *LENGTH_UM, optional=True)
    if low is not None and high is not None and low.value >= high.value:
        read.wrong("range_swapped", "high")
    kind = wanted.type.strip()
    if kind and kind not in {one.value for one in ToolType}:
        read.wrong("wrench_type_unknown", "type")
    cycles = read.whole(wanted.cycles, "cycles", *CYCLES) if wanted.cycles.strip() else None
    return replace(
        tool, type=kind, cycles=cycles, unit=unit, low_mnm=low.value if low else 0, high_mnm=high.value if high else 0,
        length_um=length.value if length else None,
    )  # fmt: skip


def torque_unit(read: Reader, text: str, name: str) -> str:
    """A unit of torque as it stands in the table of units; "" after a problem.

    A unit that only the office knows would be shown otherwise on a tablet.
    """
    try:
        unit = find_unit(text.strip(), Dimension.TORQUE).symbol
    except TradeProblem:
        unit = ""
    if unit in unit_symbols(Dimension.TORQUE):
        return unit
    read.wrong("torque_unit_missing", name)
    return ""


def _rated(read: Reader, tool: Tool, wanted: ToolWanted) -> Tool:
    if tool.kind is ToolKind.SPRING_COMPRESSOR:
        rating = read.amount(wanted.rating, "rating", Dimension.FORCE, "N", *FORCE_MN)
    else:
        rating = read.amount(wanted.rating, "rating", Dimension.MASS, "kg", *MASS_G)
    if tool.kind is ToolKind.STANDS and wanted.basis not in BASES:
        read.wrong("basis_missing", "basis")
    basis = wanted.basis if tool.kind is ToolKind.STANDS else ""
    kind = wanted.type.strip() if tool.kind is ToolKind.SPRING_COMPRESSOR else ""
    if kind and kind not in COMPRESSOR_TYPES:
        read.wrong("compressor_type_unknown", "type")
    return replace(tool, rating=rating.value if rating else 0, rating_basis=basis, type=kind)
