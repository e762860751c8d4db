"""Photos in a real browser: taken on a tablet without the office, scaled, cleaned, sent on return; and at the office.

The photo is a camera's own: lying on its side, with its place, maker and serial number beside the pixels.
"""

from __future__ import annotations

import io
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page, expect

from app.bootstrap import the_bundle
from app.domain.entry import Kind
from app.domain.photos import cleaned
from app.storage.photos import FolderPhotos
from tests.builders import ADA, JOB
from tests.offices import PIN, Workshop, a_small_job, an_office
from tests.pictures import SECRETS, a_picture, from_a_camera, sha256
from tests.tablets import a_tablet, the_whole_app

pytestmark = pytest.mark.browser
TABLET = {"width": 1180, "height": 820}
SHEET = "/jobs/1001/sheet?step=look"
SHOWN = ".photo__picture"
ENROL = """async ([tablet, hash]) => {
  const { openPocket } = await import(`/bundle/${hash}/tablet/start.js`);
  const pocket = await openPocket(indexedDB);
  await pocket.keepTablet(tablet);
  localStorage.setItem("cotterpin-tablet", tablet.id);
  await navigator.serviceWorker.register("/worker.js", { type: "module" });
  await navigator.serviceWorker.ready;
}"""
CONTACTED = """async (hash) => {
  const { openPocket } = await import(`/bundle/${hash}/tablet/start.js`);
  const pocket = await openPocket(indexedDB);
  for (;;) {
    if ((await pocket.jobs()).length && (await pocket.people()).length) return;
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
}"""
KEPT = """() => new Promise((resolve, reject) => {
  const request = indexedDB.open("cotterpin-photos");
  request.onerror = () => reject(request.error);
  request.onsuccess = () => {
    const asked = request.result.transaction("kept").objectStore("kept").getAll();
    asked.onsuccess = () => { request.result.close(); resolve(asked.result.map((one) => one.sha256)); };
  };
})"""


@dataclass
class Bench:
    here: Workshop
    address: str
    context: BrowserContext
    folder: Path

    def file(self, name: str, data: bytes) -> str:
        place = self.folder / name
        place.write_bytes(data)
        return str(place)

    def signs_in(self, page: Page) -> Page:
        page.goto(f"{self.address}/sign-in")
        page.check(f'input[value="{ADA.id}"]')
        page.fill("#pin", PIN)
        page.click("main button")
        page.wait_for_url("**/work")
        return page

    def enrols(self) -> Page:
        """A tablet as enrolling leaves it, with the job on it and Ada signed in."""
        tablet = a_tablet(self.here)
        page = self.context.new_page()
        page.goto(f"{self.address}/sign-in")
        page.evaluate(ENROL, [{"id": tablet.id, "name": "Bench", "secret": tablet.secret}, the_bundle().hash])
        page.goto(f"{self.address}/readiness")
        page.goto(f"{self.address}/desk")
        page.evaluate(CONTACTED, the_bundle().hash)
        self.signs_in(page)
        return page

    @property
    def named(self) -> list[str]:
        with self.here.store.reading() as unit:
            rows = unit.ledger.of_job(JOB)
        return [row.heard.entry.body["sha256"] for row in rows if row.heard.entry.kind == Kind.PHOTO_ADDED]

    def whole(self, sha: str) -> bytes | None:
        return self.here.office.photos.read(sha)


@pytest.fixture
def bench(browser: Browser, serve: Callable[[FastAPI], str], tmp_path: Path) -> Iterator[Bench]:
    here = an_office()
    object.__setattr__(here.office, "photos", FolderPhotos(tmp_path / "photos"))
    a_small_job(here)
    context = browser.new_context(viewport=TABLET)
    yield Bench(here, serve(the_whole_app(here)), context, tmp_path)
    context.close()


def takes(page: Page, file: str, words: str = "") -> None:
    """Add a photo at the step in hand."""
    form = page.locator("form:has(#step-photo-file)")
    if not form.is_visible():
        page.click("summary:text-is('Photo')")
    page.set_input_files("#step-photo-file", file)
    page.fill("#step-photo-name", words)
    form.locator("button").click()


def drawn(page: Page, at: int = 0) -> list[int]:
    """The size a photo on the page has come to be drawn from."""
    page.wait_for_function("(at) => document.querySelectorAll('.photo__picture')[at]?.naturalWidth", arg=at)
    found: list[int] = page.locator(SHOWN).nth(at).evaluate("(one) => [one.naturalWidth, one.naturalHeight]")
    return found


def wait_until(page: Page, true: Callable[[], Any], what: str, seconds: float = 20) -> None:
    for _ in range(int(seconds * 10)):
        if true():
            return
        page.wait_for_timeout(100)
    raise AssertionError(f"never: {what}")


def test_a_photo_taken_without_the_office_is_shown_here_and_sent_on_return(bench: Bench) -> None:
    page = bench.enrols()
    page.goto(bench.address + SHEET)
    camera = bench.file("camera.jpg", from_a_camera("JPEG", turned=6, wide=2_400, high=1_800))

    bench.context.set_offline(True)
    takes(page, camera, "Lower joint, <before>")

    picture = page.locator(SHOWN)
    expect(picture).to_have_attribute("alt", f"Photo by {ADA.name}, 11:00: Lower joint, <before>")
    assert drawn(page) == [1_200, 1_600]
    expect(page.locator(".photo .where")).to_contain_text("on this tablet")
    (sha,) = page.evaluate(KEPT)
    assert bench.named == []

    page.reload()
    assert drawn(page) == [1_200, 1_600]

    bench.context.set_offline(False)
    wait_until(page, lambda: bench.whole(sha), "the office has the photo")
    wait_until(page, lambda: page.evaluate(KEPT) == [], "the tablet has let go of it")
    assert bench.named == [sha]
    kept = bench.whole(sha) or b""
    assert sha256(kept) == sha
    assert [secret for secret in SECRETS if secret in kept] == []
    assert b"Exif" not in kept
    assert cleaned(kept) == kept
    with Image.open(io.BytesIO(kept)) as image:
        assert (image.format, image.size, dict(image.getexif())) == ("JPEG", (1_200, 1_600), {})

    page.goto(bench.address + SHEET)
    assert drawn(page) == [1_200, 1_600]
    expect(page.locator(".photo .where")).to_have_count(0)


