"""The spec book: what is known, what open sheets wait for, entering one, typing it again, withdrawing it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import TypeAlias
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from app.domain.packet import Axle, Stage
from app.domain.problems import NotFound, Refused
from app.domain.records import FigureKind, FigureRecord, Role
from app.domain.spec_places import SpecPlace, spec_places
from app.language.procedures import said
from app.language.speech import _
from app.ports import Unit
from app.texts import sentence, time_words, word
from app.trade.fastener import INCH_GRADES, METRIC_CLASSES
from app.trade.quantity import Dimension, Quantity
from app.trade.units import show as shown_amount
from app.use_cases.decide_sheets import Undecided, decide_sheet, undecided
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
from app.use_cases.rests_on import source_of
from app.web.desk.said import go, said_lines
from app.web.desk.tools import UNITS
from app.web.forms import Form, TheForm
from app.web.pages.figures import (
    AmountFields,
    AskedLine,
    ComparePage,
    Edition,
    FigureFormPage,
    FiguresPage,
    KindLines,
    PlaceLine,
    PlacePage,
    SheetLine,
    SheetPage,
    SheetsPage,
)
from app.web.pages.form import FormShown, sent_back
from app.web.rendering import page
from app.web.security import Desk, Foreman, TheOffice, Visitor

router = APIRouter()
LOOKED_AT = 120


# --- Lists ---------------------------------------------------------------------------------------------------------


@router.get("/desk/figures")
def show(request: Request, office: TheOffice, visitor: Desk, model: str = "") -> Response:
    chosen = model.strip()[:LOOKED_AT]
    places = spec_places(office.book)
    with office.store.reading() as unit:
        waiting = asked_for(unit)
        names = models(unit)
        books = {name: _by_place(unit, name) for name in {chosen, *(name for name, _, _ in waiting)} if name}
        count = len(undecided(unit))
    asked = [
        AskedLine(
            place_address(name, axle, key), name, word(f"axle.{axle}"), _place_words(places, key),
            word(f"stand.{stand_of(books[name].get((Axle(axle), key), [])).value}"), ", ".join(numbers),
        )
        for (name, axle, key), numbers in waiting.items()
        if not chosen or name == chosen
    ]  # fmt: skip
    shown = FiguresPage(
        asked=asked,
        models=[(f"/desk/figures?{urlencode({'model': name})}", name, name == chosen) for name in names],
        model=chosen,
        new_at=f"/desk/figures/new?{urlencode({'model': chosen})}" if chosen else "/desk/figures/new",
        kinds=_kinds(visitor, places, chosen, books[chosen], waiting) if chosen else [],
        undecided=count,
        said=said_lines(request.query_params),
    )
    return page(request, "desk/figures.html", shown, visitor)


Book: TypeAlias = dict[tuple[Axle, str], list[FigureRecord]]


def _by_place(unit: Unit, model: str) -> Book:
    """Every edition of a model's figures by axle and place, oldest first."""
    found: Book = {}
    for one in sorted(unit.figures.where(model=model), key=lambda one: one.edition):
        found.setdefault((one.axle, one.place_key), []).append(one)
    return found


def _kinds(
    visitor: Visitor,
    places: dict[str, SpecPlace],
    model: str,
    book: Book,
    waiting: dict[tuple[str, str, str], list[str]],
) -> list[KindLines]:
    kinds = []
    for kind in FigureKind:
        lines = [
            _place_line(
                visitor, place, model, axle, book.get((axle, place.key), []),
                waiting.get((model, axle.value, place.key), []),
            )
            for axle in Axle
            for place in places.values()
            if place.kind is kind and axle in place.axles
        ]  # fmt: skip
        kinds.append(
            KindLines(
                key=kind.value,
                words=_capital(word(f"figure_kind.{kind.value}")),
                new_at=f"/desk/figures/new?{urlencode({'model': model, 'kind': kind.value})}",
                known=[one for one in lines if one.state != Stand.ABSENT],
                others=[one for one in lines if one.state == Stand.ABSENT],
            )
        )
    return kinds


