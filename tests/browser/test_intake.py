"""The intake of a known vehicle, by hand and by keyboard alone, in a real browser against a served workshop."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from fastapi import FastAPI
from playwright.sync_api import Browser, Page

from tests.builders import DEE
from tests.offices import PIN, Workshop, an_app, an_office

pytestmark = pytest.mark.browser


@pytest.fixture
def here() -> Workshop:
    return an_office()


@pytest.fixture
def address(here: Workshop, serve: Callable[[FastAPI], str]) -> str:
    return serve(an_app(here))


@pytest.fixture
def desk(browser: Browser, address: str) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1180, "height": 820})
    page = context.new_page()
    page.goto(f"{address}/sign-in")
    page.get_by_label(DEE.name).check()
    page.fill("#pin", PIN)
    page.keyboard.press("Enter")
    page.wait_for_url("**/desk")
    yield page
    context.close()


class Hand:
    """Counts what a hand does."""

    def __init__(self) -> None:
        self.done = 0

    def __call__(self, _: object) -> None:
        self.done += 1


def test_a_known_vehicle_is_taken_in_with_no_more_than_twelve_acts(here: Workshop, desk: Page) -> None:
    """A line is typed or a thing is pressed: each is one act. Twelve are what two minutes allow a busy desk."""
    act = Hand()

    act(desk.fill("#q", "cp1001"))
    act(desk.keyboard.press("Enter"))
    desk.wait_for_url("**/desk/intake**")
    act(desk.fill("#complaint", "Clunks over speed humps"))
    act(desk.fill("#odometer_km", "84 210"))
    act(desk.fill("#promised_at", "2026-06-09T16:00"))
    act(desk.locator("[name='front.ball_joint.lower.sides'][value=both]").check())
    act(desk.get_by_role("button", name="Open the job").click())
    desk.wait_for_url("**/desk?opened=**")

    (job,) = here.all("jobs")
    assert desk.get_by_text(f"Job {job.number} is open.").is_visible()
    assert [line.corner for line in job.lines] == ["left", "right"]
    assert act.done <= 12


def test_the_intake_works_with_the_keyboard_alone(here: Workshop, desk: Page) -> None:
    keys = desk.keyboard
    assert _focus(desk) == "q"

    keys.type("CP 1001")
    keys.press("Enter")
    desk.wait_for_url("**/desk/intake**")
    desk.wait_for_load_state()
    assert _focus(desk) == "complaint"
    keys.type("Clunks")
    _tab_to(desk, "front.inspection.sides")
    keys.press("Space")
    _tab_to(desk, "Open the job")
    keys.press("Enter")
    desk.wait_for_url("**/desk?opened=**")

    assert [line.procedure for job in here.all("jobs") for line in job.lines] == ["inspection"]


def test_questions_come_up_when_work_is_ticked_and_refusals_take_the_focus(here: Workshop, desk: Page) -> None:
    desk.goto(desk.url + "/intake?q=CP1001")
    question = desk.locator("[id='front.shock_absorber.unit']")
    assert not question.is_visible()

    desk.locator("[name='front.shock_absorber.sides'][value=left]").check()
    assert question.is_visible()
    desk.get_by_role("button", name="Open the job").click()
    desk.get_by_role("alert").wait_for()

    # The page stands before its script has given the problems the focus.
    desk.wait_for_function("document.activeElement?.getAttribute('role') === 'alert'")
    desk.get_by_role("alert").get_by_role("link", name="Which new unit?").click()
    assert question.is_visible()
    assert desk.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert not here.all("jobs")


def test_a_layout_brings_its_questions_at_once_and_keeps_the_focus(desk: Page) -> None:
    desk.goto(desk.url + "/vehicles/new")
    layout = desk.locator("[id='front.layout']")
    layout.focus()

    layout.select_option("solid_leaf")
    desk.locator("[id='front.axle_joints']").wait_for()

    assert _focus(desk) == "front.layout"


def _focus(page: Page) -> str:
    found: str = page.evaluate("document.activeElement.name || document.activeElement.textContent.trim()")
    return found


def _tab_to(page: Page, name: str) -> None:
    for _ in range(80):
        page.keyboard.press("Tab")
        if _focus(page) == name:
            return
    raise AssertionError(f"the keyboard does not reach {name}")
