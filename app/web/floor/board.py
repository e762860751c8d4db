"""The Floor: the foreman's first page, and the part of it that an open page asks for again."""

from __future__ import annotations

from datetime import date, timedelta
from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.responses import Response

from app.domain.problems import Problem
from app.language.speech import N_, _
from app.texts import say_ruling, sentence, word
from app.use_cases.floor_view import Floor, see_floor
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.place_job import kg_words
from app.use_cases.shop_time import span_words
from app.web.forms import read_date
from app.web.pages.floor import (
    BayRow,
    FloorPage,
    aside_line,
    block,
    due_line,
    hold_line,
    job_shown,
    second_jobs,
    waiting_job,
)
from app.web.pages.tablets import alarm_line, owing_line
from app.web.rendering import fragment, page, wants_fragment
from app.web.security import Foreman, TheOffice

router = APIRouter()

# A calendar further off is a slip of the keyboard.
FURTHEST = timedelta(days=3_660)
SAID = {
    "settled": N_("What was set aside on job {number} is settled."),
    "lifted": N_("The hold tag is off job {number}."),
    "released": N_("Job {number} is handed back."),
    "cancelled": N_("Job {number} is cancelled."),
    "tablet": N_("What the tablet lost is settled."),
    "withdrawn": N_("Job {number} is taken out of its bay."),
}


@router.get("/floor")
def show(
    request: Request,
    office: TheOffice,
    visitor: Foreman,
    day: str = "",
    placed: str = "",
    done: str = "",
    job: str = "",
) -> Response:
    shown = floor_page(office, wanted_day(office, day), said_of(office, placed, done, job))
    if wants_fragment(request):
        return fragment(request, "floor/_floor.html", shown, visitor)
    return page(request, "floor/floor.html", shown, visitor)


def wanted_day(office: Office, typed: str) -> date | None:
    """The day asked for; today (None) for anything that is none, or lies ten years off."""
    day = read_date(typed.strip())
    return day if day is not None and abs(day - office.clock().date()) <= FURTHEST else None


def said_of(office: Office, placed: str, done: str, number: str) -> str:
    """What was just done, said once on the page that follows; "" for anything the address made up."""
    with office.store.reading() as unit:
        placement = unit.placements.get(placed) if placed else None
        if placement is not None:
            bay, person = unit.bays.get(placement.bay), unit.people.get(placement.technician)
            found = unit.jobs.get(placement.job)
            span = span_words(placement.begins_at, placement.ends_at, office.clock(), zone_of(the_shop(unit)))
            names = ", ".join(one.name for one in (bay, person) if one is not None)
            return _(
                "Job {what} is placed: {names}, {span}.", what=found.number if found else "", names=names, span=span
            )
        known = bool(number) and bool(unit.jobs.where(number=number))
    return _(SAID[done]).format(number=number) if (known or done == "tablet") and done in SAID else ""


def _against(problem: Problem | None) -> str:
    """What speaks against a bay, short enough for the board's margin."""
    if problem is None:
        return ""
    code = "lift_short.overdue" if problem.code == "lift_overdue" else "lift_short.never"
    return sentence(code, **problem.details)


def floor_page(office: Office, day: date | None, said: str = "") -> FloorPage:
    floor: Floor = see_floor(office, day)
    return FloorPage(
        floor=floor,
        live=f"/floor?day={quote(floor.day.isoformat())}" if day is not None else "/floor",
        said=said,
        rows=[
            BayRow(
                id=row.bay,
                name=row.name,
                lift=row.lift,
                capacity=kg_words(row.capacity_g),
                against=_against(row.against),
                blocks=[block(item, row.name) for item in row.items],
            )
            for row in floor.rows
        ],
        unplaced=[waiting_job(one) for one in floor.unplaced],
        ready=[job_shown(one) for one in floor.ready],
        holds=[hold_line(one) for one in floor.holds],
        seconds=second_jobs(floor.seconds),
        asides=[aside_line(one, word(f"kind.{one.kind}"), say_ruling(one.reason, one.details)) for one in floor.asides],
        due=[due_line(one) for one in floor.due],
        alarms=[alarm_line(one) for one in floor.alarms],
        owing=[owing_line(one) for one in floor.owing],
        day=floor.day.isoformat(),
        previous=floor.previous.isoformat(),
        next=floor.next.isoformat(),
    )
