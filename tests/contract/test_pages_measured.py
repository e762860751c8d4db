"""Measured values: before beside after on a page, and a file of them looked at, refused line by line, and recorded."""

from __future__ import annotations

import re
from typing import Any

import pytest

from app.domain.entry import NoteAdded
from app.use_cases.measured_file import COLUMNS, KEYS
from app.use_cases.office_entry import office_entry
from app.use_cases.record_entry import record_form
from app.use_cases.shims import shims_of
from tests.builders import ROOT
from tests.contract.test_pages_floor import words
from tests.offices import ADA, FAY, Visitor, Workshop, a_visitor, an_app, an_office

HEAD = "when,axle,measure,value\n"
BEFORE = HEAD + "before,,front_left,643\nbefore,,rear_right,26 5/16 in\nbefore,front,camber_left,-1.35°\n"


@pytest.fixture
def here() -> Workshop:
    made = an_office()
    made.opens()
    return made


@pytest.fixture
def ada(here: Workshop) -> Visitor:
    return a_visitor(an_app(here), ADA)


ADDRESS = "/jobs/26-0001/measured"


def sends(visitor: Visitor, text: str, **more: str) -> Any:
    return visitor.client.post(
        ADDRESS, data={"csrf": visitor.csrf, "text": text, **more}, files={"nothing": ("", b"")}, follow_redirects=False
    )


def readings(here: Workshop) -> dict[str, tuple[int, str]]:
    sheet = here.sheet(here.all("jobs")[0])
    return {
        f"{step}.{name}": (taken.value, taken.text)
        for step, now in sheet.steps.items()
        for name, taken in now.readings.items()
    }


def test_a_file_is_looked_at_first_and_nothing_is_recorded(here: Workshop, ada: Visitor) -> None:
    answer = sends(ada, BEFORE)

    assert answer.status_code == 200
    assert "Line 2: before, front_left, 643 Goes to: Ride height before, four corners" in words(answer)
    assert "Goes to: Alignment before, front axle" in words(answer)
    assert 'name="sure" value="yes"' in answer.text
    assert readings(here) == {}


def test_recorded_it_is_what_would_have_been_typed_and_is_drawn(here: Workshop, ada: Visitor) -> None:
    answer = sends(ada, BEFORE, sure="yes")

    assert answer.status_code == 200
    assert words(answer).count("Recorded.") == 3
    assert readings(here) == {
        "opening.ride_height.front_left": (643_000, "643"),
        "opening.ride_height.rear_right": (668_338, "26 5/16"),
        "opening.alignment_before.front.camber_left": (-1_350, "−1.35"),
    }
    page = ada.get(ADDRESS)
    assert "643 mm before, not measured after" in words(page)
    assert page.text.count('<svg class="compared-drawing"') == 2
    assert "style=" not in page.text.split("<main")[1]


def test_the_same_file_again_records_nothing_twice(here: Workshop, ada: Visitor) -> None:
    sends(ada, BEFORE, sure="yes")
    entries = here.sheet(here.all("jobs")[0]).entries

    again, sure = sends(ada, BEFORE), sends(ada, BEFORE, sure="yes")

    assert words(again).count("Stands on the sheet already.") == 3
    assert 'name="sure"' not in again.text
    assert words(sure).count("Stands on the sheet already.") == 3
    assert here.sheet(here.all("jobs")[0]).entries == entries


def test_what_the_rules_set_aside_is_told_at_its_line(here: Workshop, ada: Visitor) -> None:
    """After the work is not yet: the closing's step waits for what comes before it."""
    answer = sends(ada, HEAD + "after,,front_left,655\n", sure="yes")

    assert answer.status_code == 200
    assert "Line 2: after, front_left, 655 Set aside:" in words(answer)
    assert len(here.sheet(here.all("jobs")[0]).asides) == 1


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("later,,front_left,643", "“later” is not before or after."),
        ("before,,front_middle,643", "“front_middle” is no key of a measure."),
        ("before,rear,camber_left,1", "This sheet does not ask for it"),
        ("before,,camber_left,1", "Angles need front or rear as their axle."),
        ("before,,front_left,tall", "tall"),
        ("before,,front_left,", "front_left"),
        ("before,,front_left,3 kg", "3 kg"),
        ("before,,front_left,643,mm", "is not before or after"),
    ],
)
def test_one_line_that_cannot_be_read_keeps_all_from_being_recorded(
    here: Workshop, ada: Visitor, line: str, says: str
) -> None:
    text = f"{BEFORE}{line}\n"
    looked, sure = sends(ada, text), sends(ada, text, sure="yes")

    assert says in words(looked)
    assert 'name="sure"' not in looked.text
    assert sure.status_code == 422
    assert "Nothing was recorded: a line cannot be read." in words(sure)
    assert line in sure.text
    assert readings(here) == {}


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "empty"),
        ("when,axle,measure\nbefore,,front_left\n", "The first line names the columns"),
        ("before,,front_left,643\n", "The first line names the columns"),
        (HEAD, "no line below its header"),
        (HEAD + "before,,front_left,643\n" * 101, "more than 100"),
        (HEAD + '"before,,front_left\n', "The first line names the columns"),
    ],
)
def test_what_is_no_such_file_is_refused_and_kept(here: Workshop, ada: Visitor, text: str, says: str) -> None:
    answer = sends(ada, text)

    assert answer.status_code == 422
    assert says in words(answer)


