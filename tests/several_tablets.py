"""Several tablets before one office that can be killed, for the state machine of `test_tablet_machine.py`.

`Shop` is the office as served, on a SQLite file: a request can be its last. `Bench` is one tablet: its disk, the pages
on it, who is signed in, and whatever the tablet's own script answers there. What is done to a sheet is done by the
forms on the page, at both ends.
"""

from __future__ import annotations

import json
import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass, field, replace
from datetime import timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any
from unittest.mock import patch

from starlette.testclient import TestClient

from app.bootstrap import Wired, app_of, the_bundle
from app.bundle.bundle import BESIDES
from app.bundle.compile import compile_all, module_of, names_in, text_apart
from app.domain.packet import Fastener, Packet, Pass, Step, Support, packet_from
from app.domain.records import Job
from app.domain.sheet import Sheet, sheet_from
from app.domain.standing import asked_gates, gate_state, supported
from app.language.catalogue import LANGUAGES
from app.mail.folder import FolderPostman
from app.ports import LedgerRow, Unit
from app.settings import Settings
from app.storage import migrate
from app.storage.engine import make_engine
from app.storage.sql import SqlStore
from app.use_cases import contact_tablet
from app.use_cases.office import Office
from app.use_cases.open_job import pin
from app.use_cases.record_entry import announce
from app.web.rendering import environment
from tests.builders import FAY, JOB, Someone, a_packet
from tests.offices import MONDAY, PIN, Workshop, a_small_job, a_visitor, an_office
from tests.sheet_forms import PageForm, answers_for, forms_in, next_step
from tests.tablet_harness import (
    LATER_POCKET,
    MODULES,
    Failed,
    Network,
    Page,
    Reply,
    Request,
    Unfinished,
    World,
    by_client,
)
from tests.tablets import ATablet, a_tablet

START = int(MONDAY.timestamp() * 1_000)
JOBS = {"1001": JOB, "1002": "job-2"}
REGISTERS = ("shops", "people", "bays", "customers", "vehicles", "jobs")


class Killed(ConnectionError):
    """The office's process is gone."""


# --- The office -----------------------------------------------------------------------------------------------------


class MortalStore:
    """The SQL store of a process that can be killed when a unit commits: before it has, or after."""

    def __init__(self, inner: SqlStore) -> None:
        self._inner = inner
        self.dies: list[str] = []
        self.is_killed = False

    @contextmanager
    def reading(self) -> Iterator[Unit]:
        with self._inner.reading() as unit:
            yield unit

    @contextmanager
    def writing(self) -> Iterator[Unit]:
        with self._inner.writing() as unit:
            yield MortalUnit(unit, self)  # type: ignore[misc]

    def ends(self) -> None:
        self._inner.engine.dispose()


class MortalUnit:
    def __init__(self, inner: Any, store: MortalStore) -> None:
        self._inner = inner
        self._store = store

    def __getattr__(self, name: str) -> Any:
        return getattr(self._inner, name)

    def commit(self) -> None:
        when = self._store.dies.pop(0) if self._store.dies else ""
        if when == "before" or self._store.is_killed:
            self._store.is_killed = True
            raise Killed
        self._inner.commit()
        if when == "after":
            self._store.is_killed = True
            raise Killed


@lru_cache(maxsize=1)
def _filled() -> bytes:
    """A database file of the invented workshop with two small jobs, made once."""
    with tempfile.TemporaryDirectory(prefix="cotterpin-machine-") as folder:
        url = f"sqlite:///{folder}/office.db"
        migrate.upgrade(url)
        here, store = an_office(), SqlStore(make_engine(url))
        job = a_small_job(here)
        here.add("jobs", replace(job, id=JOBS["1002"], number="1002"))
        office = replace(here.office, store=store)
        with here.store.reading() as memory, store.writing() as unit:
            for name in REGISTERS:
                getattr(unit, name).add_all(getattr(memory, name).all())
            for number, key in JOBS.items():
                pin(office, unit, FAY.id, a_packet(job=key, number=number))
            unit.commit()
        with store.engine.connect() as connection:
            connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
        store.engine.dispose()
        return Path(folder, "office.db").read_bytes()


