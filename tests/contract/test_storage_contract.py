"""The storage contract, against memory, a SQLite file and a real PostgreSQL."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from app.ports import Store
from app.storage import migrate
from app.storage.engine import make_engine
from app.storage.memory import MemoryStore
from app.storage.sql import SqlStore
from tests.contract.storage_contract import StorageContract


def two_stores(url: str) -> Iterator[tuple[Store, Store]]:
    """Two stores with an engine each on one database, as two processes have them."""
    migrate.upgrade(url)
    engines = make_engine(url), make_engine(url)
    yield SqlStore(engines[0]), SqlStore(engines[1])
    for engine in engines:
        engine.dispose()


class OnOneDatabase(StorageContract):
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


class TestSqlite(OnOneDatabase):
    @pytest.fixture
    def stores(self, tmp_path: Path) -> Iterator[tuple[Store, Store]]:
        yield from two_stores(f"sqlite:///{tmp_path / 'contract.db'}")


@pytest.mark.postgres
class TestPostgresql(OnOneDatabase):
    @pytest.fixture
    def stores(self, fresh_postgresql: Callable[[], str]) -> Iterator[tuple[Store, Store]]:
        yield from two_stores(fresh_postgresql())
