"""The tool crib: torque wrenches, stands, jacks, spring compressors; what is out of use and why."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from app.domain.problems import NotFound, Refused
from app.domain.records import Tool, ToolKind
from app.language.speech import _
from app.texts import word
from app.trade.quantity import Dimension, Quantity
from app.trade.torque_tool import ToolType
from app.trade.units import parse_quantity, unit_symbols
from app.trade.units import show as shown_amount
from app.use_cases.keep_tool import BASES, COMPRESSOR_TYPES, ToolWanted, add_tool, change_tool, put_back_in_use, tag_out
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.open_job import worn_words
from app.web.desk.said import go, said_lines
from app.web.desk.tool_story import see_tool
from app.web.forms import Form, TheForm
from app.web.pages.form import FormShown, sent_back
from app.web.pages.tools import ToolGroup, ToolLine, ToolPage, ToolsPage
from app.web.rendering import page
from app.web.security import Desk, TheOffice

router = APIRouter()
UNITS = [(symbol, symbol) for symbol in unit_symbols(Dimension.TORQUE)]


def _bases() -> list[tuple[str, str]]:
    return [(key, word(f"basis.{key}")) for key in BASES]


def _types() -> dict[ToolKind, list[tuple[str, str]]]:
    return {
        ToolKind.TORQUE_WRENCH: [(one.value, word(f"wrench.{one.value}")) for one in ToolType],
        ToolKind.SPRING_COMPRESSOR: [(key, word(f"compressor.{key}")) for key in COMPRESSOR_TYPES],
    }


@router.get("/desk/tools")
def show(request: Request, office: TheOffice, visitor: Desk) -> Response:
    with office.store.reading() as unit:
        tools = sorted(unit.tools.all(), key=lambda one: one.tag.casefold())
        today = office.clock().astimezone(zone_of(the_shop(unit))).date().isoformat()
    groups = [
        ToolGroup(kind.value, _plural(kind), [_line(one, today) for one in tools if one.kind is kind])
        for kind in ToolKind
    ]
    return page(request, "desk/tools.html", ToolsPage(groups, said_lines(request.query_params)), visitor)


@router.get("/desk/tools/new")
def new(request: Request, office: TheOffice, visitor: Desk, kind: str = "") -> Response:
    wanted = _kind(kind)
    with office.store.reading() as unit:
        values = {"kind": wanted.value, "unit": the_shop(unit).torque_unit, "basis": "pair"}
    return page(request, "desk/tool.html", _new_page(wanted, FormShown(values)), visitor)


@router.post("/desk/tools")
def add(request: Request, office: TheOffice, visitor: Desk, form: TheForm) -> Response:
    try:
        kept = add_tool(office, visitor.person_id, _wanted(form))
    except Refused as refused:
        shown = _new_page(_kind(form.text("kind")), sent_back(form, refused.problems))
        return page(request, "desk/tool.html", shown, visitor, status=422)
    return go("/desk/tools", "kept", kept.renewed)


@router.get("/desk/tools/{tool_id}")
def one(request: Request, office: TheOffice, visitor: Desk, tool_id: str) -> Response:
    tool = _get(office, tool_id)
    shown = _page(office, tool, FormShown(values_of(tool)), FormShown(), said_lines(request.query_params))
    return page(request, "desk/tool.html", shown, visitor)


@router.post("/desk/tools/{tool_id}")
def change(request: Request, office: TheOffice, visitor: Desk, tool_id: str, form: TheForm) -> Response:
    try:
        kept = change_tool(office, visitor.person_id, tool_id, _wanted(form))
    except Refused as refused:
        shown = _page(office, _get(office, tool_id), sent_back(form, refused.problems), FormShown(), [])
        return page(request, "desk/tool.html", shown, visitor, status=422)
    return go(f"/desk/tools/{tool_id}", "kept", kept.renewed)


@router.post("/desk/tools/{tool_id}/fault")
def tag(request: Request, office: TheOffice, visitor: Desk, tool_id: str, form: TheForm) -> Response:
    try:
        kept = tag_out(office, visitor.person_id, tool_id, form.text("fault"))
    except Refused as refused:
        tool = _get(office, tool_id)
        shown = _page(office, tool, FormShown(values_of(tool)), sent_back(form, refused.problems), [])
        return page(request, "desk/tool.html", shown, visitor, status=422)
    return go(f"/desk/tools/{tool_id}", "out", kept.renewed)


@router.post("/desk/tools/{tool_id}/in-use")
def untag(request: Request, office: TheOffice, visitor: Desk, tool_id: str, form: TheForm) -> Response:
    try:
        kept = put_back_in_use(office, visitor.person_id, tool_id)
    except Refused as refused:
        tool = _get(office, tool_id)
        shown = _page(office, tool, FormShown(values_of(tool)), sent_back(form, refused.problems), [])
        return page(request, "desk/tool.html", shown, visitor, status=422)
    return go(f"/desk/tools/{tool_id}", "back", kept.renewed)


def _wanted(form: Form) -> ToolWanted:
    names = (
        *("tag", "kind", "name", "unit", "low", "high", "length", "due_on", "rating", "basis"),
        *("type", "checked_on", "cycles"),
    )
    return ToolWanted(**{name: form.text(name) for name in names})


def _kind(text: str) -> ToolKind:
    return next((kind for kind in ToolKind if kind.value == text), ToolKind.TORQUE_WRENCH)


def _get(office: Office, tool_id: str) -> Tool:
    with office.store.reading() as unit:
        tool = unit.tools.get(tool_id)
    if tool is None:
        raise NotFound("tool", tool_id)
    return tool


def values_of(tool: Tool) -> dict[str, str]:
    values = {
        "kind": tool.kind.value,
        "tag": tool.tag,
        "name": tool.name,
        "unit": tool.unit,
        "due_on": tool.due_on.isoformat() if tool.due_on else "",
        "basis": tool.rating_basis,
        "rating": _rating(tool),
        "type": tool.type,
        "checked_on": tool.checked_on.isoformat() if tool.checked_on else "",
        "cycles": str(tool.cycles) if tool.cycles is not None else "",
    }
    if tool.kind is ToolKind.TORQUE_WRENCH:
        values |= {"low": _torque(tool.low_mnm, tool.unit), "high": _torque(tool.high_mnm, tool.unit)}
        values |= {"length": in_full(Dimension.LENGTH, tool.length_um, "mm") if tool.length_um else ""}
    return values


def in_full(dimension: Dimension, value: int, unit: str) -> str:
    """An amount with as many places as it takes to read the very same value back: what a form shows is sent again."""
    for places in range(7):
        text = shown_amount(Quantity(dimension, value), unit, places)
        if parse_quantity(text, dimension).value == value:
            return text
    return text


def _torque(mnm: int, unit: str) -> str:
    return in_full(Dimension.TORQUE, mnm, unit or "N·m")


def _rating(tool: Tool) -> str:
    if tool.kind is ToolKind.TORQUE_WRENCH:
        return ""
    if tool.kind is ToolKind.SPRING_COMPRESSOR:
        return in_full(Dimension.FORCE, tool.rating, "N")
    return in_full(Dimension.MASS, tool.rating, "kg")


def reach_of(tool: Tool) -> str:
    """What a tool is good for: a wrench's range, or what is on the label."""
    if tool.kind is ToolKind.TORQUE_WRENCH:
        return _(
            "{torque} to {torque_2}",
            torque=_torque(tool.low_mnm, tool.unit),
            torque_2=_torque(tool.high_mnm, tool.unit),
        )
    basis = f", {word(f'basis.{tool.rating_basis}')}" if tool.rating_basis else ""
    return f"{_rating(tool)}{basis}"


