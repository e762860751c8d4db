"""The tablets the office knows: when each was last heard, and how far its entries have come."""

from __future__ import annotations

from datetime import datetime, tzinfo

from fastapi import APIRouter, Request
from starlette.responses import Response

from app.domain.dates import time_words
from app.domain.readiness import ReadinessCheck
from app.texts import sentence, word
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
        checks = {one.tablet: one for one in unit.readiness.all()}
        tablets = sorted(unit.tablets.all(), key=lambda one: (one.retired, one.name.casefold()))
    lines = [
        TabletLine(
            one.name,
            time_words(one.seen_at, now, zone) if one.seen_at else "never yet",
            str(one.last_seq) if one.last_seq else "none yet",
            readiness_words(checks.get(one.id), now, zone),
            "not in use any more" if one.retired else "",
        )
        for one in tablets
    ]
    return page(request, "desk/tablets.html", TabletsPage(lines), visitor)


def readiness_words(check: ReadinessCheck | None, now: datetime, zone: tzinfo) -> str:
    """When the tablet last proved itself, and what was missing then."""
    if check is None:
        return sentence("readiness_told.never")
    when = time_words(check.checked_at, now, zone)
    if check.is_ready:
        return sentence("readiness_told.all", when=when)
    points = ", ".join(word(f"readiness.{key}") for key in check.missing)
    return sentence("readiness_told.missing", when=when, points=points)
