"""Instants as the shop reads them: its own time zone, the date only where it is not today. Words, never a locale's."""

from __future__ import annotations

from datetime import date, datetime, tzinfo

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def at_words(at: datetime, now: datetime, zone: tzinfo) -> str:
    """ "14:00" for today, "Tue 9 Jun, 14:00" for another day of this year, else with the year."""
    here, today = at.astimezone(zone), now.astimezone(zone)
    if here.date() == today.date():
        return f"{here:%H:%M}"
    return f"{day_words(here.date(), today.date())}, {here:%H:%M}"


def span_words(begins: datetime, ends: datetime, now: datetime, zone: tzinfo) -> str:
    """ "14:00 to 16:00"; the day is said once, and again for the end only where it ends on another."""
    first, last = begins.astimezone(zone), ends.astimezone(zone)
    end = f"{last:%H:%M}" if first.date() == last.date() else at_words(ends, now, zone)
    return f"{at_words(begins, now, zone)} to {end}"


def day_words(day: date, today: date) -> str:
    """ "Tue 9 Jun", with the year where it is not this one."""
    year = "" if day.year == today.year else f" {day.year}"
    return f"{DAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]}{year}"


def date_words(day: date) -> str:
    """ "9 Jun 2026"."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"
