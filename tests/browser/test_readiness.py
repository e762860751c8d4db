"""A tablet proves itself in a real browser: each point seen to pass, and seen to fail where it is made to.

The page, its script, the bundle and the office are the real ones. The worker and the pocket are small ones that keep
to what the page asks of them, so that they can be spoilt here: a worker of another bundle, a pocket without a tablet.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from fastapi import FastAPI
from playwright.sync_api import Browser, BrowserContext, Page
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from app.bootstrap import the_bundle
from app.bundle.bundle import Bundle, Part
from app.bundle.serving import make_router as bundle_router
from app.domain.readiness import NEEDED, POINTS
from app.domain.records import Tablet
from app.sync.readiness import make_router
from tests.browser.conftest import SWITCHES, browser_path
from tests.offices import Workshop, an_app, an_office

TABLET = Tablet("tablet-1", "Bench")
WORKER = """
const hash = "HASH", name = "cotterpin-" + hash;
async function fill() {
  const { parts } = await (await fetch("/bundle/manifest.json")).json();
  await (await caches.open(name)).addAll(Object.keys(parts).map((path) => `/bundle/${hash}/${path}`));
}
addEventListener("install", (event) => event.waitUntil(fill().then(() => skipWaiting())));
addEventListener("activate", (event) => event.waitUntil(clients.claim()));
addEventListener("message", (event) => event.data === "which" && event.ports[0].postMessage("SAYS"));
"""
POCKET = "export const openPocket = async () => ({ tablet: async () => (KNOWN), close() {} });"
READY = "#readiness[data-looked]"


@dataclass
class Bench:
    """A served office, and a browser that stands for a tablet of it."""

    here: Workshop
    address: str
    tablet: BrowserContext
    bundle: Bundle

    def looks(self, page: Page | None = None, before: str = "") -> Page:
        """Open the page and wait until every point was looked at. before: a script to run first."""
        page = page or self.tablet.new_page()
        if before:
            page.add_init_script(before)
        page.goto(f"{self.address}/readiness")
        page.wait_for_selector(READY)
        return page

    def enrolled(self) -> None:
        """What enrolling leaves behind: the worker at work."""
        page = self.tablet.new_page()
        page.goto(f"{self.address}/readiness")
        page.evaluate(
            "navigator.serviceWorker.register('/worker.js').then(() => navigator.serviceWorker.ready).then(() => true)"
        )
        page.reload()
        assert page.evaluate("navigator.serviceWorker.ready.then(() => navigator.serviceWorker.controller !== null)")
        page.close()

    @property
    def kept(self) -> dict[str, bool]:
        check = self.here.get("readiness", TABLET.id)
        return {one.key: one.passed for one in check.points} if check else {}


Benches = Callable[..., Bench]


@pytest.fixture
def a_bench(browser: Browser, serve: Callable[[FastAPI], str]) -> Iterator[Benches]:
    opened: list[BrowserContext] = []

    def make(
        says: str = "", known: str = '{id: "tablet-1", secret: "s"}', allowed: tuple[str, ...] = ("kept",)
    ) -> Bench:
        here = an_office()
        here.add("tablets", TABLET)
        app = an_app(here)
        pocket = POCKET.replace("KNOWN", known)
        # The real bundle but for its script, which the page opens the pocket with.
        script = "tablet/start.js"
        carried = Bundle({**the_bundle().parts, script: Part(script, pocket.encode())})
        app.include_router(bundle_router(carried))
        app.include_router(make_router(here.office, {"Tablet tablet-1.s": TABLET.id}.get))
        the_hash = carried.hash
        worker = WORKER.replace("HASH", the_hash).replace("SAYS", says or the_hash)
        others = [(f"/bundle/{says}/{script}", pocket)] if says else []
        for path, text in (("/worker.js", worker), ("/static/tablet/pocket.js", pocket), *others):
            app.router.routes.insert(0, Route(path, _script(text)))
        address = serve(app)
        opened.append(browser.new_context(viewport={"width": 1180, "height": 820}))
        if "kept" in allowed:
            session = browser.new_browser_cdp_session()
            context_id = _context_of(session, opened[-1], address)
            session.send(
                "Browser.grantPermissions",
                {"permissions": ["durableStorage"], "origin": address, "browserContextId": context_id},
            )
        return Bench(here, address, opened[-1], carried)

    yield make
    for one in opened:
        one.close()


def _script(text: str) -> Callable[[Request], Response]:
    return lambda _: Response(text, media_type="text/javascript", headers={"Cache-Control": "no-store"})


def _context_of(session: Any, context: BrowserContext, address: str) -> str:
    """The protocol's own name of a context: that of a page of it."""
    page = context.new_page()
    page.goto(f"{address}/health")
    targets = session.send("Target.getTargets")["targetInfos"]
    found = next(one["browserContextId"] for one in targets if one["url"] == f"{address}/health")
    page.close()
    return str(found)


