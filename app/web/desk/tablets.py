"""The tablets the office knows: when each was last heard, and how far its entries have come."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from app.domain.dates import time_words
from app.use_cases.office import the_shop, zone_of
from app.web.pages.shop import TabletLine, TabletsPage
from app.web.rendering import page
from app.web.security import Desk, TheOffice

router = APIRouter()


@router.get("/desk/tablets")
def show(request: Request, office: TheOffice, visitor: Desk) -> Response:
    now = office.clock()
    with office.store.reading() as unit:
        zone = zone_of(the_shop(unit))
        tablets = sorted(unit.tablets.all(), key=lambda one: (one.retired, one.name.casefold()))
    lines = [
        TabletLine(
            one.name,
            time_words(one.seen_at, now, zone) if one.seen_at else "never yet",
            str(one.last_seq) if one.last_seq else "none yet",
            "not in use any more" if one.retired else "",
        )
        for one in tablets
    ]
    return page(request, "desk/tablets.html", TabletsPage(lines), visitor)
