"""`python -m tests.bench.spec_import`: 50,000 figures out of a file: looked at, imported, compared, written out.

On SQLite on disk, the office wired as the product wires it. Prints the wall time of each part and the process's highest
resident memory (as Linux tells it), beside what the same rows cost when SQLite alone is handed them: the bare insert.
The exit code says whether looking and importing kept to their limit. `--lines` for fewer.
"""

from __future__ import annotations

import argparse
import resource
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TypeVar

from app.bootstrap import wire
from app.domain.records import Person, Role, Shop
from app.domain.spec_places import spec_places
from app.ports import Unit
from app.settings import Settings
from app.storage import migrate
from app.storage.engine import BUSY_MS
from app.use_cases.figure_csv import COLUMNS, file_of
from app.use_cases.import_figures import Outcome, export_figures, import_figures, look_at_file
from app.use_cases.office import SHOP_ID, Office

T = TypeVar("T")
LIMIT_S = 60  # for looking at the file, and again for importing it; house's aim
LIMIT_MB = 600


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lines", type=int, default=50_000)
    count = parser.parse_args().lines
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/bench.db"
        migrate.upgrade(url)
        office = wire(Settings(_env_file=None, database_url=url)).office  # type: ignore[call-arg]
        _furnish(office)
        lock = Lock(office)
        first, second = (a_file(office, count, note) for note in ("first", "second"))
        print(f"{count} lines, {len(first) / 1024**2:.1f} MB; before anything {_peak_mb():.0f} MB")
        looked, look_s = timed("looked at", lambda: look_at_file(office, "ida", "book.csv", first))
        assert looked.report.counts == {Outcome.NEW: count}, looked.report.counts
        _, import_s = timed("imported", lambda: import_figures(office, "ida", looked.row.id))
        again, _ = timed("looked at by the second person", lambda: look_at_file(office, "tom", "two.csv", second))
        done, second_s = timed("compared line by line", lambda: import_figures(office, "tom", again.row.id))
        assert done.report.counts == {Outcome.AGREES: count}, done.report.counts
        out, _ = timed("written out", lambda: export_figures(office, "tom", frozenset({Role.DESK})))
        assert out.count("\r\n") == count + 1
        bare_s = _bare(Path(folder), count)
    print(f"the write lock was held for {lock.longest_s:.1f} s at most (others wait {BUSY_MS / 1000:.0f} s)")
    print(f"imported in {import_s / bare_s:.0f} times a bare insert of as many rows ({bare_s:.2f} s)")
    print(f"limits: {LIMIT_S} s for each step, {LIMIT_MB} MB, and nobody else kept waiting in vain")
    kept = max(look_s, import_s, second_s) < LIMIT_S and _peak_mb() < LIMIT_MB and lock.longest_s < BUSY_MS / 1000
    return 0 if kept else 1


class Lock:
    """How long a writing unit was open at most: as long, nobody else could record anything."""

    def __init__(self, office: Office) -> None:
        self.longest_s = 0.0
        self._writing = office.store.writing
        office.store.writing = self.writing  # type: ignore[method-assign]

    @contextmanager
    def writing(self) -> Iterator[Unit]:
        with self._writing() as unit:
            began = time.perf_counter()
            yield unit
        self.longest_s = max(self.longest_s, time.perf_counter() - began)


def a_file(office: Office, count: int, document: str) -> bytes:
    """Kinds of vehicle without end, each with a torque for every joint of both axles."""
    joints = [one.key for one in spec_places(office.book).values() if one.kind == "fastener"]
    rows = []
    for number in range(count):
        model, place = divmod(number, 2 * len(joints))
        rows.append(
            {
                "model": f"Model {model}", "axle": ("front", "rear")[place % 2], "place": joints[place // 2],
                "shape": "single", "unit": "N·m", "target": str(70 + number % 20), "thread": "M12",
                "strength": "8.8", "document": f"Manual, copy of the {document}", "page": str(number),
                "document_date": "2014",
            }
        )  # fmt: skip
    return file_of(COLUMNS, rows).encode()


def timed(what: str, act: Callable[[], T]) -> tuple[T, float]:
    began = time.perf_counter()
    found = act()
    took = time.perf_counter() - began
    print(f"{what}: {took:.1f} s, highest so far {_peak_mb():.0f} MB", flush=True)
    return found, took


def _furnish(office: Office) -> None:
    with office.store.writing() as unit:
        unit.shops.add(Shop(SHOP_ID, "Bench", "", "", ""))
        for key in ("ida", "tom"):
            unit.people.add(Person(key, key.title(), frozenset({Role.DESK}), ""))
        unit.commit()


def _bare(folder: Path, count: int) -> float:
    """The same number of rows of the same width, by SQLite's own driver in one transaction."""
    connection = sqlite3.connect(folder / "bare.db")
    columns = ", ".join(f"c{number} TEXT" for number in range(31))
    connection.execute(f"CREATE TABLE figures (id TEXT PRIMARY KEY, {columns})")
    now = datetime.now(UTC).isoformat()
    began = time.perf_counter()
    marks = ", ".join("?" * 32)
    connection.executemany(
        f"INSERT INTO figures VALUES ({marks})", ((f"{number:032d}", *[now[:12]] * 31) for number in range(count))
    )
    connection.commit()
    return time.perf_counter() - began


def _peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    sys.exit(main())
