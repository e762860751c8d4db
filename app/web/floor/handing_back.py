"""Handing a job back: what is open, what the customer will read, and the foreman's release."""

from __future__ import annotations

from collections import Counter
from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from app.domain.problems import Refused
from app.domain.records import JobState
from app.domain.standing import OpenPoint
from app.language.procedures import said
from app.language.speech import _
from app.texts import say
from app.use_cases.before_after import HEIGHTS
from app.use_cases.hand_back import HandbackAhead, hand_back, open_problem, see_handback
from app.use_cases.handback_letter import HandbackFacts
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.see_sheet import job_by_number
from app.web.floor.letters import consent_words, read_beside, said_now
from app.web.floor.settling import back_to_floor
from app.web.forms import Form, read_form
from app.web.pages.floor import job_address, job_shown, step_address
from app.web.pages.form import FormShown, sent_back
from app.web.pages.job import HandbackPage, OpenPointShown
from app.web.rendering import page
from app.web.security import Foreman, TheOffice, Visitor

router = APIRouter()


@router.get("/jobs/{number}/handback")
def look(request: Request, office: TheOffice, visitor: Foreman, number: str) -> Response:
    with office.store.reading() as unit:
        values = said_now(unit, job_by_number(unit, number))
    return _show(request, office, visitor, number, FormShown(values))


@router.post("/jobs/{number}/handback")
async def release(request: Request, office: TheOffice, visitor: Foreman, number: str) -> Response:
    form = await read_form(request, visitor)
    return await run_in_threadpool(_release, request, office, visitor, number, form)


def _release(request: Request, office: Office, visitor: Visitor, number: str, form: Form) -> Response:
    try:
        with office.store.reading() as unit:
            zone = zone_of(the_shop(unit))
        beside = read_beside(form, zone)
        hand_back(office, visitor.person_id, number, form.text("note"), form.text("id"), beside)
    except Refused as refused:
        return _show(request, office, visitor, number, sent_back(form, refused.problems), status=422)
    return back_to_floor("released", number)


def _show(
    request: Request, office: Office, visitor: Visitor, number: str, form: FormShown, *, status: int = 200
) -> Response:
    ahead = see_handback(office, number)
    shown = HandbackPage(
        title=_("Hand back job {number}", number=ahead.job.number),
        job=job_shown(ahead.shown),
        points=[_point(ahead, one) for one in ahead.points],
        letter_to=ahead.customer.email if ahead.no_letter is None else "",
        no_letter=say(ahead.no_letter) if ahead.no_letter is not None else "",
        customer_link=f"/desk/customers/{quote(ahead.customer.id, safe='')}",
        customer=ahead.customer.email.strip(),
        consent=_consent(office, ahead),
        pdf_link=job_address(ahead.job.number, "handback/pdf") if ahead.facts is not None else "",
        page_link=job_address(ahead.job.number, "handback/page") if ahead.facts is not None else "",
        letters_link=job_address(ahead.job.number, "letters") if ahead.editions else "",
        contents=contents(ahead.facts) if ahead.facts is not None else [],
        subject=ahead.letter.subject if ahead.letter is not None else "",
        letter=ahead.letter.text if ahead.letter is not None else "",
        closed=_closed(ahead),
        action=job_address(ahead.job.number, "handback"),
        entry_id=form.value("id") or office.new_id(),
        form=form,
    )
    return page(request, "floor/handback.html", shown, visitor, status=status)


def _consent(office: Office, ahead: HandbackAhead) -> str:
    with office.store.reading() as unit:
        zone = zone_of(the_shop(unit))
    return consent_words(ahead.consent, office.clock(), zone)


def _point(ahead: HandbackAhead, one: OpenPoint) -> OpenPointShown:
    places = {"hold": "/floor#holds", "aside": "/floor#asides"}
    link = places.get(one.kind) or (step_address(ahead.job.number, one.step) if one.step else "")
    return OpenPointShown(say(open_problem(ahead.sheet, one)), link)


def _closed(ahead: HandbackAhead) -> str:
    match ahead.job.state:
        case JobState.OPEN:
            return ""
        case JobState.CANCELLED:
            return _("This job was cancelled. There is nothing to hand back.")
        case JobState.HANDED_BACK:
            by = ahead.sheet.handed_back
            return _("{what} has handed this job back.", what=by.name if by is not None else _("Somebody"))


def contents(facts: HandbackFacts) -> list[str]:
    """What goes to the customer, counted: the letter itself is below for reading."""
    tests = (*facts.findings, *facts.sound)
    verdicts = Counter(one.verdict for one in tests)
    told = ", ".join(f"{count} {_(verdict)}" for verdict, count in verdicts.items())
    steps = sum(len(line.steps) + int(line.tests or 0) for line in facts.work)
    torques = sum(len(line.torques) for line in facts.torques)
    measures = sum(len(line.measures) for line in facts.measures)
    asked = (
        _("why the customer was asked to come, in the workshop's words")
        if facts.called_in
        else _("what was asked, in the customer's words")
    )
    rows = (
        (asked, len(facts.complaint) > 0, ""),
        (_many(len(tests), _("test"), _("tests")), bool(tests), told),
        (_many(steps, _("step done"), _("steps done")), steps > 0, ", ".join(said(line.title) for line in facts.work)),
        (_many(torques, _("torque"), _("torques")), torques > 0, _("each with its figure, reading and wrench")),
        (_many(measures, _("measured value"), _("measured values")), measures > 0, ""),
        (_("before and after, measured and drawn"), bool(facts.compared), _groups(facts)),
        (_many(len(facts.photos), _("photo"), _("photos")), bool(facts.photos), _("in the PDF")),
        (
            _("price as agreed: {total}", total=facts.bill.total if facts.bill else ""),
            facts.bill is not None,
            "",
        ),
        (_("the wheels come again {when}", when=facts.comes_at), bool(facts.comes_at), ""),
        (_many(len(facts.parts), _("new part"), _("new parts")), bool(facts.parts), ""),
        (_many(len(facts.watch), _("point to watch"), _("points to watch")), bool(facts.watch), ""),
        (
            _many(len(facts.notes), _("note"), _("notes")),
            bool(facts.notes),
            _("as written: read them before they go out"),
        ),
        (_("wheels torqued again after {retorque_km} km", retorque_km=facts.retorque_km), bool(facts.retorque_km), ""),
        (_("worked: {what}", what=", ".join(facts.worked)), bool(facts.worked), ""),
        (_("checked: {what}", what=", ".join(facts.checked)), bool(facts.checked), ""),
    )
    return [f"{words} ({more})" if more else words for words, there, more in rows if there]


def _groups(facts: HandbackFacts) -> str:
    return ", ".join(
        _("ride height") if one.kind == HEIGHTS else _("alignment {axle}", axle=one.axle) for one in facts.compared
    )


def _many(count: int, one: str, many: str = "") -> str:
    return f"{count} {one if count == 1 else many or one + 's'}"