def _place_line(
    visitor: Visitor, place: SpecPlace, model: str, axle: Axle, found: list[FigureRecord], jobs: list[str]
) -> PlaceLine:
    stand = stand_of(found)
    newest = next((one for one in reversed(found) if not one.withdrawn), None)
    seen = newest is not None and may_see(newest, stand, visitor.person_id, visitor.person.roles)
    return PlaceLine(
        link=place_address(model, axle.value, place.key),
        place=_capital(said(_(place.words))),
        axle=word(f"axle.{axle.value}"),
        state=stand.value,
        state_words=word(f"stand.{stand.value}"),
        figure=said(newest.text) if newest is not None and seen and stand is not Stand.DIFFERS else "",
        source=source_of(newest) if newest is not None else "",
        waiting=", ".join(jobs),
    )


@router.get("/desk/figures/place")
def show_place(
    request: Request, office: TheOffice, visitor: Desk, model: str = "", axle: str = "", place: str = ""
) -> Response:
    places = spec_places(office.book)
    if place not in places or axle not in {one.value for one in places[place].axles} or not model.strip():
        raise NotFound("figure", place)
    name = model.strip()[:LOOKED_AT]
    with office.store.reading() as unit:
        found = editions(unit, name, Axle(axle), place)
        people = {one.id: one.name for one in unit.people.all()}
        zone = zone_of(the_shop(unit))
        ids = {one.id for one in found}
        sheets = [_("Job {number}", number=one.job.number) for one in undecided(unit) if one.figure.id in ids]
    now, stand = office.clock(), stand_of(found)
    newest = found[-1] if found else None

    def when(at: datetime | None) -> str:
        return time_words(at, now, zone) if at is not None else ""

    asked = {"model": name, "axle": axle, "place": place}
    shown = PlacePage(
        title=_capital(said(_(places[place].words))),
        model=name,
        axle=word(f"axle.{axle}"),
        model_at=f"/desk/figures?{urlencode({'model': name})}",
        state_words=word(f"stand.{stand.value}"),
        new_at=f"/desk/figures/new?{urlencode(asked)}",
        new_words=_("Enter the figure") if stand is Stand.ABSENT else _("Correct it: enter a new edition"),
        next_at=_next_at(newest, places[place].kind) if newest is not None else "",
        editions=[
            _edition(one, stand, visitor, people, when(one.typed_at), when(one.compared_at)) for one in reversed(found)
        ],
        procedures=", ".join(word(f"procedure.{key}") for key in places[place].procedures),
        sheets=sheets,
        said=said_lines(request.query_params),
    )
    return page(request, "desk/figure_place.html", shown, visitor)


