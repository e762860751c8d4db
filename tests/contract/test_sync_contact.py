"""`/sync/contact`: what a tablet gets, that it is only what changed, and what it is refused for."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from fastapi import FastAPI
from jsonschema import Draft202012Validator

from app.domain import entry as e
from app.domain.packet import packet_from_json
from app.domain.records import Job, JobState, Placement
from app.domain.sheet import sheet_from
from app.use_cases.cancel_job import cancel_job
from app.use_cases.enrol_tablet import retire_tablet
from app.use_cases.office_entry import office_entry
from app.use_cases.open_job import pin
from app.use_cases.record_entry import record_form
from tests.builders import ADA, BEN, FAY, JOB, Play, a_packet
from tests.contract.make_contracts import CONTRACTS
from tests.offices import BAYS, PIN, Workshop, plays
from tests.tablets import ATablet, a_tablet, nothing_in


def note(here: Workshop, words: str = "Seen", job: str = JOB) -> None:
    """Somebody at the office writes a note on the sheet."""
    with here.store.reading() as unit:
        sheet = unit.sheets.get(job)
    assert sheet is not None
    record_form(here.office, office_entry(here.office, ADA.id, sheet, e.NoteAdded(words)))


def test_the_first_contact_brings_the_sheet_its_packet_and_its_drawings(here: Workshop, tablet: ATablet) -> None:
    told = tablet.meets()

    job = told["jobs"][JOB]
    sheet = here.sheet(replace(here.get("jobs", JOB)))
    packet = packet_from_json(json.dumps(told["packets"][job["packet"]]))
    assert sheet_from(job["state"], packet).hash == sheet.hash == job["hash"]
    assert (job["number"], job["open"]) == ("1001", True)
    with here.store.reading() as unit:
        assert job["through"] == unit.ledger.of_job(JOB)[-1].heard.order
    assert job["about"]["complaint"] == "It clunks over bumps"
    assert job["about"]["promised_ms"] is None
    assert [ADA.id, ADA.name] in job["about"]["people"]
    assert set(told["pictures"]) == {job["packet"]}
    assert told["pictures"][job["packet"]]["stars"]
    assert told["more"] is False


def test_every_contact_says_the_time_the_shop_the_people_and_the_bundle(here: Workshop, tablet: ATablet) -> None:
    here.save("people", replace(here.get("people", BEN.id), active=False))

    told = tablet.meets()

    assert told["now_ms"] == here.office.now_ms
    assert told["shop"] == {"name": "Kettle Lane Axles", "timezone": "Europe/Helsinki", "language": "en"}
    assert {"id": ADA.id, "name": "Ada", "roles": ["technician"], "language": ""} in told["people"]
    assert BEN.id not in [one["id"] for one in told["people"]]
    assert len(told["bundle"]) == 16


def test_a_contact_with_nothing_changed_brings_nothing(tablet: ATablet) -> None:
    tablet.signs_in()
    tablet.meets(signed_in=ADA.id)

    assert nothing_in(tablet.meets(signed_in=ADA.id))


def test_only_a_job_that_changed_is_sent_and_a_packet_once(here: Workshop, tablet: ATablet) -> None:
    other = here.opens()
    first = tablet.meets()
    note(here)

    told = tablet.meets()

    assert set(first["jobs"]) == {JOB, other.id}
    assert set(told["jobs"]) == {JOB}
    assert told["packets"] == told["pictures"] == {}
    assert told["jobs"][JOB]["through"] > first["jobs"][JOB]["through"]


def test_what_is_about_a_job_is_sent_when_it_changes(here: Workshop, tablet: ATablet) -> None:
    tablet.meets()
    here.save("jobs", replace(here.get("jobs", JOB), complaint="It knocks"))

    assert tablet.meets()["jobs"][JOB]["about"]["complaint"] == "It knocks"


def test_a_job_without_a_pinned_packet_is_not_sent(here: Workshop, tablet: ATablet) -> None:
    here.add("jobs", replace(here.get("jobs", JOB), id="bare", number="1009"))

    assert set(tablet.meets()["jobs"]) == {JOB}


def test_a_closed_job_is_sent_closed_and_goes_a_day_later(here: Workshop, tablet: ATablet) -> None:
    """Whoever made the last entries in it there still sees what became of them."""
    tablet.meets()
    cancel_job(here.office, FAY.id, "1001", "The customer came for it")

    closed = tablet.meets()
    assert closed["jobs"][JOB]["open"] is False
    assert closed["gone"] == []
    assert nothing_in(tablet.meets())
    here.clock.forward(hours=25)
    assert tablet.meets()["gone"] == [JOB]
    assert nothing_in(tablet.meets())


def test_a_job_closed_before_is_never_sent(here: Workshop, tablet: ATablet) -> None:
    cancel_job(here.office, FAY.id, "1001", "The customer came for it")

    assert nothing_in(tablet.meets())


def test_a_job_the_office_does_not_know_is_gone(tablet: ATablet) -> None:
    tablet.have["elsewhere"] = ["x" * 64, "y" * 64, "z" * 32]

    assert tablet.meets()["gone"] == ["elsewhere"]


def test_jobs_come_twenty_at_a_time_and_the_rest_is_asked_for(here: Workshop, tablet: ATablet) -> None:
    with here.store.writing() as unit:
        for number in range(24):
            job: Job = replace(here.get("jobs", JOB), id=f"job-{number}-more", number=f"20{number:02}")
            unit.jobs.add(job)
            pin(here.office, unit, FAY.id, a_packet(job=job.id))
        unit.commit()

    first, second, third = tablet.meets(), tablet.meets(), tablet.meets()

    assert (len(first["jobs"]), first["more"]) == (20, True)
    assert (len(second["jobs"]), second["more"]) == (5, False)
    assert not set(first["jobs"]) & set(second["jobs"])
    assert nothing_in(third)


# --- The contract on file -------------------------------------------------------------------------------------------

CONTACTS = Draft202012Validator(json.loads((CONTRACTS / "contact.schema.json").read_text("utf-8")))


def test_what_a_tablet_says_is_what_the_contract_has(tablet: ATablet) -> None:
    tablet.meets()

    assert CONTACTS.is_valid(tablet.contact([1, 2]))


# --- My work --------------------------------------------------------------------------------------------------------


def test_my_work_is_carried_for_whoever_has_signed_in_there(here: Workshop, tablet: ATablet) -> None:
    now = here.clock.now
    here.add("placements", Placement("place", JOB, BAYS[0].id, ADA.id, now, now.replace(hour=12), FAY.id))
    assert tablet.meets()["work"] == {}
    tablet.signs_in()

    work = tablet.meets()["work"]

    assert set(work) == {ADA.id}
    assert [one["number"] for one in work[ADA.id]["view"]["now"]] == ["1001"]
    assert tablet.meets()["work"] == {}
    note(here)
    assert set(tablet.meets()["work"]) == {ADA.id}


def test_my_work_is_carried_for_who_signed_in_there_without_the_office(tablet: ATablet) -> None:
    assert set(tablet.meets(signed_in=BEN.id)["work"]) == {BEN.id}


def test_nobody_unknown_is_taken_for_signed_in(here: Workshop, tablet: ATablet) -> None:
    assert tablet.meets(signed_in="nobody")["work"] == {}
    assert here.all("tablet_people") == ()


def test_a_person_who_has_left_gets_no_work(here: Workshop, tablet: ATablet) -> None:
    tablet.signs_in()
    here.save("people", replace(here.get("people", ADA.id), active=False))

    assert tablet.meets()["work"] == {}


# --- The sign-in at the office --------------------------------------------------------------------------------------


def test_another_s_cookie_is_taken_away_and_that_sign_in_ends(here: Workshop, tablet: ATablet) -> None:
    tablet.signs_in(ADA)
    token = tablet.client.cookies["cotterpin"]
    here.clock.forward(minutes=5)

    answer = tablet.posts("/sync/contact", tablet.contact(signed_in=BEN.id))

    assert 'cotterpin="";' in answer.headers["set-cookie"]
    assert here.all("sign_ins") == ()
    tablet.client.cookies.set("cotterpin", token)
    assert tablet.client.get("/work", follow_redirects=False).headers["location"].startswith("/sign-in")


@pytest.mark.parametrize(("who", "minutes"), [(ADA.id, 5), ("", 0), (BEN.id, 0)])
def test_one_s_own_cookie_stays_and_so_does_a_fresh_one(
    here: Workshop, tablet: ATablet, who: str, minutes: int
) -> None:
    """A contact written down before somebody signed in may be heard just after."""
    tablet.signs_in(ADA)
    here.clock.forward(minutes=minutes)

    answer = tablet.posts("/sync/contact", tablet.contact(signed_in=who))

    assert "set-cookie" not in answer.headers
    assert len(here.all("sign_ins")) == 1


def test_a_page_fetched_for_another_person_finds_nobody_signed_in(tablet: ATablet) -> None:
    tablet.signs_in(ADA)

    mine = tablet.client.get("/work", headers={"X-Tablet-Person": ADA.id}, follow_redirects=False)
    other = tablet.client.get("/work", headers={"X-Tablet-Person": BEN.id}, follow_redirects=False)

    assert mine.status_code == 200
    assert (other.status_code, other.headers["location"]) == (303, "/sign-in?after=/work")


# --- Refusals -------------------------------------------------------------------------------------------------------

CREDENTIALS = [
    "", "Tablet", "Tablet .", "Tablet {id}", "Tablet {id}.", "Tablet {id}.wrong", "Tablet nobody.{secret}",
    "Bearer {id}.{secret}", "Tablet {id}.{secret}x", "Tablet {secret}.{id}", "tablet {id}.{secret}",
]  # fmt: skip


@pytest.mark.parametrize("header", CREDENTIALS)
@pytest.mark.parametrize("path", ["/sync/contact", "/sync/entries", "/sync/sign-in", "/sync/readiness"])
def test_without_its_credential_nothing_is_told(here: Workshop, tablet: ATablet, path: str, header: str) -> None:
    body = tablet.contact() | {"entries": [], "person": ADA.id, "pin": PIN, "points": []}

    answer = tablet.posts(path, body, Authorization=header.format(id=tablet.id, secret=tablet.secret))

    assert answer.status_code == 401
    assert answer.json()["problem"] == "tablet_unknown"
    assert "A foreman can enrol it" in answer.json()["words"]
    assert here.get("tablets", tablet.id).seen_at is None


def test_a_retired_tablet_is_told_nothing(here: Workshop, tablet: ATablet) -> None:
    retire_tablet(here.office, FAY.id, tablet.id, "Its glass is broken")

    for path in ("/sync/contact", "/sync/entries", "/sync/sign-in", "/sync/readiness"):
        body = tablet.contact() | {"entries": [], "person": ADA.id, "pin": PIN, "points": []}
        assert tablet.posts(path, body).status_code == 401, path


def test_one_tablet_does_not_speak_for_another(here: Workshop, app: FastAPI, tablet: ATablet) -> None:
    other = a_tablet(here, app, "Pit")

    answer = tablet.posts("/sync/contact", tablet.contact() | {"tablet": other.id})

    assert (answer.status_code, answer.json()["problem"]) == (422, "not_yours")


BAD: list[dict[str, Any]] = [
    {"said_seq": -1}, {"said_seq": "5"}, {"said_seq": True}, {"said_seq": None}, {"said_seq": 2**53},
    {"now_ms": "now"}, {"now_ms": 2**63}, {"waiting": 3}, {"waiting": {"count": -1, "from": 1}}, {"oldest": "1"},
    {"waiting": {"count": 1, "from": "x"}}, {"have": []}, {"have": {"job 1": []}}, {"have": {JOB: "x"}},
    {"have": {JOB: [[1]]}}, {"have": {JOB: ["x" * 101]}}, {"pictures": {}}, {"pictures": [7]}, {"work": {ADA.id: 7}},
    {"signed_in": "a person\u0000"}, {"signed_in": 7}, {"bundle": "b" * 101}, {"photos_waiting": "none"},
]  # fmt: skip


@pytest.mark.parametrize("bad", BAD, ids=str)
def test_what_cannot_be_meant_is_refused_in_a_sentence(here: Workshop, tablet: ATablet, bad: dict[str, Any]) -> None:
    assert not CONTACTS.is_valid(tablet.contact() | bad)
    answer = tablet.posts("/sync/contact", tablet.contact() | bad)

    assert (answer.status_code, answer.json()["problem"]) == (422, "contact_unreadable")
    assert next(iter(bad)) in answer.json()["words"]
    assert here.get("tablets", tablet.id).said_at is None


RAW = [b"", b"{", b"[]", b"null", b'"contact"', b'{"said_seq": 1.5}', b'{"now_ms": NaN}', b"\xff\xfe", b"[" * 50_000]


@pytest.mark.parametrize("raw", RAW, ids=repr)
@pytest.mark.parametrize("path", ["/sync/contact", "/sync/entries", "/sync/sign-in", "/sync/enrol"])
def test_what_is_no_message_is_refused_in_a_sentence(tablet: ATablet, path: str, raw: bytes) -> None:
    answer = tablet.posts(path, raw)

    assert answer.status_code == 422
    assert answer.json()["words"].endswith(".")


def test_more_than_a_contact_can_hold_is_refused(tablet: ATablet) -> None:
    answer = tablet.posts("/sync/contact", tablet.contact(bundle="x" * 2**20))

    assert (answer.status_code, answer.json()["problem"]) == (413, "contact_too_large")


def test_what_a_later_version_adds_is_no_trouble(tablet: ATablet) -> None:
    assert tablet.posts("/sync/contact", tablet.contact() | {"battery": 80}).status_code == 200


def test_what_an_earlier_version_leaves_out_is_no_trouble(tablet: ATablet) -> None:
    told = {key: value for key, value in tablet.contact().items() if key in ("tablet", "said_seq", "now_ms")}

    assert tablet.posts("/sync/contact", told).status_code == 200


def test_plays_reach_the_tablet_byte_for_byte(here: Workshop, tablet: ATablet) -> None:
    """After a day's entries of every sort the state sent is the state kept."""
    play = Play(a_packet())
    since = len(play.history)
    play.does(ADA, e.HoldPlaced("Crack in the arm"))
    play.does(ADA, e.NoteAdded("Foreman told"))
    play.does(FAY, e.HoldLifted(hold=f"e-{since + 1}", reason="Only dirt"))
    plays(here, play, since)

    job = tablet.meets()["jobs"][JOB]

    assert sheet_from(job["state"], play.sheet.packet).hash == job["hash"] == here.sheet(here.get("jobs", JOB)).hash
    assert here.get("jobs", JOB).state is JobState.OPEN


