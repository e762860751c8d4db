"""The letters of a job, edition by edition: to read, to print, to write anew; and how one would look now."""

from __future__ import annotations

from datetime import datetime
from urllib.parse import quote
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import HTMLResponse, RedirectResponse, Response

from app.domain.handback import Consent, HandbackEdition
from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import Job, JobState, MessageState
from app.language.speech import _
from app.ports import Unit
from app.texts import say, time_words, word
from app.use_cases.floor_view import shown_alone
from app.use_cases.hand_back import Beside, keep_beside
from app.use_cases.handback_editions import (
    edition_files,
    editions_of,
    facts_now,
    pdf_name,
    preview,
    retorque_of,
    revise,
)
from app.use_cases.mail_consent import consent_of, consent_value
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.see_sheet import job_by_number
from app.web.desk.letter_pictures import LETTER_POLICY, with_pictures
from app.web.forms import Form, read_form, read_local_time
from app.web.pages.floor import job_address, job_shown
from app.web.pages.form import FormShown, sent_back
from app.web.pages.letters import ChangedShown, EditionShown, LettersPage
from app.web.rendering import page
from app.web.security import Desk, TheOffice, Visitor

router = APIRouter()


@router.get("/jobs/{number}/letters")
def letters(request: Request, office: TheOffice, visitor: Desk, number: str, done: str = "") -> Response:
    with office.store.reading() as unit:
        job = job_by_number(unit, number)
        values = said_now(unit, job)
    return _show(request, office, visitor, job, FormShown(values), _("Written.") if done == "written" else "")


@router.post("/jobs/{number}/letters")
async def write_anew(request: Request, office: TheOffice, visitor: Desk, number: str) -> Response:
    form = await read_form(request, visitor)
    return await run_in_threadpool(_write_anew, request, office, visitor, number, form)


def _write_anew(request: Request, office: Office, visitor: Visitor, number: str, form: Form) -> Response:
    with office.store.reading() as unit:
        job = job_by_number(unit, number)
        zone = zone_of(the_shop(unit))
    try:
        if not form.text("why").strip():
            raise Refused([Problem("revision_why_missing", "why")])
        keep_beside(office, visitor.person_id, job, read_beside(form, zone))
        revise(office, visitor.person_id, number, form.text("why"))
    except Refused as refused:
        return _show(request, office, visitor, job, sent_back(form, refused.problems), "", status=422)
    return RedirectResponse(f"{job_address(job.number, 'letters')}?done=written", 303)


@router.get("/jobs/{number}/letters/{edition}/pdf")
def pdf(office: TheOffice, visitor: Desk, number: str, edition: str) -> Response:
    job, found = _edition(office, number, edition)
    files = edition_files(office, found)
    return pdf_answer(files[1], pdf_name(job, found.edition))


@router.get("/jobs/{number}/letters/{edition}/page")
def paper(office: TheOffice, visitor: Desk, number: str, edition: str) -> Response:
    """The same as the PDF, as a page to read and to print."""
    found = _edition(office, number, edition)[1]
    return HTMLResponse(with_pictures(office, found.paper, found.drawings), headers=_LETTER)


@router.get("/jobs/{number}/handback/pdf")
def pdf_now(office: TheOffice, visitor: Desk, number: str) -> Response:
    job, data = preview(office, number)
    return pdf_answer(data, f"preview-{pdf_name(job, 0)}")


@router.get("/jobs/{number}/handback/page")
def paper_now(office: TheOffice, visitor: Desk, number: str) -> Response:
    with office.store.reading() as unit:
        job = job_by_number(unit, number)
        sheet = unit.sheets.get(job.id)
        if sheet is None or sheet.packet is None:
            raise NotFound("sheet", number)
        facts = facts_now(office, unit, job, sheet)
    letter = office.write_letter(facts)
    return HTMLResponse(with_pictures(office, letter.paper, letter.drawings), headers=_LETTER)


_LETTER = {"Content-Security-Policy": LETTER_POLICY, "Cache-Control": "no-store"}


def pdf_answer(data: bytes, name: str) -> Response:
    return Response(
        data,
        media_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"', "Cache-Control": "no-store"},
    )


# --- What is said beside a letter -----------------------------------------------------------------------------------


