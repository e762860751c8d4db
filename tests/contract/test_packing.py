"""What is sent packed, to whom, and what never is: a page that somebody's token is on."""

from __future__ import annotations

import gzip
import json
import re

import brotli
import pytest
from starlette.testclient import TestClient

from app.packing import WORTH_IT, packed_for, takes
from app.web.rendering import WITHOUT_HTMX
from tests.builders import ADA
from tests.offices import PIN, Workshop, a_small_job, a_visitor, an_app, an_office
from tests.tablets import a_tablet

TAKES_ALL = {"accept-encoding": "gzip, deflate, br, zstd"}


@pytest.fixture
def here() -> Workshop:
    here = an_office()
    a_small_job(here)
    return here


@pytest.mark.parametrize(
    ("header", "is_taken"),
    [
        ("gzip", True),
        ("br, GZip;q=0.5", True),
        ("", False),
        ("br", False),
        ("gzip;q=0", False),
        ("gzip; q=0.000", False),
    ],
)
def test_compression_is_sent_to_whom_takes_it(header: str, is_taken: bool):
    assert takes(header, "gzip") is is_taken


def test_a_body_is_packed_as_it_is_taken_and_says_so():
    body = json.dumps(list(range(1_000))).encode()

    for accepted, coding, unpack in (("br, gzip", "br", brotli.decompress), ("gzip", "gzip", gzip.decompress)):
        sent, headers = packed_for(accepted, body)
        assert unpack(sent) == body
        assert len(sent) < len(body) / 2
        assert headers == {"Vary": "Accept-Encoding", "Content-Encoding": coding}


@pytest.mark.parametrize(
    ("accepted", "body"), [("", b"x" * 5_000), ("br", b"x" * (WORTH_IT - 1)), ("zstd", b"x" * 5_000)]
)
def test_what_gains_nothing_or_is_not_taken_stays_as_it_is(accepted: str, body: bytes):
    assert packed_for(accepted, body) == (body, {"Vary": "Accept-Encoding"})


@pytest.mark.parametrize("address", ["/sign-in?after=/floor", "/enrol/ABCDE-FGHIJ", "/readiness"])
def test_a_page_for_nobody_in_particular_is_packed_and_has_no_token(here: Workshop, address: str):
    answer = TestClient(an_app(here)).get(address, headers=TAKES_ALL)

    assert answer.headers["content-encoding"] == "br"
    assert {"HX-Request", "Accept-Encoding"} <= set(re.split(r",\s*", answer.headers["vary"]))
    assert [one for one in re.findall(r'name="csrf" value="([^"]*)"', answer.text) if one] == []


@pytest.mark.parametrize("address", ["/work", "/readiness", "/nothing-here", "/tools"])
def test_a_page_with_somebodys_token_is_never_packed(here: Workshop, address: str):
    """How long it is packed would tell the token to whoever can put words into the address and see lengths (BREACH)."""
    visitor = a_visitor(an_app(here), ADA)
    answer = visitor.get(address, **TAKES_ALL)

    assert "content-encoding" not in answer.headers
    assert visitor.csrf in answer.text


def test_what_a_tablet_is_told_of_jobs_is_packed_and_its_sign_in_is_not(here: Workshop):
    tablet = a_tablet(here)

    answer = tablet.posts("/sync/contact", tablet.contact(), **TAKES_ALL)
    signing = tablet.posts("/sync/sign-in", {"tablet": tablet.id, "person": ADA.id, "pin": PIN}, **TAKES_ALL)

    assert (answer.status_code, answer.headers["content-encoding"]) == (200, "br")
    assert answer.json()["jobs"]
    assert (signing.status_code, "csrf" in signing.json()) == (200, True)
    assert "content-encoding" not in signing.headers


@pytest.mark.parametrize("template", sorted(WITHOUT_HTMX))
def test_a_page_that_does_without_htmx_asks_nothing_of_it(here: Workshop, template: str):
    address = {"enrol.html": "/enrol", "readiness.html": "/readiness", "sign_in.html": "/sign-in"}[template]
    client = TestClient(an_app(here))
    text = client.get(address).text

    assert " hx-" not in text
    assert "htmx-4" not in text
    assert "htmx-4" in client.get("/nothing-here").text
