"""A tablet works whether the office answers or not: in real browsers, with an office that is really killed."""

from __future__ import annotations

import io
import shutil
import socket
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TypeVar

import pytest
from PIL import Image
from playwright.sync_api import Browser
from playwright.sync_api import Error as PlaywrightError

from app import commands
from app.domain.entry import HoldPlaced
from app.domain.packet import Axle
from app.settings import ROOT, Settings
from app.trust.authority import CERTIFICATE
from app.trust.certify import certify
from app.use_cases.cancel_job import cancel_job
from app.use_cases.see_sheet import job_by_number
from demo.front_office import PINS, FrontOffice
from demo.hands import Hand, said_against
from demo.letters import wait_for_letters
from demo.player import Player
from demo.seed import Jobs, line, shop_things
from demo.story import Story
from demo.walk import STRUTS_FOUND, STRUTS_NOTE
from tests.browser.office_process import OfficeOverHttps, OfficeProcess, once_and_in_order
from tests.browser.tablet_bench import Chromium, Seat, Tablet, WebKit, a_screen, kinds
from tests.browser.test_trust_in_browser import a_home
from tests.pictures import SECRETS, a_picture, from_a_camera
from tests.trusted import NAME

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
    made = moved_in(OfficeProcess(tmp_path / "office", a_port()), furnished[0])
    made.start()
    yield made
    made.kill()


@pytest.fixture
def office_over_https(furnished: tuple[Path, str], tmp_path: Path) -> Iterator[OfficeOverHttps]:
    made = moved_in(OfficeOverHttps(tmp_path / "office", a_port()), furnished[0])
    certify(made.certificates, NAME, datetime.now(UTC))
    made.start()
    yield made
    made.kill()


def a_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


AnOffice = TypeVar("AnOffice", bound=OfficeProcess)


def moved_in(made: AnOffice, database: Path) -> AnOffice:
    """With a copy of the database for its own."""
    made.folder.mkdir()
    for path in database.parent.glob(f"{database.name}*"):
        shutil.copy(path, made.folder / path.name)
    return made


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

    link = f'a[href="/jobs/{strut}/measured"]'
    assert "asks the office" in tablet.browser.text(link)
    tablet.leaves(lambda: tablet.browser.click(link))
    assert "The office does not answer" in tablet.browser.text("h1")
    tablet.sheet(strut)

    office.start()
    tablet.all_sent()
    rows = office.kept(strut)
    assert once_and_in_order(rows), waiting
    assert all(row.accepted and row.person == "bram" for row in rows)


def test_my_work_comes_by_itself_to_whoever_signs_in_here_for_the_first_time(
    tablet: Tablet, office: OfficeProcess, strut: str
) -> None:
    tablet.sign_in(BRAM)

    tablet.browser.wait_for(
        f"document.querySelector('.work a[href^=\"/jobs/{strut}/\"]') !== null", what="what is placed with Bram"
    )


def test_what_has_not_come_yet_is_not_said_to_be_nothing(tablet: Tablet, office: OfficeProcess, strut: str) -> None:
    tablet.sign_in(BRAM)
    # First gone, or it would bring again what is taken away.
    office.kill()
    tablet.browser.run(
        """async () => {
          const db = await new Promise((yes) => {
            indexedDB.open("cotterpin").onsuccess = (one) => yes(one.target.result);
          });
          const over = db.transaction(["work"], "readwrite");
          over.objectStore("work").clear();
          await new Promise((yes) => { over.oncomplete = yes; });
          db.close();
        }"""
    )
    tablet.browser.goto("/work")

    assert "has not come from the office yet" in tablet.browser.text(".work__empty")


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


# Take what room there still is, to the last bytes, for something that nobody gives up.
FILL_UP = """async () => {
  const db = await new Promise((resolve) => {
    const asked = indexedDB.open("filled-up", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("all", { autoIncrement: true });
    asked.onsuccess = () => resolve(asked.result);
  });
  const fits = (size) => new Promise((resolve) => {
    const transaction = db.transaction("all", "readwrite", { durability: "strict" });
    transaction.objectStore("all").add(crypto.getRandomValues(new Uint8Array(size)));
    transaction.oncomplete = () => resolve(true);
    transaction.onabort = () => resolve(false);
  });
  for (const size of [60_000, 5_000, 500]) while (await fits(size));
  db.close();
}"""


