"""Open a job, add lines to it, and pin its packet: what the foreman changed reaches the sheet only through here.

Compiling is pure (`domain.compiling`); this module gathers what it needs and makes the entry that pins the result.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from app.domain.compiling import Order, compile_packet
from app.domain.crib import CribTool
from app.domain.entry import ENTRY_FORM, Basis, Entry, Kind, PacketPinned, body_json
from app.domain.packet import Packet, Wrench
from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import Job, JobLine, JobState, Tool, ToolKind, Vehicle
from app.domain.sheet import Sheet
from app.ports import Unit
from app.trade.quantity import Dimension, Quantity
from app.trade.torque_tool import Interval
from app.trade.units import show
from app.use_cases.comeback import comeback_problems, with_comeback
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.price_lines import lines_to_compile, price_job, with_prices
from app.use_cases.record_entry import OFFICE_TABLET, Recorded, announce, hear
from app.use_cases.rests_on import own_figures, torque_figures, windows, with_book

COMPLAINT_LIMIT = 1_000


@dataclass(frozen=True, slots=True)
class JobWanted:
    """What the desk filled in. `odometer_km` None = not read.

    id: made when the form was, so that a form sent twice opens one job; "" makes one here.
    comeback_of: the id of the earlier job on this vehicle whose complaint it is again; "" for none.
    """

    vehicle: str
    complaint: str
    promised_at: datetime | None
    odometer_km: int | None
    lines: tuple[JobLine, ...]
    id: str = ""
    comeback_of: str = ""


def open_job(office: Office, person: str, wanted: JobWanted) -> Job:
    """Open a job on a known vehicle and pin its first packet.

    A form sent a second time gets the job that it opened the first time.
    Raises: Refused with every problem found; NotFound for an unknown vehicle.
    """
    now = office.clock()
    with office.store.writing() as unit:
        before = unit.jobs.get(wanted.id) if wanted.id else None
        if before is not None:
            if (before.vehicle, before.complaint) != (wanted.vehicle, wanted.complaint.strip()):
                raise Refused([Problem("id_taken")])
            return before
        vehicle = unit.vehicles.get(wanted.vehicle)
        if vehicle is None:
            raise NotFound("vehicle", wanted.vehicle)
        problems = [*problems_of(wanted, now), *comeback_problems(unit, vehicle.id, wanted.comeback_of)]
        if problems:
            raise Refused(problems)
        job = Job(
            id=wanted.id or office.new_id(),
            number=f"{now:%y}-{unit.take_number('job'):04d}",
            vehicle=vehicle.id,
            customer=vehicle.customer,
            complaint=wanted.complaint.strip(),
            promised_at=wanted.promised_at,
            opened_at=now,
            opened_by=person,
            odometer_km=wanted.odometer_km,
            lines=numbered(wanted.lines, 0),
            comeback_of=wanted.comeback_of,
        )
        packet = compile_for(office, unit, job, vehicle, None)
        unit.jobs.add(job)
        pin(office, unit, person, packet)
        unit.commit()
    announce(office, job.id)
    return job


def problems_of(wanted: JobWanted, now: datetime) -> list[Problem]:
    problems = []
    if not wanted.complaint.strip():
        problems.append(Problem("complaint_missing", "complaint"))
    if len(wanted.complaint) > COMPLAINT_LIMIT:
        problems.append(Problem("too_long", "complaint", {"limit": COMPLAINT_LIMIT}))
    if not wanted.lines:
        problems.append(Problem("lines_missing", "lines"))
    if len({(x.procedure, x.axle, x.corner, x.options) for x in wanted.lines}) < len(wanted.lines):
        problems.append(Problem("line_twice", "lines"))
    if wanted.promised_at is not None and wanted.promised_at < now:
        problems.append(Problem("promised_past", "promised_at"))
    if wanted.odometer_km is not None and not 0 <= wanted.odometer_km <= 3_000_000:
        problems.append(Problem("odometer_odd", "odometer_km"))
    return problems


def numbered(lines: Sequence[JobLine], after: int) -> tuple[JobLine, ...]:
    """Lines named in the order they were added; a line's name is never used again on its job."""
    return tuple(replace(one, id=f"l{after + place}") for place, one in enumerate(lines, 1))


def compile_for(office: Office, unit: Unit, job: Job, vehicle: Vehicle, previous: Packet | None) -> Packet:
    """Compile the packet of a job from what the office knows now.

    Raises: Refused when a procedure does not fit the vehicle, or a fact it needs is not known.
    """
    own = own_figures(unit, vehicle.model, job.id)
    priced, sheet = price_job(unit, job), unit.sheets.get(job.id) or Sheet(job.id)
    order = Order(
        job=job.id,
        number=job.number,
        edition=previous.edition + 1 if previous else 1,
        vehicle=with_book(vehicle, own),
        lines=lines_to_compile(job.lines, priced, sheet),
        figures=torque_figures(own),
        windows=windows(own, vehicle),
        wrenches=wrenches(unit),
        tools=gate_tools(unit),
        shop=the_shop(unit),
        previous=previous,
    )
    made = compile_packet(office.book, order)
    if isinstance(made, Packet):
        return with_comeback(unit, job, with_prices(made, priced))
    raise Refused(made)


