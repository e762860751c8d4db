"""Sheets of an inspection for the tests of suspects: what was found in words of the sheet, nothing else."""

from __future__ import annotations

from collections.abc import Mapping

from app.domain.compiling import Order, compile_packet
from app.domain.packet import Axle, Packet, Step, Verdict
from app.domain.records import JobLine
from app.domain.sheet import Mark, Outcome, Sheet, StepNow, Taken
from app.trade.quantity import Dimension
from app.trade.units import parse_quantity
from tests.unit.procedure_cast import SHOP, a_vehicle, an_axle, the_book

# What rules the others out: the steps by key, with the choice that finds nothing.
RULED_OUT = {
    "tyre_size": "as_placard",
    "tyre_wear": "even",
    "wheel_bearing": "sound",
    "steering_play": "within",
    "steering_linkage": "sound",
    "brakes": "sound",
}


def an_inspection(layout: str = "wishbone_lower_coil", *axles: Axle, place: str = "", **facts: str) -> Packet:
    """The packet of an inspection on each axle; the lines are called by their axle."""
    vehicle = a_vehicle(an_axle(layout, place, **facts), an_axle(layout, place, **facts))
    lines = tuple(JobLine(str(axle), "inspection", axle) for axle in axles or (Axle.FRONT,))
    packet = compile_packet(the_book(), Order("job", "1", 1, vehicle, lines, {}, (), SHOP))
    assert isinstance(packet, Packet), packet
    return packet


def found(
    packet: Packet, outcomes: Mapping[str, str], readings: Mapping[str, Mapping[str, str]] | None = None
) -> Sheet:
    """A sheet on which these tests were recorded: by step id without its line ("damper_leak.left") or with it.

    The verdict is what the choice says: sound where it passes, else replace. "choice!" is judged sound all the same.
    readings: by step, the values as typed.
    """
    sheet = Sheet(packet.job, packet)
    for name, said in outcomes.items():
        step = step_of(packet, name)
        assert step.trial is not None
        choice = next(one for one in step.trial.choices if one.key == said.rstrip("!"))
        sound = choice.passes or said.endswith("!")
        outcome = Outcome(_mark(name), choice.key, Verdict.SOUND if sound else Verdict.REPLACE, "" if sound else "seen")
        now = sheet.step(step.id)
        sheet = sheet.with_step(step.id, StepNow(readings=now.readings, outcome=outcome))
    for name, values in (readings or {}).items():
        step = step_of(packet, name)
        sheet = sheet.with_step(step.id, StepNow(readings=_taken(step, values), outcome=sheet.step(step.id).outcome))
    return sheet


def with_all_ruled_out(packet: Packet, outcomes: Mapping[str, str]) -> Sheet:
    """As `found`, after the others were judged and nothing found at them, unless `outcomes` says otherwise."""
    steps = [step for step in packet.steps if step.key in RULED_OUT]
    clean = {step.id: RULED_OUT[step.key] for step in steps}
    given = {step_of(packet, name).id: said for name, said in outcomes.items()}
    sheet = found(packet, {**clean, **given})
    for step in packet.steps:
        required = {one.id: "2 mm" if one.dimension == "length" else "2 bar" for one in step.measures if one.required}
        if step.key in (*RULED_OUT, "tyre_pressure") and required:
            sheet = sheet.with_step(
                step.id, StepNow(readings=_taken(step, required), outcome=sheet.step(step.id).outcome)
            )
    return sheet


def step_of(packet: Packet, name: str) -> Step:
    fits = [step for step in packet.steps if step.id == name or step.id.partition(".")[2] == name]
    assert len(fits) == 1, f"{name}: {[step.id for step in packet.steps]}"
    return fits[0]


def _taken(step: Step, values: Mapping[str, str]) -> dict[str, Taken]:
    asked = {one.id: one for one in step.measures}
    taken = {}
    for name, typed in values.items():
        amount = parse_quantity(typed, Dimension(asked[name].dimension), default_unit=asked[name].unit)
        taken[name] = Taken(_mark(name), amount.value, typed, asked[name].unit)
    return taken


def _mark(name: str) -> Mark:
    return Mark("p-ada", "Ada Lindqvist", 1_000, f"e-{name}")
