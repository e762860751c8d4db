"""Search: jobs and vehicles by plate, identification number, customer, complaint, part or job number."""

from __future__ import annotations

from datetime import tzinfo
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from starlette.responses import Response

from app.language.speech import _
from app.ports import Hit
from app.texts import sentence, word
from app.use_cases.office import the_shop, zone_of
from app.use_cases.search import FOUND_LIMIT, Searched, Vehicle, search
from app.use_cases.shop_time import date_words
from app.web.forms import clean, told
from app.web.pages.search import FoundJob, FoundVehicle, SearchPage
from app.web.rendering import page
from app.web.security import Desk, TheOffice

router = APIRouter()


@router.get("/desk/search")
def look(request: Request, office: TheOffice, visitor: Desk, q: str = "") -> Response:
    asked = clean(q).strip()
    found = search(office, asked)
    with office.store.reading() as unit:
        zone = zone_of(the_shop(unit))
    shown = SearchPage(
        asked=asked,
        told=told((found.problem,) if found.problem is not None else ()),
        said=_said(found),
        vehicles=[_vehicle(one, asked, zone) for one in found.vehicles],
    )
    status = 200 if found.problem is None else 422
    return page(request, "desk/search.html", shown, visitor, status=status)


def _said(found: Searched) -> str:
    if not found.words:
        return ""
    if found.more:
        return sentence("search_more", limit=FOUND_LIMIT)
    if not found.vehicles:
        return sentence("search_nothing")
    count = len(found.vehicles)
    jobs = _("1 job") if found.jobs == 1 else _("{count} jobs", count=found.jobs)
    vehicles = _("1 vehicle") if count == 1 else _("{count} vehicles", count=count)
    return sentence("search_found", jobs=jobs, vehicles=vehicles)


def _vehicle(one: Vehicle, asked: str, zone: tzinfo) -> FoundVehicle:
    return FoundVehicle(
        history=f"/desk/vehicles/{one.id}/history?{urlencode({'find': asked})}",
        plate=one.plate,
        words=" · ".join(part for part in (one.model, one.vin) if part),
        customer=one.customer,
        jobs=[_job(hit, zone) for hit in one.jobs],
    )


def _job(hit: Hit, zone: tzinfo) -> FoundJob:
    opened = date_words(hit.opened_at.astimezone(zone).date()) if hit.opened_at is not None else ""
    return FoundJob(hit.number, opened, word(f"job_state.{hit.state}"), hit.complaint, bool(hit.comeback_of))
