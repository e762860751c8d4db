"""One step of a sheet: folded to a line, or in hand as the card with everything that is asked of it."""

from __future__ import annotations

from collections.abc import Sequence

from app.domain.bounce import SWINGS
from app.domain.findings import findings
from app.domain.packet import Axle, Fastener, Line, Measure, Pass, Step, Trial, Verdict
from app.domain.sheet import Aside, Hold, Note, StepNow, Taken, in_order
from app.domain.standing import (
    asked_gates,
    is_critical,
    missing_parts,
    price_bars,
    readings_outside,
    supported,
    waits_for,
    waits_for_second,
)
from app.domain.view_bar import bar_view
from app.domain.view_compared import NOTHING, compared_here, taken_text
from app.domain.view_gate import gate_view, reckoned_view, standing_of, units_for
from app.domain.view_parts import Scene, View, choice_view, field_view, form_view, mark_view, where_of
from app.domain.view_photo import photo_form, photos_view
from app.domain.view_torque import fastener_view, gates_for_second, stage_bar

# --- A step as a line ---------------------------------------------------------------------------------------------


def row_view(scene: Scene, step: Step, number: int, hand: str) -> View:
    """A step folded to a line: what it is, how far it is, and once done the value, the name and the time."""
    now = scene.sheet.step(step.id)
    waits = waits_for_second(scene.sheet, step)
    photos = photos_view(scene, now.notes)
    return {
        "id": step.id,
        "number": str(number),
        "name": step.title,
        "place": place_words(scene, step),
        "mark": mark_of(scene, step),
        "link": f"{scene.step_address(step.id)}#in-hand",
        "is_hand": step.id == hand,
        "is_done": now.done is not None,
        "begun": now.done is None and bool(now.readings or now.signatures or now.outcome),
        "values_words": values_words(scene, step, now),
        "by": now.done.name if now.done else "",
        "at": scene.voice.when(now.done.at_ms) if now.done else "",
        "where": where_of(scene, now.done.entry) if now.done else "",
        "waits_for_second": bool(waits),
        "reopened": now.done is None and bool(now.reopened),
        "photos": photos,
        "photos_shown": bool(photos),
    }


def mark_of(scene: Scene, step: Step) -> str:
    """The castle nut of a step: empty, open, shut, held, done, signed."""
    now = scene.sheet.step(step.id)
    if any(hold.step == step.id and hold.lifted is None for hold in scene.sheet.holds.values()):
        return "held"
    if now.done is not None:
        secured = bool(step.countersign or any(one.tighten is Pass.FINAL for one in step.fasteners))
        return "signed" if secured and not waits_for_second(scene.sheet, step) else "done"
    if waits_for(scene.sheet, step) is not None:
        return "empty"
    if scene.sheet.open_hold("") is not None:
        return "held"
    if price_bars(scene.sheet, step) is not None:
        return "shut"
    shut = any(standing_of(scene, gate) is not None for gate in asked_gates(scene.sheet, step))
    return "shut" if shut else "open"


def place_words(scene: Scene, step: Step) -> str:
    if step.corner in ("left", "right") and step.axle is not Axle.BOTH:
        return scene.word("corner", f"{step.axle}_{step.corner}")
    return scene.word("corner", step.corner) if step.corner else scene.word("axle", str(step.axle))


def values_words(scene: Scene, step: Step, now: StepNow) -> str:
    """What was recorded, in few words: readings, verdict, torques."""
    words = [taken_text(measure, now.readings[measure.id]) for measure in step.measures if measure.id in now.readings]
    if now.outcome is not None:
        asked = step.trial is not None and step.trial.is_question
        words.append(_saw(step.trial, now) if asked else scene.word("verdict", str(now.outcome.verdict)))
    for one in step.fasteners:
        if one.id in now.signatures:
            signature = now.signatures[one.id]
            words.append(", ".join(signature.texts) or scene.word("pass_done", str(signature.tighten)))
    return " · ".join(words)


