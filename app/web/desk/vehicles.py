"""Vehicles at the Desk: finding them, taking them in, changing what is known of them, and what was done on them."""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from app.domain.packet import Axle
from app.domain.problems import NotFound, Problem, Refused
from app.domain.procedure import Book
from app.domain.records import Job, JobState, Vehicle
from app.language.speech import N_, _
from app.ports import Unit
from app.texts import time_words
from app.trade import tyre as tyre_sums
from app.trade import vin as vin_sums
from app.trade.problems import TradeProblem
from app.trade.units import show as show_amount
from app.use_cases.in_language import book_said
from app.use_cases.keep_vehicle import (
    AXLES,
    NEW_CUSTOMER,
    add_vehicle,
    asked_facts,
    axle_typed,
    change_vehicle,
    has_coil,
    seen_of,
    typed_from,
)
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.see_desk import VehicleFound, find_vehicles
from app.web.forms import Form, Told, read_form, told
from app.web.pages.desk_vehicles import (
    AxleFields,
    AxlePart,
    Choice,
    FactField,
    JobOfVehicle,
    VehiclePage,
    VehicleRow,
    VehiclesPage,
)
from app.web.rendering import fragment, page
from app.web.security import Desk, TheOffice, Visitor

router = APIRouter()

ASKED_LIMIT = 80
STATES = {JobState.OPEN: N_("open"), JobState.HANDED_BACK: N_("handed back"), JobState.CANCELLED: N_("cancelled")}


@router.get("/desk/vehicles")
def vehicles(request: Request, office: TheOffice, visitor: Desk, q: str = "") -> Response:
    asked = q.strip()[:ASKED_LIMIT]
    with office.store.reading() as unit:
        found, count = find_vehicles(unit, asked)
    return page(request, "desk/vehicles.html", VehiclesPage(asked, [row_of(one) for one in found], count), visitor)


@router.get("/desk/vehicles/new")
def new(request: Request, office: TheOffice, visitor: Desk, plate: str = "", customer: str = "") -> Response:
    typed = {"plate": plate.strip()[:ASKED_LIMIT], "customer": customer}
    return page(request, "desk/vehicle.html", _page(office, None, typed), visitor)


@router.post("/desk/vehicles/new")
async def enter_new(request: Request, office: TheOffice, visitor: Desk) -> Response:
    form = await read_form(request, visitor)
    return await run_in_threadpool(_enter, request, office, visitor, form, None)


@router.post("/desk/vehicles/axle/{axle}")
async def axle_part(request: Request, axle: str, office: TheOffice, visitor: Desk) -> Response:
    """The questions of one axle for the layout chosen just now."""
    form = await read_form(request, visitor)
    if axle not in (Axle.FRONT, Axle.REAR):
        raise NotFound("axle", axle)
    typed = form.kept()
    part = AxlePart(_axle_fields(book_said(office.book), Axle(axle), typed), typed, Told())
    return fragment(request, "desk/_axle_questions.html", part, visitor)


@router.get("/desk/vehicles/{vehicle_id}")
def show(request: Request, vehicle_id: str, office: TheOffice, visitor: Desk, saved: str = "") -> Response:
    vehicle = _vehicle(office, vehicle_id)
    shown = _page(office, vehicle, typed_from(vehicle), saved=bool(saved))
    return page(request, "desk/vehicle.html", shown, visitor)


@router.post("/desk/vehicles/{vehicle_id}")
async def enter(request: Request, vehicle_id: str, office: TheOffice, visitor: Desk) -> Response:
    form = await read_form(request, visitor)
    vehicle = await run_in_threadpool(_vehicle, office, vehicle_id)
    return await run_in_threadpool(_enter, request, office, visitor, form, vehicle)


def _enter(request: Request, office: Office, visitor: Visitor, form: Form, vehicle: Vehicle | None) -> Response:
    typed = form.kept()
    if typed.get("look"):
        return page(request, "desk/vehicle.html", _page(office, vehicle, typed), visitor)
    try:
        made = change_vehicle(office, vehicle.id, typed) if vehicle else add_vehicle(office, typed)
    except Refused as refused:
        if any(one.code == "changed_meanwhile" for one in refused.problems):
            typed = {**typed, "seen": seen_of(_vehicle(office, vehicle.id))} if vehicle else typed
        shown = _page(office, vehicle, typed, refused.problems)
        return page(request, "desk/vehicle.html", shown, visitor, status=422)
    return RedirectResponse(f"/desk/vehicles/{quote(made.id, safe='')}?saved=1", 303)


def _vehicle(office: Office, vehicle_id: str) -> Vehicle:
    with office.store.reading() as unit:
        found = unit.vehicles.get(vehicle_id)
    if found is None:
        raise NotFound("vehicle", vehicle_id)
    return found


# --- What the pages show -------------------------------------------------------------------------------------------


