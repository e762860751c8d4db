"""The exchange over HTTP on SQLite and on PostgreSQL: a day with a tablet, its oddest entries, and a loss."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from starlette.testclient import TestClient

from app.bootstrap import Wired, app_of
from app.mail.folder import FolderPostman
from app.settings import Settings
from app.storage import migrate
from app.storage.engine import make_engine
from app.storage.sql import SqlStore
from app.use_cases.enrol_tablet import enrol_tablet, make_code
from app.use_cases.office import Office
from app.use_cases.open_job import pin
from app.use_cases.verify import verify
from tests.builders import ADA, FAY, JOB, a_packet
from tests.contract.test_sync_entries import MEANWHILE, as_it_is
from tests.offices import Workshop, a_small_job, an_office
from tests.tablets import ATablet, nothing_in

BOTH = pytest.mark.parametrize("database", ["sqlite", "postgresql"], indirect=True)
REGISTERS = ("shops", "people", "bays", "customers", "vehicles", "jobs")


def moved(here: Workshop, store: SqlStore) -> Office:
    """The same workshop, its records in a database, its one job pinned anew."""
    office = replace(here.office, store=store)
    with here.store.reading() as memory, store.writing() as unit:
        for name in REGISTERS:
            for record in getattr(memory, name).all():
                getattr(unit, name).add(record)
        pin(office, unit, FAY.id, a_packet(job=JOB))
        unit.commit()
    return office


@BOTH
def test_a_day_with_a_tablet(database: str) -> None:
    migrate.upgrade(database)
    engine = make_engine(database)
    here = an_office()
    a_small_job(here)
    office = moved(here, SqlStore(engine))
    settings = Settings(_env_file=None)  # type: ignore[call-arg]
    app = app_of(Wired(settings, office, here.hub, FolderPostman(settings.mail_folder)))
    code = make_code(office, FAY.id, lambda letters: letters[0]).code
    enrolled = enrol_tablet(office, code, "Bench", lambda: "secret")
    client = TestClient(app, base_url="http://office.test", raise_server_exceptions=False)
    tablet = ATablet(here, client, enrolled.tablet.id, enrolled.secret)

    assert tablet.signs_in(ADA).status_code == 200
    first = tablet.meets(signed_in=ADA.id)
    assert (set(first["jobs"]), set(first["work"])) == ({JOB}, {ADA.id})
    assert nothing_in(tablet.meets(signed_in=ADA.id))

    odd: list[dict[str, Any]] = [
        {**tablet.entry(), **change} for happened, change, _, _ in MEANWHILE.values() if happened is as_it_is
    ]
    answers = tablet.answers(*odd, tablet.entry())
    assert [one["kept"] for one in answers] == [True] * (len(odd) + 1)
    assert [one["accepted"] for one in answers] == [False] * len(odd) + [True]
    assert all(one["repeated"] for one in tablet.answers(*odd))
    assert set(tablet.meets(signed_in=ADA.id)["jobs"]) == {JOB}

    tablet.seq += 3
    tablet.meets([tablet.seq])
    assert tablet.meets()["next_seq"] == tablet.seq + 1
    with office.store.reading() as unit:
        alarms = unit.tablet_alarms.where(settled_at=None)
        assert sorted((one.kind.value, one.count, one.people) for one in alarms) == [
            ("missing", 3, ("Ada",)),
            ("no_job", 1, ("Ada",)),
        ]
    assert verify(office).breaches == ()
    engine.dispose()


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_an_office_busy_with_others_says_so_and_has_done_nothing(
    database: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("app.storage.sql.BUSY_MS", 50)
    migrate.upgrade(database)
    here = an_office()
    a_small_job(here)
    office = moved(here, SqlStore(make_engine(database)))
    settings = Settings(_env_file=None)  # type: ignore[call-arg]
    app = app_of(Wired(settings, office, here.hub, FolderPostman(settings.mail_folder)))
    code = make_code(office, FAY.id, lambda letters: letters[0]).code
    enrolled = enrol_tablet(office, code, "Bench", lambda: "secret")
    client = TestClient(app, base_url="http://office.test", raise_server_exceptions=False)
    tablet = ATablet(here, client, enrolled.tablet.id, enrolled.secret)
    entry = tablet.entry()

    with office.store.writing():
        busy = tablet.sends(entry)
    assert busy.status_code == 503
    assert "The office is busy" in busy.text

    (answer,) = tablet.answers(entry)
    assert (answer["kept"], answer["repeated"]) == (True, False)
