"""Which way imports point. Reads the imports with `ast`; a breach is named with its file, line and rule.

The layers, innermost first: `trade` (the sums), `domain` (the rules), `use_cases` with `ports`, then the parts that
touch the world (`storage`, `mail`, `print`, `bundle`, `sync`, `trust`, `web`), which know what is within and never each
other, and outermost `bootstrap` and the commands, which join them.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.builders import ROOT

OUTER = ("storage", "mail", "print", "bundle", "sync", "trust", "web")
ANYTHING = None


@dataclass(frozen=True, slots=True)
class Layer:
    """What a part of `app` may import. Its own modules always; `outside` None means any package."""

    rule: str
    ours: frozenset[str]
    outside: frozenset[str] | None
    only_in: tuple[tuple[str, frozenset[str]], ...] = ()


def _layer(rule: str, ours: str, outside: str | None, **only_in: str) -> Layer:
    return Layer(
        rule,
        frozenset(ours.split()),
        None if outside is None else frozenset(outside.split()),
        tuple((package, frozenset(modules.split())) for package, modules in only_in.items()),
    )


LAYERS: dict[str, Layer] = {
    "trade": _layer("trade imports only pint, numpy, scipy and the standard library", "", "pint numpy scipy"),
    "domain": _layer(
        "domain imports only trade and the standard library, pydantic and yaml at its edge",
        "trade",
        "pydantic yaml",
        pydantic="entry packet sheet procedure procedure_schema suspect_table taken_out",
        yaml="procedure",
    ),
    "language": _layer(
        "language imports nothing of ours, Babel where it reads catalogues, Jinja2 where it reads templates",
        "",
        "babel jinja2",
        babel="catalogue gather",
        jinja2="templates",
    ),
    "ports": _layer("ports name what use cases need, in the domain's words", "domain trade", ""),
    "texts": _layer("texts know the domain's problems and the language spoken", "domain language", ""),
    "use_cases": _layer("use_cases import domain, trade, ports and language", "domain trade ports language", ""),
    **{
        part: _layer(
            f"{part} imports inward (use_cases to trade), language, texts, settings, ids, files, packing; not its like",
            "domain trade ports use_cases language texts settings ids files packing",
            ANYTHING,
        )
        for part in OUTER
    },
    "settings": _layer("settings import nothing of ours", "", "pydantic pydantic_settings"),
    "ids": _layer("ids import nothing of ours but ports", "ports", "uuid_utils"),
    "files": _layer("files import nothing of ours", "", ""),
    "packing": _layer("packing imports nothing of ours", "", "brotli"),
    "pins": _layer("pins import nothing of ours but ports", "ports", "argon2"),
}
# The outermost: they join the rest, so they may import all of it, and nothing may import them.
JOINERS = frozenset({"bootstrap", "commands", "__main__"})

# Below the joiners nothing asks the clock, makes a random id or reads the environment, and within nothing does I/O.
WITHIN = frozenset({"trade", "domain", "use_cases", "ports", "texts"})
WORLDLY = ("asyncio", "glob", "http", "os", "random", "secrets", "select", "shutil", "signal", "smtplib", "socket",
           "sqlite3", "ssl", "subprocess", "tempfile", "threading", "time", "urllib.request", "uuid")  # fmt: skip
CLOCK_CALLS = frozenset({"now", "utcnow", "today"})


def breaches(path: Path, source: str, name: str) -> list[str]:
    """Every breach in one module, as "file:line: rule (what was imported)". `name` is dotted: app.web.forms."""
    found = []
    part = name.split(".")[1] if "." in name else ""
    tree = ast.parse(source, filename=str(path))
    for line, imported in imports_of(tree, name):
        against = _against(part, name, imported)
        if against is not None:
            found.append(f"{path}:{line}: {against} ({imported})")
    for line, call in _clock_calls(tree) if part in WITHIN else ():
        found.append(f"{path}:{line}: nothing below bootstrap asks the clock ({call})")
    return found


def imports_of(tree: ast.Module, name: str) -> Iterator[tuple[int, str]]:
    """Every import wherever it stands, inside functions and under TYPE_CHECKING too, with relative ones made whole."""
    package = name.split(".")[:-1]
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = ".".join((*package[: len(package) - node.level + 1], *filter(None, [node.module])))
            module = base if node.level else str(node.module)
            if module == "app":
                yield from ((node.lineno, f"{module}.{alias.name}") for alias in node.names)
            else:
                yield node.lineno, module
        elif isinstance(node, ast.Call) and _called(node) in ("__import__", "import_module"):
            first = node.args[0] if node.args else None
            yield node.lineno, str(first.value) if isinstance(first, ast.Constant) else "a computed name"


def _called(node: ast.Call) -> str:
    return node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")


def _clock_calls(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """Calls such as datetime.now(): of a class of the standard library, not of a clock handed in."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in CLOCK_CALLS:
            owner = node.func.value
            last = owner.id if isinstance(owner, ast.Name) else getattr(owner, "attr", "")
            if last in ("datetime", "date"):
                yield node.lineno, f"{last}.{node.func.attr}"


