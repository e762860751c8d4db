"""What interrupted whoever comes back to a sheet: where it stopped, and what was half done there. Pure.

Nothing is kept for it: the last act of this person is on the sheet already, and so is what it left open. It only
tells; whether an answer or a reading still counts is for the rules.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from app.domain.packet import Fastener, Packet, Pass, Step
from app.domain.pictures import has_wheel_nuts
from app.domain.sheet import Mark, Sheet
from app.domain.standing import asked_gates, next_step
from app.domain.view_gate import standing_of
from app.domain.view_parts import Scene, View

# From when on a gap is asked about. House rule, no source: shorter than the shortest time that a gate stands open (15
# minutes), so that whoever comes back hears of the break before a gate asks again; longer than fetching a tool takes.
AWAY_MS = 10 * 60_000
# From here on minutes say less than the time of day.
LONG_MINUTES = 120


@dataclass(frozen=True, slots=True)
class Act:
    """Something a person recorded. step, gate: what it was about, "" where about neither. away: handed to another."""

    mark: Mark
    step: str = ""
    gate: str = ""
    away: bool = False


def acts_of(sheet: Sheet) -> Iterator[Act]:
    """Everything on the sheet that says who recorded it and when."""
    if sheet.support.mark is not None:
        yield Act(sheet.support.mark)
    for step_id, now in sheet.steps.items():
        marks = [now.done, now.seen, now.outcome.mark if now.outcome is not None else None]
        marks += [one.mark for one in now.readings.values()]
        marks += [one.mark for one in (*now.signatures.values(), *now.counters.values())]
        marks += [one.mark for one in (*now.notes, *now.reopened)]
        yield from (Act(mark, step_id) for mark in marks if mark is not None)
    for gate_id, gate in sheet.gates.items():
        for said in gate.answers.values():
            yield Act(Mark(gate.person, gate.name, said.at_ms, said.entry), gate=gate_id)
    for hold in sheet.holds.values():
        yield from (Act(mark, hold.step) for mark in (hold.mark, hold.lifted) if mark is not None)
    for aside in sheet.asides.values():
        yield from (Act(mark, aside.step) for mark in (aside.mark, aside.settled) if mark is not None)
    yield from (Act(one.mark) for one in sheet.notes)
    yield from (Act(one.mark, away=True) for one in sheet.hand_overs)


def came_back_view(scene: Scene, packet: Packet, numbers: dict[str, int]) -> View:
    """The line for whoever comes back, or that there is none: too soon, put away, nothing of theirs, nothing left."""
    acts = sorted(acts_of(scene.sheet), key=lambda one: (one.mark.at_ms, one.mark.entry))
    own = next((one for one in reversed(acts) if one.mark.person == scene.viewer.person), None)
    step = _stopped_at(scene.sheet, packet, own) if own is not None else None
    if own is None or step is None or own.away or scene.about.closed or not scene.may("step_done"):
        return {"shown": False}
    gone_ms = scene.now_ms - own.mark.at_ms
    if gone_ms < AWAY_MS or own.mark.entry in scene.look.seen.split(" "):
        return {"shown": False}
    minutes = gone_ms // 60_000
    now = scene.sheet.step(step.id)
    begun = bool(now.readings or now.signatures or now.outcome or own.step == step.id or own.gate)
    how = f"{'begun' if begun else 'fresh'}{'_long' if minutes > LONG_MINUTES else ''}"
    details: dict[str, str | int] = {
        "minutes": minutes, "at": scene.voice.when(own.mark.at_ms), "number": numbers[step.id], "step": step.title,
    }  # fmt: skip
    anchor = _anchor(scene, step)
    look = scene.look
    return {
        "shown": True,
        "words": scene.voice.say(f"came_back.{how}", details),
        "points": [*_others(scene, acts[-1].mark), *_gates(scene, step), *_half_done(scene, step)],
        "number": str(numbers[step.id]),
        "link": f"{scene.step_address(step.id)}#{anchor}",
        "put_away": scene.step_address(look.step, at=look.fastener, wrench=look.wrench, extension=look.extension,
                                       angle=look.angle, seen=own.mark.entry),
    }  # fmt: skip


def _stopped_at(sheet: Sheet, packet: Packet, last: Act) -> Step | None:
    """The step of the last act while it is not done; else the one that comes next."""
    asked = [step for step in packet.steps if step.id == last.step or last.gate in step.gates]
    return next((step for step in asked if sheet.step(step.id).done is None), None) or next_step(sheet, packet)


def _anchor(scene: Scene, step: Step) -> str:
    """Where on the card it goes on: the first joint or value without a reading, behind gates the card itself."""
    now = scene.sheet.step(step.id)
    if any(standing_of(scene, gate) is not None for gate in asked_gates(scene.sheet, step)):
        return "in-hand"
    missing = [f"measures-{one.id}" for one in step.measures if one.required and one.id not in now.readings]
    missing += [f"fastener-{one.id}" for one in step.fasteners if one.id not in now.signatures]
    begun = bool(now.readings or now.signatures)
    return missing[0] if begun and missing else "in-hand"


def _others(scene: Scene, last: Mark) -> Iterator[str]:
    """Who was at the sheet after this person, last."""
    if last.person != scene.viewer.person:
        yield scene.voice.say("came_back.other", {"name": last.name, "at": scene.voice.when(last.at_ms)})


def _gates(scene: Scene, step: Step) -> Iterator[str]:
    """The step's gates that this person answered before the break."""
    for gate in asked_gates(scene.sheet, step):
        now = scene.sheet.gates.get(gate.id)
        if now is None or now.person != scene.viewer.person:
            continue
        passed = sum(1 for said in now.answers.values() if said.passes)
        how = "open" if standing_of(scene, gate) is None else "half" if now.cleared_at_ms is None else "again"
        yield scene.voice.say(f"came_back.gate_{how}", {
            "gate": gate.title, "done": passed, "total": len(gate.checks),
            "at": scene.voice.when(now.cleared_at_ms or now.began_at_ms),
        })  # fmt: skip


def _half_done(scene: Scene, step: Step) -> Iterator[str]:
    """What of the step has a reading and what has none; and what nothing on record can tell."""
    now = scene.sheet.step(step.id)
    values = [one for one in step.measures if one.required]
    unread = [one.ask for one in values if one.id not in now.readings]
    if len(unread) < len(values) and unread:
        done = len(values) - len(unread)
        yield scene.voice.say("came_back.read", {"done": done, "total": len(values), "left": ", ".join(unread)})
    left = [one for one in step.fasteners if one.id not in now.signatures]
    if len(left) < len(step.fasteners) and left:
        how = "snug" if all(one.tighten is Pass.SNUG for one in step.fasteners) else "tightened"
        yield scene.voice.say(f"came_back.{how}", {
            "done": len(step.fasteners) - len(left), "total": len(step.fasteners),
            "left": ", ".join(one.place for one in left),
        })  # fmt: skip
    if left and has_wheel_nuts(step):
        yield scene.voice.say("came_back.star", {})
    elif left and (stages := _stages(left[0])) > 1:
        yield scene.voice.say("came_back.stages", {"place": left[0].place, "stages": stages})


def _stages(fastener: Fastener) -> int:
    """How many stages its figure has, where that may be shown."""
    figure = fastener.figure
    return len(figure.stages) if figure is not None and figure.verified and fastener.tighten is Pass.FINAL else 0
