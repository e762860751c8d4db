"""What the pages about prices and estimates receive."""

from __future__ import annotations

from dataclasses import dataclass, field

from app.language.speech import _
from app.use_cases.written_estimate import Written
from app.web.pages.form import FormShown


@dataclass(frozen=True, slots=True)
class PricesPage:
    """taxes: the places of the table's rows. kinds: what a tax can fall on; ticked: what is ticked, "0.part"."""

    form: FormShown
    taxes: list[int]
    ticked: frozenset[str]
    kinds: list[tuple[str, str]]
    bases: list[tuple[str, str]]
    roundings: list[tuple[str, str]]
    laws: list[tuple[str, str]]
    law_notes: list[str]
    holes: list[str]
    editions: list[str]
    form_id: str
    said: list[str] = field(default_factory=list)
    title: str = field(default_factory=lambda: _("Prices"))


@dataclass(frozen=True, slots=True)
class ProposalShown:
    """link: where this work is added; "" where it is on the job, or there is no procedure for it."""

    finding: str
    words: str
    link: str


@dataclass(frozen=True, slots=True)
class EstimatePage:
    title: str
    number: str
    job_link: str
    written: Written | None
    is_newest: bool
    is_open: bool
    has_prices: bool
    earlier: list[Written]
    charges: list[tuple[str, str]]
    charges_total: str
    waiting: list[str]
    proposals: list[ProposalShown]
    said: str = ""
    other_language: str = ""


@dataclass(frozen=True, slots=True)
class LineForm:
    """labour, parts, others: the places of the rows shown."""

    id: str
    title: str
    labour: list[int]
    parts: list[int]
    others: list[int]


@dataclass(frozen=True, slots=True)
class EstimateFormPage:
    title: str
    number: str
    lines: list[LineForm]
    edition: str
    form_id: str
    rate: str
    currency: str
    bases: list[tuple[str, str]]
    conditions: list[tuple[str, str]]
    form: FormShown


@dataclass(frozen=True, slots=True)
class AnswerLine:
    id: str
    title: str
    total: str
    state: str
    is_begun: bool
    warning: str


@dataclass(frozen=True, slots=True)
class AnswerPage:
    title: str
    number: str
    lines: list[AnswerLine]
    total: str
    edition: str
    form_id: str
    customer: str
    phone: str
    email: str
    notes: list[str]
    ways: list[tuple[str, str]]
    put_backs: list[tuple[str, str]]
    form: FormShown
