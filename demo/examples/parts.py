"""Every partial in every state the invented workshop has it in, found by rendering the workshop and noting what comes.

Nothing is listed by hand: pages are found by their links, refusals by sending forms empty, sheets by replaying their
ledgers. A partial is in another state where its own markup differs, apart from words, ids and how often things repeat.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from fastapi import FastAPI
from jinja2 import Environment, Template
from jinja2.runtime import Macro
from markupsafe import Markup
from starlette.testclient import TestClient

from app.bootstrap import Wired, app_of
from app.mail.folder import FolderPostman
from app.settings import Settings
from app.storage.memory import MemoryStore
from app.use_cases.office import Office
from app.web.hub import Hub
from app.web.rendering import environment
from demo import larkfield
from demo.browser import Form, read_page
from demo.examples.states import everything_shown, workshop
from demo.examples.written import written

# One person for each role, who has no other.
WHO = ("bram", "foreman", "maud")
STARTS = ("/work", "/floor", "/desk", "/desk/workshop?said=kept", "/tools", "/reckoner", "/nothing-here")
# How many pages of one template are looked at, which of the sheets' states, and how many states of a part are shown:
# enough for every part, and for a page that comes within half a minute.
PAGES_OF_ONE, MORE_OF = 4, {"floor/job.html": 14, "floor/estimate.html": 14, "reckoner/sum.html": 60}
EVERY = 7
STATES_OF_ONE = 12
# What a page consists of around its parts: shown by every page, and not to be put into one.
FRAME = frozenset({"_frame_top.html", "_frame_end.html", "tablet/_document.html"})
BEGIN, NAME_ENDS, END = "\ue000", "\ue001", "\ue002"
INNERMOST = re.compile(f"{BEGIN}([^{BEGIN}{NAME_ENDS}{END}]*){NAME_ENDS}([^{BEGIN}{END}]*){END}")
TAG = re.compile(r"<(/?[a-zA-Z][\w-]*)((?:[^>\"']|\"[^\"]*\"|'[^']*')*)>|@\(([^)]*)\)|([^<@]+)")
TELLING = re.compile(r'\b(class|hidden|disabled|checked|open|aria-current|aria-invalid|readonly)(?:="([^"]*)")?')
REPEATS = re.compile(r"(.{1,24}?)\1+", re.S)


@dataclass(frozen=True, slots=True)
class Example:
    """A partial, or a macro of one, in one state: what it gives there. where: the page it was seen on."""

    template: str
    macro: str
    where: str
    html: str


@lru_cache(maxsize=1)
def examples() -> tuple[Example, ...]:
    """Each partial in each of its states, by name, in the order they were come upon."""
    found: dict[tuple[str, str], dict[str, Example]] = {}
    for template, context, where in everything():
        text = recording().get_template(template).render(context)
        for one, own in seen_in(text, where):
            states = found.setdefault((one.template, one.macro), {})
            if len(states) < STATES_OF_ONE:
                states.setdefault(state_of(own), one)
    return tuple(one for name in sorted(found) for one in found[name].values())


def everything() -> Iterator[tuple[str, Mapping[str, Any], str]]:
    """Whatever the office and the tablets show of the workshop: template, context, and where that was."""
    office = workshop()
    yield from written()
    yield from pages(office)
    for nth, shown in enumerate(everything_shown(office)):
        # A second look waits for hours in few jobs, and in none for long.
        second = shown.context.get("view", {}).get("hand", {}).get("second", {})
        if nth % EVERY == 0 or shown.template == "tablet/_document.html" or second.get("shown"):
            yield shown.template, shown.context, shown.where


# --- Pages --------------------------------------------------------------------------------------------------------


def pages(office: Office) -> Iterator[tuple[str, Mapping[str, Any], str]]:
    """Every page that links lead to, as each role finds it; then what comes of sending its forms with nothing typed."""
    app = app_on_a_copy(office)
    for who in WHO:
        client = signed_in(app, who)
        sent: dict[str, Form] = {}
        for answer, forms in walked(client):
            yield answer.template, answer.context, f"{answer.url.path}, {who}"
            sent |= {re.sub(r"[\d-]+", "#", one.action): one for one in forms}
        for form in sent.values():
            emptied = {name: "" if _is_typed(form, name) else value for name, value in form.values.items()}
            answer = client.post(form.action, data=emptied)
            if answer.status_code == 422 and hasattr(answer, "template"):
                yield answer.template, answer.context, f"{form.action} sent empty, {who}"


def app_on_a_copy(office: Office) -> FastAPI:
    """The office's application over records of its own, so that nothing done here shows elsewhere."""
    store = MemoryStore()
    assert isinstance(office.store, MemoryStore)
    store.publish(office.store._state)
    settings = Settings(_env_file=None)
    return app_of(Wired(settings, replace(office, store=store), Hub(), FolderPostman(settings.mail_folder)))


