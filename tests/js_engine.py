"""The tablet's scripts inside a test: V8 through mini-racer, without a browser and without Node.

ES modules cannot be loaded there, so each becomes a function that is run once, its imports taken from the modules run
before it, as `app/bundle/join.py` does it for the tablet.
"""

from __future__ import annotations

import atexit
import json
from pathlib import Path
from typing import Any

from py_mini_racer import JSEvalException, MiniRacer

from app.bundle.bundle import lean
from app.bundle.join import imported, wrapped

ROOT = Path(__file__).resolve().parents[1]
TABLET = ROOT / "static" / "tablet"


class Refused(Exception):
    """The script threw, in the words it threw."""


class Engine:
    """One engine with the modules asked for, and all they import, loaded in order.

    `Engine("rules.js").call("rules.js", "decide", sheet, heard)`: names are files under `static/tablet`, arguments and
    results are JSON.
    """

    def __init__(self, *names: str, folder: Path = TABLET) -> None:
        self._folder = folder
        self._engine = MiniRacer()
        # One still open when the interpreter goes down often hangs it (mini-racer 0.14.1: six of ten runs).
        atexit.register(self._engine.close)
        self._loaded: set[str] = set()
        self._engine.eval("globalThis.modules = Object.create(null);")
        for name in names:
            self.load(name)

    def close(self) -> None:
        """Give its memory back at once; a test that starts many cannot wait for the interpreter's end."""
        atexit.unregister(self._engine.close)
        self._engine.close()

    def load(self, name: str, _above: tuple[str, ...] = ()) -> None:
        if name in _above:
            raise ValueError(f"modules import each other in a circle: {' -> '.join((*_above, name))}")
        if name in self._loaded:
            return
        text = (self._folder / name).read_text(encoding="utf-8")
        for one in imported(text, name):
            self.load(one, (*_above, name))
        self._loaded.add(name)
        # As it is sent: what makes a script lean could also make it wrong.
        self.run(lean(name, as_function(text, name)).decode())

    def load_text(self, text: str, name: str) -> None:
        """Load a module that is in no file, in place of the one loaded under this name before."""
        for one in imported(text, name):
            self.load(one)
        self._loaded.add(name)
        # As it is sent: what makes a script lean could also make it wrong.
        self.run(lean(name, as_function(text, name)).decode())

    def call(self, module: str, function: str, *arguments: Any) -> Any:
        """Call an exported function with JSON arguments; gives its JSON result. Raises: Refused."""
        # Parsed, not written as a literal: in a literal the key __proto__ would be no key.
        given = json.dumps(json.dumps(list(arguments)))
        found = self.run(f"JSON.stringify(modules[{json.dumps(module)}].{function}(...JSON.parse({given})))")
        return json.loads(found) if isinstance(found, str) else None

    def run(self, script: str) -> Any:
        """Run a plain script; gives what its last expression was. Raises: Refused."""
        try:
            return self._engine.eval(script)
        except JSEvalException as error:
            raise Refused(str(error)) from None


def as_function(text: str, name: str) -> str:
    """A module as a script that runs it once and keeps what it exports under its name."""
    given = wrapped(text, name, lambda path: f"modules[{json.dumps(path)}]")
    return f"modules[{json.dumps(name)}] = {given};"
