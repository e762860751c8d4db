"""What tests are made of: one fixed cast of people, a small sheet's worth of steps and gates, and a `Play` that feeds
entries through the rules.

Everything here is invented and deterministic: no clock, no random ids. The default packet is one front ball joint cut
down to the least that shows each rule once; a test changes the one thing it is about.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from pathlib import Path
from typing import Any

from app.domain import entry as e
from app.domain.case import Ruling
from app.domain.packet import (
    Axle,
    Check,
    CheckKind,
    Choice,
    Fastener,
    Figure,
    Gate,
    Line,
    Measure,
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
from app.domain.rule_table import table_from
from app.domain.rules import Rules
from app.domain.sheet import Sheet

ROOT = Path(__file__).resolve().parents[1]
RULES_FILE = ROOT / "shared" / "rules" / "entries.json"
JOB = "job-1"
EVERY_SUPPORT = tuple(Support)


# --- The cast --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Someone:
    id: str
    name: str
    roles: tuple[str, ...]


ADA = Someone("p-ada", "Ada", ("technician",))
BEN = Someone("p-ben", "Ben", ("technician",))
CLEO = Someone("p-cleo", "Cleo", ("technician",))
FAY = Someone("p-fay", "Fay", ("foreman",))
GUS = Someone("p-gus", "Gus", ("foreman", "technician"))
DEE = Someone("p-dee", "Dee", ("desk",))
CAST = (ADA, BEN, CLEO, FAY, GUS, DEE)


# --- Quantities ------------------------------------------------------------------------------------------------------

# Small units per unit, exact by definition: inch 25.4 mm, pound 0.45359237 kg, standard gravity 9.80665 m/s²
# (NIST SP 811, 2008, appendix B). Written here again on purpose: the product's own table is not the judge of its tests.
_POUND_FORCE = Fraction(45359237, 10**8) * Fraction(980665, 10**5)
SMALL_PER_UNIT: dict[str, Fraction] = {
    "N·m": Fraction(1_000),
    "lbf·ft": _POUND_FORCE * Fraction(3048, 10**4) * 1_000,
    "°": Fraction(1_000),
    "mm": Fraction(1_000),
    "in": Fraction(25_400),
    "kg": Fraction(1_000),
    "N": Fraction(1_000),
    "min": Fraction(60_000),
}


def a_reading(typed: str) -> e.Reading:
    """A value as typed, with its unit: `a_reading("81 lbf·ft")` holds 109 821 mN·m beside "81" and "lbf·ft"."""
    found = re.fullmatch(r"([-+]?\d+(?:\.\d+)?) ?(\S+)", typed)
    if found is None:
        raise ValueError(f"a reading is a number and a unit, got {typed!r}")
    number, unit = found.groups()
    return e.Reading(value=round(Fraction(number) * SMALL_PER_UNIT[unit]), text=number, unit=unit)


def small(typed: str) -> int:
    """The value of a typed quantity in its small unit."""
    return a_reading(typed).value


# --- What a packet is made of ----------------------------------------------------------------------------------------


def a_figure(target: str = "110 N·m", low: str = "104.5 N·m", high: str = "115.5 N·m", **over: Any) -> Figure:
    """A compared figure of one torque stage."""
    stage = Stage(low_mnm=small(low), target_mnm=small(target), high_mnm=small(high), text=target)
    return replace(
        Figure(
            id="fig-1", text=target, unit=target.split()[1], stages=(stage,), source="Maker's manual, page 12",
            verified=True,
        ),
        **over,
    )  # fmt: skip


def a_turn(target: str = "90 °", low: str = "85 °", high: str = "95 °") -> Stage:
    """A further turn, the second stage of a torque-to-yield bolt."""
    return Stage(low_mdeg=small(low), target_mdeg=small(target), high_mdeg=small(high), text=target)


def a_fastener(fastener_id: str = "nut", **over: Any) -> Fastener:
    return replace(
        Fastener(
            id=fastener_id, place="Ball joint stud nut", tighten=Pass.FINAL, load_states=EVERY_SUPPORT,
            figure_key="stud_nut", figure=a_figure(),
        ),
        **over,
    )  # fmt: skip


def a_measure(measure_id: str = "gap", **over: Any) -> Measure:
    return replace(
        Measure(id=measure_id, ask="Shim pack", dimension="length", unit="mm", low=2_000, high=4_000,
                window_text="2 to 4 mm", must=True),
        **over,
    )  # fmt: skip


def a_step(step_id: str = "work", **over: Any) -> Step:
    return replace(
        Step(
            id=step_id, line="l1", key=step_id, title=step_id.capitalize(), do="Do it.", why="Because.",
            axle=Axle.FRONT, supports=EVERY_SUPPORT,
        ),
        **over,
    )  # fmt: skip


def a_wrench(tag: str = "W1", **over: Any) -> Wrench:
    return replace(
        Wrench(tag=tag, name="Torque wrench", unit="N·m", low_mnm=40_000, high_mnm=200_000, due_on="2026-12-31",
               length_um=400_000),
        **over,
    )  # fmt: skip


BEARS_ON = Check(
    id="bears_on", kind=CheckKind.SEEN, ask="What do the stands bear on?", otherwise="Set them again.",
    choices=(Choice("frame", "The frame", True), Choice("jack", "The jack", False)),
)  # fmt: skip
LABEL_BASIS = Check(
    id="label_basis", kind=CheckKind.SEEN, ask="What is the rating for?", otherwise="Put them away.",
    choices=(Choice("each", "Each stand", True), Choice("pair", "The pair", True), Choice("none", "No label", False)),
)  # fmt: skip
LABEL = Check(
    id="label", kind=CheckKind.VALUE, ask="What rating is on the label?", otherwise="Use a stronger pair.",
    dimension="mass", unit="kg", at_least=500_000, halve_unless=("label_basis", "each"), limit_text="500 kg",
)  # fmt: skip
SHAKEN = Check(id="shaken", kind=CheckKind.READY, ask="Shaken, and still?", otherwise="Stay out.")
CLEAR = Check(id="clear", kind=CheckKind.READY, ask="Is everybody out of the line?", otherwise="Send them off.")

ON_STANDS = (Support.STANDS_FRAME, Support.STANDS_ARM, Support.STANDS_AXLE)


def a_gate(gate_id: str = "stands:front", checks: Iterable[Check] = (BEARS_ON, LABEL_BASIS, LABEL, SHAKEN),
           **over: Any) -> Gate:  # fmt: skip
    """The stands gate: asked on stands only, follows the support state, stale after an hour."""
    return replace(
        Gate(
            id=gate_id, key=gate_id.split(":")[0], title="Stands under the vehicle", signal=Signal.DANGER,
            symbol="crush", intro="", checks=tuple(checks), stale_after_s=3_600, follows_support=True,
            supports=ON_STANDS,
        ),
        **over,
    )  # fmt: skip


SPRING = a_gate(
    "joint_separation:l1.undo", checks=(CLEAR,), title="Before the joint comes apart", follows_support=False,
    stale_after_s=900, supports=(),
)  # fmt: skip

STANDS_OPEN = {
    "bears_on": e.Answer(choice="frame"),
    "label_basis": e.Answer(choice="each"),
    "label": e.Answer(value=500_000, text="500", unit="kg"),
    "shaken": e.Answer(ready=True),
}
SPRING_OPEN = {"clear": e.Answer(ready=True)}

PLAY_TRIAL = Trial(
    id="play", part="load_joint", against="visible movement",
    choices=(Choice("none", "No movement", True), Choice("moves", "It moves", False)),
)  # fmt: skip

STEPS: tuple[Step, ...] = (
    a_step("look", trial=PLAY_TRIAL),
    a_step("undo", supports=ON_STANDS, gates=("stands:front", "joint_separation:l1.undo"), after=("look",)),
    a_step("fit", supports=ON_STANDS, gates=("stands:front",), after=("undo",), measures=(a_measure(),),
           one_time=(OneTime("cotter", "Cotter pin"),)),
    a_step("snug", supports=ON_STANDS, gates=("stands:front",), after=("fit",),
           fasteners=(a_fastener("pivot_snug", place="Pivot bolt", tighten=Pass.SNUG, figure=None),)),
    a_step("stud", supports=ON_STANDS, gates=("stands:front",), after=("fit",),
           fasteners=(a_fastener("nut", critical=True, load_states=ON_STANDS),)),
    a_step("ride_height", after=("snug", "stud"),
           fasteners=(a_fastener("pivot", place="Pivot bolt", one_time=True,
                                 load_states=(Support.ON_WHEELS, Support.ON_RAMP)),)),
    a_step("road_test", supports=(Support.ON_WHEELS,), after=("ride_height",), countersign=True),
)  # fmt: skip


def a_packet(
    *steps: Step,
    gates: Sequence[Gate] | None = None,
    wrenches: Sequence[Wrench] = (a_wrench(),),
    edition: int = 1,
    job: str = JOB,
    **over: Any,
) -> Packet:
    """The default steps, or those given, with the two gates and one wrench."""
    return replace(
        Packet(
            v=1, job=job, number="1001", edition=edition, vehicle={"plate": "CP 1001"},
            layouts={"front": "wishbone_lower_coil"}, lines=(Line("l1", "ball_joint", 1, "Ball joint", Axle.FRONT),),
            steps=steps or STEPS, gates=(a_gate(), SPRING) if gates is None else tuple(gates),
            wrenches=tuple(wrenches), procedures={"ball_joint": "1"},
        ),
        **over,
    )  # fmt: skip


def with_step(packet: Packet, step_id: str, **over: Any) -> Packet:
    """The next edition, with one step changed and its revision raised."""
    steps = tuple(
        replace(step, revision=step.revision + 1, **over) if step.id == step_id else step for step in packet.steps
    )
    return replace(packet, edition=packet.edition + 1, steps=steps)


# --- Entries ---------------------------------------------------------------------------------------------------------

BEGAN = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


def ms(at: datetime) -> int:
    return int(at.timestamp() * 1_000)


def an_entry(body: e.Body | Mapping[str, Any], who: Someone = ADA, *, kind: str = "", **over: Any) -> e.Entry:
    """An entry with this body: in its shape, or as plain data with its kind named."""
    shaped = not isinstance(body, Mapping)
    return replace(
        e.Entry(
            v=1,
            id="e-1",
            tablet="t-1",
            seq=1,
            job=JOB,
            kind=kind or str(e.kind_of(body)),  # type: ignore[arg-type]
            body=e.body_json(body) if shaped else dict(body),  # type: ignore[arg-type]
            person=who.id,
            noted_at_ms=ms(BEGAN),
        ),
        **over,
    )


def heard(entry: e.Entry, who: Someone = ADA, *, order: int = 1, at: datetime = BEGAN) -> e.Heard:
    return e.Heard(entry=entry, order=order, heard_at_ms=ms(at), name=who.name, roles=who.roles)


def the_rules() -> Rules:
    return Rules(table_from(json.loads(RULES_FILE.read_text(encoding="utf-8"))))


@dataclass
class Play:
    """A sheet being worked on. Each `does` makes an entry as the office's own page would, rules on it and evolves.

    The basis says what the person sees at that moment, unless a test gives another. `wait` moves the clock.
    """

    packet: Packet | None = None
    rules: Rules = field(default_factory=the_rules)
    now: datetime = BEGAN
    sheet: Sheet = field(default_factory=lambda: Sheet(JOB))
    history: list[tuple[e.Heard, Ruling]] = field(default_factory=list)

    def __post_init__(self) -> None:
        if self.packet is not None:
            self.pins(self.packet)

    # Doing things

    def does(
        self,
        who: Someone,
        body: e.Body | Mapping[str, Any],
        *,
        kind: str = "",
        basis: e.Basis | None = None,
        **over: Any,
    ) -> Ruling:
        number = len(self.history) + 1
        seen = basis if basis is not None else self.sees(getattr(body, "step", ""))
        entry = an_entry(body, who, kind=kind, basis=seen, **{"id": f"e-{number}", "seq": number, **over})
        return self.hears(heard(entry, who, order=number, at=self.now))

    def hears(self, one: e.Heard) -> Ruling:
        ruling = self.rules.decide(self.sheet, one)
        self.sheet = self.rules.evolve(self.sheet, one, ruling)
        self.history.append((one, ruling))
        self.now += timedelta(seconds=1)
        return ruling

    def sees(self, step_id: str = "") -> e.Basis:
        """The basis of somebody looking at this step now."""
        packet = self.sheet.packet
        step = packet.step_by_id.get(step_id) if packet else None
        return e.Basis(
            packet=packet.hash if packet else "",
            step_revision=step.revision if step else None,
            support_revision=self.sheet.support.revision,
        )

    def wait(self, **span: float) -> None:
        self.now += timedelta(**span)

    @property
    def last_id(self) -> str:
        return self.history[-1][0].entry.id

    # The moves most tests need

    def pins(self, packet: Packet, who: Someone = FAY) -> Ruling:
        return self.does(who, e.PacketPinned(packet.as_json()))

    def holds_vehicle(self, state: Support, who: Someone = ADA, axle: Axle = Axle.FRONT) -> Ruling:
        return self.does(who, e.SupportChanged(state=state, axle=axle))

    def answers(self, answers: Mapping[str, e.Answer], gate: str = "stands:front", who: Someone = ADA) -> Ruling:
        return self.does(who, e.GateAnswered(gate=gate, answers=dict(answers)))

    def tests(self, step: str = "look", who: Someone = ADA) -> Ruling:
        return self.does(who, e.TestRecorded(step=step, choice="none", verdict=Verdict.SOUND))

    def measures(self, typed: str = "3 mm", step: str = "fit", measure: str = "gap", who: Someone = ADA) -> Ruling:
        return self.does(who, e.ReadingTaken(step=step, measure=measure, reading=a_reading(typed)))

    def signs(self, *typed: str, step: str = "work", fastener: str = "nut", who: Someone = ADA, wrench: str = "W1",
              basis: e.Basis | None = None, **over: Any) -> Ruling:  # fmt: skip
        readings = tuple(a_reading(one) for one in typed)
        body = e.SignedOff(step=step, fastener=fastener, readings=readings, wrench=wrench, **over)
        return self.does(who, body, basis=basis)

    def counters(self, *typed: str, step: str = "work", fastener: str = "nut", who: Someone = BEN, wrench: str = "W1",
                 **over: Any) -> Ruling:  # fmt: skip
        readings = tuple(a_reading(one) for one in typed)
        return self.does(who, e.Countersigned(step=step, fastener=fastener, readings=readings, wrench=wrench, **over))

    def finishes(self, step: str, who: Someone = ADA, *parts: str) -> Ruling:
        return self.does(who, e.StepDone(step=step, new_parts=parts))

    def hangs_tag(self, step: str = "", who: Someone = FAY, reason: str = "Wait for the part") -> str:
        """Hang a hold tag; gives its id."""
        self.does(who, e.HoldPlaced(reason=reason, step=step))
        return self.last_id

    def gets_onto_stands(self, who: Someone = ADA) -> None:
        """On stands, with both gates open for this person."""
        self.holds_vehicle(Support.STANDS_FRAME, who)
        self.answers(STANDS_OPEN, who=who)
        if any(gate.id == SPRING.id for gate in self.sheet.packet.gates):  # type: ignore[union-attr]
            self.answers(SPRING_OPEN, gate=SPRING.id, who=who)


def a_sheet(*steps: Step, **over: Any) -> Sheet:
    """A sheet with a packet pinned and nothing done yet."""
    return Play(a_packet(*steps, **over)).sheet


def whole_job() -> Play:
    """The default packet worked through by the rules of the trade, up to the foreman's handback."""
    play = Play(a_packet())
    play.tests()
    play.finishes("look")
    play.gets_onto_stands()
    play.finishes("undo")
    play.measures()
    play.finishes("fit", ADA, "cotter")
    play.does(ADA, e.SignedOff(step="snug", fastener="pivot_snug"))
    play.finishes("snug")
    play.signs("110 N·m", step="stud")
    play.finishes("stud")
    play.counters("111 N·m", step="stud")
    play.holds_vehicle(Support.ON_WHEELS)
    play.signs("108 N·m", step="ride_height", fastener="pivot", new_part=True)
    play.finishes("ride_height")
    play.finishes("road_test")
    play.does(BEN, e.Countersigned(step="road_test", seen="Everything in place, pins in"))
    return play
