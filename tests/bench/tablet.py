"""From a tap on the sheet to the next picture on the screen, in Chromium, and what a tablet has to fetch for it.

An enrolled tablet in a browser of its own works a sheet of at least 60 steps by its own buttons, with the office near,
3 s away and gone (killed), with the processor as it is and slowed down six times. Each tap is timed by the browser,
from the click's own time to the first task after the frame in which the answer stands; taps on a bare page, whose
handler does nothing but write one word, are timed the same way in the same browser, in turns.

Then: a cold open without the office, layout shift, the longest style-and-layout work of a tap, and the bytes of a first
and of a repeated load (`first_load.py`).

Run: `python -m tests.bench.tablet` (`--taps 60`, `--cold 5`; `--only near` for one network, `--loads` for bytes alone).
Limits are stated beside each figure; the exit code is 1 if one is missed.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import shutil
import socket
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import uvicorn
from playwright.sync_api import BrowserType, CDPSession, sync_playwright
from playwright.sync_api import Page as Tab

from app import commands
from app.bootstrap import make_app
from app.domain.packet import Axle
from app.settings import Settings
from demo.browser import Form, Page, read_page
from demo.hands import Hand
from demo.seed import Jobs, line, shop_things
from demo.walk import STRUTS_FOUND
from tests.bench.first_load import first_and_again
from tests.bench.limits import Told
from tests.browser.office_process import OfficeProcess
from tests.browser.tablet_bench import FILL, Chromium, Seat, Tablet

WHO = "Bram Nwosu"
FRAME_MS = 1_000 / 60
AWAY_S = 3.0
NETWORKS = ("near", "away", "gone")
SLOWED = (1, 6)
BLOCK = 15
FIRST_LOAD, FIRST_SCRIPT, STYLES = 150_000, 60_000, 20_000
COLD_SLOWED, COLD_MS, STYLE_MS, SLOW_TAP_MS = 4, 500, 50, 100
# Networks are called the same when their middle taps lie within a frame, or within a tenth where a tap takes longer.
SAME = 0.1

# A tap is over in the first task after the frame that its answer is drawn in. Both pages use this.
PAINTED = """window.taps = { began: 0, done: null };
addEventListener("click", (event) => { taps.began = event.timeStamp; }, { capture: true });
window.expectTap = () => { taps.done = new Promise((resolve) => { taps.resolve = resolve; }); };
window.painted = () => requestAnimationFrame(() => {
  const { port1, port2 } = new MessageChannel();
  port1.onmessage = () => taps.resolve(performance.now() - taps.began);
  port2.postMessage(0);
});"""
ON_SHEET = """document.addEventListener("htmx:after:swap", () => painted());
window.shifts = [];
window.aimed = [];
new PerformanceObserver((list) => {
  for (const one of list.getEntries()) if (!one.hadRecentInput) shifts.push([one.startTime, one.value]);
}).observe({ type: "layout-shift", buffered: true });
// A browser lets pass what moves within half a second of a finger's tap. Links that the driver follows by script are
// taps of nobody, so what their answers move has to be let pass here; it would be felt as no shift by who taps them.
addEventListener("click", (event) => {
  if (event.isTrusted) return;
  const from = performance.now();
  document.addEventListener("htmx:after:swap", () => requestAnimationFrame(() => {
    setTimeout(() => aimed.push([from, performance.now()]), 0);
  }), { once: true });
}, { capture: true });
window.shifted = () => shifts
  .filter(([at]) => !aimed.some(([from, to]) => from <= at && at <= to))
  .reduce((sum, [, value]) => sum + value, 0);"""
BARE = f"""<!doctype html><title>Bare</title><meta name="viewport" content="width=device-width">
<button id="least" style="width: 200px; height: 104px">Tap</button> <p id="said">0</p>
<script>{PAINTED}
const said = document.getElementById("said");
document.getElementById("least").addEventListener("click", () => {{
  said.textContent = Number(said.textContent) + 1;
  painted();
}});</script>"""
# Fills the form in, brings its button under the finger, and says where that is.
AIM = f"""async ({{ at, action, typed }}) => {{
  {FILL}
  const form = document.forms[at];
  if (form.getAttribute("action") !== action) throw new Error(`form ${{at}} goes to ${{form.action}}`);
  const buttons = [...form.querySelectorAll("button")].filter((one) => one.type === "submit");
  const named = buttons.find((one) => one.name && typed[one.name] === one.value);
  if (named) delete typed[named.name];
  fill(form, typed);
  const button = named ?? buttons[0];
  // What this opens and fills moves the page as a finger's own taps would: none of the sheet's moving by itself.
  const from = performance.now();
  for (let at = button.closest("details"); at; at = at.parentElement.closest("details")) at.open = true;
  button.scrollIntoView({{ block: "center" }});
  await new Promise((resolve) => requestAnimationFrame(() => setTimeout(resolve, 0)));
  aimed.push([from, performance.now()]);
  const {{ x, y, width, height }} = button.getBoundingClientRect();
  const [across, down] = [x + width / 2, y + height / 2];
  if (!button.contains(document.elementFromPoint(across, down))) throw new Error("something lies over the button");
  expectTap();
  return [across, down];
}}"""


# --- The office, with a wire that counts and can be made long ---------------------------------------------------------


class Wire:
    """Passes everything on; writes down what each answer weighs; waits first while the file `away` is there."""

    def __init__(self, app: Any, folder: Path) -> None:
        self.app, self.away, self.weights = app, folder / "away", folder / "weights"

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        if self.away.exists():
            await asyncio.sleep(AWAY_S)
        weight = 0

        async def weighed(message: Any) -> None:
            nonlocal weight
            weight += len(message.get("body", b""))
            # Each header's line has ": " and a line's end.
            weight += sum(len(name) + len(value) + 4 for name, value in message.get("headers", ()))
            await send(message)

        await self.app(scope, receive, weighed)
        with self.weights.open("a", encoding="utf-8") as file:
            file.write(json.dumps([scope["path"], weight]) + "\n")


def serve(port: int, folder: Path) -> None:
    uvicorn.run(Wire(make_app(), folder), host="127.0.0.1", port=port, log_level="warning")


@dataclass
class Place:
    """An office and a tablet before it, each new; `number` is the job's."""

    office: OfficeProcess
    tablet: Tablet
    number: str

    @property
    def tab(self) -> Tab:
        assert isinstance(self.tablet.browser, Chromium)
        return self.tablet.browser.tab

    def put(self, network: str) -> None:
        if network == "away":
            (self.office.folder / "away").touch()
        elif network == "gone":
            self.office.kill()

    def weights(self) -> list[tuple[str, int]]:
        """What was sent so far, by path."""
        file = self.office.folder / "weights"
        return [tuple(json.loads(row)) for row in file.read_text("utf-8").splitlines()] if file.exists() else []


