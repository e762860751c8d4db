"""What the template of My work receives: every time and number already a text."""

from __future__ import annotations

from dataclasses import dataclass, field

from app.language.speech import _


@dataclass(frozen=True, slots=True)
class JobLine:
    """A job as one line of My work. `mark` is the castle nut that says how far it is."""

    number: str
    plate: str
    vehicle: str
    complaint: str
    when: str
    bay: str
    next_step: str
    progress: str
    held: str
    mark: str
    link: str
    handed_by: str = ""


@dataclass(frozen=True, slots=True)
class Waiting:
    """Something that waits for this person: a second look, or an entry set aside."""

    number: str
    plate: str
    words: str
    more: str
    link: str


@dataclass(frozen=True, slots=True)
class WorkPage:
    now: list[JobLine]
    next: list[JobLine]
    in_hand: list[JobLine]
    second_looks: list[Waiting]
    asides: list[Waiting]
    asked_number: str
    number_unknown: bool
    # On a tablet that has not been told yet; the office itself always knows.
    unheard: bool = False
    title: str = field(default_factory=lambda: _("My work"))
    live: str = "floor"
