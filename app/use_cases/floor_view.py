"""The floor: bays against one day's hours, and everything that waits for the foreman. `floor_of` is pure.

Shares of the board's width are texts like "12.50%", reckoned in whole numbers, so that a drawing needs no arithmetic.
Sentences for reasons are not made here; their codes and details go to the page.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from enum import StrEnum

from app.domain.packet import Step
from app.domain.problems import Problem
from app.domain.records import (
    AlarmKind,
    Bay,
    Customer,
    Job,
    JobState,
    LiftKind,
    Person,
    Placement,
    Tablet,
    TabletAlarm,
    Tool,
    ToolKind,
    Vehicle,
)
from app.domain.sheet import Aside, Hold, Sheet, in_order
from app.domain.standing import keeps_open, open_points, waits_for, waits_for_second
from app.language.procedures import said
from app.language.speech import N_, _
from app.ports import Unit
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.place_job import axles_not_weighed, inspection_due
from app.use_cases.shop_time import at_words, date_words, day_words, span_words

# The hours a board shows at least; placements and the present moment widen it. House rule.
FIRST_HOUR, LAST_HOUR = 7, 18
# How long before its date a tool or lift is shown as due soon. House rule.
SOON = timedelta(days=14)
# How long a tablet may have entries that are not here before the Floor says so. House rule.
OWING_AFTER = timedelta(hours=1)
LIFT_WORDS: Mapping[LiftKind, str] = {
    LiftKind.TWO_POST: N_("two-post lift"),
    LiftKind.FOUR_POST: N_("four-post lift"),
    LiftKind.SCISSOR: N_("scissor lift"),
    LiftKind.DRIVE_ON: N_("drive-on lift"),
    LiftKind.FLAT: N_("flat, stands only"),
}


class State(StrEnum):
    """Where a job stands, seen from the floor; the first that is true."""

    HANDED_BACK = "handed_back"
    CANCELLED = "cancelled"
    HELD = "held"
    READY = "ready"
    SECOND = "second"
    IN_WORK = "in_work"
    NOT_BEGUN = "not_begun"


@dataclass(frozen=True)
class FloorFacts:
    """What the floor is made from. placements: of the day shown. standing: of open jobs, not over, on whatever day.

    earlier: of jobs that are comebacks, the number of the job whose complaint it is again.
    """

    now: datetime
    zone: tzinfo
    day: date
    bays: Sequence[Bay]
    placements: Sequence[Placement]
    standing: Mapping[str, Sequence[Placement]]
    jobs: Mapping[str, Job]
    sheets: Mapping[str, Sheet]
    vehicles: Mapping[str, Vehicle]
    customers: Mapping[str, Customer]
    people: Mapping[str, Person]
    tools: Sequence[Tool]
    mishaps: frozenset[str]
    tablets: Sequence[Tablet] = ()
    alarms: Sequence[TabletAlarm] = ()
    earlier: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Standing:
    """How far a job is. `step`: the number of the first open step that nothing has to come before, 0 when none is."""

    state: State
    done: int
    total: int
    step: int
    step_title: str
    held: str
    seconds: int
    asides: int


@dataclass(frozen=True, slots=True)
class Shown:
    """A job as every part of the floor names it. reachable: whether its customer has an e-mail address.

    comeback_of: the number of the job whose complaint it is again; "" for none.
    """

    number: str
    plate: str
    vehicle: str
    customer: str
    reachable: bool
    complaint: str
    promised: str
    standing: Standing
    comeback_of: str = ""


@dataclass(frozen=True, slots=True)
class Item:
    """A placement on the board. `mark` numbers it there; x and width are shares of the board's width.

    before, after: whether it goes on beyond the board's edges. overdue: its time has passed and the job is not done.
    late: it will end after the time the customer was promised.
    """

    mark: int
    placement: str
    job: Shown
    technician: str
    span: str
    x: str
    width: str
    before: bool
    after: bool
    is_now: bool
    is_over: bool
    overdue: bool
    late: bool


@dataclass(frozen=True, slots=True)
class Row:
    """A bay. `against`: what speaks against using it now, as a problem's code and details."""

    bay: str
    name: str
    lift: str
    capacity_g: int
    inspected: str
    against: Problem | None
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class Tick:
    at: str
    words: str
    third: bool


