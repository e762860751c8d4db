"""Dates and times as people read them, at both ends the same. The clock, the shop's zone and the words are handed in.

`word("month.9")` gives a month's short name; what is pinned and sent has the English ones.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, tzinfo

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def english(key: str) -> str:
    return MONTHS[int(key.removeprefix("month.")) - 1]


def date_words(day: str, word: Callable[[str], str] = english) -> str:
    """A date written YYYY-MM-DD as "30 Sep 2026"; anything else as it is."""
    parts = day.split("-")
    if len(parts) != 3 or not all(part.isascii() and part.isdigit() for part in parts):
        return day
    year, month, date = (int(part) for part in parts)
    return f"{date} {word(f'month.{month}')} {year}" if 1 <= month <= 12 else day


def time_words(at: datetime, now: datetime, zone: tzinfo, word: Callable[[str], str] = english) -> str:
    """An instant as the shop reads it: the time of day, with the date when not today's, the year when not this."""
    here, today = at.astimezone(zone), now.astimezone(zone)
    if here.date() == today.date():
        return f"{here:%H:%M}"
    day = f"{here.day} {word(f'month.{here.month}')}"
    return f"{day}, {here:%H:%M}" if here.year == today.year else f"{day} {here.year}, {here:%H:%M}"
