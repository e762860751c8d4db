"""Signing in with a name and a PIN, and out again."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from app.domain.problems import Problem
from app.domain.records import Role
from app.language.catalogue import LANGUAGES
from app.language.speech import _, known, spoken
from app.texts import word
from app.use_cases.sign_in import sign_in, sign_out
from app.web.forms import Told, read_form, told
from app.web.rendering import page
from app.web.security import COOKIE, LANGUAGE_COOKIE, Anyone, TheOffice, Visitor, visitor_or_none

router = APIRouter()
YEAR_S = 365 * 86_400


@dataclass(frozen=True, slots=True)
class SignInPage:
    people: list[dict[str, str]]
    chosen: str
    after: str
    told: Told
    title: str
    languages: list[tuple[str, str]]


@router.get("/sign-in")
def show(request: Request, office: TheOffice, after: str = "/") -> Response:
    visitor_or_none(request)
    return page(request, "sign_in.html", _sign_in_page(office, "", after, ()))


@router.post("/sign-in")
async def enter(request: Request, office: TheOffice) -> Response:
    form = await read_form(request, None)
    await run_in_threadpool(visitor_or_none, request)
    person, after = form.text("person"), local_path(form.text("after"))
    # The hash is slow on purpose; off the event loop, so that nobody else waits for it.
    outcome = await run_in_threadpool(sign_in, office, person, form.text("pin"), lambda: secrets.token_urlsafe(32))
    if isinstance(outcome, Problem):
        found = await run_in_threadpool(_sign_in_page, office, person, after, (outcome,))
        return page(request, "sign_in.html", found, status=422)
    response = RedirectResponse(after if after != "/" else home_of(Visitor(outcome.person, outcome.csrf)), 303)
    settings = request.app.state.settings
    response.set_cookie(
        COOKIE, outcome.token, httponly=True, samesite="strict", secure=settings.secure_cookies, path="/"
    )
    return response


@router.post("/sign-in/language")
async def choose_language(request: Request) -> Response:
    """Keep on this browser which language is read there before anybody has signed in."""
    form = await read_form(request, None)
    response = RedirectResponse(f"/sign-in?after={quote(local_path(form.text('after')))}", 303)
    response.set_cookie(
        LANGUAGE_COOKIE, known(form.text("language")), max_age=YEAR_S, httponly=True, samesite="strict",
        secure=request.app.state.settings.secure_cookies, path="/",
    )  # fmt: skip
    return response


@router.post("/sign-out")
async def leave(request: Request, office: TheOffice, visitor: Anyone) -> Response:
    await read_form(request, visitor)
    await run_in_threadpool(sign_out, office, request.cookies.get(COOKIE, ""))
    response = RedirectResponse("/sign-in", 303)
    response.delete_cookie(COOKIE, path="/")
    return response


@router.get("/")
def front(request: Request) -> Response:
    visitor = visitor_or_none(request)
    return RedirectResponse(home_of(visitor) if visitor else "/sign-in", 303)


def home_of(visitor: Visitor) -> str:
    """Where a person's day begins."""
    if visitor.has(Role.TECHNICIAN):
        return "/work"
    return "/floor" if visitor.has(Role.FOREMAN) else "/desk"


def local_path(wanted: str) -> str:
    """A path on this server, whatever was asked for."""
    return wanted if wanted.startswith("/") and not wanted.startswith(("//", "/\\")) and "\n" not in wanted else "/"


def _sign_in_page(office: TheOffice, chosen: str, after: str, problems: tuple[Problem, ...]) -> SignInPage:
    with office.store.reading() as unit:
        people = [one for one in unit.people.all() if one.active]
    return SignInPage(
        people=[
            {
                "id": one.id,
                "name": one.name,
                "roles": ", ".join(word(f"role.{role.value}") for role in Role if role in one.roles),
            }
            for one in sorted(people, key=lambda one: one.name.casefold())
        ],
        chosen=chosen,
        after=local_path(after),
        told=told(problems),
        title=_("Sign in"),
        languages=[one for one in LANGUAGES.items() if one[0] != spoken()],
    )
