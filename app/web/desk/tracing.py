"""Tracing: a wrench out of true, a figure corrected, a vehicle that came back; and how long steps take."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, tzinfo
from urllib.parse import quote, urlencode

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from app.domain.records import Role
from app.domain.tracing import Traced
from app.language.procedures import said
from app.language.speech import N_, _
from app.texts import sentence, word
from app.trade.torque_tool import Place
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.see_pace import see_pace
from app.use_cases.shop_time import date_words
from app.use_cases.trace_uses import (
    Recall,
    corrected_figures,
    open_rechecks,
    pinned_to,
    recall_figure,
    recall_wrench,
    recheck_id,
    torque_words,
    window_words,
)
from app.web.desk.said import said_lines
from app.web.forms import TheForm
from app.web.pages.tracing import (
    PacePage,
    RecallLine,
    RecallPage,
    TracedLine,
    TracingPage,
    VehicleTraced,
)
from app.web.rendering import page
from app.web.security import Desk, Foreman, TheOffice, Visitor

router = APIRouter()
# What a page shows of the readings that stayed inside; all are counted.
MOST_OTHERS = 200
SAID = ("opened", "there", "not_possible")
VERDICTS = {
    Place.BELOW: N_("too little"),
    Place.ABOVE: N_("too much"),
    Place.WITHIN: N_("inside its window"),
    "": N_("no window"),
}


@router.get("/desk/tracing")
def overview(request: Request, office: TheOffice, visitor: Desk) -> Response:
    with office.store.reading() as unit:
        tools = {one.id: one for one in unit.tools.all()}
        wrenches = [
            RecallLine(
                f"/desk/tracing/calibrations/{one.id}", f"{tools[one.tool].tag}, {tools[one.tool].name}",
                _("out of true on {date_words}", date_words=date_words(one.done_on)),
            )
            for one in reversed(unit.calibrations.all())
            if not one.passes
        ]  # fmt: skip
        figures = [
            RecallLine(
                f"/desk/tracing/figures/{one.id}",
                _("{model}, {axle} axle: {place}", model=one.model, axle=one.axle,
                  place=one.place_key.replace("_", " ")),
                _("{what}, edition {edition}", what=one.text, edition=one.edition),
            )
            for one in corrected_figures(unit)
        ]  # fmt: skip
    return page(request, "desk/tracing.html", TracingPage(wrenches, figures, visitor.has(Role.FOREMAN)), visitor)


@router.get("/desk/tracing/calibrations/{calibration_id}")
def wrench(request: Request, office: TheOffice, visitor: Desk, calibration_id: str) -> Response:
    return _shown(request, office, visitor, recall_wrench(office, calibration_id), f"calibrations/{calibration_id}")


@router.post("/desk/tracing/calibrations/{calibration_id}/rechecks")
def recheck_wrench(office: TheOffice, visitor: Desk, calibration_id: str, form: TheForm) -> Response:
    return _opened(office, visitor, recall_wrench(office, calibration_id), f"calibrations/{calibration_id}")


@router.get("/desk/tracing/figures/{figure_id}")
def figure(request: Request, office: TheOffice, visitor: Desk, figure_id: str) -> Response:
    return _shown(request, office, visitor, recall_figure(office, figure_id), f"figures/{figure_id}")


@router.post("/desk/tracing/figures/{figure_id}/rechecks")
def recheck_figure(office: TheOffice, visitor: Desk, figure_id: str, form: TheForm) -> Response:
    return _opened(office, visitor, recall_figure(office, figure_id), f"figures/{figure_id}")


@router.get("/desk/tracing/pace")
def pace(request: Request, office: TheOffice, visitor: Foreman) -> Response:
    seen = see_pace(office)
    steps = tuple(replace(one, procedure=word(f"procedure.{one.procedure}")) for one in seen.steps)
    return page(request, "desk/pace.html", PacePage(replace(seen, steps=steps)), visitor)


def _opened(office: Office, visitor: Visitor, recall: Recall, where: str) -> Response:
    made = open_rechecks(office, visitor.person_id, recall)
    asked = {"opened": len(made.opened), "there": len(made.there), "not_possible": len(made.not_possible)}
    return RedirectResponse(f"/desk/tracing/{where}?{urlencode(asked)}", 303)


def _said(query: Mapping[str, str]) -> list[str]:
    """What became of the jobs asked for, from the address; only small numbers are believed."""
    found = {name: int(query[name]) for name in SAID if re.fullmatch(r"[0-9]{1,4}", query.get(name, ""))}
    return said_lines(query) + [
        sentence(f"rechecks.{name}", count=count) for name, count in found.items() if count or name == "opened"
    ]


def _shown(request: Request, office: Office, visitor: Visitor, recall: Recall, where: str) -> Response:
    with office.store.reading() as unit:
        zone = zone_of(the_shop(unit))
        jobs = {vehicle: unit.jobs.get(recheck_id(recall, vehicle)) for vehicle in recall.by_vehicle}
        pinned = [(one.number, f"/jobs/{quote(one.number)}") for one in pinned_to(unit, recall.figure)]
    vehicles = []
    for vehicle, traced in recall.by_vehicle.items():
        whose, job = recall.whose[traced[0].use.job], jobs[vehicle]
        vehicles.append(
            VehicleTraced(
                whose.plate or _("no plate"), whose.model, f"/desk/vehicles/{vehicle}/history", whose.customer,
                " · ".join(one for one in (whose.phone, whose.email) if one) or _("no phone or address"),
                job.number if job else "", f"/jobs/{quote(job.number)}" if job else "",
                [_line(recall, one, zone) for one in traced],
            )
        )  # fmt: skip
    others = [one for one in recall.traced if not one.wants_recheck]
    out = sum(one.leaves for one in recall.traced)
    shown = RecallPage(
        title=_("What was tightened so"),
        why=recall.why,
        since=_("Since {date_words}, the day it was last known to be good.", date_words=date_words(recall.since))
        if recall.since
        else "",
        counts=_(
            "{count} readings on record; {out} left their window, on {count_2} vehicles they still stand so.",
            count=len(recall.traced),
            out=out,
            count_2=len(vehicles),
        ),
        action=f"/desk/tracing/{where}/rechecks",
        vehicles=vehicles,
        to_open=sum(not one.recheck for one in vehicles),
        others=[_line(recall, one, zone) for one in others[-MOST_OTHERS:][::-1]],
        others_left=max(0, len(others) - MOST_OTHERS),
        pinned=pinned,
        said=_said(request.query_params),
    )
    return page(request, "desk/recall.html", shown, visitor)


def _line(recall: Recall, one: Traced, zone: tzinfo) -> TracedLine:
    use, whose = one.use, recall.whose.get(one.use.job)
    verdict = _(VERDICTS[one.place])
    if one.leaves and use.replaced_by is not None:
        verdict = _("{verdict}; tightened again since", verdict=verdict)
    return TracedLine(
        whose.number if whose else "", f"/jobs/{quote(whose.number)}" if whose else "",
        date_words(datetime.fromtimestamp(use.heard_at_ms / 1_000, UTC).astimezone(zone).date()),
        said(use.place) if use.is_first else _("{place}, second reading", place=said(use.place)), use.name,
        _("{what} with {tool}", what=use.text, tool=use.tool),
        torque_words(one.given, recall.unit), window_words(use.low, use.high, recall.unit), verdict, one.leaves,
    )  # fmt: skip
