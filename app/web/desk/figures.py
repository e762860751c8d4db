"""Torque figures: what is known, what open sheets wait for, entering one, typing it again, withdrawing it."""

from __future__ import annotations

from datetime import datetime
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from app.domain.offering import FigurePlace, figure_keys
from app.domain.packet import Axle, Stage
from app.domain.problems import NotFound, Refused
from app.domain.records import FigureRecord, Role
from app.ports import Unit
from app.texts import sentence, word
from app.trade.fastener import INCH_GRADES, METRIC_CLASSES
from app.trade.quantity import Dimension, Quantity
from app.trade.units import show as shown_amount
from app.use_cases.keep_figure import (
    CONDITIONS,
    FigureWanted,
    Stand,
    asked_for,
    compare_figure,
    editions,
    enter_figure,
    may_see,
    models,
    open_editions,
    stand_of,
    withdraw_figure,
)
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.read_figure import STAGES, FigureTyped
from app.use_cases.see_sheet import time_words
from app.web.desk.said import go, said_lines
from app.web.desk.tools import UNITS
from app.web.forms import Form, TheForm
from app.web.pages.figures import AskedLine, ComparePage, Edition, FigureFormPage, FiguresPage, PlaceLine, PlacePage
from app.web.pages.form import FormShown, sent_back
from app.web.rendering import page
from app.web.security import Desk, TheOffice, Visitor

router = APIRouter()
AXLES = [(axle.value, word(f"axle.{axle.value}")) for axle in (Axle.FRONT, Axle.REAR)]
LOOKED_AT = 120


# --- Lists ---------------------------------------------------------------------------------------------------------


@router.get("/desk/figures")
def show(request: Request, office: TheOffice, visitor: Desk, model: str = "") -> Response:
    chosen = model.strip()[:LOOKED_AT]
    places = {place.key: place for place in figure_keys(office.book)}
    with office.store.reading() as unit:
        waiting = asked_for(unit)
        names = models(unit)
        lines = _place_lines(unit, visitor, places, chosen, waiting) if chosen else []
        asked = [
            AskedLine(
                place_address(name, axle, key), name, word(f"axle.{axle}"), _place_words(places, key),
                word(f"stand.{stand_of(editions(unit, name, Axle(axle), key)).value}"), ", ".join(numbers),
            )
            for (name, axle, key), numbers in waiting.items()
            if not chosen or name == chosen
        ]  # fmt: skip
    shown = FiguresPage(
        asked=asked,
        models=[(f"/desk/figures?{urlencode({'model': name})}", name, name == chosen) for name in names],
        model=chosen,
        new_at=f"/desk/figures/new?{urlencode({'model': chosen})}" if chosen else "/desk/figures/new",
        known=[one for one in lines if one.state != Stand.ABSENT],
        others=[one for one in lines if one.state == Stand.ABSENT],
        said=said_lines(request.query_params),
    )
    return page(request, "desk/figures.html", shown, visitor)


def _place_lines(
    unit: Unit,
    visitor: Visitor,
    places: dict[str, FigurePlace],
    model: str,
    waiting: dict[tuple[str, str, str], list[str]],
) -> list[PlaceLine]:
    return [
        _place_line(unit, visitor, place, model, axle, waiting.get((model, axle.value, place.key), []))
        for axle in (Axle.FRONT, Axle.REAR)
        for place in places.values()
    ]


def _place_line(unit: Unit, visitor: Visitor, place: FigurePlace, model: str, axle: Axle, jobs: list[str]) -> PlaceLine:
    found = editions(unit, model, axle, place.key)
    stand = stand_of(found)
    newest = next((one for one in reversed(found) if not one.withdrawn), None)
    seen = newest is not None and may_see(newest, stand, visitor.person_id, visitor.person.roles)
    return PlaceLine(
        link=place_address(model, axle.value, place.key),
        place=_capital(place.place),
        axle=word(f"axle.{axle.value}"),
        state=stand.value,
        state_words=word(f"stand.{stand.value}"),
        figure=newest.text if newest is not None and seen and stand is not Stand.DIFFERS else "",
        source=_source(newest) if newest is not None else "",
        waiting=", ".join(jobs),
    )