@pytest.mark.parametrize("text", [BEFORE.replace(",", ";"), BEFORE.replace(",", "\t"), "\ufeff" + BEFORE.upper()])
def test_separators_and_capitals_are_the_sender_s(here: Workshop, ada: Visitor, text: str) -> None:
    assert words(sends(ada, text)).count("Goes to:") == 3


def test_a_file_is_read_as_what_is_pasted_is(here: Workshop, ada: Visitor) -> None:
    data = {"csrf": ada.csrf}
    files = {"file": ("rack.csv", BEFORE.replace("°", "").encode("utf-16"), "text/csv")}
    answer = ada.client.post(ADDRESS, data=data, files=files, follow_redirects=False)
    binary = ada.client.post(ADDRESS, data=data, files={"file": ("rack.pdf", b"%PDF-1.7", "text/csv")})

    assert words(answer).count("Goes to:") == 3
    assert binary.status_code == 422


def test_a_closed_job_takes_no_file(here: Workshop) -> None:
    fay = a_visitor(an_app(here), FAY)
    fay.fills_in("/jobs/26-0001/cancellation", "/jobs/26-0001/cancellation", {"reason": "Sold"})

    assert sends(fay, BEFORE).status_code == 422
    assert fay.get(ADDRESS).status_code == 200
    assert fay.get("/jobs/99/measured").status_code == 404


def test_the_documents_name_the_columns_and_the_keys() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    section = readme.split("### Measured values as a file")[1].split("###")[0]
    assert re.findall(r"^\| `(\w+)` \|", section, re.MULTILINE) == list(COLUMNS)
    assert all(f"`{key}`" in section for key in KEYS)


# --- Shims ----------------------------------------------------------------------------------------------------------

SHIMS = "/jobs/26-0001/shims"
STACK = {"place": "front_left", "bolt": "front bolt", "before": "3 mm", "after": "4.5"}


def notes(here: Workshop) -> list[str]:
    sheet = here.sheet(here.all("jobs")[0])
    return [note.text for step in sheet.steps.values() for note in step.notes]


def test_shims_are_a_note_at_the_alignment_after_the_work_and_are_drawn(here: Workshop, ada: Visitor) -> None:
    answer = ada.fills_in(ADDRESS, SHIMS, STACK)

    assert answer.status_code == 200
    assert notes(here) == ["Shims, front left, front bolt: 3 mm before, 4.5 mm after"]
    page = ada.get(ADDRESS)
    assert "Front left, front bolt: Before: 3 mm; After: 4.5 mm." in words(page)
    assert page.text.count("compared-drawing--shims") == 1


def test_the_newest_stack_at_a_bolt_counts_and_each_bolt_has_its_own(here: Workshop, ada: Visitor) -> None:
    for typed in (STACK, {**STACK, "bolt": "rear bolt", "before": "0"}, {**STACK, "after": "1/4 in"}):
        ada.fills_in(ADDRESS, SHIMS, typed)
        here.clock.forward(minutes=1)

    found = shims_of(here.sheet(here.all("jobs")[0]))
    assert [(one.bolt, one.before, one.after) for one in found] == [
        ("front bolt", "3 mm", "6.35 mm"),
        ("rear bolt", "0 mm", "4.5 mm"),
    ]


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("place", "roof", "Choose"),
        ("bolt", "  ", "Say at which bolt"),
        ("bolt", "b" * 41, "Say at which bolt"),
        ("before", "", ""),
        ("before", "thick", "thick"),
        ("after", "-1 mm", "-1 mm"),
        ("after", "80 mm", "A stack is from 0 to 50 mm"),
        ("after", "3 kg", "3 kg"),
        ("place", "rear_left", "This sheet measures no alignment on that axle"),
    ],
)
def test_what_is_no_stack_is_refused_and_what_was_typed_kept(
    here: Workshop, ada: Visitor, field: str, typed: str, says: str
) -> None:
    answer = ada.fills_in(ADDRESS, SHIMS, {**STACK, field: typed})

    assert answer.status_code == 422
    assert says in words(answer)
    kept = "3 mm" if field != "before" else "4.5"
    assert f'value="{kept}"' in answer.text
    assert notes(here) == []


@pytest.mark.parametrize(
    "text",
    [
        "Shims, front left, bolt: 3 mm before",
        "Shims: none",
        "Shims, front left, b: 999 mm before, 1 mm after",
        "Shims, front left, b: 1.2.3 mm before, 1 mm after",
    ],
)
def test_a_note_that_is_none_is_not_taken_for_one(here: Workshop, text: str) -> None:
    job = here.all("jobs")[0]
    sheet = here.sheet(job)
    record_form(here.office, office_entry(here.office, ADA.id, sheet, NoteAdded(text)))

    assert shims_of(here.sheet(job)) == ()


def test_shims_stand_in_the_letter_and_are_drawn_there(here: Workshop, ada: Visitor) -> None:
    ada.fills_in(ADDRESS, SHIMS, STACK)
    fay = a_visitor(an_app(here), FAY)

    paper = fay.get("/jobs/26-0001/handback/page")

    assert "Front left, front bolt: Before: 3 mm; After: 4.5 mm." in words(paper)
    assert paper.text.count("data:image/svg+xml;base64,") == 1
    assert fay.get("/jobs/26-0001/handback/pdf").status_code == 200
