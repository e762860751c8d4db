"""What the pages of a job's letters show."""

from __future__ import annotations

from dataclasses import dataclass

from app.web.pages.floor import JobShown
from app.web.pages.form import FormShown


@dataclass(frozen=True, slots=True)
class ChangedShown:
    part: str
    added: tuple[str, ...]
    gone: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class EditionShown:
    """road: how it went, in words. post_link: the letter in the post, "" when it was printed only."""

    number: int
    made: str
    why: str
    changes: list[ChangedShown]
    road: str
    pdf_link: str
    page_link: str
    post_link: str


@dataclass(frozen=True, slots=True)
class LettersPage:
    """handback_link: where a job that is still open is handed back. retorque: when the wheels come, in words."""

    title: str
    job: JobShown
    editions: list[EditionShown]
    handback_link: str
    action: str
    customer: str
    customer_link: str
    consent: str
    form: FormShown
    said: str
