"""A tablet works whether the office answers or not: in real browsers, with an office that is really killed."""

from __future__ import annotations

import shutil
import socket
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from app import commands
from app.domain.packet import Axle
from app.settings import Settings
from demo.hands import Hand
from demo.seed import Jobs, line, shop_things
from demo.walk import STRUTS_FOUND
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
