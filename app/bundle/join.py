"""Joins modules, and styles, into one file, as a tablet loads it: one opens quicker than forty, and packs smaller.

Each module becomes a function that runs once, in the order of who imports whom, and gives what it exports. Known are
the forms of import and export that our own scripts keep to; any other is refused with its line.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Callable, Iterator, Mapping

from app.domain.problems import OursToMend

_IMPORT = re.compile(r'^import\s+(?:\{(?P<names>[^}]*)\}|\*\s+as\s+(?P<all>\w+))\s+from\s+"(?P<path>[^"]+)";', re.M)
_EXPORT = re.compile(r"^export\s+(?P<kind>(?:async\s+)?function\*?|const|class)\s+(?P<name>\w+)", re.M)
_EXPORT_LIST = re.compile(r"^export\s+\{(?P<names>[^}]*)\};", re.M)
_STYLE = re.compile(r"""^@import url\("(?P<path>[^"]+)"\)(?:\s+layer\((?P<layer>[\w.-]+)\))?;""", re.M)
_LEFT_OVER = re.compile(r"^(?:import\b(?!\s*\()|export\b).*", re.M)


class NotJoined(OursToMend):
    """A module imports or exports in a form that is not known here, or what is not there."""


def join(entry: str, modules: Mapping[str, str]) -> str:
    """One ES module with everything that `entry` needs; it exports what `entry` exports.

    modules: path -> text. Raises: NotJoined.
    """
    order: list[str] = []
    _gather(entry, modules, order, ())
    names = {path: f"$m{number}" for number, path in enumerate(order)}
    parts = [f"const {names[path]} = {wrapped(modules[path], path, names.__getitem__)};" for path in order]
    given = "".join(f"export const {name} = {names[entry]}.{name};\n" for name in exported(modules[entry]))
    return "\n".join([*parts, given])


def _gather(path: str, modules: Mapping[str, str], order: list[str], above: tuple[str, ...]) -> None:
    if path in above:
        raise NotJoined(f"static/{path}:1: imports itself in a circle: {' -> '.join((*above, path))}")
    if path in order:
        return
    if path not in modules:
        line = _line_of(modules[above[-1]], above[-1], path) if above else 1
        raise NotJoined(
            f"static/{above[-1] if above else path}:{line}: asks for {path}, which the tablet does not carry"
        )
    for wanted in imported(modules[path], path):
        _gather(wanted, modules, order, (*above, path))
    order.append(path)


def join_styles(entry: str, styles: Mapping[str, str]) -> str:
    """One style with everything that `entry` imports in its place and its layer. Imports are one deep, in one folder.

    styles: path -> text. Raises: NotJoined.
    """

    def taken(found: re.Match[str]) -> str:
        path = posixpath.join(posixpath.dirname(entry), found["path"])
        if path not in styles:
            raise NotJoined(f"static/{entry}:1: asks for {found['path']}, which the tablet does not carry")
        return f"@layer {found['layer']} {{\n{styles[path]}\n}}" if found["layer"] else styles[path]

    return _STYLE.sub(taken, styles[entry])


def _line_of(text: str, path: str, wanted: str) -> int:
    """Where a module asks for another."""
    at = next((found.start("path") for found in _IMPORT.finditer(text) if _resolved(found["path"], path) == wanted), 0)
    return text.count("\n", 0, at) + 1


def imported(text: str, path: str) -> Iterator[str]:
    """The modules this one imports, as paths from the folder of all."""
    return (_resolved(found["path"], path) for found in _IMPORT.finditer(text))


def exported(text: str) -> list[str]:
    """The names a module gives."""
    names = [found["name"] for found in _EXPORT.finditer(text)]
    for found in _EXPORT_LIST.finditer(text):
        names += [one.partition(" as ")[2].strip() or one for one in _names(found["names"])]
    return names


def wrapped(text: str, path: str, named: Callable[[str], str]) -> str:
    """A module as an expression that runs it and gives what it exports. named: path -> the expression of a module.

    Raises: NotJoined.
    """

    def taken(found: re.Match[str]) -> str:
        source = named(_resolved(found["path"], path))
        if found["all"]:
            return f"const {found['all']} = {source};"
        names = ", ".join(_renamed(one, inner_first=True) for one in _names(found["names"]))
        return f"const {{ {names} }} = {source};"

    gives = [found["name"] for found in _EXPORT.finditer(text)]
    for found in _EXPORT_LIST.finditer(text):
        gives += [_renamed(one, inner_first=False) for one in _names(found["names"])]
    plain = _EXPORT_LIST.sub("", _EXPORT.sub(r"\g<kind> \g<name>", _IMPORT.sub(taken, text)))
    left = _LEFT_OVER.search(plain)
    if left:
        line = text.count("\n", 0, text.find(left[0])) + 1
        raise NotJoined(f"static/{path}:{line}: imports or exports in a form that is not known here: {left[0]}")
    return f'(() => {{ "use strict";\n{plain}\nreturn {{ {", ".join(gives)} }}; }})()'


def _resolved(wanted: str, path: str) -> str:
    if not wanted.startswith(("./", "../")):
        raise NotJoined(f"static/{path}:1: imports {wanted!r}: only relative paths are known here")
    return posixpath.normpath(posixpath.join(posixpath.dirname(path), wanted))


def _names(text: str) -> list[str]:
    return [one.strip() for one in text.split(",") if one.strip()]


def _renamed(one: str, *, inner_first: bool) -> str:
    """`a as b` as a property: `a: b` when taken in, `b: a` when given out."""
    first, _, second = (part.strip() for part in one.partition(" as "))
    if not second:
        return first
    return f"{first}: {second}" if inner_first else f"{second}: {first}"
