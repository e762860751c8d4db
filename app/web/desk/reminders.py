"""Reminders: who to call about what after a handback, and marking one done."""

from __future__ import annotations

from datetime import datetime, tzinfo
from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.responses import Response

from app.domain.problems import Refused
from app.language.procedures import said_as_far
from app.language.speech import _
from app.texts import word
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.remind import ReminderSeen, mark_done, see_reminders
from app.use_cases.shop_time import at_words, date_words
from app.web.desk.said import go, said_lines
from app.web.forms import TheForm
from app.web.pages.form import FormShown, sent_back
from app.web.pages.reminders import ReminderRow, RemindersPage
from app.web.rendering import page
from app.web.security import Desk, TheOffice

router = APIRouter()


@router.get("/desk/reminders")
def look(request: Request, office: TheOffice, visitor: Desk) -> Response:
    shown = _page(office, said_lines(request.query_params), "", FormShown())
    return page(request, "desk/reminders.html", shown, visitor)


@router.post("/desk/reminders/{reminder_id}")
def done(request: Request, office: TheOffice, visitor: Desk, reminder_id: str, form: TheForm) -> Response:
    try:
        mark_done(office, visitor.person_id, reminder_id, form.text("words"))
    except Refused as refused:
        shown = _page(office, [], reminder_id, sent_back(form, refused.problems))
        return page(request, "desk/reminders.html", shown, visitor, status=422)
    return go("/desk/reminders", "reminder_done")


def _page(office: Office, said: list[str], wrong: str, form: FormShown) -> RemindersPage:
    seen = see_reminders(office)
    with office.store.reading() as unit:
        zone = zone_of(the_shop(unit))
    now = office.clock()
    due, near, later = ([_row(one, now, zone) for one in some] for some in (seen.due, seen.near, seen.later))
    return RemindersPage(due, near, later, said, wrong, form)


def _row(one: ReminderSeen, now: datetime, zone: tzinfo) -> ReminderRow:
    reminder, customer = one.reminder, one.customer
    if one.comes_at is not None:
        when = _("comes {at}", at=at_words(one.comes_at, now, zone))
    elif reminder.due_km is None:
        when = _("by {day}", day=date_words(one.due_on))
    else:
        when = _("by {day}, or at {km} km", day=date_words(one.due_on), km=reminder.due_km)
        if one.read_km is not None:
            when = f"{when}; {_('{km} km at its last intake', km=one.read_km)}"
    return ReminderRow(
        id=reminder.id,
        plate=one.vehicle.plate or one.vehicle.model,
        history=f"/desk/vehicles/{quote(one.vehicle.id, safe='')}/history",
        customer=customer.name if customer is not None else "",
        phone=customer.phone if customer is not None else "",
        email=customer.email if customer is not None else "",
        kind=word(f"reminder.{reminder.kind}"),
        what=said_as_far(reminder.what),
        when=when,
        number=one.number,
        address=f"/desk/reminders/{quote(reminder.id, safe='')}",
    )
