"""The tablet's own scripts in a made-up browser: a disk, pages on it, a clock, and a network that fails as told.

`World` is one tablet. Its disk outlives its pages; a page can be killed at any moment. Requests are handed to a Python
callable, such as the real office by way of starlette's test client, through a `Network` that loses, repeats, delays and
holds back what it is told to. Nothing moves by itself: `go` runs what can be done, `wait` lets time pass.
"""

from __future__ import annotations

import hashlib
import json
from collections import deque
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import count
from pathlib import Path
from typing import Any

from starlette.testclient import TestClient

from app.bundle.join import imported, wrapped
from app.domain import entry as e
from tests.builders import ADA, JOB, Someone, an_entry
from tests.js_engine import TABLET, Engine

HERE = Path(__file__).parent
MODULES = ("pocket.js", "sender.js", "sign_in.js", "sheet_now.js", "rules.js")
GLOBALS = (
    "setTimeout, clearTimeout, AbortSignal, fetch, BroadcastChannel, navigator, crypto, TextEncoder, console,"
    " Response, Blob"
)
SENDING = """(page, bundle) => {
    const { exchange, keepSending, postFrom } = page.m['sender.js'];
    const post = postFrom(page.pocket, 20_000);
    page.poke = keepSending({
        once: (isOffered) => exchange(page.pocket, post, page.now, bundle, undefined, isOffered),
        told: (outcome) => page.told.push(outcome),
        locks: page.navigator.locks,
        random: () => 0.5,
    });
    page.pocket.onChange((jobs, noted) => { if (noted) page.poke(); });
}"""
# The pocket of a later bundle, as far as an older page notices: its form is one further, with one store more.
LATER_POCKET = (TABLET / "pocket.js").read_text("utf-8").replace(
    "\n];\n", '\n  (db) => { db.createObjectStore("later", { keyPath: "id" }); },\n];\n', 1
)  # fmt: skip
# Far more than any test needs: what goes on and on is a fault of the script.
STEPS = 200_000


class Failed(Exception):
    """What a page began did not come off: the error's name, and its code where it has one."""

    def __init__(self, name: str, code: str, words: str) -> None:
        super().__init__(f"{name} {code}: {words}")
        self.name = name
        self.code = code


class Unfinished(Exception):
    """What a page began has not ended, though there is nothing left to do but wait."""


@dataclass(frozen=True)
class Request:
    path: str
    body: str
    headers: dict[str, str]
    page: str
    at_ms: int

    @property
    def data(self) -> Any:
        return json.loads(self.body)


@dataclass(frozen=True)
class Reply:
    status: int
    text: str

    @classmethod
    def of(cls, data: Any, status: int = 200) -> Reply:
        return cls(status, json.dumps(data))


# Raises ConnectionError when there is no office: it was never started, or killed in the midst of it.
Office = Callable[[Request], Reply]


def by_client(client: TestClient) -> Office:
    """The real office. The client keeps the cookies, as the browser does."""

    def asked(request: Request) -> Reply:
        found = client.post(request.path, content=request.body.encode(), headers=request.headers)
        return Reply(found.status_code, found.text)

    return asked


@dataclass
class Network:
    """What becomes of the next requests, one word each; then of all others `otherwise`.

    fine           lost              the connection is refused
    twice          swallowed         nothing comes back, and nothing arrives
    slow           answer_lost       it arrives; the connection is cut before the answer
    held           answer_swallowed  it arrives; nothing comes back
                   killed            it arrives; the page is gone before the answer
    `slow` takes `slow_ms`. `held` arrives when `arrive` is called, and nobody waits for the answer any more. A `Reply`
    in place of a word is given by something that is not the office.
    """

    office: Office
    plan: deque[str | Reply] = field(default_factory=deque)
    otherwise: str | Reply = "fine"
    slow_ms: int = 3_000
    seen: list[Request] = field(default_factory=list)
    held: list[Request] = field(default_factory=list)

    def next_are(self, *words: str | Reply) -> None:
        self.plan.extend(words)

    def arrive(self) -> list[Reply]:
        """What was held back comes to the office now, after all that overtook it."""
        late, self.held = self.held, []
        return [reply for one in late if (reply := self.asks(one)) is not None]

    def asks(self, request: Request) -> Reply | None:
        """The office's answer; None when it is gone before it gave one."""
        try:
            return self.office(request)
        except ConnectionError:
            return None

    def paths(self) -> list[str]:
        return [one.path for one in self.seen]


def a_note(entry_id: str, job: str = JOB, who: Someone = ADA, **over: Any) -> dict[str, Any]:
    """A note as the tablet's forms make it: the pocket gives tablet and number."""
    made = e.entry_json(an_entry(e.NoteAdded(f"Note {entry_id}"), who, id=entry_id, job=job, **over))
    return {key: value for key, value in made.items() if key not in ("tablet", "seq")}