def row_of(found: VehicleFound) -> VehicleRow:
    one = found.vehicle
    customer = found.customer.name if found.customer is not None else ""
    return VehicleRow(one.id, one.plate, words_of(one), customer, [job.number for job in found.open_jobs])


def words_of(vehicle: Vehicle) -> str:
    """A vehicle in a few words: model, year, colour; by its number where it has no plate."""
    parts = [vehicle.model, str(vehicle.year or ""), vehicle.colour, "" if vehicle.plate else vehicle.vin]
    return " · ".join(part for part in parts if part)


def _page(
    office: Office,
    vehicle: Vehicle | None,
    typed: Mapping[str, str],
    problems: tuple[Problem, ...] = (),
    *,
    saved: bool = False,
) -> VehiclePage:
    with office.store.reading() as unit:
        customers = sorted(unit.customers.all(), key=lambda one: one.name.casefold())
        models = sorted({one.model for one in unit.vehicles.all()}, key=str.casefold)
        jobs = unit.jobs.where(vehicle=vehicle.id) if vehicle is not None else ()
        history = _history(office, unit, tuple(jobs))
    name = (vehicle.plate or vehicle.vin) if vehicle is not None else ""
    return VehiclePage(
        title=_("Vehicle {name}", name=name) if vehicle is not None else _("A new vehicle"),
        action=f"/desk/vehicles/{quote(vehicle.id, safe='')}" if vehicle is not None else "/desk/vehicles/new",
        is_new=vehicle is None,
        saved=saved,
        typed=typed,
        told=told(problems),
        axles=[_axle_fields(book_said(office.book), axle, typed) for axle in AXLES],
        customers=[Choice(NEW_CUSTOMER, _("A new customer, entered below"))]
        + [Choice(one.id, " · ".join(part for part in (one.name, one.phone) if part)) for one in customers],
        models=models,
        number_says=_number_says(vehicle.vin) if vehicle is not None else [],
        tyres=_tyres(vehicle) if vehicle is not None else [],
        open_jobs=[job.number for job in jobs if job.state is JobState.OPEN],
        history=history,
        intake=f"/desk/intake?vehicle={quote(vehicle.id, safe='')}" if vehicle is not None else "",
    )


def _history(office: Office, unit: Unit, jobs: tuple[Job, ...]) -> list[JobOfVehicle]:
    zone, now = zone_of(the_shop(unit)), office.clock()
    return [
        JobOfVehicle(
            number=job.number,
            opened=time_words(job.opened_at, now, zone),
            complaint=job.complaint,
            state=_(STATES[job.state]),
            odometer=_("{odometer_km} km", odometer_km=f"{job.odometer_km:,}").replace(",", "\u00a0")
            if job.odometer_km is not None
            else "",
        )
        for job in sorted(jobs, key=lambda job: job.opened_at, reverse=True)
    ]


def _axle_fields(book: Book, axle: Axle, typed: Mapping[str, str]) -> AxleFields:
    facts = axle_typed(typed, axle, book)
    layout = book.layouts.get(facts.layout)
    by_name = [Choice(key, one.name) for key, one in book.layouts.items()]
    places = [one for one in by_name if book.layouts[one.value].spring_on != "as_place"]
    return AxleFields(
        key=str(axle),
        layouts=by_name,
        places=places if layout is not None and layout.spring_on == "as_place" else [],
        facts=[fact_field(book, axle, key) for key in asked_facts(book, axle, facts)] if layout is not None else [],
        coil=has_coil(book, facts),
    )


def fact_field(book: Book, axle: Axle, key: str) -> FactField:
    kind = book.facts[key]
    return FactField(f"{axle}.{key}", kind.ask, [Choice(value, words) for value, words in kind.choices.items()])


def _number_says(number: str) -> list[str]:
    try:
        return [remark.sentence for remark in vin_sums.examine(number).remarks] if number else []
    except TradeProblem:
        return []


def _tyres(vehicle: Vehicle) -> list[str]:
    said = []
    for place, text in ((_("Front"), vehicle.tyre_front), (_("Rear"), vehicle.tyre_rear)):
        if text:
            said.append(f"{place}: {_tyre_words(text)}")
    return said


def _tyre_words(text: str) -> str:
    try:
        size = tyre_sums.TyreSize.parse(text)
        height = show_amount(tyre_sums.section_height(size), "mm", 1)
        diameter = show_amount(tyre_sums.overall_diameter(size), "mm", 0)
    except TradeProblem:
        return _("{what}, as typed; its height cannot be worked out from that.", what=text)
    words = [
        _(
            "{short}: {height} from rim to tread, {diameter} across, new and unloaded",
            short=size.short,
            height=height,
            diameter=diameter,
        )
    ]
    if size.load_capacity is not None:
        words.append(_("up to {show_amount} on each tyre", show_amount=show_amount(size.load_capacity, "kg", 0)))
    if size.speed_limit is not None:
        words.append(_("up to {show_amount}", show_amount=show_amount(size.speed_limit, "km/h", 0)))
    return ", ".join(words) + "."
