"""Runs the migrations, each whole upgrade in one transaction on both engines.

The database comes from whoever calls (`app.storage.migrate`), or from `alembic -x url=sqlite:///file.db …`.
"""

from __future__ import annotations

from alembic import context
from sqlalchemy import Connection

from app.storage.engine import WRITES, make_engine
from app.storage.tables import Row

# Any number does, as long as it stays: workers that start together wait for one another here.
_UPGRADE_LOCK = 5_061_957


def run(url: str) -> None:
    engine = make_engine(url)
    try:
        with engine.connect() as connection:
            _run_on(connection)
    finally:
        engine.dispose()


def _run_on(connection: Connection) -> None:
    sqlite = connection.dialect.name == "sqlite"
    if sqlite:
        # Batch mode drops and renames tables, which foreign keys would follow. They can only be switched outside of a
        # transaction; the check before committing is what they would have said.
        _driver(connection).execute("PRAGMA foreign_keys=off")
        connection = connection.execution_options(**{WRITES: True})
    with connection.begin():
        if not sqlite:
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_UPGRADE_LOCK})")
        context.configure(
            connection=connection,
            target_metadata=Row.metadata,
            render_as_batch=sqlite,
            transactional_ddl=True,
            user_module_prefix="",
        )
        with context.begin_transaction():
            context.run_migrations()
        if sqlite and (broken := connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()):
            raise RuntimeError(f"the migration leaves rows that refer to nothing: {broken[:5]}")


def _driver(connection: Connection):
    return connection.connection.driver_connection


given = context.config.attributes.get("url") or context.get_x_argument(as_dictionary=True).get("url")
if not given:
    raise SystemExit("Say which database: alembic -x url=sqlite:///cotterpin.db …")
run(given)
