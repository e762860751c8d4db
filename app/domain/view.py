"""The view of a sheet: everything its page shows, from the sheet, who looks and the moment. Pure.

The office and the tablet build the same one and render it with the same templates. What is in it: text, whole numbers,
yes and no, lists, and objects with text keys. No decision is made here: `standing` and `questions` are asked.
"""

from __future__ import annotations

from app.domain.bounce import is_bounce
from app.domain.coming_back import came_back_view
from app.domain.drawing import picture_of
from app.domain.packet import Axle, Line, Packet, Step, Support
from app.domain.pictures import asked_for, has_wheel_nuts, is_held_here, loads_on_stands, stars
from app.domain.sheet import in_order
from app.domain.standing import keeps_open, next_step, open_points, supported
from app.domain.view_parts import Scene, View, choice_view, encoded, field_view, form_view, where_of
from app.domain.view_photo import photo_form, photos_view
from app.domain.view_step import (
    aside_view,
    hand_view,
    hold_form,
    needs_other_person,
    note_form,
    note_view,
    row_view,
    tags_view,
)

IN_HAND = "in-hand"


def view_of(scene: Scene) -> View:
    """Build the view. A sheet without a packet shows that it waits for the desk."""
    sheet, packet = scene.sheet, scene.sheet.packet
    if packet is None:
        return {"ready": False, "address": scene.address}
    step = step_in_hand(scene, packet)
    numbers = {one.id: number for number, one in enumerate(packet.steps, 1)}
    hand = hand_view(scene, step, numbers[step.id]) if step is not None else {"shown": False}
    number = encoded(packet.number)
    photos = photos_view(scene, sheet.notes)
    # What only some may see in the office is offered to no one else.
    looks = any(role in scene.viewer.roles for role in ("technician", "foreman"))
    return {
        "ready": True,
        "number": packet.number,
        "post": f"/jobs/{number}/entries",
        "bounces": f"/jobs/{number}/bounces",
        "bounced": looks and any(is_bounce(one) for one in packet.steps),
        "measured": f"/jobs/{number}/measured",
        "post_photo": f"/jobs/{number}/photos",
        "address": scene.address,
        "here": scene.step_address(scene.look.step, at=scene.look.fastener, wrench=scene.look.wrench,
                                   extension=scene.look.extension, angle=scene.look.angle),
        "head": _head(scene, packet),
        "held": held_view(scene),
        "told": _told(scene),
        "focus": _focus(scene, hand),
        "speak": _speak(scene, hand),
        "tags": tags_view(scene, ""),
        "asides": _asides(scene, step),
        "groups": [_group(scene, line, packet, numbers, step) for line in packet.lines],
        "hand": hand,
        "came_back": came_back_view(scene, packet, numbers),
        "finished": _finished(scene, step),
        "suspects": {
            "shown": looks and any(line.procedure == "inspection" for line in packet.lines),
            "link": f"/jobs/{number}/suspects",
        },
        "support": support_form(scene, step),
        "hold": hold_form(scene),
        "hand_over": _hand_over(scene),
        "note": note_form(scene),
        "notes": [note_view(scene, one) for one in sheet.notes if not one.photo],
        "photo_form": photo_form(scene, ""),
        "photos": photos,
        "photos_shown": bool(photos),
        "other_person": {
            "shown": step is not None and needs_other_person(scene, step),
            "link": f"/sign-in?after={encoded(scene.step_address(step.id if step is not None else ''))}",
        },
        "closed": sheet.handed_back is not None or scene.about.closed,
        "closed_words": _closed_words(scene),
        "drawing": drawing_view(scene, packet, step),
    }  # fmt: skip


def _closed_words(scene: Scene) -> str:
    """What became of a job that is over: handed back by somebody, else closed without (cancelled)."""
    back = scene.sheet.handed_back
    if back is not None:
        return scene.voice.say("handed_back", {"name": back.name})
    return scene.voice.say("job_closed", {}) if scene.about.closed else ""


def step_in_hand(scene: Scene, packet: Packet) -> Step | None:
    """The step asked for, else the first open one that nothing has to come before; `None` when all are done."""
    return packet.step_by_id.get(scene.look.step) or next_step(scene.sheet, packet)


# --- The head -----------------------------------------------------------------------------------------------------


