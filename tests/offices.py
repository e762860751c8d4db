"""An invented workshop in memory, for tests of use cases and pages: its people, bays, a customer and a vehicle.

`an_office()` gives it wired as the product wires it, but for the clock (moves only when told to), ids (counted) and
PINs (kept as they are, since hashing is slow on purpose). `a_visitor(...)` is a person at a browser, signed in.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from html.parser import HTMLParser
from typing import Any

from fastapi import FastAPI
from starlette.testclient import TestClient

from app.bootstrap import SHARED, letter_of, read_rules
from app.domain.handback import AskedWhere, Consent
from app.domain.packet import Axle
from app.domain.procedure import Book, load_book
from app.domain.records import (
    AxleFacts,
    Bay,
    Customer,
    Job,
    JobLine,
    LiftKind,
    Person,
    Role,
    Shop,
    SpringFacts,
    Vehicle,
)
from app.print.printer import TypstPrinter
from app.settings import Settings
from app.storage.memory import MemoryStore
from app.storage.papers import MemoryPapers
from app.storage.photos import MemoryPhotos
from app.texts import word
from app.use_cases.office import SHOP_ID, Office
from app.use_cases.open_job import JobWanted, open_job
from app.use_cases.record_entry import record_form
from app.web.application import create_app
from app.web.hub import Hub
from tests.builders import ADA, BEN, CAST, FAY, JOB, Play, Someone, a_packet

# A Monday. The workshop's clocks show two hours more: 10:00.
MONDAY = datetime(2026, 6, 8, 8, 0, tzinfo=UTC)
PIN = "2580"

SHOP = Shop(
    id=SHOP_ID,
    name="Kettle Lane Axles",
    address="3 Kettle Lane\nUpper Ford",
    email="desk@kettle-lane.example",
    phone="+00 1 555",
    timezone="Europe/Helsinki",
)
BAYS = (
    Bay("bay-1", "Bay 1", LiftKind.TWO_POST, 3_500_000, date(2026, 1, 15)),
    Bay("bay-2", "Bay 2", LiftKind.FOUR_POST, 4_000_000, date(2026, 2, 20)),
    Bay("bay-3", "Bay 3", LiftKind.FLAT, 2_500_000, None),
)
CUSTOMER = Customer("c-1", "Mira Okonjo", "mira@okonjo.example", "+00 2 555")
FRONT = AxleFacts(
    layout="wishbone_lower_coil",
    mass_g=900_000,
    track_um=1_520_000,
    facts=(
        ("joint_fixing", "bolted"),
        ("joint_stud", "castle"),
        ("wear_indicator", "no"),
        ("grease_fitting", "yes"),
        ("stabiliser", "yes"),
        ("height_sensor", "no"),
        ("active_damper", "no"),
        ("adas", "no"),
        ("alignment", "shims"),
        ("arm_bushings", "pressed"),
        ("damper_limits_droop", "no"),
        ("airbag_near", "no"),
    ),
    spring=SpringFacts(rate_npm=60_000, free_length_um=380_000, installed_um=280_000, source="Maker's data sheet"),
)
REAR = replace(
    FRONT, layout="solid_leaf", mass_g=800_000, facts=(("axle_joints", "none"), *FRONT.facts), spring=SpringFacts()
)
VEHICLE = Vehicle(
    id="v-1",
    customer=CUSTOMER.id,
    plate="CP 1001",
    vin="",
    model="Tern 2.0",
    year=2014,
    colour="grey",
    tyre_front="205/65 R15",
    tyre_rear="205/65 R15",
    wheelbase_um=2_700_000,
    front=FRONT,
    rear=REAR,
)
LEFT_JOINT = JobLine("l1", "ball_joint", Axle.FRONT, "left", (("joint_position", "lower"),))


@dataclass
class FakeClock:
    """Time that moves only when told to."""

    now: datetime = MONDAY

    def __call__(self) -> datetime:
        return self.now

    def forward(self, **span: float) -> None:
        self.now += timedelta(**span)


class PlainPins:
    """PINs as they are: what is tested here is not hashing."""

    def hash(self, pin: str) -> str:
        return f"plain:{pin}"

    def matches(self, pin: str, pin_hash: str) -> bool:
        return pin_hash == self.hash(pin)


@lru_cache(maxsize=1)
def the_book() -> Book:
    return load_book(SHARED)


@dataclass
class Workshop:
    """An office with what tests look at beside it: its clock and the topics it announced."""

    office: Office
    clock: FakeClock
    hub: Hub = field(default_factory=Hub)
    announced: list[str] = field(default_factory=list)

    @property
    def store(self) -> MemoryStore:
        store = self.office.store
        assert isinstance(store, MemoryStore)
        return store

    def add(self, register: str, *records: Any) -> None:
        with self.store.writing() as unit:
            for record in records:
                getattr(unit, register).add(record)
            unit.commit()

    def save(self, register: str, record: Any) -> None:
        with self.store.writing() as unit:
            getattr(unit, register).save(record)
            unit.commit()

    def get(self, register: str, key: str) -> Any:
        with self.store.reading() as unit:
            return getattr(unit, register).get(key)

    def all(self, register: str) -> Sequence[Any]:
        with self.store.reading() as unit:
            found: Sequence[Any] = getattr(unit, register).all()
            return found

    def sheet(self, job: Job) -> Any:
        with self.store.reading() as unit:
            return unit.sheets.get(job.id)

    def opens(self, vehicle: str = VEHICLE.id, *lines: JobLine, who: Someone = FAY, **over: Any) -> Job:
        """Open a job: without lines given, one lower front left ball joint."""
        wanted = JobWanted(
            vehicle=vehicle, complaint="It clunks over bumps", promised_at=None, odometer_km=None,
            lines=lines or (LEFT_JOINT,),
        )  # fmt: skip
        return open_job(self.office, who.id, replace(wanted, **over))


def a_small_job(here: Workshop, play: Play | None = None) -> Job:
    """A job on the builders' small packet, with what was played on it; by default nothing but the pinned packet."""
    job = Job(
        id=JOB, number="1001", vehicle=VEHICLE.id, customer=CUSTOMER.id, complaint="It clunks over bumps",
        promised_at=None, opened_at=here.clock.now, opened_by=FAY.id, odometer_km=None, lines=(LEFT_JOINT,),
    )  # fmt: skip
    here.add("jobs", job)
    plays(here, play or Play(a_packet()))
    return job


