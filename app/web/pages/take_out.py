"""What the page for taking everything out receives."""

from __future__ import annotations

from dataclasses import dataclass, field

from app.web.pages.form import FormShown


@dataclass(frozen=True, slots=True)
class TakeOutPage:
    """counts: what there is and how much of it. missing: photos and papers that records name and that are not here."""

    counts: list[tuple[str, str]]
    missing: list[str]
    form: FormShown = field(default_factory=FormShown)
    title: str = "Take everything out"
