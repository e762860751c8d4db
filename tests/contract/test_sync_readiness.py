"""`/sync/readiness`: a tablet's report is kept under its credential; everything else is refused in a sentence."""

from __future__ import annotations

import json
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from app.domain.readiness import NEEDED, POINTS, ReadinessCheck
from app.domain.records import Tablet
from app.sync.readiness import make_router
from tests.offices import MONDAY, Workshop, an_office

BENCH = Tablet("tablet-1", "Bench")
AUTHORIZATION = "Tablet tablet-1.secret"


@pytest.fixture
def here() -> Workshop:
    here = an_office()
    here.add("tablets", BENCH)
    return here


@pytest.fixture
def tablet(here: Workshop) -> TestClient:
    app = FastAPI()
    app.include_router(make_router(here.office, {AUTHORIZATION: BENCH.id, "Tablet gone.secret": "gone"}.get))
    return TestClient(app, headers={"Authorization": AUTHORIZATION}, raise_server_exceptions=False)


def report(*failed: str, left_out: tuple[str, ...] = ("credential",)) -> dict[str, Any]:
    points = [
        {"key": key, "passed": key not in failed, "words": f"Words of {key}."} for key in POINTS if key not in left_out
    ]
    return {"tablet": BENCH.id, "points": points}


def kept(here: Workshop) -> ReadinessCheck:
    found = here.get("readiness", BENCH.id)
    assert isinstance(found, ReadinessCheck)
    return found


def test_a_report_with_everything_in_order_is_kept_with_its_time(here: Workshop, tablet: TestClient) -> None:
    answer = tablet.post("/sync/readiness", json=report())

    assert (answer.status_code, answer.json()) == (200, {"kept": True, "missing": []})
    check = kept(here)
    assert check.is_ready
    assert check.checked_at == MONDAY
    assert [one.key for one in check.points] == list(POINTS)
    assert here.get("tablets", BENCH.id).seen_at == MONDAY


@pytest.mark.parametrize("key", [key for key in NEEDED if key != "credential"])
def test_a_point_that_failed_is_named(here: Workshop, tablet: TestClient, key: str) -> None:
    assert tablet.post("/sync/readiness", json=report(key)).json()["missing"] == [key]
    assert kept(here).missing == (key,)


@pytest.mark.parametrize("key", [key for key in NEEDED if key != "credential"])
def test_a_point_that_was_not_looked_at_counts_as_failed(here: Workshop, tablet: TestClient, key: str) -> None:
    tablet.post("/sync/readiness", json=report(left_out=("credential", key)))

    assert kept(here).missing == (key,)


def test_a_camera_is_not_needed(here: Workshop, tablet: TestClient) -> None:
    tablet.post("/sync/readiness", json=report("camera"))

    assert kept(here).is_ready


def test_the_credential_is_the_office_s_to_say(here: Workshop, tablet: TestClient) -> None:
    sent = report("credential", left_out=())
    assert tablet.post("/sync/readiness", json=sent).json()["missing"] == []


def test_the_next_report_takes_the_place_of_the_last(here: Workshop, tablet: TestClient) -> None:
    tablet.post("/sync/readiness", json=report("worker"))
    here.clock.forward(hours=2)
    tablet.post("/sync/readiness", json=report())

    assert kept(here).is_ready
    assert kept(here).checked_at == here.clock.now
    assert len(here.all("readiness")) == 1


@pytest.mark.parametrize("header", ["", "Tablet tablet-1.guessed", "Bearer x"])
def test_an_unknown_credential_is_refused(here: Workshop, tablet: TestClient, header: str) -> None:
    answer = tablet.post("/sync/readiness", json=report(), headers={"Authorization": header})

    assert (answer.status_code, answer.json()["problem"]) == (401, "tablet_unknown")
    assert answer.json()["words"]
    assert here.all("readiness") == ()


def test_a_tablet_that_the_office_has_lost_is_refused(tablet: TestClient) -> None:
    sent = {**report(), "tablet": "gone"}

    answer = tablet.post("/sync/readiness", json=sent, headers={"Authorization": "Tablet gone.secret"})

    assert (answer.status_code, answer.json()["problem"]) == (401, "tablet_unknown")


def test_a_retired_tablet_is_refused(here: Workshop, tablet: TestClient) -> None:
    here.save("tablets", Tablet(BENCH.id, BENCH.name, retired=True))

    answer = tablet.post("/sync/readiness", json=report())

    assert (answer.status_code, answer.json()["problem"]) == (401, "tablet_unknown")
    assert here.all("readiness") == ()


NOT_A_REPORT: list[Any] = [
    None, [], "x", 1, {}, {"tablet": BENCH.id}, {"points": []}, {"tablet": "tablet-2", "points": []},
    {"tablet": BENCH.id, "points": {}}, {"tablet": BENCH.id, "points": ["x"]},
    *({"tablet": BENCH.id, "points": [{"key": "room", "passed": True, "words": "x", **wrong}]} for wrong in (
        {"key": "haircut"}, {"key": 1}, {"passed": 1}, {"passed": "yes"}, {"passed": None}, {"words": 1},
        {"words": "x" * 401},
    )),
    {"tablet": BENCH.id, "points": [{"key": "room", "passed": True, "words": ""}] * 2},
]  # fmt: skip


@pytest.mark.parametrize("body", [*(json.dumps(one) for one in NOT_A_REPORT), "", "{", "[" * 100_000, "\xff"])
def test_what_is_no_report_is_refused_in_a_sentence(here: Workshop, tablet: TestClient, body: str) -> None:
    answer = tablet.post("/sync/readiness", content=body.encode("latin-1"))

    assert answer.status_code in (413, 422)
    assert answer.json()["problem"] == "readiness_unreadable"
    assert here.all("readiness") == ()


def test_too_much_is_refused_before_it_is_read(here: Workshop, tablet: TestClient) -> None:
    assert tablet.post("/sync/readiness", content=b" " * 70_000).status_code == 413


def test_words_no_database_keeps_are_kept_without_them(here: Workshop, tablet: TestClient) -> None:
    body = json.dumps({"tablet": BENCH.id, "points": [{"key": "room", "passed": True, "words": "a\0b\ud800c"}]})

    assert tablet.post("/sync/readiness", content=body).status_code == 200

    assert kept(here).points[0].words == "abc"
