"""The catalogues of `shared/language`: one file of GNU gettext (.po) per language, looked up by the English text.

A text without a translation is shown in English, never as a key. A catalogue is read once, when it is first needed.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po

FOLDER = Path(__file__).resolve().parents[2] / "shared" / "language"
ENGLISH = "en"
# Every language there is, by its own name, as people choose it.
LANGUAGES: dict[str, str] = {ENGLISH: "English", "es": "Español"}
# What each file of a language holds: the interface's own texts; the procedures' and gates'.
INTERFACE, PROCEDURES = "", "procedures."


def path_of(language: str, domain: str = INTERFACE) -> Path:
    return FOLDER / f"{domain}{language}.po"


def read(language: str, domain: str = INTERFACE) -> Catalog:
    """The catalogue as it stands in its file, with what is not translated yet."""
    with path_of(language, domain).open("rb") as file:
        return read_po(file, locale=language)


@lru_cache(maxsize=8)
def texts_in(language: str, domain: str = INTERFACE) -> Mapping[str, str]:
    """Each text that has a translation, by its English; nothing for English, and nothing that is marked fuzzy."""
    if language == ENGLISH or not path_of(language, domain).exists():
        return {}
    return {
        str(one.id): one.string
        for one in read(language, domain)
        if one.id and isinstance(one.string, str) and one.string and not one.fuzzy
    }


@lru_cache(maxsize=8)
def mark_of(language: str) -> str:
    """What changes when anything that is said in a language does."""
    files = (path_of(language, domain) for domain in (INTERFACE, PROCEDURES))
    return hashlib.sha256(b"".join(one.read_bytes() for one in files if one.exists())).hexdigest()[:16]


def translated(text: str, language: str, domain: str = INTERFACE) -> str:
    return texts_in(language, domain).get(text, text)