def _edition(
    one: FigureRecord, stand: Stand, visitor: Visitor, people: dict[str, str], typed_at: str, compared_at: str
) -> Edition:
    seen = may_see(one, stand, visitor.person_id, visitor.person.roles)
    is_open = not one.withdrawn and one.compared_by is None
    state = "withdrawn" if one.withdrawn else ("counts" if one.counts and stand is Stand.COUNTS else stand.value)
    if one.replaced and not one.withdrawn:
        state = "replaced"
    elif one.counts and stand is not Stand.COUNTS:
        state = "older"
    words = {
        "withdrawn": "withdrawn",
        "replaced": _("replaced by a newer edition"),
        "older": _("counted until a newer one was typed"),
    }
    mine = one.typed_by == visitor.person_id
    comparing = is_open and (visitor.has(Role.FOREMAN) if stand is Stand.DIFFERS else not mine)
    return Edition(
        number=str(one.edition),
        state=state,
        state_words=words.get(state) or word(f"stand.{state}"),
        figure=said(one.text) if seen else "",
        stages=_windows(one) if seen else [],
        bolt=_bolt(one),
        source=source_of(one),
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
        return "" if seen and not mine else _("Two readings differ. The foreman types it from the source.")
    if mine:
        return _("You typed it. Another person types it from the source, without seeing yours.")
    return _("Type it from the source yourself. What the first person typed is not shown until then.")


def _windows(one: FigureRecord) -> list[str]:
    """Each stage's window in words, with where the window came from when that is the house."""
    if one.kind is FigureKind.RIDE_HEIGHT:
        return [_("To: {point}", point=one.point), _("With {tyre}", tyre=one.tyre)]
    return [_window(stage, one.unit) for stage in one.stages]


def _window(stage: Stage, unit: str) -> str:
    if stage.target_mdeg is not None:
        low, high = Quantity(Dimension.ANGLE, stage.low_mdeg or 0), Quantity(Dimension.ANGLE, stage.high_mdeg or 0)
        return _(
            "{what}: counts from {shown_amount} to {shown_amount_2}",
            what=said(stage.text),
            shown_amount=shown_amount(low, "°", 1),
            shown_amount_2=shown_amount(high, "°", 1),
        )
    low, high = Quantity(Dimension.TORQUE, stage.low_mnm or 0), Quantity(Dimension.TORQUE, stage.high_mnm or 0)
    ends = _(
        "{what}: counts from {shown_amount} to {shown_amount_2}",
        what=said(stage.text),
        shown_amount=shown_amount(low, unit, 1),
        shown_amount_2=shown_amount(high, unit, 1),
    )
    if stage.target_mnm is not None and "±" not in stage.text:
        return _("{ends} (no tolerance printed; house rule ±4 %, as ISO 6789 allows a class A wrench)", ends=ends)
    return ends


def _bolt(one: FigureRecord) -> str:
    parts = [one.thread, one.strength, one.lubrication]
    parts += [_("new every time")] if one.one_time else []
    parts += [_("second person signs too")] if one.critical else []
    return " · ".join(part for part in parts if part)


def place_address(model: str, axle: str, key: str) -> str:
    return f"/desk/figures/place?{urlencode({'model': model, 'axle': axle, 'place': key})}"


def _address_of(one: FigureRecord) -> str:
    return place_address(one.model, one.axle.value, one.place_key)


def _next_at(one: FigureRecord, kind: FigureKind) -> str:
    """The form for the next figure of the same kind, out of the same document."""
    same = {
        "model": one.model, "axle": one.axle.value, "kind": kind.value, "document": one.document,
        "document_date": one.document_date,
    }  # fmt: skip
    return f"/desk/figures/new?{urlencode(same)}"


def _place_words(places: dict[str, SpecPlace], key: str) -> str:
    return _capital(said(_(places[key].words))) if key in places else key.replace("_", " ")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


# --- Entering ------------------------------------------------------------------------------------------------------


@router.get("/desk/figures/new")
def new(
    request: Request,
    office: TheOffice,
    visitor: Desk,
    model: str = "",
    axle: str = "",
    place: str = "",
    kind: str = "",
    document: str = "",
    document_date: str = "",
) -> Response:
    known = spec_places(office.book)
    with office.store.reading() as unit:
        unit_shown = the_shop(unit).torque_unit
    chosen = known[place].kind if place in known else _kind_of(kind)
    is_joint = chosen is FigureKind.FASTENER
    values = {
        "model": model[:LOOKED_AT], "axle": axle, "place_key": place, "shape": "single",
        "unit": unit_shown if is_joint else "", "document": document[:160], "document_date": document_date[:40],
    }  # fmt: skip
    if place in known:
        values |= {
            "one_time": "yes" if known[place].one_time else "",
            "critical": "yes" if known[place].critical else "",
        }
    return page(request, "desk/figure_new.html", _form_page(office, chosen, FormShown(values), [], ""), visitor)


@router.post("/desk/figures")
def enter(request: Request, office: TheOffice, visitor: Desk, form: TheForm) -> Response:
    try:
        entered = enter_figure(office, visitor.person_id, _wanted(form))
    except Refused as refused:
        doubts = [one for one in refused.problems if one.code == "figure_doubt"]
        key = str(doubts[0].details["figure"]) if doubts else form.text("confirmed")
        says = [str(one.details["says"]) for one in doubts]
        shown = _form_page(office, _kind_of(form.text("kind")), sent_back(form, refused.problems), says, key)
        return page(request, "desk/figure_new.html", shown, visitor, status=422)
    return go(_address_of(entered.figure), "entered", entered.renewed, entered.gaps)


def _kind_of(text: str) -> FigureKind:
    return FigureKind(text) if text in set(FigureKind) else FigureKind.FASTENER


AMOUNT_FIELDS = {
    FigureKind.FASTENER: AmountFields(),
    FigureKind.RIDE_HEIGHT: AmountFields(window=True, tyre=True),
    FigureKind.ALIGNMENT: AmountFields(window=True),
    FigureKind.PLAY: AmountFields(most=True),
    FigureKind.SPRING: AmountFields(value=True),
    FigureKind.MASS: AmountFields(value=True),
    FigureKind.WAIT: AmountFields(value=True),
}


def _wanted(form: Form) -> FigureWanted:
    names = (
        "model", "axle", "place_key", "thread", "strength", "condition", "lubrication", "document", "page",
        "document_date", "confirmed", "confirmed_because", "point",
    )  # fmt: skip
    return FigureWanted(
        typed=_torque(form),
        one_time=form.text("one_time") == "yes",
        critical=form.text("critical") == "yes",
        **{name: form.text(name) for name in names},
    )


def _torque(form: Form) -> FigureTyped:
    rows = tuple((form.text(f"stage{at}"), form.text(f"tolerance{at}")) for at in range(1, STAGES + 1))
    names = ("shape", "unit", "target", "tolerance", "low", "high", "tyre")
    return FigureTyped(**{name: form.text(name) for name in names}, stages=rows)


def _form_page(office: Office, kind: FigureKind, form: FormShown, doubts: list[str], key: str) -> FigureFormPage:
    with office.store.reading() as unit:
        names = models(unit)
    places = [one for one in spec_places(office.book).values() if one.kind is kind]
    axles = [axle for axle in Axle if any(axle in one.axles for one in places)]
    kept = {name: form.value(name) for name in ("model", "axle", "document", "document_date")}
    return FigureFormPage(
        kind=kind.value,
        kinds=[
            (
                f"/desk/figures/new?{urlencode({**kept, 'kind': one.value})}",
                word(f"figure_kind.{one.value}"),
                one is kind,
            )
            for one in FigureKind
        ],
        ends=AMOUNT_FIELDS[kind],
        models=names,
        axles=[(axle.value, word(f"axle.{axle.value}")) for axle in axles],
        places=[(one.key, _capital(said(_(one.words)))) for one in places],
        units=UNITS,
        conditions=[(key, _(words)) for key, words in CONDITIONS.items()],
        strengths=[*METRIC_CLASSES, *INCH_GRADES],
        doubts=doubts,
        doubt_key=key,
        form=form,
    )


# --- Comparing and withdrawing -------------------------------------------------------------------------------------


@router.get("/desk/figures/{figure_id}/compare")
def compare(request: Request, office: TheOffice, visitor: Desk, figure_id: str) -> Response:
    with office.store.reading() as unit:
        torque_unit = the_shop(unit).torque_unit
    figure, found = _with_editions(office, figure_id)
    values = {"shape": "single", "unit": torque_unit if figure.kind is FigureKind.FASTENER else ""}
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
    places = spec_places(office.book)
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
        (_("Vehicle"), figure.model),
        (_("Axle"), word(f"axle.{figure.axle.value}")),
        (_("What"), _place_words(places, figure.place_key)),
        (_("Measured to"), figure.point),
        (_("Look it up in"), figure.document),
        (_("Page"), figure.page),
        (_("Date or edition"), figure.document_date),
        (_("Bolt"), _bolt(figure)),
    ]
    differs = stand is Stand.DIFFERS and is_foreman
    return ComparePage(
        action=f"/desk/figures/{figure.id}/compare",
        back_at=_address_of(figure),
        facts=[(label, text) for label, text in facts if text],
        units=UNITS,
        refusal=refusal,
        readings=[(people.get(one.typed_by, "someone"), _reading(one)) for one in waiting] if differs else [],
        ends=AMOUNT_FIELDS[figure.kind],
        form=form,
    )


