"""What the templates about one job receive, for foreman and desk: every time, number and reason already a text."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from app.web.pages.floor import JobShown
from app.web.pages.form import FormShown
from app.web.pages.history import EarlierJob
from app.web.pages.photos import PhotoShown


@dataclass(frozen=True, slots=True)
class LineShown:
    title: str
    place: str
    progress: str


@dataclass(frozen=True, slots=True)
class PlacedShown:
    words: str
    link: str


@dataclass(frozen=True, slots=True)
class DriftShown:
    """What the next edition changes: a heading for each kind of change, and the titles under it."""

    groups: list[tuple[str, list[str]]]
    again: list[str]


@dataclass(frozen=True, slots=True)
class StoryLine:
    """An entry of the ledger in words. aside: the sentence it was set aside with, "" when it was accepted."""

    order: int
    at: str
    name: str
    words: str
    details: list[str]
    aside: str


@dataclass(frozen=True, slots=True)
class JobPage:
    """missing: sentences about what keeps the work from being signed off, each with where to enter it.

    drawings: before beside after, as `domain.drawing_compared.compared_view` gives them.
    problems: why no newer edition of the sheet can be made. is_open: whether anything can still be changed.
    """

    title: str
    job: JobShown
    said: str
    is_open: bool
    facts: list[tuple[str, str]]
    vehicle_link: str
    lines: list[LineShown]
    missing: list[tuple[str, str]]
    placements: list[PlacedShown]
    place_link: str
    edition: str
    drift: DriftShown | None
    problems: list[str]
    photos: list[PhotoShown]
    has_inspection: bool
    has_bounces: bool
    story: list[StoryLine]
    earlier: EarlierJob | None = None
    drawings: list[dict[str, Any]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class WorkChoice:
    """A piece of work to choose, or why it is not for this axle."""

    title: str
    link: str
    why_not: str


@dataclass(frozen=True, slots=True)
class Question:
    name: str
    ask: str
    choices: list[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class LinesPage:
    """groups: what can be chosen, by axle. row: the key of what was chosen, "" while nothing is."""

    title: str
    job: JobShown
    action: str
    groups: list[tuple[str, list[WorkChoice]]]
    row: str
    row_title: str
    sides: list[tuple[str, str]]
    questions: list[Question]
    vehicle_link: str
    form: FormShown


@dataclass(frozen=True, slots=True)
class CancelPage:
    title: str
    job: JobShown
    action: str
    begun: list[str]
    not_on_wheels: str
    closed: bool
    form: FormShown


@dataclass(frozen=True, slots=True)
class OpenPointShown:
    words: str
    link: str


@dataclass(frozen=True, slots=True)
class HandbackPage:
    """points: what is still open. letter_to: where the letter goes, "" when none goes and no_letter says why.

    closed: the job is closed already, and how. customer, consent: the e-mail address, what was said of mailing there.
    pdf_link, page_link: the letter as it would be now, "" where there is nothing to write from. letters_link: those
    that were written.
    """

    title: str
    job: JobShown
    points: list[OpenPointShown]
    letter_to: str
    no_letter: str
    customer_link: str
    customer: str
    consent: str
    pdf_link: str
    page_link: str
    letters_link: str
    contents: list[str]
    subject: str
    letter: str
    closed: str
    action: str
    entry_id: str
    form: FormShown
