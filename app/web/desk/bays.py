"""Bays: what stands in them, what they carry, when their lift was inspected."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from app.domain.problems import NotFound, Refused
from app.domain.records import Bay, LiftKind, ToolKind
from app.language.speech import _
from app.texts import word
from app.trade.quantity import Dimension
from app.use_cases.keep_bay import BayWanted, add_bay, change_bay
from app.use_cases.office import Office
from app.use_cases.open_job import rating_words
from app.web.desk.said import go, said_lines
from app.web.desk.tools import in_full
from app.web.forms import Form, TheForm
from app.web.pages.bays import BayLine, BayPage, BaysPage
from app.web.pages.form import FormShown, sent_back
from app.web.rendering import page
from app.web.security import Desk, TheOffice

router = APIRouter()


def _lifts() -> list[tuple[str, str]]:
    return [(kind.value, word(f"lift.{kind.value}")) for kind in LiftKind]


@router.get("/desk/bays")
def show(request: Request, office: TheOffice, visitor: Desk) -> Response:
    with office.store.reading() as unit:
        bays = unit.bays.all()
    lines = [_line(one) for one in sorted(bays, key=lambda one: (not one.active, one.name.casefold()))]
    return page(request, "desk/bays.html", BaysPage(lines, said_lines(request.query_params)), visitor)


@router.get("/desk/bays/new")
def new(request: Request, office: TheOffice, visitor: Desk) -> Response:
    return page(
        request, "desk/bay.html", BayPage(_("New bay"), "/desk/bays", True, _lifts(), _lift_tools(office)), visitor
    )


@router.post("/desk/bays")
def add(request: Request, office: TheOffice, visitor: Desk, form: TheForm) -> Response:
    try:
        add_bay(office, _wanted(form, active=True))
    except Refused as refused:
        shown = BayPage(
            _("New bay"), "/desk/bays", True, _lifts(), _lift_tools(office), sent_back(form, refused.problems)
        )
        return page(request, "desk/bay.html", shown, visitor, status=422)
    return go("/desk/bays", "kept")


@router.get("/desk/bays/{bay_id}")
def one(request: Request, office: TheOffice, visitor: Desk, bay_id: str) -> Response:
    with office.store.reading() as unit:
        bay = unit.bays.get(bay_id)
    if bay is None:
        raise NotFound("bay", bay_id)
    values = {
        "name": bay.name,
        "lift": bay.lift.value,
        "capacity": _kg(bay.capacity_g),
        "inspected_on": bay.inspected_on.isoformat() if bay.inspected_on else "",
        "active": "yes" if bay.active else "",
        "lift_tool": bay.lift_tool or "",
    }
    shown = BayPage(bay.name, f"/desk/bays/{bay.id}", False, _lifts(), _lift_tools(office), FormShown(values))
    return page(request, "desk/bay.html", shown, visitor)


@router.post("/desk/bays/{bay_id}")
def change(request: Request, office: TheOffice, visitor: Desk, bay_id: str, form: TheForm) -> Response:
    try:
        change_bay(office, bay_id, _wanted(form, active=form.text("active") == "yes"))
    except Refused as refused:
        address, back = f"/desk/bays/{bay_id}", sent_back(form, refused.problems)
        shown = BayPage(form.text("name"), address, False, _lifts(), _lift_tools(office), back)
        return page(request, "desk/bay.html", shown, visitor, status=422)
    return go("/desk/bays", "kept")


def _lift_tools(office: Office) -> list[tuple[str, str]]:
    with office.store.reading() as unit:
        return [(one.id, f"{one.tag}, {one.name}, {rating_words(one)}") for one in unit.tools.where(kind=ToolKind.LIFT)]


def _wanted(form: Form, *, active: bool) -> BayWanted:
    names = ("name", "lift", "capacity", "inspected_on")
    return BayWanted(**{name: form.text(name) for name in names}, active=active, lift_tool=form.text("lift_tool"))


def _line(bay: Bay) -> BayLine:
    is_flat = bay.lift is LiftKind.FLAT
    inspected = bay.inspected_on.isoformat() if bay.inspected_on else (_("no lift") if is_flat else _("never entered"))
    return BayLine(
        f"/desk/bays/{bay.id}", bay.name, word(f"lift.{bay.lift.value}"), _kg(bay.capacity_g), inspected,
        "" if bay.active else _("not in use"),
    )  # fmt: skip


def _kg(grams: int) -> str:
    return in_full(Dimension.MASS, grams, "kg")
