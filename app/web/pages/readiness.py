"""What the page on which a tablet proves itself receives."""

from __future__ import annotations

from dataclasses import dataclass, field

from app.language.speech import _


@dataclass(frozen=True, slots=True)
class PointShown:
    """One point, with a sentence for each thing that can be found: (code, words). `{count}` is the script's to fill."""

    key: str
    title: str
    optional: bool
    says: list[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class ReadinessPage:
    points: list[PointShown]
    says: list[tuple[str, str]]
    title: str = field(default_factory=lambda: _("Is this tablet ready?"))
