"""The page of a job's bounce tests, and the sentence for whoever has just recorded one."""

from __future__ import annotations

import pytest

from app.domain import entry as e
from app.domain.packet import Axle, Step
from app.domain.records import Job, JobLine
from app.use_cases.see_bounces import see_bounces
from demo.player import Player
from tests.contract.test_pages_suspects import text_of
from tests.furnished import ADA, BEN, DEE, FAY, TestOffice
from tests.traces import as_text, released

LOOK = JobLine("", "inspection", Axle.FRONT)
SIDES = ("l1.bounce.left", "l1.bounce.right")
TRACE = as_text(released(0.2))


def an_inspection() -> tuple[TestOffice, Job, Player]:
    here = TestOffice().furnish()
    job = here.open(LOOK)
    player = Player(here.office, job.id, ADA.id, BEN.id)
    player.play(until=lambda step: step.id == SIDES[0])
    player.hold_for(step_of(player, SIDES[0]))
    return here, job, player


def step_of(player: Player, step: str) -> Step:
    packet = player.sheet.packet
    assert packet is not None
    return packet.step_by_id[step]


def count(player: Player, step: str, swings: int, trace: str = "") -> None:
    """What a form of the sheet records: the swings, and the trace beside them."""
    reading = e.Reading(swings * 1_000_000, str(swings), "1")
    player.say(e.ReadingTaken(step, "swings", reading, trace), step_of(player, step))


def see(here: TestOffice, job: Job) -> str:
    answer = here.client(ADA).get(f"/jobs/{job.number}/bounces")
    assert answer.status_code == 200, answer.text
    return str(answer.text)


@pytest.mark.parametrize(("person", "status"), [(ADA, 200), (FAY, 200), (DEE, 403)])
def test_technicians_and_foremen_may_look(person: object, status: int) -> None:
    here, job, _ = an_inspection()

    assert here.client(person).get(f"/jobs/{job.number}/bounces").status_code == status  # type: ignore[arg-type]
    assert here.client(person).get("/bounce/reckon?trace=50;1,2").status_code == status  # type: ignore[arg-type]


def test_a_job_that_is_not_there_has_no_page() -> None:
    here, _, _ = an_inspection()

    assert here.client(ADA).get("/jobs/26-9999/bounces").status_code == 404


def test_before_any_test_the_page_says_what_is_still_to_be_made() -> None:
    here, job, _ = an_inspection()

    assert text_of(see(here, job)).count("Not made yet.") >= 2


def test_left_stands_beside_right_with_count_trace_and_picture() -> None:
    here, job, player = an_inspection()
    count(player, SIDES[0], 2, TRACE)
    count(player, SIDES[1], 4)

    html = see(here, job)
    said = text_of(html)

    assert "Swings until still: 2" in said
    assert "Swings until still: 4" in said
    # Made with a ratio of 0.20.
    assert "damping ratio 0.20 ±" in said
    assert html.count("<polyline") == 1
    assert "A comparison, not a verdict" in said


def test_a_trace_that_tells_nothing_is_kept_and_says_why() -> None:
    here, job, player = an_inspection()
    count(player, SIDES[0], 3, as_text([0] * 300))
    count(player, SIDES[1], 3, "no trace at all")

    said = text_of(see(here, job))

    assert "Nothing moves that stands out. Push harder and let go." in said
    assert "cannot be read as a trace" in said
    assert said.count("Swings until still: 3") == 2


def test_measured_again_the_last_one_counts() -> None:
    here, job, player = an_inspection()
    count(player, SIDES[0], 4, TRACE)
    count(player, SIDES[0], 2)

    html = see(here, job)

    assert "Swings until still: 2" in text_of(html)
    assert "<polyline" not in html, "the trace belonged to the reading before"


def test_whoever_has_just_recorded_is_told_in_a_sentence() -> None:
    here, _, _ = an_inspection()
    client = here.client(ADA)

    told = client.get("/bounce/reckon", params={"trace": TRACE})
    refused = client.get("/bounce/reckon", params={"trace": as_text([0] * 300)})

    assert told.headers["content-type"].startswith("text/plain")
    assert told.text.startswith("damping ratio 0.20 ±")
    assert refused.text == "Nothing moves that stands out. Push harder and let go."
    assert client.get("/bounce/reckon", params={"trace": "1" * 2_001}).status_code == 422