def signed_in(app: FastAPI, who: str) -> TestClient:
    client = TestClient(app, base_url="http://office.test", raise_server_exceptions=False, follow_redirects=False)
    pin = next(one.pin for one in larkfield.PEOPLE if one.key == who)
    assert client.post("/sign-in", data={"person": who, "pin": pin}).status_code == 303
    return client


def walked(client: TestClient) -> Iterator[tuple[Any, list[Form]]]:
    """Pages in the order their links are come upon, each with its forms, no more than a few of one kind."""
    waiting, known, of_one = list(STARTS), set(STARTS), dict[str, int]()
    while waiting:
        answer = client.get(waiting.pop(0))
        name = getattr(answer, "template", None)
        if name is None or of_one.get(name, 0) >= MORE_OF.get(name, PAGES_OF_ONE):
            continue
        of_one[name] = of_one.get(name, 0) + 1
        root = read_page(answer.text)
        yield answer, [one for one in root.forms() if one.method == "post" and one.action.startswith("/")]
        for link in (one.attrs.get("href", "").partition("#")[0] for one in root.all("a")):
            if link.startswith("/") and link not in known:
                known.add(link)
                waiting.append(link)


def _is_typed(form: Form, name: str) -> bool:
    field = next(one for one in form.element.walk() if one.attrs.get("name") == name)
    return field.attrs.get("type", "text") in ("text", "search", "email", "tel", "number", "password") or (
        field.tag == "textarea"
    )


# --- Noting what is rendered --------------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def recording() -> Environment:
    """The product's environment, with marks around whatever each template and each macro gives."""
    made = environment().overlay(cache_size=-1)
    made.template_class = _Marked
    return made


class _Marked(Template):
    @classmethod
    def _from_namespace(cls, environment: Environment, namespace: Any, globals: Any) -> Template:
        made = super()._from_namespace(environment, namespace, globals)
        made.root_render_func = _marked(made.name or "", made.root_render_func)
        return made

    def make_module(self, vars: Any = None, shared: bool = False, locals: Any = None) -> Any:
        made = super().make_module(vars, shared, locals)
        for name, one in list(vars_of(made).items()):
            if isinstance(one, Macro):
                setattr(made, name, _marked_macro(f"{self.name}:{name}", one))
        return made


def vars_of(module: Any) -> dict[str, Any]:
    found: dict[str, Any] = vars(module)
    return found


def _marked(name: str, render: Callable[..., Any]) -> Callable[..., Iterator[str]]:
    def marked(context: Any) -> Iterator[str]:
        yield f"{BEGIN}{name}{NAME_ENDS}{''.join(render(context))}{END}"

    return marked


def _marked_macro(name: str, macro: Macro) -> Callable[..., Markup]:
    def marked(*given: Any, **named: Any) -> Markup:
        return Markup(f"{BEGIN}{name}{NAME_ENDS}{macro(*given, **named)}{END}")

    return marked


def seen_in(text: str, where: str) -> Iterator[tuple[Example, str]]:
    """Each part of what was rendered, whole, and beside it its own markup with a name where another part stands."""
    inside: list[tuple[str, str]] = []

    def take(found: re.Match[str]) -> str:
        inside.append((found[1], found[2]))
        return f"@({len(inside) - 1})"

    while INNERMOST.search(text):
        text = INNERMOST.sub(take, text)
    whole: list[str] = []
    for name, own in inside:
        whole.append(re.sub(r"@\((\d+)\)", lambda one: whole[int(one[1])], own))
        template, _, macro = name.partition(":")
        if is_part(template, macro) and whole[-1].strip():
            named = re.sub(r"@\((\d+)\)", lambda one: f"@({inside[int(one[1])][0]})", own)
            yield Example(template, macro, where, whole[-1]), named


def is_part(template: str, macro: str = "") -> bool:
    return (template.rpartition("/")[2].startswith("_") or bool(macro)) and template not in FRAME


def state_of(own: str) -> str:
    """What tells one state of a partial from another: its tags, their classes and marks, where words stand."""
    known: dict[str, str] = {}
    letters: list[str] = []
    for found in TAG.finditer(own):
        if found[1]:
            told = " ".join(f"{name}={value}" for name, value in TELLING.findall(found[2] or ""))
            token = f"<{found[1]} {told}>"
        elif found[3]:
            token = f"@{found[3]}"
        elif found[4].strip():
            token = "words"
        else:
            continue
        letters.append(known.setdefault(token, chr(0x4E00 + len(known))))
    text, before = "".join(letters), ""
    while text != before:
        text, before = REPEATS.sub(r"\1", text), text
    tokens = {letter: token for token, letter in known.items()}
    return "".join(tokens[letter] for letter in text)
