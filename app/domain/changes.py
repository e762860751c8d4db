"""What an accepted entry changes on a sheet, one function per kind; and how an entry is put aside. Pure.

Nothing here asks whether it may: `questions` did.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import cast

from app.domain import entry as e
from app.domain.case import Case, Ruling, mark_of, read_packet, target_of, torques_of
from app.domain.entry import Heard, Kind
from app.domain.packet import Axle, Check, CheckKind, Fastener, Packet
from app.domain.sheet import (
    Aside,
    GateNow,
    HandOver,
    Hold,
    Note,
    Outcome,
    Said,
    Sheet,
    Signature,
    StepNow,
    SupportNow,
    Taken,
)
from app.domain.standing import WHOLE_VEHICLE, answers_go_on, within


def passes(check: Check, said: Mapping[str, Said]) -> bool:
    """Whether an answer lets the gate open."""
    answer = said[check.id]
    match check.kind:
        case CheckKind.SEEN:
            return any(one.key == answer.choice and one.passes_at(answer.at_ms) for one in check.choices)
        case CheckKind.READY:
            return answer.ready is True
        case CheckKind.VALUE:
            # A rating, a distance, a time: never below nothing. Without any limit there is nothing to fit into.
            if answer.value is None or answer.value < 0 or check.needs_input:
                return False
            value = answer.value
            if check.halve_unless is not None:
                other, choice = check.halve_unless
                if other not in said or said[other].choice != choice:
                    value //= 2
            return within(value, check.at_least, check.at_most) is True


def put_aside(sheet: Sheet, heard: Heard, body: e.Body | None, ruling: Ruling) -> Sheet:
    step, target = target_of(body)
    one = Aside(
        mark=mark_of(heard),
        kind=heard.entry.kind,
        step=step,
        target=target,
        reason=ruling.reason,
        details=dict(ruling.details),
    )
    return replace(sheet, asides={**sheet.asides, heard.entry.id: one})


def _packet_pinned(case: Case) -> Sheet:
    """Pin a packet. A step or gate that changed after it was begun starts again; its record is kept in the ledger.

    What was noted on a step that is no longer there moves to the sheet's own notes.
    """
    packet = cast(Packet, read_packet(cast(e.PacketPinned, case.body)))
    before = case.sheet.packet
    sheet = replace(case.sheet, packet=packet, editions=(*case.sheet.editions, packet.hash))
    if before is None:
        return sheet
    same_gates = {gate.id for gate in packet.gates if before.gate_by_id.get(gate.id) == gate}
    steps: dict[str, StepNow] = {}
    notes = list(sheet.notes)
    for key, now in sorted(case.sheet.steps.items(), key=lambda item: item[0]):
        if key not in packet.step_by_id:
            notes += [*now.notes, *now.reopened]
        elif packet.step_by_id[key] == before.step_by_id.get(key):
            steps[key] = now
        else:
            steps[key] = _start_again(case, now, "")
    since = {key: edition for key, edition in sheet.gates_since.items() if key in same_gates}
    since |= {gate.id: packet.edition for gate in packet.gates if gate.id not in same_gates}
    return replace(
        sheet,
        gates={key: now for key, now in case.sheet.gates.items() if key in same_gates},
        gates_since=since,
        steps=steps,
        notes=tuple(notes),
    )


def _gate_answered(case: Case) -> Sheet:
    """Take answers. Another person, a hand-over, another support state or time passed: it begins again from nothing."""
    body = cast(e.GateAnswered, case.body)
    gate = case.packet.gate_by_id[body.gate]
    before = case.sheet.gates.get(gate.id)
    at = case.heard.heard_at_ms
    goes_on = before is not None and answers_go_on(case.sheet, gate, before, case.person, at)
    said = dict(before.answers) if before is not None and goes_on else {}
    for check in gate.checks:
        answer = body.answers.get(check.id)
        if answer is not None:
            said[check.id] = Said(
                choice=answer.choice, ready=answer.ready, value=answer.value, text=answer.text, passes=False,
                entry=case.heard.entry.id, at_ms=at,
            )  # fmt: skip
    judged = {
        check.id: replace(said[check.id], passes=passes(check, said)) for check in gate.checks if check.id in said
    }
    clear = len(judged) == len(gate.checks) and all(one.passes for one in judged.values())
    now = GateNow(
        person=case.person,
        name=case.heard.name,
        support_revision=case.sheet.support.revision,
        began_at_ms=min(one.at_ms for one in judged.values()),
        answers=judged,
        cleared_at_ms=at if clear else None,
        revision=before.revision + 1 if before is not None else 1,
    )
    return replace(case.sheet, gates={**case.sheet.gates, gate.id: now})


def _reading_taken(case: Case) -> Sheet:
    body = cast(e.ReadingTaken, case.body)
    measure = next(one for one in case.step.measures if one.id == body.measure)
    now = case.sheet.step(body.step)
    taken = Taken(
        mark=mark_of(case.heard),
        value=body.reading.value,
        text=body.reading.text,
        unit=body.reading.unit,
        within=within(body.reading.value, measure.low, measure.high),
    )
    return case.sheet.with_step(body.step, replace(now, readings={**now.readings, body.measure: taken}))


def _test_recorded(case: Case) -> Sheet:
    body = cast(e.TestRecorded, case.body)
    outcome = Outcome(mark=mark_of(case.heard), choice=body.choice, verdict=body.verdict, reason=body.reason)
    return case.sheet.with_step(body.step, replace(case.sheet.step(body.step), outcome=outcome))


def _signature(case: Case) -> Signature:
    body = cast(e.SignedOff | e.Countersigned, case.body)
    fastener = cast(Fastener, case.fastener)
    return Signature(
        mark=mark_of(case.heard),
        tighten=fastener.tighten,
        texts=tuple(one.typed for one in body.readings),
        values=torques_of(case.table, case.packet, body, fastener),
        wrench=body.wrench,
        extension_um=body.extension.length_um if body.extension else 0,
        extension_deg=body.extension.angle_deg if body.extension else 0,
        new_part=body.new_part if isinstance(body, e.SignedOff) else False,
    )


def _signed_off(case: Case) -> Sheet:
    body = cast(e.SignedOff, case.body)
    now = case.sheet.step(body.step)
    return case.sheet.with_step(body.step, replace(now, signatures={**now.signatures, body.fastener: _signature(case)}))


def _countersigned(case: Case) -> Sheet:
    body = cast(e.Countersigned, case.body)
    now = case.sheet.step(body.step)
    if not body.fastener:
        return case.sheet.with_step(body.step, replace(now, seen=mark_of(case.heard), seen_text=body.seen))
    return case.sheet.with_step(body.step, replace(now, counters={**now.counters, body.fastener: _signature(case)}))


def _step_done(case: Case) -> Sheet:
    body = cast(e.StepDone, case.body)
    now = case.sheet.step(body.step)
    known = {one.id for one in case.step.one_time}
    parts = tuple(sorted({*now.new_parts, *(part for part in body.new_parts if part in known)}))
    return case.sheet.with_step(body.step, replace(now, done=mark_of(case.heard), new_parts=parts))


def _step_reopened(case: Case) -> Sheet:
    body = cast(e.StepReopened, case.body)
    now = case.sheet.step(body.step)
    return case.sheet.with_step(body.step, _start_again(case, now, body.reason))


def _start_again(case: Case, now: StepNow, reason: str) -> StepNow:
    """A step as if untouched, but for its notes and the record of why it was opened again."""
    return StepNow(notes=now.notes, reopened=(*now.reopened, Note(mark_of(case.heard), reason)))


def _support_changed(case: Case) -> Sheet:
    body = cast(e.SupportChanged, case.body)
    now = SupportNow(
        state=body.state,
        axle=Axle.BOTH if body.state in WHOLE_VEHICLE else body.axle,
        bears=body.bears,
        revision=case.sheet.support.revision + 1,
        mark=mark_of(case.heard),
    )
    return replace(case.sheet, support=now)


def _hold_placed(case: Case) -> Sheet:
    body = cast(e.HoldPlaced, case.body)
    hold = Hold(mark=mark_of(case.heard), step=body.step, reason=body.reason)
    return replace(case.sheet, holds={**case.sheet.holds, case.heard.entry.id: hold})


def _hold_lifted(case: Case) -> Sheet:
    body = cast(e.HoldLifted, case.body)
    hold = replace(case.sheet.holds[body.hold], lifted=mark_of(case.heard), lifted_reason=body.reason)
    return replace(case.sheet, holds={**case.sheet.holds, body.hold: hold})


def _handed_over(case: Case) -> Sheet:
    """Hand over. Every gate is asked again, of the one who hands over too: what follows is not theirs alone.

    Source: principle of 29 CFR 1910.147(f)(4) on shift changes.
    """
    body = cast(e.HandedOver, case.body)
    over = HandOver(mark=mark_of(case.heard), to=body.to, to_name=body.to_name, note=body.note)
    gates = {key: replace(now, handed_over=True) for key, now in case.sheet.gates.items()}
    return replace(case.sheet, hand_overs=(*case.sheet.hand_overs, over), gates=gates)


def _note_added(case: Case) -> Sheet:
    body = cast(e.NoteAdded, case.body)
    return _with_note(case, body.step, Note(mark_of(case.heard), body.text))


def _photo_added(case: Case) -> Sheet:
    body = cast(e.PhotoAdded, case.body)
    return _with_note(case, body.step, Note(mark_of(case.heard), body.name, photo=body.sha256))


def _with_note(case: Case, step: str, note: Note) -> Sheet:
    if not step:
        return replace(case.sheet, notes=(*case.sheet.notes, note))
    now = case.sheet.step(step)
    return case.sheet.with_step(step, replace(now, notes=(*now.notes, note)))


def _settled(case: Case) -> Sheet:
    body = cast(e.Settled, case.body)
    one = replace(
        case.sheet.asides[body.aside],
        settled=mark_of(case.heard),
        outcome=body.outcome,
        settled_reason=body.reason,
    )
    return replace(case.sheet, asides={**case.sheet.asides, body.aside: one})


def _handed_back(case: Case) -> Sheet:
    body = cast(e.HandedBack, case.body)
    return replace(case.sheet, handed_back=mark_of(case.heard), handed_back_note=body.note)


CHANGES: Mapping[Kind, Callable[[Case], Sheet]] = {
    Kind.PACKET_PINNED: _packet_pinned,
    Kind.GATE_ANSWERED: _gate_answered,
    Kind.READING_TAKEN: _reading_taken,
    Kind.SIGNED_OFF: _signed_off,
    Kind.COUNTERSIGNED: _countersigned,
    Kind.STEP_DONE: _step_done,
    Kind.STEP_REOPENED: _step_reopened,
    Kind.SUPPORT_CHANGED: _support_changed,
    Kind.HOLD_PLACED: _hold_placed,
    Kind.HOLD_LIFTED: _hold_lifted,
    Kind.HANDED_OVER: _handed_over,
    Kind.TEST_RECORDED: _test_recorded,
    Kind.NOTE_ADDED: _note_added,
    Kind.PHOTO_ADDED: _photo_added,
    Kind.SETTLED: _settled,
    Kind.HANDED_BACK: _handed_back,
}
