"""Add a tool to the crib, change it, tag it out with a reason, put it back. A wrench's change reaches open sheets."""

from __future__ import annotations

from dataclasses import dataclass, replace

from app.domain.problems import AlreadyThere, NotFound, Problem, Refused
from app.domain.records import Tool, ToolKind
from app.trade.problems import TradeProblem
from app.trade.quantity import Dimension
from app.trade.units import find_unit, unit_symbols
from app.use_cases.office import Office
from app.use_cases.renew_sheets import Renewed, renew_sheets
from app.use_cases.typed_fields import Reader

# House rules: what no such tool is below or beyond, in small units; a number outside is a slip of the unit.
TORQUE_MNM = (100, 5_000_000)
LENGTH_UM = (50_000, 2_500_000)
MASS_G = (100_000, 60_000_000)
FORCE_MN = (500_000, 500_000_000)
BASES = ("each", "pair")


@dataclass(frozen=True, slots=True)
class ToolWanted:
    """What was typed. Which fields count depends on the kind: `low`, `high`, `unit`, `length` a wrench's; `rating` the
    others' (a mass; a spring compressor's is a force), `basis` the stands'."""

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


@dataclass(frozen=True, slots=True)
class Kept:
    """The tool as it is now, and what became of the open sheets."""

    tool: Tool
    renewed: Renewed


def add_tool(office: Office, person: str, wanted: ToolWanted) -> Kept:
    """Raises: Refused with every problem found."""
    tool = _read(office.new_id(), wanted)
    with office.store.writing() as unit:
        try:
            unit.tools.add(tool)
        except AlreadyThere as taken:
            raise Refused([Problem("tag_taken", "tag", {"tag": tool.tag})]) from taken
        unit.commit()
    return Kept(tool, _renewed(office, person, tool))


def change_tool(office: Office, person: str, tool_id: str, wanted: ToolWanted) -> Kept:
    """Change everything but the kind and the fault. Raises: Refused with every problem found; NotFound."""
    before = _get(office, tool_id)
    tool = replace(_read(tool_id, replace(wanted, kind=before.kind.value)), fault=before.fault)
    with office.store.writing() as unit:
        try:
            unit.tools.save(tool)
        except AlreadyThere as taken:
            raise Refused([Problem("tag_taken", "tag", {"tag": tool.tag})]) from taken
        unit.commit()
    return Kept(tool, _renewed(office, person, tool))


def tag_out(office: Office, person: str, tool_id: str, why: str) -> Kept:
    """Take a tool out of use, saying why. Raises: Refused without a reason; NotFound."""
    read = Reader()
    reason = read.words(why, "fault", missing="fault_missing", limit=200)
    read.done()
    return _with_fault(office, person, tool_id, reason)


def put_back_in_use(office: Office, person: str, tool_id: str) -> Kept:
    """Take the tag off. Raises: NotFound."""
    return _with_fault(office, person, tool_id, "")


def _with_fault(office: Office, person: str, tool_id: str, fault: str) -> Kept:
    with office.store.writing() as unit:
        tool = unit.tools.get(tool_id)
        if tool is None:
            raise NotFound("tool", tool_id)
        tool = replace(tool, fault=fault)
        unit.tools.save(tool)
        unit.commit()
    return Kept(tool, _renewed(office, person, tool))


def _get(office: Office, tool_id: str) -> Tool:
    with office.store.reading() as unit:
        tool = unit.tools.get(tool_id)
    if tool is None:
        raise NotFound("tool", tool_id)
    return tool


def _renewed(office: Office, person: str, tool: Tool) -> Renewed:
    """Sheets carry the wrenches; of other tools they know nothing."""
    return renew_sheets(office, person) if tool.kind is ToolKind.TORQUE_WRENCH else Renewed()


def _read(tool_id: str, wanted: ToolWanted) -> Tool:
    read = Reader()
    if wanted.kind not in {kind.value for kind in ToolKind}:
        read.wrong("tool_kind_missing", "kind")
        read.done()
    kind = ToolKind(wanted.kind)
    tag = read.words(wanted.tag, "tag", missing="tag_missing", limit=20)
    tool = Tool(tool_id, tag, kind, read.words(wanted.name, "name", missing="tool_name_missing", limit=80))
    tool = replace(tool, due_on=read.day(wanted.due_on, "due_on"))
    tool = _wrench(read, tool, wanted) if kind is ToolKind.TORQUE_WRENCH else _rated(read, tool, wanted)
    read.done()
    return tool


def _wrench(read: Reader, tool: Tool, wanted: ToolWanted) -> Tool:
    unit = torque_unit(read, wanted.unit, "unit") or "N·m"
    low = read.amount(wanted.low, "low", Dimension.TORQUE, unit, *TORQUE_MNM)
    high = read.amount(wanted.high, "high", Dimension.TORQUE, unit, *TORQUE_MNM)
    length = read.amount(wanted.length, "length", Dimension.LENGTH, "mm", *LENGTH_UM, optional=True)
    if low is not None and high is not None and low.value >= high.value:
        read.wrong("range_swapped", "high")
    return replace(
        tool, unit=unit, low_mnm=low.value if low else 0, high_mnm=high.value if high else 0,
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
    return replace(tool, rating=rating.value if rating else 0, rating_basis=basis)
