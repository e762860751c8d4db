"""What one entry costs in the rules: `python -m tests.bench.rules`. Prints microseconds, checks nothing.

A sheet of 60 steps, 59 of them done with a measure, a torque and a gate, as a long job is near its end.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from dataclasses import replace

from app.domain import entry as e
from app.domain.canonical import canonical
from app.domain.packet import Support
from tests.builders import (
    ADA,
    BEGAN,
    ON_STANDS,
    STANDS_OPEN,
    Play,
    a_fastener,
    a_measure,
    a_packet,
    a_reading,
    a_step,
    an_entry,
    heard,
)

STEPS = 60
TIMES = 1_000


def a_long_job() -> Play:
    step = a_step(
        supports=ON_STANDS, gates=("stands:front",), measures=(a_measure(),), fasteners=(a_fastener(),),
        do="Do it so that it is done. " * 8, why="Because it matters. " * 4,
    )  # fmt: skip
    steps = [
        replace(step, id=f"l1.s{n:02d}", after=(f"l1.s{n - 1:02d}",) if n else ()) for n in range(STEPS)
    ]  # each after the one before
    play = Play(a_packet(*steps))
    play.holds_vehicle(Support.STANDS_FRAME)
    play.answers(STANDS_OPEN)
    for one in steps[:-1]:
        play.measures("3 mm", step=one.id)
        play.signs("110 N·m", step=one.id)
        play.finishes(one.id)
        play.now = BEGAN
        play.wait(seconds=10)
    return play


def microseconds(act: Callable[[], object]) -> str:
    taken = []
    for _ in range(TIMES):
        began = time.perf_counter_ns()
        act()
        taken.append((time.perf_counter_ns() - began) / 1_000)
    return f"p50 {statistics.median(taken):7.1f} µs   p95 {sorted(taken)[int(TIMES * 0.95)]:7.1f} µs"


def main() -> None:
    play = a_long_job()
    sheet, rules = play.sheet, play.rules
    last = f"l1.s{STEPS - 1:02d}"
    body = e.SignedOff(step=last, fastener="nut", readings=(a_reading("110 N·m"),), wrench="W1")
    one = heard(an_entry(body, basis=play.sees(last)), ADA, at=play.now)
    ruling = rules.decide(sheet, one)
    print(f"{sheet.entries} entries, state of {len(sheet.text.encode())} bytes, {ruling.reason or 'accepted'}")
    for name, act in (
        ("read the body", lambda: e.read_body(one.entry)),
        ("decide", lambda: rules.decide(sheet, one)),
        ("evolve", lambda: rules.evolve(sheet, one, ruling)),
        ("decide, evolve, text and hash", lambda: rules.evolve(sheet, one, rules.decide(sheet, one)).hash),
        ("the state's text from nothing kept", lambda: canonical(sheet.as_json())),
    ):
        print(f"{name:36s} {microseconds(act)}")


if __name__ == "__main__":
    main()
