"""What the pages about bays receive."""

from __future__ import annotations

from dataclasses import dataclass, field

from app.language.speech import _
from app.web.pages.form import FormShown


@dataclass(frozen=True, slots=True)
class BayLine:
    link: str
    name: str
    lift: str
    capacity: str
    inspected: str
    state: str


@dataclass(frozen=True, slots=True)
class BaysPage:
    bays: list[BayLine]
    said: list[str]
    title: str = field(default_factory=lambda: _("Bays"))


@dataclass(frozen=True, slots=True)
class BayPage:
    title: str
    action: str
    is_new: bool
    lifts: list[tuple[str, str]]
    lift_tools: list[tuple[str, str]] = field(default_factory=list)
    form: FormShown = field(default_factory=FormShown)
    said: list[str] = field(default_factory=list)
