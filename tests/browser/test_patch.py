"""What stands on the sheet's page is exchanged piece by piece: afterwards it is what it would be, put in whole."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser
from playwright.sync_api import Page as Tab

from app.web.rendering import STATIC

pytestmark = pytest.mark.browser
# The two modules as one script.
PATCH = "".join(
    re.sub(r"^import .*$|^export ", "", (STATIC / "tablet" / f"{name}.js").read_text("utf-8"), flags=re.MULTILINE)
    for name in ("spare", "patch")
)
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


# --- Sheets, whose rows, closed lines and drawing are not read again where they are as they were ---------------------

# Puts each sheet in the place of the one before; says where one is not what it would be, put in whole, and which pieces
# of the first sheet are there to the end.
PLAY = """(pages) => {
  document.body.innerHTML = pages[0];
  const sheet = document.body.firstElementChild;
  const first = new Map([...sheet.querySelectorAll("[id]")].map((one) => [one.id, one]));
  const wrong = [];
  let read = 0;
  for (const [at, page] of pages.slice(1).entries()) {
    const whole = document.createElement("template");
    whole.innerHTML = page;
    put(sheet, page, null);
    if (!sheet.isEqualNode(whole.content.firstElementChild)) wrong.push(at);
    put(sheet, page, null);
    read = (({ text, keep }) => (keep(), text.length))(spared(sheet, page));
  }
  const left = [...first].filter(([id, one]) => document.getElementById(id) === one).map(([id]) => id);
  return { wrong, left, read, marks: sheet.querySelectorAll("template").length };
}"""


def row(step: str, words: str = "open", photos: int = 0) -> str:
    thumbs = "".join(f'<li class="thumb">{n}</li>' for n in range(photos))
    more = f'<ul class="thumbs">{thumbs}</ul>\n' if photos else ""
    return f'<li class="rail__row" id="step-{step}">\n<a href="#">{words}</a>\n{more}</li>\n'


def hand(step: str) -> str:
    return f'<li class="rail__hand"><section id="in-hand"><h3>{step}</h3><ul><li>a</li></ul></section></li>'


def closed_line(name: str, rows: list[str]) -> str:
    return (
        f'<details class="line fold line--closed" id="closed-{name}">\n<summary>{name}, {len(rows)}</summary>\n'
        f'<ol class="rail">\n{"".join(rows)}\n</ol>\n</details>\n'
    )


def open_line(name: str, folded: list[str], rows: list[str]) -> str:
    fold = (
        f'<details class="fold line__folded">\n<summary>{len(folded)} done</summary>\n'
        f'<ol class="rail">\n{"".join(folded)}\n</ol>\n</details>\n'
    )
    return (
        f'<section class="line line--open" aria-labelledby="line-{name}">\n<h2 id="line-{name}">{name}</h2>\n'
        f'{fold if folded else ""}<ol class="rail">\n{"".join(rows)}\n</ol>\n</section>\n'
    )


def drawing(words: str) -> str:
    return (
        '<details class="fold axle-fold" id="axle-drawing">\n<summary>Drawing</summary>\n<figure>\n'
        f"<p>{words}</p>\n</figure>\n</details>\n"
    )


def sheet(*parts: str) -> str:
    return f'<article id="sheet" class="sheet">\n{"".join(parts)}\n</article>'


def test_what_is_as_it_was_is_not_read_again(tab: Tab) -> None:
    rows = [row(f"s{n}", photos=n % 3) for n in range(40)]
    page = sheet(closed_line("one", rows[:30]), open_line("two", [], [hand("h"), *rows[30:]]), drawing("stands"))

    found = tab.evaluate(PLAY, [page, page])

    assert found["wrong"] == []
    assert found["read"] < len(page) / 3


def test_what_changed_within_a_closed_line_is_seen(tab: Tab) -> None:
    rows = [row(f"s{n}") for n in range(6)]
    before = sheet(closed_line("one", rows), drawing("on stands"))
    after = sheet(closed_line("one", [*rows[:2], row("s2", "held"), *rows[3:]]), drawing("on its wheels"))

    found = tab.evaluate(PLAY, [before, before, after])

    assert found["wrong"] == []


def test_a_line_that_opens_takes_its_rows_along(tab: Tab) -> None:
    rows = [row(f"s{n}") for n in range(6)]
    shut = sheet(closed_line("one", rows))
    opened = sheet(open_line("one", rows[:2], [hand("s2"), *rows[3:]]))

    found = tab.evaluate(PLAY, [shut, shut, opened, shut, opened])

    assert (found["wrong"], found["marks"]) == ([], 0)
    assert {"step-s0", "step-s3", "step-s5"} <= set(found["left"])


def test_words_that_look_like_a_piece_are_words(tab: Tab) -> None:
    words = "&lt;/ol&gt; &lt;li class=&#34;rail__row&#34; id=&#34;step-s1&#34;&gt; $&amp; $1"
    page = sheet(open_line("one", [], [row("s0", words), hand("h"), row("s1", "open")]))

    assert tab.evaluate(PLAY, [page, page, page.replace("open", "done")])["wrong"] == []


@pytest.mark.parametrize("seed", range(100))
def test_a_day_of_made_up_sheets_is_what_it_would_be_put_in_whole(tab: Tab, seed: int) -> None:
    drawn = random.Random(2_000 + seed)
    pages = [made_up_sheet(drawn)]
    while len(pages) < 8:
        pages += [made_up_sheet(drawn), *drawn.sample(pages, 1)]

    found = tab.evaluate(PLAY, pages)

    assert (found["wrong"], found["marks"]) == ([], 0)


def made_up_sheet(drawn: random.Random) -> str:
    """Three lines of steps, each closed or open, with steps done, in hand, moved to another line or taken off."""
    steps = [f"s{n}" for n in range(drawn.randint(3, 14))]
    if drawn.random() < 0.2:
        drawn.shuffle(steps)
    cuts = sorted(drawn.sample(range(len(steps) + 1), 2))
    lines = [steps[: cuts[0]], steps[cuts[0] : cuts[1]], steps[cuts[1] :]]
    opened = drawn.randrange(3)
    parts = []
    for number, one in enumerate(lines):
        rows = [row(step, drawn.choice(("open", "done", "held")), drawn.choice((0, 0, 2))) for step in one]
        if number != opened or not rows:
            parts.append(closed_line(f"l{number}", rows))
            continue
        done = drawn.randint(0, len(rows) - 1)
        at = drawn.randint(done, len(rows) - 1)
        parts.append(open_line(f"l{number}", rows[:done], [*rows[done:at], hand(one[at]), *rows[at + 1 :]]))
    told = drawn.choice(("", '<div id="told"><ul><li>said</li></ul></div>\n'))
    return sheet(told, *parts, drawing(drawn.choice(("on its wheels", "on stands"))))
