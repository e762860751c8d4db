"""What only a database promises: the ledger's triggers, real locks, pragmas, and copies that hold."""

from __future__ import annotations

import hashlib
import os
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import Engine, bindparam, text, update
from sqlalchemy.exc import DBAPIError

from app.domain import records as r
from app.domain.chain import row_hash
from app.domain.problems import AlreadyThere, OursToMend
from app.ports import LedgerRow
from app.storage import migrate
from app.storage.backup import back_up, check, verify_chain
from app.storage.engine import make_engine
from app.storage.mapping import table_of
from app.storage.ready import Ready
from app.storage.sql import SqlStore
from app.storage.tables import EntryRow
from tests.contract.storage_contract import add_examples, append, rows_of
from tests.contract.storage_examples import ADDED, EXAMPLES, NOON, a_packet, a_row, a_sheet, an_entry

BOTH = pytest.mark.parametrize("database", ["sqlite", "postgresql"], indirect=True)


@pytest.fixture
def engine(database: str) -> Iterator[Engine]:
    migrate.upgrade(database)
    engine = make_engine(database)
    yield engine
    engine.dispose()


@pytest.fixture
def sqlite_url(tmp_path: Path) -> str:
    url = f"sqlite:///{tmp_path / 'shop.db'}"
    migrate.upgrade(url)
    return url


def run(engine: Engine, statement: str) -> None:
    with engine.begin() as connection:
        connection.execute(text(statement))


# The ledger's triggers


@BOTH
@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE ledger SET accepted = false",
        "UPDATE ledger SET raw = '' WHERE \"order\" = 1",
        "DELETE FROM ledger",
        'DELETE FROM ledger WHERE "order" = 2',
    ],
)
def test_the_ledger_refuses_to_be_changed(engine: Engine, statement: str) -> None:
    store = SqlStore(engine)
    rows = rows_of([an_entry(1), an_entry(2)])
    append(store, rows)

    with pytest.raises(DBAPIError, match="only ever added to"):
        run(engine, statement)

    with store.reading() as unit:
        assert list(unit.ledger.walk()) == rows


@pytest.mark.parametrize("database", ["postgresql"], indirect=True)
@pytest.mark.parametrize("statement", ["TRUNCATE ledger", "TRUNCATE ledger, tablets CASCADE"])
def test_the_ledger_refuses_to_be_truncated(engine: Engine, statement: str) -> None:
    append(SqlStore(engine), rows_of([an_entry(1)]))

    with pytest.raises(DBAPIError, match="only ever added to"):
        run(engine, statement)


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_replacing_a_ledger_row_is_refused_as_well(engine: Engine) -> None:
    """INSERT OR REPLACE removes the old row without an UPDATE; SQLite says so to triggers only when asked to."""
    append(SqlStore(engine), rows_of([an_entry(1)]))

    with pytest.raises(DBAPIError, match="only ever added to"):
        run(engine, "INSERT OR REPLACE INTO ledger SELECT * FROM ledger")


# Locks


@pytest.mark.parametrize("database", ["postgresql"], indirect=True)
def test_due_messages_pass_over_what_another_worker_looks_at(engine: Engine) -> None:
    store = SqlStore(engine)
    with store.writing() as unit:
        for name in ("one", "two"):
            unit.outbox.add(replace(EXAMPLES["outbox"][0], id=name, key=name))
        unit.commit()

    with engine.begin() as elsewhere:
        elsewhere.execute(text("SELECT id FROM outbox WHERE id = 'one' FOR UPDATE"))
        with store.writing() as unit:
            assert [message.id for message in unit.due_messages(NOON, 10)] == ["two"]


@BOTH
def test_a_writing_unit_waits_for_the_one_before_it(engine: Engine, database: str) -> None:
    """The second unit sees what the first one wrote, because it had to wait before it could read."""
    first, second = SqlStore(engine), SqlStore(make_engine(database))
    seen: list[int] = []
    begun = threading.Event()

    def wait_and_look() -> None:
        begun.set()
        with second.writing() as unit:
            seen.append(len(unit.tablets.all()))

    with first.writing() as unit:
        thread = threading.Thread(target=wait_and_look)
        thread.start()
        begun.wait()
        time.sleep(0.2)
        assert seen == []
        unit.tablets.add(r.Tablet("tablet-1", "One"))
        unit.commit()
    thread.join(20)
    second.engine.dispose()

    assert seen == [1]


