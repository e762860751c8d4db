"""A device becomes a tablet in a real browser: by the code a foreman has shown, kept in its own pocket, once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from fastapi import FastAPI
from playwright.sync_api import Browser, expect

from tests.offices import Workshop, a_small_job, an_office
from tests.tablets import a_code, the_whole_app

KEPT = """async () => {
  const { openPocket } = await import("/static/tablet/pocket.js");
  return { tablet: await (await openPocket(indexedDB)).tablet(), hint: localStorage.getItem("cotterpin-tablet") };
}"""


@pytest.fixture
def here() -> Workshop:
    here = an_office()
    a_small_job(here)
    return here


@pytest.fixture
def address(here: Workshop, serve: Callable[[FastAPI], str]) -> str:
    """By a name: browsers take `localhost` for trusted without a certificate."""
    return serve(the_whole_app(here)).replace("127.0.0.1", "localhost")


def test_a_device_is_enrolled_keeps_its_credential_and_goes_on_to_prove_itself(
    here: Workshop, address: str, browser: Browser
) -> None:
    page = browser.new_context().new_page()
    page.goto(f"{address}/enrol/{a_code(here)}")

    page.get_by_label("Name of this tablet").fill("Bay 2 bench")
    page.get_by_role("button", name="Enrol").click()
    page.wait_for_url("**/readiness")

    [tablet] = here.all("tablets")
    kept: Any = page.evaluate(KEPT)
    assert tablet.name == "Bay 2 bench"
    assert (kept["tablet"]["id"], kept["hint"]) == (tablet.id, tablet.id)
    answer: int = page.evaluate(
        """async ({ id, secret }) => (await fetch("/sync/contact", {
          method: "POST", headers: { Authorization: `Tablet ${id}.${secret}` },
          body: JSON.stringify({ tablet: id, said_seq: 0, now_ms: Date.now() }),
        })).status""",
        kept["tablet"],
    )
    assert answer == 200
    page.context.close()


def test_enrolled_again_it_stays_the_same_tablet(here: Workshop, address: str, browser: Browser) -> None:
    page = browser.new_context().new_page()
    for name in ("Bench", "Pit"):
        page.goto(f"{address}/enrol/{a_code(here)}")
        page.get_by_label("Name of this tablet").fill(name)
        page.get_by_role("button", name="Enrol").click()
        page.wait_for_url("**/readiness")

    assert [one.name for one in here.all("tablets")] == ["Pit"]
    page.context.close()


def test_a_wrong_code_is_said_and_what_was_typed_stays(here: Workshop, address: str, browser: Browser) -> None:
    page = browser.new_context().new_page()
    page.goto(f"{address}/enrol")
    page.get_by_label("Code").fill("AAAAA-AAAAA")
    page.get_by_label("Name of this tablet").fill("Bench")

    page.get_by_role("button", name="Enrol").click()

    expect(page.locator("#enrol-says")).to_contain_text("This code cannot be used")
    expect(page.get_by_label("Name of this tablet")).to_have_value("Bench")
    assert page.evaluate(KEPT) == {"tablet": None, "hint": None}
    page.context.close()


def test_at_a_bare_address_nothing_is_offered(here: Workshop, address: str, browser: Browser) -> None:
    page = browser.new_context().new_page()
    page.goto(f"{address.replace('localhost', '127.0.0.1')}/enrol/{a_code(here)}")

    expect(page.locator("#enrol-says")).to_contain_text("opened at a bare number")
    expect(page.get_by_role("button", name="Enrol")).to_have_count(0)
    page.context.close()
