"""Giving a job to a bay and a technician, moving it, taking it out again."""

from __future__ import annotations

from datetime import datetime, timedelta
from urllib.parse import quote
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import Placement
from app.language.speech import _
from app.texts import say
from app.use_cases.floor_view import LIFT_WORDS
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.place_job import PlacementWanted, kg_words, move_placement, place_job, withdraw_placement
from app.use_cases.see_placing import BayFound, PlacingFound, see_new_placing, see_placement
from app.use_cases.shop_time import at_words, span_words
from app.web.forms import Form, read_form, read_local_time
from app.web.pages.floor import BayChoice, PersonChoice, PlacingPage, job_shown
from app.web.pages.form import FormShown, sent_back
from app.web.rendering import page
from app.web.security import Foreman, TheOffice, Visitor

router = APIRouter()

# What a new placement's form begins with; to be changed. House rule.
USUAL = timedelta(hours=2)


@router.get("/floor/placements")
def new(
    request: Request, office: TheOffice, visitor: Foreman, job: str = "", bay: str = "", begins: str = ""
) -> Response:
    found = see_new_placing(office, job)
    at = _asked(begins) or found.next_quarter.astimezone(found.zone)
    form = FormShown({"bay": bay, "begins_at": _field(at), "ends_at": _field(at + USUAL)})
    return _show(request, visitor, found, form)


@router.post("/floor/placements")
async def place(request: Request, office: TheOffice, visitor: Foreman) -> Response:
    form = await read_form(request, visitor)
    return await run_in_threadpool(_place, request, office, visitor, form)


def _place(request: Request, office: Office, visitor: Visitor, form: Form) -> Response:
    found = see_new_placing(office, form.text("job"))
    wanted, unclear = _wanted(office, form, found.job.id)
    try:
        return _placed(place_job(office, visitor.person_id, wanted), office)
    except Refused as refused:
        return _show(request, visitor, found, sent_back(form, _clearer(refused, unclear)), status=422)


@router.get("/floor/placements/{placement}")
def look(
    request: Request, office: TheOffice, visitor: Foreman, placement: str, bay: str = "", begins: str = ""
) -> Response:
    found = see_placement(office, placement)
    old = found.placement
    assert old is not None  # see_placement found it
    at = _asked(begins) or old.begins_at.astimezone(found.zone)
    form = FormShown(
        {
            "bay": bay or old.bay,
            "technician": old.technician,
            "begins_at": _field(at),
            "ends_at": _field(at + (old.ends_at - old.begins_at)),
        }
    )
    return _show(request, visitor, found, form)


@router.post("/floor/placements/{placement}")
async def move(request: Request, office: TheOffice, visitor: Foreman, placement: str) -> Response:
    form = await read_form(request, visitor)
    return await run_in_threadpool(_move, request, office, visitor, placement, form)


def _move(request: Request, office: Office, visitor: Visitor, placement: str, form: Form) -> Response:
    found = see_placement(office, placement)
    wanted, unclear = _wanted(office, form, found.job.id)
    try:
        return _placed(move_placement(office, visitor.person_id, placement, wanted), office)
    except Refused as refused:
        return _show(request, visitor, found, sent_back(form, _clearer(refused, unclear)), status=422)


@router.post("/floor/placements/{placement}/withdrawal")
async def withdraw(request: Request, office: TheOffice, visitor: Foreman, placement: str) -> Response:
    await read_form(request, visitor)
    ended = await run_in_threadpool(withdraw_placement, office, placement)
    return RedirectResponse(f"/floor?done=withdrawn&job={quote(_number_of(office, ended), safe='')}", 303)


def _number_of(office: Office, placement: Placement) -> str:
    with office.store.reading() as unit:
        job = unit.jobs.get(placement.job)
    if job is None:
        raise NotFound("job", placement.job)
    return job.number


