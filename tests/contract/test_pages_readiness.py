"""The page on which a tablet proves itself, and what the Desk reads of it."""

from __future__ import annotations

import re
from datetime import timedelta

from starlette.testclient import TestClient

from app.domain.readiness import POINTS, ReadinessCheck, ReadinessPoint
from app.domain.records import Tablet
from app.settings import ROOT
from tests.offices import FAY, MONDAY, a_visitor, an_app, an_office

SCRIPT = (ROOT / "static" / "tablet" / "readiness.js").read_text("utf-8")


def everything(*failed: str) -> tuple[ReadinessPoint, ...]:
    return tuple(ReadinessPoint(key, key not in failed, "") for key in POINTS)


def test_the_page_is_open_to_whoever_holds_the_tablet_and_lists_every_point() -> None:
    answer = TestClient(an_app(an_office())).get("/readiness")

    assert answer.status_code == 200
    assert re.findall(r'class="point" data-point="(\w+)"', answer.text) == list(POINTS)
    assert answer.text.count("data-optional") == 1


def test_there_is_a_sentence_for_everything_the_script_can_find() -> None:
    """The codes are read out of the script: `no("…")` and `why: "…"`; any point may fail in a way nobody thought of."""
    html = TestClient(an_app(an_office())).get("/readiness").text
    functions = re.split(r"\n(?:async )?function ", SCRIPT)[1:]
    bodies = {"credential" if one.startswith("tell(") else one.partition("(")[0]: one for one in functions}
    found = {key: codes_in(bodies[key]) for key in POINTS}
    assert found["clock"] == {"away", "fast", "slow", "yes"}
    assert found["secure"] == {"failed", "here", "number", "plain", "yes"}
    for key, codes in found.items():
        (point,) = re.findall(rf'<li class="point" data-point="{key}".*?>', html, re.DOTALL)
        assert codes | {"failed", "yes"} == set(re.findall(r"data-says-(\w+)=", point)), key


def codes_in(body: str) -> set[str]:
    """`no("…")` either side of a choice, `why: "…"`, and `yes()`. What is asked of the browser is no code."""
    refusals = " ".join(re.findall(r"no\((.*)\)", body))
    named = re.findall(r'"(\w+)"(?! in)', refusals) + re.findall(r'why: "(\w+)"', body)
    # What the office's silence comes to is said where it is caught.
    silent = ["away"] if body.startswith("tell(") else []
    return {*named, *silent, *(["yes"] if "yes(" in body else [])}


def test_the_desk_reads_when_a_tablet_was_looked_at_and_what_was_missing() -> None:
    here = an_office()
    here.add("tablets", Tablet("t1", "Bench"), Tablet("t2", "Pit"), Tablet("t3", "Road"))
    here.add(
        "readiness",
        ReadinessCheck("t1", "t1", MONDAY, everything("camera")),
        ReadinessCheck("t2", "t2", MONDAY - timedelta(days=3), everything("worker", "room")),
    )

    text = a_visitor(an_app(here), FAY).get("/desk/tablets").text

    assert "Checked 11:00: every point in order." in text
    assert "Checked 5 Jun, 11:00. Not in order: Worker, Room." in text
    assert "Not looked at yet." in text


def test_signing_in_leads_there() -> None:
    assert 'href="/readiness"' in TestClient(an_app(an_office())).get("/sign-in").text
