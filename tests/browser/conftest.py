"""What all browser tests share: one browser for the run, and a workshop served on a port of its own."""

from __future__ import annotations

import os
import shutil
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager

import pytest
import uvicorn
from fastapi import FastAPI
from playwright.sync_api import Browser, sync_playwright

SWITCHES = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip


def browser_path() -> str:
    return os.environ.get("COTTERPIN_TEST_BROWSER") or shutil.which("chromium") or "/usr/bin/chromium"


# Closed with the last test of this folder: while the driver is open, no other event loop can run in this thread, and
# the mail tests that follow need theirs.
@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    with sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=browser_path(), args=list(SWITCHES))
        yield opened
        opened.close()


@contextmanager
def served(app: FastAPI) -> Iterator[str]:
    """The application on a free port for as long as this lasts; gives its address."""
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=0, log_level="critical", lifespan="off"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    until = time.monotonic() + 20
    while not server.started:
        assert time.monotonic() < until, "the server did not start"
        time.sleep(0.02)
    try:
        yield f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
    finally:
        server.should_exit = True
        # Open pages listen to events that never end by themselves.
        server.force_exit = True
        thread.join(timeout=10)


@pytest.fixture
def serve() -> Iterator[Callable[[FastAPI], str]]:
    """Serve any number of applications until the test is over."""
    with ExitStack() as stack:
        yield lambda app: stack.enter_context(served(app))
