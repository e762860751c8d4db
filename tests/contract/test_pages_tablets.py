"""The pages about tablets: enrolling by code, renaming, retiring; what was lost on the Floor, and settling it."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from html import unescape
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from app.domain.readiness import NEEDED, ReadinessCheck, ReadinessPoint
from app.domain.records import AlarmKind, TabletAlarm
from app.web.desk.tablets import why_doubted
from app.web.pages.tablets import names_words
from tests.builders import ADA, BEN, DEE, FAY
from tests.offices import Visitor, Workshop, a_small_job, a_visitor, an_office
from tests.tablets import ATablet, a_tablet, the_whole_app


@pytest.fixture
def here() -> Workshop:
    here = an_office()
    a_small_job(here)
    return here


@pytest.fixture
def app(here: Workshop) -> FastAPI:
    return the_whole_app(here)


@pytest.fixture
def foreman(app: FastAPI) -> Visitor:
    return a_visitor(app, FAY)


@pytest.fixture
def tablet(here: Workshop, app: FastAPI) -> ATablet:
    return a_tablet(here, app, "Bench tablet")


def words_of(answer: Any) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", answer.text)).split())


# --- Enrolling ------------------------------------------------------------------------------------------------------


def test_a_foreman_is_shown_a_code_that_enrols_one_device(here: Workshop, app: FastAPI, foreman: Visitor) -> None:
    answer = foreman.fills_in("/desk/tablets", "/desk/tablets/codes")

    assert answer.status_code == 200
    [code] = re.findall(r'tablet-code__code">([A-Z2-9]{5}-[A-Z2-9]{5})<', answer.text)
    assert f"http://office.test/enrol/{code}" in answer.text
    assert "<svg" in answer.text
    assert "until 11:10" in words_of(answer)
    device = TestClient(app, base_url="http://office.test")
    assert device.post("/sync/enrol", json={"code": code, "name": "Pit"}).status_code == 200
    assert "Pit" in foreman.get("/desk/tablets").text


def test_the_svg_carries_no_style_that_the_page_s_policy_forbids(foreman: Visitor) -> None:
    svg = re.search(r"<svg.*?</svg>", foreman.sends("/desk/tablets/codes").text, re.DOTALL)

    assert svg is not None
    assert "style=" not in svg[0]


def test_the_desk_sees_the_tablets_and_enrols_none(here: Workshop, app: FastAPI, tablet: ATablet) -> None:
    desk = a_visitor(app, DEE)

    page = desk.get("/desk/tablets")

    assert "Bench tablet" in page.text
    assert "/desk/tablets/codes" not in page.text
    assert desk.sends("/desk/tablets/codes").status_code == 403
    assert desk.get(f"/desk/tablets/{tablet.id}").status_code == 403


@pytest.mark.parametrize(
    ("base", "doubt"),
    [
        ("https://office.larkfield.test:8765", ""),
        ("http://localhost:8765", ""),
        ("http://office.larkfield.test", "opened without HTTPS"),
        ("https://192.168.1.20", "opened at a bare number"),
        ("http://192.168.1.20:8765", "opened at a bare number"),
        ("https://[fd00::1]:8765", "opened at a bare number"),
    ],
)
def test_an_address_a_tablet_would_refuse_is_said_beside_the_code(base: str, doubt: str) -> None:
    assert doubt in why_doubted(base)
    assert bool(doubt) == bool(why_doubted(base))


@pytest.mark.parametrize("path", ["/enrol", "/enrol/ABCDE-23456", "/enrol/abcde23456", "/enrol/%00%3Cscript%3E"])
def test_the_page_on_the_device_is_open_to_all_and_says_the_same_for_every_code(app: FastAPI, path: str) -> None:
    answer = TestClient(app, base_url="http://office.test").get(path)

    assert answer.status_code == 200
    assert 'id="enrol"' in answer.text
    assert "tablet/enrol.js" in answer.text
    value = re.search(r'name="code" value="([^"]*)"', answer.text)
    assert value is not None
    assert value[1] in ("", "ABCDE-23456", "SCRPT-")
    for name in ("address", "insecure", "away", "unkept", "done"):
        assert f'data-{name}="' in answer.text


# --- One tablet -----------------------------------------------------------------------------------------------------


def test_the_list_says_when_it_was_heard_what_it_owes_and_whether_it_is_ready(
    here: Workshop, foreman: Visitor, tablet: ATablet
) -> None:
    tablet.seq = 3
    tablet.meets([1, 2, 3], photos_waiting=1)
    here.add("readiness", ReadinessCheck(tablet.id, tablet.id, here.clock.now, tuple(
        ReadinessPoint(key, True, "") for key in NEEDED
    )))  # fmt: skip

    words = words_of(foreman.get("/desk/tablets"))

    assert "Bench tablet 11:00 3 entries, 1 photo bbbbbbbbbbbbbbbb" in words
    assert "in use" in words


def test_a_tablet_s_page_tells_what_is_known_of_it(here: Workshop, foreman: Visitor, tablet: ATablet) -> None:
    tablet.signs_in(ADA)
    tablet.signs_in(BEN)
    tablet.meets(now_ms=here.office.now_ms + 90_000)

    words = words_of(foreman.get(f"/desk/tablets/{tablet.id}"))

    assert "Enrolled 11:00, by Fay" in words
    assert "Worked there Ada and Ben" in words
    assert "Clock 90 s fast; nothing is decided by it" in words


def test_it_is_renamed(here: Workshop, foreman: Visitor, tablet: ATablet) -> None:
    page, action = f"/desk/tablets/{tablet.id}", f"/desk/tablets/{tablet.id}/name"

    answer = foreman.fills_in(page, action, {"name": "Pit tablet"})

    assert (answer.status_code, answer.headers["location"]) == (303, f"{page}?said=renamed")
    assert "under its new name" in foreman.get(answer.headers["location"]).text
    assert here.get("tablets", tablet.id).name == "Pit tablet"


def test_a_name_that_is_taken_is_told_beside_the_field_and_kept(
    here: Workshop, app: FastAPI, foreman: Visitor, tablet: ATablet
) -> None:
    a_tablet(here, app, "Pit")

    answer = foreman.fills_in(f"/desk/tablets/{tablet.id}", f"/desk/tablets/{tablet.id}/name", {"name": "pit"})

    assert answer.status_code == 422
    assert "There is a tablet called pit already" in answer.text
    assert 'value="pit"' in answer.text


def test_it_is_taken_out_of_use_with_a_reason(here: Workshop, foreman: Visitor, tablet: ATablet) -> None:
    tablet.seq = 2
    tablet.meets([1, 2])
    page, action = f"/desk/tablets/{tablet.id}", f"/desk/tablets/{tablet.id}/retire"
    assert "2 entries made on it are not here" in words_of(foreman.get(page))

    refused = foreman.fills_in(page, action, {"reason": "  "})
    done = foreman.fills_in(page, action, {"reason": "It fell into the pit"})

    assert refused.status_code == 422
    assert done.status_code == 303
    words = words_of(foreman.get(page))
    assert "11:00, Fay: It fell into the pit" in words
    assert "was taken out of use while 2 entries had not come. Settled: It fell into the pit" in words
    assert "Take out of use" not in words
    assert tablet.posts("/sync/contact", tablet.contact()).status_code == 401


@pytest.mark.parametrize("path", ["/desk/tablets/nothing", "/floor/tablets/nothing"])
def test_what_is_not_there_is_not_found(foreman: Visitor, path: str) -> None:
    assert foreman.get(path).status_code == 404
    for action in ("/name", "/retire") if "desk" in path else ("",):
        assert foreman.sends(f"{path}{action}", {"name": "x", "reason": "x"}).status_code == 404


# --- The Floor ------------------------------------------------------------------------------------------------------


def lost(here: Workshop, tablet: ATablet) -> TabletAlarm:
    tablet.signs_in(ADA)
    tablet.seq = 6
    tablet.meets(range(1, 7), signed_in=BEN.id)
    here.clock.forward(hours=2)
    tablet.meets()
    [alarm] = here.all("tablet_alarms")
    assert isinstance(alarm, TabletAlarm)
    return alarm


def test_a_loss_is_on_the_floor_in_plain_words_until_it_is_settled(
    here: Workshop, foreman: Visitor, tablet: ATablet
) -> None:
    alarm = lost(here, tablet)
    page = f"/floor/tablets/{alarm.id}"
    words = words_of(foreman.get("/floor"))
    assert "1 loss on a tablet" in words
    assert "Bench tablet had 6 entries to send that never came, and has no more of them now." in words
    assert "Made since 11:00. Ada and Ben worked there. Ask them what they did" in words

    refused = foreman.fills_in(page, page, {"reason": ""})
    done = foreman.fills_in(page, page, {"reason": "Both did it again"})

    assert refused.status_code == 422
    assert "Bench tablet had 6 entries" in refused.text
    assert (done.status_code, done.headers["location"]) == (303, "/floor?done=tablet")
    after = words_of(foreman.get(done.headers["location"]))
    assert "What the tablet lost is settled." in after
    assert "Bench tablet had" not in after
    assert "Nothing is known to be missing from a tablet." in after
    assert "Fay settled it, 13:00: Both did it again" in words_of(foreman.get(page))
    assert "<form" not in foreman.get(page).text.partition("<main")[2]


@pytest.mark.parametrize(
    ("kind", "count", "people", "words"),
    [
        (
            AlarmKind.WENT_BACK,
            1,
            ("Ada",),
            "came back with less than it had: 1 entry it had told of had not come. Ada w",
        ),
        (AlarmKind.WENT_BACK, 0, (), "whether it held more, nobody knows. Look at each open sheet"),
        (AlarmKind.NO_JOB, 2, ("Ada", "Ben", "Cleo"), "sent 2 entries for a job this office does not have."),
        (AlarmKind.NO_JOB, 2, ("Ada", "Ben", "Cleo"), "Ada, Ben and Cleo worked there."),
    ],
)
def test_each_kind_of_loss_has_its_words(
    here: Workshop, foreman: Visitor, tablet: ATablet, kind: AlarmKind, count: int, people: Any, words: str
) -> None:
    here.add("tablet_alarms", TabletAlarm("one", tablet.id, kind, here.clock.now, None, count, 0, 0, people))

    assert words in words_of(foreman.get("/floor"))


@pytest.mark.parametrize(("minutes", "shown"), [(59, False), (60, True)])
def test_entries_that_have_not_come_for_an_hour_are_on_the_floor(
    here: Workshop, foreman: Visitor, tablet: ATablet, minutes: int, shown: bool
) -> None:
    tablet.seq = 6
    tablet.meets(range(1, 7))
    here.clock.forward(minutes=minutes)

    assert ("Bench tablet: 6 entries not here yet, last heard 11:00." in words_of(foreman.get("/floor"))) is shown


def test_what_has_come_or_is_given_up_is_not_on_the_floor(here: Workshop, foreman: Visitor, tablet: ATablet) -> None:
    entries = [tablet.entry()]
    tablet.meets([1])
    here.clock.now += timedelta(hours=3)
    assert "Bench tablet: 1 entry not here yet" in words_of(foreman.get("/floor"))
    tablet.answers(*entries)
    assert "not here yet" not in words_of(foreman.get("/floor"))
    here.save("tablets", replace(here.get("tablets", tablet.id), said_seq=5, retired=True))
    assert "not here yet" not in words_of(foreman.get("/floor"))


def test_names_are_joined_as_people_say_them() -> None:
    assert [names_words(names) for names in ((), ("A",), ("A", "B"), ("A", "B", "C"))] == [
        "", "A", "A and B", "A, B and C",
    ]  # fmt: skip
