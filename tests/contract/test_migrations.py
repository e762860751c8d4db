"""The migrations make exactly the tables of `app/storage/tables.py`, on both engines, and take them away."""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.operations import Operations
from sqlalchemy import CheckConstraint, Column, Engine, Table, Text, inspect, text
from sqlalchemy.exc import DBAPIError

from app.storage import migrate
from app.storage.engine import make_engine
from app.storage.tables import Row

BOTH = pytest.mark.parametrize("database", ["sqlite", "postgresql"], indirect=True)
TABLES = list(Row.metadata.tables.values())


@pytest.fixture
def engine(database: str) -> Iterator[Engine]:
    migrate.upgrade(database)
    engine = make_engine(database)
    yield engine
    engine.dispose()


@BOTH
def test_upgrading_an_empty_database_gives_the_tables_described(engine: Engine) -> None:
    assert differences(engine) == []


Change = Callable[[Operations], Any]


def loosen(operations: Operations) -> None:
    with operations.batch_alter_table("jobs") as jobs:
        jobs.alter_column("complaint", nullable=True)


def retype(operations: Operations) -> None:
    with operations.batch_alter_table("jobs") as jobs:
        jobs.alter_column("odometer_km", type_=Text())


def allow_doubles(operations: Operations) -> None:
    with operations.batch_alter_table("jobs") as jobs:
        jobs.drop_constraint("uq_jobs_number", type_="unique")


def forget_reference(operations: Operations) -> None:
    with operations.batch_alter_table("jobs") as jobs:
        jobs.drop_constraint("fk_jobs_vehicle", type_="foreignkey")


CHANGES: dict[str, Change] = {
    "add_index": lambda operations: operations.drop_index("ix_jobs_state", "jobs"),
    "remove_index": lambda operations: operations.create_index("ix_more", "jobs", ["complaint"]),
    "remove_column": lambda operations: operations.add_column("jobs", Column("colour", Text())),
    "remove_table": lambda operations: operations.create_table("wishes", Column("id", Text(), primary_key=True)),
    "add_table": lambda operations: operations.drop_table("counters"),
    "add_constraint": allow_doubles,
    "add_fk": forget_reference,
    "modify_nullable": loosen,
    "modify_type": retype,
}


@BOTH
@pytest.mark.parametrize("expected", CHANGES)
def test_the_comparison_sees_every_kind_of_difference(engine: Engine, expected: str) -> None:
    """Without this the comparison above could be blind."""
    with engine.begin() as connection:
        CHANGES[expected](Operations(MigrationContext.configure(connection)))

    assert [difference[0] for difference in differences(engine)] == [expected]


@BOTH
def test_every_check_is_there_with_what_it_allows(engine: Engine) -> None:
    """A value added to an enum needs a migration too."""
    inspector = inspect(engine)
    for table in TABLES:
        found = {check["name"]: allowed(check["sqltext"]) for check in inspector.get_check_constraints(table.name)}
        described = {
            str(rule.name): allowed(str(rule.sqltext))
            for rule in table.constraints
            if isinstance(rule, CheckConstraint)
        }
        assert found == described, table.name


@BOTH
@pytest.mark.parametrize(("lift", "active"), [("hover", "true"), ("'", "true"), ("flat", "2"), ("flat", "null")])
def test_a_value_outside_its_list_is_refused(engine: Engine, lift: str, active: str) -> None:
    row = "INSERT INTO bays (id, name, lift, capacity_g, active) VALUES (:lift, :lift, :lift, 1, {})"
    with engine.begin() as connection:
        connection.execute(text(row.format("false")), {"lift": "flat"})

    with pytest.raises(DBAPIError), engine.begin() as connection:
        connection.execute(text(row.format(active)), {"lift": lift})


@BOTH
def test_every_constraint_has_a_name_of_ours(engine: Engine) -> None:
    inspector = inspect(engine)
    for table in TABLES:
        rules: list[Any] = [
            inspector.get_pk_constraint(table.name),
            *inspector.get_unique_constraints(table.name),
            *inspector.get_foreign_keys(table.name),
            *inspector.get_check_constraints(table.name),
            *inspector.get_indexes(table.name),
        ]
        unnamed = [rule for rule in rules if not re.match(rf"(pk|uq|fk|ck|ix)_{table.name}", rule["name"] or "")]
        assert unnamed == []


