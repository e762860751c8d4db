"""The main screens and every part as they were approved; and that the comparison sees what moved and nothing else.

A single digit that changed is below what a build's way of drawing letters may change: other tests read texts.
A picture that differs is written to `tests/browser/differences`. If it is as it should be: `python
tests/browser/approve.py`, with words from the names for some of them alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser

from tests.browser import pictures
from tests.browser.conftest import SWITCHES, browser_path
from tests.browser.pictures import PART_SIZES, SCHEMES, SCREENS, SIZES, clipped, difference

pytestmark = pytest.mark.browser
HOW = "If this is as it should be: python tests/browser/approve.py"
LIMIT = 8_000_000
CARD = """<!doctype html><style>
body{{margin:20px;background:#fbfaf6;font:18px/1.45 sans-serif;color:#1b1d20;width:500px}}
button{{font:inherit;font-weight:700;min-height:64px;padding:8px 24px;border:2px solid;background:#fff}}
hr{{border:0;border-top:1px solid #6d6a62}} {extra}</style>
<h1>Ball joint, front left</h1><p>Tighten with the weight on the wheels, then read it again: {torque} N·m.</p><hr>
<p><button>Record the values</button> <button id=b>This step is done</button></p>"""


@pytest.fixture(scope="module")
def base() -> Iterator[str]:
    with pictures.the_workshop() as address:
        yield address


def test_the_main_screens_are_as_approved(browser: Browser, base: str):
    found = [said for one in pictures.screens(browser, base) if (said := pictures.compared(one))]
    assert not found, "\n".join([*found, HOW])


def test_every_part_is_as_approved(browser: Browser, base: str):
    found = [said for one in pictures.parts(browser, base) if (said := pictures.compared(one))]
    assert not found, "\n".join([*found, HOW])


def test_every_screen_is_kept_at_every_size_and_all_are_small():
    names = {f"{screen}-{size}-{scheme}" for screen in SCREENS for size in SIZES for scheme in SCHEMES}
    there = {path.stem for path in pictures.APPROVED.glob("*.png")}
    parts = {re.sub("-[a-z]+-[a-z]+$", "", name) for name in there if name.startswith("part-")}
    names |= {f"{part}-{size}-{scheme}" for part in parts for size, scheme in PART_SIZES}

    assert parts
    assert names - there == set()
    assert sum(path.stat().st_size for path in pictures.APPROVED.glob("*.png")) < LIMIT


def drawn(browser: Browser, extra: str = "", torque: str = "110"):
    page = browser.new_page(viewport={"width": 560, "height": 320})
    page.set_content(CARD.format(extra=extra, torque=torque))
    image = clipped(page, 0, 0, 560, 320)
    page.close()
    return image


@pytest.mark.parametrize(
    "change",
    [
        {"extra": "#b{position:relative;top:4px}"},
        {"extra": "#b{position:relative;left:4px}"},
        {"extra": "#b{min-height:56px}"},
        {"extra": "#b{border-color:transparent}"},
        {"extra": "hr{display:none}"},
        {"extra": "p{color:#999}"},
        {"extra": "#b{background:#c2002f}"},
        {"extra": "h1{font-weight:400}"},
        {"torque": "110 to 125"},
    ],
    ids=str,
)
def test_a_planted_change_is_seen(browser: Browser, change: dict[str, str]):
    assert difference(drawn(browser), drawn(browser, **change)) is not None


@pytest.mark.parametrize(
    "extra",
    [
        "",
        "h1,p{text-rendering:geometricPrecision}",
        "*{-webkit-font-smoothing:antialiased} body{opacity:0.98}",
    ],
)
def test_edges_drawn_a_fraction_of_a_pixel_elsewhere_are_the_same(browser: Browser, extra: str):
    assert difference(drawn(browser), drawn(browser, extra)) is None


@pytest.mark.parametrize("hinting", ["full", "medium", "none"])
def test_a_browser_that_draws_letters_another_way_gives_the_same(browser: Browser, hinting: str):
    """The nearest thing at hand to another build: the same one told to hint letters otherwise."""
    shown = drawn(browser)
    driver = browser.browser_type
    other = driver.launch(executable_path=browser_path(), args=[*SWITCHES, f"--font-render-hinting={hinting}"])
    again = drawn(other)
    other.close()
    assert difference(shown, again) is None
