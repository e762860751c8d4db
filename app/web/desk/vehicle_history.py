"""All that was ever recorded on a vehicle, job by job, the newest first: for a comeback, or a bad batch of parts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, tzinfo
from decimal import Decimal

from app.domain.estimate import Estimate
from app.domain.packet import Packet, Step
from app.domain.problems import NotFound
from app.domain.records import Job, Reminder, Vehicle
from app.domain.search_words import asked_words, fits, part_words
from app.domain.sheet import Mark, Sheet, Signature, StepNow, in_order
from app.language.procedures import said_as_far
from app.language.speech import _
from app.ports import Unit
from app.texts import word
from app.use_cases.in_language import sheet_said
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.see_sheet import job_by_number
from app.use_cases.shop_time import date_words

# In the order they are shown in.
GROUPS = ("found", "heights", "measures", "signed", "parts", "notes", "holds", "asides", "reminders")


@dataclass(frozen=True, slots=True)
class Line:
    """One thing recorded: where, what, by whom and when. `found`: the words that were looked for are in it."""

    group: str
    where: str
    what: str
    by: str
    at_ms: int
    found: bool = False


@dataclass(frozen=True, slots=True)
class Group:
    key: str
    title: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class JobStory:
    """comeback_of: the number of the job whose complaint this was again. closed: when it was handed back."""

    number: str
    opened: str
    closed: str
    complaint: str
    state: str
    odometer: str
    work: tuple[str, ...]
    groups: tuple[Group, ...]
    comeback_of: str = ""

    @property
    def lines(self) -> tuple[Line, ...]:
        return tuple(line for group in self.groups for line in group.lines)


@dataclass(frozen=True, slots=True)
class History:
    vehicle: Vehicle
    customer: str
    jobs: tuple[JobStory, ...]
    found: int


@dataclass(frozen=True, slots=True)
class _Look:
    """What a story is told with: the words to mark, and where the shop's days end."""

    zone: tzinfo
    words: tuple[str, ...] = field(default=())

    def on(self, at_ms: int) -> str:
        return date_words(datetime.fromtimestamp(at_ms / 1_000, UTC).astimezone(self.zone).date())

    def line(self, group: str, where: str, what: str, mark: Mark) -> Line:
        by = f"{mark.name}, {self.on(mark.at_ms)}"
        return Line(group, where, what, by, mark.at_ms, self.has(f"{where} {what} {by}"))

    def has(self, text: str) -> bool:
        return bool(self.words) and fits(part_words(text), self.words)


def see_history(office: Office, vehicle_id: str, looked_for: str = "") -> History:
    """looked_for: words to mark, such as a part's batch as somebody noted it. Raises: NotFound."""
    with office.store.reading() as unit:
        vehicle = unit.vehicles.get(vehicle_id)
        if vehicle is None:
            raise NotFound("vehicle", vehicle_id)
        customer = unit.customers.get(vehicle.customer)
        jobs = sorted(unit.jobs.where(vehicle=vehicle.id), key=lambda one: one.opened_at, reverse=True)
        stories = tuple(story_of(unit, job, looked_for) for job in jobs)
    found = sum(line.found for one in stories for line in one.lines)
    return History(vehicle, customer.name if customer else "", stories, found)


def vehicle_of(office: Office, number: str) -> str:
    """The id of the vehicle that a job is about. Raises: NotFound."""
    with office.store.reading() as unit:
        return job_by_number(unit, number).vehicle


def story_of(unit: Unit, job: Job, looked_for: str = "") -> JobStory:
    """What was recorded in one job, by what it is about; in each part as the office heard it."""
    look = _Look(zone_of(the_shop(unit)), asked_words(looked_for))
    sheet = sheet_said(unit.sheets.get(job.id) or Sheet(job.id))
    packet, closed = sheet.packet, sheet.handed_back
    lines = list(_lines(look, sheet, packet)) if packet is not None else []
    lines += _offered(look, unit.estimates.where(job=job.id))
    lines += _reminded(look, unit, unit.reminders.where(vehicle=job.vehicle, job=job.id))
    lines.sort(key=lambda one: one.at_ms)
    earlier = unit.jobs.get(job.comeback_of) if job.comeback_of else None
    return JobStory(
        number=job.number,
        opened=date_words(job.opened_at.astimezone(look.zone).date()),
        closed=look.on(closed.at_ms) if closed is not None else "",
        complaint=job.complaint,
        state=word(f"job_state.{job.state}"),
        odometer=_("{odometer_km} km", odometer_km=job.odometer_km) if job.odometer_km is not None else "",
        work=tuple(one.title for one in packet.lines) if packet is not None else (),
        groups=tuple(
            Group(group, word(f"history.{group}"), held)
            for group in GROUPS
            if (held := tuple(one for one in lines if one.group == group))
        ),
        comeback_of=earlier.number if earlier is not None else "",
    )


