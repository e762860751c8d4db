"""Entries per second through the HTTP exchange, beside the least a server can do, in the same run.

The least: a bare Starlette handler that reads the same bytes and does one SQLite insert in one transaction, with the
same durability (WAL, synchronous=FULL, BEGIN IMMEDIATE). Both are served by uvicorn in a process of their own and asked
by one client over one connection, one entry a request, in turns, so that whatever else the machine does hits both.

Run: `python -m tests.bench.entries` (`--rows 1000000` for the long ledger, `--entries 2000`).
Limits stated: at least 0.4 of the bare handler's rate; at 1,000,000 rows no more than 1.2 times slower than at 1,000.
"""

from __future__ import annotations

import argparse
import http.client
import json
import multiprocessing
import os
import socket
import sqlite3
import statistics
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from app.bootstrap import app_of, wire
from app.domain import entry as e
from app.domain.records import AxleFacts as Facts
from app.domain.records import Customer, Job, Person, Role, Tablet, Vehicle
from app.ids import new_id
from app.settings import Settings
from app.storage.migrate import upgrade
from app.use_cases.open_job import pin
from app.use_cases.tablet_credential import hash_of
from tests.builders import a_packet

SECRET, TABLET, PERSON = "bench-secret", "bench-tablet", "bench-person"
RATIO_AT_LEAST, SLOWER_AT_MOST = 0.4, 1.2


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--entries", type=int, default=2_000)
    parser.add_argument("--rows", type=int, default=1_000_000)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        measured = {rows: measure(Path(folder) / str(rows), rows, given.entries) for rows in (1_000, given.rows)}
    few, many = measured[1_000], measured[given.rows]
    print(f"ratio to the bare handler at 1,000 rows: {few['ratio']:.2f} (limit: at least {RATIO_AT_LEAST})")
    print(f"ratio to the bare handler at {given.rows:,} rows: {many['ratio']:.2f} (limit: at least {RATIO_AT_LEAST})")
    slower = many["p50"] / few["p50"]
    print(f"p50 at {given.rows:,} rows over p50 at 1,000: {slower:.2f} (limit: at most {SLOWER_AT_MOST})")


def measure(folder: Path, rows: int, entries: int) -> dict[str, float]:
    folder.mkdir()
    url, jobs, seq = prepared(folder, rows)
    ours, bare = served(serve_ours, url), served(serve_bare, str(folder / "bare.db"))
    try:
        times: dict[str, list[float]] = {"ours": [], "bare": []}
        connections = {"ours": connected(ours[1]), "bare": connected(bare[1])}
        for turn in range(entries + 200):
            body = json.dumps({"tablet": TABLET, "entries": [an_entry(jobs[turn % len(jobs)], seq + turn)]}).encode()
            for name in ("ours", "bare") if turn % 2 else ("bare", "ours"):
                took = asked(connections[name], body, "kept" if name == "ours" else "ok")
                if turn >= 200:
                    times[name].append(took)
    finally:
        for process, _ in (ours, bare):
            process.terminate()
            process.join()
    return told(rows, times)


def told(rows: int, times: dict[str, list[float]]) -> dict[str, float]:
    rates = {name: len(took) / sum(took) for name, took in times.items()}
    for name, took in times.items():
        cuts = statistics.quantiles(took, n=100)
        print(
            f"{rows:>9,} rows, {name}: {rates[name]:7.0f} entries/s, "
            f"p50 {cuts[49] * 1e3:.2f} ms, p95 {cuts[94] * 1e3:.2f} ms"
        )
    return {"ratio": rates["ours"] / rates["bare"], "p50": statistics.median(times["ours"])}


def asked(connection: http.client.HTTPConnection, body: bytes, expected: str) -> float:
    began = time.perf_counter()
    headers = {"Content-Type": "application/json", "Authorization": f"Tablet {TABLET}.{SECRET}"}
    connection.request("POST", "/sync/entries", body, headers)
    answer = connection.getresponse()
    text = answer.read()
    took = time.perf_counter() - began
    if answer.status != 200 or expected.encode() not in text or b'"kept":false' in text:
        raise SystemExit(f"{answer.status}: {text[:300]!r}")
    return took


def an_entry(job: str, seq: int) -> dict[str, Any]:
    """One answer at a gate: what a technician's tap sends."""
    body = e.GateAnswered(gate="stands:front", answers={"shaken": e.Answer(choice="still")})
    return e.entry_json(
        e.Entry(
            v=1, id=new_id(), tablet=TABLET, seq=seq, job=job, kind="gate_answered", body=e.body_json(body),
            person=PERSON, noted_at_ms=1_764_000_000_000, basis=e.Basis(support_revision=0),
        )
    )  # fmt: skip


