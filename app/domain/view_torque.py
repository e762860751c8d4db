"""A fastener on the card: its figure and where it came from, the wrench, the setting with an extension, the readings.

Nothing here decides whether a sign-off counts; the same questions the rules ask are asked to show what would.
"""

from __future__ import annotations

from fractions import Fraction

from app.domain import entry as e
from app.domain.dates import date_words
from app.domain.packet import Fastener, Figure, Gate, Pass, Stage, Step, Wrench
from app.domain.questions import wrench_unfit
from app.domain.sheet import Signature
from app.domain.standing import asked_gates, gate_state, is_critical, is_one_time, supported
from app.domain.torque import setting_for
from app.domain.view_bar import bar_view, limit_text
from app.domain.view_gate import units_for
from app.domain.view_parts import Scene, View, field_view, form_view, mark_view
from app.trade.problems import TradeProblem
from app.trade.quantity import Dimension
from app.trade.units import amount_in, parse_quantity, quantity_of, show


def fastener_view(scene: Scene, step: Step, fastener: Fastener, *, open_here: bool) -> View:
    """One fastener. `open_here`: the step can be worked on by this person now."""
    now = scene.sheet.step(step.id)
    signed, counter = now.signatures.get(fastener.id), now.counters.get(fastener.id)
    mode = _mode(scene, step, fastener, open_here)
    hand = _in_hand(scene, step, fastener, mode) if mode in ("sign", "second") else None
    key = form_key(scene, mode, fastener)
    return {
        "id": fastener.id,
        "anchor": f"fastener-{fastener.id}",
        "place": fastener.place,
        "pass_words": scene.word("pass", str(fastener.tighten)),
        "thread": _first(fastener.thread, fastener.figure.thread if fastener.figure else ""),
        "strength": _first(fastener.strength, fastener.figure.strength if fastener.figure else ""),
        "lubrication": _first(fastener.lubrication, fastener.figure.lubrication if fastener.figure else ""),
        "castellated": fastener.castellated,
        "critical": is_critical(fastener) and fastener.tighten is Pass.FINAL,
        "new_part": is_one_time(fastener),
        "load_words": " or ".join(scene.word("support", str(state)) for state in fastener.load_states),
        "figure": _figure(scene, fastener.figure),
        "mode": mode,
        "signed": _signature(scene, fastener, signed),
        "counter": _signature(scene, fastener, counter),
        "waits_for_second": signed is not None and counter is None and is_critical(fastener) and not _is_snug(fastener),
        "wrench_chosen": hand is not None,
        "hand": hand if hand is not None else {},
        "wrenches": wrenches_view(scene, step, fastener) if mode in ("sign", "second") and hand is None else {},
        "form": form_view(
            scene,
            key,
            "countersigned" if mode == "second" else "signed_off",
            [("step", step.id), ("basis_step", step.revision), ("fastener", fastener.id)],
        ),
        "new_field": field_view(scene, key, "new_part", scene.voice.say("shown.new_part", {"part": fastener.place})),
    }


def form_key(scene: Scene, mode: str, fastener: Fastener) -> str:
    """The form's name on the page. The wrench is part of it: what one wrench read is never taken for another's."""
    wrench = scene.look.wrench if scene.look.fastener == fastener.id else ""
    return "-".join(part for part in ("second" if mode == "second" else "sign", fastener.id, wrench) if part)


def _first(*texts: str) -> str:
    return next((text for text in texts if text), "")


def _is_snug(fastener: Fastener) -> bool:
    return fastener.tighten is Pass.SNUG


def _mode(scene: Scene, step: Step, fastener: Fastener, open_here: bool) -> str:
    """What can be done here now: sign, second, or shown only.

    snug: draw up. sign, second: a first or second reading. other_person: the second has to come from someone else.
    no_figure, not_compared: nothing can be signed. load: the vehicle is not held right for this pass. gate: how it is
    held has to be checked again first. rest: look only.
    """
    now = scene.sheet.step(step.id)
    if fastener.id in now.signatures:
        return _second_mode(scene, step, fastener)
    if not _is_snug(fastener) and fastener.figure is None:
        return "no_figure"
    if not _is_snug(fastener) and fastener.figure is not None and not fastener.figure.verified:
        return "not_compared"
    if not open_here or not scene.may("signed_off"):
        return "rest"
    if not supported(scene.sheet.support, step.axle, fastener.load_states):
        return "load"
    return "snug" if _is_snug(fastener) else "sign"


