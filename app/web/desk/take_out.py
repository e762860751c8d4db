"""Take everything out as one file to save. The foreman's alone, asked for by PIN: it is everybody's data at once."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import IO

from fastapi import APIRouter, Request
from starlette.responses import Response, StreamingResponse

from app.domain.problems import NoRoom, Problem
from app.domain.taken_out import PAPERS, PHOTOS, file_path
from app.language.speech import _
from app.use_cases.office import Office
from app.use_cases.sign_in import check_pin
from app.use_cases.take_everything_out import wanted_papers, wanted_photos
from app.web.forms import TheForm
from app.web.pages.form import FormShown, sent_back
from app.web.pages.take_out import TakeOutPage
from app.web.rendering import page
from app.web.security import Foreman, TheOffice

PIECE = 1 << 18

# Packs everything into a file that nobody else can open and that is gone when it is closed. Raises: NoRoom.
Pack = Callable[[Office, str], IO[bytes]]


def make_router(pack: Pack) -> APIRouter:
    router = APIRouter()

    @router.get("/desk/workshop/take-out")
    def show(request: Request, office: TheOffice, visitor: Foreman) -> Response:
        return page(request, "desk/take_out.html", _page(office, FormShown()), visitor)

    @router.post("/desk/workshop/take-out")
    def take(request: Request, office: TheOffice, visitor: Foreman, form: TheForm) -> Response:
        name = f"cotterpin-{office.clock():%Y-%m-%d}"
        problem = check_pin(office, visitor.person_id, form.text("pin"))
        if problem is None:
            try:
                return _saved(pack(office, name), f"{name}.zip")
            except NoRoom as full:
                problem = Problem("taken_no_room", "", {"what": str(full)})
        shown = _page(office, sent_back(form, [problem]))
        return page(request, "desk/take_out.html", shown, visitor, status=422)

    return router


def _saved(file: IO[bytes], name: str) -> Response:
    size = file.seek(0, 2)
    file.seek(0)

    def pieces() -> Iterator[bytes]:
        with file:
            while piece := file.read(PIECE):
                yield piece

    return StreamingResponse(
        pieces(),
        media_type="application/zip",
        headers={"content-disposition": f'attachment; filename="{name}"', "content-length": str(size)},
    )


def _page(office: Office, form: FormShown) -> TakeOutPage:
    with office.store.reading() as unit:
        photos, papers = wanted_photos(unit), wanted_papers(unit)
        counts = [
            (_("Jobs"), len(unit.jobs.all())),
            (_("Entries in the ledger"), unit.ledger.count()),
            (_("Customers"), len(unit.customers.all())),
            (_("Vehicles"), len(unit.vehicles.all())),
            (_("Figures"), len(unit.figures.all())),
            (_("Tools"), len(unit.tools.all())),
            (_("Estimates"), len(unit.estimates.all())),
            (_("Letters"), len(unit.outbox.all())),
            (_("Photos"), len(photos)),
            (_("Papers"), len(papers)),
        ]
    lost = [file_path(PHOTOS, one) for one in sorted(photos - set(office.photos.hashes()))]
    lost += [file_path(PAPERS, one) for one in sorted(papers - set(office.papers.hashes()))]
    return TakeOutPage([(name, f"{count:,}") for name, count in counts], lost, form)