@router.get("/desk/figures/place")
def show_place(
    request: Request, office: TheOffice, visitor: Desk, model: str = "", axle: str = "", place: str = ""
) -> Response:
    places = {one.key: one for one in figure_keys(office.book)}
    if place not in places or axle not in dict(AXLES) or not model.strip():
        raise NotFound("figure", place)
    name = model.strip()[:LOOKED_AT]
    with office.store.reading() as unit:
        found = editions(unit, name, Axle(axle), place)
        people = {one.id: one.name for one in unit.people.all()}
        zone = zone_of(the_shop(unit))
    now, stand = office.clock(), stand_of(found)

    def when(at: datetime | None) -> str:
        return time_words(at, now, zone) if at is not None else ""

    asked = {"model": name, "axle": axle, "place": place}
    shown = PlacePage(
        title=_capital(places[place].place),
        model=name,
        axle=word(f"axle.{axle}"),
        model_at=f"/desk/figures?{urlencode({'model': name})}",
        state_words=word(f"stand.{stand.value}"),
        new_at=f"/desk/figures/new?{urlencode(asked)}",
        new_words="Enter the figure" if stand is Stand.ABSENT else "Correct it: enter a new edition",
        editions=[
            _edition(one, stand, visitor, people, when(one.typed_at), when(one.compared_at)) for one in reversed(found)
        ],
        procedures=", ".join(word(f"procedure.{key}") for key in places[place].procedures),
        said=said_lines(request.query_params),
    )
    return page(request, "desk/figure_place.html", shown, visitor)


def _edition(
    one: FigureRecord, stand: Stand, visitor: Visitor, people: dict[str, str], typed_at: str, compared_at: str
) -> Edition:
    seen = may_see(one, stand, visitor.person_id, visitor.person.roles)
    is_open = not one.withdrawn and one.compared_by is None
    state = "withdrawn" if one.withdrawn else ("counts" if one.counts and stand is Stand.COUNTS else stand.value)
    if one.counts and stand is not Stand.COUNTS:
        state = "older"
    words = {"withdrawn": "withdrawn", "older": "counted until a newer one was typed"}
    mine = one.typed_by == visitor.person_id
    comparing = is_open and (visitor.has(Role.FOREMAN) if stand is Stand.DIFFERS else not mine)
    return Edition(
        number=str(one.edition),
        state=state,
        state_words=words.get(state) or word(f"stand.{state}"),
        figure=one.text if seen else "",
        stages=_windows(one) if seen else [],
        bolt=_bolt(one),
        source=_source(one),
        typed=f"{people.get(one.typed_by, 'someone')}, {typed_at}",
        compared=f"{people.get(one.compared_by, 'someone')}, {compared_at}" if one.compared_by else "",
        because=one.confirmed_because if seen else "",
        compare_at=f"/desk/figures/{one.id}/compare" if comparing else "",
        withdraw_at="" if one.withdrawn else f"/desk/figures/{one.id}/withdraw",
        note=_note(stand, mine=mine, is_open=is_open, seen=seen),
    )


def _note(stand: Stand, *, mine: bool, is_open: bool, seen: bool) -> str:
    if not is_open:
        return ""
    if stand is Stand.DIFFERS:
        return "" if seen and not mine else "Two readings differ. The foreman types it from the source."
    if mine:
        return "You typed it. Another person types it from the source, without seeing yours."
    return "Type it from the source yourself. What the first person typed is not shown until then."


def _windows(one: FigureRecord) -> list[str]:
    """Each stage's window in words, with where the window came from when that is the house."""
    return [_window(stage, one.unit) for stage in one.stages]


