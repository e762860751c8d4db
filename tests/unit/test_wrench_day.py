"""The day a wrench is due ends at the shop's own midnight."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from app.use_cases.open_job import day_end_ms


@pytest.mark.parametrize(
    ("zone", "day", "ends"),
    [
        ("UTC", date(2026, 3, 2), datetime(2026, 3, 3, 0, tzinfo=UTC)),
        ("Pacific/Auckland", date(2026, 3, 2), datetime(2026, 3, 2, 11, tzinfo=UTC)),
        ("America/Los_Angeles", date(2026, 3, 2), datetime(2026, 3, 3, 8, tzinfo=UTC)),
        ("America/Los_Angeles", date(2026, 3, 8), datetime(2026, 3, 9, 7, tzinfo=UTC)),
    ],
)
def test_the_day_ends_at_the_shops_midnight(zone: str, day: date, ends: datetime):
    """UTC+13 in a southern summer, UTC-8, and UTC-7 after the clocks went forward on 8 March 2026 (tz database)."""
    assert day_end_ms(day, ZoneInfo(zone)) == int(ends.timestamp()) * 1_000


def test_the_last_day_there_is_has_no_end():
    assert day_end_ms(date.max, ZoneInfo("UTC")) is None