# --- What a packet says in other languages -------------------------------------------------------------------------


def speaks(here: Workshop, person: str, language: str) -> None:
    here.save("people", replace(here.get("people", person), language=language))


def test_a_packets_texts_come_once_for_each_language_that_is_read_at_the_tablet(
    here: Workshop, tablet: ATablet
) -> None:
    assert "texts" not in tablet.meets()["jobs"][JOB]
    # Somebody of the workshop reads Spanish, but not at this tablet.
    speaks(here, ADA.id, "es")
    assert tablet.meets()["jobs"] == {}

    told = tablet.meets(signed_in=ADA.id)["jobs"][JOB]
    assert set(told["texts"]) == {"es"}
    mark = told["texts_mark"]
    assert mark

    note(here)
    again = tablet.meets()["jobs"][JOB]
    assert again["texts_mark"] == mark
    assert "texts" not in again

    # A tablet that lost them, or has them in an older wording, gets them with the next news of the job.
    tablet.have[JOB][2] = "older"
    note(here, "Seen again")
    said = tablet.meets()["jobs"][JOB]["texts"]["es"]
    assert set(said) == {"packet", "pictures"}
    assert said["pictures"]
    assert all(english != words for part in said.values() for english, words in part.items())


def test_drawings_and_packets_are_in_english_whatever_the_workshop_speaks(here: Workshop, tablet: ATablet) -> None:
    before = tablet.meets()
    (shop,) = here.all("shops")
    here.save("shops", replace(shop, language="es"))
    other = a_tablet(here, name="Second")
    told = other.meets()
    assert (told["packets"], told["pictures"]) == (before["packets"], before["pictures"])
    assert set(told["jobs"][JOB]["texts"]) == {"es"}
    speaks(here, ADA.id, "en")
    speaks(here, BEN.id, "en")
    assert set(a_tablet(here, name="Third").meets()["jobs"][JOB]["texts"]) == {"es"}
