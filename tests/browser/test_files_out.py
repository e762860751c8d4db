"""What leaves the office as a file, taken as a person takes it: everything as a ZIP, and a letter's PDF."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Browser
from pypdf import PdfReader

from app.bootstrap import app_of, enclosed, wire
from app.settings import Settings
from app.storage.chest import MemoryChest
from app.storage.migrate import newest
from app.use_cases.take_everything_out import take_out
from tests.browser.conftest import served
from tests.browser.test_history_in_browser import signed_in
from tests.builders import FAY
from tests.offices import PIN, Workshop
from tests.unit.test_reminders import with_a_part_to_watch

pytestmark = pytest.mark.browser


@pytest.fixture
def here() -> Workshop:
    """A job with one test, handed back: there is a letter, and something in every main table."""
    return with_a_part_to_watch()


@pytest.fixture
def address(here: Workshop, tmp_path: Path) -> Iterator[str]:
    """The whole application: what takes everything out is wired beside the pages."""
    settings = Settings(_env_file=None, photos_folder=tmp_path / "photos")  # type: ignore[call-arg]
    with served(app_of(replace(wire(settings, here.store), office=here.office))) as base:
        yield base


def test_everything_is_saved_by_the_browser_and_is_what_the_command_takes_out(
    browser: Browser, here: Workshop, address: str, tmp_path: Path
) -> None:
    page = signed_in(browser, address, FAY, accept_downloads=True)
    page.goto(f"{address}/desk/workshop")
    page.click('a[href="/desk/workshop/take-out"]')
    page.fill('input[name="pin"]', "0000")
    page.click("main .button--sign")
    page.wait_for_selector("text=That PIN does not fit")
    page.fill('input[name="pin"]', PIN)
    with page.expect_download() as coming:
        page.click("main .button--sign")
    saved = tmp_path / coming.value.suggested_filename
    coming.value.save_as(saved)
    page.context.close()

    name = f"cotterpin-{here.office.clock():%Y-%m-%d}"
    assert saved.name == f"{name}.zip"
    chest = MemoryChest()
    take_out(here.office, chest, newest(), enclosed())
    with zipfile.ZipFile(saved) as opened:
        assert opened.testzip() is None
        held = {one.removeprefix(f"{name}/"): opened.read(one) for one in opened.namelist() if not one.endswith("/")}
    assert held.keys() == chest.files.keys()
    assert [path for path in held if held[path] != chest.files[path]] == []
    assert any(path.endswith(".csv") for path in held)


def test_the_pdf_is_opened_from_the_job_s_page(browser: Browser, here: Workshop, address: str, tmp_path: Path) -> None:
    page = signed_in(browser, address, FAY, accept_downloads=True)
    page.goto(f"{address}/jobs/1001")
    page.click('main a[href="/jobs/1001/letters"]')
    page.wait_for_url(re.compile("/jobs/1001/letters$"))
    with page.context.expect_event("response", lambda one: one.url.endswith("/letters/1/pdf")) as coming:
        page.click("main a:has-text('Open the PDF')")
    assert coming.value.headers["content-type"] == "application/pdf"
    page.wait_for_url(re.compile("/letters/1/pdf$"))
    page.wait_for_function("document.contentType === 'application/pdf'")
    # What the browser's own viewer shows cannot be read from outside: fetched once more with the same sign-in.
    data = page.context.request.get(page.url).body()
    page.context.close()

    words = " ".join(" ".join(one.extract_text() for one in PdfReader(io.BytesIO(data), strict=True).pages).split())
    for said in ("CP 1001", "What we found", "a little play", "81000 km", "Released for handback: Fay"):
        assert said in words
