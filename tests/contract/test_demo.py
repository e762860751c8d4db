"""The demo keeps what it promises: an invented workshop that shows everything, and a walk that ends well.

The seed runs on both stores. The walk runs as people start it, with a real server in a process of its own; what it
leaves in its folder is read here by other means than its own.
"""

from __future__ import annotations

import email
import re
import subprocess
import sys
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from email import policy
from pathlib import Path

import pytest

from app.bootstrap import wire
from app.domain.packet import Packet, Verdict
from app.domain.problems import Problem
from app.domain.records import FigureKind, Job, JobState, Role, ToolKind
from app.domain.sheet import Sheet
from app.domain.spec_places import OTHER_PLACES
from app.domain.standing import asked_gates, gate_state, open_points, waits_for, waits_for_second
from app.settings import ROOT, Settings
from app.storage.engine import make_engine
from app.storage.memory import MemoryStore
from app.storage.migrate import upgrade
from app.storage.photos import MemoryPhotos
from app.storage.sql import SqlStore
from app.trade.vin import examine
from app.use_cases.figure_csv import Line, cells_of, wanted_of
from app.use_cases.office import Office
from app.use_cases.read_figure import read_value, value_of
from app.use_cases.see_desk import see_desk
from app.use_cases.typed_fields import Reader
from app.use_cases.verify import verify
from app.web.forms import read_local_time
from demo import front_office, larkfield
from demo.browser import Element, PageUnlike, read_page
from demo.letters import Letter
from demo.readings import is_listed
from demo.seed import is_seeded, seed
from demo.story import Story
from demo.walk import read_letters
from tests.offices import PlainPins

NOW = datetime(2026, 5, 12, 10, 40, tzinfo=UTC)


# The vehicle that is here twice is told apart by its comeback.
AGAIN = "wexcombe, again"


@dataclass(frozen=True)
class Seeded:
    office: Office
    jobs: dict[str, Job]
    sheets: dict[str, Sheet]

    def sheet(self, car: str) -> Sheet:
        return self.sheets[self.jobs[car].id]


