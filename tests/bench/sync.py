"""Thirty tablets that return with a thousand entries each, and thirty that have nothing to say.

Three are asked in turns in one run, so that whatever else the machine does hits all: the office as served (uvicorn in a
process of its own, SQLite on a file); a general-purpose replicating document store out of npm, over HTTP, by its own
bulk call; and a bare loop that inserts the same bytes without HTTP, one transaction a batch, WAL, synchronous=FULL. The
office rules on every entry, carries its sheet on and chains its row, and answers when that is on the disk. The document
store is left as it comes: it does not wait for the disk, which is to its advantage.

Run: `python -m tests.bench.sync` (`--entries 200`, `--tablets 10` for less). npm fetches the store into a folder that
is thrown away; where Node is not at hand that part is left out, and said so.
Limits stated: at least as many entries a second as the document store; at least 1/25 of the bare loop; thirty tablets
that have nothing to say take at most a tenth of one processor.
"""

from __future__ import annotations

import argparse
import http.client
import json
import shutil
import socket
import sqlite3
import statistics
import subprocess
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from app.bootstrap import the_bundle, wire
from app.domain import entry as e
from app.domain.records import AxleFacts as Facts
from app.domain.records import Customer, Job, Person, Role, Tablet, Vehicle
from app.ids import new_id
from app.settings import Settings
from app.storage.migrate import upgrade
from app.use_cases.open_job import pin
from app.use_cases.tablet_credential import hash_of
from tests.bench.entries import connected, serve_ours, served
from tests.bench.limits import Told
from tests.builders import a_packet

SECRET, PERSON, BATCH = "bench-secret", "bench-person", 100
CONTACT_EVERY_S = 5
# A document store that replicates, and what serves it over HTTP. Pinned, so that figures can be compared.
STORE = ("pouchdb-core@9.0.0", "pouchdb-adapter-leveldb@9.0.0", "express@4.21.2", "express-pouchdb@4.2.0")
SERVE_STORE = """
const [folder, port] = process.argv.slice(2);
const PouchDB = require("pouchdb-core").plugin(require("pouchdb-adapter-leveldb"));
const store = require("express-pouchdb")(PouchDB.defaults({ prefix: `${folder}/` }), {
  mode: "minimumForPouchDB", inMemoryConfig: true, logPath: `${folder}/log.txt`,
});
require("express")().use("/", store).listen(Number(port), "127.0.0.1");
"""

Batches = list[list[bytes]]
Send = Callable[[http.client.HTTPConnection, int, bytes], None]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--tablets", type=int, default=30)
    parser.add_argument("--entries", type=int, default=1_000, help="what each tablet brings")
    parser.add_argument("--turns", type=int, default=2)
    given = parser.parse_args()
    told = Told()
    with tempfile.TemporaryDirectory(prefix="cotterpin-sync-") as folder:
        rates = returning(told, Path(folder), given.tablets, given.entries, given.turns)
        idle(told, Path(folder), given.tablets)
    told.at_least("entries/s beside a bare insert loop", rates["ours"] / rates["bare"], 1 / 25, "of its rate")
    if "store" in rates:
        told.at_least("entries/s beside the document store", rates["ours"] / rates["store"], 1, "of its rate")
    else:
        told.say("Node and npm are not at hand: nothing was compared with a document store.")
    return told.outcome()


def returning(told: Told, folder: Path, tablets: int, entries: int, turns: int) -> dict[str, float]:
    """Entries per second of each, the best of so many turns."""
    best: dict[str, float] = {}
    with a_document_store(folder) as store:
        for turn in range(turns):
            place = folder / f"turn-{turn}"
            place.mkdir()
            url, jobs = prepared(place, tablets)
            brought = [batches_of(number, jobs, entries) for number in range(tablets)]
            rates = {"ours": of_ours(url, brought), "bare": of_bare(place, brought)}
            if store:
                rates["store"] = of_store(store, f"turn-{turn}", brought)
            for name, rate in rates.items():
                best[name] = max(best.get(name, 0), rate)
                told.say(f"turn {turn + 1}, {name}: {rate:,.0f} entries/s ({tablets} × {entries}, {BATCH} a request)")
    return best


# --- What they bring ------------------------------------------------------------------------------------------------


