"""What the page receives that the code on a printed sheet opens."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PaperPage:
    """edition: what was printed. now: what the sheet is at. steps: title and address of each that is not done."""

    title: str
    plate: str
    vehicle: str
    edition: str
    now: str
    is_current: bool
    is_open: bool
    sheet_link: str
    steps: list[tuple[str, str]]
