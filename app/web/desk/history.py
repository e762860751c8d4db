"""A vehicle's history: from its own page for the Desk, and from a job or its sheet for whoever works on it."""

from __future__ import annotations

from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.responses import Response

from app.domain.records import Role
from app.language.speech import _
from app.ports import Unit
from app.use_cases.comeback import Earlier
from app.use_cases.office import Office
from app.web.desk.vehicle_history import see_history, story_of, vehicle_of
from app.web.forms import clean
from app.web.pages.history import EarlierJob, HistoryPage
from app.web.rendering import page
from app.web.security import Anyone, Desk, TheOffice, Visitor

router = APIRouter()
FIND_LIMIT = 80


@router.get("/desk/vehicles/{vehicle_id}/history")
def of_vehicle(request: Request, office: TheOffice, visitor: Desk, vehicle_id: str, find: str = "") -> Response:
    back = f"/desk/vehicles/{quote(vehicle_id, safe='')}"
    return _shown(request, office, visitor, vehicle_id, find, (f"{back}/history", back, _("the vehicle's page")))


@router.get("/jobs/{number}/history")
def of_job(request: Request, office: TheOffice, visitor: Anyone, number: str, find: str = "") -> Response:
    job = f"/jobs/{quote(number, safe='')}"
    return _shown(
        request,
        office,
        visitor,
        vehicle_of(office, number),
        find,
        (f"{job}/history", f"{job}/sheet", _("back to the sheet")),
    )


def _shown(
    request: Request, office: Office, visitor: Visitor, vehicle_id: str, find: str, links: tuple[str, str, str]
) -> Response:
    looked_for = clean(find)[:FIND_LIMIT].strip()
    shown = see_history(office, vehicle_id, looked_for)
    action, back, back_words = links
    title = _("History of {what}", what=shown.vehicle.plate or shown.vehicle.vin)
    desk = visitor.has(Role.DESK, Role.FOREMAN)
    return page(
        request, "desk/history.html", HistoryPage(shown, looked_for, action, back, back_words, desk, title), visitor
    )


def earlier_shown(unit: Unit, one: Earlier, *, beside: bool = False) -> EarlierJob:
    """An earlier job in short. beside: on the page of the job that came after it, not at an intake under way."""
    if not one.days:
        days = _("handed back the same day")
    elif beside:
        days = _("handed back {days} days before this intake", days=one.days)
    else:
        days = _("handed back {days} days ago", days=one.days)
    return EarlierJob(
        id=one.job.id,
        story=story_of(unit, one.job),
        days=days,
        history=f"/jobs/{quote(one.job.number, safe='')}/history",
    )
