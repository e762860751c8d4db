"""What the pages about the workshop itself receive."""

from __future__ import annotations

from dataclasses import dataclass, field

from app.language.speech import _
from app.web.pages.form import FormShown


@dataclass(frozen=True, slots=True)
class ShopPage:
    units: list[tuple[str, str]]
    zones: list[str]
    languages: list[tuple[str, str]]
    form: FormShown = field(default_factory=FormShown)
    said: list[str] = field(default_factory=list)
    title: str = field(default_factory=lambda: _("Workshop"))
