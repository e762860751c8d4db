"""Everything a tablet carries, under one content hash: compiled templates, tables, styles, scripts, fonts, the icon.

The same content gives the same bytes and the same hash, whatever machine, process or order of a folder. Nothing of the
shop's is in it: what a sheet needs of the shop comes in its packet. Beside it lies what the office's own pages load and
no tablet carries, made in the same way, each part under its own hash.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import posixpath
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

import brotli
import minify
from jinja2 import Environment

from app.bundle.compile import NotInSubset, compile_all, module_of, names_in, text_apart
from app.bundle.join import NotJoined, join, join_styles
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
CARRIED = ("tablet/page.js", "vendor/fonts/*.woff2", "icon.svg")
# Modules and styles are joined: each of these holds all it imports, and is the only one of its kind to be fetched.
MODULES = ("js/**/*.js", "tablet/*.js")
SCRIPT, STYLES = "tablet/start.js", "css/main.css"
# What the office's own pages load besides: scripts, each joined with what it imports, and files as they are.
OFFICE_SCRIPTS = ("js/main.js", "tablet/enrol.js", "tablet/readiness.js")
OFFICE_FILES = ("vendor/*.js",)
# Templates besides templates/tablet that a sheet's page needs.
BESIDES = ("symbols/_set.svg",)
# What a style asks for by a relative address.
ASKS = re.compile(r"""url\(\s*["']?([^"')]+)["']?\s*\)""")


# The minifier puts the declarations of one kind that follow each other into one, and what takes an object or list apart
# first in it, even before a name it needs (tdewolff-minify 2.24.12). Of another kind, they stay where they are.
_PATTERN = re.compile(r"\bconst (?=[\[{])")


_OF_LANGUAGE = re.compile(r"tables\.(\w+)\.json")


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

    @property
    def of_language(self) -> dict[str, str]:
        """Which language alone needs it: a tablet has those that somebody of its shop reads."""
        found = _OF_LANGUAGE.fullmatch(self.path)
        return {"language": found[1]} if found else {}

    @cached_property
    def packed(self) -> bytes:
        """As it travels to whoever takes Brotli (RFC 7932): every tablet, over HTTPS. Fonts are packed already."""
        return self.body if self.path.endswith(".woff2") else brotli.compress(self.body, quality=11)

    @cached_property
    def gzipped(self) -> bytes:
        """As it travels to anyone else."""
        return self.body if self.path.endswith(".woff2") else gzip.compress(self.body, 9, mtime=0)

    @cached_property
    def sha256(self) -> str:
        return hashlib.sha256(self.body).hexdigest()

    @property
    def named_by(self) -> str:
        """What names the content in an address, for a part that lies under its own."""
        return self.sha256[:16]


@dataclass(frozen=True)
class Bundle:
    """The parts by path, in order, and their one hash; and beside them what only the office's pages load."""

    parts: Mapping[str, Part]
    beside: Mapping[str, Part] = field(default_factory=dict)

    @cached_property
    def hash(self) -> str:
        """Names the content: the first 16 digits of the hash over every path and every part's hash."""
        return hashlib.sha256(canonical({path: part.sha256 for path, part in self.parts.items()})).hexdigest()[:16]

    @cached_property
    def manifest(self) -> bytes:
        """What there is to fetch and to check, for the tablet."""
        parts = {
            path: {"bytes": len(part.body), "sha256": part.sha256} | part.of_language
            for path, part in self.parts.items()
        }
        return canonical({"hash": self.hash, "parts": parts})

    def address(self, path: str) -> str:
        """Where a page of the office finds a file of static/: what tablets carry where they have it too."""
        content = self.hash if path in self.parts else self.beside[path].named_by
        return f"/bundle/{content}/{path}"

    def part_at(self, content: str, path: str) -> Part | None:
        """What lies under such an address; None for another hash than today's."""
        if content == self.hash:
            return self.parts.get(path)
        found = self.beside.get(path)
        return found if found is not None and found.named_by == content else None

    def packed_bytes(self, *, scripts_only: bool = False) -> int:
        return sum(len(part.packed) for part in self.parts.values() if part.is_script or not scripts_only)