def _reading(one: FigureRecord) -> str:
    return _("{what}, with {tyre}", what=said(one.text), tyre=one.tyre) if one.tyre else said(one.text)


# --- Sheets that rest on a corrected figure --------------------------------------------------------------------------


@router.get("/desk/figures/sheets")
def show_sheets(request: Request, office: TheOffice, visitor: Desk) -> Response:
    shown = SheetsPage(_sheet_lines(office, visitor), said_lines(request.query_params))
    return page(request, "desk/figure_sheets.html", shown, visitor)


@router.get("/desk/figures/sheets/{choice_id}")
def show_sheet(request: Request, office: TheOffice, visitor: Foreman, choice_id: str) -> Response:
    return page(request, "desk/figure_sheet.html", _sheet_page(office, visitor, choice_id, FormShown()), visitor)


@router.post("/desk/figures/sheets/{choice_id}")
def decide(request: Request, office: TheOffice, visitor: Foreman, choice_id: str, form: TheForm) -> Response:
    shown = _sheet_page(office, visitor, choice_id, FormShown())
    try:
        choice, _ = decide_sheet(office, visitor.person_id, choice_id, form.text("choice"), form.text("reason"))
    except Refused as refused:
        again = replace(shown, form=sent_back(form, refused.problems))
        return page(request, "desk/figure_sheet.html", again, visitor, status=422)
    return go("/desk/figures/sheets", f"sheet_{choice.value}")


