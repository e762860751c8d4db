"""The web application: routers, headers, and a page for each way a request can go wrong."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable, Mapping, Sequence
from contextlib import AbstractContextManager, asynccontextmanager
from dataclasses import dataclass
from urllib.parse import quote

from fastapi import APIRouter, FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse, Response
from starlette.staticfiles import StaticFiles

from app.domain.problems import NotAllowed, NotFound, Refused, TooBusy
from app.language.speech import N_, _
from app.settings import Settings
from app.texts import say
from app.use_cases.office import Office
from app.web import events, home_screen, sign_in, tool_in_hand
from app.web.desk import (
    bays,
    crib,
    customers,
    desk,
    figure_files,
    figures,
    history,
    intake,
    people,
    post,
    prices,
    procedures,
    reminders,
    search,
    shop,
    tablets,
    tools,
    tracing,
    vehicles,
)
from app.web.floor import (
    board,
    bounces,
    estimates,
    handing_back,
    jobs,
    letters,
    measured,
    placing,
    settling,
    suspects,
    tablet_alarms,
)
from app.web.forms import FormTooLarge
from app.web.hub import Hub
from app.web.reckoner import router as reckoner_pages
from app.web.rendering import STATIC, page, plain_assets
from app.web.security import FormForged, RoleWanted, SecurityHeaders, SignInWanted, Speaks, Visitor, visitor_or_none
from app.web.tablet import enrol, paper, photos, readiness, sheet, work


@dataclass(frozen=True, slots=True)
class TroublePage:
    """What went wrong, what to do, and where to go on."""

    title: str
    lines: list[str]


def create_app(
    office: Office,
    settings: Settings,
    hub: Hub,
    background: Callable[[], AbstractContextManager[object]] | None = None,
    more: Sequence[APIRouter] = (),
    assets: Mapping[str, str] | None = None,
) -> FastAPI:
    """Build the application around a wired office.

    background: runs while the server does (the post). more: routers of other parts (the tablets' exchange).
    assets: the addresses of what pages load, by the names of `rendering.ASSETS`; else as the files lie in static/.
    """

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        if background is None:
            yield
            return
        with background():
            yield

    app = FastAPI(title="Cotterpin", lifespan=lifespan, docs_url=None, redoc_url=None, openapi_url=None)
    app.state.office, app.state.settings, app.state.hub = office, settings, hub
    app.state.assets = assets or plain_assets()
    app.add_middleware(Speaks)
    app.add_middleware(SecurityHeaders, hsts_days=settings.hsts_days)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    for router in (*routers(settings), *more):
        app.include_router(router)
    _add_error_pages(app)
    return app


def routers(settings: Settings) -> list[APIRouter]:
    """Every router of the pages."""
    return [
        board.router,
        placing.router,
        sign_in.router,
        home_screen.router,
        events.router,
        work.router,
        sheet.router,
        paper.router,
        photos.router,
        readiness.router,
        enrol.router,
        desk.router,
        intake.router,
        vehicles.router,
        customers.router,
        settling.router,
        tablet_alarms.router,
        handing_back.router,
        letters.router,
        measured.router,
        jobs.router,
        estimates.router,
        suspects.router,
        bounces.router,
        prices.router,
        people.router,
        bays.router,
        crib.router,
        tools.router,
        tool_in_hand.router,
        tracing.router,
        search.router,
        reminders.router,
        history.router,
        figure_files.router,
        figures.router,
        shop.router,
        procedures.router,
        post.router,
        tablets.router,
        reckoner_pages.router,
    ]


def _add_error_pages(app: FastAPI) -> None:
    app.add_exception_handler(SignInWanted, _to_sign_in)
    app.add_exception_handler(RoleWanted, _trouble(403, N_("This page is for another role"), [
        N_("Sign in as someone who has the role this page needs, or go back to your own pages."),
    ]))  # fmt: skip
    app.add_exception_handler(NotAllowed, _trouble(403, N_("You may not do this"), [
        N_("Your name is not on the list of people who may. Ask the foreman."),
    ]))  # fmt: skip
    app.add_exception_handler(FormForged, _trouble(403, N_("This form is too old"), [
        N_("You have signed in again since this page was opened. Go back, open the page again and send it once more."),
    ]))  # fmt: skip
    app.add_exception_handler(FormTooLarge, _trouble(413, N_("That is more than this form can hold"), [
        N_("Nothing was recorded. Go back, shorten what you typed or choose a smaller file, and send it again."),
    ]))  # fmt: skip
    app.add_exception_handler(NotFound, _trouble(404, N_("There is nothing under this address"), [
        N_("It may have been a mistyped number. Go back and choose from the list."),
    ]))  # fmt: skip
    app.add_exception_handler(Refused, _refused)
    app.add_exception_handler(RequestValidationError, _trouble(422, N_("This address is not complete"), [
        N_("Go back and choose from the page instead of typing the address."),
    ]))  # fmt: skip
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(TooBusy, _trouble(503, N_("The office is busy"), [
        N_("What you had typed was not recorded. Wait a moment, go back and send it again."),
    ]))  # fmt: skip
    app.add_exception_handler(Exception, _trouble(500, N_("Something broke on our side"), [
        N_("What you had typed was not recorded. Go back and send it again; if it happens twice, tell the desk when."),
    ]))  # fmt: skip


def _to_sign_in(request: Request, _: Exception) -> Response:
    """A page asks to sign in and comes back. A form sent by script stays where it is, with what was typed in it."""
    back = request.url.path if request.method == "GET" else "/"
    address = f"/sign-in?after={quote(back)}"
    if request.headers.get("hx-request") == "true":
        leave = {"HX-Redirect": address} if request.method == "GET" else {}
        return Response(status_code=401, headers=leave)
    return RedirectResponse(address, 303)


def _trouble(status: int, title: str, lines: list[str]) -> Callable[[Request, Exception], Response]:
    def show(request: Request, error: Exception) -> Response:
        visitor = _visitor(request)
        said = TroublePage(_(title), [_(line) for line in lines])
        return page(request, "trouble.html", said, visitor, status=status)

    return show


def _refused(request: Request, error: Exception) -> Response:
    visitor = _visitor(request)
    lines = [say(problem) for problem in error.problems] if isinstance(error, Refused) else []
    return page(request, "trouble.html", TroublePage(_("Not done yet"), lines), visitor, status=422)


def _http(request: Request, error: Exception) -> Response:
    visitor = _visitor(request)
    status = error.status_code if isinstance(error, HTTPException) else 500
    words = {
        404: (_("There is nothing under this address"), _("Go back and choose from the page.")),
        405: (_("This page cannot be sent that way"), _("Go back and use the button on the page.")),
    }
    title, line = words.get(status, (_("This did not work"), _("Go back and try again.")))
    return page(request, "trouble.html", TroublePage(title, [line]), visitor, status=status)


def _visitor(request: Request) -> Visitor | None:
    try:
        return visitor_or_none(request)
    except Exception:  # the page about a broken store must not break on it again
        return None
