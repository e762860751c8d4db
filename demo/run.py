"""`python3 demo/run.py`: from a fresh machine to an invented workshop that is open in the browser.

Makes `.venv`, installs, migrates, seeds the workshop once, serves it and prints where to open it and whom to sign in
as. `--walk` plays the main job through the real HTTP interface instead and leaves the customer's letters in a folder.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from environment import ROOT, ready


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--walk", action="store_true", help="play the main job to the end and leave the letters")
    parser.add_argument("--port", type=int, default=8765, help="port to serve on (default 8765)")
    parser.add_argument("--fresh", action="store_true", help="throw the demo's records away and seed it anew")
    given = parser.parse_args()
    python = ready("requirements.txt")
    words = ["--port", str(given.port)]
    words += ["--walk"] * given.walk + ["--fresh"] * given.fresh
    try:
        return subprocess.run([str(python), "-m", "demo.workshop", *words], cwd=ROOT, check=False).returncode
    except KeyboardInterrupt:
        return 0


if __name__ == "__main__":
    sys.exit(main())