def furnish(folder: Path) -> tuple[Path, str, int]:
    """A workshop with one job to do, on a file of its own; the job's number and its count of steps."""
    office = OfficeProcess(folder, 1)
    now = datetime.now(UTC)
    with office.by_hand() as parts:
        commands.migrate(Settings(_env_file=None))  # type: ignore[call-arg]
        shop_things(parts, now)
        jobs = Jobs(parts, now)
        earlier = jobs.at(2)
        lines = (line("strut", Axle.FRONT, "left"), line("stabiliser", Axle.FRONT, parts="links"))
        job = jobs.opened(earlier, "quillon", "Bounces on and on after bumps", *lines)
        jobs.placed(earlier, job, "bay-1", "bram", -1, 6)
        with parts.store.reading() as unit:
            sheet = unit.sheets.get(job.id)
    assert sheet is not None
    assert sheet.packet is not None
    return office.house.database, job.number, len(sheet.packet.steps)


@contextmanager
def place(kind: BrowserType, furnished: tuple[Path, str, int], folder: Path, *, enrols: bool = True) -> Iterator[Place]:
    """enrols: before it is handed out. Else the browser can be listened to, and has a name to be trusted under."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port = one.getsockname()[1]
    office = OfficeProcess(folder, port)
    folder.mkdir()
    for path in furnished[0].parent.glob(f"{furnished[0].name}*"):
        shutil.copy(path, folder / path.name)
    office.start("-m", "tests.bench.tablet", "--serve", str(port), "--folder", str(folder))
    address = office.address if enrols else office.address.replace("127.0.0.1", "localhost")
    browser = Chromium(folder / "browser", address, kind, more=() if enrols else ("--remote-debugging-port=0",))
    try:
        browser.open()
        tablet = Tablet(browser, office)
        yield Place(office, tablet.enrol() if enrols else tablet, furnished[1])
    finally:
        browser.close()
        office.kill()


# --- Taps -------------------------------------------------------------------------------------------------------------


class Enough(Exception):
    """As many taps as were asked for."""


@dataclass
class TimedSeat(Seat):
    """A person who presses what they send with a finger, and keeps how long the picture took."""

    tablet: Tablet
    name: str
    before: Callable[[int], None]
    most: int
    times: list[float] = field(default_factory=list)

    def send(self, page: Page, form: Form, typed: Mapping[str, str] = {}, *, forced: Mapping[str, str] = {}) -> Page:
        assert page is self.tablet.shown, "this page is not on the screen"
        if len(self.times) == self.most:
            raise Enough
        self.before(len(self.times))
        tab = self.tablet.browser.tab  # type: ignore[attr-defined]
        at = next(number for number, one in enumerate(page.root.forms()) if one.element is form.element)
        spot = tab.evaluate(AIM, {"at": at, "action": form.action, "typed": {**typed, **forced}})
        # A person lifts the hand and looks before the next tap.
        time.sleep(0.2)
        tab.mouse.click(*spot)
        self.times.append(tab.evaluate("taps.done"))
        self.tablet.shown = Page("", 200, read_page(self.tablet.browser.html))
        return self.tablet.shown


@dataclass(frozen=True)
class Taps:
    sheet: Sequence[float]
    bare: Sequence[float]
    shift: float

    def __str__(self) -> str:
        return " · ".join(
            f"{name} p50 {statistics.median(times):6.1f} ms, p95 {p95(times):6.1f} ms"
            for name, times in (("sheet", self.sheet), ("bare page", self.bare))
        )


def p95(times: Sequence[float]) -> float:
    return statistics.quantiles(times, n=20)[18]


def slowed(tab: Tab, times: int) -> CDPSession:
    session = tab.context.new_cdp_session(tab)
    session.send("Emulation.setCPUThrottlingRate", {"rate": times})
    return session


def measure_taps(at: Place, network: str, rate: int, taps: int) -> Taps:
    """Taps on the sheet and on the bare page, in turns; the sheet is opened when the network is as it is."""
    bare = at.tab.context.new_page()
    bare.set_content(BARE)
    on_bare: list[float] = []
    at.tablet.sign_in(WHO)
    at.tablet.sheet(at.number)
    at.put(network)
    at.tab.add_init_script(PAINTED + ON_SHEET)
    at.tablet.sheet(at.number)
    slowed(at.tab, rate)
    slowed(bare, rate)

    def turn(done: int) -> None:
        if done % BLOCK == 0:
            bare.bring_to_front()
            on_bare.extend(tap_bare(bare) for _ in range(min(BLOCK, taps - done)))
            at.tab.bring_to_front()
            time.sleep(0.5)

    seat = TimedSeat(at.tablet, WHO, turn, taps)
    work_on(seat, at.number)
    shift = float(at.tab.evaluate("shifted()"))
    return Taps(seat.times, on_bare, shift)


def work_on(seat: TimedSeat, number: str) -> None:
    hand = Hand(WHO, seat, number, found=STRUTS_FOUND, extensions={"l1.lower_bolts_in": "150 mm"})
    try:
        hand.work()
    except Enough:
        return
    raise SystemExit(f"the sheet was done after {len(seat.times)} taps")


def tap_bare(tab: Tab) -> float:
    tab.evaluate("expectTap()")
    time.sleep(0.2)
    tab.mouse.click(100, 60)
    return float(tab.evaluate("taps.done"))


# --- What one tap costs in style and layout ---------------------------------------------------------------------------


def longest_layout(at: Place, rate: int, taps: int) -> float:
    """The most milliseconds of style and layout within one task of the page, over some taps, by the browser's trace."""
    at.tablet.sign_in(WHO)
    at.tab.add_init_script(PAINTED + ON_SHEET)
    at.tablet.sheet(at.number)
    session = slowed(at.tab, rate)
    events: list[dict[str, Any]] = []
    session.on("Tracing.dataCollected", lambda told: events.extend(told["value"]))
    over: list[Any] = []
    # The driver hangs its own mark on what it is given, which a method cannot bear.
    session.on("Tracing.tracingComplete", lambda told: over.append(told))
    categories = "devtools.timeline,disabled-by-default-devtools.timeline,toplevel"
    session.send("Tracing.start", {"categories": categories, "transferMode": "ReportEvents"})
    work_on(TimedSeat(at.tablet, WHO, lambda _: None, taps), at.number)
    session.send("Tracing.end")
    until = time.monotonic() + 60
    while not over and time.monotonic() < until:
        at.tab.wait_for_timeout(100)
    return longest_in(events)


