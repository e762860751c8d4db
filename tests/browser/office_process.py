"""The office as a process of its own, on one port and one SQLite file however often it is started: to be stopped, and
to be killed as a power cut kills it.

Run as a module it is the office that dies at the worst moment: it has kept what a tablet sent and has not said so.
"""

from __future__ import annotations

import os
import secrets
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

import httpx
import uvicorn

from app import commands
from app.bootstrap import make_app, wire
from app.settings import ROOT, Settings
from app.trust.authority import CERTIFICATE
from app.use_cases.enrol_tablet import make_code
from app.use_cases.office import Office
from demo import larkfield
from demo.serving import House
from tests.trusted import NAME, asked, connected

START_S = 60.0
FOREMAN = "foreman"


class Kept(NamedTuple):
    """A row of the ledger, of those that a tablet sent."""

    seq: int
    order: int
    kind: str
    person: str
    accepted: bool
    reason: str


@dataclass
class OfficeProcess:
    """Where the office lives. `process` is there while it runs."""

    folder: Path
    port: int
    root: Path = ROOT
    process: subprocess.Popen[bytes] | None = None
    more: dict[str, str] = field(default_factory=dict)

    @property
    def house(self) -> House:
        return House(self.folder, larkfield.SHOP.email)

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @property
    def settings(self) -> dict[str, str]:
        return {**self.house.settings, "COTTERPIN_PAPERS_FOLDER": str(self.folder / "papers"), **self.more}

    def start(self, *words: str) -> None:
        """Start it and wait until it answers. words: another way to run it."""
        command = words or ("-m", "app", "serve", "--port", str(self.port))
        with (self.folder / "server.log").open("ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, *command], cwd=self.root, env={**os.environ, **self.settings}, stdout=log, stderr=log
            )
        until = time.monotonic() + START_S
        while time.monotonic() < until:
            assert self.process.poll() is None, self.log
            try:
                if self.answers():
                    return
            except (httpx.TransportError, OSError):
                time.sleep(0.1)
        raise AssertionError(f"the office does not open: {self.log}")

    def answers(self) -> bool:
        return httpx.get(f"{self.address}/sign-in", timeout=2).status_code == 200

    def start_to_die(self) -> None:
        """Start the one that is killed once it has kept what a tablet sends, before it answers."""
        self.start("-m", "tests.browser.office_process", str(self.port))

    def stop(self) -> None:
        """As someone stops it who closes the shop."""
        if self.process is not None:
            self.process.terminate()
            self.process.wait(20)
            self.process = None

    def kill(self) -> None:
        """As a power cut does."""
        if self.process is not None:
            self.process.kill()
            self.process.wait(20)
            self.process = None

    def has_died(self) -> None:
        """Wait until it is gone by itself, by a kill."""
        assert self.process is not None
        assert self.process.wait(30) == -signal.SIGKILL
        self.process = None

    @property
    def log(self) -> str:
        return (self.folder / "server.log").read_text("utf-8", "replace")[-2_000:]

    @contextmanager
    def by_hand(self) -> Iterator[Office]:
        """The office's own parts over the same file, for what is done there at a desk that the test does not show."""
        before = {name: os.environ.get(name) for name in self.settings}
        os.environ.update(self.settings)
        try:
            yield wire(Settings(_env_file=None)).office  # type: ignore[call-arg]
        finally:
            for name, value in before.items():
                if value is None:
                    del os.environ[name]
                else:
                    os.environ[name] = value

    def a_code(self) -> str:
        with self.by_hand() as office:
            return make_code(office, FOREMAN, secrets.choice).code

    def kept(self, job: str = "") -> list[Kept]:
        """What tablets sent, in the order the office gave it; with a job's number, of that job alone."""
        return [
            Kept(row[0], row[1], row[2], row[3], bool(row[4]), row[5])
            for row in self._rows(
                'select seq, "order", kind, person, accepted, reason from ledger where tablet <> ? '
                "and (? = '' or job in (select id from jobs where number = ?)) order by \"order\"",
                ("office", job, job),
            )
        ]

    def photos(self, job: str) -> dict[str, bytes | None]:
        """The photos that entries of a job name, in their order: the bytes, or None while they have not come."""
        named = self._rows(
            "select photos.sha256, photos.here from photos join jobs on jobs.id = photos.job where number = ? "
            "order by photos.position",
            (job,),
        )
        place = self.folder / "photos"
        return {name: (place / name[:2] / name).read_bytes() if here else None for name, here in named}

    def _rows(self, words: str, given: Sequence[Any]) -> list[tuple[Any, ...]]:
        with closing(sqlite3.connect(self.house.database)) as database:
            return database.execute(words, given).fetchall()


class OfficeOverHttps(OfficeProcess):
    """The same with the workshop's own authority, made by `certify`: `serve` then speaks HTTPS under one name."""

    @property
    def address(self) -> str:
        return f"https://{NAME}:{self.port}"

    @property
    def certificates(self) -> Path:
        return self.folder / "certificates"

    @property
    def settings(self) -> dict[str, str]:
        # Nobody asks for the page that hands the authority out; any port will do.
        more = {"COTTERPIN_CERTIFICATE_FOLDER": str(self.certificates), "COTTERPIN_HAND_OUT_PORT": str(self.port + 1)}
        return {**super().settings, **more}

    def answers(self) -> bool:
        with connected(self.port, NAME, self.certificates / CERTIFICATE) as line:
            return asked(line) == "200 OK"


def once_and_in_order(rows: Sequence[Kept], first: int = 1) -> bool:
    """Whether the numbers go up one by one, in the office's own order, from `first` on."""
    return [row.seq for row in rows] == list(range(first, first + len(rows)))


class _Dying:
    """Passes everything on, and kills the process when an answer to `/sync/entries` is about to leave."""

    def __init__(self, app: Any) -> None:
        self.app = app

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        async def dying(message: Any) -> None:
            if message["type"] == "http.response.start" and message["status"] == 200:
                os.kill(os.getpid(), signal.SIGKILL)
            await send(message)

        dies = scope["type"] == "http" and scope["path"] == "/sync/entries"
        await self.app(scope, receive, dying if dies else send)


def main(port: int) -> None:
    commands.migrate()
    uvicorn.run(_Dying(make_app()), host="127.0.0.1", port=port, log_level="warning", timeout_graceful_shutdown=2)


if __name__ == "__main__":
    main(int(sys.argv[1]))