@dataclass(frozen=True, slots=True)
class Unplaced:
    """An open job with no bay. was: when its last placement ended, if it had one."""

    job: Shown
    was: str
    not_weighed: str
    missing: int


@dataclass(frozen=True, slots=True)
class HoldShown:
    job: Shown
    key: str
    step: str
    reason: str
    name: str
    at: str


@dataclass(frozen=True, slots=True)
class SecondShown:
    """What waits for a second person; `firsts` are those who may not be it."""

    job: Shown
    step: str
    step_title: str
    words: str
    firsts: str


@dataclass(frozen=True, slots=True)
class AsideShown:
    """itself: it is settled by doing the same again as it should be; else the foreman settles it."""

    job: Shown
    key: str
    kind: str
    step_title: str
    reason: str
    details: Mapping[str, str | int]
    name: str
    at: str
    itself: bool


@dataclass(frozen=True, slots=True)
class DueShown:
    """A wrench or lift. `when` is "", or its date in words; kind: wrench or lift."""

    kind: str
    name: str
    when: str
    is_past: bool


@dataclass(frozen=True, slots=True)
class AlarmShown:
    """What a tablet had and the office does not have. made: since when it may be, "" where nobody can tell.

    number: of the job it is about, "" where it is about none, or one that is not here.
    """

    key: str
    kind: AlarmKind
    tablet: str
    count: int
    made: str
    people: tuple[str, ...]
    raised: str
    number: str


@dataclass(frozen=True, slots=True)
class OwingShown:
    """A tablet whose entries have not come for an hour and more. heard: when it was heard last."""

    tablet: str
    count: int
    heard: str


@dataclass(frozen=True, slots=True)
class Floor:
    """`begins` and `minutes`: where the board begins by the shop's clock, and how long it is."""

    day: date
    day_words: str
    is_today: bool
    previous: date
    next: date
    ticks: tuple[Tick, ...]
    begins: str
    minutes: int
    now_at: str
    now_words: str
    rows: tuple[Row, ...]
    unplaced: tuple[Unplaced, ...]
    ready: tuple[Shown, ...]
    holds: tuple[HoldShown, ...]
    seconds: tuple[SecondShown, ...]
    asides: tuple[AsideShown, ...]
    due: tuple[DueShown, ...]
    alarms: tuple[AlarmShown, ...] = ()
    owing: tuple[OwingShown, ...] = ()


def see_floor(office: Office, day: date | None = None) -> Floor:
    """The floor on a day of the shop's calendar; today when none is named."""
    now = office.clock()
    with office.store.reading() as unit:
        facts = gather(unit, now, day)
    return floor_of(facts, office.rules.table.settles_itself)


def gather(unit: Unit, now: datetime, day: date | None) -> FloorFacts:
    zone = zone_of(the_shop(unit))
    shown = day or now.astimezone(zone).date()
    begins, ends = day_bounds(shown, zone)
    placements = unit.placements_between(begins, ends)
    open_jobs = {job.id: job for job in unit.jobs.where(state=JobState.OPEN)}
    others = {one.job for one in placements} - set(open_jobs)
    jobs = open_jobs | {key: job for key in others if (job := unit.jobs.get(key)) is not None}
    vehicles = {job.vehicle: unit.vehicles.get(job.vehicle) for job in jobs.values()}
    customers = {job.customer: unit.customers.get(job.customer) for job in jobs.values()}
    return FloorFacts(
        now=now,
        zone=zone,
        day=shown,
        bays=[bay for bay in unit.bays.all() if bay.active or any(one.bay == bay.id for one in placements)],
        placements=placements,
        standing={key: unit.placements.where(job=key, withdrawn=False) for key in open_jobs},
        jobs=jobs,
        sheets={key: unit.sheets.get(key) or Sheet(key) for key in jobs},
        vehicles={key: one for key, one in vehicles.items() if one is not None},
        customers={key: one for key, one in customers.items() if one is not None},
        people={one.id: one for one in unit.people.all()},
        tools=unit.tools.all(),
        tablets=unit.tablets.all(),
        alarms=unit.tablet_alarms.where(settled_at=None),
        mishaps=frozenset(one.tool for one in unit.tool_events.all() if one.seen_by is None),
        earlier=_earlier(unit, jobs.values()),
    )