class Shop:
    """The office on a file. `is_gone`: its process is not running. `kept`: every answer that said an entry is kept.

    `used_up`: tablets and numbers under which an entry came that was in the ledger already.
    """

    def __init__(self) -> None:
        self._folder = Path(tempfile.mkdtemp(prefix="cotterpin-machine-"))
        (self._folder / "office.db").write_bytes(_filled())
        self.here: Workshop = an_office()
        # Ids go on behind those in the file.
        numbers = iter(range(1_000, 10**9))
        self._base = replace(self.here.office, new_id=lambda: f"00000000-0000-7000-8000-{next(numbers):012d}")
        self.is_gone = False
        self.dies_next: list[str] = []
        self.kept: list[dict[str, Any]] = []
        self.used_up: set[tuple[str, int]] = set()
        self.visitors: dict[str, Any] = {}
        # One job an answer, so that a tablet can be cut off with one sheet new and the other old.
        self._few = patch.object(contact_tablet, "JOBS_AT_ONCE", 1)
        self._few.start()
        self.store: MortalStore
        self._app: Any
        self.starts()

    @property
    def office(self) -> Office:
        return self.here.office

    def starts(self) -> None:
        self.store = MortalStore(SqlStore(make_engine(f"sqlite:///{self._folder}/office.db")))
        self.here.office = replace(self._base, store=self.store)
        settings = Settings(_env_file=None)  # type: ignore[call-arg]
        self._app = app_of(Wired(settings, self.office, self.here.hub, FolderPostman(settings.mail_folder)))
        self.is_gone = False

    def stops(self) -> None:
        """Without a word to anybody."""
        self.store.ends()
        self.is_gone = True

    def copy(self) -> bytes:
        """Its file as a backup has it: with all that was committed."""
        self.stops()
        with closing(sqlite3.connect(self._folder / "office.db")) as connection:
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        self.starts()
        return (self._folder / "office.db").read_bytes()

    def set_back(self, copy: bytes) -> None:
        """The office's file becomes this copy of it."""
        self.stops()
        for file in self._folder.iterdir():
            file.unlink()
        (self._folder / "office.db").write_bytes(copy)
        self.starts()

    def closes(self) -> None:
        self.store.ends()
        self._few.stop()
        shutil.rmtree(self._folder)

    async def served(self, scope: Any, receive: Any, send: Any) -> None:
        """The application that runs now, at an address that stays."""
        await self._app(scope, receive, send)

    def client(self) -> TestClient:
        return TestClient(self.served, base_url="http://office.test")

    @contextmanager
    def mortal(self) -> Iterator[None]:
        """The office as one request finds it: it may be its last. Then it is started again at once.

        Raises: Killed when there is none, or it was killed before it could answer.
        """
        if self.is_gone:
            raise Killed
        self.store.dies = [self.dies_next.pop(0)] if self.dies_next else []
        try:
            yield
        finally:
            self.store.dies = []
            is_killed = self.store.is_killed
            if is_killed:
                self.stops()
                self.starts()
        if is_killed:
            raise Killed

    def asked_by(self, tablet: ATablet) -> Callable[[Request], Reply]:
        """The office as this tablet's network reaches it; its clock goes on with the tablets'."""
        ask = by_client(tablet.client)

        def office(request: Request) -> Reply:
            self.clock_to(request.at_ms)
            with self.mortal():
                reply = ask(request)
            assert reply.status < 500, (request.path, reply.text)
            if request.path == "/sync/entries" and reply.status == 200:
                answers = json.loads(reply.text)["answers"]
                self.kept += [one for one in answers if one["kept"]]
                # A form that is sent again after its entry has left the pocket takes a number and says nothing new.
                sent = {one["id"]: one["seq"] for one in request.data["entries"]}
                self.used_up |= {(tablet.id, sent[one["id"]]) for one in answers if one["kept"] and one["repeated"]}
            return reply

        return office

    def clock_to(self, at_ms: int) -> None:
        self.here.clock.now = max(self.here.clock.now, MONDAY + timedelta(milliseconds=at_ms - START))

    def visitor(self, who: Someone) -> Any:
        """Somebody at a browser of the office, signed in."""
        known = self.visitors.get(who.id)
        if known is None or known.get("/work").status_code != 200:
            known = self.visitors[who.id] = a_visitor(self.served, who)  # type: ignore[arg-type]
        return known

    # What is on record

    def sheet(self, job: str) -> Sheet:
        with self.store.reading() as unit:
            sheet = unit.sheets.get(job)
        assert sheet is not None
        return sheet

    def ledger(self, after: int = 0) -> list[LedgerRow]:
        with self.store.reading() as unit:
            return list(unit.ledger.walk(after, 10_000))

    def job(self, key: str) -> Job:
        with self.store.reading() as unit:
            job = unit.jobs.get(key)
        assert job is not None
        return job

    def all(self, register: str) -> list[Any]:
        with self.store.reading() as unit:
            return list(getattr(unit, register).all())

    def pins(self, packet: Packet) -> None:
        """A foreman's change: the next edition, by the door that all changes of a sheet go through."""
        with self.store.writing() as unit:
            pin(self.office, unit, FAY.id, packet)
            unit.commit()
        announce(self.office, packet.job)


