"""The tablets: when each was last heard, what it owes, whether it is ready; enrolling, renaming and retiring them."""

from __future__ import annotations

import ipaddress
import secrets
from collections.abc import Mapping, Sequence
from datetime import datetime, tzinfo
from urllib.parse import quote, urlsplit

import segno
from fastapi import APIRouter, Request
from starlette.responses import Response

from app.domain.problems import NotFound, Refused
from app.domain.readiness import ReadinessCheck
from app.domain.records import Tablet
from app.language.speech import _
from app.texts import sentence, time_words, word
from app.use_cases.enrol_tablet import make_code, rename_tablet, retire_tablet
from app.use_cases.floor_view import alarm_shown
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.tablet_alarms import who_worked
from app.web.desk.said import go, said_lines
from app.web.forms import TheForm
from app.web.pages.form import FormShown, sent_back
from app.web.pages.tablets import (
    TabletCodePage,
    TabletLine,
    TabletPage,
    TabletsPage,
    alarm_line,
    entries_words,
    names_words,
)
from app.web.rendering import page
from app.web.security import Desk, Foreman, TheOffice, Visitor

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
            name=one.name,
            link=_address(one.id),
            seen=_when(one.seen_at, now, zone),
            bundle=one.bundle or _("not known"),
            owes=_owes(one),
            readiness=readiness_words(checks.get(one.id), now, zone),
            state=_state(one),
        )
        for one in tablets
    ]
    return page(request, "desk/tablets.html", TabletsPage(lines, said_lines(request.query_params)), visitor)


@router.post("/desk/tablets/codes")
def enrol(request: Request, office: TheOffice, visitor: Foreman, form: TheForm) -> Response:
    """Shown once, as the answer itself: the code is nowhere to be asked for again."""
    code = make_code(office, visitor.person_id, secrets.choice)
    with office.store.reading() as unit:
        zone = zone_of(the_shop(unit))
    base = str(request.app.state.settings.base_url or request.base_url).rstrip("/")
    address = f"{base}/enrol/{code.code}"
    shown = TabletCodePage(
        code=code.code,
        until=f"{code.ends_at.astimezone(zone):%H:%M}",
        address=address,
        qr=segno.make(address, error="m", micro=False).svg_inline(scale=6, border=4, omitsize=True, light="#fff"),
        doubt=why_doubted(base),
    )
    return page(request, "desk/tablet_code.html", shown, visitor)


@router.get("/desk/tablets/{tablet_id}")
def one(request: Request, office: TheOffice, visitor: Foreman, tablet_id: str) -> Response:
    return _show(request, office, visitor, tablet_id)


@router.post("/desk/tablets/{tablet_id}/name")
def rename(request: Request, office: TheOffice, visitor: Foreman, tablet_id: str, form: TheForm) -> Response:
    try:
        rename_tablet(office, tablet_id, form.text("name"))
    except Refused as refused:
        return _show(request, office, visitor, tablet_id, name=sent_back(form, refused.problems), status=422)
    return go(_address(tablet_id), "renamed")


@router.post("/desk/tablets/{tablet_id}/retire")
def retire(request: Request, office: TheOffice, visitor: Foreman, tablet_id: str, form: TheForm) -> Response:
    try:
        retire_tablet(office, visitor.person_id, tablet_id, form.text("reason"))
    except Refused as refused:
        return _show(request, office, visitor, tablet_id, reason=sent_back(form, refused.problems), status=422)
    return go(_address(tablet_id), "retired")


