"""The intake: from a plate to an open job, on one page."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from app.domain.handback import AskedWhere
from app.domain.packet import Axle
from app.domain.problems import NotFound, Problem, Refused
from app.domain.procedure import Book
from app.domain.records import Vehicle
from app.language.procedures import said_as_far
from app.language.speech import N_, _
from app.texts import say, word
from app.use_cases.comeback import earlier_jobs
from app.use_cases.in_language import book_said
from app.use_cases.keep_vehicle import AXLES, open_jobs_of
from app.use_cases.mail_consent import consent_of, consent_value, keep_said
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.remind import waiting_for
from app.use_cases.see_desk import VehicleFound, find_vehicles, the_one_with_plate
from app.use_cases.take_in import BOTH_SIDES, IntakeTyped, Row, fact_wanted, rows_for, take_in
from app.web.desk.history import earlier_shown
from app.web.desk.vehicles import ASKED_LIMIT, fact_field, row_of
from app.web.forms import Form, read_form, read_local_time, told
from app.web.pages.desk_front import AxleWork, FindPage, IntakePage, NotHere, OptionField, Tick, WorkRow
from app.web.pages.desk_vehicles import Choice, FactField, mail_choices
from app.web.rendering import page
from app.web.security import Desk, TheOffice, Visitor

router = APIRouter()

SIDE_WORDS = {BOTH_SIDES: N_("Both sides"), "left": N_("Left"), "right": N_("Right")}
AXLE_WORDS = {Axle.FRONT: N_("Front axle"), Axle.REAR: N_("Rear axle")}


@router.get("/desk/intake")
def intake(request: Request, office: TheOffice, visitor: Desk, q: str = "", vehicle: str = "") -> Response:
    asked = q.strip()[:ASKED_LIMIT]
    with office.store.reading() as unit:
        one = unit.vehicles.get(vehicle) if vehicle else the_one_with_plate(unit, asked)
        found, count = find_vehicles(unit, asked) if asked and one is None else ((), 0)
    if vehicle and one is None:
        raise NotFound("vehicle", vehicle)
    if one is None and count == 1:
        one = found[0].vehicle
    if one is None:
        return page(request, "desk/find.html", FindPage(asked, [row_of(each) for each in found], count), visitor)
    with office.store.reading() as unit:
        said = consent_value(consent_of(unit, one.customer))
    typed = {"form_id": office.new_id(), "may_mail": said}
    return page(request, "desk/intake.html", _page(office, one, typed, {}), visitor)


@router.post("/desk/intake")
async def enter(request: Request, office: TheOffice, visitor: Desk) -> Response:
    form = await read_form(request, visitor)
    return await run_in_threadpool(_enter, request, office, visitor, form)


def _enter(request: Request, office: Office, visitor: Visitor, form: Form) -> Response:
    with office.store.reading() as unit:
        vehicle = unit.vehicles.get(form.text("vehicle"))
        zone = zone_of(the_shop(unit))
    if vehicle is None:
        raise NotFound("vehicle", form.text("vehicle"))
    typed = form.kept()
    ticked = {name: values for name, values in form.values.items() if name.endswith(".sides")}
    promised = form.text("promised_at")
    at: datetime | None = read_local_time(promised, zone) if promised else None
    unclear = (Problem("promised_unclear", "promised_at"),) if promised and at is None else ()
    try:
        job = take_in(office, visitor.person_id, IntakeTyped(vehicle.id, at, typed, ticked, unclear))
        keep_said(office, visitor.person_id, job.customer, form.text("may_mail"), AskedWhere.INTAKE)
    except Refused as refused:
        shown = _page(office, vehicle, typed, ticked, refused.problems)
        return page(request, "desk/intake.html", shown, visitor, status=422)
    return RedirectResponse(f"/desk?opened={quote(job.number, safe='')}", 303)


# --- What the page shows -------------------------------------------------------------------------------------------


def _page(
    office: Office,
    vehicle: Vehicle,
    typed: Mapping[str, str],
    ticked: Mapping[str, tuple[str, ...]],
    problems: tuple[Problem, ...] = (),
) -> IntakePage:
    with office.store.reading() as unit:
        customer = unit.customers.get(vehicle.customer)
        open_jobs = open_jobs_of(unit, vehicle.id)
        reminders = [
            f"{word(f'reminder.{one.kind}')}. {said_as_far(one.what)}" for one in waiting_for(unit, vehicle.id)
        ]
        earlier = [earlier_shown(unit, one) for one in earlier_jobs(unit, vehicle.id, office.clock())]
    row = row_of(VehicleFound(vehicle, customer, open_jobs))
    return IntakePage(
        vehicle=row,
        typed=typed,
        told=told(problems),
        facts=_facts(book_said(office.book), typed, problems),
        axles=[_axle(book_said(office.book), axle, vehicle, typed, ticked) for axle in AXLES],
        mail_choices=mail_choices(),
        email=customer.email if customer is not None else "",
        warnings=[
            _("Job {number} is open on this vehicle already: {complaint}", number=job.number, complaint=job.complaint)
            for job in open_jobs
        ],
        earlier=earlier,
        reminders=reminders,
        title=_("Intake of {what}", what=row.plate or row.words),
    )


def _facts(book: Book, typed: Mapping[str, str], problems: Iterable[Problem]) -> list[FactField]:
    """The facts asked for: those a problem names, and those answered on this form before."""
    wanted = [found for one in problems if (found := fact_wanted(one)) is not None]
    wanted += [(axle, key) for axle in AXLES for key in book.facts if typed.get(f"{axle}.{key}")]
    return [fact_field(book, axle, key) for axle, key in dict.fromkeys(sorted(wanted))]


def _axle(
    book: Book, axle: Axle, vehicle: Vehicle, typed: Mapping[str, str], ticked: Mapping[str, tuple[str, ...]]
) -> AxleWork:
    facts = vehicle.front if axle is Axle.FRONT else vehicle.rear
    rows = sorted(rows_for(book, axle, facts), key=lambda row: row.offer.family != "inspection")
    layout = book.layouts.get(facts.layout)
    refused: dict[str, NotHere] = {}
    for row in rows:
        if row.refusal is not None:
            title = _title(book, row) if row.offer.refusal is None else _family_title(book, row)
            refused.setdefault(title, NotHere(title, say(row.refusal)))
    return AxleWork(
        key=str(axle),
        title=_(AXLE_WORDS[axle]),
        layout=layout.name if layout is not None else "",
        rows=[_row(book, row, typed, ticked) for row in rows if row.refusal is None],
        not_here=list(refused.values()),
    )


def _row(book: Book, row: Row, typed: Mapping[str, str], ticked: Mapping[str, tuple[str, ...]]) -> WorkRow:
    values = ticked.get(f"{row.key}.sides", ())
    refused = row.offer.refused_choices
    return WorkRow(
        key=row.key,
        title=_title(book, row),
        pairs=row.offer.pairs,
        ticks=[Tick(side or "yes", _side_words(row, side), (side or "yes") in values) for side in row.sides],
        options=[
            OptionField(
                name=f"{row.key}.{name}",
                ask=option.ask,
                choices=[
                    Choice(key, _capital(words)) for key, words in option.choices.items() if (name, key) not in refused
                ],
                value=typed.get(f"{row.key}.{name}", ""),
                may_not_apply=name in row.idle,
            )
            for name, option in row.asked.items()
        ],
    )


def _side_words(row: Row, side: str) -> str:
    if side:
        return _(SIDE_WORDS[side])
    return _("Whole vehicle") if row.axle is Axle.BOTH else _("This axle")


def _family_title(book: Book, row: Row) -> str:
    """What a procedure is called before any choice: its title as far as the first comma or blank."""
    return book.procedures[row.offer.procedure].title.partition("{")[0].partition(",")[0].strip()


def _title(book: Book, row: Row) -> str:
    options = book.procedures[row.offer.procedure].options
    return ", ".join((_family_title(book, row), *(options[name].choices[value] for name, value in row.chosen)))


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
