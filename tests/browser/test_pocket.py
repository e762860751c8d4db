"""The pocket in a real browser's IndexedDB: what the unit tests rest on is so there too."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from playwright.sync_api import Browser, BrowserContext, Page

from tests.offices import an_app, an_office
from tests.tablet_harness import a_note

FORM = Path(__file__).resolve().parents[1] / "pocket_forms" / "1.json"
HEARD = {"name": "Ada", "roles": ["technician"], "at_ms": 1}
TABLET = {"id": "t-1", "name": "Bench", "secret": "s"}


@pytest.fixture
def tablet(browser: Browser, serve: Callable[[FastAPI], str]) -> Iterator[Callable[[], Page]]:
    """Opens one page after the other of one tablet, each with `pocket` open and what it heard in `told`."""
    address = serve(an_app(an_office()))
    context: BrowserContext = browser.new_context()

    def page() -> Page:
        opened = context.new_page()
        opened.goto(f"{address}/sign-in")
        opened.evaluate(
            """async () => {
                const { openPocket } = await import("/static/tablet/pocket.js");
                window.pocket = await openPocket(indexedDB);
                window.told = [];
                pocket.onChange((jobs, noted) => told.push([jobs, noted]));
            }"""
        )
        return opened

    yield page
    context.close()


def notes(page: Page, *ids: str) -> list[dict[str, Any]]:
    """Note each by itself, all at once, without waiting for one another."""
    rows: list[dict[str, Any]] = page.evaluate(
        "([entries, heard]) => Promise.all(entries.map((one) => pocket.note([one], heard))).then((all) => all.flat())",
        [[a_note(one) for one in ids], HEARD],
    )
    return rows


def test_two_pages_number_without_a_gap_and_hear_of_each_other(tablet: Callable[[], Page]) -> None:
    one, other = tablet(), tablet()
    one.evaluate("(it) => pocket.keepTablet(it)", TABLET)
    began = [
        page.evaluate_handle(
            "([entries, heard]) => ({ done: Promise.all(entries.map((it) => pocket.note([it], heard))) })",
            [[a_note(f"{name}-{i}") for i in range(20)], HEARD],
        )
        for page, name in ((one, "a"), (other, "b"))
    ]
    for handle in began:
        handle.evaluate("async (it) => { await it.done; }")

    rows = one.evaluate("() => pocket.waiting(100)")

    assert [row["seq"] for row in rows] == list(range(1, 41))
    assert [json.loads(row["text"])["seq"] for row in rows] == list(range(1, 41))
    one.wait_for_function("told.length === 40")
    other.wait_for_function("told.length === 40")


def test_what_was_noted_is_there_after_the_page_is_closed(tablet: Callable[[], Page]) -> None:
    first = tablet()
    first.evaluate("(it) => pocket.keepTablet(it)", TABLET)
    notes(first, "n-1", "n-2")
    first.close()

    again = tablet()

    assert [row["id"] for row in again.evaluate("() => pocket.waiting(10)")] == ["n-1", "n-2"]
    assert [row["seq"] for row in notes(again, "n-2", "n-3")] == [2, 3]


def test_a_newer_page_takes_the_pocket_over_and_the_older_one_says_so(tablet: Callable[[], Page]) -> None:
    older, newer = tablet(), tablet()
    older.evaluate("(it) => pocket.keepTablet(it)", TABLET)
    newer.evaluate(
        """() => new Promise((resolve, reject) => {
            const request = indexedDB.open("cotterpin", 99);
            request.onsuccess = () => { request.result.close(); resolve(null); };
            request.onerror = () => reject(request.error);
        })"""
    )

    said = older.evaluate(
        "([entries, heard]) => pocket.note(entries, heard).then(() => '', (error) => error.code)",
        [[a_note("n-1")], HEARD],
    )
    again = older.evaluate(
        """() => import("/static/tablet/pocket.js").then(({ openPocket }) => openPocket(indexedDB, null))
            .then(() => "", (error) => error.code)"""
    )

    assert (said, again) == ("closed", "closed")


def test_an_abort_leaves_nothing_behind(tablet: Callable[[], Page]) -> None:
    page = tablet()
    page.evaluate("(it) => pocket.keepTablet(it)", TABLET)

    # What cannot be written down comes second, so that the first has been asked for already.
    code = page.evaluate(
        "([one, heard]) => pocket.note([one, { ...one, id: 'n-2', body: { text: 0.5 } }], heard)"
        ".then(() => '', (error) => error.code)",
        [a_note("n-1"), HEARD],
    )

    assert code == "unknown"
    assert page.evaluate("() => pocket.waiting(10)") == []
    assert [row["seq"] for row in notes(page, "n-3")] == [1]


def test_the_filed_example_of_the_first_form_lives_in_a_real_browser(tablet: Callable[[], Page]) -> None:
    page = tablet()
    page.evaluate(
        """async (stores) => {
            const db = await new Promise((resolve) => {
                const request = indexedDB.open("cotterpin");
                request.onsuccess = () => resolve(request.result);
            });
            const names = Object.keys(stores);
            const transaction = db.transaction(names, "readwrite");
            for (const name of names) {
                const store = transaction.objectStore(name);
                if (store.keyPath !== stores[name].keyPath) throw new Error(name);
                const indexes = Object.keys(stores[name].indexes).sort();
                if ([...store.indexNames].sort().join() !== indexes.join()) throw new Error(name);
                for (const [, row] of stores[name].rows) store.put(row);
            }
            await new Promise((resolve, reject) => {
                transaction.oncomplete = resolve;
                transaction.onabort = () => reject(transaction.error);
            });
            db.close();
        }""",
        json.loads(FORM.read_text("utf-8"))["cotterpin"]["stores"],
    )

    kept = page.evaluate("() => pocket.sheet('1001')")

    assert [row["id"] for row in kept["later"]] == ["e-1", "e-2", "e-3"]
    assert kept["base"]["packet"]["number"] == "1001"
    assert [row["id"] for row in page.evaluate("() => pocket.waiting(10)")] == ["e-2", "e-3"]
    # A contact's answer is kept by the same script there.
    told = {
        "now_ms": 5, "next_seq": 4, "bundle": "b", "shop": {"name": "", "timezone": "UTC"}, "people": [], "jobs": {},
        "packets": {}, "pictures": {}, "gone": ["job-1"], "work": {}, "more": False,
    }  # fmt: skip
    answers = [
        {"id": one, "kept": True, "order": 9, "accepted": True, "reason": "", "details": {}, "words": ""}
        for one in ("e-2", "e-3")
    ]
    page.evaluate("async ([answers, told]) => { await pocket.heardBack(answers); await pocket.takeIn(told, 3); }",
                  [answers, told])  # fmt: skip
    assert page.evaluate("() => pocket.jobs()") == []
    assert page.evaluate("() => pocket.pictured()") == []
    assert page.evaluate("() => pocket.debt()") == {
        "said_seq": 3, "oldest": 0, "waiting": {"count": 0, "from": 0}, "not_taken": 0
    }  # fmt: skip
    assert page.evaluate("async () => (await pocket.here()).clock") == {"offset_ms": 2}