def test_a_tablet_without_room_refuses_a_photo_in_words_and_signs_off_all_the_same(
    browser: Browser, office: OfficeProcess, strut: str, tmp_path: Path
) -> None:
    """The browser's own limit, set low by its own tool. Photos leave room to entries, which share their quota."""
    made = Chromium(tmp_path / "browser", office.address, browser.browser_type)
    made.open()
    made.room(9_000_000)
    tablet = Tablet(made, office).enrol()
    tablet.sign_in(BRAM)
    tablet.sheet(strut)
    office.kill()
    bram = hand(tablet, BRAM, strut)

    for taken in range(12):
        photo = a_picture("JPEG", 1_600, 1_200, seed=taken)
        said = said_against(Seat(tablet, BRAM).photograph(strut, "step-photo", photo, f"Photo {taken}"))
        if said:
            break
    assert "Photo not kept: this tablet has no room for it." in said
    assert taken > 0
    made.run(FILL_UP)
    step = bram.card_now().step
    bram.do(step)

    made.again()
    tablet.sheet(strut)
    assert bram.card_now().step != step
    office.start()
    tablet.all_sent()
    rows = office.kept(strut)
    assert once_and_in_order(rows)
    assert [row.kind for row in rows].count("photo_added") == taken
    assert all(row.accepted for row in rows)
    made.close()
    # Why it was not kept, and nothing else.
    assert all("QuotaExceededError" in one for one in made.errors), made.errors


def test_over_https_a_tablet_that_trusts_the_workshop_works_without_the_office_and_another_does_not_open(
    browser: Browser, office_over_https: OfficeOverHttps, strut: str, tmp_path: Path
) -> None:
    office = office_over_https
    homes = [a_home(tmp_path / name, root) for name, root in (("a", office.certificates / CERTIFICATE), ("b", None))]
    made, stranger = (
        Chromium(tmp_path / f"browser-{at}", office.address, browser.browser_type, home, [NAME])
        for at, home in enumerate(homes)
    )
    stranger.open()
    with pytest.raises(PlaywrightError, match="ERR_CERT_AUTHORITY_INVALID"):
        stranger.goto("/sign-in")
    stranger.close()

    made.open()
    tablet = Tablet(made, office).enrol()
    worker = made.value("navigator.serviceWorker.controller.scriptURL")
    assert worker.startswith(f"{office.address}/worker.js?")
    tablet.sign_in(BRAM)
    tablet.sheet(strut)
    office.kill()

    made.again()
    tablet.sheet(strut)
    a_note(tablet, strut, "Written over nothing")
    assert "on this tablet" in tablet.saved

    office.start()
    tablet.all_sent()
    assert once_and_in_order(office.kept(strut))
    assert [row.kind for row in office.kept(strut)] == ["note_added"]
    made.close()
    assert made.errors == []


def test_a_job_closed_at_the_desk_while_a_tablet_has_it_open(tablet: Tablet, office: OfficeProcess, strut: str) -> None:
    """What waits there is kept and set aside in words; the sheet says what became of the job, and takes no more."""
    tablet.sign_in(BRAM)
    tablet.sheet(strut)
    office.kill()
    a_note(tablet, strut, "Seat rusty")
    with office.by_hand() as parts:
        cancel_job(parts, "foreman", strut, "The customer took it away")

    office.start()
    until = time.monotonic() + 45
    said = ("This job is closed.", "This job was cancelled meanwhile")
    while not all(
        one in (shown := tablet.browser.value("document.getElementById('sheet').textContent")) for one in said
    ):
        assert time.monotonic() < until, shown
        time.sleep(0.5)
        tablet.sheet(strut)

    (row,) = office.kept(strut)
    assert (row.kind, row.accepted, row.reason) == ("note_added", False, "not_here")
    seat = Seat(tablet, BRAM)
    tablet.sheet(strut)
    page = seat.open(f"/jobs/{strut}/sheet")
    forms = [one for one in page.root.forms() if one.values.get("sheet_form") == "sheet-note"]
    assert all("closed" in said_against(seat.send(page, one, {"text": "More"})) for one in forms)
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