def _line(tool: Tool, today: str) -> ToolLine:
    reach = reach_of(tool)
    due = tool.due_on.isoformat() if tool.due_on else ""
    state = (
        _("Out of use: {fault}", fault=tool.fault)
        if tool.fault
        else (_("Due date passed") if due and due < today else "")
    )
    if not due and tool.kind is not ToolKind.SPRING_COMPRESSOR:
        due = _("never entered")
    if worn_words(tool) and not tool.fault:
        state = worn_words(tool)
    return ToolLine(f"/desk/tools/{tool.id}", tool.tag, tool.name, reach, due, state)


def _plural(kind: ToolKind) -> str:
    names = {
        ToolKind.TORQUE_WRENCH: _("Torque wrenches"),
        ToolKind.STANDS: _("Axle stands"),
        ToolKind.JACK: _("Jacks"),
        ToolKind.SPRING_COMPRESSOR: _("Spring compressors"),
        ToolKind.LIFT: _("Lifts"),
    }
    return names[kind]


def _new_page(kind: ToolKind, form: FormShown) -> ToolPage:
    words = word(f"tool.{kind.value}")
    return ToolPage(
        _("New {words}", words=words), "/desk/tools", True, kind.value, words, UNITS, _bases(), _types().get(kind, []),
        form=form
    )  # fmt: skip


def tool_page(office: Office, tool_id: str, fault_form: FormShown) -> ToolPage:
    """A tool's page with something to say about what happened to it."""
    tool = _get(office, tool_id)
    return _page(office, tool, FormShown(values_of(tool)), fault_form, [])


def _page(office: Office, tool: Tool, form: FormShown, fault_form: FormShown, said: list[str]) -> ToolPage:
    words = word(f"tool.{tool.kind.value}")
    with office.store.reading() as unit:
        story = see_tool(office, unit, tool)
    return ToolPage(
        f"{tool.tag}, {words}", f"/desk/tools/{tool.id}", False, tool.kind.value, words, UNITS, _bases(),
        _types().get(tool.kind, []), tool.fault, form, fault_form, said, story,
    )  # fmt: skip
