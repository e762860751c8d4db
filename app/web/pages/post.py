"""What the pages of the outbox receive."""

from __future__ import annotations

from dataclasses import dataclass, field

from app.language.speech import _
from app.web.pages.form import FormShown


@dataclass(frozen=True, slots=True)
class LetterLine:
    link: str
    to: str
    subject: str
    made: str
    more: str


@dataclass(frozen=True, slots=True)
class PostPage:
    came_back: list[LetterLine]
    undeliverable: list[LetterLine]
    waiting: list[LetterLine]
    sent: list[LetterLine]
    more_sent: int
    title: str = field(default_factory=lambda: _("Post"))


@dataclass(frozen=True, slots=True)
class LetterPage:
    """A letter. `html_at` is where its HTML is served by itself; "" when it has none.

    back_at: where it is noted that it came back; "" where it cannot have. back_because: why it came back last.
    customer: the name of the customer whose address a new one could be kept for; "" where there is none.
    """

    title: str
    to: str
    state: str
    facts: list[tuple[str, str]]
    answer: str
    text: str
    pdf_at: str
    html_at: str
    action: str
    can_try_again: bool
    back_at: str
    back_because: str
    customer: str
    form: FormShown = field(default_factory=FormShown)
    said: list[str] = field(default_factory=list)