# --- The step in hand ---------------------------------------------------------------------------------------------


def hand_view(scene: Scene, step: Step, number: int) -> View:
    """The card in hand. Its text is readable, and its fields are there, only where every gate stands open."""
    sheet = scene.sheet
    now = sheet.step(step.id)
    gates = asked_gates(sheet, step)
    done = now.done is not None
    first = waits_for(sheet, step)
    held = sheet.open_hold(step.id) is not None
    right = supported(sheet.support, step.axle, step.supports)
    second = any(one.id in now.signatures and one.place in waits_for_second(sheet, step) for one in step.fasteners)
    shut = [gate for gate in gates if standing_of(scene, gate) is not None]
    if done:
        shut = gates_for_second(scene, step) if second else []
    bars = price_bars(sheet, step) if not done else None
    may_begin = first is None and not held and right and bars is None
    open_here = may_begin and not done and not shut and scene.may("step_done")
    asking = shut[0].id if may_begin and shut else ""
    photos = photos_view(scene, now.notes)
    missing = [
        *missing_parts(sheet, step, tuple(one.id for one in step.one_time)),
        *(("reading_inside", typed) for typed in readings_outside(sheet, step.id)),
    ]
    return {
        "shown": True,
        "id": step.id,
        "number": str(number),
        "name": step.title,
        "place": place_words(scene, step),
        "mark": mark_of(scene, step),
        "is_done": done,
        "done": mark_view(scene, now.done),
        "readable": done or not shut,
        "open_here": open_here,
        "tags": tags_view(scene, step.id),
        "waits": _waits(scene, first if not done else None),
        "price": _price(scene, bars),
        "held_wrong": _held_wrong(scene, step, not done and first is None and not right),
        "barriers": [gate_view(scene, gate, step, asked=gate.id == asking) for gate in shut],
        "cleared": [gate_view(scene, gate, step, asked=False) for gate in gates if gate not in shut and not done],
        "gate_hold": _hold_form(scene, step.id, "gate-hold") if shut else {},
        "instructions": [one for one in step.do.split("\n") if one.strip()],
        "why": step.why,
        "caution": step.caution,
        "reckoned": [reckoned_view(one.label, one.text, one.inputs, one.certainty) for one in step.reckoned],
        "tools": list(step.tools),
        "tools_shown": bool(step.tools),
        "photo": step.photo,
        "measures": _measures(scene, step, now, open_here),
        "trial": _trial(scene, step, step.trial, now, open_here) if step.trial is not None else {"shown": False},
        "fasteners": [_fastener(scene, step, one, open_here) for one in step.fasteners],
        "asides": [aside_view(scene, key, one) for key, one in in_order(sheet.asides) if _shown_apart(one, step)],
        "new_parts": [one.what for one in step.one_time if one.id in now.new_parts],
        "finish": _finish(scene, step, now, open_here, missing),
        "second": _second_look(scene, step, now),
        "reopen": _reopen(scene, step, now),
        "reopened": [note_view(scene, one) for one in now.reopened],
        "notes": [note_view(scene, one) for one in now.notes if not one.photo],
        "photos": photos,
        "photos_shown": bool(photos),
        "note": _note_form(scene, step.id),
        "photo_form": photo_form(scene, step.id),
        "hold": _hold_form(scene, step.id, "step-hold"),
    }  # fmt: skip


def _of_step(one: Aside, step: Step) -> bool:
    return one.settled is None and one.step == step.id


def _shown_apart(one: Aside, step: Step) -> bool:
    """What was set aside at this step, but for readings outside: those stand at their joint."""
    at_joint = any(_read_outside(one, step, fastener) for fastener in step.fasteners)
    return _of_step(one, step) and not at_joint


def _waits(scene: Scene, first: Step | None) -> View:
    if first is None:
        return {"shown": False, "name": "", "link": ""}
    return {"shown": True, "name": first.title, "link": f"{scene.step_address(first.id)}#in-hand"}


