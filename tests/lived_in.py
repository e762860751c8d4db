"""The demo's workshop in memory: jobs in every state, all of it there to be looked at and to be attacked.

Filling it takes seconds, so it is filled once for a whole run; whoever takes it gets a copy of its own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from urllib.parse import quote

from fastapi import FastAPI
from starlette.testclient import TestClient

from app.bootstrap import Wired, app_of, wire
from app.domain.records import Role
from app.mail.folder import FolderPostman
from app.ports import Store
from app.settings import Settings
from app.storage.memory import MemoryStore
from app.storage.papers import MemoryPapers
from app.storage.photos import MemoryPhotos
from app.use_cases.office import Office
from app.web.reckoner.catalogue import SUMS
from demo import larkfield
from demo.seed import seed
from tests.offices import PlainPins

PINS = {one.key: one.pin for one in larkfield.PEOPLE}
# Who signs in for each role, and has no other.
ONE_FOR = {Role.TECHNICIAN: "bram", Role.FOREMAN: "foreman", Role.DESK: "maud"}


@lru_cache(maxsize=1)
def _filled() -> MemoryStore:
    store = MemoryStore()
    wired = wire(Settings(_env_file=None), store=store)  # type: ignore[call-arg]
    seed(replace(wired.office, pins=PlainPins(), photos=MemoryPhotos()), datetime.now(UTC))
    return store


@dataclass
class LivedIn:
    """A copy of the demo's workshop, wired as the product wires it but for the PINs, slow to hash on purpose."""

    wired: Wired

    @property
    def office(self) -> Office:
        return self.wired.office

    @property
    def store(self) -> MemoryStore:
        store = self.office.store
        assert isinstance(store, MemoryStore)
        return store

    def app(self) -> FastAPI:
        return app_of(self.wired)

    def signed_in(self, app: FastAPI, person: str) -> TestClient:
        client = TestClient(app, base_url="http://office.test", raise_server_exceptions=False, follow_redirects=False)
        answer = client.post("/sign-in", data={"person": person, "pin": PINS[person]})
        assert answer.status_code == 303, answer.text
        return client

    def ids(self) -> dict[str, list[str]]:
        """What stands in place of each name in braces in the routes' paths: real ids, most telling first."""
        with self.store.reading() as unit:
            jobs = unit.jobs.all()
            sheets = [sheet for job in jobs if (sheet := unit.sheets.get(job.id)) is not None]
            return {
                "number": [job.number for job in jobs],
                "placement": [one.id for one in unit.placements.all()],
                "vehicle_id": [one.id for one in unit.vehicles.all()],
                "customer_id": [one.id for one in unit.customers.all()],
                "person_id": [one.id for one in unit.people.all()],
                "bay_id": [one.id for one in unit.bays.all()],
                "tool_id": [one.id for one in unit.tools.all()],
                "figure_id": [one.id for one in unit.figures.all() if one.compared_at is None],
                "letter_id": [one.id for one in unit.outbox.all()],
                "aside": [key for sheet in sheets for key in sheet.asides],
                "hold": [key for sheet in sheets for key in sheet.holds],
                "key": ["ball_joint", "lift", "strut"],
                "reminder_id": [one.id for one in unit.reminders.all()] or ["nobody"],
                "axle": ["front", "rear"],
                "topic": ["floor"],
                "edition": ["1"],
                "slug": list(SUMS),
            }

    def pages(self) -> list[tuple[str, str]]:
        return pages_of(self.store)


def lived_in(folder: Path = Path("unused")) -> LivedIn:
    store = MemoryStore()
    store.publish(_filled()._state)
    wired = wire(Settings(_env_file=None), store=store)  # type: ignore[call-arg]
    office = replace(wired.office, pins=PlainPins(), papers=MemoryPapers())
    return LivedIn(replace(wired, office=office, postman=FolderPostman(folder)))


