"""What the search page receives: every time and number already a text."""

from __future__ import annotations

from dataclasses import dataclass, field

from app.language.speech import _
from app.web.forms import Told


@dataclass(frozen=True, slots=True)
class FoundJob:
    number: str
    opened: str
    state: str
    complaint: str
    comeback: bool


@dataclass(frozen=True, slots=True)
class FoundVehicle:
    """A vehicle with those of its jobs that were found; none where only the vehicle itself fits what was typed."""

    history: str
    plate: str
    words: str
    customer: str
    jobs: list[FoundJob]


@dataclass(frozen=True, slots=True)
class SearchPage:
    """said: what was found, in one sentence; "" where nothing was asked."""

    asked: str
    told: Told
    said: str
    vehicles: list[FoundVehicle]
    title: str = field(default_factory=lambda: _("Search"))
