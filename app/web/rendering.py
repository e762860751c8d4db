"""Pages and partials from templates. A page takes one context object; partials say at their top what they read."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from fastapi import Request
from jinja2 import FileSystemLoader, StrictUndefined, select_autoescape
from starlette.responses import HTMLResponse
from starlette.types import Receive, Scope, Send

from app.domain.records import Role
from app.language.catalogue import ENGLISH, LANGUAGES
from app.language.speech import _, spoken
from app.language.templates import SpeakingEnvironment
from app.packing import packed_for
from app.settings import ROOT
from app.texts import sentence
from app.web.security import Visitor

TEMPLATES = ROOT / "templates"
STATIC = ROOT / "static"
# What pages load, by the names templates have for it. The tablet has the first three, out of its bundle.
ASSETS = {
    "icon": "icon.svg", "styles": "css/main.css", "script": "js/main.js", "htmx": "vendor/htmx-4.0.1.min.js",
    "enrol": "tablet/enrol.js", "readiness": "tablet/readiness.js", "pocket": "tablet/pocket.js",
}  # fmt: skip
# Pages that exchange nothing, and that a new tablet opens: they do without htmx.
WITHOUT_HTMX = frozenset({"enrol.html", "readiness.html", "sign_in.html"})
# And those whose one script has all they need.
OWN_SCRIPT = {"enrol.html": "enrol", "readiness.html": "readiness"}
UNSAVED = ("no_answer", "not_taken", "signed_out", "too_large")


def environment(language: str = ENGLISH) -> SpeakingEnvironment:
    """The one Jinja2 environment of a language: a missing name fails loudly, everything is escaped."""
    return _environment(language)


@lru_cache(maxsize=len(LANGUAGES))
def _environment(language: str) -> SpeakingEnvironment:
    made = SpeakingEnvironment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=select_autoescape(("html", "svg")),
        undefined=StrictUndefined,
        finalize=_plain,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals |= {"asset": asset, "_": _}
    made.language = language
    return made


def _plain(value: object) -> object:
    """Refuse to put out a list or an object: a person would read Python, and the tablet refuses it too."""
    if isinstance(value, (list, tuple, dict, set, frozenset)):
        raise TypeError(f"a template puts out a {type(value).__name__}, not a text")
    return value


@lru_cache(maxsize=256)
def asset(path: str) -> str:
    """The address of a static file with its content's hash, so that a browser never shows an old one."""
    digest = hashlib.sha256(Path(STATIC / path).read_bytes()).hexdigest()[:12]
    return f"/static/{path}?{digest}"


def plain_assets() -> dict[str, str]:
    """Every file as it lies in static/, for work on them: seen as soon as it is saved, and not joined with others."""
    return {name: asset(path) for name, path in ASSETS.items()}


def wants_fragment(request: Request) -> bool:
    """Whether htmx asks for a part of a page rather than for a page."""
    return request.headers.get("hx-request") == "true" and request.headers.get("hx-request-type") != "full"


class Rendered(HTMLResponse):
    """A page that tells whoever calls the application directly what it was made from.

    Source: the extension `http.response.debug` of ASGI, which no server in use offers and Starlette's test client does.
    """

    def __init__(self, body: bytes, status: int, headers: Mapping[str, str], *, made_from: tuple[str, object]) -> None:
        super().__init__(body, status, headers)
        self._made_from = made_from

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if "http.response.debug" in scope.get("extensions", {}):
            template, given = self._made_from
            await send({"type": "http.response.debug", "info": {"template": template, "context": given}})
        await super().__call__(scope, receive, send)


def page(
    request: Request,
    template: str,
    context: object,
    visitor: Visitor | None = None,
    *,
    status: int = 200,
    headers: Mapping[str, str] | None = None,
) -> HTMLResponse:
    """Render a full page. The template sees `page` (the context), `me`, `csrf`, `may` and `path`."""
    given = frame(request, context, visitor)
    if template in WITHOUT_HTMX:
        found = given["assets"]
        given["assets"] = {**found, "htmx": "", "script": found[OWN_SCRIPT.get(template, "script")]}
    body = environment(spoken()).get_template(template).render(given).encode()
    varies = "HX-Request"
    coded: dict[str, str] = {}
    if visitor is None:
        # Made for nobody in particular: there is no token on it that its length could tell.
        body, coded = packed_for(request.headers.get("accept-encoding", ""), body)
        varies = f"{varies}, {coded.pop('Vary')}"
    return Rendered(body, status, {"Vary": varies, **coded, **(headers or {})}, made_from=(template, given))


def fragment(
    request: Request,
    template: str,
    context: object,
    visitor: Visitor | None,
    *,
    status: int = 200,
    headers: Mapping[str, str] | None = None,
) -> HTMLResponse:
    """Render a partial with the same names a page gets."""
    return page(request, template, context, visitor, status=status, headers=headers)


def frame(request: Request, context: object, visitor: Visitor | None) -> dict[str, Any]:
    roles = visitor.person.roles if visitor else frozenset()
    return {
        "page": context,
        "title": getattr(context, "title", ""),
        "me": visitor.person.name if visitor else "",
        "my_id": visitor.person.id if visitor else "",
        "csrf": visitor.csrf if visitor else "",
        "may": {role.value: role in roles for role in Role},
        "path": request.url.path,
        "language": spoken(),
        "place": request.url.path.split("/")[1],
        "assets": request.app.state.assets,
        "unsaved": {name: sentence(f"unsaved.{name}") for name in UNSAVED},
    }
