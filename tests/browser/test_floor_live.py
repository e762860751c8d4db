"""The Floor in a real browser: it follows what others do, takes nothing from under a hand, and works without script."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from fastapi import FastAPI
from playwright.sync_api import Browser, Page, expect

from app.use_cases.place_job import PlacementWanted, place_job
from app.use_cases.settle import lift_hold
from tests.builders import ADA, FAY, Play, a_packet
from tests.offices import MONDAY, PIN, Workshop, a_small_job, an_app, an_office

pytestmark = pytest.mark.browser


@pytest.fixture
def here() -> Workshop:
    return an_office()


@pytest.fixture
def address(here: Workshop, serve: Callable[[FastAPI], str]) -> str:
    return serve(an_app(here))


def signed_in(browser: Browser, address: str, **context: Any) -> Page:
    page = browser.new_context(viewport={"width": 1180, "height": 820}, **context).new_page()
    page.goto(f"{address}/sign-in")
    page.get_by_label(FAY.name).check()
    page.fill("#pin", PIN)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/floor")
    return page


def test_an_open_floor_follows_and_keeps_the_focus_where_it_is(here: Workshop, browser: Browser, address: str) -> None:
    first, second = here.opens(), here.opens()
    page = signed_in(browser, address)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    # The page before the reload may have begun to listen only now; only this page's listening is counted.
    page.on("framenavigated", lambda _: asked.clear())
    # What it follows by is open once the page has asked for it.
    page.reload(wait_until="load")
    page.wait_for_function("performance.getEntriesByType('resource').some(one => one.name.includes('main.js'))")
    page.focus(f"#place-{second.number}")
    before = page.evaluate("scrollY")

    hours = timedelta(hours=1)
    place_job(here.office, FAY.id, PlacementWanted(first.id, "bay-1", ADA.id, MONDAY, MONDAY + 2 * hours))

    expect(page.locator(f"#place-{first.number}")).to_have_count(0, timeout=5_000)
    expect(page.locator(".board__block")).to_have_count(1)
    expect(page.locator(f"#place-{second.number}")).to_be_focused()
    assert page.evaluate("scrollY") == before
    assert sum("/events/" in url for url in asked) == 1


def test_a_half_typed_reason_stays_while_the_floor_changes(here: Workshop, browser: Browser, address: str) -> None:
    play = Play(a_packet())
    mine, other = play.hangs_tag("undo", ADA, "Boot split"), play.hangs_tag("", ADA, "Pad rusted")
    job = a_small_job(here, play)
    page = signed_in(browser, address)
    page.locator(f"#lift-{mine}").click()
    page.get_by_label("What has changed?").fill("The new boot")

    lift_hold(here.office, FAY.id, job.id, other, "Welded")
    page.wait_for_timeout(500)

    expect(page.get_by_label("What has changed?")).to_have_value("The new boot")
    expect(page.get_by_label("What has changed?")).to_be_focused()


def test_a_job_is_placed_with_the_keyboard_alone(here: Workshop, browser: Browser, address: str) -> None:
    job = here.opens()
    page = signed_in(browser, address)
    page.focus(f"#place-{job.number}")
    page.keyboard.press("Enter")
    page.wait_for_url("**/floor/placements?*")

    page.focus("input[name=bay]")
    page.keyboard.press("Space")
    page.focus("input[name=technician]")
    page.keyboard.press("Space")
    page.focus("button.button--sign")
    page.keyboard.press("Enter")

    page.wait_for_url("**/floor?placed=*")
    assert here.all("placements")[0].technician == ADA.id
    expect(page.get_by_role("status").filter(has_text="is placed")).to_be_visible()


def test_without_script_a_job_is_placed_and_refused_just_so(here: Workshop, browser: Browser, address: str) -> None:
    job = here.opens()
    page = signed_in(browser, address, java_script_enabled=False)
    page.locator(f"#place-{job.number}").click()
    page.get_by_label("Bay 1").check()
    page.get_by_role("button", name="Place it").click()
    expect(page.locator(".told")).to_contain_text("Choose a technician.")
    expect(page.get_by_label("Bay 1")).to_be_checked()

    page.get_by_label(ADA.name).check()
    page.get_by_role("button", name="Place it").click()

    page.wait_for_url("**/floor?placed=*")
    assert len(here.all("placements")) == 1


def test_a_job_is_dragged_to_a_bay_and_a_time_and_placed_only_after_a_look(
    here: Workshop, browser: Browser, address: str
) -> None:
    job = here.opens()
    page = signed_in(browser, address)
    page.set_viewport_size({"width": 1180, "height": 1600})
    strip = page.locator('[data-bay="bay-1"]').bounding_box()
    assert strip is not None
    minutes = int(page.locator(".board").get_attribute("data-minutes") or 0)
    begins = page.locator(".board").get_attribute("data-begins") or ""
    wanted = datetime.fromisoformat(begins) + timedelta(minutes=150)

    page.locator(f"#place-{job.number}").hover()
    page.mouse.down()
    page.mouse.move(strip["x"] + strip["width"] * 150 / minutes, strip["y"] + 60, steps=5)
    expect(page.locator(".board__drop")).to_have_text(f"{wanted:%H:%M}")
    page.mouse.up()

    page.wait_for_url("**/floor/placements?**")
    expect(page.locator("#begins_at")).to_have_value(f"{wanted:%Y-%m-%dT%H:%M}")
    expect(page.locator("input[name=bay][value=bay-1]")).to_be_checked()
    with here.office.store.reading() as unit:
        assert list(unit.placements.all()) == []


def test_a_drag_given_up_changes_nothing(here: Workshop, browser: Browser, address: str) -> None:
    job = here.opens()
    page = signed_in(browser, address)
    page.set_viewport_size({"width": 1180, "height": 1600})
    strip = page.locator('[data-bay="bay-1"]').bounding_box()
    assert strip is not None

    page.locator(f"#place-{job.number}").hover()
    page.mouse.down()
    page.mouse.move(strip["x"] + 200, strip["y"] + 60, steps=5)
    page.keyboard.press("Escape")
    page.mouse.up()

    expect(page.locator(".board__drop")).to_have_count(0)
    assert page.url.endswith("/floor")
