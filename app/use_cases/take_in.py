"""Take a vehicle in: what the customer complains of, when it is promised, what is to be done, facts still missing.

The choices of an intake form are read here into lines; opening the job itself is `open_job`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from app.domain.compiling import Order, compile_packet
from app.domain.conditions import Subject, judge
from app.domain.grounds import axle_subject, ground_of
from app.domain.offering import Offer, procedures_for
from app.domain.packet import Axle, Packet
from app.domain.problems import NotFound, Problem, Refused
from app.domain.procedure import Book
from app.domain.procedure_schema import OptionText
from app.domain.records import AxleFacts, Job, JobLine, Vehicle
from app.trade.problems import TradeProblem
from app.trade.quantity import Dimension
from app.trade.units import parse_quantity
from app.use_cases.comeback import answer_of, earlier_jobs
from app.use_cases.keep_vehicle import add_facts
from app.use_cases.office import Office, the_shop
from app.use_cases.open_job import JobWanted, open_job, problems_of, wrenches
from app.use_cases.rests_on import own_figures, torque_figures, windows, with_book

BOTH_SIDES = "both"
ODOMETER_LIMIT_KM = 3_000_000
# House rule: a promise further off than this is a slip in the year.
PROMISED_WITHIN = timedelta(days=366)
_GROUPS = re.compile(r"(?<=[0-9])[ ,.'’\u00a0\u202f](?=[0-9]{3}(?![0-9]))")
_FORM_ID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")


@dataclass(frozen=True, slots=True)
class Row:
    """One piece of work on one axle as the form offers it. `chosen` are options that are part of what it is.

    key: what its fields are called by (`front.ball_joint.lower`). why_not: why it is not for this axle, else "".
    """

    key: str
    axle: Axle
    offer: Offer
    chosen: tuple[tuple[str, str], ...]
    asked: Mapping[str, OptionText]
    idle: frozenset[str]
    refusal: Problem | None

    @property
    def sides(self) -> tuple[str, ...]:
        if self.offer.scope != "corner":
            return ("",)
        return (BOTH_SIDES, "left", "right") if self.offer.pairs else ("left", "right")


@dataclass(frozen=True, slots=True)
class IntakeTyped:
    """An intake form as typed. `promised_at` is read by the caller, with `problems` it found.

    ticked: the sides of each row, by `f"{row.key}.sides"`.
    """

    vehicle: str
    promised_at: datetime | None
    fields: Mapping[str, str]
    ticked: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()


def rows_for(book: Book, axle: Axle, facts: AxleFacts) -> tuple[Row, ...]:
    """What can be done on an axle, corner work by its part ("lower", "upper"); and what cannot, with why."""
    if facts.layout not in book.layouts or ground_of(book, facts) is None:
        return ()
    subject = axle_subject(book, facts)
    rows: list[Row] = []
    for offer in procedures_for(book, facts):
        if offer.scope == "vehicle" and axle is Axle.REAR:
            continue
        place = _place_option(book, offer)
        for choice in offer.options[place].choices if place else ("",):
            rows.append(_row(axle, subject, offer, place, choice))
    return tuple(rows)


def _place_option(book: Book, offer: Offer) -> str:
    """The option that says which part it is, where the title begins with it; "" if there is none."""
    procedure = book.procedures[offer.procedure]
    first = next(iter(procedure.options), "")
    is_part = offer.scope == "corner" and f"{{{first}_word}}" in procedure.title
    return first if is_part and first in offer.options else ""


def _row(axle: Axle, subject: Subject, offer: Offer, place: str, choice: str) -> Row:
    chosen = ((place, choice),) if place else ()
    known = Subject({**subject.known, **({place: (choice,)} if place else {})}, subject.doubtful)
    asked, idle = {}, set()
    for name, option in offer.options.items():
        value = judge(option.when, known).value
        if name == place or value is False:
            continue
        asked[name] = option
        if value is None:
            # Whether it is asked hangs on another answer of this row, or on a fact that is asked for first.
            idle.add(name)
    key = ".".join((str(axle), offer.procedure, *((choice,) if choice else ())))
    refusal = offer.refusal or offer.refused_choices.get((place, choice))
    return Row(key, Axle.BOTH if offer.scope == "vehicle" else axle, offer, chosen, asked, frozenset(idle), refusal)


def take_in(office: Office, person: str, typed: IntakeTyped) -> Job:
    """Open a job from an intake form; facts given on it go to the vehicle's record first.

    Raises: Refused with every problem found, each with the field of the form it concerns; NotFound.
    """
    with office.store.reading() as unit:
        before = unit.vehicles.get(typed.vehicle)
        if before is None:
            raise NotFound("vehicle", typed.vehicle)
        form_id = typed.fields.get("form_id", "")
        sent_before = bool(form_id) and unit.jobs.get(form_id) is not None
        own, known_wrenches, shop = own_figures(unit, before.model), wrenches(unit), the_shop(unit)
        earlier = earlier_jobs(unit, before.id, office.clock())
    vehicle, problems = add_facts(office.book, before, typed.fields)
    odometer, odometer_problems = _odometer(typed.fields.get("odometer_km", ""))
    lines, places = lines_from(office.book, vehicle, typed)
    comeback_of, comeback_unclear = answer_of(typed.fields.get("comeback", ""), earlier)
    wanted = JobWanted(
        vehicle=vehicle.id,
        complaint=typed.fields.get("complaint", ""),
        promised_at=typed.promised_at,
        odometer_km=odometer,
        lines=lines,
        id=form_id if _FORM_ID.fullmatch(form_id) else "",
        comeback_of=comeback_of,
    )
    if not sent_before:
        problems += [*problems_of(wanted, office.clock()), *comeback_unclear, *odometer_problems, *typed.problems]
        problems += _promised_far(typed.promised_at, office.clock())
        told = with_book(vehicle, own)
        order = Order("", "", 1, told, lines, torque_figures(own), known_wrenches, shop, windows=windows(own, vehicle))
        problems += _placed(places, compile_packet(office.book, order)) if lines else []
        if problems:
            raise Refused(list({(one.code, one.field): one for one in problems}.values()))
    if vehicle != before:
        with office.store.writing() as unit:
            unit.vehicles.save(vehicle)
            unit.commit()
    return open_job(office, person, wanted)


def _promised_far(promised_at: datetime | None, now: datetime) -> list[Problem]:
    far = promised_at is not None and promised_at - now > PROMISED_WITHIN
    return [Problem("promised_far", "promised_at")] if far else []


def lines_from(book: Book, vehicle: Vehicle, typed: IntakeTyped) -> tuple[tuple[JobLine, ...], dict[str, str]]:
    """The lines ticked, and for each line's id the key of its row on the form."""
    lines: list[JobLine] = []
    places: dict[str, str] = {}
    for row in all_rows(book, vehicle):
        for side in _ticked(row, typed.ticked.get(f"{row.key}.sides", ())):
            line_id = f"l{len(lines) + 1}"
            places[line_id] = row.key
            lines.append(
                JobLine(line_id, row.offer.procedure, row.axle, side, _options(book, row, vehicle, typed.fields))
            )
    return tuple(lines), places


