"""Every route of the application: who may use it, what happens to those who may not, and that no form is taken blind.

The routes are read off the application, so a new one is tested by being there.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.dependencies.models import Dependant
from fastapi.routing import APIRoute, iter_route_contexts
from starlette.routing import Mount
from starlette.testclient import TestClient

from app.bootstrap import Wired, app_of
from app.domain.records import Role
from app.mail.folder import FolderPostman
from app.settings import Settings
from app.web.security import OPEN_TO_ALL
from tests.builders import ADA, DEE, Someone
from tests.offices import FAY, Visitor, a_visitor, an_office

# The one address besides OPEN_TO_ALL that names no role: it only sends on, to signing in or to a person's first page.
SENDS_ON = "/"
ONE_ROLE_EACH = {Role.TECHNICIAN: ADA, Role.FOREMAN: FAY, Role.DESK: DEE}


@dataclass(frozen=True)
class Route:
    path: str
    method: str
    roles: tuple[Role, ...] | None

    @property
    def address(self) -> str:
        """The path with something in place of every name in braces; nothing of that id exists."""
        return re.sub(r"\{[^}]+\}", "nothing-here", self.path)

    def __str__(self) -> str:
        return f"{self.method} {self.path}"


def the_app() -> FastAPI:
    """The whole application as served, with the tablets' exchange, over an invented workshop."""
    here = an_office()
    settings = Settings(_env_file=None)  # type: ignore[call-arg]
    return app_of(Wired(settings, here.office, here.hub, FolderPostman(settings.mail_folder)))


@lru_cache(maxsize=1)
def shared_app() -> FastAPI:
    return the_app()


def every_route(app: FastAPI) -> Iterator[Route]:
    for found in iter_route_contexts(app.routes):
        route = found.original_route
        if isinstance(route, Mount):
            yield Route(route.path, "GET", None)
            continue
        assert isinstance(route, APIRoute), f"{route} is of a kind this test does not know"
        for method in sorted(route.methods - {"HEAD", "OPTIONS"}):
            yield Route(route.path, method, roles_of(route.dependant))


def roles_of(dependant: Dependant) -> tuple[Role, ...] | None:
    """The roles a route needs (empty: any); None when it has no `need(...)` at all."""
    for one in dependant.dependencies:
        found = getattr(one.call, "roles", None)
        if found is not None:
            return tuple(found)
        deeper = roles_of(one)
        if deeper is not None:
            return deeper
    return None


ROUTES = tuple(every_route(shared_app()))
GUARDED = tuple(one for one in ROUTES if one.roles is not None)
PAGES = tuple(one for one in GUARDED if one.method == "GET")
FORMS = tuple(one for one in GUARDED if one.method == "POST")


def as_cases(routes: tuple[Route, ...]) -> Any:
    return pytest.mark.parametrize("route", routes, ids=str)


def test_the_walk_finds_the_routes() -> None:
    """A walk that finds nothing would pass everything below."""
    found = {str(one) for one in ROUTES}
    assert {"GET /sign-in", "GET /work", "POST /desk/bays", "GET /desk/people", "POST /sync/entries"} <= found
    assert len(PAGES) > 20
    assert len(FORMS) > 10


@as_cases(ROUTES)
def test_a_route_names_its_roles_or_is_open_to_all(route: Route) -> None:
    assert route.roles is not None or route.path in {*OPEN_TO_ALL, SENDS_ON}


@as_cases(ROUTES)
def test_only_reading_and_sending_are_used(route: Route) -> None:
    assert route.method in ("GET", "POST")


@as_cases(PAGES)
def test_a_page_sends_a_stranger_to_sign_in(route: Route) -> None:
    answer = TestClient(shared_app()).get(route.address, follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/sign-in")


@as_cases(FORMS)
def test_a_form_of_a_stranger_is_not_taken(route: Route) -> None:
    answer = TestClient(shared_app()).post(route.address, data={"csrf": "guessed"}, follow_redirects=False)
    assert (answer.status_code, answer.headers.get("location", "")[:8]) == (303, "/sign-in")


@lru_cache(maxsize=8)
def signed_in(someone: Someone) -> Visitor:
    return a_visitor(shared_app(), someone)


def someone_with(roles: tuple[Role, ...]) -> Someone:
    return next(one for role, one in ONE_ROLE_EACH.items() if not roles or role in roles)


@as_cases(FORMS)
@pytest.mark.parametrize("token", [None, "", "guessed"])
def test_a_form_without_its_token_is_refused(route: Route, token: str | None) -> None:
    """Whoever may send it, and whatever else it carries: without this sign-in's own token nothing is taken."""
    visitor = signed_in(someone_with(route.roles or ()))
    data = {"name": "x"} if token is None else {"name": "x", "csrf": token}
    answer = visitor.client.post(route.address, data=data, follow_redirects=False)
    assert answer.status_code == 403


WRONG = tuple(
    (route, someone)
    for route in GUARDED
    if route.roles
    for role, someone in ONE_ROLE_EACH.items()
    if role not in route.roles
)


@pytest.mark.parametrize(("route", "someone"), WRONG, ids=lambda one: str(getattr(one, "name", one)))
def test_a_role_that_may_not_is_turned_away(route: Route, someone: Someone) -> None:
    visitor = signed_in(someone)
    answer = visitor.get(route.address) if route.method == "GET" else visitor.sends(route.address)
    assert answer.status_code == 403
    assert "This page is for another role" in answer.text


def test_there_are_roles_to_turn_away() -> None:
    assert len(WRONG) > 20


@as_cases(tuple(one for one in PAGES if "{" in one.path and "/events/" not in one.path))
def test_an_unknown_thing_is_said_to_be_unknown(route: Route) -> None:
    visitor = signed_in(someone_with(route.roles or ()))
    assert visitor.get(route.address).status_code == 404


def test_a_page_may_say_its_own_policy_and_keeps_the_other_headers() -> None:
    answer = TestClient(shared_app()).get("/sign-in")
    assert answer.headers.get_list("content-security-policy") == [answer.headers["content-security-policy"]]
    assert "frame-ancestors 'none'" in answer.headers["content-security-policy"]
    assert answer.headers["x-content-type-options"] == "nosniff"
