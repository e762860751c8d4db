"""Who is asking and whether they may: sign-in cookie, roles, forged forms, response headers.

Every route either names its roles with `need(...)` or is listed in `OPEN_TO_ALL`; a contract test walks the routes.
"""

from __future__ import annotations

import hmac
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import Annotated

from fastapi import Depends, Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.domain.records import Person, Role
from app.language.catalogue import ENGLISH
from app.language.speech import speak, speaking
from app.use_cases.office import SHOP_ID, Office
from app.use_cases.sign_in import who_is

COOKIE = "cotterpin"
# Which language somebody who is not signed in has chosen to read.
LANGUAGE_COOKIE = "cotterpin-language"
TABLET_PERSON = "x-tablet-person"
OPEN_TO_ALL = frozenset((
    "/sign-in", "/sign-in/language", "/readiness", "/health", "/static", "/worker.js", "/bundle/manifest.json",
    "/bundle/{content}/{path:path}", "/manifest.webmanifest",
    # By a tablet's own credential, or a one-time code
    "/sync/entries", "/sync/contact", "/sync/sign-in", "/sync/readiness", "/sync/enrol", "/enrol", "/enrol/{code}",
    "/sync/photos/{sha256}",
))  # fmt: skip

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; "
        "connect-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; "
        "frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "geolocation=(), microphone=(), payment=()",
}
# What pages load carries those that browsers heed there; the rest is for what is opened by itself, and for a worker.
WITH_PARTS = frozenset({"X-Content-Type-Options", "Cross-Origin-Resource-Policy"})
PARTS = ("/bundle/", "/static/")
KINDS_OF_PARTS = (b"text/css", b"text/javascript", b"font/", b"application/json")


class SignInWanted(Exception):
    """Nobody is signed in at this browser; the page asked for comes back after signing in."""


class RoleWanted(Exception):
    """The person's roles do not cover this page."""

    def __init__(self, roles: tuple[Role, ...]) -> None:
        super().__init__(", ".join(roles))
        self.roles = roles


class FormForged(Exception):
    """A form came without the token this browser was given."""


@dataclass(frozen=True, slots=True)
class Visitor:
    """The person at this browser and the token their forms carry."""

    person: Person
    csrf: str

    @property
    def person_id(self) -> str:
        return self.person.id

    def has(self, *roles: Role) -> bool:
        return bool(self.person.roles & set(roles))


def office_of(request: Request) -> Office:
    office: Office = request.app.state.office
    return office


def visitor_or_none(request: Request) -> Visitor | None:
    """Who asks, if anybody; from here on the answer is in their language, or in the one this browser reads."""
    found = _visitor(request)
    own = found.person.language if found is not None else request.cookies.get(LANGUAGE_COOKIE, "")
    speak(own or _language_of_shop(request))
    return found


def _language_of_shop(request: Request) -> str:
    with office_of(request).store.reading() as unit:
        shop = unit.shops.get(SHOP_ID)
    return shop.language if shop is not None else ENGLISH


def _visitor(request: Request) -> Visitor | None:
    token = request.cookies.get(COOKIE, "")
    if not token:
        return None
    found = who_is(office_of(request), token, timedelta(hours=request.app.state.settings.sign_in_hours))
    if found is None:
        return None
    person, signed = found
    # A tablet says whose page it fetches. A cookie that is still another's is none of theirs.
    if request.headers.get(TABLET_PERSON, person.id) != person.id:
        return None
    return Visitor(person, signed.csrf)


def need(*roles: Role) -> Callable[[Request], Visitor]:
    """A dependency: the visitor, who has at least one of these roles (any role when none is named)."""

    def visitor(request: Request) -> Visitor:
        found = visitor_or_none(request)
        if found is None:
            raise SignInWanted
        if roles and not found.has(*roles):
            raise RoleWanted(roles)
        return found

    visitor.roles = roles  # type: ignore[attr-defined]
    return visitor


Anyone = Annotated[Visitor, Depends(need())]
Technician = Annotated[Visitor, Depends(need(Role.TECHNICIAN))]
Foreman = Annotated[Visitor, Depends(need(Role.FOREMAN))]
Desk = Annotated[Visitor, Depends(need(Role.DESK, Role.FOREMAN))]
TheOffice = Annotated[Office, Depends(office_of)]


def check_csrf(visitor: Visitor, token: object) -> None:
    """Raises: FormForged unless the form carries this sign-in's own token."""
    if not isinstance(token, str) or not hmac.compare_digest(visitor.csrf.encode(), token.encode()):
        raise FormForged


class Speaks:
    """Begins every answer in English; whoever turns out to be asking, `visitor_or_none` goes on in their language."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        with speaking(ENGLISH):
            await self.app(scope, receive, send)


class SecurityHeaders:
    """Adds the headers to every response, and forbids caching of what neither is a static file nor says otherwise."""

    def __init__(self, app: ASGIApp, hsts_days: int = 0) -> None:
        self.app = app
        self._headers = [(name.lower().encode(), value.encode()) for name, value in HEADERS.items()]
        # Counts over HTTPS alone (RFC 6797, 7.2).
        strict = (b"strict-transport-security", f"max-age={hsts_days * 86_400}".encode())
        self._with_parts = [
            (name.lower().encode(), value.encode()) for name, value in HEADERS.items() if name in WITH_PARTS
        ]
        self._https_headers = [*self._headers, strict] if hsts_days else self._headers

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        static = scope["path"].startswith("/static/")
        ours = self._https_headers if scope.get("scheme") == "https" else self._headers

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                # A page that has to say one of these otherwise (a letter in its frame) has said it by itself.
                own = {name.lower(): value for name, value in message.get("headers", [])}
                is_part = scope["path"].startswith(PARTS) and own.get(b"content-type", b"").startswith(KINDS_OF_PARTS)
                added = self._with_parts if is_part else ours
                headers = [*message.get("headers", []), *(one for one in added if one[0] not in own)]
                if not static and not any(name.lower() == b"cache-control" for name, _ in headers):
                    headers.append((b"cache-control", b"no-store"))
                message = {**message, "headers": headers}
            await send(message)

        await self.app(scope, receive, with_headers)
