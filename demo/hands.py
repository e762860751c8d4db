"""Somebody at a tablet: signs in, reads the card in hand, answers what it asks, and goes on to the next.

Knows the sheet only by its pages: what is asked, what is offered, what is refused. Of a list of answers the first is
what a careful person finds when all is well, unless the story says otherwise.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from urllib.parse import parse_qs, urlsplit

from demo.browser import Browser, Element, Form, Page, PageUnlike
from demo.readings import LABELS, Found, reading_for

# How a vehicle is held, if the step leaves the choice: the plainest first.
HELD = ("on_wheels", "stands_frame", "stands_arm", "stands_axle", "lift_frame", "on_ramp")
BEARS = {"stands_frame": "the maker's points on the frame", "stands_arm": "lower arms, well outboard"}


class SetAside(AssertionError):
    """The sheet did not take what a person working by the book sent."""


@dataclass
class Card:
    """The step in hand on a page of a sheet."""

    page: Page
    element: Element

    @property
    def step(self) -> str:
        for form in self.element.forms():
            step = form.values.get("step") or form.values.get("look")
            if step:
                return step
        return parse_qs(urlsplit(self.page.address).query).get("step", [""])[0]

    @property
    def name(self) -> str:
        return self._words("hand__name")

    @property
    def place(self) -> str:
        return self._words("hand__where").partition("·")[2].strip()

    def form(self, kind: str) -> Form | None:
        return next((one for one in self.element.forms() if one.kind == kind), None)

    def _words(self, cls: str) -> str:
        found = self.element.first(cls=cls)
        return found.text if found is not None else ""


@dataclass
class Hand:
    """A person with a tablet. `second` gives the second readings and looks; `found` is what tests show, by step."""

    name: str
    browser: Browser
    number: str = ""
    second: Hand | None = None
    found: Mapping[str, Found] = field(default_factory=dict)
    wrenches: tuple[str, ...] = ()
    extensions: Mapping[str, str] = field(default_factory=dict)
    told: Callable[[str], None] = lambda _: None
    held: str = "on_wheels"

    # --- Signing in -----------------------------------------------------------------------------------------------

    def sign_in(self, pin: str) -> Page:
        page = self.browser.open("/sign-in")
        form = page.form_to("/sign-in")
        person = next((one for one in page.root.all("label", "choice") if self.name in one.text), None)
        box = person.first("input") if person is not None else None
        if box is None:
            raise PageUnlike(f"{self.name} is not on the sign-in page")
        return self.browser.send(page, form, {"person": box.attrs["value"], "pin": pin})

    # --- Looking --------------------------------------------------------------------------------------------------

    def sheet(self, step: str = "") -> Page:
        return self.browser.open(f"/jobs/{self.number}/sheet" + (f"?step={step}" if step else ""))

    def card(self, step: str = "") -> Card | None:
        """The step in hand; `None` when every step is done."""
        page = self.sheet(step)
        found = page.root.by_id("in-hand")
        return Card(page, found) if found is not None else None

    def card_now(self, step: str = "") -> Card:
        card = self.card(step)
        if card is None:
            raise PageUnlike(f"sheet {self.number} has no step in hand")
        return card

    # --- Doing ----------------------------------------------------------------------------------------------------

    def work(self, until: str = "") -> None:
        """Go on from step to step until all are done, or the step with this id (or ending) is in hand."""
        for _ in range(500):
            card = self.card()
            if card is None or (until and card.step.endswith(until)):
                return
            self.do(card.step)
        raise SetAside(f"sheet {self.number} comes to no end")

    def do(self, step: str) -> None:
        """Do one step: hold the vehicle, answer the gates, record what is asked, close it."""
        card = self.begin(step)
        said = []
        self.measure(card)
        self.test(self.card_now(step))
        said += self.tighten(self.card_now(step))
        self.close(step)
        said += self.have_read_again(step)
        self.told(f"{self.name}: {card.name} ({card.place})" + "".join(f"; {one}" for one in said))

    def begin(self, step: str) -> Card:
        self.hold(self.card_now(step))
        return self.pass_gates(step)

    def hold(self, card: Card) -> None:
        """Hold the vehicle the way the step needs, if it is not."""
        if card.element.first(cls="held-wrong") is None:
            return
        form = card.page.form_to(f"/jobs/{self.number}/entries", kind="support_changed")
        wanted = [
            one.first("input").attrs["value"]  # type: ignore[union-attr]
            for one in form.element.all("label", "choice")
            if "the step in hand needs this" in one.text
        ]
        state = next(one for one in HELD if one in wanted)
        axle = "rear" if "rear" in card.element.first(cls="held-wrong").text else "front"  # type: ignore[union-attr]
        self.set_down(card.page, form, state, axle)

    def set_down(self, page: Page, form: Form, state: str, axle: str) -> None:
        typed = {"state": state, "axle": axle if state.startswith("stands") else "both", "bears": BEARS.get(state, "")}
        self.send(page, form, typed)
        self.held = state
        self.told(f"{self.name}: vehicle held: {state.replace('_', ' ')}")

    def pass_gates(self, step: str) -> Card:
        """Answer every gate in front of the step, one after the other."""
        for _ in range(12):
            card = self.card_now(step)
            form = card.form("gate_answered")
            if form is None:
                return card
            self.send(card.page, form, self.answers(form))
            self.told(f"{self.name}: gate “{gate_name(form)}” answered")
        raise SetAside(f"the gates of {step} do not open for {self.name}")

    def answers(self, form: Form) -> dict[str, str]:
        """What a careful person answers at a gate, question by question; answers that stand are left alone."""
        typed = {}
        for question in form.element.all("li", "question"):
            if question.is_a("question--clear"):
                continue
            for box in question.all("input"):
                name = box.attrs.get("name", "")
                if name.startswith("answer.") and name not in typed:
                    typed[name] = self._answer(name.removeprefix("answer."), form.offers.get(name, []))
        return typed

    def _answer(self, check: str, offers: list[str]) -> str:
        if not offers:
            return LABELS[check]
        return self.held if check == "bears_on" and self.held in offers else offers[0]

    def measure(self, card: Card) -> None:
        form = card.form("reading_taken")
        if form is None or card.element.first(cls="taken") is not None:
            return
        typed = {}
        for name in form.values:
            if name.startswith("value."):
                given = reading_for(card.step, name.removeprefix("value."))
                if given is not None:
                    typed[name] = given
        if typed:
            self.send(card.page, form, typed)

    def test(self, card: Card) -> None:
        form = card.form("test_recorded")
        if form is None or card.element.first(cls="verdict") is not None:
            return
        found = self.found.get(card.step) or Found(form.offers["choice"][0], "sound", "")
        self.send(card.page, form, {"choice": found.choice, "verdict": found.verdict, "reason": found.reason})

    def tighten(self, card: Card) -> list[str]:
        """Sign off what is to tighten here."""
        on_it = self.extensions.get(card.step, "")
        return [said for anchor in fasteners_of(card) if (said := self.sign(card.step, anchor, on_it))]

    def have_read_again(self, step: str) -> list[str]:
        """Have the second person read what wants two, once the first has closed the step."""
        said = []
        for anchor in fasteners_of(self.card_now(step)):
            if self.second is not None and self.sheet(step).need(anchor).first(cls="fastener__waits") is not None:
                said.append(f"{self.second.name} reads again {self.second.join(self.number).sign(step, anchor)}")
        return said

    def sign(self, step: str, anchor: str, extension: str = "") -> str:
        """Tighten one joint: draw it up snug, or take a wrench that fits, set it, and enter what it reads."""
        page = self.sheet(step)
        part = page.need(anchor)
        form = sign_form(part)
        if form is None:
            link = self._wrench(part)
            if link is None:
                return ""
            page = self.browser.open(link)
            if extension:
                page = self.put_on(page, anchor, extension)
            part = page.need(anchor)
            form = sign_form(part)
        if form is None:
            raise PageUnlike(f"{page.address} gives no form to sign {anchor}: {part.text[:300]}")
        typed = self.readings(part, form)
        self.send(page, form, typed)
        words = [text for name, text in typed.items() if name.startswith("reading.")]
        on_it = f" and {extension} on it" if extension else ""
        return f"{', '.join(words)} with {form.values['wrench']}{on_it}" if words else "drawn up snug"

    def put_on(self, page: Page, anchor: str, extension: str) -> Page:
        """Put an extension on the wrench: the page then says what to set."""
        form = next(one for one in page.need(anchor).forms() if one.method == "get")
        return self.browser.send(page, form, {"extension": extension, "angle": "0"})

    def readings(self, part: Element, form: Form) -> dict[str, str]:
        """What the wrench reads: what was set, one for each stage; and the new part, where one is wanted."""
        said = [one.first("strong") for one in part.all(cls="in-hand__set")]
        texts = [one.text for one in said if one is not None]
        fields = sorted(name for name in form.values if name.startswith("reading."))
        typed = dict(zip(fields, texts, strict=True))
        return {**typed, "new_part": "yes"} if "new_part" in form.offers else typed

    def _wrench(self, part: Element) -> str | None:
        """The address of the wrench to take: one this person likes to use if it fits, else the first that does."""
        links = {one.first(cls="wrench__tag").text: one.attrs["href"] for one in part.all("a", "wrench")}  # type: ignore[union-attr]
        liked = next((links[tag] for tag in self.wrenches if tag in links), None)
        return liked or next(iter(links.values()), None)

    def close(self, step: str) -> None:
        card = self.card_now(step)
        form = card.form("step_done")
        if form is None:
            raise SetAside(f"{card.name} cannot be closed: {card.element.text[-600:]}")
        self.send(card.page, form, {name: "yes" for name in form.offers if name.startswith("part.")})
        if self.second is not None and waits_for_look(self.card_now(step)):
            self.second.join(self.number).look(step)

    def look(self, step: str, words: str = "Looked at it with the lamp: as on the sheet, nothing left open") -> None:
        """A second person's own look at a step."""
        card = self.card_now(step)
        form = card.form("countersigned")
        if form is None:
            raise PageUnlike(f"{self.name} is not offered a second look at {card.name}")
        self.send(card.page, form, {"seen": words})
        self.told(f"{self.name}: second look at {card.name}")

    def join(self, number: str) -> Hand:
        self.number = number
        return self

    # --- Sending --------------------------------------------------------------------------------------------------

    def send(self, page: Page, form: Form, typed: Mapping[str, str]) -> Page:
        after = self.browser.send(page, form, typed)
        if words := said_against(after):
            raise SetAside(f"{self.name}, {form.kind} {dict(typed)}: {words}")
        return after

    def try_to_send(self, page: Page, form: Form, typed: Mapping[str, str], **forced: str) -> str:
        """Send what should not be taken, and give the sentence that says so; "" if it was taken."""
        return said_against(self.browser.send(page, form, typed, forced=forced))


def said_against(page: Page) -> str:
    """What the page says against the form just sent."""
    told = page.root.first(cls="told")
    if told is not None:
        return " ".join(one.text for one in told.all("li"))
    return f"{page.status} {page.heading}" if page.status >= 400 else ""


def gate_name(form: Form) -> str:
    at: Element | None = form.element
    while at is not None and not at.is_a("barrier"):
        at = at.parent
    name = at.first(cls="barrier__name") if at is not None else None
    return "".join(one for one in name.children if isinstance(one, str)).strip() if name is not None else ""


def fasteners_of(card: Card) -> list[str]:
    return [one.attrs["id"] for one in card.element.all("section", "fastener")]


def sign_form(part: Element) -> Form | None:
    return next((one for one in part.forms() if one.kind in ("signed_off", "countersigned")), None)


def waits_for_look(card: Card) -> bool:
    return any(
        one.attrs.get("aria-label") == "Second look" and "Waits for a second person" in one.text
        for one in card.element.all("section")
    )