def states(page: Page) -> dict[str, str]:
    """What is shown for each point: yes or no."""
    found = page.locator("#readiness [data-point]").all()
    return {str(one.get_attribute("data-point")): str(one.get_attribute("data-state")) for one in found}


def words(page: Page, key: str) -> str:
    return page.locator(f'[data-point="{key}"] [data-words]').inner_text()


def failed(page: Page) -> set[str]:
    return {key for key, state in states(page).items() if state != "yes"} - {"camera"}


def test_a_tablet_in_order_proves_every_point_and_the_office_keeps_it(a_bench: Benches) -> None:
    bench = a_bench()
    bench.enrolled()

    page = bench.looks()

    assert list(states(page)) == list(POINTS)
    assert failed(page) == set(), {key: words(page, key) for key in failed(page)}
    assert words(page, "bundle").startswith(f"All {len(bench.bundle.parts)} parts")
    assert "Every point is in order" in page.locator("#readiness-result").inner_text()
    assert "The office has kept this." in page.locator("#readiness-result").inner_text()
    assert {key for key, passed in bench.kept.items() if passed} >= set(NEEDED)


def test_what_was_shown_is_what_the_office_kept(a_bench: Benches) -> None:
    bench = a_bench()

    page = bench.looks()

    check = bench.here.get("readiness", TABLET.id)
    shown = {key: words(page, key) for key in POINTS if key != "credential"}
    assert {one.key: one.words for one in check.points if one.key != "credential"} == shown
    assert bench.kept == {key: state == "yes" for key, state in states(page).items()}


def test_without_a_worker_there_is_no_worker_and_no_bundle(a_bench: Benches) -> None:
    page = a_bench().looks()

    assert failed(page) == {"worker", "bundle"}
    assert "It is not at work" in words(page, "worker")
    assert "Not in order yet: 2 of the points" in page.locator("#readiness-result").inner_text()


def test_a_worker_of_another_bundle_is_older(a_bench: Benches) -> None:
    bench = a_bench(says="0123456789abcdef")
    bench.enrolled()

    page = bench.looks()

    assert failed(page) == {"worker"}
    assert "older bundle" in words(page, "worker")


@pytest.mark.parametrize("spoil", ["cache.delete(at)", "cache.put(at, new Response('body { color: red }'))"])
def test_a_part_that_is_missing_or_spoilt_is_fetched_again(a_bench: Benches, spoil: str) -> None:
    bench = a_bench()
    bench.enrolled()
    page = bench.looks()
    change = f"caches.open('cotterpin-HASH').then((cache) => {{ const at = '/bundle/HASH/icon.svg'; return {spoil}; }})"
    page.evaluate(change.replace("HASH", bench.bundle.hash) + ".then(() => true)")

    bench.looks(page)

    assert failed(page) == set()
    assert words(page, "bundle").startswith("It is whole now: 1 parts")
    bench.looks(page)
    assert words(page, "bundle").startswith("All ")


def test_a_part_that_stays_spoilt_fails(a_bench: Benches) -> None:
    bench = a_bench()
    bench.enrolled()
    page = bench.looks()
    the_hash = bench.bundle.hash
    page.evaluate(f"caches.open('cotterpin-{the_hash}').then((cache) => cache.delete('/bundle/{the_hash}/icon.svg'))")
    page.route("**/icon.svg", lambda route: route.fulfill(body="<svg/>", content_type="image/svg+xml"))

    bench.looks(page)

    assert failed(page) == {"bundle"}
    assert "Missing or spoilt, and not to be had anew: 1 parts" in words(page, "bundle")


NO_STORE = "indexedDB.open = () => { throw new DOMException('full', 'QuotaExceededError'); };"
LOSES = """
const put = IDBObjectStore.prototype.put;
IDBObjectStore.prototype.put = function (value, key) { return put.call(this, "another", key); };
"""
ABORTS = """
const begin = IDBDatabase.prototype.transaction;
IDBDatabase.prototype.transaction = function (...words) {
  const made = begin.apply(this, words);
  if (words[1] === "readwrite") queueMicrotask(() => made.abort());
  return made;
};
"""
LOOSE = "Object.defineProperty(IDBTransaction.prototype, 'durability', { get: () => 'relaxed' });"
LITTLE = "navigator.storage.estimate = async () => ({ quota: 300e6, usage: 180e6 });"
BEHIND = "const now = Date.now; Date.now = () => now() - 5 * 60_000;"
AHEAD = "const now = Date.now; Date.now = () => now() + 3 * 60_000;"
NEARLY = "const now = Date.now; Date.now = () => now() + 100_000;"


