"""The workshop's own facts and choices."""

from __future__ import annotations

import zoneinfo

from fastapi import APIRouter, Request
from starlette.responses import Response

from app.domain.problems import Refused
from app.language.catalogue import LANGUAGES
from app.use_cases.keep_shop import ShopWanted, keep_shop
from app.use_cases.office import the_shop
from app.web.desk.said import go, said_lines
from app.web.desk.tools import UNITS
from app.web.forms import TheForm
from app.web.pages.form import FormShown, sent_back
from app.web.pages.shop import ShopPage
from app.web.rendering import page
from app.web.security import Desk, TheOffice

router = APIRouter()
FIELDS = (
    "name", "address", "email", "phone", "timezone", "torque_unit", "gate_minutes", "stand_margin_percent",
    "compressor_margin_percent", "retorque_km", "retorque_days", "watch_months", "watch_km", "comeback_days",
    "language",
)  # fmt: skip


@router.get("/desk/workshop")
def show(request: Request, office: TheOffice, visitor: Desk) -> Response:
    with office.store.reading() as unit:
        shop = the_shop(unit)
    values = {name: str(getattr(shop, name)) for name in FIELDS}
    return page(request, "desk/workshop.html", _page(FormShown(values), said_lines(request.query_params)), visitor)


@router.post("/desk/workshop")
def keep(request: Request, office: TheOffice, visitor: Desk, form: TheForm) -> Response:
    wanted = ShopWanted(**{name: form.text(name) for name in FIELDS})
    try:
        _, renewed = keep_shop(office, visitor.person_id, wanted)
    except Refused as refused:
        shown = _page(sent_back(form, refused.problems), [])
        return page(request, "desk/workshop.html", shown, visitor, status=422)
    return go("/desk/workshop", "kept", renewed)


def _page(form: FormShown, said: list[str]) -> ShopPage:
    return ShopPage(UNITS, sorted(zoneinfo.available_timezones()), list(LANGUAGES.items()), form, said)