def _second_mode(scene: Scene, step: Step, fastener: Fastener) -> str:
    now = scene.sheet.step(step.id)
    if _is_snug(fastener) or not is_critical(fastener) or fastener.id in now.counters:
        return "signed"
    if now.signatures[fastener.id].mark.person == scene.viewer.person:
        return "other_person"
    if not scene.may("countersigned") or scene.sheet.open_hold(step.id) is not None:
        return "rest"
    if not supported(scene.sheet.support, step.axle, fastener.load_states):
        return "load"
    return "gate" if gates_for_second(scene, step) else "second"


def gates_for_second(scene: Scene, step: Step) -> list[Gate]:
    """The gates about how the vehicle is held that have to stand open, answered by anyone, before a second reading."""
    return [
        gate
        for gate in asked_gates(scene.sheet, step)
        if gate.follows_support and gate_state(scene.sheet, gate.id, None, scene.now_ms) is not None
    ]


def _figure(scene: Scene, figure: Figure | None) -> View:
    """The figure with its source. One that nobody has compared yet shows its source alone.

    The second person reads the source without having seen what the first one typed: shown here, it would be copied.
    """
    if figure is None:
        return {"shown": False, "compared": False, "text": "", "source": "", "stages": []}
    if not figure.verified:
        return {"shown": True, "compared": False, "text": "", "source": figure.source, "stages": []}
    staged = len(figure.stages) > 1
    return {
        "shown": True,
        "compared": True,
        "text": figure.text,
        "source": figure.source,
        "stages": [
            {
                "name": scene.voice.say("shown.stage", {"number": number}) if staged else "",
                "text": stage.text if staged else "",
                "bar": stage_bar(figure, stage, None, ""),
            }
            for number, stage in enumerate(figure.stages, 1)
        ],
    }


def stage_bar(figure: Figure, stage: Stage, value: int | None, text: str) -> View:
    """The window of one stage, with the value that was reached at the fastener if there is one."""
    if stage.target_mdeg is not None:
        return bar_view(
            "angle", "°", stage.low_mdeg, stage.high_mdeg, target=stage.target_mdeg, reading=value, reading_text=text
        )
    return bar_view(
        "torque", figure.unit, stage.low_mnm, stage.high_mnm, target=stage.target_mnm, reading=value, reading_text=text
    )


def _signature(scene: Scene, fastener: Fastener, signature: Signature | None) -> View:
    mark = mark_view(scene, signature.mark if signature else None)
    if signature is None:
        return {**mark, "words": "", "wrench": "", "extension": "", "bars": [], "new_part": False}
    figure = fastener.figure
    stages = figure.stages if figure is not None else ()
    bars = []
    if figure is not None:
        for stage, value, text in zip(stages, signature.values, signature.texts, strict=False):
            # With an extension the reading is not what the joint got: the bar shows the joint.
            bars.append(stage_bar(figure, stage, value, "" if signature.extension_um else text))
    return {
        **mark,
        "words": ", ".join(signature.texts) or scene.word("pass_done", str(signature.tighten)),
        "wrench": signature.wrench,
        "extension": _extension_words(scene, signature.extension_um, signature.extension_deg)
        if signature.extension_um
        else "",
        "bars": bars,
        "new_part": signature.new_part,
    }


def _extension_words(scene: Scene, length_um: int, angle_deg: int) -> str:
    length = limit_text("length", length_um, "mm", up=True)
    return scene.voice.say("shown.at_angle", {"length": length, "angle": angle_deg})


# --- The wrench ---------------------------------------------------------------------------------------------------


def wrenches_view(scene: Scene, step: Step, fastener: Fastener) -> View:
    """The packet's wrenches: those that may be used for this figure, and the others with the reason."""
    packet = scene.sheet.packet
    fit: list[View] = []
    unfit: list[View] = []
    for wrench in packet.wrenches if packet else ():
        why = unfit_for(scene, step, fastener, wrench, None)
        row = {
            "tag": wrench.tag,
            "name": wrench.name,
            "reach": _range_words(scene, wrench),
            "due": date_words(wrench.due_on, scene.voice.word),
            "link": f"{scene.step_address(step.id, at=fastener.id, wrench=wrench.tag)}#fastener-{fastener.id}",
            "why": scene.voice.say(f"wrench_unfit.{why}", _unfit_details(scene, wrench)) if why is not None else "",
        }
        (unfit if why is not None else fit).append(row)
    return {
        "fit": fit,
        "none_fits": not fit,
        "unfit": unfit,
        "some_unfit": bool(unfit),
        "need": _need_words(scene, fastener),
    }


