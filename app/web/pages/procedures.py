"""What the pages of procedures receive: each procedure as text to read, conditions in words."""

from __future__ import annotations

from dataclasses import dataclass, field

from app.language.speech import _


@dataclass(frozen=True, slots=True)
class ProcedureLine:
    link: str
    title: str
    about: str
    steps: str


@dataclass(frozen=True, slots=True)
class ProceduresPage:
    procedures: list[ProcedureLine]
    gates: list[tuple[str, str]]
    title: str = field(default_factory=lambda: _("Procedures"))


@dataclass(frozen=True, slots=True)
class StepText:
    number: str
    anchor: str
    title: str
    when: str
    do: str
    why: str
    caution: str
    facts: list[tuple[str, list[str]]]
    gates: list[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class ProcedurePage:
    title: str
    about: list[tuple[str, str]]
    options: list[tuple[str, str]]
    applies: list[str]
    refused: list[tuple[str, list[str]]]
    steps: list[StepText]


@dataclass(frozen=True, slots=True)
class CheckText:
    ask: str
    when: str
    answers: list[str]
    otherwise: str


@dataclass(frozen=True, slots=True)
class GatePage:
    """A gate to read: nothing is answered here."""

    title: str
    signal: str
    intro: str
    about: list[tuple[str, str]]
    checks: list[CheckText]
