"""How things stand on a sheet: what is open, stale, missing or waiting. Questions with an answer, changing nothing.

The rules ask these to rule, the pages to show why something cannot be done yet, so that both always agree.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

from app.domain.packet import Axle, Fastener, Gate, Line, Packet, Pass, PriceState, Step, Support
from app.domain.sheet import Aside, GateNow, Sheet, SupportNow, in_order

WHOLE_VEHICLE = frozenset({Support.ON_WHEELS, Support.ON_RAMP, Support.LIFT_FRAME})
PRICE_OPEN = frozenset({PriceState.NONE, PriceState.AGREED, PriceState.PUT_BACK})


def waits_for(sheet: Sheet, step: Step) -> Step | None:
    """The first step that has to be done before this one and is not."""
    steps = cast(Packet, sheet.packet).step_by_id
    return next((steps[key] for key in step.after if key in steps and sheet.step(key).done is None), None)


def next_step(sheet: Sheet, packet: Packet) -> Step | None:
    """The first open step that nothing has to come before; `None` when all are done."""
    left = [step for step in packet.steps if sheet.step(step.id).done is None]
    return next((step for step in left if waits_for(sheet, step) is None), left[0] if left else None)


def price_bars(sheet: Sheet, step: Step) -> Line | None:
    """The line whose price keeps this step shut: the customer has not agreed to it, or not to what it is now."""
    line = cast(Packet, sheet.packet).line_by_id.get(step.line)
    return None if line is None or line.price in PRICE_OPEN else line


def supported(now: SupportNow, axle: Axle, wanted: tuple[Support, ...]) -> bool:
    """Whether the vehicle is held in one of these states at this axle."""
    if now.state not in wanted:
        return False
    return now.state in WHOLE_VEHICLE or now.axle is Axle.BOTH or now.axle is axle


def asked_gates(sheet: Sheet, step: Step) -> tuple[Gate, ...]:
    """The gates of a step that are asked in the support state of now."""
    gates = cast(Packet, sheet.packet).gate_by_id
    return tuple(gates[key] for key in step.gates if gates[key].is_asked(sheet.support.state))


def gate_state(sheet: Sheet, gate_id: str, person: str | None, at_ms: int) -> str | None:
    """`None` when the gate stands open for this person now, else "shut", "person", "support" or "time".

    person None asks whether it stands open for whoever cleared it. Time runs from the oldest answer; a moment before
    that answer, as a clock set back would give, is no time at which the gate is open.
    """
    now = sheet.gates.get(gate_id)
    if now is None or now.cleared_at_ms is None:
        return "shut"
    gate = cast(Packet, sheet.packet).gate_by_id[gate_id]
    if now.handed_over or (person is not None and now.person != person):
        return "person"
    if gate.follows_support and now.support_revision != sheet.support.revision:
        return "support"
    return None if 0 <= at_ms - now.began_at_ms <= gate.stale_after_s * 1_000 else "time"


def answers_go_on(sheet: Sheet, gate: Gate, now: GateNow, person: str, at_ms: int) -> bool:
    """Whether the answers given so far go on counting for this person, or the next one begins again from nothing."""
    return (
        now.person == person
        and not now.handed_over
        and (not gate.follows_support or now.support_revision == sheet.support.revision)
        and 0 <= at_ms - now.began_at_ms <= gate.stale_after_s * 1_000
    )


def within(value: int, low: int | None, high: int | None) -> bool | None:
    """Whether a value lies in its window; `None` when nothing limits it."""
    if low is None and high is None:
        return None
    return (low is None or value >= low) and (high is None or value <= high)


def is_one_time(fastener: Fastener) -> bool:
    """Whether this part is new every time: by its procedure, or by the maker's figure."""
    return fastener.one_time or (fastener.figure is not None and fastener.figure.one_time)


