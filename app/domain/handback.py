"""What a customer was handed at the end of a job, edition by edition, and what has to be known for it. Pure.

An edition is the whole letter as it was written then: its words, its drawings, the names of its photos. Nothing of it
is made anew later, so that what was sent, what is printed and what is read years after are the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class AskedWhere(StrEnum):
    """Where a customer was asked."""

    INTAKE = "intake"
    HANDBACK = "handback"
    CUSTOMER = "customer"


@dataclass(frozen=True, slots=True)
class Consent:
    """What a customer said when asked whether letters may be mailed to them. The newest counts; all are kept."""

    id: str
    customer: str
    yes: bool
    place: AskedWhere
    recorded_by: str
    recorded_by_name: str
    recorded_at: datetime


@dataclass(frozen=True, slots=True)
class Retorque:
    """When the wheels of a job come to be torqued again. The newest counts; None: the appointment is called off."""

    id: str
    job: str
    comes_at: datetime | None
    recorded_by: str
    recorded_by_name: str
    recorded_at: datetime


@dataclass(frozen=True, slots=True)
class Changed:
    """What one part of a letter says now and said before, line by line."""

    part: str
    added: tuple[str, ...]
    gone: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Drawn:
    """A drawing of a letter: an SVG with its name in the letter and the same in words."""

    name: str
    svg: str
    words: str


@dataclass(frozen=True, slots=True)
class HandbackEdition:
    """One edition of a job's letter. Never changed.

    why, changes: why there is another edition and what is different in it; empty in the first.
    facts:      what it was written from, as canonical JSON.
    text, html: as mailed. paper: the HTML that is printed; it has the photos too.
    photos:     the hashes of the photos printed in it.
    message:    the letter in the outbox; "" when it was printed only, and `not_mailed` says why.
    """

    id: str
    job: str
    edition: int
    language: str
    why: str
    changes: tuple[Changed, ...]
    facts: str
    subject: str
    text: str
    html: str
    paper: str
    drawings: tuple[Drawn, ...]
    photos: tuple[str, ...]
    message: str
    not_mailed: str
    made_by: str
    made_by_name: str
    made_at: datetime


@dataclass(frozen=True, slots=True)
class HandbackPrint:
    """An edition as a file (`id` is the edition's): kept by hash once it was made, so that it is made once.

    pictures: its drawings as PNG, by their names. standard: "ua-1" where the PDF is accessible by ISO 14289-1, else "".
    left_out: photos that could not be printed.
    """

    id: str
    pdf: str
    pictures: tuple[tuple[str, str], ...]
    standard: str
    left_out: tuple[str, ...]
    made_at: datetime
