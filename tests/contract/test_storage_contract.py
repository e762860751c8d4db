"""The storage contract, against memory, a SQLite file and a real PostgreSQL."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from shutil import copy

import pytest

from app.ports import Store
from app.storage import migrate
from app.storage.engine import make_engine
from app.storage.memory import MemoryStore
from app.storage.sql import SqlStore
from tests.contract.search_contract import SearchContract
from tests.contract.storage_contract import StorageContract, UsesContract


def two_stores(url: str) -> Iterator[tuple[Store, Store]]:
    """Two stores with an engine each on one database, as two processes have them."""
    engines = make_engine(url), make_engine(url)
    yield SqlStore(engines[0]), SqlStore(engines[1])
    for engine in engines:
        engine.dispose()


class OnOneDatabase(StorageContract, UsesContract, SearchContract):
    @pytest.fixture
    def store(self, stores: tuple[Store, Store]) -> Store:
        return stores[0]

    @pytest.fixture
    def other(self, stores: tuple[Store, Store]) -> Store:
        return stores[1]


class TestMemory(OnOneDatabase):
    @pytest.fixture
    def stores(self) -> tuple[Store, Store]:
        store = MemoryStore()
        return store, store


@pytest.fixture(scope="module")
def empty_sqlite(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A SQLite file with the tables and nothing in them; copying it is quicker than migrating again."""
    path = tmp_path_factory.mktemp("empty") / "empty.db"
    migrate.upgrade(f"sqlite:///{path}")
    return path


class TestSqlite(OnOneDatabase):
    @pytest.fixture
    def stores(self, empty_sqlite: Path, tmp_path: Path) -> Iterator[tuple[Store, Store]]:
        copy(empty_sqlite, tmp_path / "contract.db")
        yield from two_stores(f"sqlite:///{tmp_path / 'contract.db'}")


class TestPostgresql(OnOneDatabase):
    @pytest.fixture
    def stores(self, fresh_postgresql: Callable[[], str]) -> Iterator[tuple[Store, Store]]:
        url = fresh_postgresql()
        migrate.upgrade(url)
        yield from two_stores(url)