def _window(stage: Stage, unit: str) -> str:
    if stage.target_mdeg is not None:
        low, high = Quantity(Dimension.ANGLE, stage.low_mdeg or 0), Quantity(Dimension.ANGLE, stage.high_mdeg or 0)
        return f"{stage.text}: counts from {shown_amount(low, '°', 1)} to {shown_amount(high, '°', 1)}"
    low, high = Quantity(Dimension.TORQUE, stage.low_mnm or 0), Quantity(Dimension.TORQUE, stage.high_mnm or 0)
    ends = f"{stage.text}: counts from {shown_amount(low, unit, 1)} to {shown_amount(high, unit, 1)}"
    if stage.target_mnm is not None and "±" not in stage.text:
        return f"{ends} (no tolerance printed; house rule ±4 %, as ISO 6789 allows a class A wrench)"
    return ends


def _bolt(one: FigureRecord) -> str:
    parts = [one.thread, one.strength, one.lubrication]
    parts += ["new every time"] if one.one_time else []
    parts += ["second person signs too"] if one.critical else []
    return " · ".join(part for part in parts if part)


def _source(one: FigureRecord) -> str:
    return ", ".join(part for part in (one.document, one.page, one.document_date) if part)


def place_address(model: str, axle: str, key: str) -> str:
    return f"/desk/figures/place?{urlencode({'model': model, 'axle': axle, 'place': key})}"


def _address_of(one: FigureRecord) -> str:
    return place_address(one.model, one.axle.value, one.place_key)


def _place_words(places: dict[str, FigurePlace], key: str) -> str:
    return _capital(places[key].place) if key in places else key.replace("_", " ")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


# --- Entering ------------------------------------------------------------------------------------------------------


@router.get("/desk/figures/new")
def new(
    request: Request, office: TheOffice, visitor: Desk, model: str = "", axle: str = "", place: str = ""
) -> Response:
    known = {one.key: one for one in figure_keys(office.book)}
    with office.store.reading() as unit:
        unit_shown = the_shop(unit).torque_unit
    values = {"model": model[:LOOKED_AT], "axle": axle, "place_key": place, "shape": "single", "unit": unit_shown}
    if place in known:
        values |= {
            "one_time": "yes" if known[place].one_time else "",
            "critical": "yes" if known[place].critical else "",
        }
    return page(request, "desk/figure_new.html", _form_page(office, FormShown(values), [], ""), visitor)


@router.post("/desk/figures")
def enter(request: Request, office: TheOffice, visitor: Desk, form: TheForm) -> Response:
    try:
        entered = enter_figure(office, visitor.person_id, _wanted(form))
    except Refused as refused:
        doubts = [one for one in refused.problems if one.code == "figure_doubt"]
        key = str(doubts[0].details["figure"]) if doubts else form.text("confirmed")
        says = [str(one.details["says"]) for one in doubts]
        shown = _form_page(office, sent_back(form, refused.problems), says, key)
        return page(request, "desk/figure_new.html", shown, visitor, status=422)
    return go(_address_of(entered.figure), "entered", entered.renewed, entered.gaps)


def _wanted(form: Form) -> FigureWanted:
    names = (
        "model", "axle", "place_key", "thread", "strength", "condition", "lubrication", "document", "page",
        "document_date", "confirmed", "confirmed_because",
    )  # fmt: skip
    return FigureWanted(
        typed=_torque(form),
        one_time=form.text("one_time") == "yes",
        critical=form.text("critical") == "yes",
        **{name: form.text(name) for name in names},
    )


def _torque(form: Form) -> FigureTyped:
    rows = tuple((form.text(f"stage{at}"), form.text(f"tolerance{at}")) for at in range(1, STAGES + 1))
    names = ("shape", "unit", "target", "tolerance", "low", "high")
    return FigureTyped(**{name: form.text(name) for name in names}, stages=rows)