# --- A tablet -------------------------------------------------------------------------------------------------------

# As a page of the tablet begins, but for the browser it is on. What was said to be saved is noted beside the disk.
OPENING = """async (page, hash) => {
  const { pocket } = page;
  const note = pocket.note;
  pocket.note = async (entries, heard) => {
    const rows = await note(entries, heard);
    for (const { id, seq, text } of rows) browser.saved[id] ??= [seq, text];
    return rows;
  };
  const random = () => {
    browser.drawn += 1;
    return Uint8Array.from([browser.number, 0, 0, 0, 0, 0, 0, 0, browser.drawn >> 8, browser.drawn & 255]);
  };
  const part = async (name) => browser.parts[name];
  page.tablet = page.m["answer.js"].tabletOf(hash, browser.parts.tables, pocket, page.now, random, part);
}"""
ASKING = """async (page, method, path, asked, sent) => {
  const url = { pathname: path, search: "", searchParams: browser.fields(asked) };
  const fields = method === "GET" ? url.searchParams : browser.fields(sent);
  const found = await page.m["answer.js"].answered(page.tablet, method, url, fields, true);
  return found && { status: found.status, to: found.headers.Location ?? "", text: await found.text() };
}"""
# What this tablet takes a sheet to be: what its page is made of.
KNOWING = """async (page, number) => {
  const kept = await page.pocket.sheet(number);
  if (kept === null) return null;
  const { sheet, waiting } = page.m["sheet_now.js"].sheetNow(kept, page.tablet.rules);
  const { through, packet } = kept.base;
  const later = kept.later.map(({ text, heard, office }) => ({ text, heard, office }));
  const base = kept.base.state;
  return { state: page.m["sheet.js"].stateOf(sheet), packet, base, through, later, waiting: [...waiting] };
}"""


@lru_cache(maxsize=1)
def made_by_the_bundle() -> tuple[str, str]:
    """The module of the compiled templates, and the tables by name, as the bundle makes them."""
    compiled = []
    for language in LANGUAGES:
        found = environment(language)
        done, wrong = compile_all(found, [*names_in(found, "tablet"), *BESIDES])
        assert not wrong
        compiled.append(module_of(done))
    tables = {
        path.removesuffix(".json"): part.body for path, part in the_bundle().parts.items() if path.endswith(".json")
    }
    return text_apart(*compiled)[0], "{" + ",".join(
        f"{json.dumps(name)}:{body.decode()}" for name, body in tables.items()
    ) + "}"


@dataclass(frozen=True)
class Shown:
    """What the tablet answered: a page, or where to go."""

    status: int
    to: str
    text: str

    @property
    def forms(self) -> dict[str, PageForm]:
        return forms_in(self.text)


@dataclass
class InHand:
    """A form, filled in and not sent yet."""

    page: Page
    number: str
    fields: dict[str, str]


