"""The column types of our tables: few, strict, and the same on SQLite and PostgreSQL.

SQLite's STRICT tables know INTEGER and TEXT only, so each type says what it is there. What they hold is the same on
both: an instant is a whole number of microseconds, so it neither rounds nor moves with a session's time zone.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

from sqlalchemy import BigInteger, Boolean, Date, Dialect, Integer, Text
from sqlalchemy.types import TypeDecorator, TypeEngine

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND = timedelta(microseconds=1)


def utc(value: datetime) -> datetime:
    """The same instant in UTC.

    Raises: TypeError for a datetime without a time zone: which instant it means is not ours to guess.
    """
    if value.utcoffset() is None:
        raise TypeError(f"an instant needs its time zone, got the naive {value!r}; use datetime.now(UTC)")
    return value.astimezone(UTC)


class Whole(TypeDecorator[int]):
    """A whole number of up to 64 bits."""

    impl = BigInteger
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        return Integer() if dialect.name == "sqlite" else BigInteger()


class Words(TypeDecorator[str]):
    """Text of any length."""

    impl = Text
    cache_ok = True


class Flag(TypeDecorator[bool]):
    """Yes or no; 1 or 0 on SQLite."""

    impl = Boolean
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        return Integer() if dialect.name == "sqlite" else Boolean()

    def process_bind_param(self, value: bool | None, dialect: Dialect) -> Any:
        return int(value) if dialect.name == "sqlite" and value is not None else value

    def process_result_value(self, value: Any, dialect: Dialect) -> bool | None:
        return None if value is None else bool(value)


class Instant(TypeDecorator[datetime]):
    """Microseconds since 1970 in UTC; read back as an aware datetime in UTC."""

    impl = BigInteger
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        return Integer() if dialect.name == "sqlite" else BigInteger()

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> Any:
        return None if value is None else (utc(value) - EPOCH) // _MICROSECOND

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        return None if value is None else EPOCH + timedelta(microseconds=value)


class Day(TypeDecorator[date]):
    """A calendar day; YYYY-MM-DD as text on SQLite."""

    impl = Date
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        return Text() if dialect.name == "sqlite" else Date()

    def process_bind_param(self, value: date | None, dialect: Dialect) -> Any:
        return value.isoformat() if dialect.name == "sqlite" and value is not None else value

    def process_result_value(self, value: Any, dialect: Dialect) -> date | None:
        return date.fromisoformat(value) if isinstance(value, str) else value
