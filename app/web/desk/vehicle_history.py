"""All that was ever recorded on a vehicle, job by job, the newest first: for a comeback, or a bad batch of parts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from app.domain.packet import Packet, Step
from app.domain.problems import NotFound
from app.domain.records import Job, Vehicle
from app.domain.sheet import Sheet, Signature, StepNow
from app.language.speech import _
from app.ports import Unit
from app.texts import word
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.shop_time import date_words


@dataclass(frozen=True, slots=True)
class Line:
    """One thing recorded: where, what, and who when. `found` is the word that was looked for being in it."""

    where: str
    what: str
    by: str
    found: bool


@dataclass(frozen=True, slots=True)
class JobStory:
    number: str
    opened: str
    complaint: str
    state: str
    odometer: str
    work: tuple[str, ...]
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class History:
    vehicle: Vehicle
    customer: str
    jobs: tuple[JobStory, ...]
    found: int


def see_history(office: Office, vehicle_id: str, looked_for: str = "") -> History:
    """looked_for: a word to mark, such as a part's batch as somebody noted it. Raises: NotFound."""
    with office.store.reading() as unit:
        vehicle = unit.vehicles.get(vehicle_id)
        if vehicle is None:
            raise NotFound("vehicle", vehicle_id)
        customer = unit.customers.get(vehicle.customer)
        jobs = sorted(unit.jobs.where(vehicle=vehicle.id), key=lambda one: one.opened_at, reverse=True)
        stories = tuple(_story(unit, job, looked_for.strip().casefold()) for job in jobs)
    found = sum(line.found for one in stories for line in one.lines)
    return History(vehicle, customer.name if customer else "", stories, found)


def _story(unit: Unit, job: Job, looked_for: str) -> JobStory:
    zone = zone_of(the_shop(unit))
    sheet = unit.sheets.get(job.id)
    packet = sheet.packet if sheet is not None else None
    lines = list(_lines(sheet, packet)) if sheet is not None and packet is not None else []
    return JobStory(
        number=job.number,
        opened=date_words(job.opened_at.astimezone(zone).date()),
        complaint=job.complaint,
        state=job.state.value.replace("_", " "),
        odometer=_("{odometer_km} km", odometer_km=job.odometer_km) if job.odometer_km is not None else "",
        work=tuple(one.title for one in packet.lines) if packet is not None else (),
        lines=tuple(
            Line(where, what, by, bool(looked_for) and looked_for in f"{where} {what} {by}".casefold())
            for where, what, by in lines
        ),
    )


def _lines(sheet: Sheet, packet: Packet) -> Iterator[tuple[str, str, str]]:
    for step in packet.steps:
        now = sheet.steps.get(step.id)
        if now is not None:
            yield from _of_step(step, now)
    yield from ((_("Note"), one.text, one.mark.name) for one in sheet.notes)
    for one in sheet.asides.values():
        yield _("Set aside"), f"{word(f'kind.{one.kind}')}: {one.reason.replace('_', ' ')}", one.mark.name
    yield from ((_("Hold"), one.reason, one.mark.name) for one in sheet.holds.values())


def _of_step(step: Step, now: StepNow) -> Iterator[tuple[str, str, str]]:
    places = {one.id: one.place for one in step.fasteners}
    asked = {one.id: one.ask for one in step.measures}
    for key, taken in now.readings.items():
        yield step.title, f"{asked.get(key, key)}: {taken.text} {taken.unit}".strip(), taken.mark.name
    for key, signature in now.signatures.items():
        yield step.title, _signed(places.get(key, key), signature), signature.mark.name
    for key, signature in now.counters.items():
        yield (
            step.title,
            _("second reading, {signed}", signed=_signed(places.get(key, key), signature)),
            signature.mark.name,
        )
    if now.outcome is not None:
        verdict = f"{word(f'verdict.{now.outcome.verdict}')}, {now.outcome.reason}".strip(", ")
        yield step.title, _("found {verdict}", verdict=verdict), now.outcome.mark.name
    if now.new_parts:
        new = {one.id: one.what for one in step.one_time}
        by = now.done.name if now.done else ""
        yield step.title, _("new: {what}", what=", ".join(new.get(one, one) for one in now.new_parts)), by
    yield from ((step.title, one.text, one.mark.name) for one in (*now.notes, *now.reopened))


def _signed(place: str, signature: Signature) -> str:
    read = ", ".join(signature.texts) or word(f"pass_done.{signature.tighten}")
    return f"{place}: {read}{f', wrench {signature.wrench}' if signature.wrench else ''}"