def _price(scene: Scene, line: Line | None) -> View:
    """Why the price of the line keeps this step shut."""
    if line is None:
        return {"shown": False, "words": ""}
    details: dict[str, str | int] = {"line": line.title, "why": str(line.price), "edition": line.price_edition}
    return {"shown": True, "words": scene.voice.say("price_waits", details)}


def _held_wrong(scene: Scene, step: Step, shown: bool) -> View:
    """The vehicle is not held the way this step needs: how it has to be."""
    wanted = [scene.word("support", str(state)) for state in step.supports]
    return {"shown": shown, "wanted": wanted, "axle": scene.word("axle", str(step.axle))}


# --- What is recorded ---------------------------------------------------------------------------------------------


def _measures(scene: Scene, step: Step, now: StepNow, open_here: bool) -> View:
    """Every value of the step in one form: what is typed into it is sent together, each as an entry of its own."""
    key = "measures"
    packet = scene.sheet.packet
    rows = [_measure(scene, key, measure, now.readings.get(measure.id)) for measure in step.measures]
    may = open_here and scene.may("reading_taken")
    ids = [(f"entry.{measure.id}", scene.voice.new_id()) for measure in step.measures] if may else []
    return {
        "shown": bool(rows),
        "rows": rows,
        "findings": _findings(scene, step, now),
        "compared": compared_here(scene, packet, step) if packet is not None and rows else NOTHING,
        "open": may,
        "one": len(rows) == 1,
        "form": form_view(scene, key, "reading_taken", [("step", step.id), ("basis_step", step.revision), *ids]),
    }


def _findings(scene: Scene, step: Step, now: StepNow) -> list[View]:
    """What the readings so far say together, in the lines that computed values have."""
    asked = {measure.id: measure for measure in step.measures}
    return [
        {
            "label": scene.word("finding", one.key),
            "text": one.text,
            "inputs": ", ".join(taken_text(asked[name], now.readings[name]) for name in one.made_from),
            "certainty": "",
        }
        for one in findings(step, now.readings)
    ]


def _measure(scene: Scene, form: str, measure: Measure, taken: Taken | None) -> View:
    text = taken_text(measure, taken) if taken is not None else ""
    counted = measure.unit == "1"
    return {
        "id": measure.id,
        "anchor": f"{form}-{measure.id}",
        "ask": measure.ask,
        "required": measure.required,
        "window": measure.window_text,
        "source": measure.source,
        "taken": mark_view(scene, taken.mark if taken is not None else None),
        "text": text,
        "outside": taken is not None and taken.within is False,
        "bounces": measure.id == SWINGS,
        "trace": field_view(scene, form, f"trace.{measure.id}", "")["typed"],
        "bar": bar_view(
            measure.dimension,
            measure.unit,
            measure.low,
            measure.high,
            reading=taken.value if taken is not None else None,
            reading_text=text,
        ),
        "field": field_view(
            scene, form, f"value.{measure.id}", measure.ask, hint=measure.window_text,
            unit="" if counted else measure.unit, units=() if counted else units_for(measure.dimension, measure.unit),
        ),
    }  # fmt: skip


def _trial(scene: Scene, step: Step, trial: Trial, now: StepNow, open_here: bool) -> View:
    key = "trial"
    outcome, asks = now.outcome, trial.is_question
    verdicts = [(str(one), scene.word("verdict", str(one))) for one in Verdict]
    return {
        "shown": True,
        "against": trial.against,
        "open": open_here and scene.may("test_recorded"),
        "recorded": mark_view(scene, outcome.mark if outcome is not None else None),
        "saw": _saw(trial, now),
        "verdict": str(outcome.verdict) if outcome is not None else "",
        "verdict_words": scene.word("verdict", str(outcome.verdict)) if outcome is not None and not asks else "",
        "reason": outcome.reason if outcome is not None else "",
        "form": form_view(scene, key, "test_recorded", [("step", step.id), ("basis_step", step.revision)]),
        "saw_choice": choice_view(
            scene, key, "choice", trial.part if asks else scene.word("ask", "find"),
            [(one.key, one.words) for one in trial.choices],
        ),
        "asks_verdict": not asks,
        "verdict_choice": choice_view(scene, key, "verdict", scene.word("ask", "verdict"), verdicts),
        "reason_field": field_view(scene, key, "reason", scene.word("ask", "reason_customer")) if asks else field_view(
            scene, key, "reason", scene.word("ask", "reason"), hint=scene.word("ask", "reason_hint")
        ),
    }  # fmt: skip


