"""What a device fetches to become a tablet and open its first sheet, and what it fetches to open everything once more.

A person's way, in Chromium with nothing kept: the address of the foreman's code, Enrol, the readiness page, Sign in, My
work, the sheet; then both again; then the browser closed, opened, and both once more. Two counters that know nothing of
each other: the office's own wire, which writes down every answer's headers and body as they leave; and the browser's
(`Network.loadingFinished`, `encodedDataLength`), where its pages and its worker are each listened to from their first
request on, but the worker's own script is not told. The wire's is the one that counts. What is exchanged of the shop's
own jobs, people and photos (`/sync/`) is said apart.
"""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import websocket

# How long the network has to be silent until a load is over.
SILENT_S = 1.5


@dataclass
class Counter:
    """What the browser says it received, by path: pages and workers, each from before its first request."""

    line: Any
    origin: str
    weights: list[tuple[str, int]] = field(default_factory=list)
    _asked: dict[tuple[str, str], str] = field(default_factory=dict)
    _listened: set[str] = field(default_factory=set)
    _numbers: Iterator[int] = field(default_factory=lambda: iter(range(1, 1_000_000)))

    def say(self, method: str, session: str = "", **given: Any) -> None:
        said = {"id": next(self._numbers), "method": method, "params": given}
        self.line.send(json.dumps({**said, "sessionId": session} if session else said))

    def listen(self) -> None:
        self.say("Target.setAutoAttach", autoAttach=True, waitForDebuggerOnStart=True, flatten=True)
        while True:
            try:
                self.hear(json.loads(self.line.recv()))
            except (OSError, ValueError, websocket.WebSocketException):
                return

    def hear(self, told: Mapping[str, Any]) -> None:
        given, session = told.get("params", {}), told.get("sessionId", "")
        match told.get("method"):
            case "Target.attachedToTarget":
                one, target = given["sessionId"], given["targetInfo"]["targetId"]
                if target not in self._listened:
                    self._listened.add(target)
                    self.say("Network.enable", one)
                    self.say("Target.setAutoAttach", one, autoAttach=True, waitForDebuggerOnStart=True, flatten=True)
                self.say("Runtime.runIfWaitingForDebugger", one)
            case "Network.requestWillBeSent":
                if "redirectResponse" in given:
                    before = given["redirectResponse"]
                    self.count(before["url"], before["encodedDataLength"])
                self._asked[session, given["requestId"]] = given["request"]["url"]
            case "Network.loadingFinished":
                self.count(self._asked.get((session, given["requestId"]), ""), given["encodedDataLength"])

    def count(self, address: str, weight: float) -> None:
        """What the browser loads for pages of its own is none of ours."""
        if weight > 0 and address.startswith(f"{self.origin}/"):
            self.weights.append((urlsplit(address).path, int(weight)))


@contextmanager
def counting(folder: Path, origin: str) -> Iterator[Counter]:
    """Listen to a browser that was started with `--remote-debugging-port=0` on this folder."""
    until = time.monotonic() + 20
    told = folder / "DevToolsActivePort"
    while not told.exists() or len(told.read_text("utf-8").splitlines()) < 2:
        if time.monotonic() > until:
            raise SystemExit("the browser does not say where it can be listened to")
        time.sleep(0.05)
    port, path = told.read_text("utf-8").splitlines()[:2]
    line = websocket.create_connection(f"ws://127.0.0.1:{port}{path}", suppress_origin=True, max_size=None)
    counter = Counter(line, origin)
    thread = threading.Thread(target=counter.listen, daemon=True)
    thread.start()
    try:
        yield counter
    finally:
        line.close()
        thread.join(5)


def summed(weights: Sequence[tuple[str, int]], *, exchanged: bool = False) -> dict[str, int]:
    """By path; without what is exchanged of the shop's own, or that alone."""
    sums: dict[str, int] = {}
    for path, weight in weights:
        if path.startswith("/sync/") is exchanged:
            sums[path] = sums.get(path, 0) + weight
    return sums


@dataclass(frozen=True)
class Loads:
    """By path, in bytes: as the office's wire counts them, and as the browser does."""

    wire: Mapping[str, int]
    browser: Mapping[str, int]
    exchanged: int


class Measured:
    """One device at one office, and the loads measured so far."""

    def __init__(self, at: Any, counter: Counter) -> None:
        self.at, self.counter = at, counter
        self._wire, self._browser = len(at.weights()), len(counter.weights)

    def load(self) -> Loads:
        """What came since the last of these, once nothing comes any more (but for the tablet's contacts)."""
        count, since = -1, time.monotonic()
        while time.monotonic() < since + SILENT_S:
            now = sum(not path.startswith("/sync/") for path, _ in self.at.weights())
            if now != count:
                count, since = now, time.monotonic()
            self.at.tab.wait_for_timeout(100)
        wire, self._wire = self.at.weights()[self._wire :], len(self.at.weights())
        browser, self._browser = self.counter.weights[self._browser :], len(self.counter.weights)
        return Loads(summed(wire), summed(browser), sum(summed(wire, exchanged=True).values()))


def enrol_as_people_do(at: Any) -> None:
    """By the page: the code's address, a name, Enrol; then what the tablet proves of itself, then Sign in."""
    tab = at.tab
    at.tablet.browser.goto(f"/enrol/{at.office.a_code()}")
    tab.fill("#name", "Bench tablet")
    tab.click("#enrol button")
    tab.wait_for_url("**/readiness")
    tab.wait_for_selector("#readiness[data-looked]")
    at.tablet.browser.goto("/sign-in")
    until = time.monotonic() + 30
    while not tab.evaluate(
        "document.getElementById('tablet-line') && document.querySelectorAll('[name=person]').length"
    ):
        if time.monotonic() > until:
            raise SystemExit("the tablet does not make its own pages")
        time.sleep(0.5)
        at.tablet.browser.goto("/sign-in")


def first_and_again(at: Any, who: str) -> dict[str, Loads]:
    """The first load; the same pages once more; and once more in a browser that was closed."""
    found = {}

    def once_more() -> None:
        for path in ("/work", f"/jobs/{at.number}/sheet"):
            at.tablet.browser.goto(path)
            at.tab.wait_for_load_state("networkidle")

    with counting(at.tablet.browser.folder, at.tablet.browser.address) as counter:
        measured = Measured(at, counter)
        enrol_as_people_do(at)
        at.tablet.sign_in(who)
        at.tablet.sheet(at.number)
        found["first"] = measured.load()
        once_more()
        found["again"] = measured.load()
    (at.tablet.browser.folder / "DevToolsActivePort").unlink(missing_ok=True)
    at.tablet.browser.again()
    with counting(at.tablet.browser.folder, at.tablet.browser.address) as counter:
        measured = Measured(at, counter)
        once_more()
        found["opened anew"] = measured.load()
    return found
