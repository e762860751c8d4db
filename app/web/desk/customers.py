"""Customers at the Desk: finding them, taking them in, changing what is known of them."""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from app.domain.handback import AskedWhere
from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import Customer
from app.language.speech import _
from app.use_cases.keep_customer import LANGUAGES, CustomerWanted, add_customer, change_customer, seen_of
from app.use_cases.keep_vehicle import open_jobs_of
from app.use_cases.mail_consent import consent_of, consent_value, keep_said
from app.use_cases.office import Office
from app.use_cases.see_desk import VehicleFound, find_customers
from app.web.desk.vehicles import ASKED_LIMIT, row_of
from app.web.forms import Form, read_form, told
from app.web.pages.desk_vehicles import Choice, CustomerPage, CustomerRow, CustomersPage, mail_choices
from app.web.rendering import page
from app.web.security import Desk, TheOffice, Visitor

router = APIRouter()


@router.get("/desk/customers")
def customers(request: Request, office: TheOffice, visitor: Desk, q: str = "") -> Response:
    asked = q.strip()[:ASKED_LIMIT]
    with office.store.reading() as unit:
        found, count = find_customers(unit, asked)
    rows = [CustomerRow(one.id, one.name, one.email, one.phone, _how_many(number)) for one, number in found]
    return page(request, "desk/customers.html", CustomersPage(asked, rows, count), visitor)


@router.get("/desk/customers/new")
def new(request: Request, office: TheOffice, visitor: Desk, name: str = "") -> Response:
    typed = {"name": name.strip()[:ASKED_LIMIT], "language": "en"}
    return page(request, "desk/customer.html", _page(office, None, typed), visitor)


@router.post("/desk/customers/new")
async def enter_new(request: Request, office: TheOffice, visitor: Desk) -> Response:
    form = await read_form(request, visitor)
    return await run_in_threadpool(_enter, request, office, visitor, form, None)


@router.get("/desk/customers/{customer_id}")
def show(request: Request, customer_id: str, office: TheOffice, visitor: Desk, saved: str = "") -> Response:
    one = _customer(office, customer_id)
    typed = {"name": one.name, "email": one.email, "phone": one.phone, "language": one.language, "seen": seen_of(one)}
    with office.store.reading() as unit:
        typed["may_mail"] = consent_value(consent_of(unit, one.id))
    return page(request, "desk/customer.html", _page(office, one, typed, saved=bool(saved)), visitor)


@router.post("/desk/customers/{customer_id}")
async def enter(request: Request, customer_id: str, office: TheOffice, visitor: Desk) -> Response:
    form = await read_form(request, visitor)
    one = await run_in_threadpool(_customer, office, customer_id)
    return await run_in_threadpool(_enter, request, office, visitor, form, one)


def _enter(request: Request, office: Office, visitor: Visitor, form: Form, one: Customer | None) -> Response:
    typed = form.kept()
    wanted = CustomerWanted(**{name: form.text(name) for name in ("name", "email", "phone", "language")})
    try:
        made = change_customer(office, one.id, wanted, form.text("seen")) if one else add_customer(office, wanted)
    except Refused as refused:
        if one and any(problem.code == "changed_meanwhile" for problem in refused.problems):
            typed = {**typed, "seen": seen_of(_customer(office, one.id))}
        return page(request, "desk/customer.html", _page(office, one, typed, refused.problems), visitor, status=422)
    keep_said(office, visitor.person_id, made.id, form.text("may_mail"), AskedWhere.CUSTOMER)
    return RedirectResponse(f"/desk/customers/{quote(made.id, safe='')}?saved=1", 303)


def _customer(office: Office, customer_id: str) -> Customer:
    with office.store.reading() as unit:
        found = unit.customers.get(customer_id)
    if found is None:
        raise NotFound("customer", customer_id)
    return found


def _page(
    office: Office,
    one: Customer | None,
    typed: Mapping[str, str],
    problems: tuple[Problem, ...] = (),
    *,
    saved: bool = False,
) -> CustomerPage:
    with office.store.reading() as unit:
        theirs = unit.vehicles.where(customer=one.id) if one is not None else ()
        rows = [row_of(VehicleFound(vehicle, one, open_jobs_of(unit, vehicle.id))) for vehicle in theirs]
    address = f"/desk/customers/{quote(one.id, safe='')}" if one is not None else "/desk/customers/new"
    return CustomerPage(
        title=one.name if one is not None else _("A new customer"),
        action=address,
        is_new=one is None,
        saved=saved,
        typed=typed,
        told=told(problems),
        mail_choices=mail_choices(),
        languages=[Choice(key, words) for key, words in LANGUAGES.items()],
        vehicles=rows,
        add_vehicle=f"/desk/vehicles/new?customer={quote(one.id, safe='')}" if one is not None else "",
    )


def _how_many(number: int) -> str:
    return "1 vehicle" if number == 1 else _("{number} vehicles", number=number)
