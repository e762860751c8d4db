"""Open pages follow what others do: nobody presses reload on the Floor."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from fastapi import FastAPI
from playwright.sync_api import Browser, Page, expect

from app.domain.records import Person
from tests.furnished import ADA, FAY, PIN, TestOffice

pytestmark = pytest.mark.browser


def signed_in(browser: Browser, address: str, person: Person) -> Page:
    page = browser.new_context(viewport={"width": 1180, "height": 820}).new_page()
    page.goto(f"{address}/sign-in")
    page.check(f'input[value="{person.id}"]')
    page.fill("#pin", PIN)
    page.click("main button")
    page.wait_for_url(lambda url: not url.endswith("/sign-in"))
    return page


def test_the_floor_shows_what_is_done_in_another_browser(browser: Browser, serve: Callable[[FastAPI], str]) -> None:
    made = TestOffice().furnish()
    job = made.open()
    made.place(job)
    address = serve(made.app())
    floor = signed_in(browser, address, FAY)
    floor.wait_for_function("document.querySelector('[data-live]')?.dataset.started")
    floor.evaluate("window.stayed = true")
    tag = floor.get_by_text("Frame is rusted through at the jack pad")
    expect(tag).to_have_count(0)

    sheet = signed_in(browser, address, ADA)
    sheet.goto(f"{address}/jobs/{job.number}/sheet")
    sheet.locator("summary", has_text="Hold tag on the whole sheet").click()
    form = sheet.locator("form", has=sheet.locator('[name="kind"][value="hold_placed"]')).last
    form.locator("textarea").fill("Frame is rusted through at the jack pad")
    form.get_by_role("button").last.click()

    expect(tag.first).to_be_visible()
    assert floor.evaluate("window.stayed"), "the page was loaded anew"
    floor.context.close()
    sheet.context.close()
