"""The way back from a printed sheet: the square on the paper, and the page that its code opens."""

from __future__ import annotations

from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.responses import Response

from app.domain.packet import Packet
from app.domain.problems import NotFound
from app.domain.records import JobState
from app.language.speech import _
from app.use_cases.in_language import packet_said
from app.use_cases.office import Office
from app.use_cases.see_sheet import SheetFound, see_sheet
from app.web.desk.crib import picture_of
from app.web.pages.paper import PaperPage
from app.web.rendering import page
from app.web.security import Anyone, TheOffice

router = APIRouter()
LONGEST = 40


@router.get("/paper/{code}")
def back(request: Request, office: TheOffice, visitor: Anyone, code: str) -> Response:
    """What the paper belongs to, whether it is still the sheet's own edition, and where to write down what is on it."""
    found, packet, edition = _find(office, code)
    sheet = f"/jobs/{quote(found.job.number, safe='')}/sheet"
    with office.store.reading() as unit:
        vehicle = unit.vehicles.get(found.job.vehicle)
    steps = [
        (step.title, f"{sheet}?step={quote(step.id, safe='')}#in-hand")
        for step in packet.steps
        if found.sheet.step(step.id).done is None
    ]
    shown = PaperPage(
        title=_("Paper of job {number}", number=found.job.number),
        plate=vehicle.plate if vehicle is not None else "",
        vehicle=vehicle.model if vehicle is not None else "",
        edition=str(edition),
        now=str(packet.edition),
        is_current=edition == packet.edition,
        is_open=found.job.state is JobState.OPEN,
        sheet_link=f"{sheet}#in-hand",
        steps=steps,
    )
    return page(request, "paper.html", shown, visitor)


@router.get("/paper/{code}/code.svg")
def square(request: Request, office: TheOffice, visitor: Anyone, code: str) -> Response:
    """The square that is printed: the address of the page above."""
    found, _packet, edition = _find(office, code)
    base = str(request.app.state.settings.base_url or request.base_url).rstrip("/")
    svg = picture_of(f"{base}/paper/{code_of(found.job.number, edition)}")
    return Response(svg, media_type="image/svg+xml", headers={"Cache-Control": "private, max-age=86400"})


def code_of(number: str, edition: int) -> str:
    """What stands under the square, short enough to be read aloud: the job, and which edition was printed."""
    return f"{number}-{edition}"


def is_code(text: str) -> bool:
    number, _dash, edition = text.rpartition("-")
    return "-" in number and edition.isdecimal() and edition.isascii() and len(text) <= LONGEST


def _find(office: Office, code: str) -> tuple[SheetFound, Packet, int]:
    """Raises: NotFound, also for an edition that there has not been."""
    if not is_code(code):
        raise NotFound("paper", code[:LONGEST])
    number, _dash, edition = code.rpartition("-")
    found = see_sheet(office, number)
    packet = found.sheet.packet
    if packet is None or not 1 <= int(edition) <= packet.edition:
        raise NotFound("paper", code)
    return found, packet_said(packet), int(edition)