def pages_of(store: Store) -> list[tuple[str, str]]:
    """Who may look at it, and its address: every page with real ids in it, and the sheet in every state."""
    with store.reading() as unit:
        number_of = {job.id: job.number for job in unit.jobs.all()}
        sheets = [sheet for job in number_of if (sheet := unit.sheets.get(job)) is not None]
        letter = unit.outbox.all()[0].id
        placement = unit.placements.all()[-1].id
        waits = next(one.id for one in unit.figures.all() if one.compared_at is None)
        figure = unit.figures.all()[0]
    held = next(one for one in sheets if one.holds)
    set_aside = next(one for one in sheets if one.asides)
    numbers = list(number_of.values())
    at_gate = next(
        one for one in sheets if one.packet and "ball_joint" in [line.procedure for line in one.packet.lines]
    )
    found = f"model={quote(figure.model)}&axle={figure.axle}&place={figure.place_key}"
    desk = [
        "/desk", "/desk?q=e", "/desk/intake?q=LK+14+TAL", "/desk/vehicles", "/desk/vehicles/new",
        "/desk/vehicles/tallis", "/desk/customers", "/desk/customers/new", "/desk/customers/owner-1", "/desk/bays",
        "/desk/bays/new", "/desk/bays/bay-1", "/desk/tools", "/desk/tools/new", "/desk/tools/tool-w15",
        "/desk/tools/new?kind=lift", "/desk/tools/tool-w12", "/desk/tools/tool-s1", "/desk/tools/labels",
        "/desk/tools/tool-w20/calibrations/new", "/desk/tracing", "/desk/tracing/calibrations/calibration-w12",
        "/desk/vehicles/ismay/history?find=W12", "/desk/search", "/desk/search?q=clunk", "/desk/reminders",
        "/desk/figures", f"/desk/figures?model={quote(figure.model)}", f"/desk/figures/place?{found}",
        f"/desk/figures/new?{found}", f"/desk/figures/{waits}/compare", "/desk/workshop", "/desk/procedures",
        "/desk/procedures/ball_joint", "/desk/procedures/gates/lift", "/desk/post", f"/desk/post/{letter}",
        f"/desk/post/{letter}/html", "/desk/tablets", f"/jobs?number={numbers[0]}", f"/jobs/{numbers[-1]}/lines",
    ]  # fmt: skip
    foreman = [
        "/floor", f"/floor/placements?job={numbers[-1]}", f"/floor/placements/{placement}", "/desk/people",
        "/desk/people/new", "/desk/people/bram", "/desk/tracing/pace", "/desk/workshop/take-out",
        f"/jobs/{number_of[set_aside.job]}/asides/{next(iter(set_aside.asides))}",
        f"/jobs/{number_of[held.job]}/holds/{next(iter(held.holds))}",
        *(f"/jobs/{one}/handback" for one in numbers[:4]),
        *(f"/jobs/{one}/letters" for one in numbers[:3]),
        f"/jobs/{numbers[-1]}/cancellation", *(f"/jobs/{one}" for one in numbers),
    ]  # fmt: skip
    technician = [
        "/work",
        "/tools",
        "/tools/W20",
        "/tools/W08",
        *(f"/jobs/{one}/sheet" for one in numbers),
        f"/jobs/{numbers[0]}/history",
        *(f"/jobs/{one}/suspects" for one in (numbers[0], numbers[1], numbers[5])),
        f"/jobs/{numbers[0]}/suspects/own",
        "/reckoner",
        "/nothing-here",
    ]
    assert at_gate.packet is not None
    steps = [one for one in at_gate.packet.steps if one.fasteners or one.gates or one.trial or one.measures]
    technician += [f"/jobs/{number_of[at_gate.job]}/sheet?step={one.id}" for one in steps[::4]]
    technician += [f"/reckoner/{slug}" for slug in SUMS]
    return [
        *(("", one) for one in ("/sign-in",)),
        *(("maud", one) for one in desk),
        *(("foreman", one) for one in foreman),
        *(("bram", one) for one in technician),
    ]
