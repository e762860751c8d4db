"""The search page: who may ask, what is told, nothing typed lost, and where its lines lead."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape

import pytest

from app.domain.records import Job
from tests.builders import ADA, DEE, FAY
from tests.contract.test_pages_crib import SCRIPT, told_in
from tests.offices import VEHICLE, Visitor, Workshop, a_visitor, an_app, an_office


@pytest.fixture
def here() -> Workshop:
    return an_office()


@pytest.fixture
def job(here: Workshop) -> Job:
    return here.opens(complaint="It clunks over bumps, front left")


@pytest.fixture
def dee(here: Workshop, job: Job) -> Visitor:
    return a_visitor(an_app(here), DEE)


def words(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page)))


@pytest.mark.parametrize(
    "asked", ["cp1001", "CP-1001", "okonjo clunk", "CLUNKS", "26-0001", "left tern", "ball joint lower", "joint okonjo"]
)
def test_a_job_is_found_and_leads_to_its_page_and_to_the_vehicles_history(dee: Visitor, asked: str) -> None:
    page = dee.client.get("/desk/search", params={"q": asked})
    assert page.status_code == 200
    said = words(page.text)
    assert "Found: 1 job, 1 vehicle." in said
    assert "26-0001 It clunks over bumps, front left 8 Jun 2026 · open" in said
    assert 'href="/jobs/26-0001"' in page.text
    (history,) = re.findall(r'href="(/desk/vehicles/v-1/history\?find=[^"]*)"', page.text)
    assert dee.get(unescape(history)).status_code == 200


def test_what_stands_around_every_jobs_work_is_not_looked_for(dee: Visitor) -> None:
    assert "Nothing has all of these words" in words(dee.get("/desk/search?q=closing").text)


def test_a_vehicle_alone_is_found_when_no_job_has_the_words(here: Workshop) -> None:
    page = words(a_visitor(an_app(here), FAY).get("/desk/search?q=tern").text)
    assert "Found: 0 jobs, 1 vehicle." in page
    assert "Mira Okonjo · no job of it has these words" in page


def test_a_plate_however_it_is_spaced_comes_before_what_only_has_its_pieces(here: Workshop, dee: Visitor) -> None:
    here.add("vehicles", replace(VEHICLE, id="v-2", plate="CP 77", model="1001 Estate"))
    for typed in ("CP 1001", "cp-10-01", "c p 1001"):
        page = words(dee.client.get("/desk/search", params={"q": typed}).text)
        assert "Found: 1 job, 1 vehicle." in page, typed
        assert "CP 77" not in page
    pieces = words(dee.client.get("/desk/search", params={"q": "1001 cp"}).text)
    assert "Found: 1 job, 2 vehicles." in pieces


def test_nothing_asked_says_nothing(dee: Visitor) -> None:
    page = dee.get("/desk/search")
    assert page.status_code == 200
    assert "Found" not in words(page.text)


def test_nothing_found_says_what_to_do(dee: Visitor) -> None:
    page = dee.get("/desk/search?q=clunk+okonja")
    assert page.status_code == 200
    assert "Nothing has all of these words" in words(page.text)


@pytest.mark.parametrize("typed", ["***", '"', "a " * 99 + "b c d e f g h i j k l m n", "x" * 2_000, "й" * 2_000])
def test_what_cannot_be_looked_for_is_said_and_kept(dee: Visitor, typed: str) -> None:
    page = dee.client.get("/desk/search", params={"q": typed})
    assert page.status_code == 422
    assert told_in(page.text)
    assert f'value="{typed.strip()}"' in unescape(page.text)


@pytest.mark.parametrize("typed", [SCRIPT, "clunk\0s", "a'b\"c;--", "AND OR NOT", "clunks AND", "NEAR(x)", "\ud800x"])
def test_whatever_is_typed_is_text(dee: Visitor, typed: str) -> None:
    page = dee.client.get("/desk/search", params={"q": typed.encode("utf-8", "replace").decode()})
    assert page.status_code == 200
    assert SCRIPT not in page.text


def test_more_than_a_page_holds_is_said(here: Workshop, job: Job, dee: Visitor) -> None:
    with here.store.writing() as unit:
        for number in range(60):
            unit.jobs.add(
                Job(f"j-{number}", f"x{number:02}", "v-1", "c-1", "Clunks", None, job.opened_at, FAY.id, None, ())
            )
        unit.commit()
    page = words(dee.get("/desk/search?q=clunks").text)
    assert "There are more than the 50 shown here" in page
    assert "x59" in page
    assert "x09" not in page


def test_it_is_for_the_desk_and_reached_from_it(here: Workshop, dee: Visitor) -> None:
    assert a_visitor(an_app(here), ADA).get("/desk/search").status_code == 403
    front = dee.get("/desk").text
    assert 'href="/desk/search"' in front
    assert 'formaction="/desk/search"' in front
    assert dee.get(f"/desk/vehicles/{VEHICLE.id}/history").status_code == 200