def plays(here: Workshop, play: Play, since: int = 0) -> None:
    """Send what was played through the office's own door, a second apart; `since`: entries already sent."""
    for heard, ruling in play.history[since:]:
        recorded = record_form(here.office, heard.entry)
        assert recorded.ruling == ruling, (heard.entry.kind, recorded.ruling, ruling)
        here.clock.forward(seconds=1)


def an_office(*, people: Sequence[Someone] = CAST, now: datetime = MONDAY) -> Workshop:
    """The workshop with its people (PIN 2580 each), three bays, one customer and one vehicle."""
    clock, numbers, announced, hub = FakeClock(now), itertools.count(1), [], Hub()

    def announce(topic: str) -> None:
        announced.append(topic)
        hub.announce(topic)

    office = Office(
        store=MemoryStore(),
        rules=read_rules(),
        book=the_book(),
        clock=clock,
        new_id=lambda: f"00000000-0000-7000-8000-{next(numbers):012d}",
        pins=PlainPins(),
        papers=MemoryPapers(),
        photos=MemoryPhotos(),
        announce=announce,
        write_letter=letter_of,
        message_domain="kettle-lane.example",
        printer=TypstPrinter(system_fonts=False),
        word=word,
    )
    here = Workshop(office, clock, hub, announced)
    here.add("shops", SHOP)
    here.add("people", *(a_person(office, one) for one in people))
    here.add("bays", *BAYS)
    here.add("customers", CUSTOMER)
    here.add("consents", Consent("consent-1", CUSTOMER.id, True, AskedWhere.INTAKE, FAY.id, FAY.name, now))
    here.add("vehicles", VEHICLE)
    return here


