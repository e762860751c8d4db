"""The page of a job's suspects: who may, what it says before and after ruling out, where it is reached from, and what
the workshop's own closed jobs come to.
"""

from __future__ import annotations

import re
from datetime import timedelta

import pytest

from app.domain import entry as e
from app.domain.packet import Axle, Step
from app.domain.records import Job, JobLine
from app.use_cases.learn_suspects import NEWEST, learned
from app.use_cases.open_job import JobWanted, open_job
from app.use_cases.suspect_weights import suspect_table
from demo.player import Player
from demo.readings import Found
from tests.furnished import ADA, BEN, DEE, FAY, TestOffice

LOOK = JobLine("", "inspection", Axle.FRONT)
LINKS = JobLine("", "stabiliser", Axle.FRONT, options=(("parts", "links"),))
LOOSE = {
    "l1.complaint": Found("clunk", "sound", "Knocks on cobbles"),
    "l1.complaint_when": Found("bumps", "sound", ""),
    "l1.complaint_where": Found("front_right", "sound", ""),
    "l1.complaint_changes": Found("nothing", "sound", ""),
    "l1.stabiliser_links.right": Found("loose", "replace", "Ball worn, moves 2 mm"),
}


def an_office() -> TestOffice:
    return TestOffice().furnish()


def an_inspection(here: TestOffice, *more: JobLine) -> Job:
    return here.open(LOOK, *more, complaint="Knocks on cobbles")


def played(here: TestOffice, job: Job, found: dict[str, Found] | None = None, until: str = "") -> Player:
    player = Player(here.office, job.id, ADA.id, BEN.id, LOOSE if found is None else found)
    player.play(until=lambda step: bool(until) and step.id == until)
    return player


def handed_back(here: TestOffice, job: Job, found: dict[str, Found] | None = None) -> None:
    played(here, job, found)
    Player(here.office, job.id, FAY.id, "").say(e.HandedBack(""))
    here.wait(hours=1)


def text_of(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html)).strip()


def see(here: TestOffice, job: Job) -> str:
    answer = here.client(ADA).get(f"/jobs/{job.number}/suspects")
    assert answer.status_code == 200, answer.text
    return str(answer.text)


def own(here: TestOffice, job: Job) -> str:
    answer = here.client(ADA).get(f"/jobs/{job.number}/suspects/own")
    assert answer.status_code == 200, answer.text
    return str(answer.text)


# --- Who may ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("person", "status"), [(ADA, 200), (FAY, 200), (DEE, 403)])
def test_technicians_and_foremen_may_look(person: object, status: int) -> None:
    here = an_office()
    job = an_inspection(here)

    assert here.client(person).get(f"/jobs/{job.number}/suspects").status_code == status  # type: ignore[arg-type]


def test_a_stranger_signs_in_first_and_a_job_nobody_knows_is_not_found() -> None:
    here = an_office()
    job = an_inspection(here)

    assert here.client().get(f"/jobs/{job.number}/suspects").status_code == 303
    assert here.client(ADA).get("/jobs/26-9999/suspects").status_code == 404


def test_it_is_reached_from_the_sheet_and_from_the_job_where_there_is_an_inspection() -> None:
    here = an_office()
    looked, worked = an_inspection(here), here.open()
    link = f'href="/jobs/{looked.number}/suspects"'

    assert link in here.client(ADA).get(f"/jobs/{looked.number}/sheet").text
    assert link in here.client(FAY).get(f"/jobs/{looked.number}").text
    assert link not in here.client(DEE).get(f"/jobs/{looked.number}").text
    assert "/suspects" not in here.client(ADA).get(f"/jobs/{worked.number}/sheet").text
    assert "/suspects" not in here.client(FAY).get(f"/jobs/{worked.number}").text


# --- What it says ------------------------------------------------------------------------------------------------


def test_a_job_without_an_inspection_says_what_to_do() -> None:
    here = an_office()
    job = here.open()

    assert "Ask the foreman to add “Finding the fault”" in text_of(see(here, job))
    assert f'href="/jobs/{job.number}/lines"' in here.client(FAY).get(f"/jobs/{job.number}/suspects").text


def test_before_anything_is_recorded_it_asks_and_says_that_it_knows_nothing() -> None:
    here = an_office()
    text = text_of(see(here, an_inspection(here)))

    assert "It decides nothing." in text
    assert "Nothing has been recorded that speaks for or against a part." in text
    assert "The complaint: when does it come?" in text
    assert "not judged yet:" in text


