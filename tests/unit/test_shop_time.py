"""Instants in the shop's own words."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from app.use_cases.shop_time import at_words, date_words, span_words

ZONE = ZoneInfo("Europe/Helsinki")
NOW = datetime(2026, 6, 8, 8, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("at", "said"),
    [
        (NOW, "11:00"),
        (datetime(2026, 6, 8, 20, 59, tzinfo=UTC), "23:59"),
        (datetime(2026, 6, 8, 21, 0, tzinfo=UTC), "Tue 9 Jun, 00:00"),
        (datetime(2026, 1, 1, 6, 5, tzinfo=UTC), "Thu 1 Jan, 08:05"),
        (datetime(2027, 6, 8, 8, 0, tzinfo=UTC), "Tue 8 Jun 2027, 11:00"),
    ],
)
def test_the_day_is_said_where_it_is_not_today_and_the_year_where_it_is_not_this(at: datetime, said: str) -> None:
    assert at_words(at, NOW, ZONE) == said


def test_a_span_says_its_day_once_unless_it_ends_on_another() -> None:
    tomorrow = NOW + timedelta(days=1)

    assert span_words(NOW, NOW + timedelta(hours=2), NOW, ZONE) == "11:00 to 13:00"
    assert span_words(tomorrow, tomorrow + timedelta(hours=1), NOW, ZONE) == "Tue 9 Jun, 11:00 to 12:00"
    assert span_words(NOW, tomorrow, NOW, ZONE) == "11:00 to Tue 9 Jun, 11:00"


def test_a_date_names_its_year() -> None:
    assert date_words(date(2026, 6, 9)) == "9 Jun 2026"