def unfit_for(
    scene: Scene, step: Step, fastener: Fastener, wrench: Wrench, extension: e.Extension | None
) -> str | None:
    """Why the rules would not take this wrench at this figure, or `None`: asked with the reading it should give."""
    stages = fastener.figure.stages if fastener.figure else ()
    readings = tuple(
        e.Reading(_reading_wanted(scene, stage, wrench, extension) or 0, unit=wrench.unit) for stage in stages
    )
    body = e.SignedOff(step.id, fastener.id, readings, wrench.tag, extension)
    return wrench_unfit(wrench, fastener, body, scene.now_ms)


def _middle(stage: Stage) -> int | None:
    """What a stage aims at: its target, or the middle of its window."""
    if stage.target_mnm is not None or stage.low_mnm is None or stage.high_mnm is None:
        return stage.target_mnm
    return (stage.low_mnm + stage.high_mnm) // 2


def _reading_wanted(scene: Scene, stage: Stage, wrench: Wrench, extension: e.Extension | None) -> int | None:
    if stage.target_mdeg is not None:
        return stage.target_mdeg
    return _at_wrench(scene, _middle(stage), wrench, extension)


def _at_wrench(scene: Scene, torque: int | None, wrench: Wrench, extension: e.Extension | None) -> int | None:
    """What the wrench has to read for this torque at the fastener."""
    if torque is None or extension is None or not wrench.length_um or not 0 <= extension.angle_deg <= 180:
        return torque
    return setting_for(torque, wrench.length_um, extension.length_um, scene.table.cosine(extension.angle_deg))


def _range_words(scene: Scene, wrench: Wrench) -> str:
    low = limit_text("torque", wrench.low_mnm, wrench.unit, up=True)
    high = limit_text("torque", wrench.high_mnm, wrench.unit, up=False)
    return scene.voice.say("shown.range", {"low": low, "high": high})


def _unfit_details(scene: Scene, wrench: Wrench) -> dict[str, str | int]:
    return {
        "tag": wrench.tag,
        "due": date_words(wrench.due_on, scene.voice.word),
        "reach": _range_words(scene, wrench),
        "fault": wrench.fault,
    }


def _need_words(scene: Scene, fastener: Fastener) -> str:
    figure = fastener.figure
    middles = [_middle(stage) for stage in figure.stages] if figure else []
    torques = [one for one in middles if one is not None]
    if figure is None or not torques:
        return ""
    low, high = (limit_text("torque", one, figure.unit, up=True) for one in (min(torques), max(torques)))
    return low if low == high else scene.voice.say("shown.both", {"low": low, "high": high})


# --- The wrench in hand -------------------------------------------------------------------------------------------


def _in_hand(scene: Scene, step: Step, fastener: Fastener, mode: str) -> View | None:
    """The wrench chosen for this fastener with what is put on it, and the fields for what it reads."""
    look, packet = scene.look, scene.sheet.packet
    wrench = packet.wrench_by_tag.get(look.wrench) if packet and look.fastener == fastener.id else None
    figure = fastener.figure
    if wrench is None or figure is None:
        return None
    extension, trouble = extension_of(look.extension, look.angle)
    why = None if trouble else unfit_for(scene, step, fastener, wrench, extension)
    words = scene.voice.say(trouble, {}) if trouble else ""
    if why is not None:
        words = scene.voice.say(f"wrench_unfit.{why}", _unfit_details(scene, wrench))
    return {
        "tag": wrench.tag,
        "name": wrench.name,
        "unit": wrench.unit,
        "reach": _range_words(scene, wrench),
        "due": date_words(wrench.due_on, scene.voice.word),
        "usable": not words,
        "trouble": words,
        "another": f"{scene.step_address(step.id, at=fastener.id)}#fastener-{fastener.id}",
        "extended": bool(look.extension),
        "extension": look.extension,
        "angle": look.angle or "0",
        "setting": _setting(scene, figure, wrench, extension) if extension is not None and not words else {},
        "set": [
            {
                "name": scene.voice.say("shown.stage", {"number": number}) + ": " if len(figure.stages) > 1 else "",
                "text": text,
                "window": _window_words(scene, stage, wrench, extension, figure),
            }
            for number, stage in enumerate(figure.stages, 1)
            if (text := _set_words(scene, stage, wrench, extension, figure)) and not words
        ],
        "extension_form": {
            "action": f"{scene.address}#fastener-{fastener.id}",
            "hidden": [
                {"name": "step", "value": step.id},
                {"name": "at", "value": fastener.id},
                {"name": "wrench", "value": wrench.tag},
            ],
            "length": _look_field(scene, fastener, "extension", scene.word("ask", "length"), look.extension, "mm"),
            "angle": _look_field(scene, fastener, "angle", scene.word("ask", "angle"), look.angle, "°"),
        },
        "hidden": [
            {"name": "wrench", "value": wrench.tag},
            {"name": "extension", "value": look.extension},
            {"name": "angle", "value": look.angle if look.extension else ""},
        ],
        "readings": [
            _reading_field(scene, form_key(scene, mode, fastener), number, stage, wrench, len(figure.stages) > 1)
            for number, stage in enumerate(figure.stages)
        ],
    }


