"""Take everything out, and in again: equal by hash on every store, whole or not at all, and nothing forgotten."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator, FormatChecker
from referencing import Registry, Resource
from sqlalchemy import inspect

from app.__main__ import main
from app.bootstrap import enclosed, wire
from app.domain import taken_out as form
from app.domain.entry import PhotoAdded
from app.domain.problems import AlreadyThere, NoRoom, Refused
from app.domain.records import Calibration, Tablet
from app.ports import Store
from app.settings import Settings
from app.storage import mapping, migrate
from app.storage.chest import FolderChest, MemoryChest, ZipChest
from app.storage.engine import make_engine
from app.storage.memory import MemoryStore
from app.storage.papers import FolderPapers, MemoryPapers
from app.storage.photos import FolderPhotos, MemoryPhotos
from app.storage.sql import SqlStore
from app.storage.tables import Row
from app.use_cases.office import Office
from app.use_cases.take_everything_in import TakenIn, take_everything_in
from app.use_cases.take_everything_out import TakenOut, manifest_bytes, take_out
from app.use_cases.verify import verify
from demo.seed import seed
from tests.builders import whole_job
from tests.contract.make_contracts import CONTRACTS
from tests.contract.storage_examples import ADDED, EXAMPLES
from tests.offices import PlainPins, a_small_job, an_office
from tests.tablets import a_tablet

FORM = migrate.newest()
NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
CERTIFICATE = b"%PDF-1.4 an invented certificate"
PHOTO = b"\xff\xd8\xff an invented photo"


def an_empty_office(store: Store | None = None) -> Office:
    wired = wire(Settings(_env_file=None), store=store or MemoryStore())  # type: ignore[call-arg]
    return replace(wired.office, pins=PlainPins(), photos=MemoryPhotos(), papers=MemoryPapers(), clock=lambda: NOW)


@pytest.fixture(scope="module")
def lived_in() -> Office:
    """The demo's workshop, with its photos, a certificate's file, and a tablet with a secret."""
    office = an_empty_office()
    seed(office, NOW)
    sha256 = office.papers.keep(CERTIFICATE)
    with office.store.writing() as unit:
        tool = unit.tools.all()[0]
        unit.calibrations.add(
            Calibration(
                "calibration-filed", tool.id, date(2026, 3, 2), "Hale Metrology (invented)", "HM-1", (), 40_000, True,
                False, date(2027, 3, 2), sha256, "HM-1.pdf", "foreman", NOW,
            )
        )  # fmt: skip
        unit.tablets.add(Tablet("tablet-secret", "Tablet 9", last_seq=4, secret_hash="f" * 64, enrolled_at=NOW))
        unit.commit()
    return office


@pytest.fixture(scope="module")
def out(lived_in: Office) -> MemoryChest:
    return taken(lived_in)[0]


@pytest.fixture(scope="module")
def small_office() -> Office:
    """One job worked through, with a photo: enough to spoil."""
    here = an_office()
    a_small_job(here, whole_job())
    tablet = a_tablet(here)
    assert tablet.answers(tablet.entry(PhotoAdded(here.office.photos.keep(PHOTO), "The joint", "look")))[0]["kept"]
    return here.office


@pytest.fixture(scope="module")
def small(small_office: Office) -> MemoryChest:
    return taken(small_office)[0]


def taken(office: Office) -> tuple[MemoryChest, TakenOut]:
    chest = MemoryChest()
    return chest, take_out(office, chest, FORM, enclosed())


def copied(chest: MemoryChest) -> MemoryChest:
    copy = MemoryChest()
    copy.files = dict(chest.files)
    return copy


@contextmanager
def on(engine_url: str) -> Iterator[Office]:
    migrate.upgrade(engine_url)
    engine = make_engine(engine_url)
    try:
        yield an_empty_office(SqlStore(engine))
    finally:
        engine.dispose()


# --- There and back --------------------------------------------------------------------------------------------------


def test_the_demo_s_workshop_comes_back_equal_by_hash_and_verifies(lived_in: Office, out: MemoryChest) -> None:
    target = an_empty_office()

    told = take_everything_in(target, out, FORM)

    assert verify(target).breaches == () == told.breaches
    again, second = taken(target)
    assert again.files == out.files
    assert second.mark == told.mark
    photos = [path for path in out.files if path.startswith("photos/")]
    assert len(photos) >= 3
    for path in photos:
        sha256 = path.rpartition("/")[2]
        assert target.photos.read(sha256) == lived_in.photos.read(sha256) == out.files[path]
    assert target.papers.read(hashlib.sha256(CERTIFICATE).hexdigest()) == CERTIFICATE
    with lived_in.store.reading() as there, target.store.reading() as here:
        assert told.entries == there.ledger.count() > 300
        for job in there.jobs.all():
            before, after = there.sheets.get(job.id), here.sheets.get(job.id)
            assert (before.hash if before else None) == (after.hash if after else None)
            assert list(there.uses.of_job(job.id)) == list(here.uses.of_job(job.id))


def test_sqlite_to_postgresql_and_back_again_is_equal_by_hash(
    out: MemoryChest, tmp_path: Path, fresh_postgresql: Callable[[], str]
) -> None:
    urls = [f"sqlite:///{tmp_path / 'one.db'}", fresh_postgresql(), f"sqlite:///{tmp_path / 'two.db'}"]
    chest = out
    for url in urls:
        with on(url) as office:
            assert take_everything_in(office, chest, FORM).breaches == ()
            assert verify(office).breaches == ()
            chest, _ = taken(office)
            assert chest.files == out.files, url
            goes_on(office)


def goes_on(office: Office) -> None:
    """Work goes on where it was taken in: no number is given out twice."""
    with office.store.writing() as unit:
        numbers = {one.number for one in unit.jobs.all()}
        seq = unit.numbers()["seq:office"]
        assert f"26-{unit.take_number('job'):04d}" not in numbers
        assert unit.take_number("seq:office") == seq + 1
        assert unit.ledger.next_order()[0] == unit.ledger.count() + 1


@pytest.mark.parametrize("database", ["sqlite", "postgresql"], indirect=True)
def test_a_record_of_every_register_travels(database: str) -> None:
    """Two of each kind, unlike in every field; what stays behind stays behind."""
    source = an_empty_office()
    with source.store.writing() as unit:
        for name, records in {**EXAMPLES, **ADDED}.items():
            for record in records:
                getattr(unit, name).add(record)
        unit.commit()
    chest, _ = taken(source)

    with on(database) as target:
        take_everything_in(target, chest, FORM)
        with target.store.reading() as unit:
            for name, records in {**EXAMPLES, **ADDED}.items():
                found = list(getattr(unit, name).all())
                if name in form.LEFT_BEHIND:
                    assert found == []
                else:
                    assert found == [form.without_credentials(one) for one in records], name
        assert taken(target)[0].files == chest.files


def test_pins_travel_and_sign_ins_and_tablets_secrets_do_not(lived_in: Office, out: MemoryChest) -> None:
    everything = b"".join(out.files.values())
    with lived_in.store.reading() as unit:
        person = unit.people.all()[0]
    target = an_empty_office()
    take_everything_in(target, out, FORM)

    with target.store.reading() as unit:
        assert unit.people.get(person.id) == person
        assert unit.sign_ins.all() == ()
        tablet = unit.tablets.get("tablet-secret")
        assert tablet is not None
        assert (tablet.secret_hash, tablet.last_seq) == ("", 4)
    assert b"f" * 64 not in everything


def test_a_tablet_enrolled_again_stays_the_tablet_it_was_and_what_waits_on_it_arrives() -> None:
    here = an_office()
    a_small_job(here)
    tablet = a_tablet(here)
    assert all(one["kept"] for one in tablet.answers(tablet.entry(), tablet.entry()))
    waiting = tablet.entry()
    there = replace(here, office=replace(here.office, store=MemoryStore()))
    take_everything_in(there.office, taken(here.office)[0], FORM)

    stranger = replace(tablet, here=there, client=a_tablet(there, name="Another").client)
    assert stranger.sends(waiting).status_code == 401
    again = a_tablet(there, was=tablet.header)
    again.seq = tablet.seq

    assert again.id == tablet.id
    (answer,) = again.answers(waiting)
    assert answer["kept"]
    assert there.get("tablets", tablet.id).last_seq == 3
    assert verify(there.office).breaches == ()
    anew = a_tablet(there, name="Thief", was=f"Tablet {tablet.id}.guessed")
    assert anew.id != tablet.id, "once it has a secret here, nothing else opens it"


# --- Nothing forgotten -----------------------------------------------------------------------------------------------


def test_every_table_of_the_store_has_a_fate(tmp_path: Path) -> None:
    """A new register is carried, rebuilt or left behind on purpose: say which in `app/domain/taken_out.py`."""
    url = f"sqlite:///{tmp_path / 'tables.db'}"
    migrate.upgrade(url)
    engine = make_engine(url)
    tables = {*inspect(engine).get_table_names(), *Row.metadata.tables} - {"alembic_version"}
    engine.dispose()
    register_of = {shape.table.name: name for name, shape in mapping.REGISTERS.items()}
    decided = {*form.CARRIED, *form.CARRIED_APART, *form.REBUILT, *form.LEFT_BEHIND}

    forgotten = [
        f"The table {table} is new: say in app/domain/taken_out.py whether a take-out carries it, takes it for "
        "rebuilt, or leaves it behind."
        for table in sorted(tables)
        if register_of.get(table, table) not in decided
        # A search index brings tables of its own along, named after it.
        and not any(table.startswith(f"{name}_") for name in form.REBUILT)
    ]

    assert forgotten == []
    assert sorted(decided - set(register_of.values()) - tables) == [], "a fate is told of a table that is gone"


def test_registers_are_taken_in_after_what_they_refer_to() -> None:
    order = list(form.CARRIED)
    register_of = {shape.table.name: name for name, shape in mapping.REGISTERS.items()}
    for name in order:
        for reference in mapping.REGISTERS[name].references:
            assert order.index(register_of[reference.table]) < order.index(name), (name, reference)


@pytest.mark.parametrize("name", form.CARRIED)
def test_a_carried_register_s_lines_are_records_of_its_own_kind(name: str) -> None:
    records = {**EXAMPLES, **ADDED}[name]
    assert all(isinstance(one, form.CARRIED[name]) for one in records)
    for one in records:
        assert form.record_from(form.CARRIED[name], form.line_of(one)) == one


def test_every_line_and_the_manifest_fit_the_schema(out: MemoryChest) -> None:
    schemas = {path.name: json.loads(path.read_text("utf-8")) for path in CONTRACTS.glob("*.schema.json")}
    registry: Registry[Any] = Registry().with_resources(
        (name, Resource.from_contents(schema)) for name, schema in schemas.items()
    )
    schema = schemas["take_out.schema.json"]
    Draft202012Validator.check_schema(schema)

    def errors(shape: dict[str, Any], data: Any) -> list[str]:
        checked = Draft202012Validator(shape, registry=registry, format_checker=FormatChecker())
        return [one.message for one in checked.iter_errors(data)]

    assert errors(schema, json.loads(out.files[form.MANIFEST])) == []
    for path in form.lines_in():
        shape = {"$ref": f"#/$defs/{path.replace('/', '~1')}", "$defs": schema["$defs"]}
        for line in out.files[path].splitlines():
            assert errors(shape, json.loads(line)) == [], path
            assert errors(shape, {**json.loads(line), "unheard_of": 1}) != [], path


def test_the_tables_are_read_by_a_spreadsheet_s_rules(lived_in: Office, out: MemoryChest) -> None:
    def rows(name: str) -> list[dict[str, str]]:
        text = out.files[f"tables/{name}.csv"].decode("utf-8-sig")
        return list(csv.DictReader(io.StringIO(text, newline=""), delimiter=";"))

    with lived_in.store.reading() as unit:
        jobs, customers, uses = unit.jobs.all(), unit.customers.all(), unit.uses.between(0, 10**9)
    assert [one["number"] for one in rows("jobs")] == [one.number for one in jobs]
    assert [one["complaint"] for one in rows("jobs")] == [one.complaint for one in jobs]
    assert [one["email"] for one in rows("customers")] == [one.email for one in customers]
    assert [round(float(one["at_fastener_nm"]) * 1_000) for one in rows("torques")] == [one.value for one in uses]
    for one in rows("estimates"):
        parts = [Decimal(one[name]) for name in ("labour", "parts", "other", "tax")]
        assert sum(parts) == Decimal(one["total"])
    assert len(rows("estimates")) >= 2


def test_two_take_outs_of_the_same_are_the_same_bytes(lived_in: Office, out: MemoryChest) -> None:
    again, told = taken(lived_in)
    assert again.files == out.files
    assert told.mark == hashlib.sha256(out.files[form.MANIFEST]).hexdigest()
    manifest = json.loads(out.files[form.MANIFEST])
    named = {one["path"]: (one["bytes"], one["sha256"]) for one in manifest["files"]}
    assert named == {
        path: (len(data), hashlib.sha256(data).hexdigest()) for path, data in out.files.items() if path != form.MANIFEST
    }


# --- Refusals: a sentence each, nothing half taken in ----------------------------------------------------------------


@dataclass
class Spoilt:
    """A take-out somebody spoilt, with a manifest that fits it when asked for."""

    chest: MemoryChest

    def sealed(self) -> MemoryChest:
        """With the manifest made to fit, as somebody would who wants it believed."""
        manifest = json.loads(self.chest.files[form.MANIFEST])
        for one in manifest["files"]:
            data = self.chest.files[one["path"]]
            one |= {"bytes": len(data), "sha256": hashlib.sha256(data).hexdigest()}
        self.write(manifest)
        return self.chest

    def write(self, manifest: dict[str, Any]) -> None:
        text = json.dumps(manifest, indent=1, sort_keys=True, ensure_ascii=False) + "\n"
        self.chest.files[form.MANIFEST] = text.encode()

    def change_line(self, path: str, number: int, change: Callable[[dict[str, Any]], None]) -> None:
        lines = self.chest.files[path].splitlines()
        record = json.loads(lines[number])
        change(record)
        lines[number] = form.line_of(record).rstrip(b"\n")
        self.chest.files[path] = b"\n".join(lines) + b"\n"


@pytest.fixture
def spoilt(small: MemoryChest) -> Spoilt:
    return Spoilt(copied(small))


def refused(chest: MemoryChest, office: Office | None = None) -> list[tuple[str, dict[str, Any]]]:
    """The problems; and that nothing whatever was taken in."""
    office = office or an_empty_office()
    with pytest.raises(Refused) as caught:
        take_everything_in(office, chest, FORM)
    with office.store.reading() as unit:
        assert [name for name in form.CARRIED if getattr(unit, name).all()] == []
        assert (unit.ledger.count(), unit.numbers(), unit.sheets.packet_hashes()) == (0, {}, ())
    assert office.photos.hashes() == () == office.papers.hashes()
    return [(one.code, dict(one.details)) for one in caught.value.problems]


def test_an_installation_with_anything_in_it_is_left_alone(small: MemoryChest) -> None:
    office = an_empty_office()
    with office.store.writing() as unit:
        unit.customers.add(EXAMPLES["customers"][0])
        unit.commit()

    with pytest.raises(Refused) as caught:
        take_everything_in(office, small, FORM)

    assert [(one.code, one.details) for one in caught.value.problems] == [("taken_not_empty", {"what": "customers"})]
    with office.store.reading() as unit:
        assert (len(unit.customers.all()), unit.people.all()) == (1, ())


def test_taking_in_twice_is_refused(small: MemoryChest) -> None:
    office = an_empty_office()
    take_everything_in(office, small, FORM)

    with pytest.raises(Refused) as caught:
        take_everything_in(office, small, FORM)

    assert [one.code for one in caught.value.problems] == ["taken_not_empty"]


def test_no_manifest_is_no_take_out(spoilt: Spoilt) -> None:
    del spoilt.chest.files[form.MANIFEST]
    assert refused(spoilt.chest) == [("taken_no_manifest", {})]


@pytest.mark.parametrize("data", [b"", b"{", b"[]", b'{"format": 1}', b"\xff\xfe", b"null"])
def test_a_manifest_that_is_none(spoilt: Spoilt, data: bytes) -> None:
    spoilt.chest.files[form.MANIFEST] = data
    assert [code for code, _ in refused(spoilt.chest)] == ["taken_manifest_unread"]


def test_another_format_or_another_form_of_the_database(spoilt: Spoilt) -> None:
    manifest = json.loads(spoilt.chest.files[form.MANIFEST])
    spoilt.write({**manifest, "format": 2})
    assert refused(spoilt.chest) == [("taken_other_format", {"format": 2})]

    spoilt.write({**manifest, "database": "0001"})
    assert refused(spoilt.chest) == [("taken_other_form", {"theirs": "0001", "ours": FORM})]


def test_every_missing_and_every_damaged_file_is_named(spoilt: Spoilt) -> None:
    photo = next(path for path in spoilt.chest.files if path.startswith("photos/"))
    del spoilt.chest.files["records/jobs.jsonl"]
    spoilt.chest.files["ledger.jsonl"] = spoilt.chest.files["ledger.jsonl"][:-40]
    spoilt.chest.files[photo] = spoilt.chest.files[photo][::-1]
    spoilt.chest.files["tables/jobs.csv"] += b"\n"

    told = refused(spoilt.chest)

    assert ("taken_missing", {"path": "records/jobs.jsonl"}) in told
    assert {("taken_damaged", path["path"]) for code, path in told if code == "taken_damaged"} == {
        ("taken_damaged", "ledger.jsonl"), ("taken_damaged", photo), ("taken_damaged", "tables/jobs.csv"),
    }  # fmt: skip


def test_a_register_the_manifest_does_not_name(spoilt: Spoilt) -> None:
    manifest = json.loads(spoilt.chest.files[form.MANIFEST])
    manifest["files"] = [one for one in manifest["files"] if one["path"] != "records/tools.jsonl"]
    spoilt.write(manifest)
    assert refused(spoilt.chest) == [("taken_not_named", {"path": "records/tools.jsonl"})]


def test_a_path_that_leads_outside_is_not_there(spoilt: Spoilt, tmp_path: Path) -> None:
    (tmp_path / "secret").write_text("outside", "utf-8")
    inside = tmp_path / "inside"
    chest = FolderChest(inside)
    for path, data in spoilt.chest.files.items():
        if path != form.MANIFEST:
            chest.put(path, [data])
    manifest = json.loads(spoilt.chest.files[form.MANIFEST])
    outside = {"path": "../secret", "bytes": 7, "sha256": hashlib.sha256(b"outside").hexdigest()}
    manifest["files"].append(outside)
    spoilt.write(manifest)
    (inside / form.MANIFEST).write_bytes(spoilt.chest.files[form.MANIFEST])

    with pytest.raises(Refused) as caught:
        take_everything_in(an_empty_office(), chest, FORM)

    assert [(one.code, one.details) for one in caught.value.problems] == [("taken_missing", {"path": "../secret"})]


LINES: list[tuple[str, Callable[[dict[str, Any]], None]]] = [
    ("records/jobs.jsonl", lambda one: one.update(state="unheard_of")),
    ("records/jobs.jsonl", lambda one: one.pop("complaint")),
    ("records/jobs.jsonl", lambda one: one.update(odometer_km="many")),
    ("records/jobs.jsonl", lambda one: one.update(extra=1)),
    ("records/vehicles.jsonl", lambda one: one["front"].update(extra=1)),
    ("records/jobs.jsonl", lambda one: one.update(opened_at="2026-03-12T08:30:00")),
    ("packets.jsonl", lambda one: one["packet"].update(edition=99)),
    ("packets.jsonl", lambda one: one["packet"].pop("steps")),
    ("counters.jsonl", lambda one: one.update(value=None)),
    ("ledger.jsonl", lambda one: one.update(order="1")),
]


@pytest.mark.parametrize(("path", "change"), LINES)
def test_a_line_that_is_not_in_form_is_named_with_its_number(
    spoilt: Spoilt, path: str, change: Callable[[dict[str, Any]], None]
) -> None:
    spoilt.change_line(path, 0, change)

    told = refused(spoilt.sealed())

    assert ("taken_line", path, 1) in [(code, one.get("path"), one.get("line")) for code, one in told]


def test_a_line_that_is_no_json_at_all(spoilt: Spoilt) -> None:
    spoilt.chest.files["records/people.jsonl"] = b"not json\n" + spoilt.chest.files["records/people.jsonl"]
    told = refused(spoilt.sealed())
    assert (told[0][0], told[0][1]["path"], told[0][1]["line"]) == ("taken_line", "records/people.jsonl", 1)


def test_an_altered_entry_is_found_by_the_chain(spoilt: Spoilt) -> None:
    spoilt.change_line("ledger.jsonl", 5, lambda one: one.update(name="Somebody Else"))
    assert refused(spoilt.sealed()) == [("taken_chain", {"row": 6})]


def test_an_entry_left_out_and_an_end_cut_off_are_found(small: MemoryChest) -> None:
    lines = small.files["ledger.jsonl"].splitlines(keepends=True)
    one = Spoilt(copied(small))
    one.chest.files["ledger.jsonl"] = b"".join(lines[:3] + lines[4:])
    assert refused(one.sealed()) == [("taken_chain", {"row": 4})]

    other = Spoilt(copied(small))
    other.chest.files["ledger.jsonl"] = b"".join(lines[:-1])
    assert refused(other.sealed()) == [("taken_end", {"rows": len(lines) - 1, "wanted": len(lines)})]


@pytest.mark.parametrize("kind", ["memory", "sqlite"])
def test_what_is_there_twice_or_refers_to_nothing_is_told(small: MemoryChest, tmp_path: Path, kind: str) -> None:
    twice = Spoilt(copied(small))
    people = twice.chest.files["records/people.jsonl"]
    twice.chest.files["records/people.jsonl"] = people + people.splitlines(keepends=True)[0]
    lacking = Spoilt(copied(small))
    lacking.chest.files["records/customers.jsonl"] = b""
    wanted = [(twice, "taken_twice", "records/people.jsonl"), (lacking, "taken_refers", "records/vehicles.jsonl")]

    for number, (one, code, path) in enumerate(wanted):
        if kind == "memory":
            told = refused(one.sealed())
        else:
            with on(f"sqlite:///{tmp_path / f'{number}.db'}") as office:
                told = refused(one.sealed(), office)
        assert (code, path) in [(found, details.get("path")) for found, details in told]


def test_a_photo_that_records_name_has_to_be_there(spoilt: Spoilt) -> None:
    photo = next(path for path in spoilt.chest.files if path.startswith("photos/"))
    manifest = json.loads(spoilt.chest.files[form.MANIFEST])
    manifest["files"] = [one for one in manifest["files"] if one["path"] != photo]
    spoilt.write(manifest)
    assert refused(spoilt.chest) == [("taken_missing", {"path": photo})]


def test_what_was_lost_before_does_not_keep_anybody_from_leaving(small_office: Office) -> None:
    """A lost photo is told at the take-out, and travels as lost."""
    lossy = replace(small_office, photos=MemoryPhotos())
    lost = sorted(f"photos/{one[:2]}/{one}" for one in small_office.photos.hashes())
    chest, told = taken(lossy)
    assert list(told.missing) == lost != []

    target = an_empty_office()
    come = take_everything_in(target, chest, FORM)

    assert (list(come.missing), come.mark) == (lost, told.mark)
    assert taken(target)[1].mark == told.mark


def test_a_file_damaged_where_it_is_kept_counts_as_lost(lived_in: Office, tmp_path: Path) -> None:
    papers = FolderPapers(tmp_path / "papers")
    sha256 = papers.keep(CERTIFICATE)
    (tmp_path / "papers" / sha256[:2] / sha256).write_bytes(b"something else")

    _, told = taken(replace(lived_in, papers=papers))

    assert told.missing == (f"papers/{sha256[:2]}/{sha256}",)


def test_a_full_disk_takes_nothing_in(small: MemoryChest) -> None:
    class Full(MemoryPhotos):
        def keep(self, data: bytes) -> str:
            raise NoRoom("no space left on device")

    office = replace(an_empty_office(), photos=Full())
    with pytest.raises(NoRoom):
        take_everything_in(office, small, FORM)

    with office.store.reading() as unit:
        assert (unit.people.all(), unit.ledger.count()) == ((), 0)


def test_waiting_letters_and_files_beside_are_told(small_office: Office, small: MemoryChest) -> None:
    chest = copied(small)
    chest.files["notes.txt"] = b"mine"
    with small_office.store.reading() as unit:
        waiting = [one for one in unit.outbox.all() if one.state.value == "waiting"]

    told: TakenIn = take_everything_in(an_empty_office(), chest, FORM)

    assert told.waiting == len(waiting)
    assert told.beside == ("notes.txt",)


# --- Chests and commands ---------------------------------------------------------------------------------------------


def test_a_folder_and_a_zip_hold_the_same(lived_in: Office, out: MemoryChest, tmp_path: Path) -> None:
    folder = FolderChest(tmp_path / "out")
    take_out(lived_in, folder, FORM, enclosed())
    with (tmp_path / "out.zip").open("wb") as file, ZipChest(file, "cotterpin") as packed:
        take_out(lived_in, packed, FORM, enclosed())

    assert {path: b"".join(folder.read(path) or ()) for path in folder.paths()} == out.files
    with zipfile.ZipFile(tmp_path / "out.zip") as unzipped:
        assert unzipped.testzip() is None
        unzipped.extractall(tmp_path / "unpacked")
    unpacked = FolderChest(tmp_path / "unpacked" / "cotterpin")
    assert {path: b"".join(unpacked.read(path) or ()) for path in unpacked.paths()} == out.files
    assert (tmp_path / "out" / "records" / "people.jsonl").stat().st_mode & 0o077 == 0
    with pytest.raises(AlreadyThere):
        folder.need_empty()


@pytest.fixture
def two_installations(small_office: Office, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    """Settings for one of two installations; the first holds the demo's workshop."""

    def use(name: str) -> None:
        monkeypatch.setenv("COTTERPIN_DATABASE_URL", f"sqlite:///{tmp_path / name / 'cotterpin.db'}")
        monkeypatch.setenv("COTTERPIN_PHOTOS_FOLDER", str(tmp_path / name / "photos"))
        monkeypatch.setenv("COTTERPIN_PAPERS_FOLDER", str(tmp_path / name / "papers"))

    use("old")
    assert main(["migrate"]) == 0
    engine = make_engine(f"sqlite:///{tmp_path / 'old' / 'cotterpin.db'}")
    photos, papers = FolderPhotos(tmp_path / "old" / "photos"), FolderPapers(tmp_path / "old" / "papers")
    old = replace(an_empty_office(SqlStore(engine)), photos=photos, papers=papers)
    take_everything_in(old, taken(small_office)[0], FORM)
    engine.dispose()
    return use


