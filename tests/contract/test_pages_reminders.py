"""The page of reminders: reached from the Desk, marked done by name, every slip told, nothing typed lost."""

from __future__ import annotations

import re
from datetime import date, timedelta
from html import unescape

import pytest

from app.domain.records import Reminder, ReminderKind
from tests.builders import ADA, DEE, FAY
from tests.contract.test_pages_crib import BAD, SCRIPT, told_in
from tests.offices import VEHICLE, Visitor, Workshop, a_small_job, a_visitor, an_app, an_office

DAY = date(2026, 6, 8)


@pytest.fixture
def here() -> Workshop:
    made = an_office()
    job = a_small_job(made)
    for one, ahead in (("a", 0), ("b", 20), ("c", 100)):
        made.add(
            "reminders",
            Reminder(
                f"1001:l1.{one}", job.id, VEHICLE.id, ReminderKind.WATCH, f"Joint {one}: a little play",
                DAY + timedelta(days=ahead), 91_000 if one == "a" else None, made.clock.now,
            ),
        )  # fmt: skip
    return made


@pytest.fixture
def dee(here: Workshop) -> Visitor:
    return a_visitor(an_app(here), DEE)


def words(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page)))


def test_it_says_whom_to_call_about_what_and_by_when(dee: Visitor) -> None:
    said = words(dee.get("/desk/reminders").text)
    assert "Due: 1" in said
    assert "In the next 30 days: 1" in said
    assert "Later: 1" in said
    assert "CP 1001 To be looked at again Joint a: a little play by 8 Jun 2026, or at 91000 km · from job 1001" in said
    assert "Mira Okonjo · +00 2 555 · mira@okonjo.example" in said


def test_it_is_reached_from_the_desk_and_the_intake(here: Workshop, dee: Visitor) -> None:
    front = dee.get("/desk").text
    assert "1 reminder is due" in words(front)
    assert 'href="/desk/reminders"' in front
    intake = words(dee.get("/desk/intake?vehicle=v-1").text)
    assert "Left from earlier jobs" in intake
    assert "Joint a: a little play" in intake


def test_marking_one_done_takes_it_off_the_list_with_the_persons_name(here: Workshop, dee: Visitor) -> None:
    answer = dee.fills_in("/desk/reminders", "/desk/reminders/1001%3Al1.a", {"words": "Was here, no play"})
    assert answer.status_code == 303
    page = words(dee.get(answer.headers["location"]).text)
    assert "Marked done, with your name." in page
    assert "Due: 0 Nothing is due." in page
    assert here.get("reminders", "1001:l1.a").done_by == DEE.id
    history = words(dee.get("/desk/vehicles/v-1/history").text)
    assert "Done: Was here, no play Dee" in history


def test_what_somebody_did_before_is_not_written_over(here: Workshop, dee: Visitor) -> None:
    fay = a_visitor(an_app(here), FAY)
    fay.sends("/desk/reminders/1001:l1.a", {"words": "first"})
    answer = dee.sends("/desk/reminders/1001:l1.a", {"words": "second"})
    assert answer.status_code == 422
    assert "marked this done before you" in told_in(answer.text)
    assert here.get("reminders", "1001:l1.a").done_words == "first"


@pytest.mark.parametrize("key", ["a", "c"])
def test_too_many_words_are_kept_and_told_beside_the_field(here: Workshop, dee: Visitor, key: str) -> None:
    answer = dee.sends(f"/desk/reminders/1001:l1.{key}", {"words": "y" * 401})
    assert answer.status_code == 422
    assert "at most 400 characters" in told_in(answer.text)
    assert f'id="words" name="words" value="{"y" * 401}"' in answer.text
    assert here.get("reminders", f"1001:l1.{key}").done_at is None


@pytest.mark.parametrize("bad", BAD)
def test_whatever_is_typed_is_text(dee: Visitor, bad: str) -> None:
    answer = dee.sends("/desk/reminders/1001:l1.b", {"words": bad})
    assert answer.status_code in (303, 413, 422)
    for page in ("/desk/reminders", "/desk/vehicles/v-1/history"):
        assert SCRIPT not in dee.get(page).text


def test_nothing_left_says_so_and_it_is_for_the_desk_alone(here: Workshop, dee: Visitor) -> None:
    assert "Nothing is due." in words(a_visitor(an_app(an_office()), DEE).get("/desk/reminders").text)
    assert dee.sends("/desk/reminders/nothing", {"words": ""}).status_code == 404
    ada = a_visitor(an_app(here), ADA)
    assert ada.get("/desk/reminders").status_code == 403
    assert ada.sends("/desk/reminders/1001:l1.a", {"words": ""}).status_code == 403
