"""A vehicle that comes in again: it is asked about, the answer is kept, the earlier job stands beside the new one."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape

import pytest

from app.domain.problems import Refused
from app.domain.records import Customer, Job
from app.use_cases.hand_back import hand_back
from app.use_cases.open_job import JobWanted, open_job
from tests.builders import ADA, DEE, FAY, whole_job
from tests.contract.test_pages_crib import told_in
from tests.offices import LEFT_JOINT, SHOP, VEHICLE, Visitor, Workshop, a_small_job, a_visitor, an_app, an_office

INTAKE = {
    "vehicle": VEHICLE.id,
    "complaint": "It clunks again",
    "front.ball_joint.lower.sides": "left",
}
ASK = "Is it the same complaint?"


@pytest.fixture
def here() -> Workshop:
    made = an_office()
    a_small_job(made, whole_job())
    hand_back(made.office, FAY.id, "1001", "Drive gently")
    made.clock.forward(days=20)
    return made


@pytest.fixture
def dee(here: Workshop) -> Visitor:
    return a_visitor(an_app(here), DEE)


def words(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page)))


def opened(here: Workshop) -> Job:
    return next(one for one in here.all("jobs") if one.number != "1001")


def test_the_intake_shows_the_earlier_job_and_asks(dee: Visitor) -> None:
    page = words(dee.get("/desk/intake?vehicle=v-1").text)
    assert ASK in page
    assert "Job 1001, 8 Jun 2026 handed back 20 days ago" in page
    assert "“ It clunks over bumps ”" in page
    assert "Done then:" in page


def test_an_intake_that_does_not_answer_is_asked_again_and_keeps_everything(here: Workshop, dee: Visitor) -> None:
    answer = dee.sends("/desk/intake", INTAKE)
    assert answer.status_code == 422
    assert "Say whether it is the same complaint as before" in told_in(answer.text)
    assert "It clunks again" in answer.text
    assert ASK in words(answer.text)
    assert len(here.all("jobs")) == 1


@pytest.mark.parametrize("said", ["", "yes", "nothing", "0" * 300])
def test_an_answer_that_is_none_opens_no_job(here: Workshop, dee: Visitor, said: str) -> None:
    assert dee.sends("/desk/intake", INTAKE | {"comeback": said}).status_code == 422
    assert len(here.all("jobs")) == 1


def test_the_same_complaint_is_kept_and_shown_wherever_the_job_is(here: Workshop, dee: Visitor) -> None:
    first = here.all("jobs")[0]
    assert dee.sends("/desk/intake", INTAKE | {"comeback": first.id}).status_code == 303
    job = opened(here)
    assert job.comeback_of == first.id
    assert here.sheet(job).packet.vehicle["comeback"] == "1001: “It clunks over bumps”"

    app = an_app(here)
    ada, fay = a_visitor(app, ADA), a_visitor(app, FAY)
    head = "Comeback of job 1001: “It clunks over bumps”"
    assert head in words(ada.get(f"/jobs/{job.number}/sheet").text)
    assert "comeback of 1001" in words(fay.get("/floor").text)
    beside = words(dee.get(f"/jobs/{job.number}").text)
    assert "A comeback: the same complaint as before" in beside
    assert "Job 1001, 8 Jun 2026 handed back 20 days before this intake" in beside
    assert "· comeback" in words(dee.get("/desk/search?q=clunks+again").text)
    assert "Comeback of job 1001." in words(dee.get("/desk/vehicles/v-1/history").text)


def test_another_complaint_is_no_comeback(here: Workshop, dee: Visitor) -> None:
    assert dee.sends("/desk/intake", INTAKE | {"comeback": "no"}).status_code == 303
    job = opened(here)
    assert job.comeback_of == ""
    assert "comeback" not in here.sheet(job).packet.vehicle
    assert "comeback" not in words(a_visitor(an_app(here), ADA).get(f"/jobs/{job.number}/sheet").text).lower()
    assert "A comeback" not in dee.get(f"/jobs/{job.number}").text


@pytest.mark.parametrize(("days", "within", "asked"), [(90, 90, True), (91, 90, False), (1, 0, False), (0, 30, True)])
def test_only_the_shops_own_days_count(days: int, within: int, asked: bool) -> None:
    here = an_office()
    a_small_job(here, whole_job())
    hand_back(here.office, FAY.id, "1001", "")
    here.save("shops", replace(SHOP, comeback_days=within))
    here.clock.forward(days=days)
    dee = a_visitor(an_app(here), DEE)
    assert (ASK in words(dee.get("/desk/intake?vehicle=v-1").text)) is asked
    assert dee.sends("/desk/intake", INTAKE).status_code == (422 if asked else 303)


def test_a_job_that_is_still_open_is_no_earlier_one() -> None:
    here = an_office()
    here.opens()
    dee = a_visitor(an_app(here), DEE)
    page = words(dee.get("/desk/intake?vehicle=v-1").text)
    assert ASK not in page
    assert "is open on this vehicle already" in page


def test_another_vehicles_job_is_refused(here: Workshop) -> None:
    here.add("customers", Customer("c-2", "Ida Vale", "", ""))
    here.add("vehicles", replace(VEHICLE, id="v-2", plate="CP 2", customer="c-2"))
    first = here.all("jobs")[0]
    for wrong in (first.id, "nobody"):
        wanted = JobWanted("v-2", "Clunks", None, None, (LEFT_JOINT,), comeback_of=wrong)
        with pytest.raises(Refused) as refused:
            open_job(here.office, DEE.id, wanted)
        assert [one.code for one in refused.value.problems] == ["comeback_unknown"]


def test_what_the_customer_said_then_is_shown_as_text(here: Workshop, dee: Visitor) -> None:
    first = here.all("jobs")[0]
    nasty = "<script>alert(1)</script> " + "very long " * 60
    here.save("jobs", replace(first, complaint=nasty))
    assert dee.sends("/desk/intake", INTAKE | {"comeback": first.id}).status_code == 303
    job = opened(here)
    kept = here.sheet(job).packet.vehicle["comeback"]
    assert kept.endswith("…”")
    assert len(kept) < 180
    sheet = a_visitor(an_app(here), ADA).get(f"/jobs/{job.number}/sheet").text
    assert "<script>alert(1)" not in sheet


# --- History from a job and its sheet ---------------------------------------------------------------------------------


def test_whoever_works_on_it_sees_what_was_done_before_in_its_parts(here: Workshop, dee: Visitor) -> None:
    assert dee.sends("/desk/intake", INTAKE | {"comeback": "no"}).status_code == 303
    job = opened(here)
    ada = a_visitor(an_app(here), ADA)
    address = f"/jobs/{job.number}/history"
    assert f'href="{address}"' in ada.get(f"/jobs/{job.number}/sheet").text
    page = ada.get(address)
    assert page.status_code == 200
    said = words(page.text)
    assert said.index(f"Job {job.number}") < said.index("Job 1001")
    for part in ("Found", "Measures", "Signed", "Parts"):
        assert f"<h3>{part}</h3>" in page.text
    assert "Pivot bolt: 108 N·m, wrench W1, new part Ada, 8 Jun 2026" in said
    assert "handed back on 8 Jun 2026" in said
    assert 'href="/desk/vehicles' not in page.text
    assert 'href="/jobs/1001/sheet"' in page.text


def test_the_words_looked_for_are_marked_however_they_are_written(dee: Visitor) -> None:
    for asked in ("pivot 108", "PIVOT", "w1 bolt"):
        page = dee.client.get("/jobs/1001/history", params={"find": asked}).text
        assert "<mark>" in page, asked
    assert "<mark>" not in dee.get("/jobs/1001/history?find=***").text
    assert dee.get("/jobs/nothing/history").status_code == 404
