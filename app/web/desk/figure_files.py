"""The spec book as a file: written out, sent, looked at line by line, imported."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from app.domain.problems import Problem, Refused
from app.domain.records import FigureImport
from app.domain.spec_places import spec_places
from app.language.speech import _
from app.texts import say, word
from app.use_cases.figure_csv import BYTES_LIMIT, COLUMNS, TOLD, file_of
from app.use_cases.import_figures import (
    Outcome,
    Report,
    Told,
    export_figures,
    file_of_person,
    import_figures,
    look_at_file,
    report_from,
)
from app.use_cases.in_language import book_said
from app.use_cases.keep_figure import models
from app.web.desk.said import go, said_lines
from app.web.forms import FormWithFile, TheForm, read_form_with_file, told
from app.web.forms import Told as FormTold
from app.web.pages.figure_files import FilePage, ReportLine, ReportPage
from app.web.pages.form import FormShown
from app.web.rendering import page
from app.web.security import Desk, SignInWanted, TheOffice, visitor_or_none

router = APIRouter()
SHOWN = 200
ALL_COLUMNS = [*COLUMNS.items()]
REPORT_COLUMNS = ("line", "outcome", "model", "axle", "place", "why")


async def the_upload(request: Request) -> FormWithFile:
    """A dependency: the posted form and its file. Name it after the visitor, so that roles come first.

    Raises: SignInWanted; as `read_form_with_file`.
    """
    visitor = await run_in_threadpool(visitor_or_none, request)
    if visitor is None:
        raise SignInWanted
    return await read_form_with_file(request, visitor, "file", BYTES_LIMIT)


TheUpload = Annotated[FormWithFile, Depends(the_upload)]


@router.get("/desk/figures/file")
def show(request: Request, office: TheOffice, visitor: Desk) -> Response:
    return page(request, "desk/figure_file.html", _file_page(office, FormShown(), request), visitor)


@router.post("/desk/figures/file")
def look(request: Request, office: TheOffice, visitor: Desk, upload: TheUpload) -> Response:
    file = upload.file
    try:
        if file is None:
            raise Refused([Problem("file_missing", "file")])
        if file.too_large:
            raise Refused([Problem("file_large", "file", {"limit": BYTES_LIMIT // 1024 // 1024})])
        looked = look_at_file(office, visitor.person_id, file.name, file.data)
    except Refused as refused:
        shown = _file_page(office, FormShown({}, _told(refused)), request)
        return page(request, "desk/figure_file.html", shown, visitor, status=422)
    return go(_address_of(looked.row), "looked")


@router.get("/desk/figures/file/{import_id}")
def show_report(request: Request, office: TheOffice, visitor: Desk, import_id: str) -> Response:
    return _report_page(request, office, visitor, import_id, FormShown(), 200)


@router.post("/desk/figures/file/{import_id}")
def take(request: Request, office: TheOffice, visitor: Desk, import_id: str, form: TheForm) -> Response:
    try:
        imported = import_figures(office, visitor.person_id, import_id)
    except Refused as refused:
        return _report_page(request, office, visitor, import_id, FormShown({}, _told(refused)), 422)
    return go(f"/desk/figures/file/{import_id}", "imported", imported.renewed)


@router.get("/desk/figures/file/{import_id}/report.csv")
def download_report(office: TheOffice, visitor: Desk, import_id: str) -> Response:
    with office.store.reading() as unit:
        row = file_of_person(unit, visitor.person_id, import_id)
    lines = [
        dict(zip(REPORT_COLUMNS, (str(one.number), one.outcome.value, one.model, one.axle, one.place, _why(one)),
                 strict=True))
        for one in report_from(row.report).lines
    ]  # fmt: skip
    return _csv(file_of(REPORT_COLUMNS, lines), "report.csv")


@router.get("/desk/figures/export.csv")
def export(office: TheOffice, visitor: Desk, model: str = "") -> Response:
    text = export_figures(office, visitor.person_id, visitor.person.roles, model.strip()[:80])
    return _csv(text, "spec-book.csv")


def _csv(text: str, name: str) -> Response:
    """With the mark by which spreadsheets tell UTF-8."""
    headers = {"content-disposition": f'attachment; filename="{name}"', "x-content-type-options": "nosniff"}
    return Response("\ufeff".encode() + text.encode(), media_type="text/csv; charset=utf-8", headers=headers)


def _told(refused: Refused) -> FormTold:
    return told(refused.problems)


def _address_of(row: FigureImport) -> str:
    return f"/desk/figures/file/{row.id}"


def _file_page(office: TheOffice, form: FormShown, request: Request) -> FilePage:
    with office.store.reading() as unit:
        names = models(unit)
    places = spec_places(book_said(office.book)).values()
    return FilePage(
        columns=[(name, _(words)) for name, words in ALL_COLUMNS],
        told_columns=[(name, _(words)) for name, words in TOLD.items()],
        places=[
            (one.key, one.words, word(f"figure_kind.{one.kind.value}"), " or ".join(axle.value for axle in one.axles))
            for one in places
        ],
        exports=[
            ("/desk/figures/export.csv", _("The whole book")),
            *((f"/desk/figures/export.csv?{urlencode({'model': name})}", name) for name in names),
        ],
        header=";".join(COLUMNS),
        said=said_lines(request.query_params),
        form=form,
    )


def _report_page(
    request: Request, office: TheOffice, visitor: Desk, import_id: str, form: FormShown, status: int
) -> Response:
    with office.store.reading() as unit:
        row = file_of_person(unit, visitor.person_id, import_id)
    report = report_from(row.report)
    refused = [one for one in report.lines if one.outcome is Outcome.REFUSED]
    others = [one for one in report.lines if one.outcome is not Outcome.REFUSED]
    is_waiting = row.done_at is None and bool(row.text)
    shown = ReportPage(
        title=row.file_name or _("A file of figures"),
        read_as=row.note,
        is_guessed="Windows-1252" in row.note,
        counts=[(word(f"import_outcome.{one.value}"), report.counts[one]) for one in Outcome if one in report.counts],
        refused=[_line(one) for one in refused[:SHOWN]],
        others=[_line(one) for one in others[:SHOWN]],
        left=max(0, len(refused) - SHOWN) + max(0, len(others) - SHOWN),
        is_done=row.done_at is not None,
        take_at=_address_of(row) if is_waiting and report.can_be_taken else "",
        hint=_hint(row, report),
        report_at=f"{_address_of(row)}/report.csv",
        said=said_lines(request.query_params),
        form=form,
    )
    return page(request, "desk/figure_report.html", shown, visitor, status=status)


def _hint(row: FigureImport, report: Report) -> str:
    """What to do next, in a sentence."""
    if row.done_at is not None:
        return _("Imported. Each new figure counts once another person has typed it from its source.")
    if not row.text:
        return _("Another file was sent since. Send this one again if it is to be imported.")
    if Outcome.REFUSED in report.counts:
        return _("Nothing is imported as long as a line cannot be taken. Mend the file and send it again.")
    if not report.can_be_taken:
        return _("There is nothing new in this file.")
    return _("Nothing is imported yet. Look through the lines, then import all of them.")


def _line(one: Told) -> ReportLine:
    return ReportLine(
        str(one.number), one.outcome.value, word(f"import_outcome.{one.outcome.value}"),
        " · ".join(part for part in (one.model, one.axle, one.place) if part), _why(one),
    )  # fmt: skip


def _why(one: Told) -> str:
    return " ".join(
        f"{problem.field}: {say(problem)}" if problem.field in COLUMNS else say(problem) for problem in one.problems
    )