def longest_in(events: Sequence[Mapping[str, Any]]) -> float:
    """Style and layout added up for each task that holds them; the longest of these."""
    work = [one for one in events if one["name"] in ("UpdateLayoutTree", "Layout") and one.get("ph") == "X"]
    tasks = [one for one in events if one["name"] in ("RunTask", "ThreadControllerImpl::RunTask") and "dur" in one]
    sums: dict[tuple[int, int, int], float] = {}
    for one in work:
        holds = [
            task for task in tasks
            if (task["pid"], task["tid"]) == (one["pid"], one["tid"])
            and task["ts"] <= one["ts"] <= task["ts"] + task["dur"]
        ]  # fmt: skip
        task = max(holds, key=lambda each: each["dur"], default=one)
        key = (task["pid"], task["tid"], task["ts"])
        sums[key] = sums.get(key, 0.0) + one["dur"] / 1_000
    if not sums:
        raise SystemExit("the browser's trace holds no style or layout")
    return max(sums.values())


# --- Opening ----------------------------------------------------------------------------------------------------------

OPENED = """async () => {
  const [shown] = performance.getEntriesByName("first-contentful-paint");
  const [way] = performance.getEntriesByType("navigation");
  return shown && { shown: shown.startTime, worker: way.responseStart - Math.max(way.workerStart, 0),
                    rows: document.querySelectorAll(".rail__row, .hand").length };
}"""