def _head(scene: Scene, packet: Packet) -> View:
    vehicle = packet.vehicle
    done = sum(1 for step in packet.steps if scene.sheet.step(step.id).done is not None)
    overs = scene.sheet.hand_overs
    over = overs[-1] if overs else None
    return {
        "plate": vehicle.get("plate", ""),
        "vehicle": " · ".join(vehicle[key] for key in ("model", "year", "colour") if vehicle.get(key)),
        "complaint": scene.about.complaint,
        "comeback": vehicle.get("comeback", ""),
        "promised": scene.about.promised,
        "saved": scene.about.saved,
        "edition": str(packet.edition),
        "progress": scene.voice.say("shown.steps_done", {"done": done, "total": len(packet.steps)}),
        "over": scene.voice.say("handed_over_line", {
            "name": over.mark.name, "to": over.to_name, "at": scene.voice.when(over.mark.at_ms),
        }) if over is not None else "",
        "over_where": where_of(scene, over.mark.entry) if over is not None else "",
        "over_note": over.note if over is not None else "",
    }  # fmt: skip


def held_view(scene: Scene) -> View:
    """How the vehicle is held now, in words."""
    now = scene.sheet.support
    axle = scene.word("axle", str(now.axle)) if now.axle is not Axle.BOTH else ""
    return {
        "state": str(now.state),
        "words": scene.word("support", str(now.state)),
        "axle": axle,
        "bears": now.bears,
        "name": now.mark.name if now.mark else "",
        "at": scene.voice.when(now.mark.at_ms) if now.mark else "",
        "where": where_of(scene, now.mark.entry) if now.mark else "",
        "said": now.mark is not None,
    }


def support_form(scene: Scene, step: Step | None) -> View:
    """Changing how the vehicle is held: the states, those the step in hand needs marked."""
    key = "support"
    wanted = step.supports if step is not None and scene.sheet.step(step.id).done is None else ()
    states = choice_view(scene, key, "state", scene.word("ask", "held"), [
        (str(state), scene.word("support", str(state))) for state in Support
    ])  # fmt: skip
    for option, state in zip(states["options"], Support, strict=True):
        option["wanted"] = state in wanted
    right = step is None or supported(scene.sheet.support, step.axle, step.supports)
    return {
        "shown": scene.may("support_changed"),
        "open": scene.told.form == key and bool(scene.told.troubles),
        "right": right,
        "form": form_view(scene, key, "support_changed"),
        "states": states,
        "axles": choice_view(scene, key, "axle", scene.word("ask", "axle"), [
            (str(axle), scene.word("axle", str(axle))) for axle in Axle
        ]),
        "bears": field_view(
            scene, key, "bears", scene.word("ask", "bears"), hint=scene.word("ask", "bears_hint")
        ),
    }  # fmt: skip


# --- What is said, and where the eye and the focus go next --------------------------------------------------------


def _told(scene: Scene) -> View:
    told = scene.told
    return {
        "shown": bool(told.lines),
        "form_wrong": bool(told.troubles),
        "lines": [
            {"field": f"{told.form}-{name}" if name else "", "linked": bool(name), "words": words}
            for name, words in told.lines
        ],
    }


def _focus(scene: Scene, hand: View) -> str:
    """The id of what takes the focus after a part was swapped: what was said, else the next thing to do."""
    if scene.told.lines:
        return "told"
    if scene.told.recorded:
        return _next_thing(hand)
    return f"fastener-{scene.look.fastener}" if scene.look.fastener else ""


def _next_thing(hand: View) -> str:
    if not hand["shown"]:
        return "finished"
    for gate in hand["barriers"]:
        if gate["asked"]:
            first = next((check["anchor"] for check in gate["checks"] if not check["passed"]), gate["anchor"])
            return str(first) if any(check["answered"] for check in gate["checks"]) else str(gate["anchor"])
    if hand["open_here"]:
        measures = hand["measures"]["rows"]
        if any(one["taken"]["shown"] for one in measures):
            waiting = next((one["anchor"] for one in measures if one["required"] and not one["taken"]["shown"]), "")
            if waiting:
                return str(waiting)
        begun = any(one["taken"]["shown"] for one in measures) or hand["trial"].get("recorded", {}).get("shown", False)
        signed = any(one["signed"]["shown"] for one in hand["fasteners"])
        waiting = next((one["anchor"] for one in hand["fasteners"] if not one["signed"]["shown"]), "")
        if waiting and (begun or signed):
            return str(waiting)
        if begun or signed:
            return "finish"
    return IN_HAND


def _speak(scene: Scene, hand: View) -> str:
    """What the status line outside the swapped part says."""
    if scene.told.lines:
        return scene.told.lines[0][1]
    if not scene.told.recorded:
        return ""
    if not hand["shown"]:
        return scene.voice.say("spoken_all_done", {})
    if hand["is_done"]:
        return scene.voice.say("spoken_recorded", {"step": hand["name"]})
    return scene.voice.say("spoken_next", {"step": hand["name"]})


# --- Lines of work and their steps --------------------------------------------------------------------------------


