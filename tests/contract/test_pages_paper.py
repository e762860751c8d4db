"""The printed sheet's code: a square any camera reads, the page it opens, and codes that are none."""

from __future__ import annotations

import re

import pytest

from tests.furnished import ADA, FAY, TestOffice
from tests.sheet_forms import at_work


@pytest.fixture
def made() -> TestOffice:
    return TestOffice().furnish()


def test_the_sheet_carries_its_code_and_the_square_leads_to_its_page(made: TestOffice):
    job = made.open()
    client = made.client(ADA)
    sheet = client.get(f"/jobs/{job.number}/sheet").text
    (square,) = re.findall(r'<img class="paper-code__square" src="([^"]+)"', sheet)
    assert square == f"/paper/{job.number}-1/code.svg"

    picture = client.get(square)
    assert picture.headers["content-type"].startswith("image/svg+xml")
    assert picture.text.startswith("<svg")


def test_the_square_says_the_address_of_the_page(made: TestOffice, monkeypatch: pytest.MonkeyPatch):
    said: list[str] = []
    monkeypatch.setattr("app.web.tablet.paper.picture_of", lambda address: said.append(address) or "<svg/>")
    job = made.open()
    client = made.client(ADA)
    client.get(f"/paper/{job.number}-1/code.svg")

    assert said == [f"http://testserver/paper/{job.number}-1"]


def test_the_page_leads_on_to_each_step_that_is_not_done(made: TestOffice):
    job = made.open()
    worker = at_work(made, ADA, job)
    done = worker.does_next()
    assert done is not None
    page = made.client(ADA).get(f"/paper/{job.number}-1").text

    links = re.findall(r'<li><a class="button button--plain" href="[^"]*\?step=([^"#]+)#in-hand"', page)
    assert links == [one.id.replace(":", "%3A") for one in worker.packet.steps if one.id != done.id]
    assert "which the sheet still has" in page


def test_paper_of_an_older_edition_says_so(made: TestOffice):
    job = made.open()
    with made.store.writing() as unit:
        tool = next(one for one in unit.tools.all() if one.tag == "W7")
        unit.tools.save(type(tool)(**{**{name: getattr(tool, name) for name in tool.__slots__}, "fault": "dropped"}))
        unit.commit()
    foreman = made.client(FAY)
    form = re.search(r'name="csrf" value="([^"]+)"', foreman.get(f"/jobs/{job.number}").text)
    assert form is not None
    foreman.post(f"/jobs/{job.number}/edition", data={"csrf": form[1]})

    page = foreman.get(f"/paper/{job.number}-1").text
    assert "The paper is older than the sheet." in page
    assert "the sheet is at edition 2" in page
    assert "older" not in foreman.get(f"/paper/{job.number}-2").text


@pytest.mark.parametrize("code", ["{number}-2", "{number}-0", "99-9999-1", "{number}-x", "x", "{number}-１"])
def test_a_code_that_is_none_is_not_found(made: TestOffice, code: str):
    number = made.open().number

    assert made.client(ADA).get(f"/paper/{code.format(number=number)}").status_code == 404
    assert made.client(ADA).get(f"/paper/{code.format(number=number)}/code.svg").status_code == 404


def test_the_code_typed_at_my_work_leads_there_too(made: TestOffice):
    job = made.open()
    client = made.client(ADA)

    answer = client.get("/jobs", params={"number": f" {job.number}-1 "})
    assert (answer.status_code, answer.headers["location"]) == (303, f"/paper/{job.number}-1")
    assert client.get("/jobs", params={"number": job.number}).headers["location"].startswith(f"/jobs/{job.number}/")
    assert client.get("/jobs", params={"number": "no such"}).status_code == 404


def test_nobody_gets_in_by_paper_alone(made: TestOffice):
    job = made.open()
    answer = made.client().get(f"/paper/{job.number}-1")

    assert (answer.status_code, answer.headers["location"]) == (303, f"/sign-in?after=/paper/{job.number}-1")
