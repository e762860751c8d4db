"""A job's page for foreman and desk, and what they change about a job: its lines, its edition, its being cancelled."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from app.domain.bounce import bounces
from app.domain.drawing_compared import Pair, compared_view
from app.domain.packet import Axle
from app.domain.photos import photo_notes
from app.domain.problems import NotFound, Problem, Refused
from app.domain.procedure_schema import Procedure
from app.domain.records import JobState, Role, Vehicle
from app.language.speech import N_, _
from app.ports import LedgerRow
from app.texts import say, say_ruling, sentence, word
from app.use_cases.before_after import HEIGHTS, compared
from app.use_cases.cancel_job import cancel_job, see_cancel
from app.use_cases.handback_letter import as_typed
from app.use_cases.in_language import book_said
from app.use_cases.office import Office
from app.use_cases.open_job import add_lines, bring_up_to_date
from app.use_cases.see_job import Drift, JobSeen, pinned_by, see_job
from app.use_cases.shop_time import at_words, span_words
from app.use_cases.take_in import BOTH_SIDES, IntakeTyped, Row, all_rows, lines_from
from app.use_cases.tell_entry import Teller
from app.web.desk.history import earlier_shown
from app.web.floor.settling import back_to_floor
from app.web.forms import Form, read_form
from app.web.pages.floor import job_address, job_shown
from app.web.pages.form import FormShown, sent_back
from app.web.pages.history import EarlierJob
from app.web.pages.job import (
    CancelPage,
    DriftShown,
    JobPage,
    LineShown,
    LinesPage,
    PlacedShown,
    Question,
    StoryLine,
    WorkChoice,
)
from app.web.pages.photos import photos_shown
from app.web.rendering import page
from app.web.security import Desk, Foreman, TheOffice, Visitor

router = APIRouter()

SAID = {
    "edition": N_("The sheet is brought up to date."),
    "same": N_("The sheet was up to date already. Nothing was changed."),
    "lines": N_("The work is added to the sheet."),
}
SIDE_WORDS = {BOTH_SIDES: N_("Left and right"), "left": N_("Left"), "right": N_("Right")}


@router.get("/jobs/{number}")
def look(request: Request, office: TheOffice, visitor: Desk, number: str, done: str = "") -> Response:
    return _show(request, office, visitor, number, _(SAID[done]) if done in SAID else "")


def _show(
    request: Request, office: Office, visitor: Visitor, number: str, said: str = "", problems: tuple[Problem, ...] = ()
) -> Response:
    seen = see_job(office, number)
    with office.store.reading() as unit:
        earlier = earlier_shown(unit, seen.earlier, beside=True) if seen.earlier is not None else None
    shown = job_page(seen, said, problems, places=visitor.has(Role.FOREMAN), earlier=earlier)
    return page(request, "floor/job.html", shown, visitor, status=422 if problems else 200)


def job_page(
    seen: JobSeen,
    said: str,
    problems: tuple[Problem, ...] = (),
    *,
    places: bool = True,
    earlier: EarlierJob | None = None,
) -> JobPage:
    job, is_open = seen.job, seen.job.state is JobState.OPEN
    return JobPage(
        title=_("Job {number}", number=job.number),
        job=job_shown(seen.shown),
        said=said,
        is_open=is_open,
        facts=_facts(seen),
        vehicle_link=vehicle_address(seen.vehicle),
        lines=[
            LineShown(
                one.line.title,
                _place_words(one.line.axle, one.line.corner),
                _("{done} of {total} steps done", done=one.done, total=one.total),
            )
            for one in seen.lines
        ],
        missing=_missing(seen),
        placements=_placements(seen, places=places),
        place_link=f"/floor/placements?job={quote(job.number, safe='')}" if places and is_open else "",
        edition=_edition(seen),
        drift=_drift(seen.drift) if seen.drift is not None else None,
        problems=list(dict.fromkeys(say(one) for one in (*problems, *seen.drift_problems))),
        photos=photos_shown(
            photo_notes(seen.sheet),
            seen.photos_missing,
            seen.photos_refused,
            lambda at: at_words(at, seen.now, seen.zone),
        ),
        has_inspection=any(one.line.procedure == "inspection" for one in seen.lines),
        has_bounces=next(bounces(seen.sheet), None) is not None,
        story=[_story_line(seen, row) for row in reversed(seen.rows)],
        earlier=earlier,
        drawings=_drawings(seen),
    )


def _drawings(seen: JobSeen) -> list[dict[str, Any]]:
    """Heights at the corners and each axle's alignment, before beside after, once anything was measured after."""
    if seen.sheet.packet is None:
        return []
    return [
        compared_view(
            group.kind == HEIGHTS,
            {row.key: Pair(row.before_small, row.after_small, row.before, row.after) for row in group.rows},
            {row.key: row.what for row in group.rows},
            lambda kind, key: word(f"{kind}.{key}"),
        )
        for group in compared(seen.sheet.packet, seen.sheet, as_typed)
    ]


