"""A gate as a barrier across the card: its questions, what was answered, why it has to be answered again."""

from __future__ import annotations

from app.domain.packet import Check, CheckKind, Gate, Step
from app.domain.sheet import GateNow, Said
from app.domain.standing import answers_go_on, gate_state
from app.domain.view_parts import Scene, View, amount, choice_view, field_view, form_view, where_of


def gate_view(scene: Scene, gate: Gate, step: Step, *, asked: bool) -> View:
    """One gate for this person now. `asked`: its questions are put; else it only shows that it comes.

    Nothing is ever filled in beforehand, not even on asking again.
    """
    now = scene.sheet.gates.get(gate.id)
    state = standing_of(scene, gate)
    counts = now if now is not None and _still_counts(scene, gate, now) else None
    key = f"gate-{gate.id}"
    said = counts.answers if counts is not None else {}
    checks = [_check(scene, key, check, said.get(check.id)) for check in gate.checks]
    refusal = next((one for one in checks if one["refused"]), None)
    open_checks = [one for one in checks if not one["passed"]]
    return {
        "id": gate.id,
        "anchor": key,
        "name": gate.title,
        "signal": str(gate.signal),
        "signal_word": scene.word("signal", str(gate.signal)),
        "symbol": gate.symbol,
        "intro": gate.intro,
        "reckoned": [reckoned_view(one.label, one.text, one.inputs, one.certainty) for one in gate.reckoned],
        "is_open": state is None,
        "again": _again(scene, gate, now, state),
        "asked": asked and state is not None,
        "may": scene.may("gate_answered"),
        "checks": checks,
        "progress": scene.voice.say("shown.clear", {"done": len(checks) - len(open_checks), "total": len(checks)}),
        "last_one": len(open_checks) == 1,
        "refused": refusal is not None,
        "stuck": any(one["needs"] for one in checks),
        "form": form_view(
            scene,
            key,
            "gate_answered",
            [("gate", gate.id), ("look", step.id), ("basis_gate", now.revision if now is not None else 0)],
        ),
        "cleared": _cleared(scene, gate, now) if state is None and now is not None else "",
    }


def reckoned_view(label: str, text: str, inputs: str, certainty: str) -> View:
    return {"label": label, "text": text, "inputs": inputs, "certainty": certainty}


def standing_of(scene: Scene, gate: Gate) -> str | None:
    """How the gate stands for who looks: someone who does not work on it sees it as the one who cleared it does."""
    person = scene.viewer.person if scene.may("gate_answered") else None
    return gate_state(scene.sheet, gate.id, person, scene.now_ms)


def _still_counts(scene: Scene, gate: Gate, now: GateNow) -> bool:
    return answers_go_on(scene.sheet, gate, now, scene.viewer.person, scene.now_ms)


def _check(scene: Scene, form: str, check: Check, said: Said | None) -> View:
    passed = said is not None and said.passes
    name = f"answer.{check.id}"
    view: View = {
        "id": check.id,
        "anchor": f"{form}-{check.id}",
        "kind": str(check.kind),
        "ask": check.ask,
        "answered": said is not None,
        "passed": passed,
        "refused": said is not None and not passed,
        "answer": _answer_words(scene, check, said) if said is not None else "",
        "where": where_of(scene, said.entry) if said is not None else "",
        "otherwise": check.otherwise,
        "needs": check.needs_input,
        "halves": check.halve_unless is not None,
        "choice": {},
        "field": {},
    }
    match check.kind:
        case CheckKind.SEEN:
            view["choice"] = choice_view(scene, form, name, check.ask, [(one.key, one.words) for one in check.choices])
        case CheckKind.READY:
            view["choice"] = choice_view(
                scene,
                form,
                name,
                check.ask,
                [("yes", scene.word("ask", "yes")), ("no", scene.word("ask", "not_ready"))],
            )
        case CheckKind.VALUE:
            hint = scene.voice.say("shown.needed", {"limit": check.limit_text}) if check.limit_text else ""
            view["field"] = field_view(
                scene, form, name, check.ask, hint=hint, unit=check.unit, units=units_for(check.dimension, check.unit)
            )
    return view


# The last day but one that a date can name, so that it can be named in any zone (9999-12-30, 00:00 UTC).
LAST_MS = 253_402_128_000_000

UNITS = {
    "torque": ("N·m", "lbf·ft"),
    "length": ("mm", "in"),
    "mass": ("kg", "lb"),
    "force": ("N", "kN", "lbf"),
    "pressure": ("kPa", "bar", "psi"),
    "angle": ("°",),
    "duration": ("min", "s"),
}


def units_for(dimension: str, unit: str) -> tuple[str, ...]:
    """The units a keypad offers: the one asked in first, then what else is printed on scales of its kind."""
    return tuple(dict.fromkeys((unit, *UNITS.get(dimension, ()))))


def _answer_words(scene: Scene, check: Check, said: Said) -> str:
    match check.kind:
        case CheckKind.SEEN:
            return next((one.words for one in check.choices if one.key == said.choice), said.choice)
        case CheckKind.READY:
            return scene.word("ask", "yes" if said.ready else "not_ready")
        case CheckKind.VALUE:
            return said.text or (amount(check.dimension, said.value, check.unit) if said.value is not None else "")


def _again(scene: Scene, gate: Gate, now: GateNow | None, state: str | None) -> View:
    """Why a gate that was answered has to be answered again, in a sentence; nothing for one never begun."""
    words = ""
    if now is not None and state not in (None, "shut"):
        details: dict[str, str | int] = {
            "name": now.name,
            "at": scene.voice.when(now.cleared_at_ms or now.began_at_ms),
            "minutes": gate.stale_after_s // 60,
        }
        words = scene.voice.say(f"gate_again.{'handed_over' if now.handed_over else state}", details)
    elif now is not None and state == "shut" and not _still_counts(scene, gate, now):
        words = scene.voice.say("gate_again.begun", {"name": now.name, "at": scene.voice.when(now.began_at_ms)})
    return {"shown": bool(words), "words": words}


def _cleared(scene: Scene, gate: Gate, now: GateNow) -> str:
    details: dict[str, str | int] = {
        "name": now.name,
        "at": scene.voice.when(now.cleared_at_ms or 0),
        "until": scene.voice.when(min(now.began_at_ms + gate.stale_after_s * 1_000, LAST_MS)),
    }
    return scene.voice.say("gate_cleared.support" if gate.follows_support else "gate_cleared", details)
