"""The page of a job's bounce tests, and what one trace says, asked by whoever has just recorded it."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import PlainTextResponse, Response

from app.domain.bounce import Trace, beside_typical, within_of
from app.domain.records import Role
from app.language.procedures import said
from app.language.speech import N_, _
from app.texts import say_ruling, time_words, word
from app.trade.damping import Confidence, Counted, TraceReading, Typical
from app.trade.problems import TradeProblem
from app.trade.quantity import Dimension, from_si
from app.use_cases.see_bounces import Bounce, Reckoned, reckon, see_bounces
from app.web.pages.bounces import BounceShown, BouncesPage
from app.web.pages.floor import job_address, step_address
from app.web.reckoner.wording import number, percent, worded
from app.web.rendering import page
from app.web.security import TheOffice, Visitor, need

router = APIRouter()

FloorPerson = Annotated[Visitor, Depends(need(Role.TECHNICIAN, Role.FOREMAN))]
LONGEST = 2_000
WIDTH, HEIGHT = 480, 160
_CONFIDENCE = {Confidence.GOOD: N_("a clear trace"), Confidence.FAIR: N_("a fair trace")}
_BESIDE = {
    Typical.BELOW: N_("less than is usual for a road car"),
    Typical.WITHIN: N_("as is usual for a road car"),
    Typical.ABOVE: N_("more than is usual for a road car"),
}


@router.get("/jobs/{number}/bounces")
def look(request: Request, office: TheOffice, visitor: FloorPerson, number: str) -> Response:
    seen = see_bounces(office, number)
    groups: dict[str, list[BounceShown]] = {}
    for one in seen.bounces:
        where = word(f"axle.{one.step.axle}")
        groups.setdefault(where[:1].upper() + where[1:], []).append(_shown(number, one, office.clock(), seen.zone))
    shown = BouncesPage(
        title=_("Bounce tests, job {number}", number=number),
        plate=seen.vehicle.plate,
        sheet_link=job_address(number, "sheet"),
        suspects_link=job_address(number, "suspects") if seen.inspected else "",
        groups=list(groups.items()),
    )
    return page(request, "floor/bounces.html", shown, visitor)


@router.get("/bounce/reckon")
def reckon_one(visitor: FloorPerson, trace: Annotated[str, Query(max_length=LONGEST)] = "") -> Response:
    """In a sentence, for the page that recorded it. Nothing is kept by asking."""
    found = reckon(trace)
    words = " · ".join(_trace_lines(found.reading)) if found.reading is not None else refused_words(found)
    return PlainTextResponse(words, headers={"Cache-Control": "no-store"})


def _shown(number: str, one: Bounce, now: datetime, zone: ZoneInfo) -> BounceShown:
    taken, traced = one.taken, one.traced
    when = datetime.fromtimestamp(taken.mark.at_ms / 1_000, UTC) if taken is not None else None
    return BounceShown(
        title=said(one.step.title),
        link=step_address(number, one.step.id),
        swings=taken.text if taken is not None else "",
        who=f"{taken.mark.name}, {time_words(when, now, zone)}" if taken is not None and when else "",
        counted=_counted_words(one.counted) if one.counted is not None else "",
        trace=_trace_lines(traced.reading) if traced is not None and traced.reading is not None else [],
        refused=refused_words(traced) if traced is not None and traced.reading is None else "",
        points=points(traced.trace) if traced is not None and traced.trace is not None else "",
        picture=_picture(one, traced),
    )


def _picture(one: Bounce, traced: Reckoned | None) -> str:
    if traced is None or traced.trace is None:
        return ""
    seconds = round(len(traced.trace.samples) / max(1, traced.trace.rate))
    return _("{title}: {seconds} seconds of the body's movement", title=said(one.step.title), seconds=seconds)


def _counted_words(counted: Counted) -> str:
    low, high = number(counted.low, 2), number(counted.high, 2)
    return _("by the count, a damping ratio from {low} to {high}", low=low, high=high)


def _trace_lines(reading: TraceReading) -> list[str]:
    return [
        _(
            "damping ratio {ratio} ± {within}, {confidence}",
            ratio=number(reading.damping_ratio, 2),
            within=number(from_si(Dimension.RATIO, within_of(reading)), 2),
            confidence=_(_CONFIDENCE[reading.confidence]),
        ),
        _(_beside(reading)),
        _("the body swings at {frequency}", frequency=worded(reading.frequency, places=1)),
        _("{share} of the samples took no part", share=percent(reading.lost, 0)),
    ]


def _beside(reading: TraceReading) -> str:
    beside = beside_typical(reading)
    return _BESIDE[beside] if beside is not None else N_("at the edge of what is usual for a road car")


def refused_words(found: Reckoned) -> str:
    if found.refused is None:
        return _("What was recorded cannot be read as a trace. Count the swings, or record it again.")
    return _sentence(found.refused)


def _sentence(problem: TradeProblem) -> str:
    why = problem.details.get("reason") or problem.argument
    label, blanks = _("The trace"), {"typed": "", "example": ""}
    return say_ruling(f"sum_{problem.code}", {**problem.details, **blanks, "label": label, "why": why})


def points(trace: Trace) -> str:
    """The trace as the points of a line in a field of `WIDTH` by `HEIGHT`, rest in the middle."""
    most = max((abs(one) for one in trace.samples if one is not None), default=0) or 1
    last = max(1, len(trace.samples) - 1)
    half = HEIGHT // 2
    return " ".join(
        f"{round(WIDTH * place / last)},{half - round((half - 4) * one / most)}"
        for place, one in enumerate(trace.samples)
        if one is not None
    )
