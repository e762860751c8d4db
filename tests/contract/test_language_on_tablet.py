"""A tablet with people of two languages: the real office, the tablet's own script, and no network where it matters."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from html import unescape

import pytest

from app.language.catalogue import PROCEDURES, texts_in
from app.language.procedures import said_in
from tests.builders import ADA, BEN, Someone
from tests.contract.test_language import BLANKS, Reader
from tests.several_tablets import PIN, Bench, Shop, pass_time

STEP = "Take the wheel off"


@pytest.fixture
def shop() -> Iterator[Shop]:
    """A ball joint by the real procedures; Ada reads Spanish, everybody else English."""
    shop = Shop()
    reads(shop, ADA, "es")
    yield shop
    shop.closes()


@pytest.fixture
def bench(shop: Shop) -> Iterator[Bench]:
    bench = Bench(shop, 1)
    yield bench
    bench.closes()


def reads(shop: Shop, who: Someone, language: str) -> None:
    with shop.store.writing() as unit:
        person = unit.people.get(who.id)
        assert person is not None
        unit.people.save(replace(person, language=language))
        unit.commit()


def signs_in(shop: Shop, bench: Bench, who: Someone) -> None:
    bench.asks(bench.page(), "GET", "/sign-out")
    bench.asks(bench.page(), "POST", "/sign-in", {}, {"person": who.id, "pin": PIN, "after": "/work"})
    pass_time(shop, [bench], 20_000)


def read(bench: Bench, number: str) -> list[str]:
    shown = bench.asks(bench.page(), "GET", f"/jobs/{number}/sheet")
    assert shown is not None
    assert shown.status == 200
    reader = Reader()
    reader.feed(shown.text)
    return [" ".join(unescape(one).split()) for one in reader.read if one.strip()]


def test_a_sheet_is_in_the_language_of_who_is_signed_in_with_and_without_the_office(shop: Shop, bench: Bench) -> None:
    job = shop.here.opens()
    pass_time(shop, [bench], 20_000)
    signs_in(shop, bench, BEN)
    assert STEP in read(bench, job.number)
    signs_in(shop, bench, ADA)

    spanish = read(bench, job.number)
    said = texts_in("es", PROCEDURES)
    left = {one for one in spanish if one in said and said[one] != one and not BLANKS.search(one) and len(one) > 4}
    assert said[STEP] in spanish
    assert "Rótula, inferior, delantera izquierda" in spanish
    assert left == set()

    # The office is gone: the next person's language is here as well, and so is the one's before.
    bench.network.otherwise = "lost"
    signs_in(shop, bench, BEN)
    assert STEP in read(bench, job.number)
    signs_in(shop, bench, ADA)
    assert read(bench, job.number) == spanish


def test_a_language_chosen_meanwhile_is_there_after_the_next_contact(shop: Shop, bench: Bench) -> None:
    job = shop.here.opens()
    signs_in(shop, bench, BEN)
    assert STEP in read(bench, job.number)
    reads(shop, BEN, "es")
    pass_time(shop, [bench], 20_000)

    assert texts_in("es", PROCEDURES)[STEP] in read(bench, job.number)


def test_what_is_set_aside_names_the_step_in_the_language_of_who_sent_it(shop: Shop, bench: Bench) -> None:
    """The ledger has the English; both ends put it into words."""
    job = shop.here.opens()
    pass_time(shop, [bench], 20_000)
    signs_in(shop, bench, ADA)
    packet = shop.sheet(job.id).packet
    assert packet is not None
    late = packet.steps[-1]
    form = {
        "sheet_form": "finish", "kind": "step_done", "entry": "late-1", "step": late.id,
        "basis_packet": packet.hash, "basis_support": "0", "basis_holds": "", "basis_step": "1",
    }  # fmt: skip
    shown = bench.asks(bench.page(), "POST", f"/jobs/{job.number}/entries", {}, form)
    assert shown is not None
    pass_time(shop, [bench], 20_000)

    row = shop.ledger()[-1]
    assert (row.accepted, row.reason) == (False, "step_locked")
    english = str(row.details["first"])
    assert english in {step.title for step in packet.steps}
    words = " ".join(unescape(re.sub(r"<[^>]*>", " ", shown.text)).split())
    assert english not in words
    assert said_in(english, "es") in words
