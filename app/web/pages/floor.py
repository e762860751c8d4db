"""What the templates of the Floor receive: every time, number and reason already a text."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from urllib.parse import quote

from app.language.speech import _
from app.use_cases.floor_view import AsideShown, DueShown, Floor, HoldShown, Item, SecondShown, Shown, State, Unplaced
from app.web.pages.form import FormShown
from app.web.pages.tablets import AlarmLine

MARKS: dict[State, str] = {
    State.HANDED_BACK: "signed",
    State.CANCELLED: "empty",
    State.HELD: "held",
    State.READY: "signed",
    State.SECOND: "done",
    State.IN_WORK: "open",
    State.NOT_BEGUN: "empty",
}


def job_address(number: str, part: str = "") -> str:
    return f"/jobs/{quote(number, safe='')}{'/' + part if part else ''}"


def step_address(number: str, step: str) -> str:
    return f"{job_address(number, 'sheet')}?step={quote(step, safe='')}#in-hand"


def standing_words(job: Shown) -> list[str]:
    """Where a job stands, most pressing first."""
    now = job.standing
    words = {
        State.HANDED_BACK: [_("handed back")],
        State.CANCELLED: [_("cancelled")],
        State.HELD: [_("held: {held}", held=now.held)],
        State.READY: [_("ready to hand back")],
        State.NOT_BEGUN: [_("not begun, {total} steps", total=now.total)],
    }.get(now.state, [])
    if now.state in (State.HANDED_BACK, State.CANCELLED):
        return words
    if now.state in (State.IN_WORK, State.HELD, State.SECOND):
        words.append(progress_words(job))
    if job.comeback_of:
        words.append(_("comeback of {number}", number=job.comeback_of))
    if now.seconds:
        words.append(_("{seconds} for a second person", seconds=now.seconds))
    if now.asides:
        words.append(_("{asides} set aside", asides=now.asides))
    return words


def progress_words(job: Shown) -> str:
    now = job.standing
    if now.step:
        return _("step {step} of {total}: {step_title}", step=now.step, total=now.total, step_title=now.step_title)
    return _("{done} of {total} steps done", done=now.done, total=now.total)


def short_words(job: Shown) -> str:
    """The same in two or three words, for a block on the board."""
    now = job.standing
    return {
        State.HANDED_BACK: _("handed back"),
        State.CANCELLED: _("cancelled"),
        State.HELD: _("HELD"),
        State.READY: _("ready"),
        State.SECOND: _("second person"),
        State.NOT_BEGUN: _("not begun"),
    }.get(
        now.state,
        _("step {step} of {total}", step=now.step, total=now.total)
        if now.step
        else _("{done} of {total}", done=now.done, total=now.total),
    )


@dataclass(frozen=True, slots=True)
class JobShown:
    """A job in a list: its number and vehicle, where it stands, and where to go from here."""

    number: str
    plate: str
    vehicle: str
    customer: str
    reachable: bool
    complaint: str
    promised: str
    mark: str
    standing: list[str]
    job_link: str
    sheet_link: str


def job_shown(job: Shown) -> JobShown:
    return JobShown(
        number=job.number,
        plate=job.plate,
        vehicle=job.vehicle,
        customer=job.customer,
        reachable=job.reachable,
        complaint=job.complaint,
        promised=job.promised,
        mark=MARKS[job.standing.state],
        standing=standing_words(job),
        job_link=job_address(job.number),
        sheet_link=job_address(job.number, "sheet"),
    )


@dataclass(frozen=True, slots=True)
class Block:
    """A placement: drawn on the board by x and width, and told in the list of its bay under the same number.

    label: what stands in the block, in that order, and then what its place says to those who see it.
    """

    mark: int
    id: str
    job: JobShown
    technician: str
    span: str
    short: str
    x: str
    width: str
    shape: str
    before: bool
    after: bool
    notes: list[str]
    label: str
    link: str


def block(item: Item, bay: str) -> Block:
    short = short_words(item.job)
    notes = []
    if item.overdue:
        notes.append(_("its time is over"))
    if item.late:
        notes.append(_("ends after the promised time, {promised}", promised=item.job.promised))
    return Block(
        mark=item.mark,
        id=item.placement,
        job=job_shown(item.job),
        technician=item.technician,
        span=item.span,
        short=short,
        x=item.x,
        width=item.width,
        shape=_shape(item),
        before=item.before,
        after=item.after,
        notes=notes,
        label=f"{item.job.plate} · {item.job.number} {short} · {item.technician} {item.mark}: {bay}, {item.span}",
        link="" if item.is_over else f"/floor/placements/{item.placement}",
    )


def _shape(item: Item) -> str:
    """How its outline is drawn: plain for what is to come, heavy in work, dashed held, doubled ready, thin over."""
    state = item.job.standing.state
    if state in (State.HANDED_BACK, State.CANCELLED) or (item.is_over and not item.overdue):
        return "over"
    by_state = {State.HELD: "held", State.READY: _("ready"), State.IN_WORK: "work", State.SECOND: "work"}
    return by_state.get(state, "plain")


@dataclass(frozen=True, slots=True)
class BayRow:
    id: str
    name: str
    lift: str
    capacity: str
    against: str
    blocks: list[Block]


@dataclass(frozen=True, slots=True)
class WaitingJob:
    job: JobShown
    notes: list[str]
    place_link: str


def waiting_job(one: Unplaced) -> WaitingJob:
    notes = [_("its time in a bay ended {was}", was=one.was)] if one.was else []
    if one.not_weighed:
        notes.append(_("mass on the {not_weighed} axle not known", not_weighed=one.not_weighed))
    if one.missing:
        notes.append(_("1 figure missing") if one.missing == 1 else _("{missing} figures missing", missing=one.missing))
    return WaitingJob(job_shown(one.job), notes, f"/floor/placements?job={quote(one.job.number, safe='')}")


@dataclass(frozen=True, slots=True)
class HoldLine:
    job: JobShown
    where: str
    reason: str
    by: str
    link: str
    id: str


def hold_line(one: HoldShown) -> HoldLine:
    where = _("on “{step}”", step=one.step) if one.step else _("on the whole sheet")
    link = job_address(one.job.number, f"holds/{quote(one.key, safe='')}")
    return HoldLine(job_shown(one.job), where, one.reason, f"{one.name}, {one.at}", link, one.key)


@dataclass(frozen=True, slots=True)
class SecondStep:
    """A step with something that waits for a second person: what, and who may not be it."""

    words: str
    step_title: str
    firsts: str
    link: str
    id: str


@dataclass(frozen=True, slots=True)
class SecondJob:
    job: JobShown
    steps: list[SecondStep]


def second_jobs(waiting: Iterable[SecondShown]) -> list[SecondJob]:
    """Gathered by job, so that the one who goes there takes all of it along."""
    jobs: dict[str, SecondJob] = {}
    for one in waiting:
        of = jobs.setdefault(one.job.number, SecondJob(job_shown(one.job), []))
        number = f"{one.job.number}-{one.step}"
        of.steps.append(
            SecondStep(one.words, one.step_title, one.firsts, step_address(one.job.number, one.step), number)
        )
    return list(jobs.values())


@dataclass(frozen=True, slots=True)
class AsideLine:
    """words: the sentence that was given. itself: it is settled by doing it again rightly."""

    job: JobShown
    kind: str
    step_title: str
    words: str
    name: str
    by: str
    itself: bool
    link: str
    id: str


def aside_line(one: AsideShown, kind: str, words: str) -> AsideLine:
    link = job_address(one.job.number, f"asides/{quote(one.key, safe='')}")
    return AsideLine(
        job_shown(one.job), kind, one.step_title, words, one.name, f"{one.name}, {one.at}", one.itself, link, one.key
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class DueLine:
    name: str
    words: str
    is_past: bool


def due_line(one: DueShown) -> DueLine:
    if one.kind == "mishap":
        return DueLine(one.name, _("to be looked at: {when}", when=one.when), one.is_past)
    if one.kind == "lift":
        return DueLine(
            one.name,
            _("inspection due {when}", when=one.when) if one.when else _("inspection date not known"),
            one.is_past,
        )
    return DueLine(one.name, _("due {when}", when=one.when) if one.when else _("no date written down"), one.is_past)


@dataclass(frozen=True, slots=True)
class FloorPage:
    """live: the address the open page asks again when something changed. said: what was just done."""

    floor: Floor
    live: str
    said: str
    rows: list[BayRow]
    unplaced: list[WaitingJob]
    ready: list[JobShown]
    holds: list[HoldLine]
    seconds: list[SecondJob]
    asides: list[AsideLine]
    due: list[DueLine]
    day: str
    previous: str
    next: str
    alarms: list[AlarmLine] = field(default_factory=list)
    owing: list[str] = field(default_factory=list)
    title: str = field(default_factory=lambda: _("Floor"))

    @property
    def counts(self) -> list[tuple[str, str]]:
        """What waits, in a line on top: where it is on the page, and the words."""
        asked = (
            ("unplaced", len(self.unplaced), _("waits for a bay"), _("wait for a bay")),
            ("ready", len(self.ready), _("ready to hand back"), _("ready to hand back")),
            ("holds", len(self.holds), _("hold tag hangs"), _("hold tags hang")),
            (
                "seconds",
                sum(len(one.steps) for one in self.seconds),
                _("waits for a second person"),
                _("wait for a second person"),
            ),
            ("asides", len(self.asides), _("entry set aside"), _("entries set aside")),
            ("tablets", len(self.alarms), _("loss on a tablet"), _("losses on tablets")),
            ("due", sum(one.is_past for one in self.due), _("date past"), _("dates past")),
        )
        return [(key, f"{count} {one if count == 1 else many}") for key, count, one, many in asked if count]


# --- Placing a job ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class BayChoice:
    """A bay to choose. against: why this vehicle cannot go there; busy: what is placed there in the next days."""

    id: str
    name: str
    words: str
    against: list[str]
    busy: list[str]


@dataclass(frozen=True, slots=True)
class PersonChoice:
    id: str
    name: str
    busy: list[str]


@dataclass(frozen=True, slots=True)
class PlacingPage:
    """not_weighed: the sentence that asks for a mass, with where to enter it. withdraw: "" for a new placement."""

    title: str
    job: JobShown
    action: str
    submit: str
    begun: str
    not_weighed: str
    vehicle_link: str
    bays: list[BayChoice]
    people: list[PersonChoice]
    form: FormShown
    withdraw: str = ""
    withdraw_words: str = ""
    zone: str = ""
    notes: list[str] = field(default_factory=list)


# --- Settling and lifting -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Side:
    """One of two columns to compare: a heading and its lines."""

    heading: str
    by: str
    lines: list[str]


@dataclass(frozen=True, slots=True)
class AsidePage:
    """old: what was set aside; new: what the sheet has now. before, now: the step, where it changed."""

    title: str
    job: JobShown
    words: str
    itself: bool
    step_title: str
    step_link: str
    old: Side
    new: Side
    before: list[str]
    now: list[str]
    settled: str
    outcomes: list[tuple[str, str]]
    action: str
    entry_id: str
    form: FormShown


@dataclass(frozen=True, slots=True)
class HoldPage:
    title: str
    job: JobShown
    where: str
    reason: str
    by: str
    lifted: str
    step_link: str
    action: str
    entry_id: str
    form: FormShown
