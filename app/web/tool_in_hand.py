"""A tool in the hand of whoever scanned its label or typed its tag: what it is, who has it, and what happened to it."""

from __future__ import annotations

from datetime import date
from urllib.parse import quote, urlencode

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import Mishap, Role, Tool, ToolKind
from app.language.speech import N_, _
from app.ports import Unit
from app.texts import word
from app.use_cases.borrow_tool import borrow_tool, find_tool, give_back, open_loan, why_out_of_use
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.report_mishap import MishapWanted, report_mishap
from app.use_cases.shop_time import at_words, date_words
from app.web.desk.tools import reach_of
from app.web.forms import TheForm, told
from app.web.pages.form import FormShown, sent_back
from app.web.pages.tools import CribLine, CribPage, HeldToolPage
from app.web.rendering import page
from app.web.security import Anyone, TheOffice, Visitor

router = APIRouter()
SAID = {
    "taken": N_("You have it. Bring it back here when you are done."),
    "over": N_("You have it now; it is off the name of who had it before."),
    "back": N_("It is back in the crib."),
    "reported": N_("Kept. It is tagged out, and the foreman sees it on the Floor."),
}


@router.get("/tools")
def crib(request: Request, office: TheOffice, visitor: Anyone, tag: str = "") -> Response:
    """Everything in the crib and who has it. A tag typed or scanned leads to its tool."""
    if tag.strip():
        with office.store.reading() as unit:
            tool = find_tool(unit, tag)
        if tool is not None:
            return RedirectResponse(_address(tool), 303)
        missing = FormShown({"tag": tag}, told([Problem("tag_not_there", "tag", {"typed": tag.strip()[:40]})]))
        return page(request, "tools/crib.html", _crib(office, visitor, missing), visitor, status=422)
    return page(request, "tools/crib.html", _crib(office, visitor, FormShown()), visitor)


@router.get("/tools/{tag}")
def one(request: Request, office: TheOffice, visitor: Anyone, tag: str, said: str = "") -> Response:
    shown = _tool_page(office, visitor, tag, FormShown({"id": office.new_id()}), _(SAID[said]) if said in SAID else "")
    return page(request, "tools/tool.html", shown, visitor)


@router.post("/tools/{tag}/borrow")
def borrow(request: Request, office: TheOffice, visitor: Anyone, tag: str, form: TheForm) -> Response:
    try:
        borrowed = borrow_tool(office, visitor.person_id, tag)
    except Refused as refused:
        return _again(request, office, visitor, tag, sent_back(form, refused.problems))
    return _back_to(borrowed.tool, "over" if borrowed.had else "taken")


@router.post("/tools/{tag}/give-back")
def back(office: TheOffice, visitor: Anyone, tag: str, form: TheForm) -> Response:
    tool = _find(office, tag)
    give_back(office, tool.id)
    return _back_to(tool, "back")


@router.post("/tools/{tag}/mishaps")
def mishap(request: Request, office: TheOffice, visitor: Anyone, tag: str, form: TheForm) -> Response:
    tool = _find(office, tag)
    wanted = MishapWanted(form.text("id")[:64], form.text("kind"), form.text("words"), form.text("torque"))
    try:
        report_mishap(office, visitor.person_id, tool.id, wanted)
    except Refused as refused:
        return _again(request, office, visitor, tag, sent_back(form, refused.problems))
    return _back_to(tool, "reported")


def _again(request: Request, office: Office, visitor: Visitor, tag: str, form: FormShown) -> Response:
    return page(request, "tools/tool.html", _tool_page(office, visitor, tag, form, ""), visitor, status=422)


def _address(tool: Tool) -> str:
    return f"/tools/{quote(tool.tag, safe='')}"


def _back_to(tool: Tool, said: str) -> Response:
    return RedirectResponse(f"{_address(tool)}?{urlencode({'said': said})}", 303)


def _find(office: Office, tag: str) -> Tool:
    with office.store.reading() as unit:
        tool = find_tool(unit, tag)
    if tool is None:
        raise NotFound("tool", tag)
    return tool


def _today(office: Office, unit: Unit) -> date:
    return office.clock().astimezone(zone_of(the_shop(unit))).date()


def _crib(office: Office, visitor: Visitor, form: FormShown) -> CribPage:
    with office.store.reading() as unit:
        tools = sorted(unit.tools.all(), key=lambda one: one.tag.casefold())
        today, names = _today(office, unit), {one.id: one.name for one in unit.people.all()}
        loans = {one.tool: one for one in unit.loans.all() if one.given_back_at is None}
    lines = []
    mine = []
    for one in tools:
        loan = loans.get(one.id)
        line = CribLine(
            _address(one), one.tag, one.name, why_out_of_use(one, today), names.get(loan.person, "") if loan else ""
        )
        lines.append(line)
        mine += [line] if loan is not None and loan.person == visitor.person_id else []
    return CribPage(lines, mine, form)


def _tool_page(office: Office, visitor: Visitor, tag: str, form: FormShown, said: str) -> HeldToolPage:
    tool = _find(office, tag)
    with office.store.reading() as unit:
        now, zone, today = office.clock(), zone_of(the_shop(unit)), _today(office, unit)
        loan = open_loan(unit, tool.id)
        holder = unit.people.get(loan.person) if loan is not None else None
        state = why_out_of_use(tool, today)
        instead = [one for one in unit.tools.where(kind=tool.kind) if one.id != tool.id and _would_do(one, tool, today)]
    since = (
        _("{name}, since {at_words}", name=holder.name, at_words=at_words(loan.taken_at, now, zone))
        if holder is not None and loan
        else ""
    )
    return HeldToolPage(
        title=f"{tool.tag}, {word(f'tool.{tool.kind.value}')}",
        tag=tool.tag,
        name=tool.name,
        kind=tool.kind.value,
        reach=reach_of(tool),
        state=state,
        due=date_words(tool.due_on) if tool.due_on else _("no date written down"),
        holder=since,
        mine=loan is not None and loan.person == visitor.person_id,
        instead=[f"{one.tag}, {one.name} ({reach_of(one)})" for one in instead] if state else [],
        is_wrench=tool.kind is ToolKind.TORQUE_WRENCH,
        unit=tool.unit,
        address=_address(tool),
        mishaps=[(one.value, word(f"mishap.{one.value}")) for one in Mishap],
        form=form,
        said=said,
        desk_link=f"/desk/tools/{tool.id}" if visitor.has(Role.DESK, Role.FOREMAN) else "",
    )


def _would_do(other: Tool, tool: Tool, today: date) -> bool:
    """Whether another of the kind may be used, and does some of what this one does: a wrench part of its range."""
    reaches = other.low_mnm <= tool.high_mnm and other.high_mnm >= tool.low_mnm and other.rating >= tool.rating
    dated = other.due_on is not None or tool.kind is ToolKind.SPRING_COMPRESSOR
    return reaches and dated and not why_out_of_use(other, today)
