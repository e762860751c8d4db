"""Backups of a SQLite database, each opened and checked before it gets its name.

SQLite's own backup API copies a database that is being written to; copying the file would not. PostgreSQL has its own
tools (pg_dump, base backups), which this does not imitate.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import make_url

from app.domain.problems import AlreadyThere, OursToMend
from app.ports import Ledger, LedgerRow
from app.storage.engine import make_engine
from app.storage.sql import SqlStore

RowHash = Callable[[LedgerRow], str]


@dataclass(frozen=True, slots=True)
class Backup:
    """A checked copy: where it is, how many entries its ledger has, and the hash of the last."""

    path: Path
    entries: int
    hash: str


def back_up(url: str, target: Path, row_hash: RowHash) -> Backup:
    """Copy the SQLite database at `url` to `target`, which appears only once the copy has been checked.

    row_hash: what a ledger row's hash has to be.
    Raises: AlreadyThere when there is a file at `target`; ValueError when the database is not SQLite;
            OursToMend when the copy does not hold (nothing is left at `target` then).
    """
    if target.exists():
        raise AlreadyThere("backup", str(target))
    unchecked = target.with_name(target.name + ".unchecked")
    unchecked.unlink(missing_ok=True)
    try:
        _copy(_file_of(url), unchecked)
        checked = check(unchecked, row_hash)
        unchecked.replace(target)
    finally:
        unchecked.unlink(missing_ok=True)
    return Backup(target, checked.entries, checked.hash)


def check(copy: Path, row_hash: RowHash) -> Backup:
    """Open a copy and check its pages, its references and its ledger's chain.

    Raises: OursToMend with what was found.
    """
    try:
        _check_pages(copy)
        engine = make_engine(f"sqlite:///{copy}")
        try:
            with SqlStore(engine).reading() as unit:
                entries, last = verify_chain(unit.ledger, row_hash)
        finally:
            engine.dispose()
        _check_head(copy, entries, last)
    except sqlite3.DatabaseError as error:
        raise OursToMend(f"{copy} is not a whole database: {error}") from error
    return Backup(copy, entries, last)


def verify_chain(ledger: Ledger, row_hash: RowHash) -> tuple[int, str]:
    """Walk the ledger; give the number of its entries and the last hash.

    Raises: OursToMend at the first row that is out of order, not chained to the one before, or not what its hash says.
    """
    entries, last = 0, ""
    while rows := ledger.walk(after=entries):
        for row in rows:
            if row.heard.order != entries + 1:
                raise OursToMend(f"the ledger goes from {entries} to {row.heard.order}")
            if row.previous != last:
                raise OursToMend(f"ledger row {row.heard.order} is not chained to the one before it")
            if row_hash(row) != row.hash:
                raise OursToMend(f"ledger row {row.heard.order} is not what its hash says")
            entries, last = row.heard.order, row.hash
    return entries, last


def _file_of(url: str) -> Path:
    parsed = make_url(url)
    if parsed.get_backend_name() != "sqlite" or not parsed.database:
        raise ValueError("only a SQLite file is backed up here; for PostgreSQL use pg_dump")
    path = Path(parsed.database)
    if not path.exists():
        raise ValueError(f"there is no database at {path}")
    return path


def _copy(source: Path, target: Path) -> None:
    with closing(sqlite3.connect(source)) as original, closing(sqlite3.connect(target)) as copy:
        original.backup(copy)


def _check_pages(copy: Path) -> None:
    with closing(sqlite3.connect(copy)) as opened:
        found = [line for (line,) in opened.execute("PRAGMA integrity_check")]
        if found != ["ok"]:
            raise OursToMend(f"{copy} is damaged: {'; '.join(found[:5])}")
        if broken := opened.execute("PRAGMA foreign_key_check").fetchall():
            raise OursToMend(f"{copy} has rows that refer to nothing, the first in {broken[0][0]}")


def _check_head(copy: Path, entries: int, last: str) -> None:
    with closing(sqlite3.connect(copy)) as opened:
        head = opened.execute("SELECT entries, hash FROM ledger_heads").fetchall()
    if head != [(entries, last)]:
        raise OursToMend(f"the ledger of {copy} ends at {entries} but its head says {head}")