def _saw(trial: Trial | None, now: StepNow) -> str:
    choices = trial.choices if trial is not None and now.outcome is not None else ()
    return next((one.words for one in choices if now.outcome is not None and one.key == now.outcome.choice), "")


def _fastener(scene: Scene, step: Step, fastener: Fastener, open_here: bool) -> View:
    view = fastener_view(scene, step, fastener, open_here=open_here)
    asides = [one for _, one in in_order(scene.sheet.asides) if _read_outside(one, step, fastener)]
    outside = [_outside(scene, fastener, one) for one in asides]
    return {**view, "outside": outside, "outside_shown": any(one["bar"]["shown"] for one in outside)}


def _read_outside(one: Aside, step: Step, fastener: Fastener) -> bool:
    return _of_step(one, step) and one.target == fastener.id and one.reason == "reading_outside"


def _outside(scene: Scene, fastener: Fastener, one: Aside) -> View:
    """A reading outside the window: on record, with its tick beyond the bar where its value at the joint is known."""
    stage, value = one.details.get("stage"), one.details.get("value")
    figure = fastener.figure
    known = figure is not None and isinstance(stage, int) and isinstance(value, int) and 0 <= stage < len(figure.stages)
    bar = stage_bar(figure, figure.stages[stage], value, "") if known else bar_view("torque", "N·m", None, None)  # type: ignore[union-attr,index,arg-type]
    return {
        "typed": str(one.details.get("typed", "")),
        "name": one.mark.name,
        "at": scene.voice.when(one.mark.at_ms),
        "where": where_of(scene, one.mark.entry),
        "bar": bar,
    }


# --- Finishing, second looks, opening again -----------------------------------------------------------------------


def _finish(scene: Scene, step: Step, now: StepNow, open_here: bool, missing: Sequence[tuple[str, str]]) -> View:
    key = "done"
    parts = [one for one in step.one_time if one.id not in now.new_parts]
    return {
        "shown": now.done is None and open_here,
        "ready": not missing,
        "missing": [{"kind": kind, "words": words} for kind, words in missing],
        "parts": [field_view(scene, key, f"part.{one.id}", one.what) for one in parts],
        "parts_shown": bool(parts),
        "form": form_view(scene, key, "step_done", [("step", step.id), ("basis_step", step.revision)]),
    }


def _second_look(scene: Scene, step: Step, now: StepNow) -> View:
    """A second person's own look at the whole step, where one is wanted."""
    key = "look"
    wanted = step.countersign and now.done is not None and now.seen is None
    own = _has_signed(scene, now)
    return {
        "shown": step.countersign and now.done is not None,
        "seen": mark_view(scene, now.seen),
        "text": now.seen_text,
        "other_person": wanted and own,
        "open": wanted and not own and scene.may("countersigned"),
        "form": form_view(
            scene, key, "countersigned", [("step", step.id), ("basis_step", step.revision), ("fastener", "")]
        ),
        "field": field_view(scene, key, "seen", scene.word("ask", "seen"), hint=scene.word("ask", "seen_hint")),
    }


def _has_signed(scene: Scene, now: StepNow) -> bool:
    """Whether this person closed the step or signed something in it, and so cannot be its second person."""
    marks = [*([now.done] if now.done is not None else []), *(one.mark for one in now.signatures.values())]
    return any(mark.person == scene.viewer.person for mark in marks)