def all_rows(book: Book, vehicle: Vehicle) -> tuple[Row, ...]:
    return (*rows_for(book, Axle.FRONT, vehicle.front), *rows_for(book, Axle.REAR, vehicle.rear))


def _ticked(row: Row, values: tuple[str, ...]) -> tuple[str, ...]:
    if row.offer.scope != "corner":
        return ("",) if values else ()
    return tuple(side for side in ("left", "right") if side in values or BOTH_SIDES in values)


def _options(book: Book, row: Row, vehicle: Vehicle, fields: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """The row's options as answered. One that is not asked after the others' answers is left out."""
    facts = vehicle.rear if row.axle is Axle.REAR else vehicle.front
    answers = {name: fields.get(f"{row.key}.{name}", "") for name in row.asked}
    given = {**dict(row.chosen), **{name: value for name, value in answers.items() if value}}
    subject = axle_subject(book, facts)
    known = Subject({**subject.known, **{name: (value,) for name, value in given.items()}}, subject.doubtful)
    options = book.procedures[row.offer.procedure].options
    return tuple((name, value) for name, value in given.items() if judge(options[name].when, known).value is not False)


def _placed(places: Mapping[str, str], made: Packet | tuple[Problem, ...]) -> Iterator[Problem]:
    """Compiling's problems with the field of the form in place of the line's id."""
    for one in () if isinstance(made, Packet) else made:
        line, _, name = one.field.partition(".")
        key = places.get(line)
        if key is None:
            yield one
        else:
            yield Problem(one.code, f"{key}.{name}" if name else f"{key}.sides", one.details)


def _odometer(typed: str) -> tuple[int | None, list[Problem]]:
    """Whole kilometres, thousands parted in any way; or miles, when they are typed as miles."""
    text = _GROUPS.sub("", typed.strip())
    if not text:
        return None, []
    try:
        km = parse_quantity(text, Dimension.LENGTH, default_unit="km").value // 1_000_000_000
    except TradeProblem:
        km = -1
    return (km, []) if 0 <= km <= ODOMETER_LIMIT_KM else (None, [Problem("odometer_odd", "odometer_km")])


def fact_wanted(problem: Problem) -> tuple[Axle, str] | None:
    """The axle and fact a problem asks for, if that is what it does."""
    axle, _, fact = problem.field.partition(".")
    return (Axle(axle), fact) if problem.code == "fact_missing" and axle in (Axle.FRONT, Axle.REAR) else None