@dataclass
class Bench:
    """A tablet and whoever stands at it.

    `lost`: what it had saved and forgot unsent, by id: which tablet it was
    then, and the number. `elsewhere`: what was saved before it last forgot anything."""

    shop: Shop
    number: int
    changed: Mapping[str, str] = field(default_factory=dict)
    pages: list[Page] = field(default_factory=list)
    in_hand: InHand | None = None
    off_ms: int = 0
    release: int = 1
    lost: dict[str, tuple[str, int]] = field(default_factory=dict)
    elsewhere: set[str] = field(default_factory=set)
    forgot: bool = False
    has_grown: bool = False
    stale: set[str] = field(default_factory=set)
    was: list[str] = field(default_factory=list)
    backups: list[tuple[str, Any]] = field(default_factory=list)

    def __post_init__(self) -> None:
        templates, tables = made_by_the_bundle()
        self.tablet = a_tablet(self.shop.here, self.shop.served, f"Bench {self.number}.0")  # type: ignore[arg-type]
        self.network = Network(self.shop.asked_by(self.tablet))
        now = START + int((self.shop.here.clock.now - MONDAY).total_seconds() * 1_000)
        self.made = {"templates.js": templates, **self.changed}
        self.world = World(self.network, now, (*MODULES, "answer.js"), rounds=1)
        self.world.engine.run(
            f"Object.assign(browser, {{ parts: JSON.parse({json.dumps(tables)}), saved: {{}}, drawn: 0,"
            f" number: {self.number} }})"
        )
        self.opens()
        self.enrols()

    def enrols(self) -> None:
        known = {"id": self.tablet.id, "name": f"Bench {self.number}", "secret": self.tablet.secret}
        self.pages[-1].pocket("keepTablet", known)
        self.was.append(self.tablet.id)
        self.backups = [(self.tablet.id, self.world.dump())]

    @property
    def hash(self) -> str:
        """Of the bundle its pages are of: the office's own, or the one before it."""
        return the_bundle().hash if self.release > 1 else "b" * 16

    # Pages

    def opens(self) -> Page:
        self.world.made = {**self.made, **({"pocket.js": LATER_POCKET} if self.release > 2 else {})}
        page = self.world.page()
        page.sets_clock(self.off_ms)
        page.opens()
        if self.release > 2 and not self.has_grown:
            self.has_grown = True
            self.stale |= {one.id for one in self.pages}
        page.does(OPENING, self.hash)
        page.sends(self.hash)
        self.pages.append(page)
        return page

    def page(self, which: int = 0) -> Page:
        """One of its pages that still has its pocket; a new one where none is left."""
        while not (found := self.fresh()):
            # The network can kill it at once.
            self.opens()
        return found[which % len(found)]

    def fresh(self) -> list[Page]:
        """Its pages, but for those from which a later bundle has taken the pocket: these only stay open."""
        self.bury()
        return [one for one in self.pages if one.id not in self.stale]

    def does(self, page: Page, work: str, *args: Any) -> Any:
        """Do it to its end, and nothing beyond it. Raises: Failed."""
        key = page.begins(work, *args)
        self.world.go(until=lambda: page.has_ended(key))
        return page.found(key)

    def kills(self, *pages: Page) -> None:
        for page in pages or tuple(self.pages):
            page.kill()
            self.pages.remove(page)
        if self.in_hand is not None and self.in_hand.page not in self.pages:
            self.in_hand = None

    def sets_clock(self, off_ms: int) -> None:
        self.off_ms = off_ms
        for page in self.pages:
            page.sets_clock(off_ms)

    # Asking the tablet's own script

    def begins(self, page: Page, method: str, path: str, asked: Mapping[str, str], sent: Mapping[str, str]) -> str:
        return page.begins(
            ASKING, method, path, [list(one) for one in asked.items()], [list(one) for one in sent.items()]
        )

    def asks(
        self, page: Page, method: str, path: str, asked: Mapping[str, str] | None = None,
        sent: Mapping[str, str] | None = None,
    ) -> Shown | None:  # fmt: skip
        """What the page is answered; None where the tablet gives none or the page is gone meanwhile."""
        key = self.begins(page, method, path, asked or {}, sent or {})
        self.world.go(until=lambda: page.has_ended(key))
        try:
            found = page.found(key)
        except Unfinished:
            # Somebody waits for the office: for three seconds.
            self.world.wait(3_000)
            if not page.has_ended(key):
                assert self.is_dead(page), "the tablet does not answer"
                self.bury()
                return None
            found = page.found(key)
        except Failed as failed:
            # A full disk, or a page that is older than the pocket: whoever stands there loads it again.
            if failed.code not in ("quota", "unknown", "closed"):
                raise
            self.kills(page)
            return None
        self.bury()
        return None if found is None else Shown(**found)

    def is_dead(self, page: Page) -> bool:
        return bool(self.world.value(f"browser.pages[{json.dumps(page.id)}].factory.isKilled"))

    def bury(self) -> None:
        """Forget the pages that the network killed."""
        for page in [one for one in self.pages if self.is_dead(one)]:
            self.kills(page)

    def knows(self, number: str, page: Page | None = None) -> Sheet | None:
        """The sheet as it is shown here; None where the job is not here."""
        found = self.does(page or self.page(), KNOWING, number)
        return None if found is None else known_sheet(found)

    def me(self, page: Page) -> str:
        """Who is signed in."""
        found = self.does(page, "(page) => page.pocket.me()")
        return "" if found is None else str(found["person"])

    # Working

    def looks(self, number: str, move: Move | None, page: Page) -> InHand | None:
        """Look at a sheet and fill one of its forms in, as `move` says, or the sheet's note where it is not there."""
        asked = move.asked if move is not None else {}
        shown = self.asks(page, "GET", f"/jobs/{number}/sheet", asked)
        if shown is None or shown.status != 200:
            return None
        filled = fill(shown.forms, move)
        self.in_hand = None if filled is None else InHand(page, number, filled)
        return self.in_hand

    def taps(self, held: InHand) -> Shown | None:
        return self.asks(held.page, "POST", f"/jobs/{held.number}/entries", {}, held.fields)

    # What it has

    def saved(self) -> dict[str, tuple[int, str]]:
        """Everything that was ever said to be saved here, by id: number and text."""
        return {key: (seq, text) for key, (seq, text) in self.world.value("browser.saved").items()}

    def rows(self) -> dict[str, int]:
        """Ids and numbers of what is in the pocket."""
        rows = "(browser.disk.databases.cotterpin?.stores.entries?.rows ?? []).map(([seq, { id }]) => [id, seq])"
        return dict(self.world.value(rows))

    def forgets(self, dump: Any) -> None:
        """The disk becomes this one, in a moment when nobody has it open; what is lost by it is noted."""
        before = self.rows()
        self.forgot = True
        self.elsewhere = set(self.saved())
        self.kills()
        self.world.restore(dump)
        self.has_grown = False
        self.world.engine.run("browser.disk.faults = { commits: [], puts: [] }")
        after = self.rows()
        here = {row.heard.entry.id for row in self.shop.ledger()}
        for key, seq in before.items():
            if key not in after and key not in here:
                self.lost[key] = (self.tablet.id, seq)

    def wiped(self) -> None:
        """Everything is gone from it, and a foreman enrols it as a new one."""
        self.forgets({})
        name = f"Bench {self.number}.{len(self.was)}"
        self.tablet = a_tablet(self.shop.here, self.shop.served, name)  # type: ignore[arg-type]
        self.network.office = self.shop.asked_by(self.tablet)
        self.opens()
        self.enrols()

    def put_back(self, which: int) -> None:
        """A copy of its disk from before is put in its place."""
        _, dump = self.backups[which % len(self.backups)]
        self.forgets(dump)
        # A moment at least: by it the office tells two contacts under one number.
        self.world.engine.run("browser.now += 1")
        self.opens()

    def closes(self) -> None:
        self.world.engine.close()


