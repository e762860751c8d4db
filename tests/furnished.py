"""A whole office for tests of pages and use cases: the real rules and procedures over a store in memory.

One invented workshop: a fixed cast, two bays, wrenches fit and unfit, one vehicle with a coil on its lower front arm,
and on request a job on it. The clock stands still until a test moves it; ids and tokens count up.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from itertools import count

from fastapi import FastAPI
from starlette.testclient import TestClient

from app.bootstrap import SHARED, Wired, app_of, letter_of, read_rules
from app.domain.compiling import figure_keys
from app.domain.handback import AskedWhere, Consent
from app.domain.packet import Axle, Stage
from app.domain.procedure import Book, load_book
from app.domain.records import (
    AxleFacts,
    Bay,
    Customer,
    FigureRecord,
    Job,
    JobLine,
    LiftKind,
    Person,
    Placement,
    Role,
    Shop,
    SpringFacts,
    Tool,
    ToolKind,
    Vehicle,
)
from app.mail.folder import FolderPostman
from app.print.printer import TypstPrinter
from app.settings import Settings
from app.storage.memory import MemoryStore
from app.storage.papers import MemoryPapers
from app.storage.photos import MemoryPhotos
from app.texts import word
from app.use_cases.office import SHOP_ID, Office
from app.use_cases.open_job import JobWanted, open_job
from app.web.hub import Hub

MORNING = datetime(2026, 3, 12, 8, 30, tzinfo=UTC)
PIN = "4711"

ADA = Person("p-ada", "Ada Lindqvist", frozenset({Role.TECHNICIAN}), f"pin:{PIN}")
BEN = Person("p-ben", "Ben Sarr", frozenset({Role.TECHNICIAN}), f"pin:{PIN}")
FAY = Person("p-fay", "Fay Moreno", frozenset({Role.FOREMAN}), f"pin:{PIN}")
DEE = Person("p-dee", "Dee Novak", frozenset({Role.DESK}), f"pin:{PIN}")
GUS = Person("p-gus", "Gus Ahlberg", frozenset({Role.FOREMAN, Role.TECHNICIAN}), f"pin:{PIN}")
CAST = (ADA, BEN, FAY, DEE, GUS)

SHOP = Shop(SHOP_ID, "Millbrook Axle Works", "7 Foundry Lane\nMillbrook", "desk@axleworks.example", "+44 1632 960123",
            timezone="Europe/London")  # fmt: skip
CUSTOMER = Customer("c-1", "Mira Okonjo", "mira@okonjo.example", "+44 1632 960777")

ARMS = (
    ("joint_fixing", "bolted"), ("joint_stud", "castle"), ("wear_indicator", "no"), ("grease_fitting", "yes"),
    ("alignment", "shims"), ("arm_bushings", "pressed"), ("stabiliser", "yes"), ("height_sensor", "no"),
    ("active_damper", "no"), ("damper_limits_droop", "no"), ("adas", "no"), ("airbag_near", "no"),
)  # fmt: skip
BEAM = (
    ("stabiliser", "no"), ("height_sensor", "no"), ("active_damper", "no"), ("damper_limits_droop", "yes"),
    ("adas", "no"), ("airbag_near", "no"), ("alignment", "none"), ("arm_bushings", "bonded"),
)  # fmt: skip
COIL = SpringFacts(rate_npm=60_000, free_length_um=380_000, installed_um=280_000, hanging_um=330_000, wire_um=14_000,
                   source="Workshop manual, group 2")  # fmt: skip
VEHICLE = Vehicle(
    "v-1", "c-1", "MB 41 TK", "", "Estate 1.8", 2009, "dark green", "195/65 R15 91H", "195/65 R15 91H", 2_650_000,
    AxleFacts("wishbone_lower_coil", 790_000, 1_490_000, facts=ARMS, spring=COIL),
    AxleFacts("twist_beam", 560_000, 1_480_000, facts=BEAM, spring=COIL),
)  # fmt: skip

WRENCHES = (
    Tool("t-1", "W2", ToolKind.TORQUE_WRENCH, "Click wrench 40-200", "N·m", 40_000, 200_000, 420_000,
         due_on=date(2026, 9, 30)),
    Tool("t-2", "W3", ToolKind.TORQUE_WRENCH, "Beam wrench 20-150", "lbf·ft", 27_116, 203_373, None,
         due_on=date(2026, 6, 30)),
    Tool("t-3", "W5", ToolKind.TORQUE_WRENCH, "Click wrench 60-300", "N·m", 60_000, 300_000, 610_000,
         due_on=date(2026, 1, 31)),
    Tool("t-4", "W7", ToolKind.TORQUE_WRENCH, "Click wrench 5-25", "N·m", 5_000, 25_000, 270_000,
         due_on=date(2026, 9, 30)),
)  # fmt: skip
BAYS = (
    Bay("b-1", "Bay 1", LiftKind.TWO_POST, 3_500_000, date(2025, 9, 1)),
    Bay("b-2", "Bay 2", LiftKind.FLAT, 3_000_000, None),
)
BALL_JOINT = JobLine("l-1", "ball_joint", Axle.FRONT, "left", (("joint_position", "lower"),))


class PlainPins:
    """PINs that cost no time to check. For tests alone."""

    def hash(self, pin: str) -> str:
        return f"pin:{pin}"

    def matches(self, pin: str, pin_hash: str) -> bool:
        return pin_hash == f"pin:{pin}"


@dataclass
class TestOffice:
    """The office with its clock in hand."""

    __test__ = False

    now: datetime = MORNING
    store: MemoryStore = field(default_factory=MemoryStore)
    hub: Hub = field(default_factory=Hub)
    announced: list[str] = field(default_factory=list)
    _ids: Iterator[int] = field(default_factory=lambda: count(1))

    def __post_init__(self) -> None:
        self.office = Office(
            store=self.store,
            rules=read_rules(),
            book=the_book(),
            clock=lambda: self.now,
            new_id=self.new_id,
            pins=PlainPins(),
            papers=MemoryPapers(),
            photos=MemoryPhotos(),
            announce=self._announce,
            write_letter=letter_of,
            message_domain="axleworks.example",
            printer=TypstPrinter(system_fonts=False),
            word=word,
        )

    def new_id(self) -> str:
        return f"01960000-0000-7000-8000-{next(self._ids):012x}"

    def _announce(self, topic: str) -> None:
        self.announced.append(topic)
        self.hub.announce(topic)

    def wait(self, **span: float) -> None:
        self.now += timedelta(**span)

    def furnish(self) -> TestOffice:
        """People, bays, tools, a customer with a vehicle, and a compared figure for every joint of its model."""
        with self.store.writing() as unit:
            unit.shops.add(SHOP)
            for person in CAST:
                unit.people.add(person)
            for bay in BAYS:
                unit.bays.add(bay)
            for tool in WRENCHES:
                unit.tools.add(tool)
            unit.customers.add(CUSTOMER)
            unit.consents.add(Consent("consent-1", CUSTOMER.id, True, AskedWhere.INTAKE, DEE.id, DEE.name, MORNING))
            unit.vehicles.add(VEHICLE)
            for figure in figures(self.office.book):
                unit.figures.add(figure)
            unit.commit()
        return self

    def again(self) -> TestOffice:
        """Another office with the same records at the same moment: what is done there is not done here."""
        store = MemoryStore()
        store.publish(self.store._state)
        return TestOffice(now=self.now, store=store, _ids=count(next(self._ids) + 1_000_000))

    def open(self, *lines: JobLine, complaint: str = "Clunks over bumps, front left") -> Job:
        """A job on the vehicle, its packet pinned."""
        wanted = JobWanted("v-1", complaint, self.now + timedelta(hours=7), 142_300, lines or (BALL_JOINT,))
        return open_job(self.office, FAY.id, wanted)

    def place(self, job: Job, technician: Person = ADA, bay: str = "b-1", hours: float = 3) -> Placement:
        """Give a job to a bay and a technician from now on."""
        placement = Placement(
            self.new_id(), job.id, bay, technician.id, self.now, self.now + timedelta(hours=hours), FAY.id
        )
        with self.store.writing() as unit:
            unit.placements.add(placement)
            unit.commit()
        return placement

    def app(self, settings: Settings | None = None) -> FastAPI:
        settings = settings or Settings()
        return app_of(Wired(settings, self.office, self.hub, FolderPostman(settings.mail_folder)))

    def client(self, person: Person | None = None) -> TestClient:
        """A browser; signed in when a person is given."""
        client = TestClient(self.app(), follow_redirects=False)
        if person is not None:
            answer = client.post("/sign-in", data={"person": person.id, "pin": PIN, "after": "/"})
            assert answer.status_code == 303, answer.text
        return client


@lru_cache(maxsize=1)
def the_book() -> Book:
    return load_book(SHARED)


def figures(book: Book) -> list[FigureRecord]:
    """A figure for every joint on both axles: typed by the desk, compared by the foreman. The numbers are invented."""
    return [
        FigureRecord(
            id=f"f-{axle}-{place.key}", model=VEHICLE.model, axle=axle, place_key=place.key, edition=1,
            text="110 N·m", unit="N·m", stages=(Stage(104_500, 110_000, 115_500, text="110 N·m"),), thread="M14x1.5",
            strength="10.9", lubrication="dry", one_time=False, critical=place.critical,
            document="Workshop manual 2009", page=f"2-{number}", document_date="2009", typed_by=DEE.id,
            typed_at=MORNING, compared_by=FAY.id, compared_at=MORNING, compared_text="110 N·m",
        )
        for axle in (Axle.FRONT, Axle.REAR)
        for number, place in enumerate(figure_keys(book), 1)
    ]  # fmt: skip


def token_in(page: str) -> str:
    """The token that forms of this page carry against forgery."""
    found = re.search(r'name="csrf" value="([^"]+)"', page)
    assert found is not None, "no form on this page"
    return found[1]


def with_vehicle(made: TestOffice, **over: object) -> None:
    """Change the vehicle before a job is opened on it."""
    with made.store.writing() as unit:
        unit.vehicles.save(replace(VEHICLE, **over))  # type: ignore[arg-type]
        unit.commit()
