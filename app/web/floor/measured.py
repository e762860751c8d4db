"""Measured values of a job: before beside after, drawn; and taking them in from a file."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from app.domain.drawing_compared import Pair, alignment_picture, heights_picture, labels_of
from app.domain.problems import Problem, Refused
from app.domain.records import JobState
from app.domain.sheet import Sheet
from app.language.procedures import said
from app.language.speech import _
from app.texts import say, say_ruling, word
from app.use_cases.before_after import HEIGHTS, Compared, compared, said_twice
from app.use_cases.figure_csv import text_of
from app.use_cases.handback_letter import as_typed
from app.use_cases.measured_file import COLUMNS, KEYS, TEXT_LIMIT, LineRead, look_at, record_all
from app.use_cases.office import Office
from app.use_cases.record_shims import ShimsTyped, record_shims
from app.use_cases.see_sheet import job_by_number
from app.use_cases.shims import PLACES, ShimsLeft, shims_drawn, shims_of
from app.web.forms import FormWithFile, TheForm, read_form_with_file
from app.web.pages.floor import job_address
from app.web.pages.form import FormShown, sent_back
from app.web.pages.measured import ComparedShown, LineShown, MeasuredPage, ShimsShown
from app.web.rendering import page
from app.web.security import Anyone, TheOffice, Visitor

router = APIRouter()


async def the_file_form(request: Request, visitor: Anyone) -> FormWithFile:
    return await read_form_with_file(request, visitor, "file", TEXT_LIMIT)


@router.get("/jobs/{number}/measured")
def show(request: Request, office: TheOffice, visitor: Anyone, number: str) -> Response:
    return _show(request, office, visitor, number, FormShown())


@router.post("/jobs/{number}/measured")
def enter(
    request: Request,
    office: TheOffice,
    visitor: Anyone,
    number: str,
    sent: Annotated[FormWithFile, Depends(the_file_form)],
) -> Response:
    """Look at what was sent; record it when the same text comes back with the word to."""
    form = sent.form
    with office.store.reading() as unit:
        job_by_number(unit, number)
    try:
        text = _text(sent)
        if form.text("sure") == "yes":
            lines = record_all(office, visitor.person_id, number, text)
            return _show(request, office, visitor, number, FormShown(), lines)
        return _show(request, office, visitor, number, FormShown({"text": text}), look_at(office, number, text))
    except Refused as refused:
        return _show(request, office, visitor, number, sent_back(form, refused.problems), status=422)


@router.post("/jobs/{number}/shims")
def enter_shims(request: Request, office: TheOffice, visitor: Anyone, number: str, form: TheForm) -> Response:
    typed = ShimsTyped(*(form.text(name) for name in ("place", "bolt", "before", "after")))
    try:
        ruling = record_shims(office, visitor.person_id, number, typed)
    except Refused as refused:
        return _show(request, office, visitor, number, sent_back(form, refused.problems), status=422)
    if not ruling.accepted:
        lines = ((say_ruling(ruling.reason, ruling.details)),)
        return _show(request, office, visitor, number, FormShown(form.kept()), shims_said=lines[0])
    return _show(request, office, visitor, number, FormShown(), shims_said=_("Recorded."))


def _text(sent: FormWithFile) -> str:
    """What was pasted, or the file's text."""
    if sent.file is None:
        if not sent.form.text("text").strip():
            raise Refused([Problem("file_empty", "file")])
        return sent.form.text("text")
    if sent.file.too_large:
        raise Refused([Problem("too_long", "file", {"limit": TEXT_LIMIT})])
    read = text_of(sent.file.data)
    if isinstance(read, Problem):
        raise Refused([read])
    return read[0]


def _show(
    request: Request,
    office: Office,
    visitor: Visitor,
    number: str,
    form: FormShown,
    lines: tuple[LineRead, ...] = (),
    *,
    shims_said: str = "",
    status: int = 200,
) -> Response:
    with office.store.reading() as unit:
        job = job_by_number(unit, number)
        sheet = unit.sheets.get(job.id) or Sheet(job.id)
    groups = compared(sheet.packet, sheet, as_typed, after_needed=False) if sheet.packet is not None else ()
    body = MeasuredPage(
        title=_("Measured on job {number}", number=job.number),
        number=job.number,
        sheet_link=job_address(job.number, "sheet"),
        action=job_address(job.number, "measured"),
        groups=[_shown(one) for one in groups],
        codes=said_twice(sheet.packet, sheet) if sheet.packet is not None else (),
        label=labels(),
        columns=[(name, word(f"measured_column.{name}")) for name in COLUMNS],
        keys=", ".join(KEYS),
        shims=_shims(shims_of(sheet)),
        shims_action=job_address(job.number, "shims"),
        places=[(key, labels()[key]) for key in PLACES],
        shims_said=shims_said,
        lines=[_line(one) for one in lines],
        can_record=bool(form.value("text")) and _can_record(lines),
        is_open=job.state is JobState.OPEN,
        form=form,
    )
    return page(request, "floor/measured.html", body, visitor, status=status)


def _can_record(lines: tuple[LineRead, ...]) -> bool:
    return all(one.problem is None for one in lines) and any(not one.same for one in lines)


def _line(one: LineRead) -> LineShown:
    if one.problem is not None:
        return LineShown(one.number, one.text, say(one.problem), True)
    if one.same:
        return LineShown(one.number, one.text, _("Stands on the sheet already."), False)
    if one.ruling is None:
        step = said(one.step.title) if one.step is not None else ""
        return LineShown(one.number, one.text, _("Goes to: {step}", step=step), False)
    if one.ruling.accepted:
        return LineShown(one.number, one.text, _("Recorded."), False)
    why = say_ruling(one.ruling.reason, one.ruling.details)
    return LineShown(one.number, one.text, _("Set aside: {why}", why=why), True)


def _shims(stacks: tuple[ShimsLeft, ...]) -> ShimsShown | None:
    if not stacks:
        return None
    picture = shims_drawn(stacks, lambda kind, key: word(f"{kind}.{key}"))
    return ShimsShown(picture, picture["words"])


def _shown(group: Compared) -> ComparedShown:
    pairs = {row.key: Pair(row.before_small, row.after_small, row.before, row.after) for row in group.rows}
    if group.kind == HEIGHTS:
        title, picture = _("Ride height"), heights_picture(pairs, labels())
    else:
        title = _("Alignment, front axle") if group.axle == "front" else _("Alignment, rear axle")
        picture = alignment_picture(pairs, labels())
    words = ". ".join(f"{row.what}: {row.before or '–'}, {row.after or '–'}" for row in group.rows)
    return ComparedShown(title, group, picture, words)


def labels() -> dict[str, str]:
    """The words on the drawings, by key."""
    return labels_of(lambda kind, key: word(f"{kind}.{key}"))