def _earlier(unit: Unit, jobs: Iterable[Job]) -> dict[str, str]:
    comebacks = {job.id: unit.jobs.get(job.comeback_of) for job in jobs if job.comeback_of}
    return {key: one.number for key, one in comebacks.items() if one is not None}


def day_bounds(day: date, zone: tzinfo) -> tuple[datetime, datetime]:
    """A day of the shop's calendar as instants; 23 or 25 hours long where the clocks change."""
    return _midnight(day, zone), _midnight(day + timedelta(days=1), zone)


def _midnight(day: date, zone: tzinfo) -> datetime:
    return datetime.combine(day, time(), zone).astimezone(UTC)


def floor_of(facts: FloorFacts, settles_itself: frozenset[str] = frozenset()) -> Floor:
    """Build the floor."""
    today = facts.now.astimezone(facts.zone).date()
    edges = board_edges(facts)
    open_jobs = sorted(
        (job for job in facts.jobs.values() if job.state is JobState.OPEN),
        key=lambda job: (job.promised_at is None, job.promised_at or job.opened_at, job.number),
    )
    in_day = facts.day == today
    return Floor(
        day=facts.day,
        day_words=day_words(facts.day, today),
        is_today=in_day,
        previous=facts.day - timedelta(days=1),
        next=facts.day + timedelta(days=1),
        ticks=tuple(_ticks(edges, facts.zone)),
        begins=f"{edges[0].astimezone(facts.zone):%Y-%m-%dT%H:%M}",
        minutes=(edges[1] - edges[0]) // timedelta(minutes=1),
        now_at=_share(facts.now, edges) if in_day else "",
        now_words=f"{facts.now.astimezone(facts.zone):%H:%M}" if in_day else "",
        rows=_rows(facts, edges, today),
        unplaced=tuple(_unplaced(facts, open_jobs)),
        ready=tuple(one for job in open_jobs if (one := shown_of(facts, job)).standing.state is State.READY),
        holds=tuple(_holds(facts, open_jobs)),
        seconds=tuple(_seconds(facts, open_jobs)),
        asides=tuple(_asides(facts, open_jobs, settles_itself)),
        due=tuple(_due(facts, today)),
        alarms=tuple(_alarms(facts)),
        owing=tuple(_owing(facts)),
    )


def shown_alone(unit: Unit, job: Job, now: datetime) -> Shown:
    """One job as the floor names it, without gathering the floor."""
    zone = zone_of(the_shop(unit))
    vehicle, customer = unit.vehicles.get(job.vehicle), unit.customers.get(job.customer)
    facts = FloorFacts(
        now=now,
        zone=zone,
        day=now.astimezone(zone).date(),
        bays=(),
        placements=(),
        standing={},
        jobs={job.id: job},
        sheets={job.id: unit.sheets.get(job.id) or Sheet(job.id)},
        vehicles={vehicle.id: vehicle} if vehicle is not None else {},
        customers={customer.id: customer} if customer is not None else {},
        people={},
        tools=(),
        mishaps=frozenset(),
        earlier=_earlier(unit, (job,)),
    )
    return shown_of(facts, job)


# --- Where a job stands -------------------------------------------------------------------------------------------


def standing_of(job: Job, sheet: Sheet) -> Standing:
    """Where a job stands, from its record and its sheet."""
    steps: tuple[Step, ...] = sheet.packet.steps if sheet.packet is not None else ()
    done = sum(1 for step in steps if sheet.step(step.id).done is not None)
    open_steps = [(number, step) for number, step in enumerate(steps, 1) if sheet.step(step.id).done is None]
    first = next(((number, step) for number, step in open_steps if waits_for(sheet, step) is None), None)
    held = next((hold.reason for _, hold in in_order(sheet.holds) if hold.lifted is None), "")
    seconds = sum(len(waits_for_second(sheet, step)) for step in steps)
    asides = sum(1 for one in sheet.asides.values() if keeps_open(one))
    begun = bool(sheet.steps) or sheet.support.revision > 0
    return Standing(
        state=_state(job, sheet, held=bool(held), all_done=done == len(steps) > 0, seconds=seconds, begun=begun),
        done=done,
        total=len(steps),
        step=first[0] if first is not None else 0,
        step_title=said(first[1].title) if first is not None else "",
        held=held,
        seconds=seconds,
        asides=asides,
    )