def _wanted(office: Office, form: Form, job: str) -> tuple[PlacementWanted, dict[str, str]]:
    """What was chosen, and the times that could not be read, as typed."""
    with office.store.reading() as unit:
        zone = zone_of(the_shop(unit))
    times = {name: read_local_time(form.text(name), zone, office.clock()) for name in ("begins_at", "ends_at")}
    unclear = {name: form.text(name) for name, at in times.items() if at is None and form.text(name)}
    wanted = PlacementWanted(
        job, form.text("bay"), form.text("technician"), times["begins_at"], times["ends_at"]
    )  # fmt: skip
    return wanted, unclear


def _clearer(refused: Refused, unclear: dict[str, str]) -> list[Problem]:
    """A time that was typed and cannot be read is not "missing"."""
    missing = ("placement_begin_missing", "placement_end_missing")
    return [
        Problem("time_unclear", one.field, {"typed": unclear[one.field][:40]})
        if one.code in missing and one.field in unclear
        else one
        for one in refused.problems
    ]


def _placed(placement: Placement, office: Office) -> Response:
    with office.store.reading() as unit:
        day = placement.begins_at.astimezone(zone_of(the_shop(unit))).date()
        today = office.clock().astimezone(zone_of(the_shop(unit))).date()
    asked = f"placed={quote(placement.id, safe='')}"
    if day > today:
        asked = f"day={day.isoformat()}&{asked}"
    return RedirectResponse(f"/floor?{asked}", 303)


# --- The page -----------------------------------------------------------------------------------------------------


def _asked(begins: str) -> datetime | None:
    """A time that was dragged to, by the shop's clock; None for anything the address made up."""
    try:
        at = datetime.fromisoformat(begins)
    except ValueError:
        return None
    return at if at.tzinfo is None else None


def _field(local: datetime) -> str:
    return f"{local:%Y-%m-%dT%H:%M}"


def _show(request: Request, visitor: Visitor, found: PlacingFound, form: FormShown, *, status: int = 200) -> Response:
    return page(request, "floor/placing.html", _page(found, form), visitor, status=status)


def _page(found: PlacingFound, form: FormShown) -> PlacingPage:
    old = found.placement
    begun = old is not None and old.begins_at <= found.now
    address = f"/floor/placements/{quote(old.id, safe='')}" if old is not None else "/floor/placements"
    weighed = [one for bay in found.bays for one in bay.against if one.code == "mass_unknown"]
    verb = _("Move") if old is not None else _("Place")
    return PlacingPage(
        title=_("{verb} job {number}", verb=verb, number=found.job.number),
        job=job_shown(found.shown),
        action=address,
        submit=_("{verb} it", verb=verb),
        begun=_("It is in its bay since {at}.", at=at_words(old.begins_at, found.now, found.zone))
        if old and begun
        else "",
        not_weighed=say(weighed[0]) if weighed else "",
        vehicle_link=f"/desk/vehicles/{quote(found.job.vehicle, safe='')}",
        bays=[_bay(found, one) for one in found.bays],
        people=[
            PersonChoice(one.person.id, one.person.name, _busy(found, one.placed)) for one in found.people
        ],
        form=form,
        withdraw=f"{address}/withdrawal" if old is not None else "",
        withdraw_words=_("End it now") if begun else _("Take it out of this bay"),
        zone=found.zone.key if isinstance(found.zone, ZoneInfo) else "",
    )  # fmt: skip


def _bay(found: PlacingFound, one: BayFound) -> BayChoice:
    return BayChoice(
        id=one.bay.id,
        name=one.bay.name,
        words=f"{_(LIFT_WORDS[one.bay.lift])}, {kg_words(one.bay.capacity_g)}",
        against=[say(problem) for problem in one.against if problem.code != "mass_unknown"],
        busy=_busy(found, one.placed),
    )


def _busy(found: PlacingFound, placed: tuple[tuple[Placement, str], ...]) -> list[str]:
    return [f"{span_words(one.begins_at, one.ends_at, found.now, found.zone)}: {number}" for one, number in placed]
