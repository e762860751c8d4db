"""The questions of `shared/rules/entries.json`: each answers `None` for "nothing against it", or why it is set aside.

They only look. What an accepted entry changes is in `changes`; which kind is asked what, and in which order, is the
table's.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import cast

from app.domain import entry as e
from app.domain.case import Case, Reason, Ruling, aside, extension_can_be, read_packet, torques_of
from app.domain.packet import Fastener, Gate, Pass, Stage, Support, Wrench
from app.domain.pinning import why_not_pinned, why_not_read
from app.domain.sheet import Mark, Signature, in_order
from app.domain.standing import (
    asked_gates,
    date_of,
    gate_state,
    is_one_time,
    missing_parts,
    open_points,
    price_bars,
    readings_outside,
    supported,
    waits_for,
    within,
)
from app.domain.torque import stage_value_fits

# --- Questions asked of every entry -----------------------------------------------------------------------------


def form_known(case: Case) -> Ruling | None:
    return None if case.body is not None else aside(Reason.UNKNOWN_FORM, kind=case.heard.entry.kind)


def job_here(case: Case) -> Ruling | None:
    return None if case.heard.entry.job == case.sheet.job else aside(Reason.NOT_HERE, what="job")


def role_fits(case: Case) -> Ruling | None:
    wanted = case.table.kinds[case.heard.entry.kind].roles
    return None if set(wanted) & set(case.heard.roles) else aside(Reason.WRONG_ROLE, wanted=", ".join(wanted))


def not_handed_back(case: Case) -> Ruling | None:
    done = case.sheet.handed_back
    if done is None or case.heard.entry.kind in case.table.after_handback:
        return None
    return aside(Reason.HANDED_BACK, name=done.name)


def packet_there(case: Case) -> Ruling | None:
    if case.sheet.packet is not None or case.heard.entry.kind in case.table.without_packet:
        return None
    return aside(Reason.NOT_HERE, what="sheet")


# --- Questions about steps ----------------------------------------------------------------------------------------


def step_here(case: Case) -> Ruling | None:
    return None if case.step_id in case.packet.step_by_id else aside(Reason.NOT_HERE, what="step")


def step_same(case: Case) -> Ruling | None:
    seen = case.heard.entry.basis.step_revision
    if seen == case.step.revision:
        return None
    return aside(Reason.STEP_CHANGED, seen=seen if seen is not None else 0, now=case.step.revision)


def not_held(case: Case) -> Ruling | None:
    return _held(case, case.step_id)


def sheet_not_held(case: Case) -> Ruling | None:
    return _held(case, "")


def _held(case: Case, step_id: str) -> Ruling | None:
    """A tag that hangs; or one the person had not seen, even if it has been taken off since.

    Whether the work was done before, during or after the hold nobody can tell: the tablet's clock decides nothing. So
    the foreman looks at it.
    """
    seen = case.heard.entry.basis.holds
    for key, hold in case.sheet.holds_on(step_id):
        if seen is not None and key not in seen:
            return aside(Reason.AWAY_WHEN_HELD, hold=key, name=hold.mark.name, why=hold.reason)
        if hold.lifted is None:
            return aside(Reason.HELD, hold=key, name=hold.mark.name, why=hold.reason)
    return None


def not_done(case: Case) -> Ruling | None:
    done = case.sheet.step(case.step_id).done
    return None if done is None else aside(Reason.ALREADY_SIGNED, name=done.name)


def price_agreed(case: Case) -> Ruling | None:
    """Nothing is collectable for work the customer has not agreed to, so it does not come to count as done.

    Source: Cal. Bus. & Prof. Code 9884.9(a); stopping at the step itself is a house rule.
    """
    line = price_bars(case.sheet, case.step)
    if line is None:
        return None
    return aside(Reason.NOT_AGREED, line=line.title, why=str(line.price), edition=line.price_edition)


def unlocked(case: Case) -> Ruling | None:
    waiting = waits_for(case.sheet, case.step)
    return None if waiting is None else aside(Reason.STEP_LOCKED, first=waiting.title)


def support_right(case: Case) -> Ruling | None:
    return _support_among(case, case.step.supports)


def load_right(case: Case) -> Ruling | None:
    fastener = cast(Fastener, case.fastener)
    return _support_among(case, fastener.load_states)


def counter_load_right(case: Case) -> Ruling | None:
    return load_right(case) if case.fastener is not None else None


def _support_among(case: Case, wanted: tuple[Support, ...]) -> Ruling | None:
    if supported(case.sheet.support, case.step.axle, wanted):
        return None
    return _not_held_so(case, wanted, why="state")


def _not_held_so(case: Case, wanted: tuple[Support, ...], why: str) -> Ruling:
    return aside(Reason.WRONG_SUPPORT, now=str(case.sheet.support.state), wanted=",".join(wanted), why=why)


def support_seen(case: Case) -> Ruling | None:
    """Nobody changed how the vehicle is held since the person looked; unless the step may be done however it is."""
    if not _support_moved(case):
        return None
    gates = asked_gates(case.sheet, case.step)
    if gates:
        return _stale(gates[0], "support")
    if set(case.step.supports) == set(Support):
        return None
    return _not_held_so(case, case.step.supports, why="moved")


def counter_support_seen(case: Case) -> Ruling | None:
    return support_seen(case) if case.fastener is not None else None


def _support_moved(case: Case) -> bool:
    shown = case.heard.entry.basis.support_revision
    return shown is not None and shown != case.sheet.support.revision


def gates_clear(case: Case) -> Ruling | None:
    return _gates_open(case, asked_gates(case.sheet, case.step), case.person)


def counter_gates_clear(case: Case) -> Ruling | None:
    """At the fastener, the second person is under the same vehicle: how it is held must stand checked, by anyone.

    Gates that do not follow the support state were for the work itself (a compressor let off since cannot be answered
    for), so they are not asked again. House rule.
    """
    if case.fastener is None:
        return None
    following = tuple(gate for gate in asked_gates(case.sheet, case.step) if gate.follows_support)
    return _gates_open(case, following, None)


def _gates_open(case: Case, gates: tuple[Gate, ...], person: str | None) -> Ruling | None:
    for gate in gates:
        against = gate_state(case.sheet, gate.id, person, case.heard.heard_at_ms)
        if against == "shut":
            return aside(Reason.GATE_SHUT, gate=gate.id, title=gate.title)
        if against is not None:
            return _stale(gate, against)
    return None


def _stale(gate: Gate, why: str) -> Ruling:
    return aside(Reason.GATE_STALE, gate=gate.id, title=gate.title, why=why)


def gate_here(case: Case) -> Ruling | None:
    body = cast(e.GateAnswered, case.body)
    gate = case.packet.gate_by_id.get(body.gate)
    if gate is None or not body.answers:
        return aside(Reason.NOT_HERE, what="gate")
    known = {check.id for check in gate.checks}
    return None if set(body.answers) <= known else aside(Reason.NOT_HERE, what="check")


def gate_same(case: Case) -> Ruling | None:
    """The gate reads as it did in the edition the person saw, and the vehicle is held as it was."""
    gate = case.packet.gate_by_id[cast(e.GateAnswered, case.body).gate]
    shown = case.heard.entry.basis.packet
    if shown:
        editions = case.sheet.editions
        seen = editions.index(shown) + 1 if shown in editions else 0
        if seen < case.sheet.gates_since.get(gate.id, 1):
            return aside(Reason.STEP_CHANGED, seen=seen, now=case.packet.edition)
    return _stale(gate, "support") if _support_moved(case) else None


# --- Questions about what is recorded -----------------------------------------------------------------------------


def measure_here(case: Case) -> Ruling | None:
    wanted = cast(e.ReadingTaken, case.body).measure
    known = any(measure.id == wanted for measure in case.step.measures)
    return None if known else aside(Reason.NOT_HERE, what="measure")


def measure_fits(case: Case) -> Ruling | None:
    body = cast(e.ReadingTaken, case.body)
    measure = next(one for one in case.step.measures if one.id == body.measure)
    if not measure.must or within(body.reading.value, measure.low, measure.high) is not False:
        return None
    return aside(Reason.READING_OUTSIDE, typed=body.reading.typed, window=measure.window_text)


def trial_fits(case: Case) -> Ruling | None:
    body = cast(e.TestRecorded, case.body)
    trial = case.step.trial
    if trial is None:
        return aside(Reason.NOT_HERE, what="test")
    choice = next((one for one in trial.choices if one.key == body.choice), None)
    if choice is None:
        return aside(Reason.NOT_HERE, what="observation")
    needs_reason = body.verdict != "sound" or not choice.passes
    if needs_reason and not body.reason.strip():
        return aside(Reason.NOT_FINISHED, missing="reason")
    return None


def fastener_here(case: Case) -> Ruling | None:
    return None if case.fastener is not None else aside(Reason.NOT_HERE, what="fastener")


def fastener_unsigned(case: Case) -> Ruling | None:
    signed = case.sheet.step(case.step_id).signatures.get(cast(e.SignedOff, case.body).fastener)
    return None if signed is None else _signed_already(case, signed)


def _signed_already(case: Case, signed: Signature) -> Ruling:
    """A second record, beside the first. Unequal values ask for a re-check."""
    body = cast(e.SignedOff | e.Countersigned, case.body)
    values = torques_of(case.table, case.packet, body, cast(Fastener, case.fastener))
    return aside(
        Reason.ALREADY_SIGNED,
        name=signed.mark.name,
        first=", ".join(signed.texts),
        second=", ".join(reading.typed for reading in body.readings),
        unequal=int(values != signed.values),
    )


def figure_counts(case: Case) -> Ruling | None:
    fastener = case.fastener
    if fastener is None or fastener.tighten is Pass.SNUG:
        return None
    if fastener.figure is None or not fastener.figure.stages:
        return aside(Reason.SPEC_UNVERIFIED, place=fastener.place, why="absent")
    if not fastener.figure.verified:
        return aside(Reason.SPEC_UNVERIFIED, place=fastener.place, why="not_compared")
    return None


def wrench_fit(case: Case) -> Ruling | None:
    fastener = case.fastener
    if fastener is None or fastener.tighten is Pass.SNUG:
        return None
    body = cast(e.SignedOff | e.Countersigned, case.body)
    wrench = case.packet.wrench_by_tag.get(body.wrench)
    if wrench is None:
        return aside(Reason.TOOL_UNFIT, tag=body.wrench, why="unknown")
    why = wrench_unfit(wrench, fastener, body, case.heard.heard_at_ms)
    return None if why is None else aside(Reason.TOOL_UNFIT, tag=wrench.tag, why=why, due=wrench.due_on)


def wrench_unfit(wrench: Wrench, fastener: Fastener, body: e.SignedOff | e.Countersigned, at_ms: int) -> str | None:
    """Why this wrench may not be used for this reading, or `None`."""
    if wrench.fault:
        return "fault"
    if _is_out_of_date(wrench, at_ms):
        return "out_of_date"
    if body.extension is not None:
        if wrench.length_um is None or wrench.length_um <= 0:
            return "length_unknown"
        if not extension_can_be(wrench, body.extension):
            return "extension"
    stages: tuple[Stage, ...] = fastener.figure.stages if fastener.figure else ()
    scale = [
        reading for stage, reading in zip(stages, body.readings, strict=False) if stage.target_mdeg is None
    ]  # what was read off the wrench; a further turn was not
    if wrench.unit and any(reading.unit != wrench.unit for reading in scale):
        return "unit"
    if not all(wrench.low_mnm <= reading.value <= wrench.high_mnm for reading in scale):
        return "out_of_range"
    return None


def _is_out_of_date(wrench: Wrench, at_ms: int) -> bool:
    if not wrench.due_on:
        return True
    return at_ms >= wrench.due_end_ms if wrench.due_end_ms is not None else date_of(at_ms) > wrench.due_on


def torque_fits(case: Case) -> Ruling | None:
    fastener = case.fastener
    if fastener is None:
        seen = cast(e.Countersigned, case.body).seen
        return None if seen.strip() else aside(Reason.NOT_FINISHED, missing="seen")
    body = cast(e.SignedOff | e.Countersigned, case.body)
    if is_one_time(fastener) and isinstance(body, e.SignedOff) and not body.new_part:
        return aside(Reason.NOT_FINISHED, missing="new_part")
    if fastener.tighten is Pass.SNUG:
        return aside(Reason.NOT_HERE, what="reading") if body.readings else None
    figure = fastener.figure
    if figure is None or len(body.readings) != len(figure.stages):
        return aside(Reason.NOT_FINISHED, missing="reading")
    values = torques_of(case.table, case.packet, body, fastener)
    for number, (stage, value, reading) in enumerate(zip(figure.stages, values, body.readings, strict=True)):
        if not stage_value_fits(stage, value):
            return aside(Reason.READING_OUTSIDE, typed=reading.typed, window=figure.text, stage=number, value=value)
    return None


def counter_wanted(case: Case) -> Ruling | None:
    body = cast(e.Countersigned, case.body)
    now = case.sheet.step(case.step_id)
    if body.fastener:
        if case.fastener is None:
            return aside(Reason.NOT_HERE, what="fastener")
        if body.fastener not in now.signatures:
            return aside(Reason.NOT_FINISHED, missing="first_reading")
        if body.fastener in now.counters:
            return _signed_already(case, now.counters[body.fastener])
        return None if case.fastener.tighten is Pass.FINAL else aside(Reason.NOT_HERE, what="countersign")
    if not case.step.countersign:
        return aside(Reason.NOT_HERE, what="countersign")
    if now.done is None:
        return aside(Reason.NOT_FINISHED, missing="done")
    return None if now.seen is None else aside(Reason.ALREADY_SIGNED, name=now.seen.name)


def second_person(case: Case) -> Ruling | None:
    """At a fastener, another than who signed it; for a look at the step, another than all who signed or closed it."""
    body = cast(e.Countersigned, case.body)
    now = case.sheet.step(case.step_id)
    if body.fastener:
        firsts = [now.signatures[body.fastener].mark]
    else:
        firsts = [cast(Mark, now.done), *(one.mark for _, one in in_order(now.signatures))]
    mine = next((mark for mark in firsts if mark.person == case.person), None)
    return None if mine is None else aside(Reason.SAME_PERSON, name=mine.name)


def parts_recorded(case: Case) -> Ruling | None:
    missing = missing_parts(case.sheet, case.step, cast(e.StepDone, case.body).new_parts)
    if missing:
        return aside(Reason.NOT_FINISHED, missing=missing[0][0], what=missing[0][1])
    outside = readings_outside(case.sheet, case.step_id)
    return None if not outside else aside(Reason.NOT_FINISHED, missing="reading_inside", what=outside[0])


# --- Questions about holds, notes, settling, closing --------------------------------------------------------------


def reason_given(case: Case) -> Ruling | None:
    given = cast(e.StepReopened | e.HoldPlaced | e.Settled, case.body).reason
    return None if given.strip() else aside(Reason.NOT_FINISHED, missing="reason")


def text_given(case: Case) -> Ruling | None:
    given = cast(e.NoteAdded, case.body).text
    return None if given.strip() else aside(Reason.NOT_FINISHED, missing="text")


def heir_named(case: Case) -> Ruling | None:
    body = cast(e.HandedOver, case.body)
    return None if body.to.strip() and body.to_name.strip() else aside(Reason.NOT_FINISHED, missing="to")


def is_begun(case: Case) -> Ruling | None:
    now = case.sheet.step(case.step_id)
    if now.done is not None or now.signatures or now.outcome is not None or now.readings:
        return None
    return aside(Reason.NOT_FINISHED, missing="done")


def hold_target_here(case: Case) -> Ruling | None:
    return None if case.step_id == "" else step_here(case)


note_target_here = hold_target_here


def hold_here(case: Case) -> Ruling | None:
    hold = case.sheet.holds.get(cast(e.HoldLifted, case.body).hold)
    return None if hold is not None and hold.lifted is None else aside(Reason.NOT_HERE, what="hold")


def hold_mine_or_foreman(case: Case) -> Ruling | None:
    """Only the hand that hung a tag takes it off; the foreman may, with a reason.

    Source: principle of 29 CFR 1910.147(e)(3).
    """
    body = cast(e.HoldLifted, case.body)
    hold = case.sheet.holds[body.hold]
    if hold.mark.person == case.person:
        return None
    if "foreman" not in case.heard.roles:
        return aside(Reason.HELD, hold=body.hold, name=hold.mark.name, why=hold.reason)
    return None if body.reason.strip() else aside(Reason.NOT_FINISHED, missing="reason")


def aside_here(case: Case) -> Ruling | None:
    body = cast(e.Settled, case.body)
    one = case.sheet.asides.get(body.aside)
    if one is None or body.outcome not in case.table.settle_outcomes:
        return aside(Reason.NOT_HERE, what="aside")
    return None if one.settled is None else aside(Reason.ALREADY_SIGNED, name=one.settled.name)


def readable_packet(case: Case) -> Ruling | None:
    """A packet belongs to this job, is read without loss, holds together, and is the next edition."""
    body = cast(e.PacketPinned, case.body)
    packet = read_packet(body)
    if packet is None:
        return aside(Reason.UNKNOWN_FORM, kind=case.heard.entry.kind)
    lost = why_not_read(body.packet, packet)
    if lost is not None:
        return aside(Reason.UNKNOWN_FORM, kind=case.heard.entry.kind, why=lost)
    now = case.sheet.packet.edition if case.sheet.packet else 0
    if packet.job != case.sheet.job or packet.edition != now + 1:
        return aside(Reason.STEP_CHANGED, seen=packet.edition, now=now)
    fault = why_not_pinned(packet, case.sheet.packet)
    return None if fault is None else aside(Reason.UNKNOWN_FORM, kind=case.heard.entry.kind, why=fault)


def all_closed(case: Case) -> Ruling | None:
    points = open_points(case.sheet)
    if not points:
        return None
    if all(point.kind == "second_person" for point in points):
        return aside(Reason.NEEDS_SECOND_PERSON, what=points[0].words, count=len(points))
    return aside(Reason.NOT_FINISHED, missing=points[0].kind, what=points[0].words, count=len(points))


QUESTIONS: Mapping[str, Callable[[Case], Ruling | None]] = {
    question.__name__: question
    for question in (
        form_known, job_here, role_fits, not_handed_back, packet_there, step_here, step_same, not_held, sheet_not_held,
        not_done, price_agreed, unlocked, support_right, load_right, counter_load_right, support_seen,
        counter_support_seen, gates_clear, counter_gates_clear, gate_here, gate_same, measure_here, measure_fits,
        trial_fits, fastener_here, fastener_unsigned, figure_counts, wrench_fit, torque_fits, counter_wanted,
        second_person, parts_recorded, reason_given, text_given, heir_named, is_begun, hold_target_here, hold_here,
        hold_mine_or_foreman, aside_here, readable_packet, all_closed,
    )
} | {"note_target_here": note_target_here}  # fmt: skip
