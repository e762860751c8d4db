"""What the pages about the workshop itself and its tablets receive."""

from __future__ import annotations

from dataclasses import dataclass, field

from app.web.pages.form import FormShown


@dataclass(frozen=True, slots=True)
class ShopPage:
    units: list[tuple[str, str]]
    zones: list[str]
    form: FormShown = field(default_factory=FormShown)
    said: list[str] = field(default_factory=list)
    title: str = "Workshop"


@dataclass(frozen=True, slots=True)
class TabletLine:
    name: str
    seen: str
    last_seq: str
    readiness: str
    state: str


@dataclass(frozen=True, slots=True)
class TabletsPage:
    tablets: list[TabletLine]
    title: str = "Tablets"
