"""A job is handed back or cancelled at the desk while a tablet has it, with and without entries waiting there.

The real office and the tablet's own script: what was written down is kept and set aside in words, the sheet on the
tablet says what became of the job, and after a day the job leaves the pocket.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape

import pytest

from app.use_cases.cancel_job import cancel_job
from app.use_cases.hand_back import hand_back
from app.use_cases.verify import verify
from tests.builders import ADA, FAY, JOB, whole_job
from tests.offices import plays
from tests.several_tablets import PIN, Bench, Move, Shop, pass_time

NOTE = Move("sheet-note", {"text": "Seat rusty"})


@pytest.fixture
def shop() -> Iterator[Shop]:
    """The job 1001 is worked through, as far as the handback; 1002 has not begun."""
    shop = Shop()
    plays(shop.here, whole_job(), since=1)
    yield shop
    shop.closes()


@pytest.fixture
def bench(shop: Shop) -> Iterator[Bench]:
    """A tablet with both jobs on it, Ada signed in."""
    bench = Bench(shop, 1)
    pass_time(shop, [bench], 10_000)
    bench.asks(bench.page(), "POST", "/sign-in", {}, {"person": ADA.id, "pin": PIN, "after": "/work"})
    pass_time(shop, [bench], 10_000)
    assert bench.knows("1001") is not None
    yield bench
    assert bench.world.errors == []
    bench.closes()


def words(bench: Bench, number: str) -> str:
    """The sheet on the tablet, as it is read."""
    shown = bench.asks(bench.page(), "GET", f"/jobs/{number}/sheet")
    assert shown is not None
    assert shown.status == 200
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", shown.text)).split())


def notes(bench: Bench, number: str) -> str:
    """Write a note by the form that is there; gives what the page says afterwards."""
    held = bench.looks(number, NOTE, bench.page())
    assert held is not None
    shown = bench.taps(held)
    assert shown is not None
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", shown.text)).split())


def ends(shop: Shop, number: str) -> str:
    """Over, at the desk; gives what the sheet says of it."""
    if number == "1001":
        hand_back(shop.office, FAY.id, number, "All tight")
        return "Fay has handed this job back."
    cancel_job(shop.office, FAY.id, number, "The customer took it away")
    return "This job is closed. Nothing more can be recorded on it."


@pytest.mark.parametrize("number", ["1001", "1002"])
def test_with_nothing_waiting_the_sheet_says_so_takes_no_more_and_leaves_after_a_day(
    shop: Shop, bench: Bench, number: str
) -> None:
    said = ends(shop, number)
    pass_time(shop, [bench], 10_000)

    assert said in words(bench, number)
    before = len(shop.ledger())
    refused = notes(bench, number) if bench.looks(number, NOTE, bench.page()) else said
    assert said in refused
    pass_time(shop, [bench], 40_000)
    assert bench.rows() == {}
    assert [row for row in shop.ledger()[before:] if row.accepted] == []

    shop.here.clock.forward(hours=25)
    pass_time(shop, [bench], 20_000)
    assert bench.knows(number) is None
    other = {"1001": "1002", "1002": "1001"}[number]
    assert bench.knows(other) is not None
    # What is not in the pocket is the office's to show.
    assert bench.asks(bench.page(), "GET", f"/jobs/{number}/sheet") is None


@pytest.mark.parametrize(("number", "reason"), [("1001", "handed_back"), ("1002", "not_here")])
def test_what_was_written_down_meanwhile_is_kept_and_set_aside_in_words(
    shop: Shop, bench: Bench, number: str, reason: str
) -> None:
    bench.network.otherwise = "lost"
    notes(bench, number)
    pass_time(shop, [bench], 20_000)
    said = ends(shop, number)
    notes(bench, number)
    assert said not in words(bench, number)

    bench.network.otherwise = "fine"
    pass_time(shop, [bench], 60_000)

    rows = [row for row in shop.ledger() if row.heard.entry.tablet == bench.tablet.id]
    assert [(row.heard.entry.seq, row.accepted, row.reason) for row in rows] == [(1, False, reason), (2, False, reason)]
    assert bench.rows() == {}
    assert verify(shop.office).breaches == ()
    shown = words(bench, number)
    assert said in shown
    assert "What you entered is kept" in shown or "Open a new job for further work" in shown
    # The foreman sees both, and the tablet has the office's own sheet.
    job = {"1001": JOB, "1002": "job-2"}[number]
    assert len(shop.sheet(job).asides) == 2
    known = bench.knows(number)
    assert known is not None
    assert known.hash == shop.sheet(job).hash
    for key in shop.sheet(job).asides:
        assert "Seat rusty" in shop.visitor(FAY).get(f"/jobs/{number}/asides/{key}").text


def test_a_job_with_entries_waiting_does_not_leave_the_tablet_however_late_it_comes(shop: Shop, bench: Bench) -> None:
    bench.network.otherwise = "lost"
    notes(bench, "1001")
    ends(shop, "1001")
    shop.here.clock.forward(hours=24 * 8)
    pass_time(shop, [bench], 20_000)
    assert "Seat rusty" in words(bench, "1001")

    bench.network.otherwise = "fine"
    pass_time(shop, [bench], 60_000)

    (row,) = [row for row in shop.ledger() if row.heard.entry.tablet == bench.tablet.id]
    assert (row.accepted, row.reason) == (False, "handed_back")
    # It stays for a day after that, so that whoever wrote it sees what became of it.
    assert "has handed this job back" in words(bench, "1001")
    shop.here.clock.forward(hours=25)
    pass_time(shop, [bench], 20_000)
    assert bench.knows("1001") is None