@pytest.mark.parametrize(
    ("spoil", "key", "says"),
    [
        (NO_STORE, "write", "could not be written and read back"),
        (LOSES, "write", "could not be written and read back"),
        (ABORTS, "write", "could not be written and read back"),
        (LOOSE, "write", "does not wait for the disk"),
        (LITTLE, "room", "Only 120 MB are left"),
        (BEHIND, "clock", "It is 5 minutes behind"),
        (AHEAD, "clock", "It is 3 minutes ahead"),
    ],
)
def test_what_is_spoilt_is_found_said_and_told_to_the_office(a_bench: Benches, spoil: str, key: str, says: str) -> None:
    bench = a_bench()
    bench.enrolled()

    page = bench.looks(before=spoil)

    assert failed(page) == {key}
    assert says in words(page, key)
    assert bench.kept[key] is False


def test_a_clock_within_two_minutes_will_do(a_bench: Benches) -> None:
    bench = a_bench()
    bench.enrolled()

    page = bench.looks(before=NEARLY)

    assert failed(page) == set()
    assert int("".join(one for one in words(page, "clock") if one.isdigit())) in range(97, 104)


def test_storage_that_is_not_kept_is_said(a_bench: Benches) -> None:
    bench = a_bench(allowed=())
    bench.enrolled()

    page = bench.looks()

    assert failed(page) == {"storage"}
    assert "home screen" in words(page, "storage")


@pytest.mark.parametrize(
    ("known", "says"),
    [
        ("null", "This tablet is not enrolled"),
        ('{id: "tablet-1", secret: "guessed"}', "does not know this tablet any more"),
        ('await Promise.reject(new Error("no pocket"))', "could not be opened"),
    ],
)
def test_a_tablet_the_office_does_not_know_is_told_so_and_nothing_is_kept(
    a_bench: Benches, known: str, says: str
) -> None:
    bench = a_bench(known=known)
    bench.enrolled()

    page = bench.looks()

    assert failed(page) == {"credential"}
    assert says in words(page, "credential")
    assert "The office has not kept this." in page.locator("#readiness-result").inner_text()
    assert bench.kept == {}


def test_a_page_over_plain_http_is_no_secure_context(a_bench: Benches, browser: Browser) -> None:
    """By a name that is not this machine's own, as a tablet opens it."""
    bench = a_bench()
    port = bench.address.rpartition(":")[2]
    rules = "--host-resolver-rules=MAP office.larkfield.test 127.0.0.1"
    tablet = browser.browser_type.launch(executable_path=browser_path(), args=[*SWITCHES, rules])
    page = tablet.new_page()
    page.goto(f"http://office.larkfield.test:{port}/readiness")
    page.wait_for_selector(READY)

    assert failed(page) >= {"secure", "worker", "bundle", "storage"}
    assert "plain HTTP" in words(page, "secure")
    assert "none" in words(page, "worker")
    tablet.close()


def test_an_office_that_does_not_answer_leaves_its_points_open(a_bench: Benches) -> None:
    bench = a_bench()
    bench.enrolled()
    page = bench.looks()
    for pattern in ("**/bundle/manifest.json", "**/sync/readiness"):
        page.route(pattern, lambda route: route.abort())

    page.click("#look-again")
    page.wait_for_selector(f'{READY} [data-point="credential"][data-state="no"]')

    assert failed(page) == {"worker", "bundle", "clock", "credential"}
    for key in failed(page):
        assert "did not answer" in words(page, key)


def test_without_scripts_the_page_says_so(a_bench: Benches, browser: Browser) -> None:
    bench = a_bench()
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{bench.address}/readiness")

    assert "This page needs scripts" in page.locator("main").inner_text()
    context.close()


@pytest.mark.parametrize(("width", "height"), [(1180, 820), (820, 1180), (390, 844), (320, 640)])
def test_it_fits(a_bench: Benches, width: int, height: int) -> None:
    page = a_bench().looks()
    page.set_viewport_size({"width": width, "height": height})

    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert page.locator("#look-again").bounding_box()["height"] >= 64  # type: ignore[index]
    if os.environ.get("COTTERPIN_TEST_SHOTS"):
        page.screenshot(path=f"{os.environ['COTTERPIN_TEST_SHOTS']}/readiness-{width}.png", full_page=True)