def _sheet_page(office: Office, visitor: Visitor, choice_id: str, form: FormShown) -> SheetPage:
    line = next((one for one in _sheet_lines(office, visitor) if one.id == choice_id), None)
    if line is None:
        raise NotFound("figure_choice", choice_id)
    return SheetPage(line, _("Job {job}: which edition", job=line.job), form)


def _sheet_lines(office: Office, visitor: Visitor) -> list[SheetLine]:
    places = spec_places(office.book)
    with office.store.reading() as unit:
        found = undecided(unit, kept_too=True)
        people = {one.id: one.name for one in unit.people.all()}
        zone = zone_of(the_shop(unit))
    return [_sheet_line(one, places, people, visitor, office.clock(), zone) for one in found]


def _sheet_line(
    one: Undecided,
    places: dict[str, SpecPlace],
    people: dict[str, str],
    visitor: Visitor,
    now: datetime,
    zone: ZoneInfo,
) -> SheetLine:
    choice = one.choice
    when = time_words(choice.decided_at, now, zone) if choice.decided_at is not None else ""
    who = f"{people.get(choice.decided_by, 'someone')}, {when}: {choice.reason}" if choice.decided_by else ""
    return SheetLine(
        id=choice.id,
        job=one.job.number,
        job_at=f"/jobs/{one.job.number}",
        what=f"{_place_words(places, one.figure.place_key)}, {word(f'axle.{one.figure.axle.value}')}",
        place_at=_address_of(one.figure),
        before=_("{what} (edition {edition})", what=said(one.figure.text), edition=one.figure.edition),
        now=_newer(one.newer, visitor),
        state_words=word(f"sheet_choice.{choice.choice.value}"),
        decided=who,
        decide_at=f"/desk/figures/sheets/{choice.id}" if visitor.has(Role.FOREMAN) else "",
    )


def _newer(one: FigureRecord, visitor: Visitor) -> str:
    """The edition that is there now, where this person may read it before it is compared."""
    if one.is_verified:
        return _("{what} (edition {edition})", what=said(one.text), edition=one.edition)
    seen = may_see(one, Stand.WAITS, visitor.person_id, visitor.person.roles)
    waits = _("waits for a second person: on a sheet it counts for nothing until then")
    return (
        _("{what} (edition {edition}), {waits}", what=said(one.text), edition=one.edition, waits=waits)
        if seen
        else _("edition {edition}, {waits}", edition=one.edition, waits=waits)
    )