def prepared(folder: Path, rows: int) -> tuple[str, list[str], int]:
    """A database with a tablet, a person, four open jobs and a ledger of this many rows."""
    url = f"sqlite:///{folder / 'ours.db'}"
    upgrade(url)
    office = wire(Settings(database_url=url)).office
    now = datetime.now(UTC)
    jobs = [new_id() for _ in range(4)]
    with office.store.writing() as unit:
        unit.people.add(Person(PERSON, "Bench", frozenset({Role.TECHNICIAN, Role.DESK}), "x"))
        unit.tablets.add(Tablet(TABLET, "Bench tablet", secret_hash=hash_of(SECRET), enrolled_at=now))
        unit.customers.add(Customer("c", "Customer", "", ""))
        unit.vehicles.add(
            Vehicle("v", "c", "BENCH", "", "Model", None, "", "", "", None, Facts("strut"), Facts("twist_beam"))
        )
        for number, job in enumerate(jobs):
            unit.jobs.add(Job(job, f"B-{number}", "v", "c", "x", None, now, PERSON, None, ()))
            pin(office, unit, PERSON, a_packet(job=job))
        unit.commit()
    fill(folder / "ours.db", rows, jobs[0])
    return url, jobs, 1


def fill(database: Path, rows: int, job: str) -> None:
    """Lengthen the ledger to this many rows by copying its last row's shape; chained loosely, for its length only."""
    with sqlite3.connect(database) as connection:
        connection.row_factory = sqlite3.Row
        entries, _ = connection.execute("SELECT entries, hash FROM ledger_heads").fetchone()
        pattern = dict(connection.execute('SELECT * FROM ledger ORDER BY "order" DESC LIMIT 1').fetchone())
        pattern["raw"] = json.dumps(an_entry("bench-past", 1))
        names = list(pattern)
        order = next(name for name in names if name in ("order", "order_number", "id"))
        marks = ", ".join("?" for _ in names)
        quoted = ", ".join(f'"{name}"' for name in names)

        def made() -> Any:
            for number in range(entries + 1, rows + 1):
                row = {**pattern, order: number, "entry_id": f"past-{number:012d}", "tablet": "past", "seq": number}
                row["job"] = f"past-{number // 60}"
                yield tuple(row[name] for name in names)

        connection.executemany(f"INSERT INTO ledger ({quoted}) VALUES ({marks})", made())
        connection.execute("UPDATE ledger_heads SET entries = ?", (max(rows, entries),))


def serve_ours(url: str, port: int) -> None:
    import uvicorn

    wired = wire(Settings(database_url=url))
    uvicorn.run(app_of(wired), host="127.0.0.1", port=port, log_level="error", access_log=False)


def serve_bare(path: str, port: int) -> None:
    """The least: the bytes into one row of one table, durably, and an answer."""
    import uvicorn
    from starlette.applications import Starlette
    from starlette.requests import Request
    from starlette.responses import JSONResponse
    from starlette.routing import Route

    connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    for words in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
        connection.execute(f"PRAGMA {words}")
    connection.execute("CREATE TABLE rows (id INTEGER PRIMARY KEY, raw TEXT NOT NULL) STRICT")

    async def insert(request: Request) -> JSONResponse:
        raw = (await request.body()).decode()
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("INSERT INTO rows (raw) VALUES (?)", (raw,))
        connection.execute("COMMIT")
        return JSONResponse({"ok": True})

    app = Starlette(routes=[Route("/sync/entries", insert, methods=["POST"])])
    uvicorn.run(app, host="127.0.0.1", port=port, log_level="error", access_log=False)


def served(target: Any, where: str) -> tuple[Any, int]:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    process = multiprocessing.get_context("spawn").Process(target=target, args=(where, port), daemon=True)
    process.start()
    for _ in range(600):
        try:
            socket.create_connection(("127.0.0.1", port), 0.2).close()
            return process, port
        except OSError:
            time.sleep(0.1)
    raise SystemExit(f"the server on port {port} did not start (process {os.getpid()})")


def connected(port: int) -> http.client.HTTPConnection:
    connection = http.client.HTTPConnection("127.0.0.1", port)
    connection.connect()
    connection.sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    return connection


if __name__ == "__main__":
    main()
