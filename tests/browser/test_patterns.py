"""The page of patterns: there when asked for, whole, by the rules, and with nothing on it that does anything."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser
from starlette.testclient import TestClient

from app.bootstrap import app_of
from app.settings import Settings
from app.web.patterns import GROUPS, still
from app.web.rendering import TEMPLATES
from demo.examples.parts import FRAME, examples, is_part, seen_in, state_of
from tests.browser.conftest import served
from tests.browser.test_accessibility import AXE, RULES, RUN_AXE, SIDEWAYS
from tests.lived_in import lived_in

pytestmark = pytest.mark.browser
ADDRESSES = ["/patterns", *(f"/patterns/{key or 'frame'}" for key in GROUPS)]


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    wired = replace(lived_in().wired, settings=Settings(_env_file=None, development=True))  # type: ignore[call-arg]
    with served(app_of(wired)) as base:
        yield base


def test_without_the_setting_it_is_not_there():
    client = TestClient(lived_in().app())
    assert [client.get(one).status_code for one in ADDRESSES] == [404] * len(ADDRESSES)


def test_every_partial_is_shown():
    """One that no state of the workshop shows is written down in `demo/examples/written.py`."""
    names = {str(path.relative_to(TEMPLATES)) for path in Path(TEMPLATES).rglob("_*") if path.suffix != ".css"}
    parts = {one for one in names if is_part(one)}

    assert parts - {one.template for one in examples()} == set()
    assert names - parts == FRAME
    assert {one.template.rpartition("/")[0] for one in examples()} <= set(GROUPS)


def test_states_are_told_apart_by_their_markup_alone():
    assert state_of("<p>one</p>") == state_of("<p id='x'>two</p>")
    assert state_of("<li>a</li><li>b</li><li>c</li>") == state_of("<li>a</li>")
    assert state_of("<p class='a'>one</p>") != state_of('<p class="b">one</p>')
    assert state_of("<input checked>") != state_of("<input>")
    assert state_of("@(tablet/_a.html)") != state_of("@(tablet/_b.html)")


def test_a_part_inside_a_part_is_found_whole_and_leaves_its_name():
    text = "\ue000_outer.html\ue001<p>\ue000_inner.html\ue001<b>in</b>\ue002</p>\ue002"
    found = [(one.template, one.html, own) for one, own in seen_in(text, "here")]

    assert found == [
        ("_inner.html", "<b>in</b>", "<b>in</b>"),
        ("_outer.html", "<p><b>in</b></p>", "<p>@(_inner.html)</p>"),
    ]


def test_a_fragment_sends_nothing_fetches_nothing_and_has_ids_of_its_own():
    html = (
        '<form method="post" action="/jobs/1/entries" hx-post="/jobs/1/entries"><label for="a">A</label>'
        '<input id="a" aria-describedby="a b" data-behaviour="live"><a href="/work">go</a></form>'
    )
    assert still(html, "x") == (
        '<form method="dialog"><label for="a--x">A</label>'
        '<input id="a--x" aria-describedby="a--x b"><a href="#x">go</a></form>'
    )
    assert still("<li>one</li>", "x") == "<ul><li>one</li></ul>"


@pytest.mark.parametrize("path", ADDRESSES)
def test_the_page_keeps_the_rules_and_its_width_and_asks_for_nothing(browser: Browser, address: str, path: str):
    page = browser.new_context(viewport={"width": 1180, "height": 820}, bypass_csp=True).new_page()
    asked: list[str] = []
    page.on("request", lambda one: asked.append(one.url))
    answer = page.goto(address + path)
    assert answer is not None
    assert answer.status == 200
    page.add_script_tag(path=AXE)
    # Parts out of their page have no landmarks to keep; the pages are checked for theirs.
    found: list[Any] = page.evaluate(RUN_AXE, RULES[:-1])
    page.set_viewport_size({"width": 320, "height": 700})
    found += page.evaluate(SIDEWAYS)
    page.context.close()

    assert not found, "\n".join(found)
    assert [one for one in asked if "/static/" not in one and one != address + path] == []
