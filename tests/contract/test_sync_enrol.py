"""Enrolling a device with a one-time code, and signing a person in at it: happy, refused, twice, late, guessed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from app.domain.problems import NotFound, Refused
from app.use_cases.enrol_tablet import (
    CODE_LENGTH,
    LETTERS,
    folded,
    rename_tablet,
    retire_tablet,
)
from app.use_cases.sign_in import FREE_TRIES, LOCK_AFTER
from app.use_cases.tablet_credential import hash_of
from tests.builders import ADA, DEE, FAY
from tests.offices import PIN, Workshop, a_small_job, an_office
from tests.tablets import ATablet, a_code, a_tablet, the_whole_app


@pytest.fixture
def here() -> Workshop:
    here = an_office()
    a_small_job(here)
    return here


@pytest.fixture
def app(here: Workshop) -> FastAPI:
    return the_whole_app(here)


@pytest.fixture
def device(app: FastAPI) -> TestClient:
    return TestClient(app, base_url="http://office.test", raise_server_exceptions=False)


def enrols(device: TestClient, code: str, name: str = "Bench", **headers: str) -> Any:
    return device.post("/sync/enrol", json={"code": code, "name": name}, headers=headers)


def test_a_code_makes_a_device_a_tablet_with_a_secret_of_its_own(here: Workshop, device: TestClient) -> None:
    code = a_code(here)

    answer = enrols(device, code, "  Bay 2   bench ")

    assert answer.status_code == 200
    told = answer.json()
    tablet = here.get("tablets", told["tablet"]["id"])
    assert told["tablet"] == {"id": tablet.id, "name": "Bay 2 bench"}
    assert (tablet.secret_hash, tablet.enrolled_by) == (hash_of(told["secret"]), FAY.id)
    assert len(bytes.fromhex(told["secret"])) == 32
    client = ATablet(here, device, tablet.id, told["secret"])
    assert client.answers(client.entry())[0]["accepted"]


def test_neither_secret_nor_code_is_in_the_store(here: Workshop, device: TestClient) -> None:
    code = a_code(here)
    secret = enrols(device, code).json()["secret"]

    everything = repr(here.store._state.tables)

    assert secret not in everything
    assert folded(code) not in everything


def test_secrets_differ(here: Workshop, device: TestClient) -> None:
    told = [enrols(device, a_code(here), name).json()["secret"] for name in ("One", "Two")]

    assert told[0] != told[1]


@pytest.mark.parametrize("typed", [str.lower, lambda code: code.replace("-", " "), lambda code: f" {code}\t"])
def test_a_code_may_be_typed_as_it_is_read_out(here: Workshop, device: TestClient, typed: Any) -> None:
    assert enrols(device, typed(a_code(here))).status_code == 200


def test_a_code_has_nothing_in_it_that_looks_like_something_else() -> None:
    assert len(set(LETTERS)) == 32
    assert not set(LETTERS) & set("O0I1")
    assert 32**CODE_LENGTH == 2**50


def unknown(answer: Any) -> None:
    assert (answer.status_code, answer.json()["problem"]) == (422, "enrol_code_unknown")
    assert answer.json()["field"] == "code"


def test_a_code_is_used_once(here: Workshop, device: TestClient) -> None:
    code = a_code(here)
    enrols(device, code)

    unknown(enrols(device, code, "Other"))
    assert len(here.all("tablets")) == 1


def test_a_code_ends_after_ten_minutes(here: Workshop, device: TestClient) -> None:
    code = a_code(here)
    here.clock.forward(minutes=9, seconds=59)
    here.clock.forward(seconds=1)

    unknown(enrols(device, code))
    assert here.all("tablets") == ()


def test_a_guess_is_refused_and_guessing_is_slowed_and_locked(here: Workshop, device: TestClient) -> None:
    """As for a PIN: three free tries, then waits that double, after eight the code is as good as gone."""
    code = a_code(here)
    for _ in range(FREE_TRIES):
        unknown(enrols(device, "AAAAA-AAAAA"))

    slowed = enrols(device, code)
    assert (slowed.status_code, slowed.json()["problem"]) == (422, "enrol_code_slow")
    assert "Wait 5 seconds" in slowed.json()["words"]
    here.clock.forward(seconds=5)
    assert enrols(device, code).status_code == 200


def test_after_eight_guesses_no_wait_within_the_code_s_ten_minutes_helps(here: Workshop, device: TestClient) -> None:
    code, tries = a_code(here), 0
    while enrols(device, "AAAAA-AAAAA").json()["problem"] == "enrol_code_unknown" and tries < LOCK_AFTER:
        tries += 1
        here.clock.forward(seconds=0 if tries < FREE_TRIES else 5 * 2 ** (tries - FREE_TRIES))

    assert tries == LOCK_AFTER
    here.clock.forward(minutes=3)
    assert enrols(device, code).status_code == 422


def test_guessing_before_a_code_is_made_does_not_slow_that_code(here: Workshop, device: TestClient) -> None:
    for _ in range(20):
        unknown(enrols(device, "AAAAA-AAAAA"))

    assert enrols(device, a_code(here)).status_code == 200


NAMES = [("", "tablet_name_missing"), (" \n", "tablet_name_missing"), ("x" * 61, "too_long"),
         ("bench", "tablet_name_taken")]  # fmt: skip


@pytest.mark.parametrize(("name", "problem"), NAMES)
def test_a_name_that_cannot_be_leaves_the_code_as_it_was(
    here: Workshop, device: TestClient, name: str, problem: str
) -> None:
    enrols(device, a_code(here), "Bench")
    code = a_code(here)

    answer = enrols(device, code, name)

    assert (answer.status_code, answer.json()["problem"], answer.json()["field"]) == (422, problem, "name")
    assert enrols(device, code, "Pit").status_code == 200


@pytest.mark.parametrize(
    "body", [{}, {"code": "x"}, {"code": 5, "name": "x"}, {"code": "x", "name": "x" * 1_001},
             {"code": "A", "name": "nul \0"}, {"code": "\ud800", "name": "x"}],
    ids=str,
)  # fmt: skip
def test_what_is_no_enrolment_is_refused(device: TestClient, body: dict[str, Any]) -> None:
    import json

    answer = device.post("/sync/enrol", content=json.dumps(body).encode())

    assert (answer.status_code, answer.json()["problem"]) == (422, "enrol_unreadable")


def test_more_than_an_enrolment_can_be_is_refused(device: TestClient) -> None:
    assert device.post("/sync/enrol", content=b"{" + b" " * 20_000 + b"}").status_code == 422


# --- The same device again ------------------------------------------------------------------------------------------


def test_a_device_enrolled_again_stays_the_same_tablet(here: Workshop, app: FastAPI, device: TestClient) -> None:
    """Retired by mistake with entries waiting: under a new code it sends them, under a secret that is new."""
    tablet = a_tablet(here, app)
    waiting = [tablet.entry(), tablet.entry()]
    retire_tablet(here.office, FAY.id, tablet.id, "The wrong one")
    assert tablet.sends(*waiting).status_code == 401

    told = enrols(device, a_code(here), "Bench", Authorization=tablet.header).json()

    assert told["tablet"]["id"] == tablet.id
    assert tablet.sends(*waiting).status_code == 401
    tablet.secret = told["secret"]
    assert [one["accepted"] for one in tablet.answers(*waiting)] == [True, True]
    again = here.get("tablets", tablet.id)
    assert (again.retired, again.retired_because, again.retired_at) == (False, "", None)


def test_another_s_old_name_without_its_secret_is_a_new_tablet(
    here: Workshop, app: FastAPI, device: TestClient
) -> None:
    tablet = a_tablet(here, app)

    told = enrols(device, a_code(here), "Pit", Authorization=f"Tablet {tablet.id}.guessed").json()

    assert told["tablet"]["id"] != tablet.id
    assert tablet.answers(tablet.entry())[0]["kept"]


# --- Renaming and retiring ------------------------------------------------------------------------------------------


def test_a_tablet_is_renamed(here: Workshop, app: FastAPI) -> None:
    tablet = a_tablet(here, app)

    rename_tablet(here.office, tablet.id, " Bay 3 ")
    rename_tablet(here.office, tablet.id, "Bay 3")

    assert here.get("tablets", tablet.id).name == "Bay 3"


@pytest.mark.parametrize("name", ["", "PIT", "x" * 61])
def test_a_name_that_cannot_be_is_refused(here: Workshop, app: FastAPI, name: str) -> None:
    a_tablet(here, app, "Pit")
    tablet = a_tablet(here, app)

    with pytest.raises(Refused):
        rename_tablet(here.office, tablet.id, name)


def test_retiring_needs_a_reason_and_a_tablet(here: Workshop, app: FastAPI) -> None:
    tablet = a_tablet(here, app)

    with pytest.raises(Refused):
        retire_tablet(here.office, FAY.id, tablet.id, " ")
    with pytest.raises(NotFound):
        retire_tablet(here.office, FAY.id, "nothing", "Gone")
    assert not here.get("tablets", tablet.id).retired


def test_retired_once_it_stays_as_it_was_retired(here: Workshop, app: FastAPI) -> None:
    tablet = a_tablet(here, app)
    first = retire_tablet(here.office, FAY.id, tablet.id, "Broken")

    assert retire_tablet(here.office, DEE.id, tablet.id, "Sold") == first


# --- Signing in at a tablet -----------------------------------------------------------------------------------------


def test_a_person_signs_in_with_cookie_and_token(here: Workshop, app: FastAPI) -> None:
    tablet = a_tablet(here, app)

    answer = tablet.signs_in(ADA)

    told = answer.json()
    assert told["person"] == {"id": ADA.id, "name": "Ada", "roles": ["technician"], "language": ""}
    [signed] = here.all("sign_ins")
    assert (signed.person, signed.csrf) == (ADA.id, told["csrf"])
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert tablet.client.get("/work").status_code == 200
    [there] = here.all("tablet_people")
    assert (there.tablet, there.person, there.first_at) == (tablet.id, ADA.id, here.clock.now)


def test_signing_in_again_is_remembered_as_the_last_time(here: Workshop, app: FastAPI) -> None:
    tablet = a_tablet(here, app)
    tablet.signs_in(ADA)
    began = here.clock.now
    here.clock.forward(hours=1)
    tablet.signs_in(ADA)

    [there] = here.all("tablet_people")
    assert (there.first_at, there.last_at) == (began, here.clock.now)


def test_a_wrong_pin_is_told_slowed_and_gives_nothing(here: Workshop, app: FastAPI) -> None:
    tablet = a_tablet(here, app)

    answers = [tablet.signs_in(ADA, "0000") for _ in range(FREE_TRIES)]

    assert [one.status_code for one in answers] == [422] * FREE_TRIES
    assert [one.json()["problem"] for one in answers] == ["pin_wrong", "pin_wrong", "pin_locked"]
    assert tablet.signs_in(ADA, PIN).json()["problem"] == "pin_locked"
    assert "set-cookie" not in answers[0].headers
    assert here.all("sign_ins") == here.all("tablet_people") == ()


@pytest.mark.parametrize("leaves", [True, False])
def test_nobody_and_whoever_has_left_cannot_sign_in(here: Workshop, app: FastAPI, leaves: bool) -> None:
    tablet = a_tablet(here, app)
    who = ADA if leaves else replace(ADA, id="p-nobody")
    if leaves:
        here.save("people", replace(here.get("people", ADA.id), active=False))

    assert tablet.signs_in(who).json()["problem"] == "choose_person"


@pytest.mark.parametrize(
    "change", [{"pin": 2580}, {"person": None}, {"pin": "\0"}, {"person": "x" * 1_001}, {"tablet": 5}], ids=str
)
def test_what_is_no_sign_in_is_refused(here: Workshop, app: FastAPI, change: dict[str, Any]) -> None:
    tablet = a_tablet(here, app)

    answer = tablet.posts("/sync/sign-in", {"tablet": tablet.id, "person": ADA.id, "pin": PIN, **change})

    assert (answer.status_code, answer.json()["problem"]) == (422, "sign_in_unreadable")


def test_at_a_tablet_that_is_none_nobody_s_pin_is_tried(here: Workshop, app: FastAPI) -> None:
    tablet = a_tablet(here, app)
    retire_tablet(here.office, FAY.id, tablet.id, "Sold")

    for _ in range(5):
        assert tablet.signs_in(ADA, "0000").status_code == 401

    assert here.get("people", ADA.id).wrong_tries == 0