@BOTH
def test_processes_writing_at_the_same_time_leave_one_chain(engine: Engine, database: str) -> None:
    program = (
        "import sys\n"
        "from app.storage.engine import make_engine\n"
        "from app.storage.sql import SqlStore\n"
        "from tests.contract.storage_examples import a_row, an_entry\n"
        "store = SqlStore(make_engine(sys.argv[1]))\n"
        "for seq in range(1, 16):\n"
        "    with store.writing() as unit:\n"
        "        unit.ledger.append(a_row(an_entry(seq, tablet=sys.argv[2]), *unit.ledger.next_order()))\n"
        "        unit.commit()\n"
    )
    root = Path(__file__).parents[2]
    environment = {**os.environ, "PYTHONPATH": str(root)}
    workers = [
        subprocess.Popen([sys.executable, "-c", program, database, name], cwd=root, env=environment) for name in "abc"
    ]
    assert [worker.wait(60) for worker in workers] == [0, 0, 0]

    with SqlStore(engine).reading() as unit:
        rows = unit.ledger.walk()
    assert [row.heard.order for row in rows] == list(range(1, 46))
    assert [row.previous for row in rows[1:]] == [row.hash for row in rows[:-1]]
    for name in "abc":
        assert [row.heard.entry.seq for row in rows if row.heard.entry.tablet == name] == list(range(1, 16))


# Engines


@pytest.mark.parametrize("database", ["postgresql"], indirect=True)
def test_nobody_waits_for_the_write_lock_for_ever(database: str) -> None:
    migrate.upgrade(database)
    with make_engine(database).connect() as connection:
        assert connection.execute(text("SHOW lock_timeout")).scalar() == "10s"


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_every_connection_has_its_pragmas(engine: Engine) -> None:
    expected = {
        "journal_mode": "wal",
        "synchronous": 2,
        "foreign_keys": 1,
        "recursive_triggers": 1,
        "busy_timeout": 10_000,
    }
    with engine.connect() as one, engine.connect() as two:
        for connection in (one, two):
            found = {name: connection.exec_driver_sql(f"PRAGMA {name}").scalar() for name in expected}
            assert found == expected


@pytest.mark.parametrize("url", ["sqlite://", "sqlite:///:memory:", "mysql://localhost/shop"])
def test_an_engine_that_cannot_keep_the_promises_is_refused(url: str) -> None:
    with pytest.raises(ValueError, match="sqlite:///"):
        make_engine(url)


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_a_sheet_that_was_tampered_with_is_not_believed(engine: Engine) -> None:
    with SqlStore(engine).writing() as unit:
        unit.sheets.put(a_sheet(None))
        unit.commit()
    run(engine, "UPDATE sheets SET state = replace(state, 'key is in the office', 'key is lost')")

    with SqlStore(engine).reading() as unit, pytest.raises(OursToMend, match="job-1"):
        unit.sheets.get("job-1")


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_a_sheet_in_another_versions_form_says_what_to_do(engine: Engine) -> None:
    state = '{"job":"job-1"}'
    with engine.begin() as connection:
        connection.execute(
            text("INSERT INTO sheets (job, entries, hash, state) VALUES ('job-1', 7, :hash, :state)"),
            {"state": state, "hash": hashlib.sha256(state.encode()).hexdigest()},
        )

    with SqlStore(engine).reading() as unit, pytest.raises(OursToMend, match="rebuild it"):
        unit.sheets.get("job-1")


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_a_packet_that_was_tampered_with_is_not_believed(engine: Engine) -> None:
    wrong = "e" * 64
    with SqlStore(engine).writing() as unit:
        unit.sheets.put_packet(a_packet())
        unit.commit()
    run(engine, f"UPDATE packets SET hash = '{wrong}'")

    with SqlStore(engine).reading() as unit, pytest.raises(OursToMend, match=wrong):
        unit.sheets.packet(wrong)


