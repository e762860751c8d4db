"""Instants as the shop reads them: its own time zone, the date only where it is not today. Words, never a locale's."""

from __future__ import annotations

from datetime import date, datetime, tzinfo

from app.language.speech import N_, _

DAYS = (N_("Mon"), N_("Tue"), N_("Wed"), N_("Thu"), N_("Fri"), N_("Sat"), N_("Sun"))
MONTHS = (
    N_("Jan"), N_("Feb"), N_("Mar"), N_("Apr"), N_("May"), N_("Jun"),
    N_("Jul"), N_("Aug"), N_("Sep"), N_("Oct"), N_("Nov"), N_("Dec"),
)  # fmt: skip


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
    return _("{begins} to {ends}", begins=at_words(begins, now, zone), ends=end)


def day_words(day: date, today: date) -> str:
    """ "Tue 9 Jun", with the year where it is not this one."""
    year = "" if day.year == today.year else f" {day.year}"
    return f"{_(DAYS[day.weekday()])} {day.day} {_(MONTHS[day.month - 1])}{year}"


def date_words(day: date) -> str:
    """ "9 Jun 2026"."""
    return f"{day.day} {_(MONTHS[day.month - 1])} {day.year}"
