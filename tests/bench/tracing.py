"""A wrench's recall over many sign-offs, beside the bare indexed query in the same run.

    python -m tests.bench.tracing [sign-offs]

Bare: the rows of one wrench since a day, by SQLite alone, on the same index. Recall: those rows, what each really was
with the wrench as found, whose vehicles and customers they are, and which have to be called. 50 wrenches, 20 sign-offs
a job with two of them, and one wrench's last tenth of the time is asked for. Limit: 3 times the bare query, both asked
in turn; how both grow is printed.
"""

from __future__ import annotations

import random
import sqlite3
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter

from app.bootstrap import wire
from app.domain.records import Calibration, CalibrationPoint, Customer, Job, Person, Role, Tool, ToolKind
from app.settings import Settings
from app.storage.engine import make_engine
from app.storage.migrate import upgrade
from app.storage.sql import SqlStore
from app.use_cases.office import Office
from app.use_cases.trace_uses import recall_wrench
from tests.offices import VEHICLE

WRENCHES, PER_JOB, LIMIT, TIMES = 50, 20, 3.0, 41
NOW = datetime(2026, 6, 8, 8, tzinfo=UTC)
FIRST = NOW - timedelta(days=1_000)
GOOD = (NOW - timedelta(days=100)).date()


def rows(count: int) -> Iterator[tuple[object, ...]]:
    chance = random.Random(6789)
    step_ms = int((NOW - FIRST).total_seconds() * 1_000) // count
    at = int(FIRST.timestamp() * 1_000)
    in_hand = (0, 0)
    for order in range(1, count + 1):
        if order % PER_JOB == 1:
            in_hand = (chance.randrange(WRENCHES), chance.randrange(WRENCHES))
        torque = chance.choice((45_000, 70_000, 90_000, 110_000, 120_000))
        read = torque + chance.randrange(-3_000, 3_001)
        yield (
            *(order, 0, "signed_off", f"job-{(order - 1) // PER_JOB}", f"l1.step-{order % PER_JOB}", "nut", "Stud nut"),
            *(f"W{chance.choice(in_hand)}", "Ida", at + order * step_ms, read, f"{read / 1_000:g} N·m", read),
            *(torque * 96 // 100, torque * 104 // 100, f"figure-{torque}", None),
        )


def fill(office: Office, path: Path, count: int) -> None:
    point = CalibrationPoint(106_000, "106 N·m", 100_000, "100 N·m", 60_000)
    jobs = count // PER_JOB + 1
    with office.store.writing() as unit:
        unit.people.add(Person("p", "Fay", frozenset({Role.FOREMAN}), ""))
        unit.tools.add(
            Tool("t", "W7", ToolKind.TORQUE_WRENCH, "Click wrench", "N·m", 20_000, 200_000, checked_on=GOOD)
        )  # fmt: skip
        unit.calibrations.add(
            Calibration("c", "t", date(2026, 6, 8), "", "", (point,), 40_000, False, False, None, "", "", "p", NOW)
        )  # fmt: skip
        for number in range(200):
            unit.customers.add(Customer(f"c-{number}", f"Customer {number}", "", "+00 1"))
        for number in range(1_000):
            plate = {"id": f"v-{number}", "plate": f"P {number}", "customer": f"c-{number % 200}"}
            unit.vehicles.add(replace(VEHICLE, **plate))
        unit.commit()
    job = Job("job-0", "0", "v-0", "c-0", "Clunks", None, FIRST, "p", None, ())
    with office.store.writing() as unit:
        for number in range(jobs):
            vehicle = number % 1_000
            about = {"id": f"job-{number}", "number": f"n-{number}", "vehicle": f"v-{vehicle}"}
            unit.jobs.add(replace(job, customer=f"c-{vehicle % 200}", **about))
        unit.commit()
    with sqlite3.connect(path) as plain:
        plain.executemany(f"INSERT INTO uses VALUES ({','.join('?' * 17)})", rows(count))
        plain.execute("ANALYZE")


def timed(recall: Callable[[], int], bare: Callable[[], int]) -> tuple[float, float, float]:
    """Milliseconds of both, and the middle of their ratios: asked in turn, so that a busy machine slows both alike."""
    times = []
    for _ in range(TIMES):
        begun = perf_counter()
        recall()
        between = perf_counter()
        bare()
        times.append((between - begun, perf_counter() - between))
    recalls, bares = zip(*times, strict=True)
    return median(recalls) * 1_000, median(bares) * 1_000, median(one / other for one, other in times)


def measure(count: int) -> tuple[float, float, float, int]:
    """Milliseconds of the recall and of the bare query, their ratio, and how many readings both found."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "tracing.db"
        address = f"sqlite:///{path}"
        upgrade(address)
        store = SqlStore(make_engine(address))
        office = wire(Settings(_env_file=None), store, now=lambda: NOW).office  # type: ignore[call-arg]
        fill(office, path, count)
        since = int(datetime(GOOD.year, GOOD.month, GOOD.day, tzinfo=UTC).timestamp() * 1_000)
        plain = sqlite3.connect(path)
        query = 'SELECT * FROM uses WHERE tool = ? AND heard_at_ms >= ? ORDER BY "order"'

        def bare() -> int:
            return len(plain.execute(query, ("W7", since)).fetchall())

        found, traced = bare(), _recalled(office)
        if traced != found:
            raise SystemExit(f"The recall found {traced} readings, the bare query {found}.")
        measured = timed(lambda: _recalled(office), bare)
        plain.close()
        store.engine.dispose()
    return (*measured, found)


def _recalled(office: Office) -> int:
    recall = recall_wrench(office, "c")
    if recall.traced and not recall.by_vehicle:
        raise SystemExit("No vehicle was found for a wrench six percent out.")
    return len(recall.traced)


def main() -> int:
    most = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    ratios = []
    for count in (10_000, most):
        recall, bare, ratio, found = measure(count)
        ratios.append(ratio)
        print(
            f"{count:>9,} sign-offs, {found:>6,} traced: recall {recall:8.2f} ms, bare query {bare:8.2f} ms, "
            f"ratio {ratio:.2f}, {recall * 1_000 / max(found, 1):.1f} µs a reading"
        )
    print(f"limit {LIMIT:.1f} at {most:,}: {'kept' if ratios[-1] < LIMIT else 'not kept'}")
    return 0 if ratios[-1] < LIMIT else 1


if __name__ == "__main__":
    raise SystemExit(main())
