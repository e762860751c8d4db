"""A browser and the workshop's authority: the pages open where it is installed, and nowhere else.

Chromium reads the authorities a person has installed from the NSS database of the home folder (on Linux). So each
browser here gets a home of its own, and nothing tells it to overlook what it finds.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Error

from app.bootstrap import hand_out_page
from app.settings import Settings
from app.trust.authority import CERTIFICATE, read_authority
from app.trust.certify import certify
from app.trust.leaf import LEAF, issue
from app.trust.serving import handing_out
from tests.browser.conftest import SWITCHES, browser_path
from tests.offices import an_app, an_office
from tests.trusted import NAME, now, served_over_https

AtHome = Callable[..., BrowserContext]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    certify(tmp_path / "certificates", NAME, now())
    return tmp_path / "certificates"


def a_home(at: Path, root: Path | None) -> Path:
    """A home folder in which this authority is installed (or none), as the page's steps for Linux say."""
    store = at / ".pki" / "nssdb"
    store.mkdir(parents=True)
    tool = shutil.which("certutil")
    assert tool, "certutil is missing; on Debian it is in libnss3-tools"
    subprocess.run([tool, "-N", "-d", f"sql:{store}", "--empty-password"], check=True)
    if root:
        words = ["-A", "-d", f"sql:{store}", "-t", "C,,", "-n", "Cotterpin workshop", "-i", str(root)]
        subprocess.run([tool, *words], check=True)
    return at


@pytest.fixture
def at_home(browser: Browser) -> Iterator[AtHome]:
    """Opens a browser at a home folder, for which these names lead to this machine."""
    opened: list[Browser] = []

    def opens(home: Path, *names: str) -> BrowserContext:
        rules = ",".join(f"MAP {name} 127.0.0.1" for name in names or (NAME,))
        # From the one driver there is: a second one cannot run in this thread.
        opened.append(
            browser.browser_type.launch(
                executable_path=browser_path(),
                args=[*SWITCHES, f"--host-resolver-rules={rules}"],
                env={**os.environ, "HOME": str(home)},
            )
        )
        return opened[-1].new_context()

    yield opens
    for one in opened:
        one.close()


def test_the_pages_open_where_the_authority_is_installed(folder: Path, tmp_path: Path, at_home: AtHome) -> None:
    home = a_home(tmp_path / "home", folder / CERTIFICATE)
    opened = at_home(home)
    with served_over_https(an_app(an_office()), folder / LEAF) as port:
        page = opened.new_page()
        page.goto(f"https://{NAME}:{port}/sign-in")

        assert page.title() == "Sign in · Cotterpin"
        assert page.evaluate("isSecureContext && 'serviceWorker' in navigator && 'subtle' in crypto") is True


def test_the_pages_are_refused_where_it_is_not(folder: Path, tmp_path: Path, at_home: AtHome) -> None:
    home = a_home(tmp_path / "home", None)
    opened = at_home(home)
    with (
        served_over_https(an_app(an_office()), folder / LEAF) as port,
        pytest.raises(Error, match=r"ERR_CERT_AUTHORITY_INVALID"),
    ):
        opened.new_page().goto(f"https://{NAME}:{port}/sign-in")


def test_another_name_or_an_address_is_refused(folder: Path, tmp_path: Path, at_home: AtHome) -> None:
    home = a_home(tmp_path / "home", folder / CERTIFICATE)
    other = "desk.larkfield.test"
    opened = at_home(home, NAME, other)
    with served_over_https(an_app(an_office()), folder / LEAF) as port:
        for name in (other, "127.0.0.1"):
            with pytest.raises(Error, match="ERR_CERT_COMMON_NAME_INVALID"):
                opened.new_page().goto(f"https://{name}:{port}/sign-in")


def test_a_stolen_authority_does_not_make_another_site_believable(
    folder: Path, tmp_path: Path, at_home: AtHome
) -> None:
    home = a_home(tmp_path / "home", folder / CERTIFICATE)
    chain = tmp_path / "stolen.pem"
    chain.write_bytes(issue(read_authority(folder), now(), name="bank.example"))
    opened = at_home(home, "bank.example")
    with (
        served_over_https(an_app(an_office()), chain) as port,
        pytest.raises(Error, match="net::ERR_CERT_INVALID"),
    ):
        opened.new_page().goto(f"https://bank.example:{port}/sign-in")


@pytest.mark.parametrize(("width", "height"), [(1180, 820), (820, 1180), (390, 844), (320, 640)])
def test_the_page_for_new_tablets_fits_and_hands_out_what_it_says(
    folder: Path, tmp_path: Path, at_home: AtHome, width: int, height: int
) -> None:
    there = certify(folder, None, now()).certificates
    app = hand_out_page(Settings(_env_file=None), there)  # type: ignore[call-arg]
    home = a_home(tmp_path / "home", None)
    opened = at_home(home)
    with handing_out(app, "127.0.0.1", 0, pytest.fail) as port:
        page = opened.new_page()
        page.set_viewport_size({"width": width, "height": height})
        said: list[str] = []
        page.on("console", lambda one: said.append(one.text))
        page.goto(f"http://127.0.0.1:{port}/")
        for kind in page.locator("summary").all():
            kind.click()

        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert page.locator(".qr svg").bounding_box()["width"] > 150  # type: ignore[index]
        assert page.evaluate("getComputedStyle(document.querySelector('.mark')).borderTopWidth") == "2px"
        assert all(one.bounding_box()["height"] >= 64 for one in page.locator(".take").all())  # type: ignore[index]
        with page.expect_download() as fetched:
            page.locator(".take").first.click()
        assert fetched.value.suggested_filename == "cotterpin-authority.crt"
        assert [one for one in said if "favicon" not in one and "404" not in one] == []
        shots = os.environ.get("COTTERPIN_TEST_SHOTS")
        if shots:
            page.screenshot(path=f"{shots}/hand-out-{width}.png", full_page=True)


def test_a_warning_that_was_clicked_away_does_not_make_a_tablet_ready(folder: Path, browser: Browser) -> None:
    """By its number the office is nobody; a person who opens it all the same is told so by the page."""
    with served_over_https(an_app(an_office()), folder / LEAF) as port:
        careless = browser.new_context(ignore_https_errors=True)
        page = careless.new_page()
        page.goto(f"https://127.0.0.1:{port}/readiness")
        page.wait_for_selector("#readiness[data-looked]")

        said = page.locator('[data-point="secure"] [data-words]').inner_text()
        assert page.locator('[data-point="secure"]').get_attribute("data-state") == "no"
        assert "reached by a number" in said
        careless.close()
