"""What the page of measured values shows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from app.use_cases.before_after import Compared, SaidTwice
from app.web.pages.form import FormShown


@dataclass(frozen=True, slots=True)
class ComparedShown:
    """title: in words. drawing: "heights" or "alignment" with `picture` to draw it; words: the same in words."""

    title: str
    group: Compared
    picture: dict[str, Any]
    words: str


@dataclass(frozen=True, slots=True)
class ShimsShown:
    picture: dict[str, Any]
    words: str


@dataclass(frozen=True, slots=True)
class LineShown:
    number: int
    text: str
    said: str
    is_wrong: bool


@dataclass(frozen=True, slots=True)
class MeasuredPage:
    """lines: what a file said, or what became of it. can_record: every line can be read and one is new."""

    title: str
    number: str
    sheet_link: str
    action: str
    groups: list[ComparedShown]
    shims: ShimsShown | None
    shims_action: str
    shims_said: str
    places: list[tuple[str, str]]
    codes: tuple[SaidTwice, ...]
    label: dict[str, str]
    columns: list[tuple[str, str]]
    keys: str
    lines: list[LineShown]
    can_record: bool
    is_open: bool
    form: FormShown