def test_a_finding_before_the_others_are_judged_is_shown_and_not_counted() -> None:
    here = an_office()
    job = an_inspection(here)
    player = Player(here.office, job.id, ADA.id, BEN.id, LOOSE)
    link = next(step for step in _steps(player) if step.id == "l1.stabiliser_links.right")
    player.do(link)

    text = text_of(see(here, job))

    assert "Seen, and not counted yet Stabiliser link, right: Play at one end or both" in text
    assert text.index("not counted yet") < text.index("The order")
    assert "Nothing has been recorded that speaks for or against a part." in text


def test_once_all_is_judged_the_loose_link_comes_first_with_its_reasons() -> None:
    here = an_office()
    job = an_inspection(here)
    played(here, job)

    page = see(here, job)
    text = text_of(page)

    order = re.findall(r'class="suspect__head"><strong>([^<]+)</strong>', page)
    assert order[0] == "Stabiliser link, front right"
    assert "Seen, and not counted yet" not in text
    assert re.search(r"\+\d+ Stabiliser link, right Play at one end or both speaks for it", text)
    assert "Knock or rattle" in text or "Clunk, knock or rattle" in text
    assert "Every test of this inspection has been made." in text
    assert "own judgement" in text


def test_what_would_tell_most_next_is_a_step_of_the_sheet_that_is_still_open() -> None:
    here = an_office()
    job = an_inspection(here)
    player = played(here, job, until="l1.stabiliser_links.left")

    tests = re.findall(r'class="button suspects__test" href="([^"]+)">([^<]+)<', see(here, job))

    assert 1 <= len(tests) <= 3
    open_titles = {step.title for step in _steps(player) if player.sheet.step(step.id).outcome is None}
    for link, title in tests:
        assert title in open_titles
        assert here.client(ADA).get(link.partition("#")[0]).status_code == 200


def test_what_was_found_at_the_brakes_is_said_to_come_first() -> None:
    here = an_office()
    job = an_inspection(here)
    played(here, job, {**LOOSE, "l1.brakes.left": Found("drag", "replace", "Turns by force only")})

    assert "Brakes judged, and something found: Brakes, left. It can make the same complaint." in text_of(
        see(here, job)
    )


def test_what_people_typed_is_shown_as_text() -> None:
    here = an_office()
    job = here.open(LOOK, complaint="<script>alert(1)</script> knocks")

    page = see(here, job)

    assert "<script>alert(1)" not in page
    assert "&lt;script&gt;alert(1)" in page


# --- The workshop's own closed jobs -------------------------------------------------------------------------------


def counts(here: TestOffice) -> tuple[int, dict[str, tuple[int, int, int, int]]]:
    with here.store.reading() as unit:
        seen = learned(unit, suspect_table())
    return seen.jobs, {one.family: (one.first, one.mended, one.gone, one.back) for one in seen.counts}


def test_a_job_counts_once_it_is_handed_back_and_only_where_something_was_found() -> None:
    here = an_office()
    job = an_inspection(here)
    played(here, job)
    assert counts(here) == (0, {})

    Player(here.office, job.id, FAY.id, "").say(e.HandedBack(""))
    assert counts(here) == (1, {"stabiliser_link": (1, 0, 0, 0)})

    nothing = here.open(LOOK, complaint="A check before the holidays")
    handed_back(here, nothing, {"l1.complaint": Found("none", "sound", "")})
    assert counts(here) == (1, {"stabiliser_link": (1, 0, 0, 0)})


def test_mended_on_the_same_job_and_gone_on_the_road() -> None:
    here = an_office()
    handed_back(here, an_inspection(here, LINKS))

    assert counts(here) == (1, {"stabiliser_link": (1, 1, 1, 0)})
    other = an_inspection(here)
    text = text_of(own(here, other))
    assert "Counted apart: the order does not know of them." in text
    assert "Stabiliser link 1 1 1 0" in text


def test_still_there_on_the_road_is_not_gone() -> None:
    here = an_office()
    still = {**LOOSE, "closing.road_test": Found("still_there", "watch", "Knocks as before")}
    handed_back(here, an_inspection(here, LINKS), still)

    assert counts(here) == (1, {"stabiliser_link": (1, 1, 0, 0)})


