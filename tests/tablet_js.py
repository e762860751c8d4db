"""The tablet's scripts inside a test: V8 through mini-racer, without a browser and without Node."""

from __future__ import annotations

import atexit
import json
import re
from collections.abc import Mapping
from typing import Any

from py_mini_racer import JSEvalException, MiniRacer

from app.settings import ROOT

RUNTIME = (ROOT / "static" / "tablet" / "runtime.js").read_text("utf-8")


class Refused(Exception):
    """The script threw, in the words it threw."""


def started() -> MiniRacer:
    """An engine that is closed before the interpreter goes down; one left open often hangs it."""
    engine = MiniRacer()
    atexit.register(engine.close)
    return engine


class Modules:
    """Modules loaded one after the other, each seeing those before it."""

    def __init__(self, *sources: str) -> None:
        self._engine = started()
        for source in sources:
            self._engine.eval(as_script(source))

    def value(self, expression: str) -> Any:
        """The value of an expression, by way of JSON."""
        return json.loads(str(self._engine.eval(f"JSON.stringify({expression})")))


class Templates:
    """Compiled templates, ready to render. `module` is what `compile_templates` wrote."""

    def __init__(self, module: str) -> None:
        self._engine = started()
        self._engine.eval(as_script(RUNTIME))
        self.load(module)

    def load(self, module: str) -> None:
        """Put other templates in the place of those loaded before."""
        self._engine.eval(
            f"(() => {{ {as_script(module)}; globalThis.renderJson = (name, context) => "
            f"render(name, JSON.parse(context)); }})()"
        )

    def render(self, name: str, context: Mapping[str, Any]) -> str:
        """Render a template. Raises: Refused."""
        try:
            return str(self._engine.eval(f"renderJson({json.dumps(name)}, {json.dumps(json.dumps(context))})"))
        except JSEvalException as error:
            raise Refused(str(error)) from None


def as_script(module: str) -> str:
    """A module as a plain script: one engine holds them all, so what they import of each other is there already."""
    without_imports = re.sub(r'^import \{[^}]*\} from "[^"]+";$', "", module, flags=re.M)
    return re.sub(r"^export ", "", without_imports, flags=re.M)