def test_the_commands_take_out_and_in_and_verify(
    two_installations: Callable[[str], None], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["take-out", str(tmp_path / "out")]) == 0
    said = capsys.readouterr().out
    mark = next(line for line in said.splitlines() if line.startswith("Mark: "))
    assert "keep it as you keep the keys" in said

    two_installations("new")
    assert main(["take-in", str(tmp_path / "out")]) == 0
    said = capsys.readouterr().out
    assert mark in said
    assert "each tablet is enrolled again" in said
    assert main(["verify"]) == 0
    capsys.readouterr()

    assert main(["take-out", str(tmp_path / "again")]) == 0
    assert mark in capsys.readouterr().out

    assert main(["take-in", str(tmp_path / "out")]) == 1
    assert "This installation has records already" in capsys.readouterr().err


def test_the_commands_refuse_in_sentences(
    two_installations: Callable[[str], None], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    full = tmp_path / "full"
    full.mkdir()
    (full / "mine.txt").write_text("mine", "utf-8")
    assert main(["take-out", str(full)]) == 1
    assert "is not empty" in capsys.readouterr().err
    assert [one.name for one in full.iterdir()] == ["mine.txt"]

    two_installations("new")
    assert main(["take-in", str(tmp_path / "nowhere")]) == 1
    assert "There is no folder" in capsys.readouterr().err
    assert main(["take-in", str(full)]) == 1
    said = capsys.readouterr().err
    assert "There is no manifest.json" in said
    assert "Nothing was taken in." in said


def test_the_manifest_is_written_last(lived_in: Office) -> None:
    """What was cut off in the middle has none, and is refused for that."""

    class Cut(MemoryChest):
        def put(self, path: str, pieces: Any) -> tuple[int, str]:
            if path.startswith("tables/"):
                raise OSError("power cut")
            return super().put(path, pieces)

    chest = Cut()
    with pytest.raises(OSError, match="power cut"):
        take_out(lived_in, chest, FORM)
    assert form.MANIFEST not in chest.files


def test_instants_keep_their_microseconds_and_are_told_in_utc() -> None:
    at = datetime(2026, 3, 12, 16, 15, 0, 123, tzinfo=timezone(timedelta(hours=5, minutes=45)))
    assert form.plain(at) == "2026-03-12T10:30:00.000123Z"
    manifest = form.Manifest(1, FORM, 0, "", (), ())
    assert manifest_bytes(manifest).endswith(b"}\n")