def is_critical(fastener: Fastener) -> bool:
    """Whether a second person's own reading is wanted: by its procedure, or by the shop's mark on the figure."""
    return fastener.critical or (fastener.figure is not None and fastener.figure.critical)


def missing_parts(sheet: Sheet, step: Step, new_parts: tuple[str, ...] = ()) -> tuple[tuple[str, str], ...]:
    """What of a step is not yet recorded: (kind, words), in the order the card shows them."""
    now = sheet.step(step.id)
    return (
        *(("measure", one.ask) for one in step.measures if one.required and one.id not in now.readings),
        *((("test", step.trial.part),) if step.trial is not None and now.outcome is None else ()),
        *(("fastener", one.place) for one in step.fasteners if one.id not in now.signatures),
        *(("new_part", one.what) for one in step.one_time if one.id not in (*new_parts, *now.new_parts)),
    )


def readings_outside(sheet: Sheet, step_id: str) -> tuple[str, ...]:
    """Readings of this step that lay outside and have been neither repeated inside nor settled: what was typed.

    A step stays open on them even where an earlier reading fitted: what was read last is what holds.
    """
    return tuple(
        str(one.details.get("typed", ""))
        for _, one in in_order(sheet.asides)
        if one.step == step_id and one.reason == "reading_outside" and one.settled is None
    )


@dataclass(frozen=True, slots=True)
class OpenPoint:
    """Something that keeps the sheet from being handed back. kind: step, second_person, hold or aside."""

    kind: str
    step: str
    words: str


def open_points(sheet: Sheet) -> tuple[OpenPoint, ...]:
    """Everything that still stands between this sheet and its handback, in sheet order."""
    if sheet.packet is None:
        return (OpenPoint("step", "", ""),)
    points: list[OpenPoint] = []
    for step in sheet.packet.steps:
        now = sheet.step(step.id)
        if now.done is None:
            points.append(OpenPoint("step", step.id, step.title))
        points += [OpenPoint("second_person", step.id, words) for words in waits_for_second(sheet, step)]
    points += [OpenPoint("hold", hold.step, hold.reason) for _, hold in in_order(sheet.holds) if hold.lifted is None]
    points += [OpenPoint("aside", one.step, one.reason) for _, one in in_order(sheet.asides) if keeps_open(one)]
    return tuple(points)


def keeps_open(one: Aside) -> bool:
    """Whether this keeps the sheet from being handed back. A handback tried too early does not stand in its own way."""
    return one.settled is None and not (one.kind == "handed_back" and one.reason != "unknown_form")


def waits_for_second(sheet: Sheet, step: Step) -> tuple[str, ...]:
    """What of a step waits for a second person: places of critical fasteners signed, and the step's own look."""
    now = sheet.step(step.id)
    waiting = [
        one.place
        for one in step.fasteners
        if is_critical(one) and one.tighten is Pass.FINAL and one.id in now.signatures and one.id not in now.counters
    ]
    if step.countersign and now.done is not None and now.seen is None:
        waiting.append(step.title)
    return tuple(waiting)


def date_of(at_ms: int) -> str:
    """The UTC date of an instant, by whole-number arithmetic, so that both ends give the same.

    Source: the proleptic Gregorian calendar in 400-year eras beginning on 1 March; arithmetic ours, checked in tests.
    """
    days = at_ms // 86_400_000 + 719_468
    era, of_era = divmod(days, 146_097)
    year_of_era = (of_era - of_era // 1_460 + of_era // 36_524 - of_era // 146_096) // 365
    day_of_year = of_era - (365 * year_of_era + year_of_era // 4 - year_of_era // 100)
    shifted = (5 * day_of_year + 2) // 153
    day = day_of_year - (153 * shifted + 2) // 5 + 1
    month = shifted + 3 if shifted < 10 else shifted - 9
    year = year_of_era + era * 400 + (1 if month <= 2 else 0)
    return f"{year:04d}-{month:02d}-{day:02d}"