# Backups


def chained(count: int) -> list[LedgerRow]:
    rows: list[LedgerRow] = []
    for number in range(1, count + 1):
        row = a_row(an_entry(number), number, rows[-1].hash if rows else "")
        rows.append(replace(row, hash=row_hash(row)))
    return rows


def test_a_backup_is_taken_while_somebody_writes_and_holds(sqlite_url: str, tmp_path: Path) -> None:
    store = SqlStore(make_engine(sqlite_url))
    rows = chained(3)
    append(store, rows[:2])

    with store.writing() as unit:
        unit.ledger.append(rows[2])
        made = back_up(sqlite_url, tmp_path / "copy.db", row_hash)
        unit.commit()

    assert (made.path, made.entries, made.hash) == (tmp_path / "copy.db", 2, rows[1].hash)
    with SqlStore(make_engine(f"sqlite:///{made.path}")).reading() as unit:
        assert list(unit.ledger.walk()) == rows[:2]
    assert sorted(path.name for path in tmp_path.glob("*unchecked*")) == []


def test_everything_is_in_the_backup(sqlite_url: str, tmp_path: Path) -> None:
    store = SqlStore(make_engine(sqlite_url))
    with store.writing() as unit:
        add_examples(unit)
        unit.commit()

    back_up(sqlite_url, tmp_path / "copy.db", row_hash)

    with SqlStore(make_engine(f"sqlite:///{tmp_path / 'copy.db'}")).reading() as unit:
        for name, records in EXAMPLES.items():
            assert tuple(getattr(unit, name).all()) == records


def test_a_backup_never_overwrites(sqlite_url: str, tmp_path: Path) -> None:
    (tmp_path / "copy.db").write_text("precious")

    with pytest.raises(AlreadyThere):
        back_up(sqlite_url, tmp_path / "copy.db", row_hash)

    assert (tmp_path / "copy.db").read_text() == "precious"


@pytest.mark.parametrize("url", ["postgresql://localhost/shop", "sqlite:////nowhere/at/all.db"])
def test_a_backup_says_when_there_is_no_file_to_copy(url: str, tmp_path: Path) -> None:
    with pytest.raises(ValueError, match=r"pg_dump|no database"):
        back_up(url, tmp_path / "copy.db", row_hash)
    assert list(tmp_path.iterdir()) == []


FORGERIES: dict[str, tuple[str, str]] = {
    "a changed word": ("UPDATE ledger SET reason = 'x' WHERE \"order\" = 2", "row 2 is not what its hash says"),
    "a changed entry": ("UPDATE ledger SET raw = replace(raw, 'fest', 'lose') WHERE \"order\" = 1", "row 1"),
    "a row taken out": ('DELETE FROM ledger WHERE "order" = 2', "goes from 1 to 3"),
    "the last row taken out": ('DELETE FROM ledger WHERE "order" = 3', "ends at 2"),
    "a row chained elsewhere": ("UPDATE ledger SET previous = '' WHERE \"order\" = 3", "row 3 is not chained"),
    "a reference to nothing": ("UPDATE vehicles SET customer = 'nobody'", "vehicles"),
}


@pytest.mark.parametrize("forgery", FORGERIES)
def test_a_forged_database_gives_no_backup(sqlite_url: str, tmp_path: Path, forgery: str) -> None:
    """Somebody with the file in hand can drop triggers; the chain tells."""
    statement, found = FORGERIES[forgery]
    store = SqlStore(make_engine(sqlite_url))
    append(store, chained(3))
    with store.writing() as unit:
        add_examples(unit)
        unit.commit()
    forge(tmp_path / "shop.db", statement)

    with pytest.raises(OursToMend, match=found):
        back_up(sqlite_url, tmp_path / "copy.db", row_hash)

    assert not (tmp_path / "copy.db").exists()
    assert list(tmp_path.glob("*unchecked*")) == []