def prepared(folder: Path, tablets: int) -> tuple[str, list[str]]:
    """A database with so many tablets and as many open jobs."""
    url = f"sqlite:///{folder / 'ours.db'}"
    upgrade(url)
    office = wire(Settings(database_url=url)).office
    now = datetime.now(UTC)
    jobs = [new_id() for _ in range(tablets)]
    with office.store.writing() as unit:
        unit.people.add(Person(PERSON, "Bench", frozenset({Role.TECHNICIAN, Role.DESK}), "x"))
        for number in range(tablets):
            key = hash_of(SECRET)
            unit.tablets.add(Tablet(named(number), f"Bench {number}", secret_hash=key, enrolled_at=now))
        unit.customers.add(Customer("c", "Customer", "", ""))
        axles = Facts("strut"), Facts("twist_beam")
        unit.vehicles.add(Vehicle("v", "c", "BENCH", "", "Model", None, "", "", "", None, *axles))
        for number, job in enumerate(jobs):
            unit.jobs.add(Job(job, f"B-{number}", "v", "c", "x", None, now, PERSON, None, ()))
            pin(office, unit, PERSON, a_packet(job=job))
        unit.commit()
    return url, jobs


def named(tablet: int) -> str:
    return f"bench-{tablet:02d}"


def batches_of(tablet: int, jobs: Sequence[str], entries: int) -> list[list[dict[str, Any]]]:
    """Gapless, on five jobs in turns, as a tablet that was away for days has them."""
    body = e.body_json(e.GateAnswered(gate="stands:front", answers={"shaken": e.Answer(choice="still")}))
    made = [
        e.entry_json(
            e.Entry(
                v=1, id=new_id(), tablet=named(tablet), seq=seq, job=jobs[(tablet + seq % 5) % len(jobs)],
                kind="gate_answered", body=body, person=PERSON, noted_at_ms=1_764_000_000_000,
                basis=e.Basis(support_revision=0),
            )
        )
        for seq in range(1, entries + 1)
    ]  # fmt: skip
    return [made[at : at + BATCH] for at in range(0, entries, BATCH)]


# --- Bringing it ----------------------------------------------------------------------------------------------------


def of_ours(url: str, brought: Sequence[Sequence[Sequence[Any]]]) -> float:
    process, port = served(serve_ours, url)

    def send(line: http.client.HTTPConnection, tablet: int, body: bytes) -> None:
        headers = {"Content-Type": "application/json", "Authorization": f"Tablet {named(tablet)}.{SECRET}"}
        while True:
            line.request("POST", "/sync/entries", body, headers)
            answer = line.getresponse()
            text = answer.read()
            if answer.status != 503:
                break
            # Busy with the others: as a tablet does.
            time.sleep(0.75)
        if answer.status != 200 or text.count(b'"kept":true') != body.count(b'"kind"'):
            raise SystemExit(f"{answer.status}: {text[:300]!r}")

    bodies = [
        [json.dumps({"tablet": named(at), "entries": one}).encode() for one in batches]
        for at, batches in enumerate(brought)
    ]
    try:
        return rate_of(port, bodies, brought, send)
    finally:
        process.terminate()
        process.join()


def of_store(port: int, database: str, brought: Sequence[Sequence[Sequence[Any]]]) -> float:
    line = connected(port)
    line.request("PUT", f"/{database}")
    line.getresponse().read()

    def send(line: http.client.HTTPConnection, _: int, body: bytes) -> None:
        line.request("POST", f"/{database}/_bulk_docs", body, {"Content-Type": "application/json"})
        answer = line.getresponse()
        text = answer.read()
        if answer.status != 201 or text.count(b'"ok":true') != body.count(b'"_id"'):
            raise SystemExit(f"{answer.status}: {text[:300]!r}")

    bodies = [
        [json.dumps({"docs": [{"_id": one["id"], **one} for one in batch]}).encode() for batch in batches]
        for batches in brought
    ]
    return rate_of(port, bodies, brought, send)


def of_bare(folder: Path, brought: Sequence[Sequence[Sequence[Any]]]) -> float:
    """The least: the bytes of each entry into a row of one table, durably, nobody asked and nothing answered."""
    connection = sqlite3.connect(folder / "bare.db", isolation_level=None)
    for words in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
        connection.execute(f"PRAGMA {words}")
    connection.execute("CREATE TABLE rows (id INTEGER PRIMARY KEY, raw TEXT NOT NULL) STRICT")
    batches = [[(json.dumps(one),) for one in batch] for batches in brought for batch in batches]
    began = time.perf_counter()
    for batch in batches:
        connection.execute("BEGIN IMMEDIATE")
        for row in batch:
            connection.execute("INSERT INTO rows (raw) VALUES (?)", row)
        connection.execute("COMMIT")
    took = time.perf_counter() - began
    connection.close()
    return sum(map(len, batches)) / took


