"""Statements that run with every entry, compiled once: the text as the driver gets it, and how values go in and out.

SQLAlchemy finds a statement's text again and makes a result around it each time it is run, which takes several times as
long as SQLite takes to run it. Values are put and read as their columns' types say, and what goes wrong is told, as
SQLAlchemy does it; the transaction stays that of the connection.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from sqlalchemy import Connection, Dialect, Select
from sqlalchemy.exc import DBAPIError

How = Callable[[Any], Any] | None


class Ready:
    """One statement for one dialect. Its parameters are all named, and none stands for a list; of an INSERT every
    column is given.
    """

    def __init__(self, statement: Any, dialect: Dialect) -> None:
        compiled = statement.compile(dialect=dialect)
        self._text = str(compiled)
        # What the statement itself fixes: `WHERE id = 1`.
        self._fixed = dict(compiled.params)
        self._order: list[str] | None = getattr(compiled, "positiontup", None)
        self._put: list[tuple[str, How]] = [
            (name, one.type.dialect_impl(dialect).bind_processor(dialect)) for one, name in compiled.bind_names.items()
        ]
        columns = statement.selected_columns if isinstance(statement, Select) else ()
        self._read: list[tuple[str, How]] = [
            (one.name, one.type.dialect_impl(dialect).result_processor(dialect, None)) for one in columns
        ]

    def row(self, connection: Connection, values: Mapping[str, Any]) -> dict[str, Any] | None:
        """The first row found, by its columns' names; None where there is none."""
        cursor = self._run(connection, values)
        try:
            row = cursor.fetchone()
        finally:
            cursor.close()
        if row is None:
            return None
        pairs = zip(self._read, row, strict=True)
        return {name: value if how is None else how(value) for (name, how), value in pairs}

    def count(self, connection: Connection, values: Mapping[str, Any]) -> int:
        """How many rows it took."""
        cursor = self._run(connection, values)
        try:
            return int(cursor.rowcount)
        finally:
            cursor.close()

    def _run(self, connection: Connection, values: Mapping[str, Any]) -> Any:
        given = {**self._fixed, **values}
        put = {name: given[name] if how is None else how(given[name]) for name, how in self._put}
        bound: Any = put if self._order is None else tuple(put[name] for name in self._order)
        cursor = connection.connection.cursor()
        try:
            cursor.execute(self._text, bound)
        except Exception as error:
            cursor.close()
            base = connection.dialect.loaded_dbapi.Error
            if isinstance(error, base):
                raise DBAPIError.instance(self._text, bound, error, base, dialect=connection.dialect) from error
            raise
        return cursor