def test_the_form_sends_the_trace_with_the_count() -> None:
    here, job, _ = an_inspection()
    client = here.client(ADA)
    sheet = client.get(f"/jobs/{job.number}/sheet?step={SIDES[0]}").text

    assert 'name="trace.swings"' in sheet
    assert 'data-behaviour="bounce"' in sheet


def suspects(here: TestOffice, job: Job) -> str:
    return text_of(here.client(ADA).get(f"/jobs/{job.number}/suspects").text)


def test_what_a_trace_says_stands_among_the_suspects_and_a_refused_one_says_nothing_there() -> None:
    here, job, player = an_inspection()
    count(player, SIDES[0], 4, as_text(released(0.1)))
    count(player, SIDES[1], 3, as_text([0] * 300))

    said = suspects(here, job)

    assert "Bounce test, left by the trace a damping ratio of 0.10, less than is usual for a road car" in said
    assert said.count("by the trace") == 1
    assert f'href="/jobs/{job.number}/suspects"' in see(here, job)


def test_left_far_from_right_stands_among_the_suspects_as_the_weaker_side_s() -> None:
    here, job, player = an_inspection()
    count(player, SIDES[0], 2, as_text(released(0.24)))
    count(player, SIDES[1], 2, as_text(released(0.38)))

    said = suspects(here, job)

    assert "Bounce test, left by the trace a damping ratio of 0.24, far less than the 0.37 at the other side" in said


def test_measured_again_without_a_trace_the_older_one_is_no_evidence() -> None:
    here, job, player = an_inspection()
    count(player, SIDES[0], 4, as_text(released(0.1)))
    assert "by the trace" in suspects(here, job)
    count(player, SIDES[0], 4)

    assert "by the trace" not in suspects(here, job)


def test_a_page_of_many_bounces_reads_the_shop_once(monkeypatch: pytest.MonkeyPatch) -> None:
    here, job, player = an_inspection()
    count(player, SIDES[0], 2, TRACE)
    count(player, SIDES[1], 2, TRACE)
    opened: list[None] = []
    reading = here.office.store.reading

    def counted() -> object:
        opened.append(None)
        return reading()

    monkeypatch.setattr(here.office.store, "reading", counted)
    see_bounces(here.office, job.number)

    assert len(opened) == 1


def test_sheet_and_job_lead_to_what_belongs_to_them_and_say_that_it_asks_the_office() -> None:
    here, job, _ = an_inspection()
    measured, bounces, suspects = (f'href="/jobs/{job.number}/{word}"' for word in ("measured", "bounces", "suspects"))
    sheet = here.client(ADA).get(f"/jobs/{job.number}/sheet").text
    page = here.client(FAY).get(f"/jobs/{job.number}").text

    for link in (measured, bounces, suspects):
        assert link in sheet
        assert link in page
    for words in ("Before and after", "Bounce tests", "Suspects so far"):
        assert f"{words} (asks the office)" in text_of(sheet)


def test_whoever_may_not_look_is_not_led_there() -> None:
    here, job, _ = an_inspection()
    for address in (f"/jobs/{job.number}/sheet", f"/jobs/{job.number}"):
        page = here.client(DEE).get(address).text

        assert f'href="/jobs/{job.number}/measured"' in page
        assert f'href="/jobs/{job.number}/bounces"' not in page
        assert f'href="/jobs/{job.number}/suspects"' not in page


def test_a_sheet_without_a_bounce_test_leads_to_none() -> None:
    here = TestOffice().furnish()
    job = here.open(JobLine("", "stabiliser", Axle.FRONT, options=(("parts", "links"),)))

    assert f"/jobs/{job.number}/measured" in here.client(ADA).get(f"/jobs/{job.number}/sheet").text
    assert "/bounces" not in here.client(ADA).get(f"/jobs/{job.number}/sheet").text
    assert "/bounces" not in here.client(FAY).get(f"/jobs/{job.number}").text
