"""Search over many jobs, beside the bare index query in the same run.

    python -m tests.bench.search [jobs]

Bare: the index alone asked by SQLite for the same words, as many row numbers as a page needs. Search: what the page
does, from what was typed to jobs, vehicles and customers grouped by vehicle. Both are asked in turn, so that a busy
machine slows both alike. Three jobs to a vehicle, complaints of eight words drawn as words are (few very often). What
was typed is a plate, a part of a VIN, a name, common and rare words, a job's number, one letter, and what nobody has.
Limit: 3 times the bare query, over all of them together.
"""

from __future__ import annotations

import random
import sqlite3
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter

from app.bootstrap import wire
from app.domain.records import Customer, Job, Vehicle
from app.domain.search_words import job_words, vehicle_words
from app.settings import Settings
from app.storage import mapping
from app.storage.engine import make_engine
from app.storage.migrate import upgrade
from app.storage.sql import SqlStore
from app.use_cases.office import Office
from app.use_cases.search import FOUND_LIMIT, search, ways
from tests.offices import VEHICLE

LIMIT, TIMES = 3.0, 41
NOW = datetime(2026, 6, 8, 8, tzinfo=UTC)
SYLLABLES = ("ba", "ke", "lo", "mi", "ru", "sta", "dre", "fo", "gal", "hin", "jor", "pel", "qua", "ven", "wyr", "zet")
LETTERS = "ABCDEFGHJKLMNPRSTUVWXYZ"


@dataclass(frozen=True)
class Asked:
    what: str
    typed: str


def invented(chance: random.Random, syllables: int) -> str:
    return "".join(chance.choice(SYLLABLES) for _ in range(syllables))


