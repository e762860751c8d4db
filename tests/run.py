"""`python3 tests/run.py`: set up, then format, lint, types and every test, as one timed list.

Installs the test extras into `.venv` and, on Debian, the browser the browser tests drive; elsewhere it says what is
missing and fails. Words after `--` go to pytest: `python3 tests/run.py -- tests/unit`.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "demo"))
from environment import CannotSetUp, ready  # noqa: E402 - the folder has to be found first

SCRIPT_CHECKER = "typescript@5.9.3"
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge")


def main() -> int:
    words = sys.argv[2:] if sys.argv[1:2] == ["--"] else []
    began = time.monotonic()
    python = str(ready("requirements-test.txt"))
    browser = find_browser()
    find_store_tool()
    find_webkit()
    checks: list[tuple[str, Sequence[str]]] = [
        ("format", (python, "-m", "ruff", "format", "--check", ".")),
        ("lint", (python, "-m", "ruff", "check", ".")),
        ("types", (python, "-m", "mypy")),
        ("tests", (python, "-m", "pytest", *words)),
    ]
    checker = find_script_checker()
    if checker:
        checks.insert(3, ("script types", (*checker, "--project", "tests/tsconfig.json")))
    print(f"set-up: {time.monotonic() - began:.0f} s", flush=True)
    results = [(name, *timed(command, browser)) for name, command in checks]
    print()
    for name, code, seconds in results:
        print(f"{name}: {'passed' if code == 0 else 'FAILED'} in {seconds:.0f} s")
    if not checker:
        print("script types: not checked, for want of Node or of the checker (see above)")
    return 0 if all(code == 0 for _, code, _ in results) else 1


def timed(command: Sequence[str], browser: str) -> tuple[int, float]:
    began = time.monotonic()
    environment = {**os.environ, "COTTERPIN_TEST_BROWSER": browser, "PYTHONDONTWRITEBYTECODE": "1"}
    code = subprocess.run(command, cwd=ROOT, check=False, env=environment).returncode
    return code, time.monotonic() - began


def find_script_checker() -> tuple[str, ...]:
    """The checker of the types written in the tablet's scripts. It needs Node, which nothing else here does.

    So the scripts run without it, and a machine that has no Node, or cannot fetch the checker, says so and goes on.
    """
    npx = shutil.which("npx")
    if npx is None:
        print("The types in the tablet's scripts are not checked: there is no Node here.", flush=True)
        return ()
    checker = (npx, "--yes", f"--package={SCRIPT_CHECKER}", "tsc")
    probe = subprocess.run((*checker, "--version"), cwd=ROOT, check=False, capture_output=True, text=True)
    if probe.returncode != 0:
        print(f"The types in the tablet's scripts are not checked: {probe.stderr.strip()[-300:]}", flush=True)
        return ()
    return checker


def find_browser() -> str:
    """The browser on this machine; on Debian installed when it is not there."""
    found = _browser_here()
    if found is None and shutil.which("apt-get"):
        print("Installing Chromium for the browser tests …", flush=True)
        _install("chromium")
        found = _browser_here()
    if found is None:
        raise CannotSetUp(
            "The browser tests need Chromium (or another browser built on it) and found none. "
            "Install it so that the command `chromium` is found, then run this again."
        )
    return found


def _browser_here() -> str | None:
    return next((path for name in BROWSERS if (path := shutil.which(name))), None)


def find_store_tool() -> None:
    """`certutil`, with which the tests install the workshop's authority where Chromium looks on Linux."""
    if not sys.platform.startswith("linux") or shutil.which("certutil"):
        return
    if shutil.which("apt-get"):
        print("Installing certutil for the browser tests …", flush=True)
        _install("libnss3-tools")
    if shutil.which("certutil") is None:
        raise CannotSetUp(
            "The browser tests install an authority with NSS's `certutil` and found none. Install NSS's tools "
            "(libnss3-tools, nss-tools) so that the command is found, then run this again."
        )


WEBKIT = ("webkit2gtk-driver", "gir1.2-webkit2-4.1", "python3-gi", "xvfb")


def find_webkit() -> None:
    """WebKitGTK, its driver, its bindings for the system's Python, and a screen that nobody sees. On Linux alone."""
    if not sys.platform.startswith("linux"):
        print("The tablet is not tried in WebKitGTK: it is there on Linux alone.", flush=True)
        return
    if _webkit_missing() and shutil.which("apt-get"):
        print("Installing WebKitGTK for the browser tests …", flush=True)
        for package in WEBKIT:
            _install(package)
    if missing := _webkit_missing():
        raise CannotSetUp(
            f"The browser tests drive WebKitGTK too; missing: {', '.join(missing)}. Install them (on Debian: "
            f"{' '.join(WEBKIT)}), then run this again."
        )


def _webkit_missing() -> list[str]:
    tools = ("WebKitWebDriver",) if os.environ.get("DISPLAY") else ("WebKitWebDriver", "Xvfb")
    missing = [name for name in tools if shutil.which(name) is None]
    words = "import gi; gi.require_version('WebKit2', '4.1'); from gi.repository import WebKit2"
    try:
        bound = subprocess.run(("/usr/bin/python3", "-c", words), check=False, capture_output=True).returncode == 0
    except OSError:
        bound = False
    return missing if bound else [*missing, "WebKit2 4.1 for /usr/bin/python3"]


def _install(package: str) -> None:
    as_root = [] if hasattr(os, "geteuid") and os.geteuid() == 0 else ["sudo", "--non-interactive"]
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for words in (("update", "-qq"), ("install", "-y", "-qq", package)):
        command = [*as_root, "apt-get", *words]
        if subprocess.run(command, check=False, env=environment, stdout=subprocess.DEVNULL).returncode != 0:
            raise CannotSetUp(f"`{' '.join(command)}` did not work. Install {package} by hand and run this again.")


if __name__ == "__main__":
    sys.exit(main())