def needs_other_person(scene: Scene, step: Step) -> bool:
    """Whether something here waits for somebody else than who is signed in."""
    now = scene.sheet.step(step.id)
    if step.countersign and now.done is not None and now.seen is None and _has_signed(scene, now):
        return True
    return any(
        is_critical(one) and one.tighten is Pass.FINAL and one.id in now.signatures and one.id not in now.counters
        and now.signatures[one.id].mark.person == scene.viewer.person
        for one in step.fasteners
    )  # fmt: skip


def _reopen(scene: Scene, step: Step, now: StepNow) -> View:
    key = "reopen"
    begun = now.done is not None or bool(now.signatures or now.readings) or now.outcome is not None
    return {
        "shown": begun and scene.may("step_reopened"),
        "form": form_view(scene, key, "step_reopened", [("step", step.id), ("basis_step", step.revision)]),
        "field": field_view(scene, key, "reason", scene.word("ask", "again")),
    }


# --- Tags, notes, what was set aside ------------------------------------------------------------------------------


def _hold_form(scene: Scene, step: str, key: str) -> View:
    return {
        "shown": scene.may("hold_placed"),
        "form": form_view(scene, key, "hold_placed", [("step", step)]),
        "field": field_view(scene, key, "reason", scene.word("ask", "hold")),
    }


def hold_form(scene: Scene) -> View:
    """The form that hangs a tag on the whole sheet."""
    return _hold_form(scene, "", "sheet-hold")


def note_view(scene: Scene, note: Note) -> View:
    mark = mark_view(scene, note.mark)
    return {"text": note.text, "name": mark["name"], "at": mark["at"], "where": mark["where"]}


def tags_view(scene: Scene, step: str) -> list[View]:
    """The tags that hang on this step, or (step "") on the whole sheet."""
    holds = in_order(scene.sheet.holds)
    return [tag_view(scene, key, hold) for key, hold in holds if hold.step == step and hold.lifted is None]


def tag_view(scene: Scene, key: str, hold: Hold) -> View:
    """A hold tag that hangs. Who hung it takes it off; a foreman may, with a reason."""
    mine = hold.mark.person == scene.viewer.person
    lifts = scene.may("hold_lifted") and (mine or "foreman" in scene.viewer.roles)
    form = f"lift-{key}"
    return {
        "id": key,
        "reason": hold.reason,
        "name": hold.mark.name,
        "at": scene.voice.when(hold.mark.at_ms),
        "where": where_of(scene, hold.mark.entry),
        "mine": mine,
        "lifts": lifts,
        "form": form_view(scene, form, "hold_lifted", [("hold", key)]),
        "field": field_view(
            scene,
            form,
            "reason",
            scene.word("ask", "lift"),
            hint="" if mine else scene.voice.say("shown.reads_after", {"name": hold.mark.name}),
        ),
    }


def _note_form(scene: Scene, step: str) -> View:
    key = "step-note" if step else "sheet-note"
    return {
        "shown": scene.may("note_added"),
        "form": form_view(scene, key, "note_added", [("step", step)]),
        "field": field_view(scene, key, "text", scene.word("ask", "note")),
    }


def note_form(scene: Scene) -> View:
    """The form for a note about the whole sheet."""
    return _note_form(scene, "")


def aside_view(scene: Scene, key: str, one: Aside) -> View:
    """What was set aside: the sentence that was given, and what now."""
    packet = scene.sheet.packet
    step = packet.step_by_id.get(one.step) if packet else None
    itself = one.reason in scene.table.settles_itself
    return {
        "id": key,
        "kind_words": scene.word("kind", one.kind),
        "step_name": step.title if step is not None else "",
        "link": f"{scene.step_address(one.step)}#in-hand" if step is not None else "",
        "linked": step is not None,
        "words": scene.voice.say(one.reason, one.details),
        "now_words": scene.word("aside_now", "itself" if itself else "foreman"),
        "name": one.mark.name,
        "mine": one.mark.person == scene.viewer.person,
        "at": scene.voice.when(one.mark.at_ms),
        "where": where_of(scene, one.mark.entry),
    }
