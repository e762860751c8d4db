"""The bounce test recorded by a tablet that has a motion sensor: here its events are made up, all the rest is real."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from fastapi import FastAPI
from playwright.sync_api import Browser, Page, expect

from app.domain.bounce import read_trace
from app.domain.packet import Axle
from app.domain.records import Job, JobLine
from demo.player import Player
from tests.browser.test_sheet_in_browser import signed_in
from tests.furnished import ADA, BEN, TestOffice
from tests.traces import RATE, released

pytestmark = pytest.mark.browser
STEP = "l1.bounce.left"
# The tablet lies at a slant: gravity of 981 cm/s² along 0.6, 0, 0.8, and the body's pull along the same line.
FEEL = """([samples, rate]) => samples.forEach((one, place) => {
  if (one === null) return;
  const pull = 9.81 + one / 100;
  const felt = { x: 0.6 * pull, y: 0, z: 0.8 * pull };
  const motion = new DeviceMotionEvent("devicemotion", { accelerationIncludingGravity: felt });
  Object.defineProperty(motion, "timeStamp", { value: 5000 + place * 1000 / rate });
  dispatchEvent(motion);
})"""


@pytest.fixture
def made() -> TestOffice:
    return TestOffice().furnish()


@pytest.fixture
def job(made: TestOffice) -> Job:
    job = made.open(JobLine("", "inspection", Axle.FRONT))
    player = Player(made.office, job.id, ADA.id, BEN.id)
    player.play(until=lambda step: step.id == STEP)
    packet = player.sheet.packet
    assert packet is not None
    player.hold_for(packet.step_by_id[STEP])
    return job


@pytest.fixture
def page(browser: Browser, made: TestOffice, job: Job, serve: Callable[[FastAPI], str]) -> Page:
    address = serve(made.app())
    page = signed_in(browser, address)
    page.goto(f"{address}/jobs/{job.number}/sheet?step={STEP}")
    page.wait_for_function("document.querySelector('.bounce')?.dataset.started")
    return page


def record(page: Page, samples: list[int | None]) -> None:
    page.click("text=Record the bounce with this tablet")
    expect(page.locator(".bounce button")).to_have_text("Recording. Tap when it is still")
    page.evaluate(FEEL, [samples, RATE])
    page.click(".bounce button")


def trace_of(page: Page) -> str:
    return page.locator(".bounce input").input_value()


def test_the_trace_goes_with_the_count_and_stands_on_the_page_of_bounces(page):
    record(page, released(0.2))

    expect(page.locator(".bounce__said")).to_contain_text("damping ratio 0.2")
    expect(page.locator(".bounce__picture")).to_be_visible()
    trace = read_trace(trace_of(page))
    assert trace is not None
    assert trace.rate == RATE
    page.fill("#in-hand .number-field__input", "2")
    page.click("#in-hand button:has-text('Record the value')")
    page.click("text=Left against right, before against after")

    expect(page.locator("main")).to_contain_text("Swings until still: 2")
    expect(page.locator("main")).to_contain_text("By the trace: damping ratio 0.2")
    assert page.locator("main polyline").count() == 1


def test_gaps_of_the_sensor_stay_gaps(page):
    samples = released(0.2)
    samples[200:212] = [None] * 12

    record(page, samples)

    trace = read_trace(trace_of(page))
    assert trace is not None
    assert 5 <= sum(one is None for one in trace.samples) <= 13


def test_a_wild_recording_fits_the_form(page):
    record(page, [(-1) ** place * 5_000 for place in range(600)])

    assert len(trace_of(page)) <= 1_995
    assert read_trace(trace_of(page)) is not None


def test_what_is_too_short_says_so_and_leaves_the_one_before(page):
    record(page, released(0.2))
    before = trace_of(page)

    record(page, released(0.2)[:20])

    expect(page.locator(".bounce__said")).to_contain_text("Too short to read.")
    assert trace_of(page) == before


def test_a_tablet_that_tells_nothing_of_its_motion_says_to_count(page):
    page.click("text=Record the bounce with this tablet")

    expect(page.locator(".bounce__said")).to_have_text("This tablet tells nothing of its motion. Count the swings.")
    assert trace_of(page) == ""


def test_a_browser_that_may_not_tell_says_so(page):
    page.evaluate("() => { DeviceMotionEvent.requestPermission = () => Promise.resolve('denied'); }")

    page.click("text=Record the bounce with this tablet")

    expect(page.locator(".bounce__said")).to_contain_text("Allow it in its settings, or count the swings.")


def test_without_the_office_the_trace_waits_with_the_count(page):
    page.route("**/bounce/reckon**", lambda route: route.abort())

    record(page, released(0.2))

    expect(page.locator(".bounce__said")).to_contain_text("the office reckons the damping when it has it")
    assert read_trace(trace_of(page)) is not None


def test_a_browser_without_motion_shows_no_recorder(browser, made, job, serve):
    address = serve(made.app())
    page = signed_in(browser, address)
    page.add_init_script("delete window.DeviceMotionEvent")
    page.goto(f"{address}/jobs/{job.number}/sheet?step={STEP}")
    page.wait_for_function("document.querySelector('.bounce')?.dataset.started")

    expect(page.locator(".bounce")).to_be_hidden()
    expect(page.locator("#in-hand .number-field__input")).to_be_visible()