def _lines(look: _Look, sheet: Sheet, packet: Packet) -> Iterator[Line]:
    for step in packet.steps:
        now = sheet.steps.get(step.id)
        if now is not None:
            yield from _of_step(look, step, now)
    for note in sheet.notes:
        yield look.line("notes", "", note.text, note.mark)
    for hold in (one for _key, one in in_order(sheet.holds)):
        yield look.line("holds", "", hold.reason, hold.mark)
        if hold.lifted is not None:
            yield look.line("holds", "", _("taken off: {why}", why=hold.lifted_reason), hold.lifted)
    for one in (aside for _key, aside in in_order(sheet.asides)):
        where = packet.step_by_id[one.step].title if one.step in packet.step_by_id else ""
        what = f"{word(f'kind.{one.kind}')}: {one.reason.replace('_', ' ')}"
        yield look.line("asides", where, what, one.mark)
        if one.settled is not None:
            yield look.line("asides", where, _("settled: {why}", why=one.settled_reason or one.outcome), one.settled)


def _of_step(look: _Look, step: Step, now: StepNow) -> Iterator[Line]:
    places = {one.id: one.place for one in step.fasteners}
    asked = {one.id: one.ask for one in step.measures}
    for key, taken in now.readings.items():
        group = "heights" if key.startswith("height") else "measures"
        what = f"{asked.get(key, key)}: {taken.text} {taken.unit}".strip()
        if taken.within is False:
            what = _("{what}, outside its window", what=what)
        yield look.line(group, step.title, what, taken.mark)
    for key, signature in now.signatures.items():
        yield look.line("signed", step.title, _signed(places.get(key, key), signature), signature.mark)
    for key, signature in now.counters.items():
        what = _("second reading, {signed}", signed=_signed(places.get(key, key), signature))
        yield look.line("signed", step.title, what, signature.mark)
    if now.seen is not None:
        yield look.line("signed", step.title, _("looked at by a second person: {seen}", seen=now.seen_text), now.seen)
    if now.outcome is not None:
        yield look.line("found", step.title, _verdict(step, now), now.outcome.mark)
    if now.new_parts and now.done is not None:
        new = {one.id: one.what for one in step.one_time}
        what = _("new: {what}", what=", ".join(new.get(one, one) for one in now.new_parts))
        yield look.line("parts", step.title, what, now.done)
    for note in now.notes:
        yield look.line("notes", step.title, note.text, note.mark)
    for note in now.reopened:
        yield look.line("notes", step.title, _("opened again: {why}", why=note.text), note.mark)


def _verdict(step: Step, now: StepNow) -> str:
    """What was seen, what was made of it, and why: "Play felt: watch, a little more than the other side"."""
    outcome = now.outcome
    if outcome is None:
        return ""
    choices = {one.key: one.words for one in step.trial.choices} if step.trial is not None else {}
    seen = choices.get(outcome.choice, "")
    said = f"{word(f'verdict.{outcome.verdict}')}, {outcome.reason}".strip(", ")
    return f"{seen}: {said}" if seen else said


def _signed(place: str, signature: Signature) -> str:
    read = ", ".join(signature.texts) or word(f"pass_done.{signature.tighten}")
    wrench = _("wrench {tag}", tag=signature.wrench) if signature.wrench else ""
    return f"{place}: {', '.join(one for one in (read, wrench, _('new part') if signature.new_part else '') if one)}"


def _reminded(look: _Look, unit: Unit, reminders: Sequence[Reminder]) -> Iterator[Line]:
    for one in reminders:
        where = word(f"reminder.{one.kind}")
        made = int(one.made_at.timestamp() * 1_000)
        if one.done_at is None:
            what = f"{said_as_far(one.what)}, {_('by {day}', day=date_words(one.due_on))}"
            yield Line("reminders", where, what, _("not done yet"), made, look.has(f"{where} {what}"))
            continue
        by = unit.people.get(one.done_by or "")
        done = Mark(one.done_by or "", by.name if by is not None else "", int(one.done_at.timestamp() * 1_000), "")
        yield look.line(
            "reminders",
            where,
            _("{what}. Done: {words}", what=said_as_far(one.what), words=one.done_words or "–"),
            done,
        )


def _offered(look: _Look, estimates: Sequence[Estimate]) -> Iterator[Line]:
    """The parts that the last edition of the estimate names: what was offered, whatever became of it."""
    last = max(estimates, key=lambda one: one.edition, default=None)
    if last is None:
        return
    mark = Mark(last.made_by, last.made_by_name, int(last.made_at.timestamp() * 1_000), "")
    for line in last.lines:
        for part in line.parts:
            count = f"{(Decimal(part.count_milli) / 1_000).normalize():f}"
            named = f"{part.name} {part.number}".strip()
            condition = word(f"part_condition.{part.condition}")
            what = _("in the estimate: {count} × {named}, {condition}", count=count, named=named, condition=condition)
            yield look.line("parts", line.title, what, mark)
