"""Makes the project's own `.venv` and installs exactly what a requirements file lists. Standard library only.

Used by `demo/run.py` and `tests/run.py` before anything is installed. Running it again when nothing changed costs
nothing: a stamp in the environment says which file it was made from.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
LEAST = (3, 11)


class CannotSetUp(SystemExit):
    """Ends the command with a plain sentence."""

    def __init__(self, words: str) -> None:
        print(words, file=sys.stderr)
        super().__init__(1)


def python_of(folder: Path = VENV) -> Path:
    return folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def ready(requirements: str) -> Path:
    """Give the Python of an environment that has everything in this requirements file, making it when needed."""
    if sys.version_info < LEAST:
        raise CannotSetUp(
            f"Cotterpin needs Python {LEAST[0]}.{LEAST[1]} or later; this is {sys.version.split()[0]}. "
            "Install a newer Python and run this command with it."
        )
    wanted = ROOT / requirements
    digest = hashlib.sha256(wanted.read_bytes() + sys.version.encode()).hexdigest()
    stamp = VENV / f"{wanted.stem}.stamp"
    if python_of().exists() and stamp.exists() and stamp.read_text("utf-8") == digest:
        return python_of()
    _make(wanted)
    stamp.write_text(digest, "utf-8")
    return python_of()


def _make(wanted: Path) -> None:
    print(f"Setting up {VENV.name} from {wanted.name} …", flush=True)
    if not python_of().exists():
        try:
            venv.create(VENV, with_pip=True, clear=VENV.exists())
        except (subprocess.CalledProcessError, OSError) as error:
            raise CannotSetUp(
                f"A virtual environment could not be made here ({error}). "
                "On Debian or Ubuntu install the package python3-venv, then run this again."
            ) from error
    install = [str(python_of()), "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--require-hashes"]
    done = subprocess.run([*install, "-r", str(wanted)], cwd=ROOT, check=False)
    if done.returncode != 0:
        raise CannotSetUp(
            "The packages Cotterpin needs could not be installed; the lines above say why. "
            "Check the network connection and run this again."
        )
