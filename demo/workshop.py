"""The invented workshop: seeds it once, then serves it, or plays the walk. Run by `demo/run.py` inside `.venv`."""

from __future__ import annotations

import argparse
import os
import shutil
import sys
from datetime import UTC, datetime
from io import TextIOWrapper
from pathlib import Path
from typing import cast

from app import commands
from app.bootstrap import wire
from app.settings import ROOT, Settings
from demo import larkfield
from demo.seed import is_seeded, seed
from demo.walk import OUT, walk

DATA = ROOT / "data" / "demo"
# Set whatever else is set on this machine: a demo never touches a workshop's own records, and sends no letter.
SETTINGS = {
    "COTTERPIN_DATABASE_URL": f"sqlite:///{DATA / 'cotterpin.db'}",
    "COTTERPIN_PAPERS_FOLDER": str(DATA / "papers"),
    "COTTERPIN_PHOTOS_FOLDER": str(DATA / "photos"),
    "COTTERPIN_MAIL_ROAD": "folder",
    "COTTERPIN_MAIL_FOLDER": str(DATA / "post"),
    "COTTERPIN_MAIL_SENDER": larkfield.SHOP.email,
}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--port", type=int, default=8765)
    parser.add_argument("--walk", action="store_true")
    parser.add_argument("--fresh", action="store_true")
    parser.add_argument("--out", type=Path, default=OUT, help="folder for what the walk leaves behind")
    given = parser.parse_args()
    for stream in (sys.stdout, sys.stderr):
        # A console of another encoding shows what it can instead of ending the demo at the first “N·m”.
        cast(TextIOWrapper, stream).reconfigure(encoding="utf-8", errors="replace")
    if given.walk:
        return walk(given.out)
    if given.fresh:
        shutil.rmtree(DATA, ignore_errors=True)
    os.environ.update(SETTINGS)
    prepare(Settings())
    print(whom_to_sign_in_as())
    return commands.serve(port=given.port)


def prepare(settings: Settings) -> None:
    """Bring the database to its form and fill it, unless it is filled."""
    commands.migrate(settings)
    wired = wire(settings)
    if not is_seeded(wired.office):
        print("Filling the invented workshop …", flush=True)
        seed(wired.office, datetime.now(UTC))


def whom_to_sign_in_as() -> str:
    lines = [f"{larkfield.SHOP.name} (invented). Sign in as:"]
    for one in larkfield.PEOPLE:
        roles = ", ".join(sorted(role.value for role in one.roles))
        lines.append(f"  {one.name:<18} PIN {one.pin}   {roles}")
    lines.append("Press Ctrl+C to stop. Everything is kept in data/demo; --fresh begins anew.")
    return "\n".join(lines)


if __name__ == "__main__":
    sys.exit(main())
