"""The tool crib's paper: calibration certificates, what was found after a mishap, labels to print."""

from __future__ import annotations

from io import BytesIO
from typing import Annotated
from urllib.parse import quote

import segno
from fastapi import APIRouter, Depends, Request
from fastapi.concurrency import run_in_threadpool
from starlette.responses import Response

from app.domain.problems import NotFound, Refused
from app.domain.records import Tool, ToolKind
from app.language.speech import _
from app.texts import word
from app.trade.quantity import Dimension, Quantity
from app.trade.torque_tool import ToolType, calibration_points, permissible_deviation
from app.use_cases.calibrate_tool import (
    PAPER_LIMIT,
    ROWS,
    CalibrationWanted,
    Paper,
    calibrate_tool,
    kind_of_paper,
)
from app.use_cases.office import Office
from app.use_cases.report_mishap import look_at_mishap
from app.web.desk.said import go
from app.web.desk.tools import in_full, tool_page
from app.web.forms import FormWithFile, TheForm, read_form_with_file
from app.web.pages.form import FormShown, sent_back
from app.web.pages.tools import CalibrationPage, LabelShown, LabelsPage
from app.web.rendering import page
from app.web.security import Desk, SignInWanted, TheOffice, visitor_or_none

router = APIRouter()


async def certificate_form(request: Request) -> FormWithFile:
    """The posted certificate with its file. Named after the visitor, so that roles come first."""
    visitor = await run_in_threadpool(visitor_or_none, request)
    if visitor is None:
        raise SignInWanted
    return await read_form_with_file(request, visitor, "certificate", PAPER_LIMIT)


CertificateForm = Annotated[FormWithFile, Depends(certificate_form)]


# --- Calibrations -------------------------------------------------------------------------------------------------


@router.get("/desk/tools/{tool_id}/calibrations/new")
def new(request: Request, office: TheOffice, visitor: Desk, tool_id: str) -> Response:
    wrench = _wrench(office, tool_id)
    top = Quantity(Dimension.TORQUE, wrench.high_mnm)
    settings = [max(one.value, wrench.low_mnm) for one in calibration_points(top)]
    values = {f"set.{row}": in_full(Dimension.TORQUE, at, wrench.unit) for row, at in enumerate(settings)}
    shown = _calibration_page(wrench, FormShown({**values, "id": office.new_id()}))
    return page(request, "desk/calibration.html", shown, visitor)


@router.post("/desk/tools/{tool_id}/calibrations")
def add(request: Request, office: TheOffice, visitor: Desk, tool_id: str, sent: CertificateForm) -> Response:
    form, file = sent.form, sent.file
    wanted = CalibrationWanted(
        id=form.text("id")[:64],
        done_on=form.text("done_on"),
        done_by=form.text("done_by"),
        document=form.text("document"),
        readings=tuple((form.text(f"set.{row}"), form.text(f"measured.{row}")) for row in range(ROWS)),
        due_on=form.text("due_on"),
        adjusted=form.text("adjusted"),
        sure=form.text("sure"),
        paper=Paper(file.name, file.data, file.too_large) if file is not None else None,
    )
    try:
        kept = calibrate_tool(office, visitor.person_id, tool_id, wanted)
    except Refused as refused:
        shown = _calibration_page(_wrench(office, tool_id), sent_back(form, refused.problems))
        return page(request, "desk/calibration.html", shown, visitor, status=422)
    if kept.calibration.passes:
        return go(f"/desk/tools/{tool_id}", "calibrated", kept.renewed)
    said = "set_right" if kept.calibration.adjusted else "out_of_true"
    return go(f"/desk/tracing/calibrations/{kept.calibration.id}", said, kept.renewed)


@router.get("/desk/tools/certificates/{sha256}")
def certificate(office: TheOffice, visitor: Desk, sha256: str) -> Response:
    """A certificate's file: only one that some calibration names, as a download that no browser runs."""
    with office.store.reading() as unit:
        named = next(iter(unit.calibrations.where(certificate=sha256)), None) if sha256 else None
    data = office.papers.read(sha256) if named is not None else None
    if named is None or data is None:
        raise NotFound("certificate", sha256)
    headers = {
        "Content-Disposition": f"attachment; filename*=UTF-8''{quote(named.certificate_name, safe='')}",
        "Content-Security-Policy": "default-src 'none'; sandbox",
    }
    return Response(data, media_type=kind_of_paper(data) or "application/octet-stream", headers=headers)


def _wrench(office: Office, tool_id: str) -> Tool:
    with office.store.reading() as unit:
        tool = unit.tools.get(tool_id)
    if tool is None or tool.kind is not ToolKind.TORQUE_WRENCH:
        raise NotFound("tool", tool_id)
    return tool


def _calibration_page(wrench: Tool, form: FormShown) -> CalibrationPage:
    kind = ToolType(wrench.type) if wrench.type else ToolType.TYPE_II_A
    allowed = permissible_deviation(Quantity(Dimension.TORQUE, wrench.high_mnm), kind)
    return CalibrationPage(
        _("Certificate for {tag}", tag=wrench.tag), f"/desk/tools/{wrench.id}/calibrations", f"/desk/tools/{wrench.id}",
        wrench.tag, wrench.unit, f"±{allowed.value // 10_000} %", list(range(ROWS)), form,
    )  # fmt: skip


# --- Mishaps looked at --------------------------------------------------------------------------------------------


@router.post("/desk/tools/{tool_id}/mishaps/{event_id}")
def look(request: Request, office: TheOffice, visitor: Desk, tool_id: str, event_id: str, form: TheForm) -> Response:
    try:
        kept = look_at_mishap(office, visitor.person_id, event_id, form.text("seen_words"), form.text("back"))
    except Refused as refused:
        shown = tool_page(office, tool_id, sent_back(form, refused.problems))
        return page(request, "desk/tool.html", shown, visitor, status=422)
    return go(f"/desk/tools/{tool_id}", "seen", kept.renewed)


# --- Labels -------------------------------------------------------------------------------------------------------


@router.get("/desk/tools/labels")
def labels(request: Request, office: TheOffice, visitor: Desk) -> Response:
    """Labels for the tags asked for, or for all: a picture that holds the tool's address, and the tag in print."""
    wanted = {tag for tag in request.query_params.getlist("tag") if tag}
    with office.store.reading() as unit:
        tools = sorted(unit.tools.all(), key=lambda one: one.tag.casefold())
    shown = LabelsPage(
        labels=[_label(request, one) for one in tools if not wanted or one.tag in wanted],
        chosen=sorted(wanted),
        all_tags=[(one.tag, f"{one.tag}, {one.name}") for one in tools],
    )
    return page(request, "desk/labels.html", shown, visitor)


def _label(request: Request, tool: Tool) -> LabelShown:
    base = request.app.state.settings.base_url or str(request.base_url)
    address = f"{base.rstrip('/')}/tools/{quote(tool.tag, safe='')}"
    return LabelShown(tool.tag, tool.name, word(f"tool.{tool.kind.value}"), address, picture_of(address))


def picture_of(address: str) -> str:
    """A QR code (ISO/IEC 18004) as SVG, level Q: a quarter of it may be scratched or greasy."""
    into = BytesIO()
    code = segno.make(address, error="q", micro=False)
    code.save(into, kind="svg", xmldecl=False, svgns=True, light="#ffffff", border=4, omitsize=True, nl=False)
    return into.getvalue().decode()
