"""What is measured at a step, drawn beside its fields: heights and alignment before and after, shims before and after.

The same models and templates as everywhere else; a tablet makes them too, since no values are known beforehand. Shown
from the first reading on. What left and right may differ is the maker's: the difference is told and not judged.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from app.domain.drawing_compared import Pair, Stack, compared_view, shims_picture
from app.domain.findings import Finding
from app.domain.joining import CLOSING_LINE
from app.domain.packet import Measure, Packet, Step
from app.domain.sheet import Taken
from app.domain.view_parts import Scene, View, amount, encoded
from app.trade.quantity import Dimension, Quantity

_HEIGHT = re.compile(r"(?:height_)?((?:front|rear)_(?:left|right))")
_ANGLE = re.compile(r"((?:camber|toe|caster)_(?:left|right))")
_PACK, _COUNT = "_pack", "_count"
# More plates than this are drawn as one: nobody stacks so many (house rule).
_MOST_PLATES = 20
NOTHING: View = {"shown": False, "is_shims": False, "is_heights": False, "lines": [], "proposals": []}


def compared_here(scene: Scene, packet: Packet, step: Step) -> View:
    """The drawing of what this step measures, or that there is none."""
    stacks = _stacks(scene, packet, step)
    if stacks:
        shims = shims_picture([stack for stack, _ in stacks], scene.word)
        lines = [line for _, line in stacks if line]
        return {**NOTHING, "shown": True, "is_shims": True, "shims": shims, "lines": lines}
    heights = any(_drawn_as(step, one, heights=True) for one in step.measures)
    if not heights and not any(_drawn_as(step, one, heights=False) for one in step.measures):
        return NOTHING
    read = _read(scene, packet, step, heights)
    if not read:
        return NOTHING
    pairs = {key: _pair(before, after) for key, (before, after) in read.items()}
    names = {key: (after or before)[0].ask.split(", ground")[0] for key, (before, after) in read.items()}  # type: ignore[index]
    view = compared_view(heights, pairs, names, scene.word)
    lines = list(_sides(scene, step, pairs)) if heights else []
    proposals = [] if heights else list(_proposals(scene, packet, step))
    return {**NOTHING, "shown": True, **view, "lines": lines, "proposals": proposals}


def taken_text(measure: Measure, taken: Taken) -> str:
    return f"{taken.text} {taken.unit}".strip() or amount(measure.dimension, taken.value, measure.unit)


Read = tuple[Measure, Taken]


def _drawn_as(step: Step, measure: Measure, *, heights: bool) -> str:
    """Under which name a value is drawn; "" for one that is not."""
    if heights:
        found = _HEIGHT.fullmatch(measure.id) if measure.dimension == "length" else None
    else:
        angle = measure.dimension == "angle" and step.key.startswith("alignment")
        found = _ANGLE.fullmatch(measure.id) if angle else None
    return found[1] if found is not None else ""


def _read(scene: Scene, packet: Packet, here: Step, heights: bool) -> dict[str, tuple[Read | None, Read | None]]:
    """By name what was read last before and after the work; heights of the whole vehicle, angles of this axle."""
    found: dict[str, tuple[Read | None, Read | None]] = {}
    for step in packet.steps:
        if not heights and step.axle is not here.axle:
            continue
        readings = scene.sheet.step(step.id).readings
        for measure in step.measures:
            key = _drawn_as(step, measure, heights=heights)
            if not key or measure.id not in readings:
                continue
            before, after = found.get(key, (None, None))
            one = (measure, readings[measure.id])
            found[key] = (before, _later(after, one)) if step.line == CLOSING_LINE else (_later(before, one), after)
    return found


def _later(one: Read | None, other: Read) -> Read:
    return one if one is not None and one[1].mark.at_ms >= other[1].mark.at_ms else other


def _pair(before: Read | None, after: Read | None) -> Pair:
    return Pair(
        before[1].value if before else None,
        after[1].value if after else None,
        taken_text(*before) if before else "",
        taken_text(*after) if after else "",
    )


def _sides(scene: Scene, step: Step, pairs: dict[str, Pair]) -> Iterator[str]:
    """How far left and right of each axle differ, before and after, and who says how far they may."""
    told = False
    unit = next((one.unit for one in step.measures if one.dimension == "length"), "mm")
    for end in ("front", "rear"):
        left, right = pairs.get(f"{end}_left"), pairs.get(f"{end}_right")
        if left is None or right is None:
            continue
        texts = {
            "before": _differ(left.before, right.before, unit),
            "after": _differ(left.after, right.after, unit),
        }
        how = "both" if all(texts.values()) else next((when for when, text in texts.items() if text), "")
        if how:
            told = True
            yield scene.voice.say(f"compared_sides.{how}", {"end": scene.word("compared", end), **texts})
    if told:
        yield scene.voice.say("compared_sides.limit", {})


def _differ(left: int | None, right: int | None, unit: str) -> str:
    if left is None or right is None:
        return ""
    return Finding("side", Quantity(Dimension.LENGTH, left - right), unit, ()).text


# --- Shims --------------------------------------------------------------------------------------------------------


def _proposals(scene: Scene, packet: Packet, here: Step) -> Iterator[View]:
    """For each side outside its window, the sum that finds shims for it, filled in as far as this sheet knows.

    What a shim changes is the maker's table, which nobody has here: without it there is no proposal, only the question.
    """
    for side in ("left", "right"):
        packs = [
            (step, one)
            for step in packet.steps
            if step.axle is here.axle and step.corner == side
            for one in step.measures
            if one.id.endswith(_PACK)
        ]
        wanted = {name: _wanted(scene, here, f"{name}_{side}") for name in ("camber", "caster")}
        if not packs or not any(wanted.values()):
            continue
        asked = [
            (f"want_{name}", amount("angle", change, "°")) for name, change in wanted.items() if change is not None
        ]
        # The last step that measured a pack has what is there now.
        newest = {one.id: (step, one) for step, one in packs if one.id in scene.sheet.step(step.id).readings}
        for row, (step, measure) in enumerate(newest.values(), 1):
            pack = _pack(scene, step, measure)
            if pack is not None and pack[0]:
                thick = amount("length", pack[0][0], measure.unit)
                fields = (("bolt", measure.ask.split(",")[0]), ("thickness", thick), ("count", str(len(pack[0]))))
                asked += [(f"fitted-{row}-{name}", text) for name, text in fields]
        yield {
            "words": scene.voice.say("compared_shims.reckon", {
                "side": scene.word("compared", side),
                "change": ", ".join(
                    f"{scene.word('measured_angle', name)} {amount('angle', change, '°')}"
                    for name, change in wanted.items()
                    if change
                ),
            }),
            "link": f"/reckoner/shims?{'&'.join(f'{name}={encoded(text)}' for name, text in asked)}",
        }  # fmt: skip


def _wanted(scene: Scene, step: Step, name: str) -> int | None:
    """How far a value has to go to the middle of its window; 0 inside it, `None` without a reading or a window."""
    measure = next((one for one in step.measures if one.id == name), None)
    taken = scene.sheet.step(step.id).readings.get(name)
    if measure is None or taken is None or measure.low is None or measure.high is None:
        return None
    inside = measure.low <= taken.value <= measure.high
    return 0 if inside else (measure.low + measure.high) // 2 - taken.value


def _stacks(scene: Scene, packet: Packet, here: Step) -> list[tuple[Stack, str]]:
    """At each bolt whose pack this step measures: as it was found and as it is put back, and what that comes to."""
    found = []
    for measure in here.measures:
        if not measure.id.endswith(_PACK) or measure.dimension != "length":
            continue
        at_bolt = [
            step
            for step in packet.steps
            if (step.line, step.axle, step.corner) == (here.line, here.axle, here.corner)
            and any(one.id == measure.id for one in step.measures)
        ]
        before = _pack(scene, at_bolt[0], measure)
        after = _pack(scene, at_bolt[-1], measure) if len(at_bolt) > 1 else None
        if before is None and after is None:
            continue
        bolt = measure.ask.split(",")[0]
        stack = Stack(
            bolt,
            before[0] if before else None,
            after[0] if after else None,
            before[1] if before else "",
            after[1] if after else "",
        )
        line = ""
        if before is not None and after is not None:
            by = after[2] - before[2]
            text = Finding("side", Quantity(Dimension.LENGTH, by), measure.unit, ()).text
            line = scene.voice.say(f"compared_shims.{'differs' if by else 'same'}", {"bolt": bolt, "by": text})
        found.append((stack, line))
    return found


def _pack(scene: Scene, step: Step, measure: Measure) -> tuple[tuple[int, ...], str, int] | None:
    """The plates of a pack, its text and its thickness; `None` where it was not measured at this step."""
    readings = scene.sheet.step(step.id).readings
    taken, counted = readings.get(measure.id), readings.get(f"{measure.id.removesuffix(_PACK)}{_COUNT}")
    if taken is None:
        return None
    thick = max(0, taken.value)
    count = max(0, counted.value) // 1_000_000 if counted is not None else 0
    plates = count if 0 < count <= _MOST_PLATES else 1
    text = taken_text(measure, taken)
    if thick and count > 1:
        text = scene.voice.say("compared_shims.several", {"pack": text, "number": count})
    return ((thick // plates,) * plates if thick else (), text if thick else "", taken.value)
