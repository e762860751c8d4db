"""What a foreman sees before settling an entry that was set aside, or taking a hold tag off."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, tzinfo

from app.domain.packet import Packet, Step
from app.domain.problems import NotFound
from app.domain.records import Job
from app.domain.sheet import Aside, Hold, Sheet
from app.ports import LedgerRow, Unit
from app.use_cases.floor_view import Shown, shown_alone
from app.use_cases.in_language import packet_said, sheet_said
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.see_sheet import job_by_number


@dataclass(frozen=True)
class SheetSeen:
    """A sheet with all its editions, and the job as the floor names it."""

    job: Job
    shown: Shown
    sheet: Sheet
    packets: tuple[Packet, ...]
    now: datetime
    zone: tzinfo


@dataclass(frozen=True)
class AsideSeen:
    """row: the entry as it came. before, now: its step as the person saw it and as it is, where that differs."""

    seen: SheetSeen
    aside: Aside
    row: LedgerRow
    before: Step | None
    now: Step | None


def see_aside(office: Office, number: str, key: str) -> AsideSeen:
    """Raises: NotFound."""
    with office.store.reading() as unit:
        seen = _sheet_seen(office, unit, number)
        one, row = seen.sheet.asides.get(key), unit.ledger.find(key)
        if one is None or row is None:
            raise NotFound("aside", key)
        saw = unit.sheets.packet(row.heard.entry.basis.packet) if row.heard.entry.basis.packet else None
    before = packet_said(saw).step_by_id.get(one.step) if saw is not None else None
    now = seen.sheet.packet.step_by_id.get(one.step) if seen.sheet.packet is not None else None
    same = before is None or before == now
    return AsideSeen(seen, one, row, None if same else before, now)


def see_hold(office: Office, number: str, key: str) -> tuple[SheetSeen, Hold]:
    """Raises: NotFound."""
    with office.store.reading() as unit:
        seen = _sheet_seen(office, unit, number)
    hold = seen.sheet.holds.get(key)
    if hold is None:
        raise NotFound("hold", key)
    return seen, hold


def _sheet_seen(office: Office, unit: Unit, number: str) -> SheetSeen:
    job = job_by_number(unit, number)
    sheet = unit.sheets.get(job.id) or Sheet(job.id)
    return SheetSeen(
        job=job,
        shown=shown_alone(unit, job, office.clock()),
        sheet=sheet_said(sheet),
        packets=tuple(packet_said(one) for key in sheet.editions if (one := unit.sheets.packet(key)) is not None),
        now=office.clock(),
        zone=zone_of(the_shop(unit)),
    )