def test_a_damaged_copy_is_found(sqlite_url: str, tmp_path: Path) -> None:
    append(SqlStore(make_engine(sqlite_url)), chained(50))
    copy = back_up(sqlite_url, tmp_path / "copy.db", row_hash).path
    assert check(copy, row_hash).entries == 50
    whole = copy.read_bytes()
    middle = len(whole) // 2 // 4096 * 4096

    copy.write_bytes(whole[:middle] + b"\xff" * 4096 + whole[middle + 4096 :])

    with pytest.raises(OursToMend, match=r"copy\.db"):
        check(copy, row_hash)


def test_an_empty_ledger_is_a_whole_one(sqlite_url: str) -> None:
    with SqlStore(make_engine(sqlite_url)).reading() as unit:
        assert verify_chain(unit.ledger, row_hash) == (0, "")


def forge(path: Path, statement: str) -> None:
    connection = sqlite3.connect(path)
    connection.executescript("DROP TRIGGER ledger_refuses_update; DROP TRIGGER ledger_refuses_delete;")
    assert connection.execute(statement).rowcount > 0
    connection.commit()
    connection.close()


@BOTH
@pytest.mark.parametrize(
    "table", ["prices", "estimates", "answers", "consents", "retorques", "handbacks", "handback_prints"]
)
@pytest.mark.parametrize("statement", ["UPDATE {} SET id = 'other'", "DELETE FROM {}"])
def test_what_was_offered_and_answered_refuses_to_be_changed(engine: Engine, table: str, statement: str) -> None:
    with SqlStore(engine).writing() as unit:
        add_examples(unit)
        for one in ADDED[table]:
            getattr(unit, table).add(one)
        unit.commit()

    with pytest.raises(DBAPIError, match="only ever added to"), engine.begin() as connection:
        connection.execute(text(statement.format(table)))


# What runs with every entry


@BOTH
def test_a_unit_that_writes_reads_a_record_once_and_anew_after_a_change(engine: Engine) -> None:
    store = SqlStore(engine)
    ida, other = r.Person("p-1", "Ida", frozenset(), "x"), r.Person("p-2", "Otto", frozenset(), "x")
    with store.writing() as unit:
        unit.people.add(ida)
        first = unit.people.get("p-1")
        assert (first, unit.people.get("p-1") is first) == (ida, True)

        unit.people.save(replace(ida, name="Ada"))
        assert unit.people.get("p-1") == replace(ida, name="Ada")
        assert unit.people.get("p-2") is None
        unit.people.add(other)
        assert unit.people.get("p-2") == other
        unit.people.save_all([replace(other, active=False)])
        assert unit.people.get("p-2") == replace(other, active=False)
        unit.commit()

    with pytest.raises(OursToMend, match="is over"):
        unit.people.get("p-1")
    with store.reading() as reads:
        assert reads.people.get("p-1") == replace(ida, name="Ada")


@BOTH
def test_what_a_ready_statement_is_refused_is_told_as_any_other(engine: Engine) -> None:
    append(SqlStore(engine), rows_of([an_entry(1)]))
    ledger = table_of(EntryRow)
    refused = Ready(update(ledger).where(ledger.c.order == 1).values(name=bindparam("to_name")), engine.dialect)

    with engine.connect() as connection, connection.begin(), pytest.raises(DBAPIError, match="only ever added to"):
        refused.count(connection, {"to_name": "Somebody else"})


@BOTH
def test_a_ready_statement_puts_and_reads_values_as_their_columns_do(engine: Engine) -> None:
    store = SqlStore(engine)
    locked = r.Person("p-1", "Ida", frozenset({r.Role.FOREMAN}), "x", active=False, locked_until=NOON)
    with store.writing() as unit:
        unit.people.add(replace(locked, locked_until=None))
        unit.people.save(locked)
        unit.commit()

    with store.reading() as unit:
        assert unit.people.get("p-1") == locked
        assert list(unit.people.all()) == [locked]