def known_sheet(found: Mapping[str, Any], part: str = "state") -> Sheet:
    """The sheet in what a page said by `KNOWING`; its `base` is what the office sent."""
    return sheet_from(found[part], _packet(json.dumps(found["packet"])))


@lru_cache(maxsize=64)
def _packet(text: str) -> Packet | None:
    data = json.loads(text)
    return None if data is None else packet_from(data)


def pass_time(shop: Shop, benches: list[Bench], ms: int) -> None:
    """Time passes for all: of all timers the one that is due first rings first, whosever it is."""
    now = {bench.number: int(bench.world.value("browser.now")) for bench in benches}
    end = max(now.values()) + ms
    for bench in benches:
        bench.world.go()
    due = {bench.number: _due(bench) for bench in benches}
    while (first := min(benches, key=lambda bench: due[bench.number])) and due[first.number] <= end:
        first.world.engine.run(f"browser.ring({due[first.number]})")
        first.world.go()
        first.bury()
        due[first.number] = _due(first)
    for bench in benches:
        bench.world.engine.run(f"browser.now = {end}")
    shop.clock_to(end)


def _due(bench: Bench) -> float:
    """When the next timer on any of its pages is due."""
    found = bench.world.value("[browser.now, browser.timers()[0] ?? null]")
    return float("inf") if found[1] is None else int(found[0] + max(found[1], 0))


