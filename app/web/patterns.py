"""The page of patterns: every partial in every state, to be looked at while it is worked on. For development alone.

What is shown comes from outside (`Found`), out of the invented workshop. Nothing on these pages does anything: forms go
nowhere, links lead to themselves, and nothing is fetched.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Protocol

from fastapi import APIRouter, Request
from markupsafe import Markup
from starlette.responses import Response

from app.domain.problems import NotFound
from app.web.rendering import environment, page

# What belongs together, by the folder it is in, and what the group is called.
GROUPS = {
    "tablet": "Sheet, My work, Sign in", "drawings": "Drawings", "symbols": "Symbols", "floor": "Floor", "desk": "Desk",
    "estimates": "Estimates", "reckoner": "Reckoner", "": "Every page",
}  # fmt: skip
# What a fragment has to stand in, by what it begins with.
AROUND = {
    "li": ("<ul>", "</ul>"),
    "tr": ("<table class='table'><tbody>", "</tbody></table>"),
    "td": ("<table class='table'><tbody><tr>", "</tr></tbody></table>"),
    "dt": ("<dl>", "</dl>"),
    **dict.fromkeys(
        ("circle", "line", "polyline", "polygon", "path", "rect", "text", "g"),
        ("<svg class='axle-drawing' viewBox='0 0 432 444' role='img' aria-label='part of a drawing'>", "</svg>"),
    ),
}
SPRITE = "symbols/_set.svg"


class Found(Protocol):
    """A partial in one state, as whoever finds them gives it."""

    @property
    def template(self) -> str: ...
    @property
    def macro(self) -> str: ...
    @property
    def where(self) -> str: ...
    @property
    def html(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Shown:
    """One state: an id on the page, where it was seen, and what it looks like."""

    id: str
    where: str
    html: str


@dataclass(frozen=True, slots=True)
class Part:
    id: str
    name: str
    states: list[Shown]


@dataclass(frozen=True, slots=True)
class PatternsPage:
    """One group's parts, and every group's name, address and number of states."""

    title: str
    groups: list[tuple[str, str, int]]
    parts: list[Part]
    symbols: list[str]


def make_router(found: Callable[[], Iterable[Found]]) -> APIRouter:
    router = APIRouter()

    @router.get("/patterns")
    def front(request: Request) -> Response:
        return _show(request, found(), None)

    @router.get("/patterns/{group}")
    def group(request: Request, group: str) -> Response:
        key = "" if group == "frame" else group
        if key not in GROUPS or group == "":
            raise NotFound("patterns", group)
        return _show(request, found(), key)

    return router


def _show(request: Request, found: Iterable[Found], group: str | None) -> Response:
    every = list(found)
    groups = [
        (words, f"/patterns/{key or 'frame'}", sum(group_of(one.template) == key for one in every))
        for key, words in GROUPS.items()
    ]
    title = "Patterns" if group is None else f"Patterns: {GROUPS[group]}"
    shown = parts_of([one for one in every if group_of(one.template) == group]) if group is not None else []
    sprite = environment().get_template(SPRITE).render() if group == "symbols" else ""
    return page(
        request, "patterns.html", PatternsPage(title, groups, shown, re.findall(r'<symbol id="([^"]+)"', sprite))
    )


def group_of(template: str) -> str:
    return template.rpartition("/")[0]


def parts_of(found: Iterable[Found]) -> list[Part]:
    """By name, each state with ids of its own."""
    parts: dict[str, Part] = {}
    for one in found:
        if one.template == SPRITE:
            continue
        name = f"{one.template}{', ' if one.macro else ''}{one.macro}"
        part = parts.setdefault(name, Part(f"part-{len(parts) + 1}", name, []))
        at = f"{part.id}-{len(part.states) + 1}"
        part.states.append(Shown(at, one.where, Markup(still(one.html, at))))
    return list(parts.values())


def still(html: str, at: str) -> str:
    """The fragment on its own: what it has to stand in around it, its ids its own, nothing sent or fetched by it."""
    html = re.sub(r'\s(?:hx-[\w:-]+|data-(?:behaviour|live|topic|drag))(?:="[^"]*")?', "", html)
    html = re.sub(r"(<form\b[^>]*?)\s(?:method|action|enctype)=\"[^\"]*\"", r"\1", html)
    html = re.sub(r"(<form\b[^>]*?)\s(?:method|action|enctype)=\"[^\"]*\"", r"\1", html)
    html = re.sub(r"(<form\b[^>]*?)\s(?:method|action|enctype)=\"[^\"]*\"", r"\1", html)
    html = html.replace("<form", '<form method="dialog"')
    html = re.sub(r'(<a\b[^>]*?\shref=")[^"]*"', rf'\g<1>#{at}"', html)
    html = re.sub(r'(<(?:img|iframe)\b[^>]*?\ssrc=")[^"]*"', r'\g<1>/static/icon.svg"', html)
    html = re.sub(r"\sautofocus\b", "", html)
    own = set(re.findall(r'\sid="([^"]+)"', html))

    def renamed(match: re.Match[str]) -> str:
        names = [f"{one}--{at}" if one in own else one for one in match[2].split(" ")]
        return f'{match[1]}{" ".join(names)}"'

    html = re.sub(r'(\s(?:id|for|list|headers|form|aria-(?:labelledby|describedby|controls))=")([^"]*)"', renamed, html)
    first = re.search(r"<([a-zA-Z][\w-]*)", html)
    begin, end = AROUND.get(first[1] if first else "", ("", ""))
    # Radio buttons that are in no form of their own would be one group all over the page.
    if "<form" not in html and "<input" in html:
        begin, end = f'<form method="dialog">{begin}', f"{end}</form>"
    return f"{begin}{html}{end}"