def _look_field(scene: Scene, fastener: Fastener, name: str, label: str, typed: str, unit: str) -> View:
    """A field of the form that only asks for another look: it shows what it was last asked with."""
    units = units_for("length", unit) if unit == "mm" else (unit,)
    made = field_view(scene, f"on-{fastener.id}", name, label, unit=unit, units=units)
    return {**made, "typed": typed}


def extension_of(length: str, angle: str) -> tuple[e.Extension | None, str]:
    """The extension as typed (length in mm where no unit is given), or a code for what is not right about it."""
    if not length:
        return None, ""
    try:
        length_um = parse_quantity(length, Dimension.LENGTH, default_unit="mm").value
    except TradeProblem:
        return None, "extension_length"
    degrees = angle.strip().removesuffix("°").strip() or "0"
    if not (degrees.isascii() and degrees.isdigit() and len(degrees) <= 3 and int(degrees) <= 180):
        return None, "extension_angle"
    if not 0 < length_um <= 2_000_000:
        return None, "extension_length"
    return e.Extension(length_um, int(degrees)), ""


def _set_words(scene: Scene, stage: Stage, wrench: Wrench, extension: e.Extension | None, figure: Figure) -> str:
    """What to set, in the wrench's own unit; the figure's own text when its unit is the wrench's."""
    if stage.target_mdeg is not None:
        return stage.text
    value = _at_wrench(scene, _middle(stage), wrench, extension)
    return setting_text(value, wrench.unit) if value is not None else ""


def _window_words(scene: Scene, stage: Stage, wrench: Wrench, extension: e.Extension | None, figure: Figure) -> str:
    """Between what the wrench has to read, in its own unit; "" where the figure's own window is that already."""
    if stage.target_mdeg is not None or (extension is None and wrench.unit == figure.unit):
        return ""
    low, high = (_at_wrench(scene, one, wrench, extension) for one in (stage.low_mnm, stage.high_mnm))
    if low is None or high is None:
        return ""
    ends = {
        "low": limit_text("torque", low, wrench.unit, up=True, most=1),
        "high": limit_text("torque", high, wrench.unit, up=False, most=1),
    }
    return scene.voice.say("shown.range", ends)


def setting_text(value: int, unit: str) -> str:
    """What to set on a scale: to a tenth, which is finer than any scale is drawn."""
    tenths = round(amount_in(value, Dimension.TORQUE, unit) * 10)
    return show(quantity_of(Fraction(tenths, 10), Dimension.TORQUE, unit), unit, 1 if tenths % 10 else 0)


def _setting(scene: Scene, figure: Figure, wrench: Wrench, extension: e.Extension) -> View:
    """The sum for an extension, shown with its inputs."""
    first = next((stage for stage in figure.stages if stage.target_mdeg is None), None)
    if first is None or not wrench.length_um:
        return {"shown": False, "sum": ""}
    target = _at_wrench(scene, _middle(first), wrench, extension)
    arm, out = (limit_text("length", one, "mm", up=True) for one in (wrench.length_um, extension.length_um))
    at = f" × cos {extension.angle_deg}°" if extension.angle_deg else ""
    wanted = limit_text("torque", _middle(first) or 0, figure.unit, up=True)
    return {
        "shown": target is not None,
        "sum": f"{wanted} × {arm} / ({arm} + {out}{at}) = {setting_text(target or 0, wrench.unit)}",
    }


def _reading_field(scene: Scene, form: str, number: int, stage: Stage, wrench: Wrench, staged: bool) -> View:
    before = scene.voice.say("shown.stage", {"number": number + 1}) + ": " if staged else ""
    if stage.target_mdeg is not None:
        return field_view(
            scene, form, f"reading.{number}", before + scene.word("ask", "turned"), unit="°", units=("°",)
        )
    return field_view(
        scene,
        form,
        f"reading.{number}",
        before + scene.voice.say("shown.reads", {"wrench": wrench.tag}),
        unit=wrench.unit,
    )
