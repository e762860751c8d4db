"""A tablet in a real browser, the same in Chromium and in WebKitGTK: opened, closed, opened again, worked by its pages.

`Seat` is a person at it, as the walk of the demo knows a browser: it opens addresses and sends forms, but in the page
that stands on the screen, by what the page itself does when its button is pressed.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from abc import ABC, abstractmethod
from base64 import b64encode
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from playwright.sync_api import BrowserContext, BrowserType
from playwright.sync_api import Error as PlaywrightError
from playwright.sync_api import Page as Tab
from selenium.common.exceptions import WebDriverException
from selenium.webdriver import WebKitGTK, WebKitGTKOptions
from selenium.webdriver.webkitgtk.service import Service

from demo.browser import Browser, Form, Page, read_page
from demo.front_office import PINS
from tests.browser.conftest import SWITCHES, browser_path
from tests.browser.office_process import OfficeProcess

SIZE = {"width": 1180, "height": 820}
WINDOW = Path(__file__).with_name("webkit_window.py")
# What a browser writes by itself when nothing answers, or (the last two, in WebKit) when the page leaves before an
# answer: true, and no fault of a script.
SILENCE = (
    "net::ERR_", "Failed to load resource", "Could not connect", "network connection was lost", "Load failed",
    "due to access control checks", "Cache API operation failed: Context is stopped",
)  # fmt: skip

ENROL = """async ({ code, name }) => {
  const { hash } = await (await fetch("/bundle/manifest.json")).json();
  const { openPocket } = await import(`/bundle/${hash}/tablet/start.js`);
  const pocket = await openPocket(indexedDB);
  const answer = await fetch("/sync/enrol", {
    method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ code, name }),
  });
  const told = await answer.json();
  if (answer.status !== 200) throw new Error(told.words);
  await pocket.keepTablet({ ...told.tablet, secret: told.secret });
  pocket.close();
  localStorage.setItem("cotterpin-tablet", told.tablet.id);
  return told.tablet.id;
}"""
FILL = """const fill = (form, typed) => {
  for (const [name, value] of Object.entries(typed)) {
    const fields = [...form.elements].filter((one) => one.name === name);
    const boxes = fields.filter((one) => ["radio", "checkbox"].includes(one.type));
    if (boxes.length) {
      const box = boxes.find((one) => one.value === value);
      if (!box) throw new Error(`${name} offers no ${value}`);
      box.checked = true;
      box.dispatchEvent(new Event("change", { bubbles: true }));
    } else if (fields[0]?.type === "file") {
      // As chosen from the camera: its bytes come in base 64.
      const chosen = new DataTransfer();
      const bytes = Uint8Array.from(atob(value), (one) => one.charCodeAt(0));
      chosen.items.add(new File([bytes], "photo.jpg", { type: "image/jpeg" }));
      fields[0].files = chosen.files;
    } else {
      if (!fields.length) throw new Error(`no field ${name}`);
      fields[0].value = value;
      fields[0].dispatchEvent(new Event("input", { bubbles: true }));
    }
  }
};"""
SWAP = """const swapped = (begin) => new Promise((resolve, reject) => {
  const wrong = (event) => reject(new Error(`htmx: ${event.detail?.error ?? event.type}`));
  document.addEventListener("htmx:error", wrong, { once: true });
  document.addEventListener("htmx:finally:request", () => {
    document.removeEventListener("htmx:error", wrong);
    setTimeout(() => resolve(document.documentElement.outerHTML), 0);
  }, { once: true });
  begin();
});"""
SEND = f"""async ({{ at, action, typed }}) => {{
  {FILL} {SWAP}
  const form = document.forms[at];
  if (form.getAttribute("action") !== action) throw new Error(`form ${{at}} goes to ${{form.action}}`);
  fill(form, typed);
  if (form.hasAttribute("hx-post") || form.hasAttribute("hx-get")) return swapped(() => form.requestSubmit());
  document.documentElement.dataset.left = "";
  form.requestSubmit();
  return null;
}}"""
# Marks the page that is left, and whether a press met something that can be pressed.
LEAVING = """async () => {
  const { dataset } = document.documentElement;
  dataset.left = "";
  const heard = ({ target }) => { if (target.closest("a, button")) dataset.pressed = ""; };
  addEventListener("click", heard, { capture: true });
}"""
LOOK = f"""async ({{ address }}) => {{
  {SWAP}
  return swapped(() => {{
    const link = document.createElement("a");
    link.setAttribute("hx-get", address);
    link.href = address;
    document.getElementById("sheet").append(link);
    link.click();
  }});
}}"""
READY = "document.readyState === 'complete'"


class TabletBrowser(ABC):
    """One browser with a folder of its own for what pages keep. `errors`: what scripts complained of."""

    def __init__(self, folder: Path, address: str) -> None:
        self.folder, self.address = folder, address

    @abstractmethod
    def open(self) -> None: ...
    @abstractmethod
    def close(self) -> None: ...
    @abstractmethod
    def goto(self, path: str) -> None: ...
    @abstractmethod
    def run(self, function: str, given: Any = None) -> Any:
        """Run an asynchronous function in the page, and give what it gives."""

    @abstractmethod
    def click(self, css: str) -> None:
        """Press it as a finger does: it has to be in sight, and nothing over it."""

    @abstractmethod
    def type(self, css: str, text: str) -> None: ...
    @abstractmethod
    def in_another_tab(self, path: str, work: Callable[[], None]) -> None:
        """Open another tab beside this one, do something in it, close it."""

    @property
    @abstractmethod
    def errors(self) -> list[str]: ...

    def again(self) -> None:
        """Close the browser and open it again, as over night."""
        self.close()
        self.open()

    def value(self, expression: str) -> Any:
        return self.run(f"async () => ({expression})")

    def wait_for(self, expression: str, seconds: float = 20, what: str = "") -> None:
        until = time.monotonic() + seconds
        seen: Any = None
        while time.monotonic() < until:
            try:
                seen = self.value(expression)
                if seen:
                    return
            except (PlaywrightError, WebDriverException) as error:
                # The page was just leaving.
                seen = error
            time.sleep(0.05)
        raise AssertionError(f"{what or expression}: waited {seconds:.0f} s in vain, last {seen!r} on {self._where()}")

    def _where(self) -> str:
        return str(self.value("location.pathname + ': ' + (document.querySelector('main')?.innerText ?? '')"))[:600]

    @property
    def html(self) -> str:
        return str(self.value("document.documentElement.outerHTML"))

    def text(self, css: str) -> str:
        """What can be read there; "" where there is nothing."""
        return str(self.run("async (css) => document.querySelector(css)?.innerText ?? ''", css))


class Chromium(TabletBrowser):
    """at_home: a home folder with the authorities a person installed. names: names that lead to this machine. more:
    switches besides."""

    def __init__(
        self,
        folder: Path,
        address: str,
        kind: BrowserType,
        at_home: Path | None = None,
        names: Sequence[str] = (),
        more: Sequence[str] = (),
    ) -> None:
        super().__init__(folder, address)
        self.more = more
        self.kind = kind
        self.at_home = at_home
        self.names = names
        self.context: BrowserContext | None = None
        self._errors: list[str] = []

    def open(self) -> None:
        self.context = self.kind.launch_persistent_context(
            self.folder,
            executable_path=browser_path(),
            args=[*SWITCHES, *self.more, *(f"--host-resolver-rules=MAP {name} 127.0.0.1" for name in self.names)],
            env={**os.environ, **({"HOME": str(self.at_home)} if self.at_home else {})},
            viewport=SIZE,  # type: ignore[arg-type]
        )
        self.context.set_default_timeout(20_000)
        self.tab = self._listened(self.context.pages[0] if self.context.pages else self.context.new_page())

    def _listened(self, tab: Tab) -> Tab:
        tab.on("console", lambda one: self._errors.append(one.text) if one.type == "error" else None)
        tab.on("pageerror", lambda one: self._errors.append(str(one)))
        return tab

    def close(self) -> None:
        if self.context is not None:
            self.context.close()
        self.context = None

    def goto(self, path: str) -> None:
        self.tab.goto(self.address + path)

    def run(self, function: str, given: Any = None) -> Any:
        return self.tab.evaluate(function, given)

    def click(self, css: str) -> None:
        self.tab.click(css)

    def type(self, css: str, text: str) -> None:
        self.tab.fill(css, text)

    def room(self, most: int) -> None:
        """Let this origin's pages keep so many bytes and no more, by the browser's own quota."""
        asked = {"origin": self.address, "quotaSize": most}
        self.tab.context.new_cdp_session(self.tab).send("Storage.overrideQuotaForOrigin", asked)

    def in_another_tab(self, path: str, work: Callable[[], None]) -> None:
        assert self.context is not None
        before, self.tab = self.tab, self._listened(self.context.new_page())
        self.goto(path)
        work()
        self.tab.close()
        self.tab = before

    @property
    def errors(self) -> list[str]:
        return [one for one in self._errors if not any(part in one for part in SILENCE)]


class WebKit(TabletBrowser):
    def __init__(self, folder: Path, address: str, display: str) -> None:
        super().__init__(folder, address)
        self.display = display
        self.driver: WebKitGTK | None = None
        folder.mkdir(parents=True, exist_ok=True)
        self.said = folder / "console.log"

    def open(self) -> None:
        options = WebKitGTKOptions()
        options.binary_location = str(WINDOW)
        options.add_argument(str(self.folder))
        tool = shutil.which("WebKitWebDriver")
        assert tool, "WebKitWebDriver is missing; on Debian it is in webkit2gtk-driver"
        environment = {**os.environ, "DISPLAY": self.display, "GDK_BACKEND": "x11", "NO_AT_BRIDGE": "1"}
        # The folder a window keeps its pages in is its own, and no other's; nothing else of the home folder is read.
        environment.pop("WAYLAND_DISPLAY", None)
        with self.said.open("ab") as log:
            self.driver = WebKitGTK(options=options, service=Service(tool, log_output=log, env=environment))  # type: ignore[arg-type]
        self.driver.set_script_timeout(60)
        self.driver.set_page_load_timeout(30)

    def close(self) -> None:
        if self.driver is not None:
            self.driver.quit()
        self.driver = None

    @property
    def _at(self) -> WebKitGTK:
        assert self.driver is not None
        return self.driver

    def goto(self, path: str) -> None:
        self._at.get(self.address + path)

    def run(self, function: str, given: Any = None) -> Any:
        told = self._at.execute_async_script(
            f"const done = arguments[1]; ({function})(arguments[0])"
            ".then((value) => done({ value }), (error) => done({ error: `${error}\\n${error?.stack}` }));",
            given,
        )
        assert "error" not in told, told["error"]
        return told.get("value")

    def click(self, css: str) -> None:
        self._at.find_element("css selector", css).click()

    def type(self, css: str, text: str) -> None:
        field = self._at.find_element("css selector", css)
        field.clear()
        field.send_keys(text)

    def in_another_tab(self, path: str, work: Callable[[], None]) -> None:
        before = self._at.current_window_handle
        self._at.switch_to.new_window("window")
        self.goto(path)
        work()
        self._at.close()
        self._at.switch_to.window(before)

    @property
    def errors(self) -> list[str]:
        """What its window wrote: scripts that failed and what they said was an error, without what was no answer."""
        lines = self.said.read_text("utf-8", "replace").splitlines()
        return [
            line
            for line in lines
            if ("CONSOLE JS ERROR" in line or "CONSOLE ERROR" in line) and not any(part in line for part in SILENCE)
        ]


@dataclass
class Tablet:
    """An enrolled tablet: its browser, and who is signed in there as far as this test did it."""

    browser: TabletBrowser
    office: OfficeProcess
    id: str = ""
    person: str = ""
    shown: Page | None = field(default=None, repr=False)

    def enrol(self) -> Tablet:
        """What the enrolment page does, its worker at work and the first exchange over."""
        self.browser.goto("/sign-in")
        self.id = self.browser.run(ENROL, {"code": self.office.a_code(), "name": "Bench tablet"})
        self.browser.goto("/sign-in")
        self.browser.wait_for("navigator.serviceWorker.controller !== null", what="the worker")
        self.browser.goto("/sign-in")
        # Its own page, and people on it: the first exchange is over.
        self.browser.wait_for("document.getElementById('tablet-line') !== null", what="the tablet's own page")
        until = time.monotonic() + 30
        while self.browser.value("document.querySelectorAll('[name=person]').length") == 0:
            assert time.monotonic() < until, "nobody came to this tablet"
            time.sleep(0.3)
            self.browser.goto("/sign-in")
        return self

    def sign_in(self, name: str, pin: str = "") -> Page:
        """By hand: choose the name, type the PIN, press the button."""
        self.browser.goto("/sign-in")
        page = read_page(self.browser.html)
        box = next(one.first("input") for one in page.all("label", "choice") if name in one.text)
        assert box is not None
        value = box.attrs["value"]
        self.browser.run(
            "async (value) => { document.querySelector(`[name=person][value='${value}']`).checked = true; }", value
        )
        self.browser.type("#pin", pin or PINS[name])
        self.leaves(lambda: self.browser.click("main button[type=submit]"))
        signed_in = self.browser.value("location.pathname") != "/sign-in"
        self.person = name if signed_in else ""
        return self.page()

    def sign_out(self) -> None:
        self.leaves(lambda: self.browser.click(".top-bar__me button"))
        self.person = ""

    def leaves(self, press: Callable[[], None]) -> None:
        """Press what leads to another page, and wait until that is there."""
        self.shown = None
        self.browser.run(LEAVING)
        press()
        try:
            self.arrived(seconds=8)
        except AssertionError:
            # The line about the office may come just then and move what is under the finger: who misses, taps again.
            # A press that met what it was to press is not made again: that it leads nowhere would be a fault.
            if not self.browser.value("'pressed' in document.documentElement.dataset"):
                press()
            self.arrived()

    def arrived(self, seconds: float = 20) -> None:
        self.browser.wait_for(f"!('left' in document.documentElement.dataset) && {READY}", seconds, "another page")

    def page(self) -> Page:
        path = self.browser.value("location.pathname + location.search")
        self.shown = Page(path, 200, read_page(self.browser.html))
        return self.shown

    def sheet(self, number: str) -> Page:
        """Open it anew, as by its address."""
        self.browser.goto(f"/jobs/{number}/sheet")
        self.browser.wait_for(READY)
        return self.page()

    @property
    def saved(self) -> str:
        return self.browser.text("#saved")

    def all_sent(self, seconds: float = 45) -> None:
        self.browser.wait_for(
            "document.getElementById('saved').textContent.includes('in the office')", seconds, "everything sent"
        )


class Seat(Browser):
    """A person at the tablet, for the hands of the walk. Whoever takes it next signs the one before out."""

    def __init__(self, tablet: Tablet, name: str) -> None:
        self.tablet, self.name = tablet, name

    def open(self, address: str) -> Page:
        tablet, browser = self.tablet, self.tablet.browser
        if tablet.person != self.name:
            if tablet.person:
                tablet.sign_out()
            tablet.sign_in(self.name)
        if tablet.shown is not None and tablet.shown.address == address:
            return tablet.shown
        here, wanted = str(browser.value("location.pathname")), urlsplit(address)
        if wanted.path == here and here.endswith("/sheet"):
            tablet.shown = Page(address, 200, read_page(browser.run(LOOK, {"address": address})))
            return tablet.shown
        browser.goto(address)
        browser.wait_for(READY)
        return tablet.page()

    def send(self, page: Page, form: Form, typed: Mapping[str, str] = {}, *, forced: Mapping[str, str] = {}) -> Page:
        assert page is self.tablet.shown, "this page is not on the screen"
        form.fields(typed)
        at = next(number for number, one in enumerate(page.root.forms()) if one.element is form.element)
        answer = self.tablet.browser.run(SEND, {"at": at, "action": form.action, "typed": {**typed, **forced}})
        if answer is None:
            self.tablet.arrived()
            return self.tablet.page()
        self.tablet.shown = Page("", 200, read_page(answer))
        return self.tablet.shown

    def photograph(self, number: str, place: str, data: bytes, words: str) -> Page:
        """Add a photo by the form of this place on the sheet: step-photo or sheet-photo."""
        page = self.open(f"/jobs/{number}/sheet")
        form = next(one for one in page.root.forms() if one.values.get("sheet_form") == place)
        return self.send(page, form, {"name": words}, forced={"file": b64encode(data).decode()})

    def close(self) -> None:
        self.tablet.browser.close()


def a_screen() -> tuple[subprocess.Popen[bytes] | None, str]:
    """A screen for a browser that has no other way: the one there is, or one that nobody sees."""
    if os.environ.get("DISPLAY"):
        return None, os.environ["DISPLAY"]
    tool = shutil.which("Xvfb")
    assert tool, "Xvfb is missing; on Debian it is in xvfb"
    read, write = os.pipe()
    process = subprocess.Popen(
        [tool, "-displayfd", str(write), "-screen", "0", "1280x1024x24", "-nolisten", "tcp"],
        pass_fds=(write,), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    os.close(write)
    with os.fdopen(read) as told:
        return process, f":{told.readline().strip()}"


def kinds() -> tuple[str, ...]:
    """WebKitGTK is there on Linux alone."""
    return ("Chromium", "WebKitGTK") if sys.platform.startswith("linux") else ("Chromium",)