@pytest.fixture(scope="module", params=["memory", "sqlite"])
def seeded(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Seeded:
    if request.param == "memory":
        store: MemoryStore | SqlStore = MemoryStore()
    else:
        address = f"sqlite:///{tmp_path_factory.mktemp('seed') / 'demo.db'}"
        upgrade(address)
        store = SqlStore(make_engine(address))
    office = replace(wire(Settings(_env_file=None), store, now=lambda: NOW).office, photos=MemoryPhotos())
    assert not is_seeded(office)
    seed(office, NOW)
    with office.store.reading() as unit:
        jobs = {AGAIN if one.comeback_of else one.vehicle: one for one in unit.jobs.all()}
        sheets = {job.id: found for job in jobs.values() if (found := unit.sheets.get(job.id)) is not None}
    return Seeded(office, jobs, sheets)


# --- The invented workshop ----------------------------------------------------------------------------------------


def test_every_layout_is_on_some_axle(seeded: Seeded) -> None:
    there = {axle.layout for car in larkfield.CARS for axle in (car.front, car.rear)}

    assert there == set(seeded.office.book.layouts)


def test_one_vehicle_has_a_number_that_fails_its_check() -> None:
    reports = [examine(car.vin) for car in larkfield.CARS if car.vin]

    assert [one.check.passes for one in reports].count(False) == 1


def test_the_people_the_customers_and_the_tools_show_what_can_be_the_matter() -> None:
    tools = larkfield.tools(NOW.date())
    wrenches = [one for one in tools if one.kind is ToolKind.TORQUE_WRENCH]

    assert len(larkfield.PEOPLE) == 6
    assert any(len(one.roles) == 2 for one in larkfield.PEOPLE)
    assert {role for one in larkfield.PEOPLE for role in one.roles} == set(Role)
    assert any(not one.email for one in larkfield.OWNERS)
    assert any(not one.name.isascii() for one in larkfield.OWNERS)
    assert len({one.lift for one in larkfield.bays(NOW.date())}) == 4
    assert any(one.due_on is not None and one.due_on < NOW.date() for one in wrenches)
    assert any(one.unit == "lbf·ft" for one in wrenches)
    assert {one.rating_basis for one in tools if one.kind is ToolKind.STANDS} == {"each", "pair"}


def test_the_crib_shows_what_can_happen_to_a_tool(seeded: Seeded) -> None:
    """One wrench tagged out after a drop, an overload looked at, one on loan, one found out of true and set right."""
    with seeded.office.store.reading() as unit:
        assert [one.tag for one in unit.tools.all() if one.fault] == ["W15"]
        assert {one.kind.value: one.seen_by is None for one in unit.tool_events.all()} == {
            "drop": True, "overload": False
        }  # fmt: skip
        assert [(one.tool, one.given_back_at) for one in unit.loans.all()] == [("tool-w20", None)]
        assert sorted((one.passes, one.adjusted) for one in unit.calibrations.all()) == [(False, True), (True, False)]
        assert {bay.lift_tool is None for bay in unit.bays.all()} == {True, False}


def test_every_joint_of_every_job_has_a_figure_and_only_two_of_them_do_not_count(seeded: Seeded) -> None:
    """Without a figure nothing could be signed off in the demo. The two that do not count are the Sedge's."""
    with seeded.office.store.reading() as unit:
        figures = unit.figures.all()
    figures = [one for one in figures if one.kind is FigureKind.FASTENER]
    waiting = {(one.model, one.axle, one.place_key) for one in figures if not one.counts}
    editions = [one for one in figures if (one.model, one.axle, one.place_key) in waiting]

    assert len(waiting) == 2
    assert {model for model, _, _ in waiting} == {"Sedge coupé"}
    assert sorted(one.edition for one in editions) == [1, 1, 2], "one typed once, one typed twice with two results"
    assert all(packet_of(sheet).missing == () for sheet in seeded.sheets.values())


def test_figures_come_in_pounds_and_in_stages_too(seeded: Seeded) -> None:
    with seeded.office.store.reading() as unit:
        figures = unit.figures.all()

    assert {one.unit for one in figures if one.kind is FigureKind.FASTENER} == {"N·m", "lbf·ft"}
    assert any(len(one.stages) == 2 and one.stages[1].target_mdeg for one in figures)
    # 81 lbf·ft are 109.8 N·m: 81 × 1.355 818 (NIST SP 811, appendix B.8).
    pounds = next(one for one in figures if one.text == "81 lbf·ft")
    assert pounds.stages[0].target_mnm == pytest.approx(109_821, abs=1)


def test_the_spec_book_has_every_kind_one_typed_once_and_one_read_in_two_ways(seeded: Seeded) -> None:
    with seeded.office.store.reading() as unit:
        others = [one for one in unit.figures.all() if one.kind is not FigureKind.FASTENER]

    assert {one.kind for one in others if one.counts} == set(FigureKind) - {FigureKind.FASTENER}
    waiting = [(one.model, one.place_key, one.edition) for one in others if not one.counts]
    assert waiting == [("Sedge coupé", "camber", 1), ("Sedge coupé", "toe", 1), ("Sedge coupé", "toe", 2)]
    assert all(one.low is None or one.high is None or one.low < one.high for one in others)


def test_the_text_of_every_other_figure_says_its_numbers(seeded: Seeded) -> None:
    """Written out and read as a file, each is the same to the last digit."""
    with seeded.office.store.reading() as unit:
        others = [one for one in unit.figures.all() if one.kind is not FigureKind.FASTENER]
    for one in others:
        wanted = wanted_of(Line(2, cells_of(one)))
        assert not isinstance(wanted, Problem)
        read = Reader()
        assert read_value(read, OTHER_PLACES[one.place_key], wanted.typed).is_same(value_of(one)), one.text
        assert read.problems == []


MOMENTS = (
    "2026-11-30T23:58:30",  # the last minutes of a month
    "2026-12-31T23:59:59",  # and of a year: job numbers of two years
    "2027-01-01T00:20:00",  # just after midnight: much of it was yesterday
    "2026-10-25T01:15:00",  # the hour that the night has twice
    "2027-03-28T01:00:10",  # the hour that it has not
)


@pytest.mark.parametrize("at", MOMENTS)
def test_the_workshop_is_filled_at_any_hour(at: str) -> None:
    now = datetime.fromisoformat(at).replace(tzinfo=UTC)
    wired = wire(Settings(_env_file=None), MemoryStore(), now=lambda: now)
    office = replace(wired.office, photos=MemoryPhotos(), pins=PlainPins())
    seed(office, now)

    with office.store.reading() as unit:
        assert len(unit.jobs.all()) > 10
    assert verify(office).breaches == ()


@pytest.mark.parametrize(
    ("now", "field"),
    [
        ("2026-11-25T23:58:59", "2026-11-25T23:58"),
        ("2026-10-25T00:30:00", "2026-10-25T01:30"),  # for the first time
        ("2026-10-25T01:30:40", "2026-10-25T01:30"),  # for the second
        ("2027-03-28T01:00:00", "2027-03-28T02:00"),
    ],
)
def test_what_begins_now_is_typed_so_that_it_is_not_over(now: str, field: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """London: back at 02:00 on 25 October 2026, forward at 01:00 on 28 March 2027 (Summer Time Order 2002)."""
    at = datetime.fromisoformat(now).replace(tzinfo=UTC)
    monkeypatch.setattr(front_office, "datetime", type("Fixed", (), {"now": staticmethod(at.astimezone)}))

    assert front_office.in_hours(0) == field
    assert read_local_time(field, front_office.ZONE, at) == at.replace(second=0)


# --- Jobs in every state ------------------------------------------------------------------------------------------


def test_there_is_a_job_in_every_state(seeded: Seeded) -> None:
    states = [job.state for job in seeded.jobs.values()]

    assert set(states) == set(JobState)
    assert seeded.jobs["kestle"].state is JobState.HANDED_BACK
    assert seeded.jobs["lorne"].state is JobState.CANCELLED


def test_a_job_stands_at_a_gate_that_somebody_has_to_answer(seeded: Seeded) -> None:
    sheet = seeded.sheet("tallis")
    at_ms = int(NOW.timestamp() * 1_000)
    step = next(one for one in packet_of(sheet).steps if sheet.step(one.id).done is None and not waits_for(sheet, one))

    shut = [gate.key for gate in asked_gates(sheet, step) if gate_state(sheet, gate.id, "bram", at_ms) == "shut"]

    assert step.id == "l1.carry_arm"
    assert shut == ["arm_carried"]


def test_jobs_are_held_set_aside_waiting_for_a_second_person_and_ready(seeded: Seeded) -> None:
    kinds = {car: {one.kind for one in open_points(seeded.sheet(car))} for car in seeded.jobs}
    harrop = seeded.sheet("harrop")

    assert "hold" in kinds["barrow"]
    assert "aside" in kinds["corrie"]
    assert any(waits_for_second(harrop, step) for step in packet_of(harrop).steps)
    assert kinds["ismay"] == set(), "every step done, nothing waits: the foreman can hand it back"
    assert seeded.jobs["ismay"].state is JobState.OPEN


def test_jobs_are_placed_now_placed_next_and_not_placed(seeded: Seeded) -> None:
    with seeded.office.store.reading() as unit:
        placed = {
            car: [one for one in unit.placements.where(job=job.id) if not one.withdrawn]
            for car, job in seeded.jobs.items()
        }

    assert any(one.begins_at <= NOW < one.ends_at for one in placed["tallis"])
    assert all(one.begins_at > NOW for one in placed["quillon"])
    assert placed["quillon"]
    assert placed["fennick"] == []
    assert placed["sedge"] == []
    assert not any(one.ends_at > NOW for one in placed["kestle"]), "what was handed back leaves its bay free"


def test_an_inspection_has_all_three_verdicts(seeded: Seeded) -> None:
    outcomes = [now.outcome for now in seeded.sheet("kestle").steps.values() if now.outcome is not None]

    assert {one.verdict for one in outcomes} == set(Verdict)
    assert all(one.reason for one in outcomes if one.verdict is not Verdict.SOUND)


def test_what_was_handed_back_has_its_letter_waiting(seeded: Seeded) -> None:
    with seeded.office.store.reading() as unit:
        letters = {one.job: one for one in unit.outbox.all()}

    assert set(letters) == {seeded.jobs["kestle"].id, seeded.jobs["wexcombe"].id}
    text = letters[seeded.jobs["kestle"].id].text
    assert "REPLACE" in text
    assert "Boot split, grease on the knuckle" in text
    assert "WATCH" in text


def test_a_vehicle_is_here_again_with_the_same_complaint_and_the_desk_leads_to_both(seeded: Seeded) -> None:
    again, earlier = seeded.jobs[AGAIN], seeded.jobs["wexcombe"]

    assert again.comeback_of == earlier.id
    assert earlier.state is JobState.HANDED_BACK
    assert again.state is JobState.OPEN
    assert packet_of(seeded.sheet(AGAIN)).vehicle["comeback"].startswith(f"{earlier.number}: ")
    assert {line.price for line in packet_of(seeded.sheet(AGAIN)).lines if line.id == "l1"} == {"agreed"}
    row = next(one for one in see_desk(seeded.office).jobs if one.job.id == again.id)
    assert row.comeback_of == earlier.number


def test_every_value_that_was_measured_is_one_of_its_own_kind(seeded: Seeded) -> None:
    """No reading of the demo falls back on the one value for everything of its dimension."""
    asked = [
        (step.id, measure.id)
        for sheet in seeded.sheets.values()
        for step in packet_of(sheet).steps
        for measure in step.measures
    ]

    assert asked
    assert [one for one in asked if not is_listed(*one)] == []


def test_the_work_before_today_was_done_before_now(seeded: Seeded) -> None:
    with seeded.office.store.reading() as unit:
        opened = [job.opened_at for job in unit.jobs.all()]
    at_ms = [mark.at_ms for sheet in seeded.sheets.values() for now in sheet.steps.values() if (mark := now.done)]

    assert max(at_ms) <= NOW.timestamp() * 1_000
    assert min(opened) < NOW - timedelta(days=1)


def test_what_was_seeded_stands_up_to_verification(seeded: Seeded) -> None:
    found = verify(seeded.office)

    assert found.breaches == ()
    assert found.jobs == len(seeded.jobs)
    assert is_seeded(seeded.office)


def packet_of(sheet: Sheet) -> Packet:
    assert sheet.packet is not None
    return sheet.packet


# --- The browser without a screen ---------------------------------------------------------------------------------

FORM = """<main><p>Before<br>after</p><form action="/there" method="post">
<input type="hidden" name="csrf" value="t&amp;1">
<label for="a">How <b>long</b></label><input id="a" name="a" value="">
<label><input type="radio" name="r" value="yes">Yes</label><label><input type="radio" name="r" value="no">No</label>
<textarea name="words">kept</textarea>
<select name="s"><option value="1">one</option><option selected>two</option></select>
<button type="submit">Send</button></form></main>"""


def test_a_form_sends_what_a_browser_would() -> None:
    form = read_page(FORM).forms()[0]

    sent = form.fields({"a": "12 mm", "r": "no"})

    assert sent == {"csrf": "t&1", "a": "12 mm", "words": "kept", "s": "two", "r": "no"}
    assert form.labels["a"] == "How long"


@pytest.mark.parametrize("typed", [{"b": "x"}, {"r": "perhaps"}, {"s": "three"}])
def test_what_a_form_does_not_offer_cannot_be_sent(typed: dict[str, str]) -> None:
    form = read_page(FORM).forms()[0]

    with pytest.raises(PageUnlike):
        form.fields(typed)


def test_a_radio_that_nobody_chose_is_not_sent() -> None:
    assert "r" not in read_page(FORM).forms()[0].fields({})


def test_what_a_person_reads_leaves_out_pictures_and_scripts() -> None:
    page = read_page("<p>Now <svg><text>58</text></svg><script>no()</script><b>held</b></p>")

    assert page.text == "Now held"


def test_an_end_that_was_left_out_does_not_lose_what_follows() -> None:
    page = read_page("<ul><li>one<li>two</ul><p id='x'>three</p>")

    found = page.by_id("x")

    assert isinstance(found, Element)
    assert found.text == "three"
    assert found.parent is page


# --- The walk judges ----------------------------------------------------------------------------------------------


def test_a_story_keeps_what_was_not_as_it_should_be(capsys: pytest.CaptureFixture[str]) -> None:
    story = Story()

    story.refused("A torque outside", "Thank you.", "not inside the window")
    story.refused("A gate", "The gate is still shut.", "still shut")

    assert len(story.wrong) == 1
    assert "NOT AS IT SHOULD BE" in capsys.readouterr().out


def test_a_missing_letter_and_one_that_says_too_much_are_both_found(tmp_path: Path) -> None:
    story = Story()
    letter = Letter(tmp_path / "one.eml", "halvor.bright@post.example", "s", "Read: 58 N·m, wrench W20", "")

    read_letters(story, [letter])

    assert any("soren" in one for one in story.wrong)
    assert any("58 N·m" in one for one in story.wrong)
    assert any("missing" in one for one in story.wrong)
    assert any("brings no PDF" in one for one in story.wrong)
    assert list(tmp_path.iterdir()) == []


# --- The walk itself ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Walked:
    code: int
    told: str
    folder: Path


@pytest.fixture(scope="module")
def walked(tmp_path_factory: pytest.TempPathFactory) -> Walked:
    out = tmp_path_factory.mktemp("out")
    done = subprocess.run(
        [sys.executable, "-X", "utf8", "-m", "demo.workshop", "--walk", "--out", str(out)],
        cwd=ROOT, capture_output=True, text=True, encoding="utf-8", timeout=1_800, check=False,
    )  # fmt: skip
    return Walked(done.returncode, done.stdout + done.stderr, next(out.iterdir()))


def test_the_walk_ends_well(walked: Walked) -> None:
    assert walked.code == 0, walked.told
    assert "[NOT AS IT SHOULD BE]" not in walked.told
    assert walked.told.count("[as it should be]") >= 25


@pytest.mark.parametrize(
    "said",
    [
        "The gate “Stands under the vehicle” is still shut",
        "Lift it off again, set the stands to one height",
        "58 N·m is not inside the window for 50 N·m",
        "Wrench W08 was due on",
        "It is asked again.",
        "This compressor is too weak for this coil",
        "Do not touch the nut.",
        "Bram pressed his old page",
        "“Finding the fault, front axle” waits for the customer's yes to its price",
        "The refused line is gone from the sheet",
        "The price of “Stabiliser bar links, front” has changed. Stop here until the customer has agreed",
        "W15 measured too high; every joint it tightened is listed",
        "each opened and drawn",
        "the chain is whole and every sheet is what its entries lead to",
    ],
)
def test_the_walk_prints_what_the_house_said(walked: Walked, said: str) -> None:
    assert said in walked.told


def test_the_walk_leaves_a_letter_for_each_job_that_says_what_must_be_in_it(walked: Walked) -> None:
    letters: dict[str, str] = {}
    for path in (walked.folder / "post").glob("*.eml"):
        message = email.message_from_bytes(path.read_bytes(), policy=policy.default)
        body = message.get_body(("plain",))
        assert body is not None
        letters[f"{message['To']} {path.stem}"] = re.sub(r"\s+", " ", body.get_content())

    assert len(letters) == 4
    ball_joint = next(text for to, text in letters.items() if "halvor.bright" in to)
    struts = next(text for to, text in letters.items() if "soren" in to)
    for words in ("wheel shakes when braking", "Read: 50 N·m, wrench W12; Bram Nwosu", "Read again: 36.9 lbf·ft"):
        assert words in ball_joint
    assert "Figure: 60 N·m, then 90°" in struts
    assert "after 80 km" in struts
    assert "58 N·m" not in ball_joint
    # By hand: (0.5 h + 1.3 h) at 84.00, two links at 17.90, and 20 % on it.
    priced, recheck = sorted(
        (text for to, text in letters.items() if "priorylane" in to), key=lambda text: "Re-check" in text
    )
    assert "Total: 224.40 GBP" in priced
    assert "Not charged, you said no: Ball joint, lower, front left" in priced
    assert "read 60 N·m, really 64.8 N·m" in recheck


def test_the_walk_kept_what_was_refused_on_the_record(walked: Walked) -> None:
    store = SqlStore(make_engine(f"sqlite:///{walked.folder / 'cotterpin.db'}"))
    with store.reading() as unit:
        jobs = list(unit.jobs.all())
        sheets = [unit.sheets.get(job.id) for job in jobs]

    reasons = {one.reason for sheet in sheets if sheet is not None for one in sheet.asides.values()}

    assert {"gate_shut", "reading_outside", "tool_unfit", "already_signed"} <= reasons
    done = [sheet is not None and sheet.handed_back is not None for sheet in sheets]
    assert sum(done) == 4
    # What else that wrench had tightened is opened as re-checks too, and stands open, as the comeback does.
    left = [job for job, over in zip(jobs, done, strict=True) if not over]
    assert [bool(job.comeback_of) for job in left if not job.complaint.startswith("Re-check.")] == [True]


def test_one_job_shows_a_refused_line_and_a_price_that_needs_a_second_yes(seeded: Seeded) -> None:
    job = seeded.jobs["pender"]
    packet = seeded.sheet("pender").packet
    assert packet is not None

    states = {line.id: (str(line.price), line.price_edition) for line in packet.lines if line.price}
    assert states == {"l1": ("agreed", 1), "l2": ("agreed", 1), "l3": ("changed", 1)}
    assert {line.id for line in job.lines} - states.keys() == {"l4"}
    others = {car: seeded.sheet(car).packet for car in seeded.jobs if car != "pender"}
    priced = {car for car, packet in others.items() if packet and any(line.price for line in packet.lines)}
    # What is here again, at no cost.
    assert priced == {"wexcombe, again"}
