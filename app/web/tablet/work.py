"""My work: the technician's first page."""

from __future__ import annotations

from datetime import datetime
from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from app.domain.problems import NotFound
from app.domain.records import Job, Vehicle
from app.language.speech import _
from app.texts import say_ruling, time_words
from app.use_cases.my_work import InHand, MyAside, Placed, SecondLook, my_work
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.see_sheet import job_by_number
from app.web.pages.work import JobLine, Waiting, WorkPage
from app.web.rendering import fragment, page, wants_fragment
from app.web.security import Anyone, TheOffice
from app.web.tablet.paper import is_code

router = APIRouter()


@router.get("/work")
def show(request: Request, office: TheOffice, visitor: Anyone) -> Response:
    shown = work_page(office, visitor.person.id)
    if wants_fragment(request):
        return fragment(request, "tablet/_work.html", shown, visitor)
    return page(request, "tablet/work.html", shown, visitor)


@router.get("/jobs")
def find(request: Request, office: TheOffice, visitor: Anyone, number: str = "") -> Response:
    """Open a sheet by the number people say aloud, or what a printed one belongs to by the code on it."""
    wanted = number.strip()[:40]
    try:
        with office.store.reading() as unit:
            job = job_by_number(unit, wanted)
    except NotFound:
        if is_code(wanted):
            return RedirectResponse(f"/paper/{quote(wanted, safe='')}", 303)
        return page(
            request, "tablet/work.html", work_page(office, visitor.person.id, wanted, unknown=True), visitor, status=404
        )
    return RedirectResponse(sheet_address(job), 303)


def sheet_address(job: Job, step: str = "") -> str:
    asked = f"?step={quote(step, safe='')}" if step else ""
    return f"/jobs/{quote(job.number, safe='')}/sheet{asked}#in-hand"


def work_page(office: Office, person: str, asked: str = "", *, unknown: bool = False) -> WorkPage:
    found = my_work(office, person)
    with office.store.reading() as unit:
        zone = zone_of(the_shop(unit))
    now = office.clock()

    def words(at: datetime) -> str:
        return time_words(at, now, zone)

    return WorkPage(
        now=[_line(one, _("until {words}", words=words(one.placement.ends_at))) for one in found.now],
        next=[_line(one, _("from {words}", words=words(one.placement.begins_at))) for one in found.next],
        in_hand=[_line(one, "") for one in found.in_hand],
        second_looks=[_second(one) for one in found.second_looks],
        asides=[_aside(one) for one in found.asides],
        asked_number=asked,
        number_unknown=unknown,
    )


def _line(one: Placed | InHand, when: str) -> JobLine:
    done, total = one.progress
    return JobLine(
        number=one.job.number,
        plate=_plate(one.vehicle),
        vehicle=_vehicle_words(one.vehicle),
        complaint=one.job.complaint,
        when=when,
        bay=one.bay if isinstance(one, Placed) else "",
        next_step=one.next_step,
        progress=_("{done} of {total} steps done", done=done, total=total),
        held=one.held,
        mark="held" if one.held else ("done" if total and done == total else ("open" if done else "empty")),
        link=sheet_address(one.job),
        handed_by=one.handed_by if isinstance(one, InHand) else "",
    )


def _second(one: SecondLook) -> Waiting:
    more = _("{first} has done it: your own reading or look is wanted.", first=one.first)
    return Waiting(one.job.number, _plate(one.vehicle), one.words, more, sheet_address(one.job, one.step.id))


def _aside(one: MyAside) -> Waiting:
    step = one.step
    words = say_ruling(one.aside.reason, one.aside.details)
    link = sheet_address(one.job, step.id if step is not None else "")
    return Waiting(one.job.number, _plate(one.vehicle), step.title if step is not None else "", words, link)


def _plate(vehicle: Vehicle | None) -> str:
    return vehicle.plate if vehicle is not None else ""


def _vehicle_words(vehicle: Vehicle | None) -> str:
    if vehicle is None:
        return ""
    return " · ".join(part for part in (vehicle.model, str(vehicle.year or ""), vehicle.colour) if part)
