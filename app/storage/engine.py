"""Engines from a URL: SQLite as we want it, PostgreSQL through psycopg 3. One place begins transactions.

SQLite has one writer. A unit that may write begins IMMEDIATE, so that it waits for the lock at its beginning instead of
failing in its middle; a unit that reads begins deferred and never waits. Python's own transaction handling is off,
as SQLAlchemy's SQLite page describes ("Serializable isolation / Savepoints / Transactional DDL").
"""

from __future__ import annotations

import sqlite3
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, make_url

BUSY_MS = 10_000
WRITES = "cotterpin_writes"

# STRICT tables came with 3.37; the copy a Python release carries is usually newer.
_OLDEST_SQLITE = (3, 37, 0)

# recursive_triggers: without it INSERT OR REPLACE would remove a row past the trigger that forbids it.
PRAGMAS = {
    "journal_mode": "wal",
    "synchronous": "full",
    "foreign_keys": "on",
    "recursive_triggers": "on",
    "busy_timeout": str(BUSY_MS),
}


def make_engine(url: str) -> Engine:
    """An engine for `sqlite:///path` or `postgresql://…` (psycopg 3).

    Raises: ValueError for another database, for SQLite in memory, or for a SQLite that is too old.
    """
    parsed = make_url(url)
    backend = parsed.get_backend_name()
    if backend == "postgresql":
        return create_engine(parsed.set(drivername="postgresql+psycopg"), pool_pre_ping=True)
    if backend != "sqlite":
        raise ValueError(f"the database is sqlite:///path or postgresql://…, got {backend!r}")
    if not parsed.database or parsed.database == ":memory:":
        raise ValueError("SQLite needs a file, for example sqlite:///cotterpin.db; for nothing on disk use MemoryStore")
    if sqlite3.sqlite_version_info < _OLDEST_SQLITE:
        raise ValueError(f"SQLite 3.37 or newer is needed, this Python has {sqlite3.sqlite_version}")
    # A web server's thread pool has 40 threads; each may hold a reading unit.
    engine = create_engine(parsed, pool_size=8, max_overflow=40)
    event.listen(engine, "connect", _set_up)
    event.listen(engine, "begin", _begin)
    return engine


def _set_up(connection: Any, _record: object) -> None:
    connection.isolation_level = None
    # The waiting time comes first: switching to WAL takes a lock that another process may hold.
    for name in ("busy_timeout", *PRAGMAS):
        connection.execute(f"PRAGMA {name}={PRAGMAS[name]}")


def _begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get(WRITES, False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