@pytest.mark.parametrize(("days", "mended"), [(29, 1), (32, 0)])
def test_work_on_a_later_job_of_the_vehicle_counts_within_thirty_days(days: int, mended: int) -> None:
    here = an_office()
    handed_back(here, an_inspection(here))
    here.now += timedelta(days=days)
    handed_back(here, here.open(LINKS, complaint="Links as agreed"), {})

    assert counts(here)[1]["stabiliser_link"] == (1, mended, mended, 0)


def test_the_same_kind_of_complaint_again_is_a_vehicle_that_came_back() -> None:
    here = an_office()
    handed_back(here, an_inspection(here, LINKS))
    here.now += timedelta(days=60)
    again = an_inspection(here)
    played(here, again, until="l1.complaint_when")

    assert counts(here)[1]["stabiliser_link"] == (1, 1, 1, 1)


def test_a_comeback_said_at_the_intake_counts_before_anybody_has_looked() -> None:
    here = an_office()
    first = an_inspection(here, LINKS)
    handed_back(here, first)
    here.now += timedelta(days=9)
    wanted = JobWanted("v-1", "Knocks again", None, None, (LOOK,), comeback_of=first.id)
    open_job(here.office, FAY.id, wanted)

    assert counts(here)[1]["stabiliser_link"] == (1, 1, 1, 1)


def test_other_work_or_the_other_axle_does_not_mend_it() -> None:
    here = an_office()
    joint = JobLine("", "ball_joint", Axle.FRONT, "right", (("joint_position", "lower"),))
    handed_back(here, an_inspection(here, joint))

    assert counts(here)[1]["stabiliser_link"] == (1, 0, 0, 0)


def test_counts_are_fetched_beside_the_order_and_are_a_page_without_script() -> None:
    here = an_office()
    job = an_inspection(here)
    address = f"/jobs/{job.number}/suspects/own"

    assert f'hx-get="{address}"' in see(here, job)
    assert f'href="{address}"' in see(here, job)
    assert "No closed job has evidence that put a part first yet." in text_of(own(here, job))
    part = here.client(ADA).get(address, headers={"HX-Request": "true"}).text
    assert "<html" not in part
    assert 'id="own-head"' in part
    assert here.client(DEE).get(address).status_code == 403


def test_no_more_than_the_newest_are_looked_at_and_the_page_says_how_many() -> None:
    here = an_office()

    assert NEWEST == 100
    handed_back(here, an_inspection(here))
    assert "Of the newest 100 closed jobs looked at: 1 in which" in text_of(own(here, an_inspection(here)))


def _steps(player: Player) -> tuple[Step, ...]:
    packet = player.sheet.packet
    assert packet is not None
    return packet.steps


# --- The questions on the sheet -----------------------------------------------------------------------------------


def test_a_question_asks_for_an_answer_and_no_verdict_and_shows_the_answer() -> None:
    here = an_office()
    job = an_inspection(here)
    ada = here.client(ADA)
    address = f"/jobs/{job.number}/sheet?step=l1.complaint_when"
    page = ada.get(address).text

    form = next(one for one in page.split("<form")[1:] if 'value="test_recorded"' in one).partition("</form>")[0]
    assert '<input type="hidden" name="verdict" value="sound">' in form
    assert 'type="radio" name="verdict"' not in form
    assert "Record the answer" in form

    hidden = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form))
    sent = ada.post(f"/jobs/{job.number}/entries", data={**hidden, "choice": "bumps", "reason": "On cobbles"})
    assert sent.status_code in (200, 303), sent.text
    shown = text_of(ada.get(address).text)
    assert "Over bumps or on rough road · “On cobbles” Ada Lindqvist" in shown
    assert "sound Over bumps" not in shown


def test_a_question_without_an_answer_chosen_is_refused_and_keeps_what_was_typed() -> None:
    here = an_office()
    job = an_inspection(here)
    ada = here.client(ADA)
    page = ada.get(f"/jobs/{job.number}/sheet?step=l1.complaint").text
    form = next(one for one in page.split("<form")[1:] if 'value="test_recorded"' in one).partition("</form>")[0]
    hidden = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form))

    sent = ada.post(f"/jobs/{job.number}/entries", data={**hidden, "reason": "Knocks on cobbles"})

    assert sent.status_code == 422
    assert "Knocks on cobbles" in sent.text
    assert f'href="/jobs/{job.number}/suspects"' in sent.text