def wrenches(unit: Unit) -> tuple[Wrench, ...]:
    zone = zone_of(the_shop(unit))
    return tuple(
        Wrench(
            tag=one.tag,
            name=one.name,
            unit=one.unit,
            low_mnm=one.low_mnm,
            high_mnm=one.high_mnm,
            due_on=one.due_on.isoformat() if one.due_on else "",
            length_um=one.length_um,
            fault=one.fault or worn_words(one),
            due_end_ms=day_end_ms(one.due_on, zone) if one.due_on else None,
        )
        for one in unit.tools.where(kind=ToolKind.TORQUE_WRENCH)
    )


def worn_words(tool: Tool) -> str:
    """Why a wrench in date may not be used all the same: its uses since it was found true are counted and used up.

    Source: `torque_tool.Interval`.
    """
    limit = Interval().cycles
    return f"{tool.cycles} uses since it was calibrated, {limit} at most" if (tool.cycles or 0) >= limit else ""


def gate_tools(unit: Unit) -> tuple[CribTool, ...]:
    """What gates ask for by its tag. A pair's label counts half for each stand. A compressor needs no date."""
    zone = zone_of(the_shop(unit))
    return tuple(
        CribTool(
            tag=one.tag,
            kind=one.kind.value,
            name=one.name,
            bears=one.rating // 2 if one.rating_basis == "pair" else one.rating,
            rating_words=rating_words(one),
            due_on=one.due_on.isoformat() if one.due_on else "",
            due_end_ms=day_end_ms(one.due_on, zone) if one.due_on else None,
            needs_date=one.kind is not ToolKind.SPRING_COMPRESSOR,
            fault=one.fault,
        )
        for one in unit.tools.all()
        if one.kind is not ToolKind.TORQUE_WRENCH
    )


def rating_words(tool: Tool) -> str:
    """What is on a tool's label, in words: "3000 kg, the pair"."""
    is_force = tool.kind is ToolKind.SPRING_COMPRESSOR
    dimension, unit = (Dimension.FORCE, "N") if is_force else (Dimension.MASS, "kg")
    basis = {"pair": ", the pair", "each": ", each stand"}.get(tool.rating_basis, "")
    return f"{show(Quantity(dimension, tool.rating), unit, 1 if tool.rating % 1_000 else 0)}{basis}"


def day_end_ms(day: date, zone: ZoneInfo) -> int | None:
    """The instant this day ends where the shop is; None for a day that has no tomorrow (then the UTC day counts)."""
    try:
        midnight = datetime.combine(day + timedelta(days=1), time(), zone)
        return int(midnight.timestamp()) * 1_000
    except OverflowError:
        return None


def pin(office: Office, unit: Unit, person: str, packet: Packet) -> Recorded:
    """Make the entry that pins a packet, and hear it."""
    entry = Entry(
        v=ENTRY_FORM,
        id=office.new_id(),
        tablet=OFFICE_TABLET,
        seq=unit.take_number(f"seq:{OFFICE_TABLET}"),
        job=packet.job,
        kind=Kind.PACKET_PINNED,
        body=body_json(PacketPinned(packet.as_json())),
        person=person,
        noted_at_ms=office.now_ms,
        basis=Basis(packet=packet.hash),
    )
    recorded = hear(office, unit, entry)
    if not recorded.ruling.accepted:
        raise Refused([Problem(recorded.ruling.reason, "packet", dict(recorded.ruling.details))])
    return recorded


def add_lines(office: Office, person: str, job_id: str, lines: Sequence[JobLine]) -> Job:
    """Add lines to an open job and pin the next edition; untouched steps keep their revision.

    Raises: Refused, NotFound.
    """
    with office.store.writing() as unit:
        job = _open_job(unit, job_id)
        changed = replace(job, lines=(*job.lines, *numbered(lines, len(job.lines))))
        if len({(x.procedure, x.axle, x.corner, x.options) for x in changed.lines}) < len(changed.lines):
            raise Refused([Problem("line_twice", "lines")])
        unit.jobs.save(changed)
        pin_next(office, unit, person, changed)
        unit.commit()
    announce(office, job_id)
    return changed


def bring_up_to_date(office: Office, person: str, job_id: str) -> bool:
    """Pin the next edition if anything the sheet rests on (figures, wrenches, facts) has changed. Says whether it had.

    Raises: Refused, NotFound.
    """
    with office.store.writing() as unit:
        job = _open_job(unit, job_id)
        pinned = pin_next(office, unit, person, job)
        unit.commit()
    announce(office, job_id)
    return pinned


def _open_job(unit: Unit, job_id: str) -> Job:
    job = unit.jobs.get(job_id)
    if job is None:
        raise NotFound("job", job_id)
    if job.state is not JobState.OPEN:
        raise Refused([Problem("job_not_open", "job", {"number": job.number})])
    return job


def pin_next(office: Office, unit: Unit, person: str, job: Job) -> bool:
    """Pin the next edition in this transaction if anything would differ. Raises: Refused, NotFound."""
    vehicle = unit.vehicles.get(job.vehicle)
    sheet = unit.sheets.get(job.id)
    if vehicle is None or sheet is None or sheet.packet is None:
        raise NotFound("vehicle", job.vehicle)
    packet = compile_for(office, unit, job, vehicle, sheet.packet)
    if replace(packet, edition=sheet.packet.edition) == sheet.packet:
        return False
    pin(office, unit, person, packet)
    return True