@dataclass
class World:
    """`modules` run on each page with all they import; `made`: modules that are in no file, or stand in a file's place.

    `rounds`: the most a slow hash is given, for tests that are not about how slow it is.
    """

    network: Network
    now_ms: int = 1_780_905_600_000
    modules: tuple[str, ...] = MODULES
    made: Mapping[str, str] = field(default_factory=dict)
    rounds: int = 1_000_000

    def __post_init__(self) -> None:
        self.engine = Engine()
        self.engine.run((HERE / "fake_indexeddb.js").read_text("utf-8"))
        self.engine.run((HERE / "fake_browser.js").read_text("utf-8"))
        self.engine.run(f"browser.now = {self.now_ms}")
        self._numbers = count(1)

    # --- Pages ---

    def page(self) -> Page:
        """Another page of this tablet, its pocket not open yet."""
        page = Page(self, f"page-{next(self._numbers)}")
        self.engine.run(f"browser.open({json.dumps(page.id)}, {_modules(self.modules, tuple(self.made.items()))})")
        return page

    def opened(self) -> Page:
        """Another page, its pocket open."""
        page = self.page()
        page.opens()
        return page

    # --- Time and tasks ---

    def step(self) -> bool:
        """One task, with all it sets off; whether there was one."""
        return bool(self.engine.run("browser.step()"))

    def go(self, until: Callable[[], bool] | None = None) -> None:
        """Do what can be done, answering requests, until there is nothing left but to wait (or `until` holds)."""
        for _ in range(STEPS):
            if until is not None and until():
                return
            # A task was done, or there is a request to answer, or nothing at all. One call: they are what takes time.
            found = self.engine.run("browser.step() || browser.take()")
            if found == "null":
                return
            if isinstance(found, str):
                self._answers_one(json.loads(found))
        raise AssertionError("the scripts go on and on")

    def wait(self, ms: int) -> None:
        """Let time pass; each timer rings when it is due."""
        end = self.value("browser.now") + ms
        self.go()
        while self.engine.run(f"browser.ring({end})"):
            self.go()

    def timers(self) -> list[int]:
        """In how many ms each timer is due."""
        return list(self.value("browser.timers()"))

    def value(self, expression: str) -> Any:
        return json.loads(str(self.engine.run(f"JSON.stringify({expression})")))

    @property
    def errors(self) -> list[str]:
        return list(self.value("browser.errors"))

    # --- The disk ---

    def kept_ids(self) -> list[str]:
        """The ids of every entry in the pocket, by number."""
        return [row["id"] for _, row in self.dump()["cotterpin"]["stores"]["entries"]["rows"]]

    def dump(self) -> Any:
        """All that is on the disk."""
        return self.value("browser.disk.snapshot()")

    def restore(self, dump: Any) -> None:
        """Put the disk back to what it was. Only while no page has it open."""
        self.engine.run(f"browser.disk.restore({json.dumps(dump)})")

    def wipe(self) -> None:
        self.restore({})

    def fail_commits(self, *names: str) -> None:
        self.engine.run(f"browser.disk.faults.commits.push(...{json.dumps(names)})")

    def fail_puts(self, *names: str) -> None:
        self.engine.run(f"browser.disk.faults.puts.push(...{json.dumps(names)})")

    def room(self, characters: int | None) -> None:
        """How much more fits; None for without end."""
        room = "Infinity" if characters is None else f"browser.disk.size() + {characters}"
        self.engine.run(f"browser.disk.room = {room}")

    def log(self) -> list[dict[str, Any]]:
        """Each transaction that ended: stores, mode, durability, outcome."""
        return list(self.value("browser.disk.log"))

    # --- The network ---

    def _answers_one(self, call: Any) -> None:
        asked = call["asked"]
        if call["kind"] == "pbkdf2":
            rounds = min(asked["iterations"], self.rounds)
            made = hashlib.pbkdf2_hmac("sha256", bytes(asked["password"]), bytes(asked["salt"]), rounds)
            self._answers(call["id"], list(made[: asked["bits"] // 8]))
            return
        request = Request(asked["path"], asked["body"], asked["headers"], call["page"], call["at_ms"])
        self._carry(call["id"], request)

    def _carry(self, call: int, request: Request) -> None:
        network = self.network
        network.seen.append(request)
        fate = network.plan.popleft() if network.plan else network.otherwise
        if isinstance(fate, Reply):
            self._answers(call, _reply(fate))
        elif fate == "lost":
            self._answers(call, None)
        elif fate == "held":
            network.held.append(request)
        elif fate == "fine":
            self._answers(call, _reply(network.asks(request)))
        elif fate == "twice":
            network.asks(request)
            self._answers(call, _reply(network.asks(request)))
        elif fate == "slow":
            reply = json.dumps(_reply(network.asks(request)))
            self.engine.run(f"browser.answerIn({network.slow_ms}, {call}, {reply})")
        elif fate == "answer_lost":
            network.asks(request)
            self._answers(call, None)
        elif fate == "answer_swallowed":
            network.asks(request)
        elif fate == "killed":
            network.asks(request)
            self.engine.run(f"browser.kill({json.dumps(request.page)})")
        elif fate != "swallowed":
            raise ValueError(f"the network knows no {fate!r}")

    def _answers(self, call: int, found: Any) -> None:
        self.engine.run(f"browser.answer({call}, {json.dumps(found)})")


@dataclass(frozen=True)
class Page:
    world: World
    id: str

    def begins(self, work: str, *args: Any) -> str:
        """Begin `page => …` with more arguments after it; gives the key under which it will be found."""
        key = f"work-{next(self.world._numbers)}"
        given = f"{json.dumps(self.id)}, {json.dumps(key)}, {work}, {json.dumps(args)}"
        self.world.engine.run(f"browser.begin({given})")
        return key

    def has_ended(self, key: str) -> bool:
        return bool(self.world.engine.run(f"{json.dumps(key)} in browser.results"))

    def found(self, key: str) -> Any:
        """What came of it. Raises: Failed, Unfinished."""
        result = self.world.value(f"browser.results[{json.dumps(key)}] ?? null")
        if result is None:
            raise Unfinished(key)
        if "failed" in result:
            raise Failed(result["failed"], str(result["code"]), result["words"])
        return json.loads(result["found"])

    def does(self, work: str, *args: Any) -> Any:
        """Do it to the end, without time passing. Raises: Failed, Unfinished."""
        key = self.begins(work, *args)
        self.world.go()
        return self.found(key)

    def opens(self) -> None:
        self.does(
            "async (page) => { page.pocket = await page.m['pocket.js'].openPocket(page.factory,"
            " new page.BroadcastChannel('cotterpin')); }"
        )

    def pocket(self, name: str, *args: Any) -> Any:
        """Call the pocket. Raises: Failed, Unfinished."""
        return self.does(f"(page, ...args) => page.pocket.{name}(...args)", *args)

    def exchanges(self, bundle: str = "b" * 16) -> Any:
        """One whole exchange with the office, as the sender makes it."""
        return self.does(
            "(page, bundle) => page.m['sender.js'].exchange(page.pocket,"
            " page.m['sender.js'].postFrom(page.pocket, 20_000), page.now, bundle)",
            bundle,
        )

    def sends(self, bundle: str = "b" * 16) -> None:
        """Go on sending, as long as the page lives."""
        self.does(SENDING, bundle)

    def signs_in(self, person: str, pin: str) -> Any:
        """As on the tablet's own page: with three seconds' patience for the office."""
        return self.does(
            """(page, person, pin) => page.m['sign_in.js'].signInHere({
                pocket: page.pocket, post: page.m['sender.js'].postFrom(page.pocket, 3_000), now: page.now,
                crypto: page.crypto,
            }, person, pin)""",
            person,
            pin,
        )

    def notes(self, *ids: str, job: str = JOB, who: Someone = ADA) -> list[dict[str, Any]]:
        """Note these, as one form's entries; gives the rows."""
        heard = {"name": who.name, "roles": list(who.roles), "at_ms": self.world.now_ms}
        rows: list[dict[str, Any]] = self.pocket("note", [a_note(one, job, who) for one in ids], heard)
        return rows

    @property
    def told(self) -> list[str]:
        """The outcomes its sender told."""
        return list(self.world.value(f"browser.pages[{json.dumps(self.id)}].told"))

    def sets_clock(self, off_ms: int) -> None:
        """The tablet's own clock goes wrong by so much."""
        self.world.engine.run(f"browser.pages[{json.dumps(self.id)}].clock.off = {off_ms}")

    def kill(self) -> None:
        """The page is gone, in the midst of whatever it did."""
        self.world.engine.run(f"browser.kill({json.dumps(self.id)})")


def _reply(reply: Reply | None) -> dict[str, Any] | None:
    return None if reply is None else {"status": reply.status, "text": reply.text}


@lru_cache(maxsize=64)
def _modules(names: tuple[str, ...], made: tuple[tuple[str, str], ...]) -> str:
    """A function that runs the modules anew for one page, with that page's own browser around them."""
    parts, texts = [], dict(made)
    for name in _in_order(names, [], texts):
        given = wrapped(_text(name, texts), name, lambda path: f"modules[{json.dumps(path)}]")
        parts.append(f"modules[{json.dumps(name)}] = {given};")
    return f"(modules, {{ {GLOBALS} }}) => {{ {' '.join(parts)} }}"


def _in_order(names: tuple[str, ...] | Iterator[str], done: list[str], made: Mapping[str, str]) -> list[str]:
    for name in names:
        _in_order(imported(_text(name, made), name), done, made)
        if name not in done:
            done.append(name)
    return done


def _text(name: str, made: Mapping[str, str]) -> str:
    return made[name] if name in made else (TABLET / name).read_text("utf-8")
