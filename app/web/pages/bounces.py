"""What the page of a job's bounce tests receives: every number already a text."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class BounceShown:
    """swings: as counted, "" while still to be made. trace: lines of what it says. refused: why it says nothing.

    points: the trace as a line in a field of 480 by 160, "" without one.
    """

    title: str
    link: str
    swings: str
    who: str
    counted: str
    trace: list[str]
    refused: str
    points: str
    picture: str


@dataclass(frozen=True, slots=True)
class BouncesPage:
    """suspects_link: "" where no inspection is on the sheet."""

    title: str
    plate: str
    sheet_link: str
    suspects_link: str
    groups: list[tuple[str, list[BounceShown]]]