def rate_of(port: int, bodies: Batches, brought: Sequence[Sequence[Sequence[Any]]], send: Send) -> float:
    """All tablets at once, each its batches one after the other, each over a connection of its own."""
    failed: list[BaseException] = []

    def brings(tablet: int) -> None:
        try:
            line = connected(port)
            for body in bodies[tablet]:
                send(line, tablet, body)
            line.close()
        except BaseException as error:
            failed.append(error)

    threads = [threading.Thread(target=brings, args=(tablet,)) for tablet in range(len(bodies))]
    began = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    took = time.perf_counter() - began
    if failed:
        raise SystemExit(f"a tablet was not served: {failed[0]}")
    return sum(len(batch) for batches in brought for batch in batches) / took


@contextmanager
def a_document_store(folder: Path) -> Any:
    """The port of one, installed and served here; None where Node and npm are not at hand."""
    node, npm = shutil.which("node"), shutil.which("npm")
    if node is None or npm is None:
        yield None
        return
    place = folder / "store"
    (place / "kept").mkdir(parents=True)
    (place / "package.json").write_text('{"private": true}', "utf-8")
    (place / "server.cjs").write_text(SERVE_STORE, "utf-8")
    # Nothing of a package is run when it comes: what it was built into is in it.
    subprocess.run(
        [npm, "install", "--silent", "--no-audit", "--no-fund", "--ignore-scripts", *STORE], cwd=place, check=True
    )
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    process = subprocess.Popen([node, "server.cjs", str(place / "kept"), str(port)], cwd=place)
    try:
        until = time.monotonic() + 60
        while True:
            try:
                socket.create_connection(("127.0.0.1", port), 0.2).close()
                break
            except OSError:
                if process.poll() is not None or time.monotonic() > until:
                    raise SystemExit("the document store did not start") from None
                time.sleep(0.1)
        yield port
    finally:
        process.terminate()
        process.wait()


# --- Nothing to say -------------------------------------------------------------------------------------------------


def idle(told: Told, folder: Path, tablets: int, rounds: int = 20) -> None:
    """What a contact takes that brings nothing, one after the other; and what it comes to for all tablets."""
    place = folder / "idle"
    place.mkdir()
    url, _ = prepared(place, tablets)
    process, port = served(serve_ours, url)
    try:
        lines = [connected(port) for _ in range(tablets)]
        having = [up_to_date(lines[at], at) for at in range(tablets)]
        took = []
        for _ in range(rounds):
            for at, line in enumerate(lines):
                began = time.perf_counter()
                answer = contact(line, having[at])
                took.append(time.perf_counter() - began)
                if any(answer[name] for name in ("jobs", "packets", "gone", "work", "more")):
                    raise SystemExit("an idle contact brought something")
    finally:
        process.terminate()
        process.join()
    cuts = statistics.quantiles(took, n=100)
    told.say(f"idle contact: p50 {cuts[49] * 1e3:.2f} ms, p95 {cuts[94] * 1e3:.2f} ms ({len(took)} of them)")
    share = statistics.mean(took) * tablets / CONTACT_EVERY_S
    told.at_most(f"{tablets} idle tablets, each every {CONTACT_EVERY_S} s", share, 0.1, "of one processor")


def up_to_date(line: http.client.HTTPConnection, tablet: int) -> dict[str, Any]:
    """What a tablet says that has everything."""
    said: dict[str, Any] = {
        "tablet": named(tablet), "bundle": the_bundle().hash, "said_seq": 0, "oldest": 0, "photos_waiting": 0,
        "waiting": {"count": 0, "from": 0}, "signed_in": "", "have": {}, "pictures": [], "work": {},
    }  # fmt: skip
    while True:
        told = contact(line, said)
        said["have"] |= {
            job: [one["hash"], one["packet"], one["texts_mark"], one["about_hash"]] for job, one in told["jobs"].items()
        }
        said["pictures"] += list(told["packets"])
        if not told["more"]:
            return said


def contact(line: http.client.HTTPConnection, said: dict[str, Any]) -> dict[str, Any]:
    headers = {"Content-Type": "application/json", "Authorization": f"Tablet {said['tablet']}.{SECRET}"}
    body = json.dumps({**said, "now_ms": int(time.time() * 1_000)}).encode()
    try:
        line.request("POST", "/sync/contact", body, headers)
        answer = line.getresponse()
    except ConnectionError:
        # Silent for so long that the office has hung up: as a browser does, once more over a new one.
        line.close()
        line.request("POST", "/sync/contact", body, headers)
        answer = line.getresponse()
    text = answer.read()
    if answer.status != 200:
        raise SystemExit(f"{answer.status}: {text[:300]!r}")
    found: dict[str, Any] = json.loads(text)
    return found


if __name__ == "__main__":
    raise SystemExit(main())
