"""What the pages about people receive."""

from __future__ import annotations

from dataclasses import dataclass, field

from app.language.catalogue import LANGUAGES
from app.language.speech import _
from app.web.pages.form import FormShown


@dataclass(frozen=True, slots=True)
class PersonLine:
    link: str
    name: str
    roles: str
    state: str


@dataclass(frozen=True, slots=True)
class PeoplePage:
    people: list[PersonLine]
    said: list[str]
    title: str = field(default_factory=lambda: _("People"))


@dataclass(frozen=True, slots=True)
class PersonPage:
    """One person, or an empty form for a new one (`link` is then the list's)."""

    title: str
    action: str
    is_new: bool
    locked: str
    roles: list[tuple[str, str]]
    form: FormShown = field(default_factory=FormShown)
    said: list[str] = field(default_factory=list)
    languages: list[tuple[str, str]] = field(default_factory=lambda: list(LANGUAGES.items()))