def vehicle_address(vehicle: Vehicle) -> str:
    return f"/desk/vehicles/{quote(vehicle.id, safe='')}"


def _place_words(axle: Axle, corner: str) -> str:
    return f"{word(f'axle.{axle}')}, {word(f'corner.{corner}')}" if corner else word(f"axle.{axle}")


def _facts(seen: JobSeen) -> list[tuple[str, str]]:
    job, vehicle = seen.job, seen.vehicle
    opener = seen.people.get(job.opened_by)
    opened = at_words(job.opened_at, seen.now, seen.zone)
    held = seen.sheet.support
    rows = (
        (_("Complaint"), job.complaint),
        (_("Customer"), seen.customer.name),
        (_("Letter goes to"), seen.customer.email or _("no e-mail address: no letter will go out")),
        (_("Vehicle"), " · ".join(filter(None, (vehicle.model, str(vehicle.year or ""), vehicle.colour)))),
        (
            _("Odometer"),
            _("{odometer_km} km", odometer_km=job.odometer_km) if job.odometer_km is not None else _("not read"),
        ),
        (_("Opened"), f"{opened}, {opener.name}" if opener is not None else opened),
        (_("Promised"), seen.shown.promised or _("nothing promised")),
        (_("Held now"), word(f"support.{held.state}") if held.mark is not None else _("as it came in")),
    )
    return [(name, text) for name, text in rows if text]


def _missing(seen: JobSeen) -> list[tuple[str, str]]:
    if seen.job.state is not JobState.OPEN:
        return []
    figures = [
        (
            sentence(
                "figure_not_compared" if one.typed else "figure_absent",
                place=one.place,
                axle=word(f"axle.{one.axle}"),
            ),
            "/desk/figures",
        )
        for one in seen.figures
    ]
    inputs = [(sentence("input_absent", what=one), vehicle_address(seen.vehicle)) for one in seen.inputs]
    return [*figures, *inputs]


def _placements(seen: JobSeen, *, places: bool) -> list[PlacedShown]:
    shown = []
    for one in sorted(seen.placements, key=lambda one: one.begins_at):
        bay, person = seen.bays.get(one.bay), seen.people.get(one.technician)
        names = ", ".join(found.name for found in (bay, person) if found is not None)
        note = _(", withdrawn") if one.withdrawn else ""
        movable = places and not one.withdrawn and one.ends_at > seen.now and seen.job.state is JobState.OPEN
        shown.append(
            PlacedShown(
                f"{names}: {span_words(one.begins_at, one.ends_at, seen.now, seen.zone)}{note}",
                f"/floor/placements/{one.id}" if movable else "",
            )
        )
    return shown


def _edition(seen: JobSeen) -> str:
    row, packet = pinned_by(seen.rows), seen.sheet.packet
    if row is None or packet is None:
        return _("No sheet is pinned yet.")
    return _(
        "Edition {edition}, pinned by {name}, {at}.",
        edition=packet.edition,
        name=row.heard.name,
        at=_at(seen, row.heard.heard_at_ms),
    )


