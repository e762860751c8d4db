"""What stands on the sheet's page is exchanged piece by piece: afterwards it is what it would be, put in whole."""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser
from playwright.sync_api import Page as Tab

from app.web.rendering import STATIC

pytestmark = pytest.mark.browser
PATCH = (STATIC / "tablet" / "patch.js").read_text("utf-8").replace("export function", "window.patch = function")
# Puts `before` on the page as a sheet, `after` in its place; gives the page's markup and which old pieces are left.
RUN = """([before, after, work]) => {
  const main = document.body;
  main.innerHTML = before;
  const sheet = main.firstElementChild;
  const old = new Map([...sheet.querySelectorAll("[id]")].map((one) => [one.id, one]));
  const sent = work ? (0, eval)(work)(sheet) : null;
  const made = document.createElement("template");
  made.innerHTML = after;
  const whole = made.content.firstElementChild.cloneNode(true);
  patch(sheet, made.content.firstElementChild, sent ?? null);
  const left = [...old].filter(([id, one]) => one.isConnected && document.getElementById(id) === one).map(([id]) => id);
  const typed = Object.fromEntries([...sheet.querySelectorAll("input[type=text]")].map((one) => [one.name, one.value]));
  return { html: sheet.outerHTML, equal: sheet.isEqualNode(whole),
           same: main.firstElementChild === sheet, left, typed };
}"""


@pytest.fixture(scope="module")
def tab(browser: Browser) -> Iterator[Tab]:
    page = browser.new_page()
    page.set_content("<!doctype html><title>Patch</title>")
    page.add_script_tag(content=PATCH)
    yield page
    page.close()


def put(tab: Tab, before: str, after: str, work: str = "") -> dict[str, Any]:
    return tab.evaluate(RUN, [before, after, work])  # type: ignore[no-any-return]


def form(key: str, entry: str, rest: str = "") -> str:
    return (
        f'<form id="{key}"><input type="hidden" name="sheet_form" value="{key}">'
        f'<input type="hidden" name="entry" value="{entry}">{rest}<input type="text" name="{key}.words"></form>'
    )


def test_only_what_differs_is_new(tab: Tab) -> None:
    before = (
        '<article id="sheet"><p id="a">one</p>\n<p id="b">two</p>\n<details id="c"><p>three</p></details></article>'
    )
    after = before.replace("two", "two and a half")

    found = put(tab, before, after)

    assert found["html"] == after
    assert found["same"]
    assert found["left"] == ["a", "b", "c"]


def test_a_row_put_between_leaves_its_neighbours(tab: Tab) -> None:
    rows = [f'<li id="r{n}">{n}</li>' for n in range(6)]
    before = f'<ol id="rail">{"".join(rows)}</ol>'
    more = [*rows[:2], '<li id="new">new</li>', *rows[3:]]
    after = f'<ol id="rail">{"".join(more)}</ol>'

    found = put(tab, before, after)

    assert found["left"] == ["r0", "r1", "r3", "r4", "r5"]
    assert found["html"].count("<li") == 6


def test_attributes_come_change_and_go(tab: Tab) -> None:
    after = '<article id="s" data-focus="b">x</article>'

    found = put(tab, '<article id="s" data-focus="a" data-started="1">x</article>', after)

    assert found["html"] == after


def test_a_form_that_was_not_sent_keeps_its_id_and_what_is_typed_in_it(tab: Tab) -> None:
    before = f'<article id="s">{form("note", "id-1")}{form("hold", "id-2")}</article>'
    after = f'<article id="s">{form("note", "id-3")}{form("hold", "id-4")}</article>'

    typing = """(sheet) => { sheet.querySelector("[name='hold.words']").value = "spring";
      return sheet.querySelector("#note"); }"""

    found = put(tab, before, after, typing)

    assert 'value="id-3"' in found["html"], "the one that was sent has to have a new id"
    assert 'value="id-2"' in found["html"]
    assert "id-4" not in found["html"]
    assert found["typed"] == {"note.words": "", "hold.words": "spring"}
    assert found["left"] == ["hold"]


def test_a_form_about_something_else_is_a_new_one(tab: Tab) -> None:
    about = '<input type="hidden" name="step" value="{}">'
    before = f'<article id="s">{form("note", "id-1", about.format("one"))}</article>'
    after = f'<article id="s">{form("note", "id-2", about.format("two"))}</article>'

    found = put(tab, before, after, '(sheet) => { sheet.querySelector("[name=\'note.words\']").value = "typed"; }')

    assert found["typed"] == {"note.words": ""}
    assert found["left"] == []


def test_what_holds_the_focus_may_be_taken_out(tab: Tab) -> None:
    before = '<article id="s"><button id="b">Sign off</button><p>x</p></article>'

    found = put(tab, before, '<article id="s"><p>x</p></article>', '(sheet) => { sheet.querySelector("#b").focus(); }')

    assert found["html"] == '<article id="s"><p>x</p></article>'


@pytest.mark.parametrize("seed", range(100))
def test_any_page_becomes_any_other(tab: Tab, seed: int) -> None:
    drawn = random.Random(seed)
    before, after = tree(drawn, 4), tree(drawn, 4)

    assert put(tab, before, after)["equal"]


@pytest.mark.parametrize("seed", range(100))
def test_a_page_becomes_what_little_differs_from_it(tab: Tab, seed: int) -> None:
    drawn = random.Random(1_000 + seed)
    before = tree(drawn, 4)
    after = before
    for _ in range(drawn.randint(1, 3)):
        word, other = drawn.choice(WORDS), drawn.choice(WORDS)
        after = after.replace(f">{word}<", f">{other}<", 1)

    assert put(tab, before, after)["equal"]


WORDS = ("one", "two", "three", "", "\n", "four five")
CLASSES, FLAGS = ("a", "b", "a b"), ("hidden", "open", "data-x")
TAGS = ("p", "section", "ul", "li", "details", "span", "div", "summary", "svg")


def tree(drawn: random.Random, depth: int, tag: str = "article") -> str:
    """Made-up markup: nested, with ids used once, classes, texts, empty things. `article` is the root's alone."""
    used: set[str] = set()

    def of(depth: int, tag: str) -> str:
        names = ""
        if drawn.random() < 0.4 and (name := f"i{drawn.randint(0, 12)}") not in used:
            used.add(name)
            names += f' id="{name}"'
        if drawn.random() < 0.4:
            names += f' class="{drawn.choice(CLASSES)}"'
        if drawn.random() < 0.2:
            names += f' {drawn.choice(FLAGS)}=""'
        inner = "".join(
            of(depth - 1, drawn.choice(TAGS)) if depth and drawn.random() < 0.6 else drawn.choice(WORDS)
            for _ in range(drawn.randint(0, 5) if depth else 1)
        )
        # Only what a parser leaves as it is: no paragraph holds a block.
        tag = "div" if tag == "p" and "<" in inner else tag
        return f"<{tag}{names}>{inner}</{tag}>"

    return of(depth, tag)
