"""A tablet works whether the office answers or not: in real browsers, with an office that is really killed."""

from __future__ import annotations

import shutil
import socket
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from app import commands
from app.domain.entry import HoldPlaced
from app.domain.packet import Axle
from app.settings import ROOT, Settings
from app.use_cases.see_sheet import job_by_number
from demo.front_office import PINS, FrontOffice
from demo.hands import Hand, said_against
from demo.letters import wait_for_letters
from demo.player import Player
from demo.seed import Jobs, line, shop_things
from demo.story import Story
from demo.walk import STRUTS_FOUND, STRUTS_NOTE
from tests.browser.office_process import OfficeProcess, once_and_in_order
from tests.browser.tablet_bench import Chromium, Seat, Tablet, WebKit, a_screen, kinds

pytestmark = pytest.mark.browser
BRAM, INES = "Bram Nwosu", "Ines Calloway"


@pytest.fixture(scope="module")
def furnished(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """The database of a workshop with one strut to do, and that job's number."""
    office = OfficeProcess(tmp_path_factory.mktemp("furnished"), 1)
    now = datetime.now(UTC)
    with office.by_hand() as parts:
        commands.migrate(Settings(_env_file=None))  # type: ignore[call-arg]
        shop_things(parts, now)
        jobs = Jobs(parts, now)
        earlier = jobs.at(2)
        job = jobs.opened(earlier, "quillon", "Bounces on and on after bumps", line("strut", Axle.FRONT, "left"))
        jobs.placed(earlier, job, "bay-1", "bram", -1, 6)
    return office.house.database, job.number


@pytest.fixture
def strut(furnished: tuple[Path, str]) -> str:
    return furnished[1]


@pytest.fixture
def office(furnished: tuple[Path, str], tmp_path: Path) -> Iterator[OfficeProcess]:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port = one.getsockname()[1]
    made = OfficeProcess(tmp_path / "office", port)
    made.folder.mkdir()
    for path in furnished[0].parent.glob(f"{furnished[0].name}*"):
        shutil.copy(path, made.folder / path.name)
    made.start()
    yield made
    made.kill()


@pytest.fixture(scope="module")
def screen() -> Iterator[str]:
    process, name = a_screen()
    yield name
    if process is not None:
        process.terminate()
        process.wait(10)


@pytest.fixture(params=kinds())
def tablet(request: pytest.FixtureRequest, browser: Browser, office: OfficeProcess, tmp_path: Path) -> Iterator[Tablet]:
    """An enrolled tablet. When the test is over, no script of it may have failed."""
    folder = tmp_path / "browser"
    made = (
        Chromium(folder, office.address, browser.browser_type)
        if request.param == "Chromium"
        else WebKit(folder, office.address, request.getfixturevalue("screen"))
    )
    made.open()
    yield Tablet(made, office).enrol()
    made.close()
    assert made.errors == []


def hand(tablet: Tablet, name: str, number: str) -> Hand:
    return Hand(name, Seat(tablet, name), number, found=STRUTS_FOUND)


def test_a_sheet_is_opened_worked_closed_and_opened_again_without_the_office(
    tablet: Tablet, office: OfficeProcess, strut: str
) -> None:
    tablet.sign_in(BRAM)
    tablet.sheet(strut)
    office.kill()

    bram = hand(tablet, BRAM, strut)
    tablet.sheet(strut)
    first = bram.card_now().step
    bram.do(first)
    assert "on this tablet" in tablet.saved
    second = bram.card_now().step
    assert second != first
    tablet.browser.again()
    tablet.sheet(strut)
    assert bram.card_now().step == second
    bram.do(second)
    waiting = tablet.saved

    office.start()
    tablet.all_sent()
    rows = office.kept(strut)
    assert once_and_in_order(rows), waiting
    assert all(row.accepted and row.person == "bram" for row in rows)


def a_note(tablet: Tablet, strut: str, words: str) -> None:
    """Write a note on the whole sheet, by the form on the screen."""
    seat = Seat(tablet, tablet.person)
    page = seat.open(f"/jobs/{strut}/sheet")
    form = next(one for one in page.root.forms() if one.values.get("sheet_form") == "sheet-note")
    assert said_against(seat.send(page, form, {"text": words})) == ""


def test_an_office_that_dies_between_keeping_and_answering_has_each_entry_once(
    tablet: Tablet, office: OfficeProcess, strut: str
) -> None:
    tablet.sign_in(BRAM)
    office.kill()
    tablet.sheet(strut)
    a_note(tablet, strut, "Written while the office was away")
    a_note(tablet, strut, "And one more")

    office.start_to_die()
    office.has_died()
    assert len(office.kept(strut)) == 2
    assert "on this tablet" in tablet.saved

    office.start()
    tablet.all_sent()
    assert [row.kind for row in office.kept(strut)] == ["note_added", "note_added"]
    assert once_and_in_order(office.kept(strut))


def test_two_people_at_one_tablet_without_the_office_each_keep_their_own(
    tablet: Tablet, office: OfficeProcess, strut: str
) -> None:
    """Both have signed in there before; a wrong PIN and a person who never has do not get in."""
    for name in (INES, BRAM):
        tablet.sign_in(name)
        tablet.sign_out()
    office.kill()
    assert tablet.sign_in("Joss Achterberg").address == "/sign-in"
    assert tablet.sign_in(BRAM, "0000").address == "/sign-in"
    assert tablet.person == ""

    tablet.sign_in(BRAM)
    a_note(tablet, strut, "From Bram")
    tablet.sign_out()
    tablet.sign_in(INES)
    a_note(tablet, strut, "From Ines")
    assert "2" in tablet.saved

    office.start()
    tablet.all_sent()
    assert [(row.seq, row.person) for row in office.kept(strut)] == [(1, "bram"), (2, "ines")]


def test_a_full_tablet_says_not_saved_and_keeps_what_was_typed(
    tablet: Tablet, office: OfficeProcess, strut: str
) -> None:
    tablet.sign_in(BRAM)
    tablet.sheet(strut)
    tablet.browser.run(
        """async () => {
          const add = IDBObjectStore.prototype.add;
          window.free = () => { IDBObjectStore.prototype.add = add; };
          IDBObjectStore.prototype.add = () => { throw new DOMException("full", "QuotaExceededError"); };
        }"""
    )
    seat = Seat(tablet, BRAM)
    page = seat.open(f"/jobs/{strut}/sheet")
    form = next(one for one in page.root.forms() if one.values.get("sheet_form") == "sheet-note")
    after = seat.send(page, form, {"text": "Rust at the spring seat"})

    assert "not saved" in said_against(after).casefold()
    form = next(one for one in after.root.forms() if one.values.get("sheet_form") == "sheet-note")
    assert form.values["text"] == "Rust at the spring seat"
    assert office.kept(strut) == []

    tablet.browser.run("async () => window.free()")
    assert said_against(seat.send(after, form, {})) == ""
    tablet.all_sent()
    assert once_and_in_order(office.kept(strut))
    assert len(office.kept(strut)) == 1


def test_a_foremans_hold_shows_on_a_sheet_that_is_open(tablet: Tablet, office: OfficeProcess, strut: str) -> None:
    tablet.sign_in(BRAM)
    tablet.sheet(strut)
    with office.by_hand() as parts:
        with parts.store.reading() as unit:
            job = job_by_number(unit, strut).id
        Player(parts, job, "foreman", "").say(HoldPlaced("Jack pad rusted through"))

    tablet.browser.wait_for("document.getElementById('sheet').innerText.includes('Jack pad rusted through')")


def test_ones_own_entries_coming_home_are_no_news_and_the_offices_silence_stays_in_sight(
    tablet: Tablet, office: OfficeProcess, strut: str
) -> None:
    tablet.sign_in(BRAM)
    tablet.sheet(strut)
    office.kill()
    a_note(tablet, strut, "Seat rusty")
    tablet.browser.wait_for("!document.getElementById('tablet-line').hidden")
    tablet.browser.run("async () => scrollTo(0, document.body.scrollHeight)")
    assert tablet.browser.value("document.getElementById('tablet-line').getBoundingClientRect().top") == 0

    office.start()
    tablet.all_sent()

    tablet.browser.wait_for("document.getElementById('tablet-line').hidden")
    # The contact after the one that took the note home.
    time.sleep(6)
    assert tablet.browser.value("document.querySelector('.sheet__changed').hidden")


def test_two_pages_of_one_tablet_share_its_numbers(tablet: Tablet, office: OfficeProcess, strut: str) -> None:
    tablet.sign_in(BRAM)
    tablet.sheet(strut)
    office.kill()
    a_note(tablet, strut, "First")

    def beside() -> None:
        tablet.shown = None
        a_note(tablet, strut, "From the page beside it")
        tablet.shown = None

    tablet.browser.in_another_tab(f"/jobs/{strut}/sheet", beside)
    a_note(tablet, strut, "Third")

    office.start()
    tablet.all_sent()
    assert len(office.kept(strut)) == 3
    assert once_and_in_order(office.kept(strut))


def test_a_new_bundle_leaves_an_open_sheet_alone_and_takes_over_on_my_work(
    tablet: Tablet, office: OfficeProcess, strut: str, tmp_path: Path
) -> None:
    tablet.sign_in(BRAM)
    tablet.sheet(strut)
    asked = "document.querySelector('link[rel=stylesheet]').getAttribute('href')"
    before = tablet.browser.value(asked)
    office.stop()
    newer = tmp_path / "newer"
    for name in ("app", "demo", "migrations", "shared", "static", "templates"):
        shutil.copytree(ROOT / name, newer / name, ignore=shutil.ignore_patterns("__pycache__", "out", "data"))
    shutil.copy(ROOT / "pyproject.toml", newer)
    with (newer / "static" / "css" / "main.css").open("a", encoding="utf-8") as file:
        file.write("\n.newer { color: inherit; }\n")
    office.root = newer
    a_note(tablet, strut, "Written before the new bundle came")
    office.start()
    tablet.all_sent()

    tablet.browser.run("async () => { await (await navigator.serviceWorker.getRegistration()).update(); }")
    tablet.sheet(strut)
    assert tablet.browser.value(asked) == before
    tablet.browser.goto("/work")
    tablet.browser.wait_for(f"{asked} !== '{before}'", what="the new bundle on My work")
    tablet.sheet(strut)
    assert tablet.browser.value(asked) != before
    assert once_and_in_order(office.kept(strut))


def test_a_whole_strut_without_the_office_and_the_letter_goes_out_after(
    tablet: Tablet, office: OfficeProcess, strut: str
) -> None:
    for name in (INES, BRAM):
        tablet.sign_in(name)
        tablet.sign_out()
    tablet.sign_in(BRAM)
    office.kill()

    bram = hand(tablet, BRAM, strut)
    bram.second = hand(tablet, INES, strut)
    bram.extensions = {"l1.lower_bolts_in": "150 mm"}
    bram.work()
    assert "on this tablet" in tablet.saved
    assert office.kept(strut) == []

    office.start()
    tablet.sheet(strut)
    tablet.all_sent()
    rows = office.kept(strut)
    assert once_and_in_order(rows)
    assert {row.person for row in rows} == {"bram", "ines"}
    assert [row for row in rows if not row.accepted] == []

    story = Story()
    front = FrontOffice(story, office.address)
    front.foreman.sign_in(PINS["Ottilie Brand"])
    front.release(strut, STRUTS_NOTE)
    letters = wait_for_letters(office.house.post, 1)
    assert story.wrong == []
    assert len(letters) == 1
    assert letters[0].says(BRAM)
    assert letters[0].says(INES)