def _group(scene: Scene, line: Line, packet: Packet, numbers: dict[str, int], hand: Step | None) -> View:
    """A line of work. The one with the card in hand stands open; of the others, each is one line to unfold."""
    steps = packet.steps_of_line[line.id]
    rows = [row_view(scene, step, numbers[step.id], hand.id if hand is not None else "") for step in steps]
    at = next((place for place, row in enumerate(rows) if row["is_hand"]), -1)
    done = sum(1 for row in rows if row["is_done"])
    # The last two done stay in sight above the card; earlier ones fold away, so that the card is near the top.
    fold = max(0, at - 2) if at > 4 else 0
    return {
        "id": line.id,
        "name": line.title,
        "progress": scene.voice.say("shown.done", {"done": done, "total": len(rows)}),
        "mark": "done" if done == len(rows) else ("open" if done else "empty"),
        "has_hand": at >= 0,
        "folded": rows[:fold],
        "folded_shown": fold > 0,
        "folded_words": scene.voice.say("shown.earlier", {"count": fold}),
        "rows": rows[fold:],
    }


def _finished(scene: Scene, hand: Step | None) -> View:
    """When nothing is left to do: what still keeps the sheet from being handed back."""
    if hand is not None or scene.sheet.handed_back is not None:
        return {"shown": False, "ready": False, "points": []}
    points = open_points(scene.sheet)
    return {
        "shown": True,
        "ready": not points,
        "points": [
            {
                "kind_words": scene.word("point", point.kind),
                "words": scene.voice.say(point.words, {}) if point.kind == "aside" else point.words,
                "link": f"{scene.step_address(point.step)}#in-hand" if point.step else "",
                "linked": bool(point.step),
            }
            for point in points
        ],
    }


def _asides(scene: Scene, hand: Step | None) -> View:
    """What was set aside and waits, but for that of the step in hand, which its card shows."""
    here = hand.id if hand is not None else ""
    waiting = [(key, one) for key, one in in_order(scene.sheet.asides) if keeps_open(one)]
    elsewhere = [(key, one) for key, one in waiting if not one.step or one.step != here]
    return {
        "shown": bool(elsewhere),
        "words": scene.voice.say(
            "shown.aside_one" if len(elsewhere) == 1 else "shown.asides", {"count": len(elsewhere)}
        ),
        "rows": [aside_view(scene, key, one) for key, one in elsewhere],
    }


def _hand_over(scene: Scene) -> View:
    key = "hand-over"
    people = [(person, name) for person, name in scene.about.people if person != scene.viewer.person]
    return {
        "shown": scene.may("handed_over") and bool(people),
        "form": form_view(scene, key, "handed_over"),
        "to": choice_view(scene, key, "to", scene.word("ask", "hand_over"), people),
        "field": field_view(scene, key, "note", scene.word("ask", "hand_over_note")),
    }


# --- The drawing --------------------------------------------------------------------------------------------------

# Which joint carries the spring's force, by layout: what `shared/layouts.yaml` says, which a tablet does not hold. A
# test keeps them the same.
LOAD_JOINTS = {
    "wishbone_lower_coil": "lower",
    "wishbone_upper_coil": "upper",
    "torsion_bar_lower": "lower",
    "torsion_bar_upper": "upper",
    "strut_arm_coil": "lower",
    "multilink_link_coil": "link_outer",
    "solid_coil": "axle",
    "solid_leaf": "axle",
    "air": "unknown",
}


def drawing_view(scene: Scene, packet: Packet, step: Step | None) -> View:
    """What the drawing of the axle is made from: layout, axle, corner, how it is held, the load joint."""
    now = scene.sheet.support
    asked = asked_for(packet, step, now)
    load_joint = LOAD_JOINTS.get(asked.place or asked.layout, "none")
    stars_shown = step is not None and has_wheel_nuts(step)
    return {
        "shown": bool(asked.layout),
        "layout": asked.layout,
        "place": asked.place,
        "axle": asked.axle,
        "corner": asked.corner,
        "support": asked.support,
        "bears": now.bears if is_held_here(now, asked.axle) else "",
        "load_joint": load_joint,
        "layout_words": scene.word("layout", asked.layout),
        "axle_words": scene.word("axle", asked.axle),
        "load_joint_words": scene.word("load_joint", load_joint),
        "support_words": scene.word("support", asked.support),
        "loads": [{"label": one.label, "text": one.text} for one in loads_on_stands(packet, step, asked.support)],
        "picture": picture_of(asked, scene.word),
        "stars": stars(scene.word) if stars_shown else [],
        "stars_words": scene.word("drawing", "star"),
        "stars_shown": stars_shown,
    }
