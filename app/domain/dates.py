"""Dates as people read them, by nothing but text, so that both ends give the same."""

from __future__ import annotations

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def date_words(day: str) -> str:
    """A date written YYYY-MM-DD as "30 Sep 2026"; anything else as it is."""
    parts = day.split("-")
    if len(parts) != 3 or not all(part.isascii() and part.isdigit() for part in parts):
        return day
    year, month, date = (int(part) for part in parts)
    return f"{date} {MONTHS[month - 1]} {year}" if 1 <= month <= 12 else day
