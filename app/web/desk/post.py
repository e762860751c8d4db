"""The outbox: what waits, what went, what did not arrive and why; and reading a letter as it went out."""

from __future__ import annotations

from datetime import datetime, tzinfo

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, Response

from app.domain.problems import NotFound, Refused
from app.domain.records import MessageState, OutgoingMessage
from app.language.speech import _
from app.texts import SENTENCES, sentence, time_words, word
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.send_post import note_came_back, put_back
from app.web.desk.letter_pictures import LETTER_POLICY, with_pictures
from app.web.desk.said import go, said_lines
from app.web.forms import TheForm
from app.web.pages.floor import job_address
from app.web.pages.form import FormShown, sent_back
from app.web.pages.post import LetterLine, LetterPage, PostPage
from app.web.rendering import page
from app.web.security import HEADERS, Desk, TheOffice

router = APIRouter()
SENT_SHOWN = 50

# The letter's own HTML is shown in a frame of its own; the page around it may hold that one frame.
_CSP = "Content-Security-Policy"
AROUND_LETTER = f"{HEADERS[_CSP]}; frame-src 'self'"


@router.get("/desk/post")
def show(request: Request, office: TheOffice, visitor: Desk) -> Response:
    with office.store.reading() as unit:
        zone = zone_of(the_shop(unit))
        by_state = {state: unit.outbox.where(state=state) for state in MessageState}
    now = office.clock()
    lines = {
        state: [_line(one, now, zone) for one in sorted(found, key=lambda one: one.made_at, reverse=True)]
        for state, found in by_state.items()
    }
    sent = lines[MessageState.SENT]
    shown = PostPage(
        lines[MessageState.CAME_BACK], lines[MessageState.UNDELIVERABLE], lines[MessageState.WAITING],
        sent[:SENT_SHOWN], max(0, len(sent) - SENT_SHOWN),
    )  # fmt: skip
    return page(request, "desk/post.html", shown, visitor)


@router.get("/desk/post/{letter_id}")
def one(request: Request, office: TheOffice, visitor: Desk, letter_id: str) -> Response:
    message = _get(office, letter_id)
    shown = _page(office, message, FormShown({"to": message.to}), said_lines(request.query_params))
    return page(request, "desk/letter.html", shown, visitor, headers={_CSP: AROUND_LETTER})


@router.get("/desk/post/{letter_id}/html")
def html(office: TheOffice, visitor: Desk, letter_id: str) -> Response:
    message = _get(office, letter_id)
    with office.store.reading() as unit:
        edition = unit.handbacks.where(message=message.id)
    drawings = edition[0].drawings if edition else ()
    return HTMLResponse(with_pictures(office, message.html, drawings), headers={_CSP: LETTER_POLICY})


@router.post("/desk/post/{letter_id}")
def try_again(request: Request, office: TheOffice, visitor: Desk, letter_id: str, form: TheForm) -> Response:
    try:
        with office.store.writing() as unit:
            for_customer = form.text("for_customer") == "yes"
            put_back(unit, letter_id, to=form.text("to"), now=office.clock(), for_customer=for_customer)
            unit.commit()
    except Refused as refused:
        shown = _page(office, _get(office, letter_id), sent_back(form, refused.problems), [])
        return page(request, "desk/letter.html", shown, visitor, status=422, headers={_CSP: AROUND_LETTER})
    office.announce("post")
    return go(f"/desk/post/{letter_id}", "again")


@router.post("/desk/post/{letter_id}/return")
def came_back(request: Request, office: TheOffice, visitor: Desk, letter_id: str, form: TheForm) -> Response:
    because = form.text("because")
    try:
        with office.store.writing() as unit:
            note_came_back(unit, letter_id, person=visitor.person_id, because=because, now=office.clock())
            unit.commit()
    except Refused as refused:
        shown = _page(office, _get(office, letter_id), sent_back(form, refused.problems), [])
        return page(request, "desk/letter.html", shown, visitor, status=422, headers={_CSP: AROUND_LETTER})
    office.announce("post")
    return go(f"/desk/post/{letter_id}", "came_back")


def _get(office: Office, letter_id: str) -> OutgoingMessage:
    with office.store.reading() as unit:
        message = unit.outbox.get(letter_id)
    if message is None:
        raise NotFound("message", letter_id)
    return message


def _line(one: OutgoingMessage, now: datetime, zone: tzinfo) -> LetterLine:
    more = _answer(one) if one.state is MessageState.UNDELIVERABLE else ""
    if one.state is MessageState.WAITING and one.tries:
        next_try = time_words(one.next_try_at, now, zone) if one.next_try_at else "soon"
        more = _(
            "{tries} {what} so far, next {next_try}: {answer}",
            tries=one.tries,
            what=_("try") if one.tries == 1 else _("tries"),
            next_try=next_try,
            answer=_answer(one),
        )
    if one.sent_at is not None:
        more = _("sent {time_words}", time_words=time_words(one.sent_at, now, zone))
    if one.state is MessageState.CAME_BACK and one.came_back_at is not None:
        at = time_words(one.came_back_at, now, zone)
        more = _("came back, noted {at}: {because}", at=at, because=one.came_back_because)
    return LetterLine(f"/desk/post/{one.id}", one.to, one.subject, time_words(one.made_at, now, zone), more)


def _answer(one: OutgoingMessage) -> str:
    """The mail server's last words, or ours where it was never asked."""
    return sentence(one.last_answer, typed=one.to, part=one.to) if one.last_answer in SENTENCES else one.last_answer


def _page(office: Office, one: OutgoingMessage, form: FormShown, said: list[str]) -> LetterPage:
    with office.store.reading() as unit:
        zone = zone_of(the_shop(unit))
        job = unit.jobs.get(one.job) if one.job else None
        customer = unit.customers.get(job.customer) if job is not None else None
        noted_by = unit.people.get(one.came_back_noted_by) if one.came_back_noted_by else None
        edition = unit.handbacks.where(message=one.id)
    now = office.clock()
    facts = [
        (_("To"), one.to),
        (_("State"), word(f"message.{one.state.value}")),
        (_("Written"), time_words(one.made_at, now, zone)),
        (_("Sent"), time_words(one.sent_at, now, zone) if one.sent_at else ""),
        (_("Came back"), time_words(one.came_back_at, now, zone) if one.came_back_at else ""),
        (_("Noted by"), noted_by.name if noted_by is not None else ""),
        (_("Next try"), time_words(one.next_try_at, now, zone) if one.next_try_at else ""),
        (_("Tries"), str(one.tries) if one.tries else ""),
        (_("Job"), job.number if job is not None else ""),
        (_("Number"), one.message_id),
    ]
    return LetterPage(
        title=one.subject or _("Letter"),
        to=one.to,
        state=one.state.value,
        facts=[(label, text) for label, text in facts if text],
        answer=_answer(one),
        text=one.text,
        pdf_at=job_address(job.number, f"letters/{edition[0].edition}/pdf") if job is not None and edition else "",
        html_at=f"/desk/post/{one.id}/html" if one.html else "",
        action=f"/desk/post/{one.id}",
        can_try_again=one.state in (MessageState.UNDELIVERABLE, MessageState.CAME_BACK),
        back_at=f"/desk/post/{one.id}/return" if one.state is MessageState.SENT else "",
        back_because=one.came_back_because,
        customer=customer.name if customer is not None else "",
        form=form,
        said=said,
    )
