"""Brings the catalogues up to date: every text that a person can be shown, found where it is said.

Templates are read as they are when shown, with a note taken of what is looked up; Python is read for `_("…")` and
`N_("…")`; lists of texts are handed in. What is translated already stays; what nobody says any more goes.
"""

from __future__ import annotations

import ast
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po, write_po

from app.language.catalogue import INTERFACE, path_of
from app.language.templates import SpeakingEnvironment

Found = dict[str, set[str]]
# A catalogue is changed by its texts alone, not by the day it was written.
_DAY = datetime(2026, 11, 25, tzinfo=UTC)


def in_templates(environment: SpeakingEnvironment) -> Found:
    """Texts of every template the environment can find, with the templates they stand in."""
    found: Found = {}
    loader = environment.loader
    assert loader is not None
    for name in environment.list_templates():
        for text in said_in_template(environment, loader.get_source(environment, name)[0]):
            found.setdefault(text, set()).add(f"templates/{name}")
    return found


def said_in_template(environment: SpeakingEnvironment, source: str) -> list[str]:
    said: list[str] = []

    def note(text: str) -> str:
        said.append(text)
        return text

    reading = environment.overlay(cache_size=0)
    reading.look_up = note  # type: ignore[method-assign]
    reading.parse(source)
    return said


def in_python(folder: Path) -> Found:
    """Texts of `_("…")` and `N_("…")` in every module of a folder, with the modules."""
    found: Found = {}
    for path in sorted(folder.rglob("*.py")):
        for text in said_in(path.read_text("utf-8")):
            found.setdefault(text, set()).add(path.relative_to(folder.parent).as_posix())
    return found


def said_in(source: str) -> Iterator[str]:
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("_", "N_") and node.args:
            text = node.args[0]
            if isinstance(text, ast.Constant) and isinstance(text.value, str):
                yield text.value


def together(parts: Iterable[Mapping[str, Iterable[str]]]) -> Found:
    found: Found = {}
    for part in parts:
        for text, places in part.items():
            found.setdefault(text, set()).update(places)
    return found


def bring_up_to_date(language: str, found: Found, domain: str = INTERFACE) -> Catalog:
    """Write a language's catalogue anew with exactly these texts, in an order that does not change by itself."""
    path = path_of(language, domain)
    known: dict[str, str] = {}
    if path.exists():
        with path.open("rb") as file:
            known = {str(one.id): str(one.string) for one in read_po(file, locale=language) if one.id and not one.fuzzy}
    made = Catalog(locale=language, project="Cotterpin", version="1", creation_date=_DAY, revision_date=_DAY)
    made.header_comment, made.fuzzy = f"# Cotterpin in “{language}”; DEVELOPERS.md says how.", False
    for text, places in sorted(found.items(), key=lambda one: (min(one[1]), one[0])):
        made.add(text, known.get(text, ""), locations=[(place, 0) for place in sorted(places)])
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as file:
        write_po(file, made, width=120, include_lineno=False, omit_header=False, sort_output=False)
    return made
