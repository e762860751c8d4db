"""An entry of the ledger in words: what somebody did, without who and when. For people who read a job's history.

Reads the body strictly; a form this version does not know is named as such and shown no further.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from app.domain import entry as e
from app.domain.entry import Entry, read_body
from app.domain.packet import Check, Fastener, Gate, Packet, Step
from app.domain.sheet import Sheet
from app.domain.view_parts import amount
from app.language.speech import _
from app.use_cases.handback_letter import as_typed


@dataclass(frozen=True, slots=True)
class Told:
    """What was done, in a clause that can follow a name; `details` are what was answered, typed or given as reason."""

    words: str
    details: tuple[str, ...] = ()


@dataclass(frozen=True)
class Teller:
    """Knows the names of things: those of every edition of a sheet, the newest last, and what hung or was set aside.

    word: a short word by "group.key", as `texts.word` gives it.
    """

    packets: tuple[Packet, ...]
    sheet: Sheet
    word: Callable[[str], str]
    _steps: Mapping[str, Step] = field(init=False)
    _gates: Mapping[str, Gate] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_steps", {one.id: one for packet in self.packets for one in packet.steps})
        object.__setattr__(self, "_gates", {one.id: one for packet in self.packets for one in packet.gates})

    def step(self, key: str) -> str:
        found = self._steps.get(key)
        return f"“{found.title}”" if found is not None else _("a step that is no longer there ({key})", key=key)

    def target(self, key: str) -> str:
        return self.step(key) if key else _("the whole sheet")

    def place(self, step: str, key: str) -> str:
        found = self._fastener(step, key)
        return f"“{found.place}”" if found is not None else key

    def _fastener(self, step: str, key: str) -> Fastener | None:
        found = self._steps.get(step)
        return next((one for one in found.fasteners if one.id == key), None) if found is not None else None

    def measure(self, step: str, key: str) -> str:
        found = self._steps.get(step)
        asks = [one.ask for one in found.measures if one.id == key] if found is not None else []
        return f"“{asks[0]}”" if asks else key

    def tell(self, entry: Entry) -> Told:
        return self.tell_body(read_body(entry), entry.kind)

    def tell_body(self, body: e.Body | None, kind: str) -> Told:
        match body:
            case None:
                return Told(_("sent something in a form this office does not know ({kind})", kind=kind))
            case e.PacketPinned(packet=packet):
                return Told(_("pinned edition {get} of the sheet", get=packet.get("edition", "")))
            case e.GateAnswered(gate=gate, answers=answers):
                return self._gate(gate, answers)
            case e.ReadingTaken(step=step, measure=measure, reading=reading):
                return Told(
                    _("measured {measure}", measure=self.measure(step, measure)),
                    (as_typed(reading.text, reading.unit),),
                )
            case e.TestRecorded():
                return self._test(body)
            case e.SignedOff(step=step, fastener=fastener):
                return Told(
                    _("signed off {place} at {step}", place=self.place(step, fastener), step=self.step(step)),
                    _torque(body),
                )
            case e.Countersigned(step=step, fastener=fastener) if fastener:
                return Told(
                    _("read {place} a second time at {step}", place=self.place(step, fastener), step=self.step(step)),
                    _torque(body),
                )
            case e.Countersigned(step=step, seen=seen):
                return Told(_("looked at {step} as second person", step=self.step(step)), _given(seen))
            case e.StepDone(step=step, new_parts=parts):
                return Told(_("closed {step}", step=self.step(step)), self._parts(step, parts))
            case e.StepReopened(step=step, reason=reason):
                return Told(_("opened {step} again", step=self.step(step)), _given(reason))
            case e.SupportChanged(state=state, axle=axle, bears=bears):
                at = f", {self.word(f'axle.{axle}')}" if state.startswith("stands") else ""
                return Told(_("put the vehicle {what}{at}", what=self.word(f"support.{state}"), at=at), _given(bears))
            case e.HoldPlaced(step=step, reason=reason):
                return Told(_("hung a hold tag on {target}", target=self.target(step)), _given(reason))
            case e.HoldLifted(hold=hold, reason=reason):
                hung = self.sheet.holds.get(hold)
                what = (
                    _("the hold tag “{reason}” of {name}", reason=hung.reason, name=hung.mark.name)
                    if hung is not None
                    else _("a hold tag")
                )
                return Told(_("took off {what}", what=what), _given(reason))
            case e.HandedOver(to_name=to_name, note=note):
                return Told(_("handed over to {to_name}", to_name=to_name), _given(note))
            case e.NoteAdded(step=step, text=text):
                return Told(_("noted on {target}", target=self.target(step)), _given(text))
            case e.PhotoAdded(step=step, name=name):
                return Told(_("added a photo to {target}", target=self.target(step)), _given(name))
            case e.Settled():
                return self._settled(body)
            case e.HandedBack(note=note):
                return Told(_("handed the job back"), _given(note))

    def _gate(self, key: str, answers: Mapping[str, e.Answer]) -> Told:
        gate = self._gates.get(key)
        checks = {one.id: one for one in gate.checks} if gate is not None else {}
        said = tuple(
            f"{checks[name].ask if name in checks else name} {_answer(checks.get(name), answer)}"
            for name, answer in answers.items()
        )
        return Told(_("answered the gate “{what}”", what=gate.title if gate is not None else key), said)

    def _test(self, body: e.TestRecorded) -> Told:
        step = self._steps.get(body.step)
        choices = step.trial.choices if step is not None and step.trial is not None else ()
        saw = next((one.words for one in choices if one.key == body.choice), body.choice)
        return Told(
            _("tested at {step}: {what}", step=self.step(body.step), what=self.word(f"verdict.{body.verdict}")),
            (saw, *_given(body.reason)),
        )

    def _parts(self, step: str, parts: Iterable[str]) -> tuple[str, ...]:
        found = self._steps.get(step)
        whats = {one.id: one.what for one in found.one_time} if found is not None else {}
        return tuple(_("new: {get}", get=whats.get(part, part)) for part in parts)

    def _settled(self, body: e.Settled) -> Told:
        one = self.sheet.asides.get(body.aside)
        whose = (
            _("what {name} had sent at {target}", name=one.mark.name, target=self.target(one.step))
            if one is not None
            else _("an entry")
        )
        return Told(
            _("settled {whose}: {what}", whose=whose, what=self.word(f"outcome.{body.outcome}")), _given(body.reason)
        )


def _given(text: str) -> tuple[str, ...]:
    return (text.strip(),) if text.strip() else ()


def _torque(body: e.SignedOff | e.Countersigned) -> tuple[str, ...]:
    """Readings as typed, the wrench, what was on it, whether the part is new: one line."""
    read = _(", then ").join(as_typed(one.text, one.unit) for one in body.readings)
    parts = [read or _("drawn up snug")]
    if body.wrench:
        parts.append(_("wrench {wrench}", wrench=body.wrench))
    if body.extension is not None:
        length, angle = body.extension.length_um // 1_000, body.extension.angle_deg
        parts.append(
            _("extension {length} mm", length=length) + (_(", {angle}° out of line", angle=angle) if angle else "")
        )
    if isinstance(body, e.SignedOff) and body.new_part:
        parts.append(_("new part"))
    return (" · ".join(parts),)


def _answer(check: Check | None, answer: e.Answer) -> str:
    if answer.choice:
        choices = check.choices if check is not None else ()
        return next((one.words for one in choices if one.key == answer.choice), answer.choice)
    if answer.ready is not None:
        return _("Yes") if answer.ready else _("No")
    if answer.text:
        return as_typed(answer.text, answer.unit)
    return amount(check.dimension, answer.value or 0, check.unit) if check is not None else str(answer.value)
