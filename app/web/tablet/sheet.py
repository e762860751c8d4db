"""The sheet's page, and the one door its forms come in by."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime
from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from app.domain.records import JobState
from app.domain.reply import LOOKED_AT, Outcome, look_after, told_of
from app.domain.view import view_of
from app.domain.view_parts import About, Look, Scene, Told, Viewer, Voice
from app.language.speech import _
from app.texts import say_ruling, sentence, time_words, word
from app.use_cases.in_language import sheet_said
from app.use_cases.office import Office
from app.use_cases.record_sheet_form import record_sheet_form
from app.use_cases.see_photo import photos_missing
from app.use_cases.see_sheet import SheetFound, see_sheet
from app.web.forms import Form, read_form
from app.web.pages.sheet import SheetPage
from app.web.rendering import fragment, page, wants_fragment
from app.web.security import Anyone, TheOffice, Visitor

router = APIRouter()


@router.get("/jobs/{number}/sheet")
def show(
    request: Request,
    number: str,
    office: TheOffice,
    visitor: Anyone,
    step: str = "",
    at: str = "",
    wrench: str = "",
    extension: str = "",
    angle: str = "",
    seen: str = "",
) -> Response:
    parts = [one.strip()[:LOOKED_AT] for one in (step, at, wrench, extension, angle, seen)]
    return _answer(request, office, visitor, see_sheet(office, number), Look(*parts), Told())


@router.post("/jobs/{number}/entries")
async def enter(request: Request, number: str, office: TheOffice, visitor: Anyone) -> Response:
    form = await read_form(request, visitor)
    return await run_in_threadpool(_enter, request, number, office, visitor, form)


def _enter(request: Request, number: str, office: Office, visitor: Visitor, form: Form) -> Response:
    found = see_sheet(office, number)
    fields = form.kept()
    outcome = record_sheet_form(office, found, visitor.person.id, fields)
    return after_form(request, office, visitor, found, fields, outcome)


def after_form(
    request: Request, office: Office, visitor: Visitor, found: SheetFound, fields: dict[str, str], outcome: Outcome
) -> Response:
    """What answers a form of the sheet: on to the next thing once it is recorded, else the page with what was typed."""
    number = found.job.number
    look, told = look_after(fields, outcome), told_of(fields, outcome, say_ruling)
    if outcome.accepted and not wants_fragment(request):
        return RedirectResponse(_next_address(number, look), 303)
    if outcome.rulings:
        found = see_sheet(office, number)
    return _answer(request, office, visitor, found, look, told, status=422 if outcome.problems else 200)


def _next_address(number: str, look: Look) -> str:
    asked = f"?step={quote(look.step, safe='')}" if look.step else ""
    return f"/jobs/{quote(number, safe='')}/sheet{asked}#in-hand"


def _answer(
    request: Request,
    office: Office,
    visitor: Visitor,
    found: SheetFound,
    look: Look,
    told: Told,
    *,
    status: int = 200,
) -> Response:
    put_away = look.seen
    look = replace(look, seen=" ".join(_seen(request, put_away)))
    view = view_of(scene_of(office, visitor, found, look, told))
    shown = SheetPage(title=_title(found), topic=f"sheet:{found.job.id}", view=view)
    if wants_fragment(request):
        answer = fragment(request, "tablet/_sheet.html", shown, visitor, status=status)
    else:
        answer = page(request, "tablet/sheet.html", shown, visitor, status=status)
    if put_away:
        answer.set_cookie(
            SEEN_COOKIE, ".".join(look.seen.split()), httponly=True, samesite="strict",
            secure=request.app.state.settings.secure_cookies, path="/jobs",
        )  # fmt: skip
    return answer


# Which lines about a break were put away, by the last act before it. The browser keeps it: it is no fact of the sheet.
SEEN_COOKIE = "cotterpin-seen"
# As many as sheets that anybody goes to and fro between.
SEEN = 8
_ENTRY = re.compile(r"[0-9A-Za-z-]{1,64}")


def _seen(request: Request, put_away: str) -> list[str]:
    known = [*request.cookies.get(SEEN_COOKIE, "").split("."), put_away]
    return [one for one in known if _ENTRY.fullmatch(one)][-SEEN:]


def _title(found: SheetFound) -> str:
    packet = found.sheet.packet
    plate = packet.vehicle.get("plate", "") if packet is not None else ""
    return _("Sheet {number} {plate}", number=found.job.number, plate=plate).strip()


def scene_of(office: Office, visitor: Visitor, found: SheetFound, look: Look, told: Told) -> Scene:
    """Everything the view is made from, as the office knows it."""
    now = office.clock()

    def when(at_ms: int) -> str:
        return time_words(datetime.fromtimestamp(at_ms / 1_000, UTC), now, found.zone)

    promised = found.job.promised_at
    count = found.sheet.entries
    return Scene(
        sheet=sheet_said(found.sheet),
        viewer=Viewer(
            visitor.person.id, visitor.person.name, tuple(sorted(role.value for role in visitor.person.roles))
        ),
        now_ms=office.now_ms,
        table=office.rules.table,
        voice=Voice(say=say_ruling, word=word, when=when, new_id=office.new_id),
        about=About(
            complaint=found.job.complaint,
            promised=time_words(promised, now, found.zone) if promised is not None else "",
            saved=sentence("saved.office_one" if count == 1 else "saved.office", count=count),
            people=found.people,
            photos_missing=photos_missing(office.photos, found.sheet),
            photos_refused=found.photos_refused,
            closed=found.job.state is not JobState.OPEN,
        ),
        look=look,
        told=told,
    )
