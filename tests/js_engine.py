"""The tablet's scripts inside a test: V8 through mini-racer, without a browser and without Node.

ES modules cannot be loaded there, so each becomes a function that is run once, its imports taken from the modules run
before it. The rewriting knows the forms of import and export our own scripts use, and refuses any other.
"""

from __future__ import annotations

import atexit
import json
import re
from collections.abc import Iterator
from pathlib import Path, PurePosixPath
from typing import Any

from py_mini_racer import JSEvalException, MiniRacer

ROOT = Path(__file__).resolve().parents[1]
TABLET = ROOT / "static" / "tablet"

_IMPORT = re.compile(r'^import\s+(?:\{(?P<names>[^}]*)\}|\*\s+as\s+(?P<all>\w+))\s+from\s+"(?P<path>[^"]+)";', re.M)
_EXPORT = re.compile(r"^export\s+(?P<kind>(?:async\s+)?function\*?|const|let|class)\s+(?P<name>\w+)", re.M)
_EXPORT_LIST = re.compile(r"^export\s+\{(?P<names>[^}]*)\};", re.M)
_LEFT_OVER = re.compile(r"^(?:import\b(?!\s*\()|export\b).*", re.M)


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

    def load(self, name: str, _above: tuple[str, ...] = ()) -> None:
        if name in _above:
            raise ValueError(f"modules import each other in a circle: {' -> '.join((*_above, name))}")
        if name in self._loaded:
            return
        text = (self._folder / name).read_text(encoding="utf-8")
        for one in imported(text, name):
            self.load(one, (*_above, name))
        self._loaded.add(name)
        self.run(as_function(text, name))

    def load_text(self, text: str, name: str) -> None:
        """Load a module that is in no file, in place of the one loaded under this name before."""
        for one in imported(text, name):
            self.load(one)
        self._loaded.add(name)
        self.run(as_function(text, name))

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


def imported(text: str, name: str) -> Iterator[str]:
    """The modules this one imports, as paths from the folder of all."""
    return (_resolved(found["path"], name) for found in _IMPORT.finditer(text))


def as_function(text: str, name: str) -> str:
    """A module as a script that runs it once and keeps what it exports under its name."""
    exports = [found["name"] for found in _EXPORT.finditer(text)]
    for found in _EXPORT_LIST.finditer(text):
        exports += [_renamed(one, inner_first=False) for one in _names(found["names"])]

    def taken(found: re.Match[str]) -> str:
        source = f"modules[{json.dumps(_resolved(found['path'], name))}]"
        if found["all"]:
            return f"const {found['all']} = {source};"
        names = ", ".join(_renamed(one, inner_first=True) for one in _names(found["names"]))
        return f"const {{ {names} }} = {source};"

    plain = _IMPORT.sub(taken, text)
    plain = _EXPORT.sub(r"\g<kind> \g<name>", plain)
    plain = _EXPORT_LIST.sub("", plain)
    left = _LEFT_OVER.search(plain)
    if left:
        raise ValueError(f"{name} imports or exports in a form that is not known here: {left[0]}")
    return f'modules[{json.dumps(name)}] = (() => {{ "use strict";\n{plain}\nreturn {{ {", ".join(exports)} }}; }})();'


def _resolved(path: str, name: str) -> str:
    if not path.startswith("./"):
        raise ValueError(f"{name} imports {path!r}: only ./ paths are known here")
    return str(PurePosixPath(name).parent / path[2:])


def _names(text: str) -> list[str]:
    return [one.strip() for one in text.split(",") if one.strip()]


def _renamed(one: str, *, inner_first: bool) -> str:
    """`a as b` as a property: `a: b` when taken in, `b: a` when given out."""
    first, _, second = (part.strip() for part in one.partition(" as "))
    if not second:
        return first
    return f"{first}: {second}" if inner_first else f"{second}: {first}"