@BOTH
def test_upgrading_twice_is_harmless(engine: Engine, database: str) -> None:
    with engine.begin() as connection:
        connection.execute(text("INSERT INTO counters (name, value) VALUES ('jobs', 7)"))

    migrate.upgrade(database)

    with engine.connect() as connection:
        assert connection.execute(text("SELECT value FROM counters")).scalars().all() == [7]
        assert connection.execute(text("SELECT entries, hash FROM ledger_heads")).all() == [(0, "")]


@BOTH
def test_downgrading_to_nothing_leaves_nothing_and_can_be_undone(engine: Engine, database: str) -> None:
    migrate.downgrade(database, "base")

    assert inspect(engine).get_table_names() == ["alembic_version"]
    assert triggers_and_functions(engine) == []

    migrate.upgrade(database)

    assert differences(engine) == []


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_every_table_on_sqlite_is_strict(engine: Engine) -> None:
    with engine.connect() as connection:
        found = connection.execute(text("SELECT name, strict FROM pragma_table_list WHERE schema = 'main'")).all()

    assert {name for name, strict in found if strict} == {table.name for table in TABLES}


@pytest.mark.parametrize("table", TABLES, ids=lambda table: str(table.name))
def test_text_does_not_get_into_a_number_on_sqlite(tmp_path: Path, table: Table) -> None:
    """The row as a whole is good, so that it is the text alone that is refused."""
    migrate.upgrade(f"sqlite:///{tmp_path / 'strict.db'}")
    with closing(sqlite3.connect(tmp_path / "strict.db")) as connection:
        kinds = {name: kind for _, name, kind, *_ in connection.execute(f"PRAGMA table_info({table.name})")}
        connection.execute(f"DELETE FROM {table.name}")
        good = {name: a_value(table, name, kind) for name, kind in kinds.items()}
        insert(connection, table, good)
        connection.rollback()

        for name in (name for name, kind in kinds.items() if kind == "INTEGER" and name != "position"):
            # A whole-number primary key is SQLite's own row number, which has words of its own.
            refusal = rf"TEXT value in INTEGER column {table.name}\.{name}|datatype mismatch"
            with pytest.raises(sqlite3.IntegrityError, match=refusal):
                insert(connection, table, good | {name: "many"})
        for name in (name for name, kind in kinds.items() if kind == "TEXT"):
            with pytest.raises(sqlite3.IntegrityError, match=rf"BLOB value in TEXT column {table.name}\.{name}"):
                insert(connection, table, good | {name: b"\xff"})


@BOTH
def test_figures_from_before_the_spec_book_are_fasteners_and_whole(database: str) -> None:
    """Brought up from revision 0002 a figure is what it was; going back, it is still there."""
    migrate.upgrade(database, "0002")
    engine = make_engine(database)
    before = {
        "id": "f-1", "model": "Tern 2.0", "axle": "front", "place_key": "wheel_nuts", "edition": 3, "text": "110 N·m",
        "unit": "N·m", "stages": "[]", "thread": "M12", "strength": "10.9", "lubrication": "dry", "one_time": True,
        "critical": False, "document": "Manual", "page": "2", "document_date": "2014", "typed_by": "p-1", "typed_at": 7,
        "compared_by": "p-1", "compared_at": 8, "compared_text": "110", "withdrawn": False, "confirmed_because": "why",
    }  # fmt: skip
    names = ", ".join(f'"{name}"' for name in before)
    marks = ", ".join(f":{name}" for name in before)
    with engine.begin() as connection:
        connection.execute(
            text(
                "INSERT INTO people (id, name, roles, pin_hash, active, wrong_tries) "
                "VALUES ('p-1', 'Ida', '[]', '', true, 0)"
            )
        )
        connection.execute(text(f"INSERT INTO figures ({names}) VALUES ({marks})"), before)
    engine.dispose()

    migrate.upgrade(database)

    with make_engine(database).connect() as connection:
        row = dict(connection.execute(text("SELECT * FROM figures")).mappings().one())
    added = {"kind": "fastener", "low": None, "target": None, "high": None, "tyre": "", "point": "", "replaced": False}
    assert row == {"position": row["position"], **before, **added}

    migrate.downgrade(database, "0002")
    with make_engine(database).connect() as connection:
        assert dict(connection.execute(text("SELECT * FROM figures")).mappings().one()) == {
            "position": row["position"], **before,
        }  # fmt: skip