def _state(job: Job, sheet: Sheet, *, held: bool, all_done: bool, seconds: int, begun: bool) -> State:
    if job.state is JobState.HANDED_BACK:
        return State.HANDED_BACK
    if job.state is JobState.CANCELLED:
        return State.CANCELLED
    if held:
        return State.HELD
    if all_done and not open_points(sheet):
        return State.READY
    if seconds and all_done:
        return State.SECOND
    return State.IN_WORK if begun else State.NOT_BEGUN


def shown_of(facts: FloorFacts, job: Job) -> Shown:
    vehicle, customer = facts.vehicles.get(job.vehicle), facts.customers.get(job.customer)
    return Shown(
        number=job.number,
        plate=vehicle.plate if vehicle else "",
        vehicle=" · ".join(filter(None, (vehicle.model, vehicle.colour))) if vehicle else "",
        customer=customer.name if customer else "",
        reachable=customer is not None and bool(customer.email.strip()),
        complaint=job.complaint,
        promised=_promised(facts, job),
        standing=standing_of(job, facts.sheets.get(job.id) or Sheet(job.id)),
        comeback_of=facts.earlier.get(job.id, ""),
    )


def _promised(facts: FloorFacts, job: Job) -> str:
    if job.promised_at is None:
        return ""
    past = _(", past") if job.promised_at < facts.now and job.state is JobState.OPEN else ""
    return f"{at_words(job.promised_at, facts.now, facts.zone)}{past}"


# --- The board ----------------------------------------------------------------------------------------------------

Edges = tuple[datetime, datetime]


def board_edges(facts: FloorFacts) -> Edges:
    """From which full hour to which the board goes: the usual hours, widened to what lies in this day."""
    first, last = day_bounds(facts.day, facts.zone)

    def hour(of: int) -> datetime:
        return datetime.combine(facts.day, time(of), facts.zone).astimezone(UTC)

    moments = [hour(FIRST_HOUR), hour(LAST_HOUR)]
    for one in facts.placements:
        moments += [max(one.begins_at, first), min(one.ends_at, last)]
    if first <= facts.now < last:
        moments.append(facts.now)
    begins, ends = min(moments), max(moments)
    return _full_hour_before(begins, facts.zone), min(_full_hour_after(ends, facts.zone), last)


def _full_hour_before(at: datetime, zone: tzinfo) -> datetime:
    """By the shop's clock: some zones lie half an hour off."""
    local = at.astimezone(zone)
    return at - timedelta(minutes=local.minute, seconds=local.second, microseconds=local.microsecond)


def _full_hour_after(at: datetime, zone: tzinfo) -> datetime:
    before = _full_hour_before(at, zone)
    return before if before == at else before + timedelta(hours=1)


