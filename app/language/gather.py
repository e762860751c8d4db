"""Brings the catalogues up to date: every text that a person can be shown, found where it is said.

Templates are read as they are when shown, with a note taken of what is looked up; Python is read for `_("…")` and
`N_("…")`; lists of texts are handed in. What is translated already stays; what nobody says any more goes.
"""

from __future__ import annotations

import ast
import difflib
import re
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po, write_po

from app.language.catalogue import INTERFACE, path_of
from app.language.templates import BLANK, SpeakingEnvironment

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


def known_in(language: str, domain: str = INTERFACE) -> dict[str, str]:
    """What a language's file has for each text, "" where nothing yet."""
    path = path_of(language, domain)
    if not path.exists():
        return {}
    with path.open("rb") as file:
        return {str(one.id): str(one.string) for one in read_po(file, locale=language) if one.id and not one.fuzzy}


_NUMBER = re.compile(r"\d+")
# Two texts this much alike are one that was changed.
_ALIKE = 0.75


def complaints(found: Iterable[str], known: Mapping[str, str]) -> list[str]:
    """What is not right between the texts that are said and a catalogue: missing, changed, unused, and translations
    with other blanks or other numbers than their text."""
    said = list(found)
    unused = [text for text in known if text not in set(said)]
    told = []
    for text in said:
        if not known.get(text):
            before = difflib.get_close_matches(text, unused, 1, _ALIKE)
            told.append(f"{text!r} {f'was changed from {before[0]!r}' if before else 'has no translation'}")
    told += [f"{text!r} is said nowhere any more" for text in unused]
    for text in said:
        words = known.get(text, "")
        if words and set(BLANK.findall(text)) != set(BLANK.findall(words)):
            told.append(f"{text!r} has other blanks than its translation")
        if words and sorted(_NUMBER.findall(text)) != sorted(_NUMBER.findall(words)):
            told.append(f"{text!r} has other numbers than its translation")
    return told


def bring_up_to_date(language: str, found: Found, domain: str = INTERFACE) -> Catalog:
    """Write a language's catalogue anew with exactly these texts, in an order that does not change by itself."""
    path, known = path_of(language, domain), known_in(language, domain)
    made = Catalog(locale=language, project="Cotterpin", version="1", creation_date=_DAY, revision_date=_DAY)
    made.header_comment, made.fuzzy = f"# Cotterpin in “{language}”; DEVELOPERS.md says how.", False
    for text, places in sorted(found.items(), key=lambda one: (min(one[1]), one[0])):
        made.add(text, known.get(text, ""), locations=[(place, 0) for place in sorted(places)])
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as file:
        write_po(file, made, width=120, include_lineno=False, omit_header=False, sort_output=False)
    return made
