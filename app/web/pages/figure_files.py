"""What the pages of figures as files receive."""

from __future__ import annotations

from dataclasses import dataclass, field

from app.language.speech import _
from app.web.pages.form import FormShown


@dataclass(frozen=True, slots=True)
class FilePage:
    """How a file has to look, where the book can be had as one, and where to send one.

    places: key, words, kind, axles.
    """

    columns: list[tuple[str, str]]
    told_columns: list[tuple[str, str]]
    places: list[tuple[str, str, str, str]]
    exports: list[tuple[str, str]]
    header: str
    said: list[str]
    form: FormShown = field(default_factory=FormShown)
    title: str = field(default_factory=lambda: _("Figures as a file"))


@dataclass(frozen=True, slots=True)
class ReportLine:
    number: str
    outcome: str
    outcome_words: str
    what: str
    why: str


@dataclass(frozen=True, slots=True)
class ReportPage:
    """What a file comes to. `is_guessed` = nothing in it says its encoding; `left` lines are in the report alone."""

    title: str
    read_as: str
    is_guessed: bool
    counts: list[tuple[str, int]]
    refused: list[ReportLine]
    others: list[ReportLine]
    left: int
    is_done: bool
    take_at: str
    hint: str
    report_at: str
    said: list[str]
    form: FormShown = field(default_factory=FormShown)
