"""The Desk's first page: find a vehicle, see the open jobs, see what waits for the desk."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from fastapi import APIRouter, Request
from starlette.responses import Response

from app.language.speech import _
from app.texts import time_words
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.see_desk import CameBack, DeskSeen, OpenJob, find_vehicles, see_desk
from app.web.desk.vehicles import ASKED_LIMIT, row_of, words_of
from app.web.pages.desk_front import DeskPage, OpenJobRow, Want
from app.web.pages.photos import photos_shown
from app.web.rendering import fragment, page, wants_fragment
from app.web.security import Desk, TheOffice

router = APIRouter()


@router.get("/desk")
def front(request: Request, office: TheOffice, visitor: Desk, q: str = "", opened: str = "") -> Response:
    shown = _page(office, q.strip()[:ASKED_LIMIT], opened.strip()[:ASKED_LIMIT])
    if wants_fragment(request):
        return fragment(request, "desk/_open_jobs.html", shown, visitor)
    return page(request, "desk/desk.html", shown, visitor)


def _page(office: Office, asked: str, opened: str) -> DeskPage:
    seen = see_desk(office)
    with office.store.reading() as unit:
        found, count = find_vehicles(unit, asked) if asked else ((), 0)
        is_known = bool(opened) and bool(unit.jobs.where(number=opened))
        zone = zone_of(the_shop(unit))
    now = office.clock()

    def words(at: datetime) -> str:
        return time_words(at, now, zone)

    return DeskPage(
        asked=asked,
        found=[row_of(one) for one in found],
        found_count=count,
        opened=opened if is_known else "",
        jobs=[_job(one, words, late=_late(one, now)) for one in seen.jobs],
        wants=_wants(seen),
    )


def _late(one: OpenJob, now: datetime) -> bool:
    return one.job.promised_at is not None and one.job.promised_at < now


def _job(one: OpenJob, words: Callable[[datetime], str], *, late: bool) -> OpenJobRow:
    done, total = one.progress
    mark = "held" if one.held else ("done" if one.ready else ("open" if done else "empty"))
    stands = _("Next: {next_step}", next_step=one.next_step) if one.next_step else _("Every step is done.")
    return OpenJobRow(
        number=one.job.number,
        plate=one.vehicle.plate if one.vehicle is not None else "",
        vehicle=words_of(one.vehicle) if one.vehicle is not None else "",
        customer=one.customer.name if one.customer is not None else "",
        complaint=one.job.complaint,
        stands=_("Ready to hand back") if one.ready else stands,
        progress=_("{done} of {total} steps done", done=done, total=total),
        held=one.held,
        mark=mark,
        promised=words(one.job.promised_at) if one.job.promised_at is not None else "",
        late=late,
        figures=_figures(one.figures_missing),
        photos=photos_shown(one.photos, one.photos_missing, one.photos_refused, words),
        comeback_of=one.comeback_of,
    )


def _figures(missing: int) -> str:
    if not missing:
        return ""
    return _("1 torque figure missing") if missing == 1 else _("{missing} torque figures missing", missing=missing)


def _wants(seen: DeskSeen) -> list[Want]:
    wants = [_came_back(one) for one in seen.came_back]
    if seen.undeliverable:
        wants.append(
            Want(
                _count(seen.undeliverable, _("letter is undeliverable"), _("letters are undeliverable")),
                _("Ask for the address, then send it again."),
                "/desk/post",
            )
        )
    if seen.reminders_due:
        due = _count(seen.reminders_due, _("reminder is due"), _("reminders are due"))
        wants.append(Want(due, _("Call the customer; what was closed left this to do."), "/desk/reminders"))
    if seen.to_compare:
        wants.append(
            Want(
                _count(seen.to_compare, _("figure waits"), _("figures wait")) + _(" for a second comparison"),
                _("It counts when another person has typed it again from its source."),
                "/desk/figures",
            )
        )
    if seen.sheets_undecided:
        rest = _count(seen.sheets_undecided, _("sheet rests"), _("sheets rest"))
        wants.append(
            Want(
                _("{rest} on a corrected figure", rest=rest),
                _("The foreman decides about each."),
                "/desk/figures/sheets",
            )
        )
    for customer in seen.unreachable:
        wants.append(
            Want(
                _("{name} has no e-mail address", name=customer.name),
                _("No letter can be sent when the job is handed back."),
                f"/desk/customers/{customer.id}",
            )
        )
    for one in seen.lacking:
        name = one.vehicle.plate or one.vehicle.model
        more = _("Not on record: {what}.", what="; ".join(one.missing))
        wants.append(Want(name, more, f"/desk/vehicles/{one.vehicle.id}"))
    left = seen.lacking_count - len(seen.lacking)
    if left > 0:
        wants.append(
            Want(_count(left, _("more vehicle lacks"), _("more vehicles lack")) + _(" facts"), "", "/desk/vehicles")
        )
    return wants


def _came_back(one: CameBack) -> Want:
    """A customer waits for it and does not know, so each stands for itself, before everything else."""
    letter = one.message
    words = _("The letter of job {number} came back", number=one.job.number) if one.job else _("A letter came back")
    more = _("{to}: {because}", to=letter.to, because=letter.came_back_because)
    return Want(words, more, f"/desk/post/{letter.id}")


def _count(number: int, one: str, more: str) -> str:
    return f"{number} {one if number == 1 else more}"
