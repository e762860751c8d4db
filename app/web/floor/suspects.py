"""The page of a job's suspects, for technician and foreman. It only shows; verdicts are given on the sheet."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from app.domain.bounce import Trait
from app.domain.evidence import Evidence, Place, Said, Traced
from app.domain.packet import Step
from app.domain.records import Role
from app.domain.ruling_out import Group
from app.language.speech import _
from app.texts import word
from app.trade.suspects import Suspect, Weight
from app.use_cases.learn_suspects import see_learned
from app.use_cases.see_suspects import EXPLAINED, SuspectsSeen, Telling, see_suspects
from app.web.pages.floor import job_address, step_address
from app.web.pages.suspects import (
    AxleRuledOut,
    CountShown,
    GroupShown,
    OwnCountsPage,
    SuspectShown,
    SuspectsPage,
    TestShown,
    UncountedShown,
    WeightShown,
)
from app.web.reckoner.wording import number
from app.web.rendering import page, wants_fragment
from app.web.security import TheOffice, Visitor, need

router = APIRouter()

FloorPerson = Annotated[Visitor, Depends(need(Role.TECHNICIAN, Role.FOREMAN))]
# Below half a point of a hundred nothing is said: it would be put out as nought.
LEAST_POINT = 0.005


@router.get("/jobs/{number}/suspects")
def look(request: Request, office: TheOffice, visitor: FloorPerson, number: str) -> Response:
    shown = suspects_page(see_suspects(office, number), may_see_job=visitor.has(Role.FOREMAN))
    return page(request, "floor/suspects.html", shown, visitor)


@router.get("/jobs/{number}/suspects/own")
def look_at_own(request: Request, office: TheOffice, visitor: FloorPerson, number: str) -> Response:
    """Counted apart from the ranking, and fetched apart from it: it reads a hundred sheets."""
    own = see_learned(office, number)
    shown = OwnCountsPage(
        title=_("This workshop's own closed jobs"),
        back_link=job_address(number, "suspects"),
        jobs=own.jobs,
        most=own.most,
        counts=[CountShown(_part(one.family), one.first, one.mended, one.gone, one.back) for one in own.counts],
    )
    template = "floor/_suspects_own.html" if wants_fragment(request) else "floor/suspects_own.html"
    return page(request, template, shown, visitor)


def suspects_page(seen: SuspectsSeen, *, may_see_job: bool) -> SuspectsPage:
    evidence, number = seen.evidence, seen.job.number
    ranked = seen.ranked[:EXPLAINED]
    return SuspectsPage(
        title=_("Suspects, job {number}", number=number),
        plate=seen.vehicle.plate,
        sheet_link=job_address(number, "sheet"),
        job_link=job_address(number),
        may_see_job=may_see_job,
        complaint=seen.job.complaint,
        has_inspection=evidence is not None,
        fits=bool(seen.ranked),
        begun=evidence is not None and bool(evidence.seen),
        answers=[(_part_of(one.step), one.words) for one in evidence.complaint] if evidence else [],
        unasked=[(one.title, step_address(number, one.id)) for one in evidence.unasked] if evidence else [],
        ruled_out=_ruled_out(seen, evidence) if evidence else [],
        waiting=_uncounted(number, evidence.waiting) if evidence else [],
        overruled=_uncounted(number, evidence.overruled) if evidence else [],
        suspects=[_suspect(seen, evidence, one) for one in ranked] if evidence else [],
        less=[(_place(evidence.places[one.part]), _of_hundred(one.figure)) for one in seen.ranked[EXPLAINED:]]
        if evidence
        else [],
        tests=[_test(number, one) for one in seen.telling],
        own_link=job_address(number, "suspects/own"),
    )


def _part_of(step: Step) -> str:
    return step.trial.part if step.trial is not None else step.title


def _part(family: str) -> str:
    return word(f"suspect_part.{family}")


def _place(place: Place) -> str:
    where = word(f"corner.{place.axle}_{place.side}") if place.side else word(f"axle.{place.axle}")
    return f"{_part(place.family)}, {where}"


def _ruled_out(seen: SuspectsSeen, evidence: Evidence) -> list[AxleRuledOut]:
    packet = seen.sheet.packet
    lines = packet.line_by_id if packet is not None else {}
    return [
        AxleRuledOut(word(f"axle.{lines[line].axle}"), [_group(seen.job.number, one) for one in groups])
        for line, groups in evidence.groups.items()
    ]


def _group(job: str, one: Group) -> GroupShown:
    return GroupShown(
        title=_capital(word(f"rule_out.{one.key}")),
        judged=str(one.judged),
        left=[(step.title, step_address(job, step.id)) for step in one.left],
        found=[step.title for step in one.found],
    )


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _uncounted(job: str, said: tuple[Said, ...]) -> list[UncountedShown]:
    return [UncountedShown(f"{one.step.title}: {_seen_words(one)}", step_address(job, one.step.id)) for one in said]


def _seen_words(said: Said) -> str:
    beyond = _("over the limit: {what}", what=", ".join(said.beyond)) if said.beyond else ""
    return "; ".join(filter(None, (said.seen, beyond, *(_trace_words(said.traced) if said.traced else ()))))


def _trace_words(traced: Traced) -> Iterator[str]:
    ratio = number(traced.reading.damping_ratio, 2)
    if not traced.says:
        yield _("by the trace a damping ratio of {ratio}, nothing against it", ratio=ratio)
    if Trait.BELOW in traced.says:
        yield _("by the trace a damping ratio of {ratio}, less than is usual for a road car", ratio=ratio)
    if Trait.ABOVE in traced.says:
        yield _("by the trace a damping ratio of {ratio}, more than is usual for a road car", ratio=ratio)
    if Trait.APART in traced.says and traced.other is not None:
        other = number(traced.other.damping_ratio, 2)
        yield _(
            "by the trace a damping ratio of {ratio}, far less than the {other} at the other side",
            ratio=ratio,
            other=other,
        )


def _suspect(seen: SuspectsSeen, evidence: Evidence, one: Suspect) -> SuspectShown:
    place = evidence.places[one.part]
    return SuspectShown(
        part=_place(place),
        figure=_of_hundred(one.figure),
        began=_of_hundred(one.prior),
        outside=not seen.table.parts[place.family].suspension,
        weights=[_weight(seen.job.number, evidence.said[each.sign], each) for each in one.weights],
        others=_points(one.by_others) if abs(one.by_others) >= LEAST_POINT else "",
    )


def _weight(job: str, said: Said, one: Weight) -> WeightShown:
    title = word("suspects.complaint") if said.sign == "complaint" else said.step.title
    link = step_address(job, said.step.id)
    return WeightShown(title, _seen_words(said), link, one.speaks_for, _points(one.by), one.yields)


def _points(by: float) -> str:
    """Points of a hundred with their sign; what is less than half a point is nought."""
    points = round(by * 100)
    return f"+{points}" if points > 0 else f"−{-points}" if points < 0 else "0"


def _of_hundred(share: float) -> str:
    points = round(share * 100)
    return _("under 1") if points < 1 else _("over 99") if points > 99 else str(points)


def _test(job: str, one: Telling) -> TestShown:
    step = one.test.step
    held = " / ".join(word(f"support.{state}") for state in step.supports)
    return TestShown(step.title, step_address(job, step.id), f"{one.bits:.2f}", held, one.now)
