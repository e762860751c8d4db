"""Hypothesis strategies for jobs no book would compile, and for what might be done to them.

The packets use every part that a rule looks at, with few names, so that entries often hit; among the names are such
that a script could trip over ("constructor", "__proto__", "10" beside "9").
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from hypothesis import strategies as st

from app.domain import entry as e
from app.domain.entry import Kind, body_json
from app.domain.packet import (
    Axle,
    Check,
    CheckKind,
    Choice,
    Fastener,
    Figure,
    Gate,
    OneTime,
    Packet,
    Pass,
    Signal,
    Stage,
    Step,
    Support,
    Trial,
    Verdict,
    Wrench,
)
from tests.builders import EVERY_SUPPORT, a_measure, a_packet, a_step
from tests.made_up import JSON_VALUES, bent_bodies

STEPS = ("constructor", "__proto__", "10", "9")
GATES = ("toString", "g2")
NAMES = ("nut", "__proto__", "7")
CHECKS = ("valueOf", "c2", "c3")
TAGS = ("W1", "W2", "hasOwnProperty")
PARTS = ("pin", "\uffee", "\U0001f527")

FEW = {"max_size": 2, "unique": True}
SUPPORTS = st.one_of(st.just(EVERY_SUPPORT), st.lists(st.sampled_from(Support), min_size=1, unique=True).map(tuple))
AXLES = st.sampled_from(Axle)
LIMITS = st.sampled_from([None, 0, 1_000, 2_000])
MARKS = st.sampled_from([0, 85_000, 90_000, 100_000, 110_000, 2**53 - 1])


def some(values: tuple[str, ...], **size: Any) -> st.SearchStrategy[list[str]]:
    return st.lists(st.sampled_from(values), **{**FEW, **size})


CHOICES = (Choice("yes", "Yes", True), Choice("no", "No", False), Choice("late", "Due", True, 1_772_439_000_000))
STAGES = st.one_of(
    st.builds(Stage, low_mnm=st.sampled_from([None, 0, 90_000]), target_mnm=MARKS, high_mnm=MARKS),
    st.builds(Stage, low_mdeg=st.sampled_from([None, 0, 85_000]), target_mdeg=MARKS, high_mdeg=MARKS),
)
FIGURES = st.builds(
    Figure,
    id=st.just("f"),
    text=st.just("110 N·m"),
    unit=st.just("N·m"),
    stages=st.lists(STAGES, min_size=1, max_size=2).map(tuple) | st.just(()),
    source=st.just("Made up"),
    verified=st.sampled_from([True, True, False]),
    one_time=st.booleans(),
    critical=st.booleans(),
)
GOOD_FIGURE = Figure(
    id="f", text="100 N·m", unit="N·m", source="Made up", verified=True,
    stages=(Stage(low_mnm=90_000, target_mnm=100_000, high_mnm=120_000),),
)  # fmt: skip


@st.composite
def fasteners(draw: st.DrawFn) -> tuple[Fastener, ...]:
    return tuple(
        Fastener(
            id=name,
            place=f"Place of {name}",
            tighten=draw(st.sampled_from([Pass.FINAL, Pass.FINAL, Pass.SNUG])),
            load_states=draw(SUPPORTS),
            figure_key="k",
            one_time=draw(st.booleans()),
            critical=draw(st.booleans()),
            figure=draw(st.one_of(st.just(GOOD_FIGURE), FIGURES, st.none())),
        )
        for name in draw(some(NAMES))
    )


@st.composite
def gates(draw: st.DrawFn, gate_id: str) -> Gate:
    checks = [
        Check(
            id=name,
            kind=draw(st.sampled_from(CheckKind)),
            ask="Well?",
            otherwise="Stop.",
            choices=CHOICES,
            dimension="length",
            unit=draw(st.sampled_from(["mm", "in", ""])),
            at_least=draw(LIMITS),
            at_most=draw(st.sampled_from([None, None, 1_500])),
            halve_unless=draw(st.sampled_from([None, ("valueOf", "yes"), ("c9", "yes")])),
            needs_input=draw(st.sampled_from(["", "", "mass"])),
        )
        for name in draw(some(CHECKS, min_size=1))
    ]
    return Gate(
        id=gate_id, key=gate_id, title=f"Gate {gate_id}", signal=Signal.DANGER, symbol="crush", intro="",
        checks=tuple(checks), stale_after_s=draw(st.sampled_from([1, 60, 3_600, 2**53 - 1])),
        follows_support=draw(st.booleans()), supports=draw(st.one_of(st.just(()), SUPPORTS)),
    )  # fmt: skip


@st.composite
def steps(draw: st.DrawFn, step_id: str, earlier: tuple[str, ...], gate_ids: tuple[str, ...]) -> Step:
    return a_step(
        step_id,
        axle=draw(AXLES),
        supports=draw(SUPPORTS),
        after=tuple(draw(some(earlier))) if earlier else (),
        gates=tuple(draw(some(gate_ids))) if gate_ids else (),
        measures=tuple(
            a_measure(name, must=draw(st.booleans()), required=draw(st.booleans()), low=draw(LIMITS), high=draw(LIMITS))
            for name in draw(some(NAMES))
        ),
        fasteners=draw(fasteners()),
        one_time=tuple(OneTime(part, f"Part {part}") for part in draw(some(PARTS))),
        trial=draw(st.sampled_from([None, None, Trial("t", "part", CHOICES)])),
        countersign=draw(st.booleans()),
        revision=draw(st.integers(1, 3)),
    )


WRENCHES = st.builds(
    Wrench,
    tag=st.just(""),
    name=st.just("Wrench"),
    unit=st.sampled_from(["N·m", ""]),
    low_mnm=st.sampled_from([0, 40_000]),
    high_mnm=st.sampled_from([105_000, 200_000, 2**53 - 1]),
    due_on=st.sampled_from(["2026-12-31", "2026-03-02", "2026-03-01", ""]),
    length_um=st.sampled_from([None, 0, 1, 400_000]),
    fault=st.sampled_from(["", "", "dropped"]),
    due_end_ms=st.sampled_from([None, None, 1_772_439_000_000]),
)
GOOD_WRENCH = Wrench("W1", "Wrench", "N·m", 40_000, 200_000, "2026-12-31", 400_000)


@st.composite
def odd_packets(draw: st.DrawFn) -> Packet:
    gate_ids = tuple(draw(some(GATES)))
    ids = tuple(draw(some(STEPS, min_size=1, max_size=3)))
    tags = draw(some(TAGS[1:]))
    made = [draw(WRENCHES) for _ in tags]
    return a_packet(
        *(draw(steps(step_id, ids[:at], gate_ids)) for at, step_id in enumerate(ids)),
        gates=[draw(gates(gate_id)) for gate_id in gate_ids],
        wrenches=[GOOD_WRENCH, *(replace(one, tag=tag) for one, tag in zip(made, tags, strict=True))],
    )


# --- What is done ----------------------------------------------------------------------------------------------------

STEP = st.sampled_from(STEPS)
NAME = st.sampled_from(NAMES)
WORDS = st.sampled_from(["", " ", "Because", "\x85", "\ufeff", "漢\U0001f527"])
READINGS = st.builds(
    e.Reading,
    value=st.sampled_from([0, -1, 1_000, 90_000, 100_000, 110_000, 115_500, 2**53 - 1]),
    text=st.sampled_from(["", "100", " 100", "\x1f"]),
    unit=st.sampled_from(["N·m", "N·m", "lbf·ft", "°"]),
)
EXTENSIONS = st.one_of(
    st.none(),
    st.builds(
        e.Extension,
        length_um=st.sampled_from([0, 1, 40_000, 400_000, 2_000_000, 2_000_001]),
        angle_deg=st.sampled_from([0, 45, 90, 91, 180, 181, -1]),
    ),
)
SIGNED: dict[str, Any] = {
    "step": STEP,
    "readings": st.one_of(st.just((e.Reading(100_000, "100", "N·m"),)), st.lists(READINGS, max_size=2).map(tuple)),
    "wrench": st.sampled_from([*TAGS, "W1", "W1", ""]),
    "extension": st.one_of(st.none(), EXTENSIONS),
}
ANSWERS = st.builds(
    e.Answer,
    choice=st.sampled_from(["yes", "yes", "no", "late", "constructor"]),
    ready=st.sampled_from([True, True, False, None]),
    value=st.sampled_from([None, 0, 999, 1_000, 1_500, 2_001, 4_001, -1]),
)
FITTING: dict[Kind, st.SearchStrategy[Any]] = {
    Kind.GATE_ANSWERED: st.builds(
        e.GateAnswered,
        gate=st.sampled_from(GATES),
        answers=st.dictionaries(st.sampled_from(CHECKS), ANSWERS, min_size=1, max_size=3),
    ),
    Kind.READING_TAKEN: st.builds(e.ReadingTaken, step=STEP, measure=NAME, reading=READINGS),
    Kind.TEST_RECORDED: st.builds(
        e.TestRecorded, step=STEP, choice=st.sampled_from(["yes", "no", "x"]), verdict=st.sampled_from(Verdict),
        reason=WORDS,
    ),
    Kind.SIGNED_OFF: st.builds(e.SignedOff, fastener=NAME, new_part=st.booleans(), **SIGNED),
    Kind.COUNTERSIGNED: st.builds(e.Countersigned, fastener=st.one_of(st.just(""), NAME), seen=WORDS, **SIGNED),
    Kind.STEP_DONE: st.builds(
        e.StepDone, step=STEP, new_parts=st.one_of(st.just(PARTS), some((*PARTS, "else")).map(tuple))
    ),
    Kind.STEP_REOPENED: st.builds(e.StepReopened, step=STEP, reason=WORDS),
    Kind.SUPPORT_CHANGED: st.builds(e.SupportChanged, state=st.sampled_from(Support), axle=AXLES, bears=WORDS),
    Kind.HOLD_PLACED: st.builds(e.HoldPlaced, reason=WORDS, step=st.one_of(st.just(""), STEP)),
    Kind.HANDED_OVER: st.builds(e.HandedOver, to=WORDS, to_name=WORDS, note=WORDS),
    Kind.NOTE_ADDED: st.builds(e.NoteAdded, text=WORDS, step=st.one_of(st.just(""), STEP)),
    Kind.PHOTO_ADDED: st.builds(e.PhotoAdded, sha256=st.just("0" * 64), name=WORDS, step=st.one_of(st.just(""), STEP)),
    Kind.HANDED_BACK: st.builds(e.HandedBack, note=WORDS),
}  # fmt: skip
# Work that goes on comes more often than what ends or undoes it.
USUAL = (
    *[Kind.GATE_ANSWERED, Kind.SIGNED_OFF, Kind.STEP_DONE] * 3,
    *[Kind.READING_TAKEN, Kind.TEST_RECORDED, Kind.COUNTERSIGNED] * 2,
    *FITTING,
)


@st.composite
def some_deed(draw: st.DrawFn, holds: list[str], asides: list[str]) -> tuple[str, dict[str, Any]]:
    """A kind and its body; holds and asides are the ids of those there are."""
    choices: list[str] = ["usual"] * 12 + ["bent"] + (["lift"] if holds else []) + (["settle"] * 2 if asides else [])
    match draw(st.sampled_from(choices)):
        case "lift":
            body: Any = e.HoldLifted(hold=draw(st.sampled_from([*holds, "x"])), reason=draw(WORDS))
            return Kind.HOLD_LIFTED, body_json(body)
        case "settle":
            outcome = draw(st.sampled_from(["do_again", "keep_as_note", "forget"]))
            body = e.Settled(aside=draw(st.sampled_from([*asides, "x"])), outcome=outcome, reason=draw(WORDS))
            return Kind.SETTLED, body_json(body)
        case "bent":
            kind = draw(st.sampled_from([kind for kind in Kind if kind is not Kind.PACKET_PINNED]))
            return kind, draw(bent_bodies(kind, JSON_VALUES))
        case _:
            kind = draw(st.sampled_from(USUAL))
            return kind, body_json(draw(FITTING[kind]))


@st.composite
def aimed(draw: st.DrawFn, body: dict[str, Any], packet: Packet) -> dict[str, Any]:
    """A body that mostly names what is there: a step of the packet, and a fastener or measure of that step."""
    aim = dict(body)
    if draw(st.integers(0, 9)) == 0:
        return aim
    if aim.get("step") in STEPS:
        step = draw(st.sampled_from(packet.steps))
        aim["step"] = step.id
        for key, parts in (("fastener", step.fasteners), ("measure", step.measures)):
            if aim.get(key) in NAMES and parts:
                aim[key] = draw(st.sampled_from(parts)).id
    if aim.get("gate") in GATES and packet.gates:
        gate = draw(st.sampled_from(packet.gates))
        given = body["answers"] if isinstance(body.get("answers"), dict) else {}
        aim["gate"] = gate.id
        aim["answers"] = {key: one for key, one in given.items() if key in {check.id for check in gate.checks}}
    return aim


def careful_work(step: Step, packet: Packet, state: Support) -> Iterator[e.Body]:
    """All that a step asks for, in order, by somebody who does it well; what cannot be done well is tried."""
    yield e.SupportChanged(state=state, axle=Axle.BOTH)
    for gate in packet.gates:
        if gate.id in step.gates:
            good = e.Answer(choice="yes", ready=True, value=1_500)
            halved = e.Answer(choice="no", ready=True, value=3_001)
            yield e.GateAnswered(gate=gate.id, answers={check.id: halved for check in gate.checks})
            yield e.GateAnswered(gate=gate.id, answers={check.id: good for check in gate.checks})
    for measure in step.measures:
        yield e.ReadingTaken(step=step.id, measure=measure.id, reading=e.Reading(1_000, "1", "mm"))
    if step.trial is not None:
        yield e.TestRecorded(step=step.id, choice="yes", verdict=Verdict.SOUND)
    for fastener in step.fasteners:
        stages = fastener.figure.stages if fastener.figure is not None and fastener.tighten is Pass.FINAL else ()
        readings = tuple(
            e.Reading(100_000, "100", "N·m") if stage.target_mdeg is None else e.Reading(90_000, "90", "°")
            for stage in stages
        )
        yield e.SignedOff(step=step.id, fastener=fastener.id, readings=readings, wrench="W1", new_part=True)
    yield e.StepDone(step=step.id, new_parts=tuple(part.id for part in step.one_time))


def second_look(step: Step) -> Iterator[e.Body]:
    for fastener in step.fasteners:
        reading = e.Reading(101_000, "101", "N·m")
        yield e.Countersigned(step=step.id, fastener=fastener.id, readings=(reading,), wrench="W1")
    yield e.Countersigned(step=step.id, seen="All in place")