def _share(at: datetime, edges: Edges) -> str:
    """Where a moment lies between the edges, as a share of the width; beyond them, at the edge."""
    begins, ends = edges
    whole = max((ends - begins) // timedelta(seconds=1), 1)
    part = (min(max(at, begins), ends) - begins) // timedelta(seconds=1)
    return _percent(part * 10_000 // whole)


def _percent(hundredths: int) -> str:
    return f"{hundredths // 100}.{hundredths % 100:02d}%"


def _width(begins: datetime, ends: datetime, edges: Edges) -> str:
    left, right = (_hundredths(_share(at, edges)) for at in (begins, ends))
    return _percent(right - left)


def _hundredths(share: str) -> int:
    return int(share[:-1].replace(".", ""))


def _ticks(edges: Edges, zone: tzinfo) -> Iterator[Tick]:
    at = edges[0]
    while at <= edges[1]:
        hour = at.astimezone(zone).hour
        yield Tick(_share(at, edges), f"{hour:02d}", hour % 3 == 0)
        at += timedelta(hours=1)


def _rows(facts: FloorFacts, edges: Edges, today: date) -> tuple[Row, ...]:
    rows: list[Row] = []
    mark = 0
    for bay in sorted(facts.bays, key=lambda one: one.name.casefold()):
        placed = sorted((one for one in facts.placements if one.bay == bay.id), key=lambda one: one.begins_at)
        items = []
        for one in placed:
            job = facts.jobs.get(one.job)
            if job is not None:
                mark += 1
                items.append(_item(facts, edges, one, job, mark))
        rows.append(
            Row(
                bay=bay.id,
                name=bay.name,
                lift=_(LIFT_WORDS[bay.lift]),
                capacity_g=bay.capacity_g,
                inspected=date_words(bay.inspected_on) if bay.inspected_on else "",
                against=_against(bay, today),
                items=tuple(items),
            )
        )
    return tuple(rows)


def _item(facts: FloorFacts, edges: Edges, one: Placement, job: Job, mark: int) -> Item:
    shown = shown_of(facts, job)
    person = facts.people.get(one.technician)
    is_over = one.ends_at <= facts.now
    standing = facts.standing.get(job.id, ())
    last = not any(other.begins_at >= one.ends_at for other in standing)
    return Item(
        mark=mark,
        placement=one.id,
        job=shown,
        technician=person.name if person else "",
        span=span_words(one.begins_at, one.ends_at, facts.now, facts.zone),
        x=_share(one.begins_at, edges),
        width=_width(one.begins_at, one.ends_at, edges),
        before=one.begins_at < edges[0],
        after=one.ends_at > edges[1],
        is_now=one.begins_at <= facts.now < one.ends_at,
        is_over=is_over,
        overdue=is_over and last and job.state is JobState.OPEN and shown.standing.state is not State.READY,
        late=not is_over and job.promised_at is not None and one.ends_at > job.promised_at,
    )


def _against(bay: Bay, today: date) -> Problem | None:
    if bay.lift is LiftKind.FLAT:
        return None
    if bay.inspected_on is None or bay.inspected_on > today:
        return Problem("lift_never_inspected", "", {"bay": bay.name})
    due = inspection_due(bay.inspected_on)
    if due >= today:
        return None
    return Problem("lift_overdue", "", {"bay": bay.name, "on": date_words(bay.inspected_on), "due": date_words(due)})


# --- What waits ---------------------------------------------------------------------------------------------------


def _unplaced(facts: FloorFacts, jobs: Sequence[Job]) -> Iterator[Unplaced]:
    """Open jobs for which no bay is given now or later. One that can be handed back needs none."""
    for job in jobs:
        placed = facts.standing.get(job.id, ())
        if any(one.ends_at > facts.now for one in placed):
            continue
        shown = shown_of(facts, job)
        if shown.standing.state is State.READY:
            continue
        packet = facts.sheets[job.id].packet
        vehicle = facts.vehicles.get(job.vehicle)
        ended = max((one.ends_at for one in placed), default=None)
        yield Unplaced(
            job=shown,
            was=at_words(ended, facts.now, facts.zone) if ended is not None else "",
            not_weighed=axles_not_weighed(vehicle) if vehicle is not None else "",
            missing=len(packet.missing) if packet is not None else 0,
        )


def _at_ms(facts: FloorFacts, at_ms: int) -> str:
    return at_words(datetime.fromtimestamp(at_ms / 1_000, UTC), facts.now, facts.zone)


def _title(sheet: Sheet, step: str) -> str:
    found = sheet.packet.step_by_id.get(step) if sheet.packet is not None else None
    return said(found.title) if found is not None else ""


def _holds(facts: FloorFacts, jobs: Sequence[Job]) -> Iterator[HoldShown]:
    found: list[tuple[int, HoldShown]] = []
    for job in jobs:
        sheet = facts.sheets[job.id]
        for key, hold in in_order(sheet.holds):
            if hold.lifted is None:
                found.append((hold.mark.at_ms, _hold(facts, job, sheet, key, hold)))
    yield from (one for _, one in sorted(found, key=lambda pair: pair[0]))


def _hold(facts: FloorFacts, job: Job, sheet: Sheet, key: str, hold: Hold) -> HoldShown:
    return HoldShown(
        job=shown_of(facts, job),
        key=key,
        step=_title(sheet, hold.step),
        reason=hold.reason,
        name=hold.mark.name,
        at=_at_ms(facts, hold.mark.at_ms),
    )


def _seconds(facts: FloorFacts, jobs: Sequence[Job]) -> Iterator[SecondShown]:
    for job in jobs:
        sheet = facts.sheets[job.id]
        for step in sheet.packet.steps if sheet.packet is not None else ():
            waiting = waits_for_second(sheet, step)
            if waiting:
                now = sheet.step(step.id)
                marks = [*(one.mark for _, one in in_order(now.signatures)), *((now.done,) if now.done else ())]
                firsts = ", ".join(dict.fromkeys(mark.name for mark in marks))
                yield SecondShown(
                    shown_of(facts, job), step.id, said(step.title), " · ".join(map(said, waiting)), firsts
                )


def _asides(facts: FloorFacts, jobs: Sequence[Job], settles_itself: frozenset[str]) -> Iterator[AsideShown]:
    """What waits to be settled: first what only a foreman can, then what a repeated attempt settles, oldest first."""
    found = [
        (key, one, job) for job in jobs for key, one in in_order(facts.sheets[job.id].asides) if keeps_open(one)
    ]  # fmt: skip
    for key, one, job in sorted(found, key=lambda row: (row[1].reason in settles_itself, row[1].mark.at_ms)):
        yield aside_shown(facts, job, key, one, settles_itself)


def aside_shown(facts: FloorFacts, job: Job, key: str, one: Aside, settles_itself: frozenset[str]) -> AsideShown:
    return AsideShown(
        job=shown_of(facts, job),
        key=key,
        kind=one.kind,
        step_title=_title(facts.sheets[job.id], one.step),
        reason=one.reason,
        details=one.details,
        name=one.mark.name,
        at=_at_ms(facts, one.mark.at_ms),
        itself=one.reason in settles_itself,
    )


def _alarms(facts: FloorFacts) -> Iterator[AlarmShown]:
    """The oldest first."""
    names = {one.id: one.name for one in facts.tablets}
    for one in sorted(facts.alarms, key=lambda alarm: alarm.raised_at):
        yield alarm_shown(one, names.get(one.tablet, ""), facts.jobs.get(one.job), facts.now, facts.zone)


def alarm_shown(one: TabletAlarm, tablet: str, job: Job | None, now: datetime, zone: tzinfo) -> AlarmShown:
    return AlarmShown(
        key=one.id,
        kind=one.kind,
        tablet=tablet,
        count=one.count,
        made=at_words(one.since, now, zone) if one.since is not None else "",
        people=one.people,
        raised=at_words(one.raised_at, now, zone),
        number=job.number if job is not None else "",
    )


def _owing(facts: FloorFacts) -> Iterator[OwingShown]:
    for one in sorted(facts.tablets, key=lambda tablet: tablet.name.casefold()):
        late = one.owes_since is not None and facts.now - one.owes_since >= OWING_AFTER
        if one.owes and late and not one.retired:
            heard = at_words(one.seen_at, facts.now, facts.zone) if one.seen_at is not None else ""
            yield OwingShown(one.name, one.owes, heard)


def _due(facts: FloorFacts, today: date) -> Iterator[DueShown]:
    """Tools and lifts whose date is past, near, or not known, and what happened to one and was not looked at.

    The soonest first. A lift of the crib that a bay names is shown as that bay's.
    """
    found: list[tuple[date, DueShown]] = []
    in_bays = {bay.lift_tool for bay in facts.bays if bay.active}
    for tool in facts.tools:
        if tool.id in facts.mishaps:
            found.append((date.min, DueShown("mishap", f"{tool.tag} {tool.name}".strip(), tool.fault, True)))
        needs_date = tool.kind is not ToolKind.SPRING_COMPRESSOR or tool.due_on is not None
        if needs_date and not tool.fault and tool.id not in in_bays and _is_near(tool.due_on, today):
            words = date_words(tool.due_on) if tool.due_on else ""
            past = tool.due_on is None or tool.due_on < today
            found.append((tool.due_on or date.min, DueShown("wrench", f"{tool.tag} {tool.name}".strip(), words, past)))
    for bay in facts.bays:
        due = inspection_due(bay.inspected_on) if bay.inspected_on else None
        if bay.active and bay.lift is not LiftKind.FLAT and _is_near(due, today):
            words = date_words(due) if due else ""
            found.append((due or date.min, DueShown("lift", bay.name, words, due is None or due < today)))
    yield from (one for _, one in sorted(found, key=lambda pair: pair[0]))


def _is_near(due: date | None, today: date) -> bool:
    return due is None or due <= today + SOON
