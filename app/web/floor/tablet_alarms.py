"""What a tablet had and the office does not have: looked at, and settled by a foreman's name and reason."""

from __future__ import annotations

from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from app.domain.problems import NotFound, Refused
from app.texts import sentence
from app.use_cases.floor_view import alarm_shown
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.shop_time import at_words
from app.use_cases.tablet_alarms import settle_alarm
from app.web.forms import TheForm
from app.web.pages.form import FormShown, sent_back
from app.web.pages.tablets import AlarmPage, alarm_line
from app.web.rendering import page
from app.web.security import Foreman, TheOffice, Visitor

router = APIRouter()


@router.get("/floor/tablets/{alarm_id}")
def look(request: Request, office: TheOffice, visitor: Foreman, alarm_id: str) -> Response:
    return _show(request, office, visitor, alarm_id, FormShown())


@router.post("/floor/tablets/{alarm_id}")
def settle(request: Request, office: TheOffice, visitor: Foreman, alarm_id: str, form: TheForm) -> Response:
    try:
        settle_alarm(office, visitor.person_id, alarm_id, form.text("reason"))
    except Refused as refused:
        return _show(request, office, visitor, alarm_id, sent_back(form, refused.problems), status=422)
    return RedirectResponse("/floor?done=tablet", 303)


def _show(
    request: Request, office: Office, visitor: Visitor, alarm_id: str, form: FormShown, *, status: int = 200
) -> Response:
    now = office.clock()
    with office.store.reading() as unit:
        alarm = unit.tablet_alarms.get(alarm_id)
        if alarm is None:
            raise NotFound("tablet_alarm", alarm_id)
        tablet, settler = unit.tablets.get(alarm.tablet), unit.people.get(alarm.settled_by)
        job = unit.jobs.get(alarm.job)
        zone = zone_of(the_shop(unit))
    settled = ""
    if alarm.settled_at is not None:
        name = settler.name if settler is not None else ""
        at = at_words(alarm.settled_at, now, zone)
        settled = sentence("tablet_settled", name=name, at=at, reason=alarm.settled_because)
    line = alarm_line(alarm_shown(alarm, tablet.name if tablet is not None else "", job, now, zone))
    shown = AlarmPage(line, settled, f"/floor/tablets/{quote(alarm_id, safe='')}", form)
    return page(request, "floor/tablet_alarm.html", shown, visitor, status=status)
