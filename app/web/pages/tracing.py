"""What the pages about tracing receive."""

from __future__ import annotations

from dataclasses import dataclass, field

from app.language.speech import _
from app.use_cases.see_pace import Pace


@dataclass(frozen=True, slots=True)
class RecallLine:
    link: str
    what: str
    words: str


@dataclass(frozen=True, slots=True)
class TracingPage:
    wrenches: list[RecallLine]
    figures: list[RecallLine]
    may_see_pace: bool
    title: str = field(default_factory=lambda: _("Tracing"))


@dataclass(frozen=True, slots=True)
class TracedLine:
    job: str
    job_link: str
    day: str
    place: str
    who: str
    read: str
    really: str
    window: str
    verdict: str
    is_out: bool


@dataclass(frozen=True, slots=True)
class VehicleTraced:
    """A vehicle to be called in. recheck: the number of its re-check's job, "" before there is one."""

    plate: str
    model: str
    link: str
    customer: str
    reach: str
    recheck: str
    recheck_link: str
    lines: list[TracedLine]


@dataclass(frozen=True, slots=True)
class RecallPage:
    """vehicles: those with a joint that left its window and stands so. others: the rest of what was traced.

    pinned: open jobs whose sheet still holds the figure, whether it was signed against or not.
    """

    title: str
    why: str
    since: str
    counts: str
    action: str
    vehicles: list[VehicleTraced]
    to_open: int
    others: list[TracedLine]
    others_left: int
    pinned: list[tuple[str, str]]
    said: list[str]


@dataclass(frozen=True, slots=True)
class PacePage:
    pace: Pace
    title: str = field(default_factory=lambda: _("How long steps take"))