@BOTH
def test_photos_named_before_there_was_a_store_for_them_are_known_by_name(database: str) -> None:
    """Brought up from revision 0004: what the ledger's entries name may be sent. What names nothing is left."""
    migrate.upgrade(database, "0004")
    engine = make_engine(database)
    bodies = (
        ("photo_added", {"sha256": "a" * 64, "name": "x"}),
        ("note_added", {"text": "b" * 64}),
        ("photo_added", {"sha256": "not a hash", "name": "x"}),
        ("photo_added", ["odd"]),
        ("photo_added", {"sha256": "c" * 64, "name": "x"}),
    )
    columns = {column["name"]: str(column["type"]) for column in inspect(engine).get_columns("ledger")}
    with engine.begin() as connection:
        for number, (kind, body) in enumerate(bodies, 1):
            row = {name: number if "INT" in type_.upper() else f"{name}-{number}" for name, type_ in columns.items()}
            row |= {"order": number, "entry_id": f"e-{number}", "job": "j-1", "kind": kind}
            row |= {"raw": json.dumps({"kind": kind, "body": body}), "accepted": True, "roles": "[]", "details": "{}"}
            names, marks = ", ".join(f'"{name}"' for name in row), ", ".join(f":{name}" for name in row)
            connection.execute(text(f"INSERT INTO ledger ({names}) VALUES ({marks})"), row)
    engine.dispose()

    migrate.upgrade(database)

    with make_engine(database).connect() as connection:
        rows = connection.execute(text("SELECT id, job, sha256, here FROM photos ORDER BY position")).all()
    assert [tuple(row) for row in rows] == [("e-1", "j-1", "a" * 64, False), ("e-5", "j-1", "c" * 64, False)]


def differences(engine: Engine) -> list[Any]:
    with engine.connect() as connection:
        options = {"compare_type": True, "compare_server_default": True, "include_name": is_described}
        found = compare_metadata(MigrationContext.configure(connection, opts=options), Row.metadata)
        return [change for item in found for change in (item if isinstance(item, list) else [item])]


def is_described(name: str | None, kind: str, _: object) -> bool:
    """All but the index of the search, which each engine has in a form of its own: an FTS5 table here, a GIN there."""
    return not (name or "").startswith(("search_index", "ix_search_texts_words")) or kind not in ("table", "index")


def allowed(check: str) -> frozenset[str]:
    """The words and numbers that a CHECK lists, however the database writes it back."""
    return frozenset(re.findall(r"'(\w+)'|\b(true|false)\b|= \(?(\d+)", check))  # type: ignore[arg-type]


def triggers_and_functions(engine: Engine) -> list[Any]:
    statement = (
        "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        if engine.dialect.name == "sqlite"
        else "SELECT proname FROM pg_proc WHERE pronamespace = current_schema()::regnamespace"
    )
    with engine.connect() as connection:
        return list(connection.execute(text(statement)).all())


def a_value(table: Table, name: str, kind: str) -> Any:
    if kind == "INTEGER":
        return 1
    for rule in table.constraints:
        if isinstance(rule, CheckConstraint) and str(rule.sqltext).startswith(f"{name} IN"):
            return re.findall(r"'(\w+)'", str(rule.sqltext))[0]
    return "text"


def insert(connection: sqlite3.Connection, table: Table, row: dict[str, Any]) -> None:
    names = ", ".join(f'"{name}"' for name in row)
    marks = ", ".join("?" for _ in row)
    connection.execute(f"INSERT INTO {table.name} ({names}) VALUES ({marks})", tuple(row.values()))