@dataclass(frozen=True, slots=True)
class Spoken:
    """What the tablet speaks one language with: how templates are read in it, and its sentences and words."""

    environment: Environment
    texts: Mapping[str, object]


def build_bundle(
    root: Path, environment: Environment, texts: Mapping[str, object], others: Mapping[str, Spoken] | None = None
) -> Bundle:
    """Build the bundle of a checkout. `root` holds static/ and shared/; the environment reads the templates.

    texts: the sentences and words the tablet speaks with. others: the same by language, for languages besides English.
    Raises: NotWhole with every breach, each with file and line.
    """
    others = others or {}
    static = root / "static"
    done, wrong = [], []
    for one in (Spoken(environment, texts), *others.values()):
        compiled, breaches = compile_all(one.environment, [*names_in(one.environment, "tablet"), *BESIDES])
        done.append(module_of(compiled))
        wrong += breaches
    templates, said = "export const render = 0;", [list[str]() for _ in done]
    try:
        if not wrong:
            templates, said = text_apart(*done)
    except NotInSubset as error:
        wrong += error.breaches
    lines = [str(one) for one in sorted(set(wrong))]
    modules = _modules(static, {"tablet/templates.js": templates})
    bodies = {path: static.joinpath(path).read_bytes() for pattern in CARRIED for path in _found(static, pattern)}
    bodies["tables.json"] = tables_of(root / "shared", texts, said[0])
    for (language, other), pieces in zip(others.items(), said[1:], strict=True):
        bodies[f"tables.{language}.json"] = canonical({"texts": other.texts, "templates": pieces})
    beside = {path: (static / path).read_bytes() for pattern in OFFICE_FILES for path in _found(static, pattern)}
    try:
        beside |= {path: lean(path, join(path, modules)) for path in OFFICE_SCRIPTS}
        bodies[SCRIPT] = lean(SCRIPT, join(SCRIPT, modules))
        styles = {path: (static / path).read_text("utf-8") for path in _found(static, "css/*.css")}
        bodies[STYLES] = lean(STYLES, join_styles(STYLES, styles))
    except NotJoined as error:
        lines.append(str(error))
    parts = {path: Part(path, bodies[path]) for path in sorted(bodies)}
    lines += [line for part in parts.values() for line in not_there(part, parts)]
    if lines:
        raise NotWhole(lines)
    return Bundle(parts, {path: Part(path, beside[path]) for path in sorted(beside)})


def _modules(static: Path, made: Mapping[str, str]) -> dict[str, str]:
    """Every module by its path, with those that are made here."""
    found = {path: (static / path).read_text("utf-8") for pattern in MODULES for path in _found(static, pattern)}
    for name in made:
        if name in found:
            raise NotWhole([f"static/{name}:1: the bundle makes a file of this name itself"])
    return {**found, **made}


def _found(static: Path, pattern: str) -> list[str]:
    return sorted(path.relative_to(static).as_posix() for path in static.glob(pattern))


def lean(path: str, text: str) -> bytes:
    """A script or style of ours as it is sent: without comments, needless space and long names."""
    if path.endswith(".js"):
        text = _PATTERN.sub("let ", text)
    return str(minify.string(KINDS[posixpath.splitext(path)[1]].partition(";")[0], text)).encode()


def tables_of(shared: Path, texts: Mapping[str, object], pieces: list[str]) -> bytes:
    """What the script reads as data: `units`, `texts`, the rules of entries, and the text of the templates."""
    return canonical({
        "units": json.loads((shared / "units.json").read_text("utf-8")),
        "entries": json.loads((shared / "rules" / "entries.json").read_text("utf-8")),
        "texts": texts,
        "templates": pieces,
    })  # fmt: skip


def not_there(part: Part, parts: Mapping[str, Part]) -> Iterator[str]:
    """What a style asks for and the bundle does not hold, with file and line."""
    if not part.path.endswith(".css"):
        return
    text = part.body.decode()
    for found in ASKS.finditer(text):
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