def cold_opens(at: Place, times: int) -> list[tuple[float, float]]:
    """Milliseconds from asking for a sheet to seeing it in a browser just opened, no office there; and the worker's.

    Chromium slows a page's own thread only, and not its worker's: what the worker took has to be counted as many
    times more by whoever reads this.
    """
    at.tablet.sign_in(WHO)
    at.tablet.sheet(at.number)
    at.office.kill()
    found = []
    for _ in range(times):
        at.tablet.browser.again()
        slowed(at.tab, COLD_SLOWED)
        at.tablet.browser.goto(f"/jobs/{at.number}/sheet")
        at.tablet.browser.wait_for("performance.getEntriesByName('first-contentful-paint').length > 0")
        told = at.tablet.browser.run(OPENED)
        assert told["rows"] > 1, told
        found.append((told["shown"], told["worker"]))
    return found


# --- All of it --------------------------------------------------------------------------------------------------------


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--taps", type=int, default=60)
    parser.add_argument("--cold", type=int, default=5)
    parser.add_argument("--only", choices=NETWORKS, action="append", help="this network alone, and its taps alone")
    parser.add_argument("--loads", action="store_true", help="what is fetched alone")
    parser.add_argument("--serve", type=int, help=argparse.SUPPRESS)
    parser.add_argument("--folder", type=Path, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.serve:
        serve(given.serve, given.folder)
        return 0
    told = Told()
    with tempfile.TemporaryDirectory(prefix="cotterpin-bench-") as name, sync_playwright() as driver:
        bench = Bench(driver.chromium, Path(name))
        if given.loads:
            bench.loads(told)
            return told.outcome()
        told.say(f"A sheet of {bench.furnished[2]} steps, {given.taps} taps each; {os.cpu_count()} processors")
        bench.taps(told, given.only or NETWORKS, given.taps)
        if not given.only:
            bench.rest(told, given.cold)
    return told.outcome()


class Bench:
    def __init__(self, kind: BrowserType, folder: Path) -> None:
        self.kind, self.folder = kind, folder
        self.furnished = furnish_in(folder / "furnished")

    def new_place(self, name: str, *, enrols: bool = True) -> Any:
        return place(self.kind, self.furnished, self.folder / name, enrols=enrols)

    def taps(self, told: Told, networks: Sequence[str], taps: int) -> None:
        found: dict[tuple[str, int], Taps] = {}
        for rate in SLOWED:
            for network in networks:
                with self.new_place(f"{network}-{rate}") as at:
                    one = found[network, rate] = measure_taps(at, network, rate, taps)
                told.say(f"{network:>5}, {rate}x slowed: {one} · load {os.getloadavg()[0]:.1f}")
                if rate == 1:
                    frames = (statistics.median(one.sheet) - statistics.median(one.bare)) / FRAME_MS
                    told.at_most(f"{network}: frames beyond the bare page, p50", frames, 2, "frames")
                    frames = (p95(one.sheet) - p95(one.bare)) / FRAME_MS
                    told.at_most(f"{network}: frames beyond the bare page, p95", frames, 2, "frames")
                else:
                    told.at_most(f"{network}: p95, {rate}x slowed", p95(one.sheet), SLOW_TAP_MS, "ms")
                told.at_most(f"{network}: layout shift", one.shift, 0, "")
        for rate in SLOWED:
            for network in networks[1:]:
                near, far = (statistics.median(found[name, rate].sheet) for name in (networks[0], network))
                apart = abs(far - near)
                told.at_most(f"{network} and near apart, {rate}x slowed", apart, max(FRAME_MS, SAME * near), "ms")

    def rest(self, told: Told, cold: int) -> None:
        with self.new_place("layout") as at:
            told.at_most("style and layout within one task, 6x slowed", longest_layout(at, 6, 20), STYLE_MS, "ms")
        self.loads(told)
        with self.new_place("cold") as at:
            opened = cold_opens(at, cold)
        shown = statistics.median(one for one, _ in opened)
        whole = statistics.median(one + (COLD_SLOWED - 1) * worker for one, worker in opened)
        told.say(f"cold open without the office, {COLD_SLOWED}x slowed, as the browser does it: {shown:.0f} ms")
        told.at_most("cold open, the worker's part counted as slowed too", whole, COLD_MS, "ms")

    def loads(self, told: Told) -> None:
        with self.new_place("loads", enrols=False) as at:
            found = first_and_again(at, WHO)
        first = found["first"].wire
        told.at_most("first load over the wire", sum(first.values()), FIRST_LOAD, "bytes")
        told.say(f"  the browser counts {sum(found['first'].browser.values()):,} of it")
        for what, ending, limit in (("script", ".js", FIRST_SCRIPT), ("styles", ".css", STYLES)):
            weight = sum(weight for path, weight in first.items() if path.endswith(ending))
            told.at_most(f"of it {what}", weight, limit, "bytes")
        told.say(f"  and of the shop's own jobs and people: {found['first'].exchanged:,} bytes")
        for name, load in found.items():
            if name != "first":
                told.at_most(f"{name}: over the wire", sum(load.wire.values()), 0, "bytes")
                told.at_most(f"{name}: as the browser counts", sum(load.browser.values()), 0, "bytes")
            for path, weight in sorted(load.wire.items(), key=lambda one: -one[1]):
                told.say(f"  {name} {weight:>8,}  {path}  (browser {load.browser.get(path, 0):,})")
            for path in load.browser.keys() - load.wire.keys():
                told.say(f"  {name} {0:>8,}  {path}  (browser {load.browser[path]:,})")


def furnish_in(folder: Path) -> tuple[Path, str, int]:
    folder.mkdir()
    return furnish(folder)


if __name__ == "__main__":
    sys.exit(main())