def said_now(unit: Unit, job: Job) -> dict[str, str]:
    """What a form about a letter begins with: what the customer said of mail, and when the wheels come."""
    retorque = retorque_of(unit, job.id)
    zone = zone_of(the_shop(unit))
    comes_at = retorque.comes_at if retorque is not None else None
    return {
        "may_mail": consent_value(consent_of(unit, job.customer)),
        "comes_at": f"{comes_at.astimezone(zone):%Y-%m-%dT%H:%M}" if comes_at is not None else "",
    }


def read_beside(form: Form, zone: ZoneInfo) -> Beside:
    """What a form says of mail and of the wheels. A form without the field says nothing of it.

    Raises: Refused for a time that cannot be read.
    """
    text = form.text("comes_at")
    comes_at = read_local_time(text, zone) if text else None
    if text and comes_at is None:
        raise Refused([Problem("comes_at_unclear", "comes_at")])
    return Beside(form.text("may_mail"), comes_at, leaves_it="comes_at" not in form.values)


# --- What the page shows --------------------------------------------------------------------------------------------


def _show(
    request: Request, office: Office, visitor: Visitor, job: Job, form: FormShown, said: str, *, status: int = 200
) -> Response:
    now = office.clock()
    with office.store.reading() as unit:
        zone = zone_of(the_shop(unit))
        editions = [_edition_shown(unit, job, one, now, zone) for one in editions_of(unit, job.id)]
        customer = unit.customers.get(job.customer)
        consent = consent_of(unit, job.customer)
        shown = shown_alone(unit, job, now)
    body = LettersPage(
        title=_("Letters of job {number}", number=job.number),
        job=job_shown(shown),
        editions=editions[::-1],
        handback_link=job_address(job.number, "handback") if job.state is JobState.OPEN else "",
        action=job_address(job.number, "letters") if job.state is JobState.HANDED_BACK else "",
        customer=customer.email if customer is not None else "",
        customer_link=f"/desk/customers/{quote(job.customer, safe='')}",
        consent=consent_words(consent, now, zone),
        form=form,
        said=said,
    )
    return page(request, "floor/letters.html", body, visitor, status=status)


def consent_words(consent: Consent | None, now: datetime, zone: ZoneInfo) -> str:
    """What the customer said of mail, who heard it and when; "" while nobody has asked."""
    if consent is None:
        return ""
    where = word(f"asked.{consent.place.value}")
    when = time_words(consent.recorded_at, now, zone)
    if consent.yes:
        return _(
            "may be mailed: asked {where} by {name}, {when}", where=where, name=consent.recorded_by_name, when=when
        )
    return _(
        "does not want mail: asked {where} by {name}, {when}", where=where, name=consent.recorded_by_name, when=when
    )


def _edition_shown(unit: Unit, job: Job, one: HandbackEdition, now: datetime, zone: ZoneInfo) -> EditionShown:
    message = unit.outbox.get(one.message) if one.message else None
    if message is None:
        customer = unit.customers.get(job.customer)
        name = customer.name if customer is not None else ""
        road = say(Problem(one.not_mailed, "", {"name": name})) if one.not_mailed else _("Printed only.")
    elif message.state is MessageState.SENT:
        road = _("Mailed to {address}.", address=message.to)
    else:
        state = word(f"message.{message.state.value}")
        road = f"{state[:1].upper()}{state[1:]}: {message.to}"
    here = job_address(job.number, f"letters/{one.edition}")
    return EditionShown(
        number=one.edition,
        made=f"{time_words(one.made_at, now, zone)}, {one.made_by_name}",
        why=one.why,
        changes=[ChangedShown(each.part, each.added, each.gone) for each in one.changes],
        road=road,
        pdf_link=f"{here}/pdf",
        page_link=f"{here}/page",
        post_link=f"/desk/post/{quote(one.message, safe='')}" if one.message else "",
    )


def _edition(office: Office, number: str, edition: str) -> tuple[Job, HandbackEdition]:
    with office.store.reading() as unit:
        job = job_by_number(unit, number)
        found = next((one for one in editions_of(unit, job.id) if str(one.edition) == edition), None)
    if found is None:
        raise NotFound("edition", edition)
    return job, found
