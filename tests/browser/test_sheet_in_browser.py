"""The sheet in a real browser: keypad, swaps that lose neither focus nor what is typed, the same page without script.

Needs Chromium; `tests/run.py` finds or installs it and names it in COTTERPIN_TEST_BROWSER.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from fastapi import FastAPI
from playwright.sync_api import Browser, Page, expect

from app.domain.records import Job
from tests.furnished import ADA, BEN, PIN, TestOffice
from tests.sheet_forms import at_work

pytestmark = pytest.mark.browser
TABLET = {"width": 1180, "height": 820}


@pytest.fixture
def made() -> TestOffice:
    return TestOffice().furnish()


@pytest.fixture
def address(made: TestOffice, serve: Callable[[FastAPI], str]) -> str:
    return serve(made.app())


def signed_in(browser: Browser, address: str, person=ADA, **context) -> Page:
    page = browser.new_context(viewport=TABLET, **context).new_page()
    page.goto(f"{address}/sign-in")
    page.check(f'input[value="{person.id}"]')
    page.fill("#pin", PIN)
    page.click("main button")
    page.wait_for_url("**/work")
    return page


def on_sheet(browser: Browser, address: str, job: Job, person=ADA, **context) -> Page:
    page = signed_in(browser, address, person, **context)
    page.goto(f"{address}/jobs/{job.number}/sheet")
    page.wait_for_function("document.querySelector('[data-behaviour]')?.dataset.started")
    return page


def test_the_keypad_types_what_it_shows_and_its_keys_suit_gloves(browser, made, address):
    page = on_sheet(browser, address, made.open())
    field = page.locator("#in-hand input[type=text]").first
    field.click()

    for key in ("3", "5", "2"):
        page.click(f'.keypad button:text-is("{key}")')
    page.click('.keypad button[aria-label="Point"]')
    page.click('.keypad button:text-is("5")')
    page.click(in_unit("mm"))
    expect(field).to_have_value("352.5 mm")
    expect(field).to_have_attribute("inputmode", "none")

    page.click('.keypad button[aria-label="Take one back"]')
    expect(field).to_have_value("352. mm")

    field.press("Escape")
    expect(page.locator(".keypad")).to_have_count(0)
    field.fill("350")
    expect(field).to_have_value("350")


def in_unit(unit: str) -> str:
    return f'.keypad button[data-unit="{unit}"]'


def keys(page: Page, *names: str) -> None:
    for name in names:
        page.click(f'.keypad button:text-is("{name}")')


@pytest.mark.parametrize(
    ("width", "least"),
    # 15 mm: 78 px where 132 px go to the inch (a tablet), 95 px where 160 do (a phone).
    [(1180, 78), (820, 78), (430, 95), (390, 95), (360, 95), (320, 78)],
)
def test_every_key_is_fifteen_millimetres_with_room_between(browser, made, address, width, least):
    page = on_sheet(browser, address, made.open())
    page.set_viewport_size({"width": width, "height": 820})
    page.locator("#in-hand input[type=text]").first.click()

    boxes = [one.bounding_box() for one in page.locator(".keypad__key").all()]
    assert len(boxes) == 20
    assert min(min(box["width"], box["height"]) for box in boxes if box) >= least
    for one in boxes:
        for other in boxes:
            if one is other or one is None or other is None:
                continue
            apart = max(
                one["x"] - other["x"] - other["width"], other["x"] - one["x"] - one["width"],
                one["y"] - other["y"] - other["height"], other["y"] - one["y"] - one["height"],
            )  # fmt: skip
            assert apart >= 8 - 0.1
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_another_unit_keeps_the_number_as_it_was_read(browser, made, address):
    """What is recorded is what somebody read off a scale: nothing is converted, and the pad shows which unit holds."""
    job = made.open()
    page = on_sheet(browser, address, job)
    field = page.locator("#in-hand input[type=text]").first
    field.click()
    expect(page.locator(in_unit("mm"))).to_have_attribute("aria-pressed", "true")
    keys(page, "1", "4")
    page.click(in_unit("in"))
    expect(field).to_have_value("14 in")
    expect(page.locator(in_unit("in"))).to_have_attribute("aria-pressed", "true")
    expect(page.locator(in_unit("mm"))).to_have_attribute("aria-pressed", "false")
    keys(page, ".", "5")
    expect(field).to_have_value("14.5 in")
    page.click(in_unit("mm"))
    expect(field).to_have_value("14.5 mm")


def test_a_unit_pressed_before_the_number_waits_for_it(browser, made, address):
    page = on_sheet(browser, address, made.open())
    field = page.locator("#in-hand input[type=text]").first
    field.click()
    page.click(in_unit("in"))
    expect(field).to_have_value("")
    beside = page.locator("#in-hand .number-field__unit").first
    expect(beside).to_have_text("in")

    keys(page, "1", "4")
    expect(field).to_have_value("14 in")
    # On a keyboard it is the same.
    second = page.locator("#in-hand .measure input[type=text]").nth(1)
    second.click()
    page.click(in_unit("in"))
    second.press_sequentially("13 1/2")
    expect(second).to_have_value("13 1/2 in")

    keys(page, "Clear")
    expect(second).to_have_value("")
    second.press_sequentially("345")
    expect(second).to_have_value("345")


def test_a_height_in_inches_and_a_fraction_is_recorded_as_it_was_typed(browser, made, address):
    job = made.open()
    page = on_sheet(browser, address, job)
    field = page.locator("#in-hand input[type=text]").first
    field.click()
    keys(page, "1", "3", "␣", "1", "/", "2")
    page.click(in_unit("in"))
    expect(field).to_have_value("13 1/2 in")
    page.get_by_role("button", name="Record the values").click()
    expect(page.locator(".taken__value").first).to_have_text("13 1/2 in")

    with made.store.reading() as unit:
        kept = unit.sheets.get(job.id)
    taken = next(one for step in kept.steps.values() for one in step.readings.values())
    # 13.5 in at 25.4 mm exactly (NIST SP 811).
    assert (taken.value, taken.text, taken.unit) == (342_900, "13 1/2", "in")


def test_the_sign_goes_on_and_off_wherever_the_cursor_stands(browser, made, address):
    page = on_sheet(browser, address, made.open())
    field = page.locator("#in-hand input[type=text]").first
    field.click()
    keys(page, "0", ".", "7", "5", "−")
    expect(field).to_have_value("-0.75")
    keys(page, "5")
    expect(field).to_have_value("-0.755")
    keys(page, "−")
    expect(field).to_have_value("0.755")


def test_for_a_keyboard_the_pad_is_one_stop_with_arrows_inside(browser, made, address):
    page = on_sheet(browser, address, made.open())
    fields = page.locator("#in-hand .measure input[type=text]")
    fields.first.focus()
    expect(page.locator(".keypad")).to_have_count(1)

    page.keyboard.press("Tab")
    expect(page.locator('.keypad button:text-is("7")')).to_be_focused()
    for key in ("ArrowRight", "ArrowDown", "ArrowDown", "ArrowLeft", "ArrowUp"):
        page.keyboard.press(key)
    expect(page.locator('.keypad button:text-is("4")')).to_be_focused()
    page.keyboard.press("Enter")
    expect(fields.first).to_have_value("4")
    page.keyboard.press("Tab")
    expect(fields.nth(1)).to_be_focused()

    page.keyboard.press("Shift+Tab")
    expect(fields.first).to_be_focused()
    page.keyboard.press("Tab")
    page.keyboard.press("Escape")
    expect(fields.first).to_be_focused()
    expect(page.locator(".keypad")).to_have_count(0)


def test_the_pad_speaks_the_persons_language(browser, made, address):
    with made.store.writing() as unit:
        unit.people.save(replace(unit.people.get(ADA.id), language="es"))
        unit.commit()
    page = on_sheet(browser, address, made.open())
    page.locator("#in-hand input[type=text]").first.click()

    expect(page.locator('.keypad[aria-label="Teclado numérico"]')).to_have_count(1)
    expect(page.locator('.keypad button:text-is("Borrar")')).to_have_count(1)
    expect(page.locator(in_unit("in"))).to_have_attribute("aria-label", "en in; el número queda como está")


def test_a_press_right_after_typing_is_never_lost(browser, made, address):
    """The open keypad must not move the button away from under the finger that presses it."""
    page = on_sheet(browser, address, made.open())
    for field in page.locator("#in-hand .measure input[type=text]").all():
        field.click()
        page.keyboard.type("350")
    page.get_by_role("button", name="Record the values").click()

    expect(page.locator(".taken")).to_have_count(4)


def test_recording_one_thing_keeps_what_is_typed_elsewhere_and_moves_the_focus_on(browser, made, address):
    page = on_sheet(browser, address, made.open())
    page.locator("#in-hand summary", has_text="Note").click()
    page.fill("#step-note-text", "Rust at the arm")
    for field in page.locator("#in-hand .measure input[type=text]").all():
        field.fill("350")
    page.get_by_role("button", name="Record the values").click()

    expect(page.locator("#finish")).to_be_focused()
    expect(page.locator("#spoken")).to_contain_text("Recorded")
    expect(page.locator("#step-note-text")).to_have_value("Rust at the arm")


def test_a_problem_takes_the_focus_and_keeps_what_was_typed(browser, made, address):
    page = on_sheet(browser, address, made.open())
    field = page.locator("#in-hand input[type=text]").first
    field.fill("abc")
    page.get_by_role("button", name="Record the values").click()

    expect(page.locator("#told")).to_be_focused()
    expect(page.locator("#in-hand input[type=text]").first).to_have_value("abc")


def test_a_change_elsewhere_is_offered_and_takes_nothing_from_under_a_hand(browser, made, address):
    job = made.open()
    page = on_sheet(browser, address, job)
    page.locator("#in-hand input[type=text]").first.fill("35")

    at_work(made, BEN, job).sends("sheet-note", text="From Ben")

    expect(page.locator(".sheet__changed")).to_be_visible()
    expect(page.locator("#in-hand input[type=text]").first).to_have_value("35")
    page.locator(".sheet__changed a").click()
    expect(page.locator(".note")).to_contain_text("From Ben")
    expect(page.locator("#in-hand input[type=text]").first).to_have_value("35")


@pytest.mark.parametrize("width", [320, 390, 820, 1180])
def test_nothing_scrolls_sideways(browser, made, address, width):
    page = on_sheet(browser, address, made.open())
    page.set_viewport_size({"width": width, "height": 820})
    page.locator("#in-hand input[type=text]").first.click()

    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_without_script_the_same_form_goes_on_to_the_same_sheet(browser, made, address):
    page = signed_in(browser, address, java_script_enabled=False)
    page.goto(f"{address}/jobs/{made.open().number}/sheet")
    for field in page.locator("#in-hand .measure input[type=text]").all():
        field.fill("350")
    page.get_by_role("button", name="Record the values").click()

    page.wait_for_url("**/sheet?step=*")
    expect(page.locator(".taken")).to_have_count(4)
    expect(page.locator("#in-hand input[type=text]").first).to_have_attribute("inputmode", "decimal")


def test_what_is_touched_is_large_enough_for_gloves(browser, made, address):
    """Controls at least 64 px, those that sign something off at least 104 px high."""
    job = made.open()
    worker = at_work(made, ADA, job)
    worker.until("fit_bolted")
    page = on_sheet(browser, address, job)
    page.locator(".wrench").first.click()
    expect(page.locator(".in-hand__set")).to_be_visible()

    heights = {
        selector: [one["height"] for one in (box.bounding_box() for box in page.locator(selector).all()) if one]
        for selector in (
            "#sheet .button:visible",
            "#sheet summary:visible",
            "#sheet .choice:visible",
            ".rail__link:visible",
        )
    }
    assert all(heights.values())
    assert {name: min(sizes) for name, sizes in heights.items() if min(sizes) < 64} == {}
    signing = [one.bounding_box() for one in page.locator("#sheet .button--sign:visible").all()]
    assert signing
    assert min(box["height"] for box in signing if box) >= 104


def test_on_paper_the_lines_that_are_folded_away_are_printed_too(browser, made, address):
    """Paper cannot be unfolded: every step is on it, and no button."""
    page = on_sheet(browser, address, made.open())
    folded = page.locator(".line--closed .rail__row")
    steps = folded.count()
    assert steps > 20
    expect(folded.first).to_be_hidden()

    page.emulate_media(media="print")

    assert [one for one in folded.all() if not one.is_visible()] == []
    expect(page.locator("#sheet .button:visible")).to_have_count(0)


def answering(page: Page) -> None:
    """Type a reading and press the button that records it."""
    page.locator("#in-hand input[type=text]").first.fill("352")
    page.locator("#in-hand form button[type=submit]").first.click()


def test_without_the_office_it_says_not_saved_keeps_what_was_typed_and_the_next_press_records_it_once(
    browser, made, address
):
    """Losing something silently is a defect: no answer from the office is said, in words, where one looks."""
    job = made.open()
    page = on_sheet(browser, address, job)
    before = entries_of(made, job)
    page.context.set_offline(True)

    answering(page)

    expect(page.get_by_role("alert")).to_contain_text("Not saved. The office does not answer.")
    expect(page.locator("#in-hand input[type=text]").first).to_have_value("352")
    assert entries_of(made, job) == before

    page.context.set_offline(False)
    page.locator("#in-hand form button[type=submit]").first.click()

    expect(page.locator("#spoken")).not_to_be_empty()
    expect(page.get_by_role("alert")).to_have_count(0)
    assert entries_of(made, job) == before + 1


@pytest.mark.parametrize("status", [500, 503])
def test_an_office_that_breaks_takes_nothing_from_the_page(browser, made, address, status):
    page = on_sheet(browser, address, made.open())
    page.route("**/entries", lambda route: route.fulfill(status=status, body="<h1>broken</h1>"))

    answering(page)

    expect(page.get_by_role("alert")).to_contain_text("Not saved. The office could not take it.")
    expect(page.locator("#in-hand input[type=text]").first).to_have_value("352")
    expect(page.get_by_text("broken")).to_have_count(0)


def test_a_person_signed_out_meanwhile_is_told_and_keeps_what_was_typed(browser, made, address):
    job = made.open()
    page = on_sheet(browser, address, job)
    before = entries_of(made, job)
    page.context.clear_cookies()

    answering(page)

    expect(page.get_by_role("alert")).to_contain_text("Not saved. You are signed out on this page.")
    expect(page.locator("#in-hand input[type=text]").first).to_have_value("352")
    assert entries_of(made, job) == before


def entries_of(made: TestOffice, job: Job) -> int:
    with made.store.reading() as unit:
        return len(unit.ledger.of_job(job.id))


def test_whoever_comes_back_to_a_page_that_lay_there_reads_what_interrupted_them(browser, made, address):
    """The page looks again by itself; what is typed is carried over, and the line is gone with the next entry."""
    job = made.open()
    at_work(made, ADA, job).sends("sheet-note", text="Seat rusty")
    page = signed_in(browser, address)
    page.clock.install()
    page.goto(f"{address}/jobs/{job.number}/sheet")
    page.wait_for_function("document.querySelector('[data-behaviour]')?.dataset.started")
    page.locator("#in-hand input[type=text]").first.fill("35")
    expect(page.locator("#came-back")).to_have_count(0)

    made.wait(minutes=12)
    page.clock.fast_forward("12:00")
    expect(page.locator("#came-back")).to_contain_text("Away 12 minutes, since")
    expect(page.locator("#in-hand input[type=text]").first).to_have_value("35")
    expect(page.locator("#in-hand input[type=text]").first).to_be_focused()

    page.get_by_role("link", name="Put this line away").click()
    expect(page.locator("#came-back")).to_have_count(0)
    expect(page.locator("#in-hand input[type=text]").first).to_have_value("35")
    page.reload()
    expect(page.locator("#came-back")).to_have_count(0)