def _show(
    request: Request,
    office: Office,
    visitor: Visitor,
    tablet_id: str,
    *,
    name: FormShown | None = None,
    reason: FormShown | None = None,
    status: int = 200,
) -> Response:
    now = office.clock()
    with office.store.reading() as unit:
        tablet = unit.tablets.get(tablet_id)
        if tablet is None:
            raise NotFound("tablet", tablet_id)
        zone = zone_of(the_shop(unit))
        check = unit.readiness.get(tablet_id)
        people = who_worked(unit, tablet_id, None)
        alarms = [(one, unit.jobs.get(one.job)) for one in unit.tablet_alarms.where(tablet=tablet_id)]
        keys = [key for key in (tablet.enrolled_by, tablet.retired_by) if key]
        names = {key: person.name for key in keys if (person := unit.people.get(key)) is not None}
    lines = [
        (alarm_line(alarm_shown(one, tablet.name, job, now, zone)).words, one.settled_because) for one, job in alarms
    ]
    shown = TabletPage(
        title=tablet.name,
        facts=[*_facts(tablet, now, zone, people, names), (_("Readiness"), readiness_words(check, now, zone))],
        alarms=[
            _("{words} Settled: {because}", words=words, because=because)
            if because
            else _("{words} Not settled yet: look at the Floor.", words=words)
            for words, because in lines
        ],
        owes=_owes(tablet) if tablet.owes else "",
        retired=tablet.retired,
        name_action=f"{_address(tablet_id)}/name",
        retire_action=f"{_address(tablet_id)}/retire",
        name_form=name or FormShown({"name": tablet.name}),
        retire_form=reason or FormShown(),
        said=said_lines(request.query_params),
    )
    return page(request, "desk/tablet.html", shown, visitor, status=status)


def _facts(
    tablet: Tablet, now: datetime, zone: tzinfo, people: Sequence[str], names: Mapping[str, str]
) -> list[tuple[str, str]]:
    enrolled = _(
        "{when}, by {get}", when=_when(tablet.enrolled_at, now, zone), get=names.get(tablet.enrolled_by, "somebody")
    )
    facts = [
        (_("Enrolled"), enrolled if tablet.enrolled_at else _("never")),
        (_("Last heard"), _when(tablet.seen_at, now, zone)),
        (_("Last number here or given up"), str(tablet.last_seq) if tablet.last_seq else _("none yet")),
        (_("Not here yet"), _owes(tablet)),
        (_("Worked there"), names_words(people) or _("nobody yet")),
        (_("Bundle"), tablet.bundle or _("not known")),
        (_("Clock"), _clock(tablet)),
    ]
    if tablet.retired:
        by = names.get(tablet.retired_by, "somebody")
        facts.append((_("Out of use"), f"{_when(tablet.retired_at, now, zone)}, {by}: {tablet.retired_because}"))
    return facts


def _address(tablet_id: str) -> str:
    return f"/desk/tablets/{quote(tablet_id, safe='')}"


def _when(at: datetime | None, now: datetime, zone: tzinfo) -> str:
    return time_words(at, now, zone) if at is not None else _("never yet")


def _owes(tablet: Tablet) -> str:
    entries = entries_words(tablet.owes) if tablet.owes else ""
    count = tablet.photos_waiting
    photos = ("1 photo" if count == 1 else _("{count} photos", count=count)) if count else ""
    return ", ".join(part for part in (entries, photos) if part) or _("nothing")


def _state(tablet: Tablet) -> str:
    if tablet.retired:
        return _("not in use any more")
    return _("in use") if tablet.secret_hash else _("not enrolled")


def _clock(tablet: Tablet) -> str:
    if tablet.said_at is None:
        return _("not known")
    seconds = round(tablet.clock_offset_ms / 1_000)
    if abs(seconds) < 2:
        return "right"
    return _("{abs} s {what}; nothing is decided by it", abs=abs(seconds), what=_("slow") if seconds > 0 else _("fast"))


def why_doubted(base: str) -> str:
    """Why a device that opens this address will refuse to become a tablet there; "" where it will not."""
    address = urlsplit(base)
    try:
        ipaddress.ip_address(address.hostname or "")
    except ValueError:
        return "" if address.scheme == "https" or address.hostname == "localhost" else sentence("tablet_no_https")
    return sentence("tablet_bare_address")


def readiness_words(check: ReadinessCheck | None, now: datetime, zone: tzinfo) -> str:
    """When the tablet last proved itself, and what was missing then."""
    if check is None:
        return sentence("readiness_told.never")
    when = time_words(check.checked_at, now, zone)
    if check.is_ready:
        return sentence("readiness_told.all", when=when)
    points = ", ".join(word(f"readiness.{key}") for key in check.missing)
    return sentence("readiness_told.missing", when=when, points=points)
