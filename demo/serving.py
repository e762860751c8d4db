"""A real server for the walk: a process of its own, on a free port, with a database and a post of its own."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx

from app.settings import ROOT

START_S = 60.0


class ServerGone(RuntimeError):
    """The server did not start, or ended by itself."""


@dataclass(frozen=True)
class House:
    """Where one walk keeps everything, and the settings the server gets."""

    folder: Path
    sender: str

    @property
    def post(self) -> Path:
        return self.folder / "post"

    @property
    def database(self) -> Path:
        return self.folder / "cotterpin.db"

    @property
    def settings(self) -> Mapping[str, str]:
        return {
            "COTTERPIN_DATABASE_URL": f"sqlite:///{self.database}",
            "COTTERPIN_MAIL_ROAD": "folder",
            "COTTERPIN_MAIL_FOLDER": str(self.post),
            "COTTERPIN_MAIL_SENDER": self.sender,
            "COTTERPIN_PAPERS_FOLDER": str(self.folder / "papers"),
            "COTTERPIN_PHOTOS_FOLDER": str(self.folder / "photos"),
            "COTTERPIN_MAIL_EVERY_S": "1",
            "COTTERPIN_SECURE_COOKIES": "false",
        }

    def run(self, command: str) -> subprocess.CompletedProcess[str]:
        """Run one of the app's commands to its end."""
        words = [sys.executable, "-m", "app", command]
        environment = {**os.environ, **self.settings, "PYTHONIOENCODING": "utf-8"}
        return subprocess.run(
            words, cwd=ROOT, env=environment, capture_output=True, text=True, encoding="utf-8", check=False
        )


@contextmanager
def served(house: House) -> Iterator[str]:
    """Serve for as long as this lasts; gives the address."""
    port = _free_port()
    base = f"http://127.0.0.1:{port}"
    log = house.folder / "server.log"
    with log.open("w", encoding="utf-8") as file:
        process = subprocess.Popen(
            [sys.executable, "-m", "app", "serve", "--port", str(port)],
            cwd=ROOT, env={**os.environ, **house.settings}, stdout=file, stderr=subprocess.STDOUT,
        )  # fmt: skip
        try:
            _wait_until_open(process, base, log)
            yield base
        finally:
            process.terminate()
            try:
                process.wait(15)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait(15)


def _wait_until_open(process: subprocess.Popen[bytes], base: str, log: Path) -> None:
    until = time.monotonic() + START_S
    while time.monotonic() < until:
        if process.poll() is not None:
            raise ServerGone(f"The server ended by itself: {log.read_text('utf-8')[-2_000:]}")
        try:
            if httpx.get(f"{base}/sign-in", timeout=2).status_code == 200:
                return
        except httpx.TransportError:
            time.sleep(0.1)
    raise ServerGone(f"The server did not open within {START_S:.0f} s: {log.read_text('utf-8')[-2_000:]}")


def _free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port: int = one.getsockname()[1]
        return port
