"""Everything a tablet carries, under one content hash: compiled templates, tables, styles, scripts, fonts, the icon.

The same content gives the same bytes and the same hash, whatever machine, process or order of a folder. Nothing of the
shop's is in it: what a sheet needs of the shop comes in its packet.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import posixpath
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import rjsmin
from jinja2 import Environment

from app.bundle.compile import compile_all, module_of, names_in
from app.domain.canonical import canonical
from app.domain.problems import OursToMend

# Of the design: a tablet's first load, compressed.
LIMIT, SCRIPT_LIMIT = 150_000, 60_000
KINDS = {
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".json": "application/json",
    ".svg": "image/svg+xml",
    ".woff2": "font/woff2",
}
# What of static/ a tablet carries. Pages of the office load the same styles, so all of them are there.
CARRIED = ("css/*.css", "js/**/*.js", "tablet/*.js", "vendor/*.js", "vendor/fonts/*.woff2", "icon.svg")
# Templates besides templates/tablet that a sheet's page needs.
BESIDES = ("symbols/_set.svg",)
# What a style or script asks for by a relative address.
ASKS = {
    ".css": re.compile(r"""url\(\s*["']?([^"')]+)["']?\s*\)"""),
    ".js": re.compile(r"""(?:^|\s|\})(?:from|import)\s*\(?\s*["'](\.[^"']+)["']"""),
}


class NotWhole(OursToMend):
    """The bundle cannot be made; each line says where and why."""

    def __init__(self, lines: Iterable[str]) -> None:
        self.lines = tuple(lines)
        super().__init__("\n".join(self.lines))


@dataclass(frozen=True)
class Part:
    """One file of the bundle."""

    path: str
    body: bytes

    @property
    def kind(self) -> str:
        return KINDS[posixpath.splitext(self.path)[1]]

    @property
    def is_script(self) -> bool:
        return self.path.endswith(".js")

    @cached_property
    def packed(self) -> bytes:
        """As it travels. Fonts are compressed already."""
        return self.body if self.path.endswith(".woff2") else gzip.compress(self.body, 9, mtime=0)

    @cached_property
    def sha256(self) -> str:
        return hashlib.sha256(self.body).hexdigest()


@dataclass(frozen=True)
class Bundle:
    """The parts by path, in order, and their one hash."""

    parts: Mapping[str, Part]

    @cached_property
    def hash(self) -> str:
        """Names the content: the first 16 digits of the hash over every path and every part's hash."""
        return hashlib.sha256(canonical({path: part.sha256 for path, part in self.parts.items()})).hexdigest()[:16]

    @cached_property
    def manifest(self) -> bytes:
        """What there is to fetch and to check, for the tablet."""
        parts = {path: {"bytes": len(part.body), "sha256": part.sha256} for path, part in self.parts.items()}
        return canonical({"hash": self.hash, "parts": parts})

    def packed_bytes(self, *, scripts_only: bool = False) -> int:
        return sum(len(part.packed) for part in self.parts.values() if part.is_script or not scripts_only)


def build_bundle(root: Path, environment: Environment) -> Bundle:
    """Build the bundle of a checkout. `root` holds static/ and shared/; the environment reads the templates.

    Raises: NotWhole with every breach, each with file and line.
    """
    done, wrong = compile_all(environment, [*names_in(environment, "tablet"), *BESIDES])
    made = {
        "tablet/templates.js": module_of(done) if not wrong else "",
        "tablet/tables.js": tables_module(root / "shared"),
    }
    bodies = {path: text.encode() for path, text in made.items()} | dict(_carried(root / "static", made))
    parts = {path: Part(path, bodies[path]) for path in sorted(bodies)}
    lines = [str(one) for one in sorted(set(wrong))]
    lines += [line for part in parts.values() for line in not_there(part, parts)]
    if lines:
        raise NotWhole(lines)
    # Only now: what is wrong has been told by the lines of the files as they were written.
    return Bundle({path: Part(path, lean(path, part.body)) for path, part in parts.items()})


def _carried(static: Path, made: Iterable[str]) -> Iterator[tuple[str, bytes]]:
    for pattern in CARRIED:
        for path in static.glob(pattern):
            name = path.relative_to(static).as_posix()
            if name in made:
                raise NotWhole([f"static/{name}:1: the bundle makes a file of this name itself"])
            yield name, path.read_bytes()


def lean(name: str, body: bytes) -> bytes:
    """A script of ours without comments and needless space, which are half of what would be sent. All else as it is."""
    if not name.endswith(".js") or name.startswith("vendor/"):
        return body
    made: str = rjsmin.jsmin(body.decode())
    return made.encode()


def tables_module(shared: Path) -> str:
    """The tables both ends read, as one module: `units`, and each file of shared/rules by its name."""
    paths = [shared / "units.json", *(shared / "rules").glob("*.json")]
    tables = {path.stem: json.loads(path.read_text("utf-8")) for path in paths}
    rows = "".join(f"  {name}: {canonical(tables[name]).decode()},\n" for name in sorted(tables))
    head = "// Made from shared/ by app/bundle/bundle.py. Not to be changed by hand."
    return f"{head}\nexport const tables = {{\n{rows}}};\n"


def not_there(part: Part, parts: Mapping[str, Part]) -> Iterator[str]:
    """What a style or script asks for and the bundle does not hold, with file and line."""
    asks = ASKS.get(posixpath.splitext(part.path)[1])
    if asks is None or part.path.startswith("vendor/"):
        return
    text = part.body.decode()
    for found in asks.finditer(text):
        wanted = posixpath.normpath(posixpath.join(posixpath.dirname(part.path), found[1]))
        if wanted not in parts:
            line = text.count("\n", 0, found.start(1)) + 1
            yield f"static/{part.path}:{line}: asks for {found[1]}, which the tablet does not carry"


def beyond_limits(bundle: Bundle) -> list[str]:
    """Sentences for each limit that the bundle does not keep."""
    found = []
    for what, size, limit in (
        ("The bundle", bundle.packed_bytes(), LIMIT),
        ("Its script", bundle.packed_bytes(scripts_only=True), SCRIPT_LIMIT),
    ):
        if size > limit:
            found.append(f"{what} is {size:,} bytes compressed; the limit is {limit:,}.")
    return found
