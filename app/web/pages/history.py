"""What a vehicle's history receives, and the earlier job that stands beside a comeback."""

from __future__ import annotations

from dataclasses import dataclass

from app.web.desk.vehicle_history import History, JobStory


@dataclass(frozen=True, slots=True)
class HistoryPage:
    """action: the page's own address, for looking a word up. desk: whether the visitor may open the Desk's pages."""

    history: History
    looked_for: str
    action: str
    back: str
    back_words: str
    desk: bool
    title: str


@dataclass(frozen=True, slots=True)
class EarlierJob:
    """An earlier job as it stands beside another: in short, with where all of it is."""

    id: str
    story: JobStory
    days: str
    history: str