def _against(part: str, name: str, imported: str) -> str | None:
    """The rule that this import breaks, or None."""
    top, _, rest = imported.partition(".")
    if imported == "a computed name":
        return "imports are written out, so that they can be read"
    if part in JOINERS or part == "":
        return None
    layer = LAYERS.get(part)
    if layer is None:
        return f"app/{part} is in no layer of this test: give it one"
    if top == "app":
        target = rest.split(".")[0]
        if target in JOINERS:
            return "bootstrap and the commands join the rest; nothing imports them"
        return None if target in ("", part) or target in layer.ours else layer.rule
    if top in sys.stdlib_module_names:
        return f"{part} does no I/O and keeps no clock of its own" if part in WITHIN and _is_worldly(imported) else None
    if layer.outside is None:
        return None
    if top not in layer.outside:
        return layer.rule
    only_in = dict(layer.only_in).get(top)
    return None if only_in is None or name.split(".")[-1] in only_in else layer.rule


def _is_worldly(imported: str) -> bool:
    return any(imported == one or imported.startswith(f"{one}.") for one in WORLDLY)


def modules() -> list[Path]:
    return sorted((ROOT / "app").rglob("*.py"))


def dotted(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def test_imports_point_inward():
    found = [one for path in modules() for one in breaches(path, path.read_text(encoding="utf-8"), dotted(path))]

    assert found == []


def test_there_is_something_to_read():
    """A test that looked at an empty folder would pass for ever."""
    seen = {dotted(path).split(".")[1] for path in modules() if "." in dotted(path)}

    assert {"trade", "domain", "use_cases", "storage", "web"} <= seen


@pytest.mark.parametrize(
    ("name", "source", "words"),
    [
        ("app.trade.loads", "import app.domain.packet", "trade imports only"),
        ("app.trade.loads", "from app import domain", "trade imports only"),
        ("app.trade.loads", "from ..domain import packet", "trade imports only"),
        ("app.trade.loads", "import yaml", "trade imports only"),
        ("app.domain.rules", "from app.use_cases.office import Office", "domain imports only"),
        ("app.domain.rules", "import pint", "domain imports only"),
        ("app.domain.rules", "from pydantic import BaseModel", "domain imports only"),
        ("app.domain.packet", "import yaml", "domain imports only"),
        ("app.domain.rules", "import fastapi", "domain imports only"),
        ("app.domain.rules", "def f():\n    import sqlite3", "no I/O"),
        ("app.domain.rules", "import random", "no I/O"),
        ("app.domain.rules", "from datetime import datetime\nat = datetime.now()", "asks the clock"),
        ("app.domain.rules", "import importlib\nimportlib.import_module('app.web.forms')", "domain imports only"),
        ("app.domain.rules", "import importlib\nimportlib.import_module(name)", "written out"),
        ("app.use_cases.hand_back", "from app.storage.sql import Store", "use_cases import"),
        ("app.use_cases.hand_back", "from app.texts import say", "use_cases import"),
        ("app.use_cases.hand_back", "import httpx", "use_cases import"),
        ("app.use_cases.hand_back", "import datetime\nat = datetime.date.today()", "asks the clock"),
        ("app.ports", "from app.use_cases import office", "ports name"),
        ("app.texts", "from app.web import forms", "texts know"),
        ("app.storage.sql", "from app.web.hub import Hub", "storage imports inward"),
        ("app.mail.smtp", "if True:\n    from app.storage import tables", "mail imports inward"),
        ("app.web.forms", "from app.sync import entries", "web imports inward"),
        ("app.web.forms", "from app.bootstrap import office", "nothing imports them"),
        ("app.sync.entries", "from app.web.security import Visitor", "sync imports inward"),
        ("app.trust.hand_out", "from app.web.rendering import environment", "trust imports inward"),
        ("app.settings", "from app.domain.packet import Axle", "settings import nothing"),
        ("app.helpers", "import json", "in no layer"),
    ],
)
def test_a_planted_breach_is_found_and_its_rule_named(name: str, source: str, words: str):
    path = Path(*name.split(".")).with_suffix(".py")

    found = breaches(path, source, name)

    assert len(found) == 1
    assert found[0].startswith(f"{path}:{source.count(chr(10)) + 1}: ")
    assert words in found[0]


@pytest.mark.parametrize(
    ("name", "source"),
    [
        ("app.trade.units", "import pint\nimport math\nfrom app.trade.quantity import Quantity"),
        ("app.domain.rules", "from app.trade.units import parse\nfrom app.domain import entry\nimport json"),
        ("app.domain.packet", "from pydantic import TypeAdapter"),
        ("app.use_cases.hand_back", "from app.ports import Unit\nat = office.clock.now()"),
        (
            "app.web.forms",
            "import fastapi\nimport time\nfrom app.use_cases.office import Office\nfrom app.texts import say",
        ),
        ("app.bootstrap", "from app.web.application import build\nfrom app.storage.sql import Store"),
    ],
)
def test_what_the_rules_allow_is_let_be(name: str, source: str):
    assert breaches(Path("x.py"), source, name) == []