def _at(seen: JobSeen, at_ms: int) -> str:
    return at_words(datetime.fromtimestamp(at_ms / 1_000, UTC), seen.now, seen.zone)


def _drift(drift: Drift) -> DriftShown:
    groups = (
        (_("Steps that read otherwise"), drift.changed),
        (_("Steps that come to it"), drift.added),
        (_("Steps that go"), drift.gone),
        (_("Gates that read otherwise, and are asked again"), drift.gates),
        (_("The tool crib"), (_("wrenches have changed"),) if drift.wrenches else ()),
    )
    shown = [(heading, list(titles)) for heading, titles in groups if titles]
    return DriftShown(shown or [(_("The vehicle's particulars"), [_("they have changed")])], list(drift.again))


def _story_line(seen: JobSeen, row: LedgerRow) -> StoryLine:
    told = Teller(seen.packets, seen.sheet, word).tell(row.heard.entry)
    return StoryLine(
        order=row.heard.order,
        at=_at(seen, row.heard.heard_at_ms),
        name=row.heard.name,
        words=told.words,
        details=list(told.details),
        aside="" if row.accepted else say_ruling(row.reason, row.details),
    )


# --- Bringing the sheet up to date --------------------------------------------------------------------------------


@router.post("/jobs/{number}/edition")
async def pin_next(request: Request, office: TheOffice, visitor: Desk, number: str) -> Response:
    await read_form(request, visitor)
    return await run_in_threadpool(_pin_next, request, office, visitor, number)


def _pin_next(request: Request, office: Office, visitor: Visitor, number: str) -> Response:
    seen = see_job(office, number)
    try:
        pinned = bring_up_to_date(office, visitor.person_id, seen.job.id)
    except Refused as refused:
        return _show(request, office, visitor, number, problems=refused.problems)
    return RedirectResponse(f"{job_address(number)}?done={'edition' if pinned else 'same'}", 303)


# --- Adding work --------------------------------------------------------------------------------------------------


@router.get("/jobs/{number}/lines")
def choose_work(request: Request, office: TheOffice, visitor: Desk, number: str, row: str = "") -> Response:
    return _show_lines(request, office, visitor, number, row, FormShown())


@router.post("/jobs/{number}/lines")
async def add_work(request: Request, office: TheOffice, visitor: Desk, number: str) -> Response:
    form = await read_form(request, visitor)
    return await run_in_threadpool(_add_work, request, office, visitor, number, form)


def _add_work(request: Request, office: Office, visitor: Visitor, number: str, form: Form) -> Response:
    seen = see_job(office, number)
    row = _row(office, seen.vehicle, form.text("row"))
    if row is None:
        raise NotFound("work", form.text("row"))
    typed = IntakeTyped(
        vehicle=seen.vehicle.id,
        promised_at=None,
        fields={f"{row.key}.{name}": form.text(name) for name in row.asked},
        ticked={f"{row.key}.sides": form.texts("side") if row.offer.scope == "corner" else ("all",)},
    )
    lines, _ = lines_from(office.book, seen.vehicle, typed)
    try:
        if not lines:
            raise Refused([Problem("corner_missing", "side")])
        add_lines(office, visitor.person_id, seen.job.id, lines)
    except Refused as refused:
        shown = sent_back(form, _by_question(refused.problems))
        return _show_lines(request, office, visitor, number, row.key, shown, status=422)
    return RedirectResponse(f"{job_address(number)}?done=lines", 303)


def _by_question(problems: tuple[Problem, ...]) -> list[Problem]:
    """Compiling names the line and the question; this form has one line, so the question is the field."""
    found: dict[tuple[str, str], Problem] = {}
    for one in problems:
        where, _, name = one.field.partition(".")
        field = name if where.startswith("l") and where[1:].isdigit() else ""
        found[one.code, say(one)] = replace(one, field=field)
    return list(found.values())


def _row(office: Office, vehicle: Vehicle, key: str) -> Row | None:
    rows = all_rows(book_said(office.book), vehicle)
    return next((one for one in rows if one.key == key and one.refusal is None), None)


