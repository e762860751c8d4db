"""Search, reminders, a comeback at the intake and a vehicle's history, by keyboard alone, and measured."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.conftest import served
from tests.browser.test_accessibility import AXE, RULES, RUN_AXE, SIDEWAYS, TABLET
from tests.builders import ADA, DEE, Someone
from tests.offices import PIN, Workshop, an_app
from tests.unit.test_reminders import with_a_part_to_watch

pytestmark = pytest.mark.browser
PAGES = ("/desk/search?q=clunk", "/desk/search?q=***", "/desk/reminders", "/desk/intake?vehicle=v-1",
         "/desk/vehicles/v-1/history?find=play", "/jobs/1001/history", "/desk/workshop")  # fmt: skip


@pytest.fixture
def here() -> Workshop:
    """A job with a part to watch, handed back half a year and a day ago; the shop asks about a year."""
    made = with_a_part_to_watch()
    shop = made.all("shops")[0]
    made.save("shops", replace(shop, comeback_days=365))
    made.clock.forward(days=184)
    return made


@pytest.fixture
def address(here: Workshop) -> Iterator[str]:
    with served(an_app(here)) as base:
        yield base


def signed_in(browser: Browser, address: str, who: Someone, **context: object) -> Page:
    page = browser.new_context(**{"viewport": TABLET, **context}).new_page()  # type: ignore[arg-type]
    page.goto(f"{address}/sign-in")
    page.check(f'input[value="{who.id}"]')
    page.fill("#pin", PIN)
    page.click("main button")
    page.wait_for_url(re.compile(r"/(work|desk|floor)"))
    return page


def to(page: Page, wanted: str) -> None:
    """Go on by the Tab key until the focus is on what is wanted."""
    for _ in range(80):
        if page.evaluate("wanted => document.activeElement.matches(wanted)", wanted):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"the Tab key never came to {wanted}")


def test_a_comeback_is_taken_in_found_and_shown_by_keyboard(browser: Browser, here: Workshop, address: str) -> None:
    page = signed_in(browser, address, DEE)
    page.goto(f"{address}/desk/intake?vehicle=v-1")
    assert "Left from earlier jobs" in page.inner_text("main")
    page.keyboard.type("Clunks again")
    to(page, 'input[name="comeback"]')
    page.keyboard.press("Space")
    assert page.is_checked('input[name="comeback"] >> nth=0')
    to(page, 'input[name="front.ball_joint.lower.sides"][value="left"]')
    page.keyboard.press("Space")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("opened="))

    page.goto(f"{address}/desk/search")
    assert page.evaluate("document.activeElement.id") == "q"
    page.keyboard.type("clunks again cp1001")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=Found: 1 job")
    to(page, ".found a")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/jobs/26-0001$"))
    assert "A comeback: the same complaint as before" in page.inner_text("main")

    sheet = signed_in(browser, address, ADA)
    sheet.goto(f"{address}/jobs/26-0001/sheet")
    assert "Comeback of job 1001" in sheet.inner_text(".title-block")
    to(sheet, 'a[href="/jobs/26-0001/history"]')
    sheet.keyboard.press("Enter")
    sheet.wait_for_selector("text=a little play")
    page.context.close()
    sheet.context.close()


def test_a_reminder_is_marked_done_by_keyboard(browser: Browser, here: Workshop, address: str) -> None:
    page = signed_in(browser, address, DEE)
    page.click("text=1 reminder is due")
    to(page, 'input[name="words"]')
    page.keyboard.type("Was here, no more play")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=Marked done, with your name.")
    assert "Nothing is due." in page.inner_text("main")
    assert here.all("reminders")[0].done_by == DEE.id
    page.context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_pages_break_no_rule_and_fit_narrow_screens(browser: Browser, address: str, scheme: str) -> None:
    found: list[str] = []
    page = signed_in(browser, address, DEE, color_scheme=scheme, bypass_csp=True)
    for path in PAGES:
        page.goto(address + path)
        page.add_script_tag(path=AXE)
        found += [f"{path}: {one}" for one in page.evaluate(RUN_AXE, RULES)]
        page.set_viewport_size({"width": 320, "height": 600})
        found += [f"{path} at 320 px: {one}" for one in page.evaluate(SIDEWAYS)]
        page.set_viewport_size(TABLET)  # type: ignore[arg-type]
    page.context.close()
    assert not found, "\n".join(found)
