"""`python -m tests.bench.memory`: how much memory the served demo holds after every page was looked at.

The demo's workshop, filled as `demo/run.py` fills it, in a server of its own; its resident memory (RSS, of that process
alone) as Linux and psutil tell it: when it has started, and after every page was opened `rounds` times by somebody who
may. Printed beside the limit; the exit code says whether it was kept.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

import httpx
import psutil

from app import commands
from app.bootstrap import wire
from app.settings import Settings
from demo.seed import seed
from demo.serving import House, served
from tests.lived_in import PINS, pages_of

LIMIT_MB = 200


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=3)
    rounds = parser.parse_args().rounds
    with tempfile.TemporaryDirectory() as folder:
        house = House(Path(folder), "desk@larkfield.example")
        os.environ.update(house.settings)
        commands.migrate(Settings())
        office = wire(Settings()).office
        seed(office, datetime.now(UTC))
        pages = pages_of(office.store)
        with served(house) as base:
            process = next(
                one for one in psutil.Process().children() if str(base.rsplit(":", 1)[1]) in " ".join(one.cmdline())
            )
            begins = _mb(process)
            print(f"started: {begins:.0f} MB")
            people = {who: _signed_in(base, who) for who in {who for who, _ in pages}}
            for number in range(1, rounds + 1):
                for who, path in pages:
                    assert people[who].get(path).status_code in (200, 404), path
                print(f"after {number * len(pages)} pages: {_mb(process):.0f} MB (limit {LIMIT_MB} MB)", flush=True)
            return 0 if _mb(process) < LIMIT_MB else 1


def _mb(process: psutil.Process) -> float:
    return float(process.memory_info().rss) / 1024**2


def _signed_in(base: str, who: str) -> httpx.Client:
    client = httpx.Client(base_url=base, follow_redirects=True, timeout=30)
    if who:
        assert client.post("/sign-in", data={"person": who, "pin": PINS[who]}).status_code == 200
    return client


if __name__ == "__main__":
    sys.exit(main())