def _form_page(office: Office, form: FormShown, doubts: list[str], key: str) -> FigureFormPage:
    with office.store.reading() as unit:
        names = models(unit)
    return FigureFormPage(
        models=names,
        axles=AXLES,
        places=[(one.key, _capital(one.place)) for one in figure_keys(office.book)],
        units=UNITS,
        conditions=list(CONDITIONS.items()),
        strengths=[*METRIC_CLASSES, *INCH_GRADES],
        doubts=doubts,
        doubt_key=key,
        form=form,
    )


# --- Comparing and withdrawing -------------------------------------------------------------------------------------


@router.get("/desk/figures/{figure_id}/compare")
def compare(request: Request, office: TheOffice, visitor: Desk, figure_id: str) -> Response:
    with office.store.reading() as unit:
        values = {"shape": "single", "unit": the_shop(unit).torque_unit}
    figure, found = _with_editions(office, figure_id)
    if figure not in open_editions(found):
        return RedirectResponse(_address_of(figure), 303)
    return page(request, "desk/figure_compare.html", _compare_page(office, visitor, figure, FormShown(values)), visitor)


@router.post("/desk/figures/{figure_id}/compare")
def compared(request: Request, office: TheOffice, visitor: Desk, figure_id: str, form: TheForm) -> Response:
    figure, _ = _with_editions(office, figure_id)
    try:
        outcome = compare_figure(office, visitor.person_id, figure_id, _torque(form))
    except Refused as refused:
        shown = _compare_page(office, visitor, figure, sent_back(form, refused.problems))
        return page(request, "desk/figure_compare.html", shown, visitor, status=422)
    return go(_address_of(figure), "counts" if outcome.agrees else "differs", outcome.renewed)


@router.post("/desk/figures/{figure_id}/withdraw")
def withdraw(office: TheOffice, visitor: Desk, figure_id: str, form: TheForm) -> Response:
    figure, _ = _with_editions(office, figure_id)
    renewed = withdraw_figure(office, visitor.person_id, figure_id)
    return go(_address_of(figure), "withdrawn", renewed)


def _with_editions(office: Office, figure_id: str) -> tuple[FigureRecord, list[FigureRecord]]:
    with office.store.reading() as unit:
        figure = unit.figures.get(figure_id)
        if figure is None:
            raise NotFound("figure", figure_id)
        return figure, editions(unit, figure.model, figure.axle, figure.place_key)


def _compare_page(office: Office, visitor: Visitor, figure: FigureRecord, form: FormShown) -> ComparePage:
    places = {one.key: one for one in figure_keys(office.book)}
    with office.store.reading() as unit:
        found = editions(unit, figure.model, figure.axle, figure.place_key)
        people = {one.id: one.name for one in unit.people.all()}
    stand, waiting = stand_of(found), open_editions(found)
    is_foreman = visitor.has(Role.FOREMAN)
    refusal = ""
    if figure not in waiting:
        refusal = sentence("figure_settled")
    elif stand is Stand.DIFFERS and not is_foreman:
        refusal = sentence("figure_foreman")
    elif all(one.typed_by == visitor.person_id for one in waiting):
        refusal = sentence("figure_yours")
    facts = [
        ("Vehicle", figure.model),
        ("Axle", word(f"axle.{figure.axle.value}")),
        ("Joint", _place_words(places, figure.place_key)),
        ("Look it up in", figure.document),
        ("Page", figure.page),
        ("Date or edition", figure.document_date),
        ("Bolt", _bolt(figure)),
    ]
    differs = stand is Stand.DIFFERS and is_foreman
    return ComparePage(
        action=f"/desk/figures/{figure.id}/compare",
        back_at=_address_of(figure),
        facts=[(label, text) for label, text in facts if text],
        units=UNITS,
        refusal=refusal,
        readings=[(people.get(one.typed_by, "someone"), one.text) for one in waiting] if differs else [],
        form=form,
    )
