"""Drawings of before beside after, where a person needs them: the job's page and the Reckoner's shims."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient

from app.web.reckoner.heights import SHIMS
from tests.lived_in import LivedIn, lived_in


@pytest.fixture(scope="module")
def here() -> LivedIn:
    return lived_in()


@pytest.fixture(scope="module")
def foreman(here: LivedIn) -> TestClient:
    return here.signed_in(here.app(), "foreman")


def drawn(page: str) -> list[str]:
    """What each comparison on the page says in words."""
    return re.findall(r'<svg class="compared-drawing[^>]*aria-label="([^"]+)"', page)


def test_a_job_measured_before_and_after_shows_both_on_its_page(here: LivedIn, foreman: TestClient):
    shown = {number: drawn(foreman.get(f"/jobs/{number}").text) for number in here.ids()["number"]}

    assert any(words for words in shown.values()), "no job was measured twice"
    assert any(not words for words in shown.values()), "a job that is not begun has nothing to compare"
    for words in (one for each in shown.values() for one in each):
        assert " before, " in words
        assert " after" in words


def test_the_shims_are_drawn_once_there_is_an_answer(here: LivedIn):
    client = here.signed_in(here.app(), "bram")

    assert drawn(client.get("/reckoner/shims").text) == []
    (words,) = drawn(client.get("/reckoner/shims", params=dict(SHIMS.example.typed)).text)
    assert words.startswith("front bolt: Before: no shims; After: 1 × 0.120 in")
    assert "rear bolt: Before: no shims; After: 1 × 0.120 in" in words


def test_what_is_taken_out_is_gone_from_its_stack(here: LivedIn):
    client = here.signed_in(here.app(), "bram")
    fitted = {"want_camber": "-0.5°", "want_caster": "-0.6°", "fitted-1-bolt": "front bolt",
              "fitted-1-thickness": "0.12 in", "fitted-1-count": "2"}  # fmt: skip
    (words,) = drawn(client.get("/reckoner/shims", params={**SHIMS.example.typed, **fitted}).text)

    assert words.startswith("front bolt: Before: 2 × 0.120 in")
    assert re.search(r"front bolt: Before: [^;]+; After: 1 × 0.120 in", words)
