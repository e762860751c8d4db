"""Who comes back to a sheet reads what interrupted them, at the office's page and on a tablet, and can put it away.

Put away it stays away: at the office by a cookie of that browser, on a tablet by its pocket. It is no fact of a sheet.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape

import pytest

from app.domain.coming_back import AWAY_MS
from app.web.tablet.sheet import SEEN, SEEN_COOKIE
from tests.builders import ADA as ADA_THERE
from tests.furnished import ADA, BEN, TestOffice
from tests.several_tablets import PIN, Bench, Move, Shop, pass_time
from tests.sheet_forms import at_work

NOTE = Move("sheet-note", {"text": "Seat rusty"})


def line(page: str) -> str:
    """The line about the break, as it is read; "" where there is none."""
    found = re.search(r'<div class="came-back".*?</div>', page, re.S)
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", found[0])).split()) if found else ""


def put_away(page: str) -> str:
    """Where the button leads that puts the line away."""
    found = re.search(r'href="([^"]*[?&](?:amp;)?seen=[^"]*)"', page)
    assert found is not None
    return unescape(found[1])


# --- At the office ------------------------------------------------------------------------------------------------


def test_the_office_says_what_interrupted_and_puts_it_away_in_this_browser_alone():
    made = TestOffice().furnish()
    job = made.open()
    ada = at_work(made, ADA, job)
    ada.sends("sheet-note", text="Seat rusty")
    assert line(ada.look().page) == ""

    made.wait(minutes=12)
    assert line(ada.look().page).startswith("Away 12 minutes, since")
    away = ada.client.get(put_away(ada.page))
    assert line(away.text) == ""
    assert line(ada.look().page) == ""
    assert line(at_work(made, ADA, job).page) != ""
    assert line(at_work(made, BEN, job).page) == ""


def test_a_break_after_the_next_entry_is_told_again():
    made = TestOffice().furnish()
    ada = at_work(made, ADA, made.open())
    for text in ("Seat rusty", "Boot split"):
        ada.sends("sheet-note", text=text)
        made.wait(minutes=12)
        assert line(ada.look().page)
        ada.client.get(put_away(ada.page))
        assert line(ada.look().page) == ""


def test_what_a_browser_sends_as_put_away_is_cut_to_what_it_can_be():
    made = TestOffice().furnish()
    ada = at_work(made, ADA, made.open())
    odd = "a" * 150 + "; Path=/, <b>é"
    for number in range(20):
        assert ada.client.get(f"/jobs/{ada.number}/sheet", params={"seen": f"e-{number}"}).status_code == 200
    assert ada.client.get(f"/jobs/{ada.number}/sheet", params={"seen": odd}).status_code == 200

    kept = ada.client.cookies.get(SEEN_COOKIE)
    assert kept == ".".join(f"e-{number}" for number in range(20 - SEEN, 20))


# --- On a tablet --------------------------------------------------------------------------------------------------


@pytest.fixture
def shop() -> Iterator[Shop]:
    shop = Shop()
    yield shop
    shop.closes()


@pytest.fixture
def bench(shop: Shop) -> Iterator[Bench]:
    """A tablet with the jobs on it, Ada signed in."""
    bench = Bench(shop, 1)
    pass_time(shop, [bench], 10_000)
    bench.asks(bench.page(), "POST", "/sign-in", {}, {"person": ADA_THERE.id, "pin": PIN, "after": "/work"})
    pass_time(shop, [bench], 10_000)
    yield bench
    assert bench.world.errors == []
    bench.closes()


def sheet(bench: Bench, number: str, **asked: str) -> str:
    shown = bench.asks(bench.page(), "GET", f"/jobs/{number}/sheet", asked)
    assert shown is not None
    assert shown.status == 200
    return shown.text


def test_a_tablet_says_it_without_the_office_and_keeps_it_put_away(shop, bench):
    bench.network.otherwise = "lost"
    held = bench.looks("1002", NOTE, bench.page())
    assert held is not None
    bench.taps(held)
    assert line(sheet(bench, "1002")) == ""

    pass_time(shop, [bench], AWAY_MS + 60_000)
    page = sheet(bench, "1002")
    assert line(page).startswith("Away 11 minutes, since")
    seen = put_away(page).partition("seen=")[2]
    assert line(sheet(bench, "1002", seen=seen)) == ""
    assert line(sheet(bench, "1002")) == ""