# Reads the pocket as often as it can, by a connection as the page's own.
READ_ON_AND_ON = """async () => {
  const { hash } = await (await fetch("/bundle/manifest.json")).json();
  const { openPocket } = await import(`/bundle/${hash}/tablet/start.js`);
  const pocket = await openPocket(indexedDB);
  const read = async () => { for (;;) await pocket.here(); };
  for (let some = 0; some < 3; some += 1) read().catch(() => {});
  setTimeout(() => location.assign("/work"), 100);
}"""


def test_a_page_that_is_left_in_the_midst_of_reading_keeps_nobody_waiting(tablet: Tablet, strut: str) -> None:
    """WebKit puts it to sleep for going back to it, and would leave locked what it was reading."""
    tablet.sign_in(BRAM)
    for _ in range(5):
        tablet.sheet(strut)
        tablet.leaves(lambda: tablet.browser.run(READ_ON_AND_ON))
        tablet.sign_out()
        tablet.sign_in(BRAM)
    a_note(tablet, strut, "Still written down")
    tablet.all_sent()


def test_a_language_comes_when_somebody_of_the_shop_reads_it_and_is_there_without_the_office(
    tablet: Tablet, office: OfficeProcess
) -> None:
    tablet.sign_in(BRAM)
    here = """(await Promise.all((await caches.keys()).map(async (name) => (await caches.open(name)).keys())))
      .flat().some((one) => one.url.endsWith("/tables.es.json"))"""
    assert tablet.browser.value(here) is False
    with office.by_hand() as parts, parts.store.writing() as unit:
        bram = unit.people.get("bram")
        assert bram is not None
        unit.people.save(replace(bram, language="es"))
        unit.commit()

    tablet.browser.wait_for(here, what="the Spanish part")
    office.kill()

    tablet.browser.goto("/work")
    assert tablet.browser.value("document.documentElement.lang") == "es"


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

    # The page hears of it from the office, and has it brought; there it waits.
    brought = "(await navigator.serviceWorker.getRegistration()).waiting !== null"
    tablet.browser.wait_for(brought, what="the new bundle's worker")
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
    bram.do(bram.card_now().step)
    seat = Seat(tablet, BRAM)
    for place, words in (("step-photo", "The mount, as found"), ("sheet-photo", "As it came")):
        photo = from_a_camera(wide=2_000, high=1_500, turned=6 if place == "step-photo" else 1)
        assert said_against(seat.photograph(strut, place, photo, words)) == ""
    bram.work()
    assert "on this tablet" in tablet.saved
    assert office.photos(strut) == {}
    assert office.kept(strut) == []

    office.start()
    tablet.sheet(strut)
    tablet.all_sent()
    rows = office.kept(strut)
    assert once_and_in_order(rows)
    assert {row.person for row in rows} == {"bram", "ines"}
    assert [row for row in rows if not row.accepted] == []
    assert [row.kind for row in rows].count("photo_added") == 2
    until = time.monotonic() + 60
    while None in (photos := office.photos(strut)).values():
        assert time.monotonic() < until, "the photos do not come"
        time.sleep(0.2)
    seen = [Image.open(io.BytesIO(data)) for data in photos.values() if data is not None]
    assert [one.size for one in seen] == [(1_200, 1_600), (1_600, 1_200)]
    assert not any(secret in data for data in photos.values() if data is not None for secret in SECRETS)

    story = Story()
    front = FrontOffice(story, office.address)
    front.foreman.sign_in(PINS["Ottilie Brand"])
    front.release(strut, STRUTS_NOTE)
    letters = wait_for_letters(office.house.post, 1)
    assert story.wrong == []
    assert len(letters) == 1
    assert letters[0].says(BRAM)
    assert letters[0].says(INES)