def _show_lines(
    request: Request, office: Office, visitor: Visitor, number: str, key: str, form: FormShown, *, status: int = 200
) -> Response:
    seen = see_job(office, number)
    if seen.job.state is not JobState.OPEN:
        raise Refused([Problem("job_not_open", "", {"number": number})])
    row = _row(office, seen.vehicle, key)
    shown = LinesPage(
        title=_("Add work to job {number}", number=number),
        job=job_shown(seen.shown),
        action=job_address(number, "lines"),
        groups=_groups(office, seen.vehicle, number) if row is None else [],
        row=row.key if row is not None else "",
        row_title=_row_title(row, book_said(office.book).procedures) if row is not None else "",
        sides=[(side, _(SIDE_WORDS[side])) for side in row.sides if side] if row is not None else [],
        questions=[Question(name, option.ask, list(option.choices.items())) for name, option in row.asked.items()]
        if row is not None
        else [],
        vehicle_link=vehicle_address(seen.vehicle),
        form=form,
    )
    return page(request, "floor/lines.html", shown, visitor, status=status)


def _groups(office: Office, vehicle: Vehicle, number: str) -> list[tuple[str, list[WorkChoice]]]:
    groups: list[tuple[str, list[WorkChoice]]] = []
    for axle in (Axle.FRONT, Axle.REAR):
        rows = [one for one in all_rows(book_said(office.book), vehicle) if one.axle is axle]
        choices = [_choice(one, book_said(office.book).procedures, number) for one in rows]
        words = word(f"axle.{axle}")
        groups.append((f"{words[:1].upper()}{words[1:]}", sorted(choices, key=lambda one: bool(one.why_not))))
    return groups


def _choice(row: Row, procedures: Mapping[str, Procedure], number: str) -> WorkChoice:
    link = f"{job_address(number, 'lines')}?row={quote(row.key, safe='')}"
    return WorkChoice(_row_title(row, procedures), link, say(row.refusal) if row.refusal is not None else "")


def _row_title(row: Row, procedures: Mapping[str, Procedure]) -> str:
    """What the work is called before a side is chosen: its title up to the first blank, and which part it is about."""
    procedure = procedures[row.offer.procedure]
    family = procedure.title.partition("{")[0].partition(",")[0].strip()
    return ", ".join((family, *(procedure.options[name].choices[value] for name, value in row.chosen)))


# --- Cancelling ---------------------------------------------------------------------------------------------------


@router.get("/jobs/{number}/cancellation")
def look_at_cancelling(request: Request, office: TheOffice, visitor: Foreman, number: str) -> Response:
    return _show_cancel(request, office, visitor, number, FormShown())


@router.post("/jobs/{number}/cancellation")
async def cancel(request: Request, office: TheOffice, visitor: Foreman, number: str) -> Response:
    form = await read_form(request, visitor)
    return await run_in_threadpool(_cancel, request, office, visitor, number, form)


def _cancel(request: Request, office: Office, visitor: Visitor, number: str, form: Form) -> Response:
    try:
        cancel_job(office, visitor.person_id, number, form.text("reason"), form.text("stands"))
    except Refused as refused:
        return _show_cancel(request, office, visitor, number, sent_back(form, refused.problems), status=422)
    return back_to_floor("cancelled", number)


def _show_cancel(
    request: Request, office: Office, visitor: Visitor, number: str, form: FormShown, *, status: int = 200
) -> Response:
    ahead, seen = see_cancel(office, number), see_job(office, number)
    shown = CancelPage(
        title=_("Cancel job {number}", number=number),
        job=job_shown(seen.shown),
        action=job_address(number, "cancellation"),
        begun=list(ahead.begun),
        not_on_wheels="" if ahead.on_wheels else sentence("cancel_not_on_wheels"),
        closed=ahead.job.state is not JobState.OPEN,
        form=form,
    )
    return page(request, "floor/cancel.html", shown, visitor, status=status)