def sleep(shop: Shop, benches: list[Bench], ms: int) -> None:
    """Everything is switched off meanwhile."""
    for bench in benches:
        bench.world.engine.run(f"browser.now += {ms}")
    shop.clock_to(max(int(bench.world.value("browser.now")) for bench in benches))


# --- What can be done to a sheet ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Move:
    """A form of the sheet by its key, what has to be looked at to see it, and what is filled in."""

    form: str
    fields: Mapping[str, str] = field(default_factory=dict)
    asked: Mapping[str, str] = field(default_factory=dict)


# What stands in for what a person would write, by a field's name; what is not here is filled in by its beginning.
WORDS = {
    "text": "Seen", "reason": "Looked at again", "note": "Hand tight", "bears": "the frame", "seen": "Pins in",
    "choice": "none", "verdict": "sound", "state": "stands_frame", "axle": "front", "to": "p-ben",
    "outcome": "keep_as_note",
}  # fmt: skip
GATES = {"answer.bears_on": "frame", "answer.label_basis": "each", "answer.label": "500"}
BEGINNINGS = {"reading.": "110", "new_part": "yes", "part.": "yes", "value.": "3", "answer.": "yes"}


def next_move(sheet: Sheet, person: str, now_ms: int) -> Move:
    """What someone who does everything right does next."""
    step = next_step(sheet)
    if step is None:
        return Move("sheet-note", {"text": "All done"})
    look = {"step": step.id}
    wanted = _supports(step)
    if not supported(sheet.support, step.axle, wanted):
        state = next((one for one in wanted if one.value.startswith("stands")), wanted[0])
        return Move("support", {"state": state.value, "axle": "front", "bears": "the frame"}, look)
    for gate in asked_gates(sheet, step):
        if gate_state(sheet, gate.id, person, now_ms) is not None:
            return Move(f"gate-{gate.id}", answers_for(gate), look)
    now = sheet.step(step.id)
    if any(one.id not in now.readings for one in step.measures):
        return Move("measures", {}, look)
    if step.trial is not None and now.outcome is None:
        return Move("trial", {}, look)
    for fastener in step.fasteners:
        if fastener.id not in now.signatures:
            return _signing("sign", step, fastener)
    return Move("done", {}, look)


def second_move(sheet: Sheet) -> Move:
    """The second reading of a joint, or the look at a step, where one is wanted."""
    assert sheet.packet is not None
    for step in sheet.packet.steps:
        now = sheet.step(step.id)
        for fastener in step.fasteners:
            if fastener.id in now.signatures and fastener.id not in now.counters:
                return _signing("second", step, fastener)
        if step.countersign and now.done is not None and now.seen is None:
            return Move("look", {}, {"step": step.id})
    return Move("sheet-note", {"text": "Nothing to look at"})


def _signing(kind: str, step: Step, fastener: Fastener) -> Move:
    if fastener.tighten is Pass.SNUG:
        return Move(f"{kind}-{fastener.id}", {}, {"step": step.id})
    target = fastener.figure.stages[0].target_mnm if fastener.figure is not None else None
    reading = str((target or 110_000) // 1_000)
    asked = {"step": step.id, "at": fastener.id, "wrench": "W1"}
    return Move(f"{kind}-{fastener.id}-W1", {"reading.0": reading}, asked)


def _supports(step: Step) -> tuple[Support, ...]:
    wanted = step.supports
    for fastener in step.fasteners:
        wanted = tuple(one for one in wanted if one in fastener.load_states)
    return wanted or step.supports


def fill(forms: Mapping[str, PageForm], move: Move | None) -> dict[str, str] | None:
    """A form as it would be sent: what it carries, what `move` says, and something for everything else it asks."""
    form = forms.get(move.form if move is not None else "") or forms.get("sheet-note")
    if form is None or form.action.endswith("/photos"):
        return None
    fields = {**form.typed, **form.hidden}
    for name in form.shown:
        fields[name] = GATES.get(name) or WORDS.get(name) or _by_beginning(name)
    return {**fields, **(move.fields if move is not None and form.key == move.form else {})}


def _by_beginning(name: str) -> str:
    return next((value for begin, value in BEGINNINGS.items() if name.startswith(begin)), "")


__all__ = ["PIN", "Bench", "Failed", "Move", "Shop", "Shown"]
