"""Every page, by day and by night, checked against WCAG 2.2 A and AA, and for anything that scrolls sideways.

The checker finds what a machine can find (contrast, names, roles, order of headings); reading order and wording are for
people. Source of the rules: W3C, WCAG 2.2, 2023-10-05; target sizes and AAA contrast are measured in their own tests.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.conftest import served
from tests.lived_in import PINS, LivedIn, lived_in

pytestmark = pytest.mark.browser
VENDOR = Path(__file__).parent / "vendor"
AXE = VENDOR / "axe-4.14.1.min.js"
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
TABLET = {"width": 1180, "height": 820}
RUN_AXE = """async (tags) => {
    const found = await axe.run(document, {runOnly: tags, resultTypes: ['violations']});
    return found.violations.map(one => `${one.id}: ${one.help}: ` +
        one.nodes.slice(0, 3).map(node => node.html.slice(0, 160) + ' | ' + (node.failureSummary || '').slice(0, 300))
            .join(' // '));
}"""
# What leaves the page at the right, by its own edge: for a message that says what to mend.
SIDEWAYS = """() => document.documentElement.scrollWidth <= innerWidth ? [] : [...document.querySelectorAll('main *')]
    .filter(one => one.getBoundingClientRect().right > innerWidth + 1)
    .slice(0, 3).map(one => one.outerHTML.slice(0, 160))"""


@pytest.fixture(scope="module")
def here() -> LivedIn:
    return lived_in()


@pytest.fixture(scope="module")
def address(here: LivedIn) -> Iterator[str]:
    with served(here.app()) as base:
        yield base


def test_the_checker_is_the_one_it_says_it_is() -> None:
    digest = hashlib.sha256(AXE.read_bytes()).hexdigest()
    assert digest in (VENDOR / "VENDORED.md").read_text("utf-8")


def test_the_checker_finds_what_is_wrong(browser: Browser) -> None:
    """A checker that finds nothing would pass everything below."""
    page = browser.new_page()
    page.set_content("<html><body><img src='x'><input><p style='color:#999;background:#fff'>pale</p></body></html>")
    page.add_script_tag(path=AXE)
    found = " ".join(page.evaluate(RUN_AXE, RULES))
    page.close()
    assert all(rule in found for rule in ("image-alt", "label", "color-contrast"))


@pytest.fixture(scope="module")
def in_spanish() -> Iterator[tuple[LivedIn, str]]:
    there = spanish()
    with served(there.app()) as base:
        yield there, base


def spanish() -> LivedIn:
    """The same workshop, in which everybody reads Spanish: its words are longer."""
    there = lived_in()
    with there.store.writing() as unit:
        for person in unit.people.all():
            unit.people.save(replace(person, language="es"))
        unit.commit()
    return there


def test_no_page_breaks_a_rule_in_spanish(browser: Browser, in_spanish: tuple[LivedIn, str]) -> None:
    found: list[str] = []
    for page, path in every_page(browser, *in_spanish, bypass_csp=True):
        page.add_script_tag(path=AXE)
        rules = RULES[:-1] if path.endswith("/html") else RULES
        found += [f"{path}: {one}" for one in page.evaluate(RUN_AXE, rules)]
    assert not found, "\n".join(found)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_page_breaks_a_rule(browser: Browser, here: LivedIn, address: str, scheme: Any) -> None:
    found: list[str] = []
    for page, path in every_page(browser, here, address, color_scheme=scheme, bypass_csp=True):
        page.add_script_tag(path=AXE)
        # A customer's letter is shown in a frame and is no page of ours: it has no landmarks to keep.
        rules = RULES[:-1] if path.endswith("/html") else RULES
        found += [f"{path}: {one}" for one in page.evaluate(RUN_AXE, rules)]
    assert not found, "\n".join(found)


@pytest.mark.parametrize("width", [320, 590])
def test_no_page_scrolls_sideways(browser: Browser, here: LivedIn, address: str, width: int) -> None:
    """320 px: WCAG 2.2, 1.4.10. 590 px: the tablet's 1180 at 200 % zoom."""
    found: list[str] = []
    for page, path in every_page(browser, here, address, viewport={"width": width, "height": 600}):
        found += [f"{path}: {one}" for one in page.evaluate(SIDEWAYS)]
    assert not found, "\n".join(found)


def every_page(browser: Browser, here: LivedIn, address: str, **context: Any) -> Iterator[tuple[Page, str]]:
    """Open every page as the person it is for. A page that does not come is a failure of its own."""
    opened: dict[str, Page] = {}
    for who, path in here.pages():
        page = opened.get(who) or signed_in(browser, address, who, **context)
        opened[who] = page
        answer = page.goto(address + path)
        assert answer is not None
        assert answer.status == (404 if path == "/nothing-here" else 200), (answer.status, path)
        yield page, path
    for page in opened.values():
        page.context.close()


def signed_in(browser: Browser, address: str, who: str, **context: Any) -> Page:
    page = browser.new_context(**{"viewport": TABLET, **context}).new_page()
    if who:
        page.goto(f"{address}/sign-in")
        page.check(f'input[value="{who}"]')
        page.fill("#pin", PINS[who])
        page.click("main button")
        page.wait_for_url(re.compile(r"/(work|desk|floor)"))
    return page
