"""An estimate priced and agreed in a real browser: by keyboard alone, by a drawn name, and on narrow screens."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from fastapi import FastAPI
from playwright.sync_api import Browser, Page, expect

from app.domain.records import Job
from tests.builders import DEE
from tests.estimates import FREE, JOINT, a_job, a_pricing_office, offers, says, states
from tests.offices import PIN, Workshop, an_app

pytestmark = pytest.mark.browser


@pytest.fixture
def here() -> Workshop:
    return a_pricing_office()


@pytest.fixture
def job(here: Workshop) -> Job:
    return a_job(here)


@pytest.fixture
def desk(browser: Browser, here: Workshop, job: Job, serve: Callable[[FastAPI], str]) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1180, "height": 820}, base_url=serve(an_app(here)))
    page = context.new_page()
    page.goto("/sign-in")
    page.get_by_label(DEE.name).check()
    page.fill("#pin", PIN)
    page.keyboard.press("Enter")
    page.wait_for_url("**/desk")
    yield page
    context.close()


def tab_to(page: Page, selector: str) -> None:
    """Press Tab until this has the focus, as somebody without a pointer does."""
    for _ in range(150):
        if page.evaluate("wanted => document.activeElement.matches(wanted)", selector):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab never comes to {selector}")


def test_an_estimate_is_priced_and_agreed_by_keyboard_alone(here: Workshop, job: Job, desk: Page) -> None:
    desk.goto(f"/jobs/{job.number}/estimate/prices")
    for field, typed in (("l1.labour.0.hours", "1,5"), ("l1.part.0.name", "Ball joint"), ("l1.part.0.price", "64.90")):
        tab_to(desk, f'[name="{field}"]')
        desk.keyboard.type(typed)
    tab_to(desk, '[name="l2.free"]')
    desk.keyboard.press("Space")
    tab_to(desk, "button[type=submit].button--sign")
    desk.keyboard.press("Enter")
    desk.wait_for_url("**/estimate?done=made")
    expect(desk.locator(".estimate")).to_contain_text("249.61 USD")

    desk.goto(f"/jobs/{job.number}/estimate/answer")
    for line in ("l1", "l2"):
        tab_to(desk, f'[name="{line}.said"]')
        desk.keyboard.press("ArrowDown")  # from "Not answered" round to "Yes"
        assert desk.locator(f'[name="{line}.said"]:checked').get_attribute("value") == "yes"
    tab_to(desk, '[name="way"]')
    desk.keyboard.press("ArrowDown")
    assert desk.locator('[name="way"]:checked').get_attribute("value") == "typed"
    tab_to(desk, '[name="tick"]')
    desk.keyboard.press("Space")
    tab_to(desk, "button[type=submit].button--sign")
    desk.keyboard.press("Enter")
    desk.wait_for_url("**/estimate?done=answered")

    assert states(here, job) == {"l1": ("agreed", 1), "l2": ("agreed", 1)}


def test_a_name_is_drawn_cleared_and_drawn_again(here: Workshop, job: Job, desk: Page) -> None:
    offers(here, job)
    desk.goto(f"/jobs/{job.number}/estimate/answer")
    desk.locator('[name="l1.said"][value=yes]').check()
    desk.locator("[name=way][value=signed]").check()
    board = desk.locator("svg.handwriting")
    board.scroll_into_view_if_needed()

    def draws() -> str:
        box = board.bounding_box()
        assert box is not None
        desk.mouse.move(box["x"] + 40, box["y"] + 40)
        desk.mouse.down()
        desk.mouse.move(box["x"] + 200, box["y"] + 90, steps=5)
        desk.mouse.move(box["x"] + 260, box["y"] + 30, steps=5)
        desk.mouse.up()
        return desk.locator("#signature").input_value()

    assert draws().startswith("M")
    desk.get_by_role("button", name="Clear").click()
    assert desk.locator("#signature").input_value() == ""
    drawn = draws()
    desk.get_by_role("button", name="Record the answer").click()
    desk.wait_for_url("**/estimate?done=answered")

    assert [one.signature for one in here.all("answers")] == [drawn]
    assert desk.locator(".handwriting--kept path").get_attribute("d") == drawn


def test_only_the_fields_of_the_way_chosen_are_shown(here: Workshop, job: Job, desk: Page) -> None:
    offers(here, job)
    desk.goto(f"/jobs/{job.number}/estimate/answer")

    desk.locator("[name=way][value=phone]").check()
    expect(desk.locator("#read_out")).to_be_visible()
    expect(desk.locator("svg.handwriting")).to_be_hidden()
    desk.locator("[name=way][value=typed]").check()
    expect(desk.locator("#read_out")).to_be_hidden()
    expect(desk.locator("[name=tick]")).to_be_visible()


@pytest.mark.parametrize("part", ["", "/prices", "/answer"])
@pytest.mark.parametrize("width", [320, 390, 820])
def test_nothing_is_wider_than_the_screen(here: Workshop, job: Job, desk: Page, part: str, width: int) -> None:
    offers(here, job)
    says(here, job, {"l1": "yes", "l2": "no"})
    offers(here, job, {**JOINT, **FREE, "l1.part.0.price": "164.90"})
    desk.set_viewport_size({"width": width, "height": 844})
    desk.goto(f"/jobs/{job.number}/estimate{part}")

    assert desk.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("width", [320, 1180])
def test_the_table_of_taxes_fits(desk: Page, width: int) -> None:
    desk.set_viewport_size({"width": width, "height": 844})
    desk.goto("/desk/prices")

    assert desk.evaluate("document.documentElement.scrollWidth") <= width


def test_on_paper_only_the_estimate_is_left(here: Workshop, job: Job, desk: Page) -> None:
    offers(here, job)
    desk.goto(f"/jobs/{job.number}/estimate")
    desk.emulate_media(media="print")

    expect(desk.locator(".estimate")).to_be_visible()
    for gone in (".top-bar", ".no-print >> nth=0", ".button >> nth=0"):
        expect(desk.locator(gone)).to_be_hidden()