def a_person(office: Office, someone: Someone) -> Person:
    return Person(someone.id, someone.name, frozenset(Role(role) for role in someone.roles), office.pins.hash(PIN))


def an_app(here: Workshop, **settings: Any) -> FastAPI:
    """The application around this workshop, without the post."""
    return create_app(here.office, Settings(_env_file=None, **settings), here.hub)  # type: ignore[call-arg]


@dataclass
class Visitor:
    """A person at a browser: fetches pages and sends the forms that are on them. Redirects are not followed."""

    client: TestClient

    def get(self, address: str, **headers: str) -> Any:
        return self.client.get(address, headers=headers, follow_redirects=False)

    def sends(self, address: str, fields: Mapping[str, str | list[str]] | None = None, **headers: str) -> Any:
        """Post fields with this sign-in's own token."""
        data = {"csrf": self.csrf, **(fields or {})}
        return self.client.post(address, data=data, headers=headers, follow_redirects=False)

    def fills_in(self, address: str, action: str, fields: Mapping[str, str | list[str]] | None = None) -> Any:
        """Fetch a page, find its form by its action, change these fields and send it, hidden ones as they are."""
        page = self.get(address)
        assert page.status_code == 200, (page.status_code, page.text)
        form = forms_in(page.text).get(action)
        assert form is not None, f"no form posts to {action}; there are {sorted(forms_in(page.text))}"
        return self.client.post(action, data={**form, **(fields or {})}, follow_redirects=False)

    @property
    def csrf(self) -> str:
        """Any page has it; one that is not there is the cheapest."""
        return _csrf_in(self.client.get("/nothing-here").text)


def a_visitor(app: FastAPI, someone: Someone) -> Visitor:
    client = TestClient(app, base_url="http://office.test", raise_server_exceptions=False)
    answer = client.post("/sign-in", data={"person": someone.id, "pin": PIN}, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    return Visitor(client)


class _Forms(HTMLParser):
    """Collects, for each posted form, the fields it would send if nothing were touched."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: dict[str, dict[str, str]] = {}
        self._fields: dict[str, str] | None = None
        self._select = self._textarea = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        got = {name: value or "" for name, value in attrs}
        if tag == "form" and got.get("method", "").lower() == "post":
            self._fields = self.forms.setdefault(got.get("action", ""), {})
        elif self._fields is None:
            return
        elif tag == "input" and got.get("name"):
            if got.get("type") not in ("radio", "checkbox") or "checked" in got:
                self._fields[got["name"]] = got.get("value", "on" if got.get("type") == "checkbox" else "")
        elif tag == "select":
            self._select = got.get("name", "")
        elif tag == "option" and self._select:
            if "selected" in got or self._select not in self._fields:
                self._fields[self._select] = got.get("value", "")
        elif tag == "textarea":
            self._textarea = got.get("name", "")
            self._fields[self._textarea] = ""

    def handle_data(self, data: str) -> None:
        if self._fields is not None and self._textarea:
            self._fields[self._textarea] += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._fields = None
        elif tag == "select":
            self._select = ""
        elif tag == "textarea":
            self._textarea = ""


def forms_in(html: str) -> dict[str, dict[str, str]]:
    """The posted forms of a page by their action, each with the fields it sends untouched."""
    reader = _Forms()
    reader.feed(html)
    return reader.forms


def _csrf_in(html: str) -> str:
    return next((fields["csrf"] for fields in forms_in(html).values() if "csrf" in fields), "")


__all__ = ["ADA", "BEN", "FAY", "MONDAY", "PIN", "Visitor", "Workshop", "a_visitor", "an_app", "an_office", "forms_in"]
