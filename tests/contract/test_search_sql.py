"""What is found by in a database: made anew where it is missing or wrong, and its index asked as it is meant to be."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from sqlalchemy import text

from app.domain.search_words import asked_words
from app.storage import migrate
from app.storage.engine import make_engine
from app.storage.search import LEXEMES
from app.storage.sql import SqlStore
from app.use_cases.verify import catch_up
from tests.contract.search_contract import add_cast, found

BOTH = pytest.mark.parametrize("database", ["sqlite", "postgresql"], indirect=True)


@pytest.fixture
def store(database: str) -> Iterator[SqlStore]:
    migrate.upgrade(database)
    store = SqlStore(make_engine(database))
    with store.writing() as unit:
        add_cast(unit)
        unit.commit()
    yield store
    store.engine.dispose()


def run(store: SqlStore, *statements: str) -> list[Any]:
    with store.engine.begin() as connection:
        return [connection.execute(text(one)) for one in statements]


@BOTH
def test_a_database_from_before_there_was_a_search_is_caught_up_with_once(store: SqlStore) -> None:
    assert not catch_up(store)
    run(store, "DELETE FROM search_texts")
    with store.reading() as unit:
        assert found(unit, "okonjo") == []

    assert catch_up(store)

    with store.reading() as unit:
        assert found(unit, "okonjo") == ["plain"]
        assert unit.search.amiss() == ()
    assert not catch_up(store)


@BOTH
def test_what_is_kept_wrongly_is_named_and_put_right(store: SqlStore) -> None:
    changed = "UPDATE search_texts SET words = 'nonsense' WHERE id = 'job j-plain'"
    noted = "UPDATE search_texts SET noted = 'more' WHERE id = 'job j-han'"
    more = "INSERT INTO search_texts (id, vehicle, job, words, noted) VALUES ('job x', 'v-plain', 'x', 'more', '')"
    gone = "DELETE FROM search_texts WHERE id = 'vehicle v-thai'"
    run(store, changed, noted, more, gone)
    with store.writing() as unit:
        assert set(unit.search.amiss()) == {"j-plain", "j-han", "x", "v-thai"}
        unit.search.rebuild()
        assert unit.search.amiss() == ()
        assert found(unit, "nonsense") == found(unit, "more") == []
        assert found(unit, "lk14tal") == ["plain"]


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_an_index_that_lost_its_way_is_made_anew_on_sqlite(store: SqlStore) -> None:
    run(store, "INSERT INTO search_index (search_index) VALUES ('delete-all')")
    with store.writing() as unit:
        assert found(unit, "okonjo") == []
        unit.search.rebuild()
        assert found(unit, "okonjo") == ["plain"]


@pytest.mark.parametrize("database", ["postgresql"], indirect=True)
def test_the_question_fits_the_index_on_postgresql(store: SqlStore) -> None:
    """An index over an expression is used only where the question has the very same."""
    words = " & ".join(f"'{one}':*" for one in asked_words("okonjo"))
    asked = words.replace("'", "''")
    question = f"EXPLAIN SELECT position FROM search_texts WHERE {LEXEMES} @@ '{asked}'::tsquery"
    *_, plan = run(store, "SET LOCAL enable_seqscan = off", question)
    assert "ix_search_texts_words" in " ".join(row[0] for row in plan.all())
