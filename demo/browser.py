"""A browser without a screen: opens pages, reads their forms out of the HTML, and sends them as a browser would.

It can only send what a form on the page has: a field that is not there, or an answer that is not offered, is the
page's or the caller's mistake and stops the walk. What a page does not offer can be sent by saying so (`forced`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import urljoin, urlsplit

import httpx

VOID = frozenset({"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"})
SILENT = frozenset({"script", "style", "svg"})


class PageUnlike(AssertionError):
    """A page is not what the walk expects: what was looked for is not on it."""


@dataclass
class Element:
    tag: str
    attrs: Mapping[str, str]
    parent: Element | None = None
    children: list[Element | str] = field(default_factory=list)

    def walk(self) -> Iterator[Element]:
        """This element and all inside it, in the order of the page."""
        yield self
        for child in self.children:
            if isinstance(child, Element):
                yield from child.walk()

    def texts(self) -> Iterator[str]:
        for child in self.children:
            if isinstance(child, str):
                yield child
            elif child.tag not in SILENT:
                yield from child.texts()

    @property
    def text(self) -> str:
        """What a person reads here, in one line."""
        return " ".join(" ".join(self.texts()).split())

    def is_a(self, name: str) -> bool:
        return name in self.attrs.get("class", "").split()

    def all(self, tag: str = "", cls: str = "") -> list[Element]:
        return [one for one in self.walk() if (not tag or one.tag == tag) and (not cls or one.is_a(cls))]

    def first(self, tag: str = "", cls: str = "") -> Element | None:
        return next(iter(self.all(tag, cls)), None)

    def by_id(self, name: str) -> Element | None:
        return next((one for one in self.walk() if one.attrs.get("id") == name), None)

    def forms(self) -> list[Form]:
        return [Form(one) for one in self.all("form")]


class Form:
    """A form with the fields it would send if it were sent now, and the answers each field offers."""

    def __init__(self, element: Element) -> None:
        self.element = element
        self.action = element.attrs.get("action", "")
        self.method = element.attrs.get("method", "get").lower()
        self.values: dict[str, str] = {}
        self.offers: dict[str, list[str]] = {}
        self.labels: dict[str, str] = {}
        labels = {one.attrs["for"]: one.text for one in element.all("label") if "for" in one.attrs}
        for one in element.walk():
            if one.attrs.get("name") and "disabled" not in one.attrs:
                self._take(one, labels)

    def _take(self, one: Element, labels: Mapping[str, str]) -> None:
        name, kind = one.attrs["name"], one.attrs.get("type", "text")
        self.labels.setdefault(name, labels.get(one.attrs.get("id", ""), ""))
        if one.tag == "input" and kind in ("radio", "checkbox"):
            value = one.attrs.get("value", "on")
            self.offers.setdefault(name, []).append(value)
            if "checked" in one.attrs:
                self.values[name] = value
        elif one.tag == "input":
            self.values[name] = one.attrs.get("value", "")
        elif one.tag == "textarea":
            # A line break right after the tag is the page's own, not typed: HTML standard, section 13.2.6.4.7.
            self.values[name] = "".join(one.texts()).removeprefix("\n")
        elif one.tag == "select":
            options = one.all("option")
            self.offers[name] = [option.attrs.get("value", option.text) for option in options]
            chosen = next((option for option in options if "selected" in option.attrs), options[0] if options else None)
            self.values[name] = chosen.attrs.get("value", chosen.text) if chosen is not None else ""
        elif one.tag == "button" and kind in ("submit", "text"):
            self.offers.setdefault(name, []).append(one.attrs.get("value", ""))

    @property
    def kind(self) -> str:
        """What kind of entry a form of a sheet makes."""
        return self.values.get("kind", "")

    def fields(self, typed: Mapping[str, str]) -> dict[str, str]:
        """Everything the form sends once this is filled in."""
        for name, value in typed.items():
            if name not in self.values and name not in self.offers:
                raise PageUnlike(f"the form for {self.action} has no field {name}; it has {sorted(self.values)}")
            if name in self.offers and value not in self.offers[name]:
                raise PageUnlike(f"{name} offers {self.offers[name]}, not {value!r}")
        return {**self.values, **typed}


class _Builder(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = Element("page", {})
        self._at = self.root

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        one = Element(tag, {name: value or "" for name, value in attrs}, self._at)
        self._at.children.append(one)
        if tag not in VOID:
            self._at = one

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        open_one: Element | None = self._at
        while open_one is not None and open_one.tag != tag:
            open_one = open_one.parent
        if open_one is not None and open_one.parent is not None:
            self._at = open_one.parent

    def handle_data(self, data: str) -> None:
        self._at.children.append(data)


def read_page(html: str) -> Element:
    builder = _Builder()
    builder.feed(html)
    builder.close()
    return builder.root


@dataclass
class Page:
    """A page as it came: its address after any redirects, its status, what is on it."""

    address: str
    status: int
    root: Element

    @property
    def heading(self) -> str:
        first = self.root.first("h1")
        return first.text if first is not None else ""

    def need(self, name: str) -> Element:
        found = self.root.by_id(name)
        if found is None:
            raise PageUnlike(f"{self.address} ({self.status}, “{self.heading}”) has nothing named #{name}")
        return found

    def form_to(self, action: str, **hidden: str) -> Form:
        """The form that goes to this address and carries these hidden values."""
        for one in self.root.forms():
            if urlsplit(one.action).path == action and all(one.values.get(key) == hidden[key] for key in hidden):
                return one
        there = sorted({one.action for one in self.root.forms()})
        raise PageUnlike(f"{self.address} ({self.status}, “{self.heading}”) has no form to {action} {hidden}: {there}")


class Browser:
    """One browser: its own cookies, follows redirects, keeps every page's address."""

    def __init__(self, base: str) -> None:
        self._client = httpx.Client(base_url=base, follow_redirects=True, timeout=30)

    def open(self, address: str) -> Page:
        return self._page(self._client.get(address))

    def send(
        self, page: Page, form: Form, typed: Mapping[str, str] = {}, *, forced: Mapping[str, str | Sequence[str]] = {}
    ) -> Page:
        """Send a form of this page. `forced`: fields and values the form itself does not offer, or more than one."""
        fields = {**form.fields(typed), **forced}
        address = urljoin(page.address, form.action)
        if form.method == "get":
            return self._page(self._client.get(address, params=fields))
        return self._page(self._client.post(address, data=fields))

    def close(self) -> None:
        self._client.close()

    def _page(self, answer: httpx.Response) -> Page:
        if answer.status_code >= 500:
            raise PageUnlike(f"{answer.request.method} {answer.url}: {answer.status_code}")
        return Page(str(answer.url), answer.status_code, read_page(answer.text))