def test_where_there_is_no_room_for_a_photo_it_is_said_and_a_sign_off_is_not_kept_back(bench: Bench) -> None:
    page = bench.enrols()
    # What a full tablet does to the photos' own database, and to no other.
    page.add_init_script(
        """const { put } = IDBObjectStore.prototype;
        IDBObjectStore.prototype.put = function (...given) {
          if (this.name === "bytes") { this.transaction.abort(); throw new DOMException("full", "QuotaExceededError"); }
          return put.apply(this, given);
        };"""
    )
    page.goto(bench.address + SHEET)

    takes(page, bench.file("a.jpg", a_picture("JPEG", 300, 200)), "Words that stay")

    expect(page.locator("#step-photo-file-trouble")).to_contain_text("no room for it")
    expect(page.locator("#step-photo-name")).to_have_value("Words that stay")
    expect(page.locator(SHOWN)).to_have_count(0)
    assert page.evaluate(KEPT) == []
    page.click("summary:text-is('Note')")
    page.fill("#step-note-text", "Noted all the same")
    page.locator("form:has(#step-note-text)").locator("button").click()
    expect(page.locator(".note")).to_contain_text("Noted all the same")
    assert bench.named == []


def test_what_is_no_picture_is_said_on_the_tablet(bench: Bench) -> None:
    page = bench.enrols()
    page.goto(bench.address + SHEET)

    takes(page, bench.file("page.jpg", b"<html><script>alert(1)</script></html>"), "Words")
    expect(page.locator("#step-photo-file-trouble")).to_contain_text("not a JPEG, PNG or WebP picture")
    expect(page.locator("#step-photo-file-trouble")).to_be_visible()
    page.locator("form:has(#step-photo-file)").locator("button").click()
    expect(page.locator("#step-photo-file-trouble")).to_contain_text("Take or choose a photo first")

    assert page.evaluate(KEPT) == []
    expect(page.locator("#step-photo-name")).to_have_value("Words")


def test_another_browser_says_not_here_yet_until_it_is(bench: Bench) -> None:
    """One tablet has noted and not sent; the office's own page says so, and shows the photo when it comes."""
    tablet = a_tablet(bench.here)
    data = a_picture("JPEG", 80, 60)
    body = {"sha256": sha256(data), "name": "The boot", "step": "look"}
    tablet.answers({**tablet.entry(), "kind": "photo_added", "body": body})
    page = bench.signs_in(bench.context.new_page())
    page.goto(bench.address + SHEET)
    expect(page.locator(".photo__wait")).to_contain_text("not here yet")

    tablet.posts(f"/sync/photos/{sha256(data)}?offset=0&size={len(data)}", data)

    assert drawn(page) == [80, 60]
    expect(page.locator(".photo__wait")).to_have_count(0)


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
def test_at_the_office_a_photo_is_added_with_and_without_script(bench: Bench, browser: Browser, script: bool) -> None:
    context = browser.new_context(viewport=TABLET, java_script_enabled=script)
    page = bench.signs_in(context.new_page())
    page.goto(bench.address + SHEET)

    takes(page, bench.file("camera.jpg", from_a_camera("JPEG", turned=6, wide=400, high=300)), "From the desk")

    expect(page.locator(SHOWN)).to_have_attribute("alt", f"Photo by {ADA.name}, 11:00: From the desk")
    (sha,) = bench.named
    kept = bench.whole(sha) or b""
    assert [secret for secret in SECRETS if secret in kept] == []
    if script:
        # Still the right way up, though the rest of Exif is gone.
        assert drawn(page) == [300, 400]
    photo = page.goto(f"{bench.address}/photos/{sha}")
    assert photo is not None
    assert photo.headers["content-security-policy"] == "default-src 'none'; sandbox"
    context.close()


LOADED = "[...document.images].every((one) => one.naturalWidth || one.loading === 'lazy')"


def until(holds: Callable[[], bool]) -> None:
    """Asked from outside: the page's own policy lets nothing ask again and again within it."""
    end = time.monotonic() + 20
    while not holds():
        assert time.monotonic() < end, "the pictures did not come"
        time.sleep(0.05)


@pytest.mark.parametrize("wide", [320, 820, 1180])
def test_the_page_keeps_its_width_with_photos_of_any_shape(bench: Bench, wide: int) -> None:
    tablet = a_tablet(bench.here)
    for seed, (across, high) in enumerate([(1_600, 100), (100, 1_600), (640, 480)]):
        data = a_picture("JPEG", across, high, seed)
        body = {"sha256": sha256(data), "name": "x" * 90, "step": "look"}
        tablet.answers({**tablet.entry(), "kind": "photo_added", "body": body})
        for at in range(0, len(data), 200_000):
            tablet.posts(f"/sync/photos/{sha256(data)}?offset={at}&size={len(data)}", data[at : at + 200_000])
    page = bench.signs_in(bench.context.new_page())
    page.set_viewport_size({"width": wide, "height": 820})
    for address in (SHEET, "/jobs/1001/sheet?step=undo"):
        page.goto(bench.address + address)
        until(lambda: page.evaluate(LOADED))
        across = page.evaluate("document.documentElement.scrollWidth")
        assert across <= wide