class Town:
    """An invented town's vehicles and their jobs, the same in every run."""

    def __init__(self, jobs: int) -> None:
        self.chance = random.Random(4711)
        self.words = list(dict.fromkeys(invented(self.chance, 1 + number % 3 + 1) for number in range(4_000)))
        self.weights = [1 / (rank + 2) for rank in range(len(self.words))]
        self.jobs, self.vehicles = jobs, max(jobs // 3, 1)

    def customer(self, number: int) -> Customer:
        name = f"{invented(self.chance, 2)} {invented(self.chance, 3)}".title()
        return Customer(f"c-{number}", name, f"{name.replace(' ', '.').lower()}@home.example", f"+44 1632 {number:06}")

    def vehicle(self, number: int) -> Vehicle:
        plate = "".join(self.chance.choices(LETTERS, k=2)) + f" {number:05} " + self.chance.choice(LETTERS)
        vin = "".join(self.chance.choices(LETTERS, k=8)) + f"{number:09}"
        return replace(VEHICLE, id=f"v-{number}", customer=f"c-{number}", plate=plate, vin=vin, model="Tern 2.0")

    def job(self, number: int) -> Job:
        vehicle = number % self.vehicles
        complaint = " ".join(self.chance.choices(self.words, self.weights, k=8))
        opened = NOW - timedelta(minutes=self.jobs - number)
        return Job(
            f"j-{number}", f"{20 + number * 7 // self.jobs}-{number:06}", f"v-{vehicle}", f"c-{vehicle}", complaint,
            None, opened, "p", None, (),
        )  # fmt: skip

    def asked(self, vehicle: Vehicle, customer: Customer, job: Job) -> list[Asked]:
        first, last = customer.name.split()
        return [
            Asked("a plate, respaced", vehicle.plate.replace(" ", "-").lower()),
            Asked("a VIN's last eight", vehicle.vin[-8:]),
            Asked("a name and a word", f"{last} {first[:3]} {job.complaint.split()[0]}"),
            Asked("a job's number", job.number),
            Asked("the commonest word", self.words[0]),
            Asked("two common words", f"{self.words[1]} {self.words[3]}"),
            Asked("three words", " ".join(job.complaint.split()[:3])),
            Asked("a rare word", self.words[-1]),
            Asked("one letter", "q"),
            Asked("what nobody has", "xylophonic qqq"),
        ]


def fill(path: Path, town: Town) -> list[Asked]:
    """Everything is written by SQLite alone, the words by the product's own rules."""
    customers = [town.customer(number) for number in range(town.vehicles)]
    vehicles = [town.vehicle(number) for number in range(town.vehicles)]
    made: list[Job] = []
    with sqlite3.connect(path) as plain:
        plain.execute("PRAGMA foreign_keys=off")
        insert_all(plain, mapping.CUSTOMERS, customers)
        insert_all(plain, mapping.VEHICLES, vehicles)
        text = "INSERT INTO search_texts (id, vehicle, job, words, noted) VALUES (?, ?, ?, ?, '')"
        both = zip(vehicles, customers, strict=True)
        plain.executemany(text, ((f"vehicle {one.id}", one.id, "", vehicle_words(one, owner)) for one, owner in both))
        for some in batched(town.jobs):
            made = [town.job(number) for number in some]
            insert_all(plain, mapping.JOBS, made)
            plain.executemany(text, (_row(job, vehicles, customers) for job in made))
        plain.execute("INSERT INTO search_index (search_index) VALUES ('optimize')")
        plain.execute("ANALYZE")
    # Whose the last job is, so that a name and a word of the complaint belong together.
    middle = int(made[-1].vehicle[2:])
    return town.asked(vehicles[middle], customers[middle], made[-1])


def batched(count: int, size: int = 5_000) -> Iterator[range]:
    return (range(first, min(first + size, count)) for first in range(0, count, size))


def _row(job: Job, vehicles: list[Vehicle], customers: list[Customer]) -> tuple[str, ...]:
    number = int(job.vehicle[2:])
    words = job_words(job, vehicles[number], customers[number], ())
    return f"job {job.id}", job.vehicle, job.id, words


def insert_all(plain: sqlite3.Connection, shape: mapping.Shape, records: list) -> None:  # type: ignore[type-arg]
    names = [column.name for column in shape.table.columns if column.name != "position"]
    marks = ", ".join("?" for _ in names)
    statement = f"INSERT INTO {shape.table.name} ({', '.join(names)}) VALUES ({marks})"
    plain.executemany(statement, ([_plain(shape.to_values(one)[name]) for name in names] for one in records))


def _plain(value: object) -> object:
    if isinstance(value, datetime):
        return int(value.timestamp() * 1_000_000)
    return int(value) if isinstance(value, bool) else value


def timed(ask: Callable[[], int], bare: Callable[[], int]) -> tuple[float, float]:
    """Milliseconds of both, the middle of many, asked in turn."""
    times = []
    for _ in range(TIMES):
        begun = perf_counter()
        ask()
        between = perf_counter()
        bare()
        times.append((between - begun, perf_counter() - between))
    asks, bares = zip(*times, strict=True)
    return median(asks) * 1_000, median(bares) * 1_000


def main() -> int:
    most = int(sys.argv[1]) if len(sys.argv) > 1 else 200_000
    with TemporaryDirectory() as folder:
        path = Path(folder) / "search.db"
        upgrade(f"sqlite:///{path}")
        begun = perf_counter()
        asked = fill(path, Town(most))
        size = path.stat().st_size
        print(f"{most:,} jobs filled in {perf_counter() - begun:.0f} s; the database has {size / 1e6:.0f} MB")
        store = SqlStore(make_engine(f"sqlite:///{path}"))
        office = wire(Settings(_env_file=None), store, now=lambda: NOW).office  # type: ignore[call-arg]
        plain = sqlite3.connect(path)
        ratio = compared(office, plain, asked)
        plain.close()
        store.engine.dispose()
    print(f"limit {LIMIT:.1f} at {most:,}: {'kept' if ratio < LIMIT else 'not kept'}")
    return 0 if ratio < LIMIT else 1


def compared(office: Office, plain: sqlite3.Connection, asked: list[Asked]) -> float:
    question = "SELECT rowid FROM search_index WHERE search_index MATCH ? ORDER BY rowid DESC LIMIT ?"
    totals = [0.0, 0.0]
    for one in asked:
        matches = [" ".join(f'"{word}"*' for word in way) for way in ways(one.typed)]
        match = next((each for each in matches if plain.execute(question, (each, 1)).fetchall()), matches[-1])

        def bare(match: str = match) -> int:
            return len(plain.execute(question, (match, FOUND_LIMIT + 1)).fetchall())

        def ask(one: Asked = one) -> int:
            found = search(office, one.typed)
            return sum(max(len(each.jobs), 1) for each in found.vehicles)

        there = bare()
        if bool(ask()) != bool(there):
            raise SystemExit(f"Search and the bare query differ on {one.typed!r}.")
        took, least = timed(ask, bare)
        totals = [totals[0] + took, totals[1] + least]
        print(
            f"{one.what:<20} {there:>3} found: search {took:7.2f} ms, bare {least:7.2f} ms, "
            f"beyond it {took - least:5.2f} ms, ratio {took / least:6.1f}"
        )
    print(f"{'all together':<20}            search {totals[0]:7.2f} ms, bare {totals[1]:7.2f} ms, "
          f"ratio {totals[0] / totals[1]:6.2f}")  # fmt: skip
    return totals[0] / totals[1]


if __name__ == "__main__":
    raise SystemExit(main())
