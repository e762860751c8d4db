"""The drawing of an axle as a model: what is drawn where, the way the weight takes, and the same in words. Pure.

One side is drawn, seen from behind, so that left is left. What the vehicle is held by decides where the weight comes
in; the way from there to the body is a row of runs, each beginning where the last ended. Whole numbers only, and no
word of its own: words come from whoever asks.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from app.domain.drawing_layouts import CONTACT, Axle, axle_of
from app.domain.drawing_pen import DROP, MIDDLE, WIDE, At, Mark, Pen, Run, as_text, box
from app.domain.packet import Support

Word = Callable[[str, str], str]

SPRINGS = {"torsion_bar_lower": "torsion_bar", "torsion_bar_upper": "torsion_bar", "solid_leaf": "leaf", "air": "air"}
HANGING = (Support.LIFT_FRAME, Support.STANDS_FRAME)
STANDS = (Support.STANDS_FRAME, Support.STANDS_ARM, Support.STANDS_AXLE)
# The order in which parts are numbered.
NUMBERED = (
    "spring", "upper_joint", "lower_joint", "link_joint", "upper_arm", "upper_link", "lower_arm", "link", "axle",
    "beam", "strut", "strut_top", "arm_pivot", "damper", "frame",
)  # fmt: skip
BALLOON = 15
# The floor under a wheel that stands on it, under stands, and under a lift or a ramp.
FLOOR, STAND_FLOOR, LIFT_FLOOR = 332, 404, 424
# What is shown below the floor: its hatching, and where the weight comes in.
BELOW_FLOOR = 20
# A figure longer than this is left to the words beside the drawing. One letter is taken as this wide at most.
LONGEST, LETTER = 9, 12


@dataclass(frozen=True, slots=True)
class Asked:
    """What is to be drawn. `place` is the layout itself, or what an air spring stands in for; "" where not known.

    corner: "left", "right" or "" for both sides. both_axles: the work is on the whole vehicle, the front is drawn.
    load: the load on one stand as text, "" where it is not known.
    """

    layout: str
    place: str
    axle: str
    both_axles: bool
    corner: str
    support: str
    load: str = ""


@dataclass(frozen=True, slots=True)
class Leg:
    """One part the weight goes through, and its run on the drawing."""

    part: str
    run: Run


@dataclass(frozen=True, slots=True)
class Held:
    """What holds the vehicle: its own parts, and the way of the weight from the floor up to what it bears under.

    bears_under: the part above it. under: where. label: where the load's figure ends. number: where the number stands.
    """

    floor: int
    legs: tuple[Leg, ...]
    marks: tuple[Mark, ...] = ()
    bears_under: str = ""
    under: At = (0, 0)
    label: At = (0, 0)
    label_anchor: str = "end"
    number: At = (0, 0)
    points_at: At = (0, 0)


def picture_of(asked: Asked, word: Word) -> dict[str, Any]:
    """The whole drawing for the templates: marks back to front, load path, numbers with their names, words."""
    if not asked.place:
        return {"shown": False}
    support = Support(asked.support)
    kind = SPRINGS.get(asked.layout, "coil")
    pen = Pen(DROP if support in HANGING else 0)
    axle = axle_of(asked.place, kind, asked.axle == "front", pen)
    held = _held(support, axle)
    legs = load_path(support, axle, held)
    turn = _turn(asked.corner == "left")
    return {
        "shown": True,
        "view_box": f"0 0 {WIDE} {held.floor + BELOW_FLOOR}",
        "back": [_mark(one, turn) for one in (*held.marks, *pen.sprung, *_middle_line())],
        "front": [_mark(one, turn) for one in (*pen.unsprung, *_spring_marks(axle, kind), *_floor(held.floor))],
        "behind": axle.frame_behind and support in HANGING,
        "path": [
            {
                "part": one.part,
                "look": "spring-loaded" if one.part == "spring" and kind != "air" else "load",
                "points": as_text(turn(one.run)),
            }
            for one in legs
        ],
        "arrow": as_text(turn(_arrow(legs[-1].run))),
        "ring": _ring(axle, turn),
        "load": _load(asked, support, held, turn),
        **_numbers(asked, axle, held, kind, support, turn, word),
        **_words(asked, axle, held, kind, support, legs, word),
        "top": top_view(asked, word),
    }


# --- The way of the weight ----------------------------------------------------------------------------------------


def load_path(support: Support, axle: Axle, held: Held) -> tuple[Leg, ...]:
    """From the floor to the body, part by part. A hanging wheel's spring is not on it: the weight comes in above."""
    if support in HANGING:
        return (*held.legs, *_legs(axle.frame_path))
    spring = Leg("spring", axle.spring)
    if support in (Support.STANDS_ARM, Support.STANDS_AXLE):
        return (*held.legs, *_legs(axle.under_path), spring, *_legs(axle.above))
    return (*held.legs, *_legs(axle.wheel_path), spring, *_legs(axle.above))


def _legs(pairs: Sequence[tuple[str, Run]]) -> tuple[Leg, ...]:
    return tuple(Leg(part, run) for part, run in pairs)


def passes_joint(axle: Axle, legs: Sequence[Leg]) -> bool:
    """Whether the weight goes through the load joint."""
    at = dict(axle.joints).get(axle.load_joint)
    return any(at in (one.run[0], one.run[-1]) for one in legs)


# --- What holds it ------------------------------------------------------------------------------------------------


def _held(support: Support, axle: Axle) -> Held:
    match support:
        case Support.ON_WHEELS:
            return Held(FLOOR, (Leg("floor", ((CONTACT[0], FLOOR + 16), CONTACT)),))
        case Support.ON_RAMP:
            return _ramp()
        case Support.LIFT_FRAME:
            return _lift(axle.frame)
        case Support.STANDS_FRAME:
            return _stand(axle.frame, "frame", STAND_FLOOR, STAND_FLOOR)
        case Support.STANDS_ARM | Support.STANDS_AXLE:
            return _stand(axle.under, axle.under_part, STAND_FLOOR - 24, STAND_FLOOR - 24)


def _ramp() -> Held:
    x, top = CONTACT
    marks = (
        Mark("part", box(MIDDLE, top + 16, 420, top + 34), shut=True),
        Mark("part", box(404, 190, 424, LIFT_FLOOR), shut=True),
        Mark("part", box(284, top, 392, top + 16), shut=True),
    )
    way: Run = ((414, LIFT_FLOOR), (414, top + 25), (x, top + 25), CONTACT)
    return Held(LIFT_FLOOR, (Leg("ramp", way),), marks, "wheel", CONTACT, number=(230, 400), points_at=(230, top + 25))


def _lift(under: At) -> Held:
    x, y = under
    arm = 390
    marks = (
        Mark("part", box(404, 190, 424, LIFT_FLOOR), shut=True),
        Mark("part", box(x - 18, arm - 9, 420, arm + 9), shut=True),
        Mark("part", box(x - 9, y + 9, x + 9, arm - 9), shut=True),
        Mark("pad", box(x - 20, y, x + 20, y + 10), shut=True),
    )
    way: Run = ((414, LIFT_FLOOR), (414, arm), (x, arm), under)
    return Held(LIFT_FLOOR, (Leg("lift", way),), marks, "frame", under, number=(x - 46, 352), points_at=(x - 6, 366))


def _stand(under: At, part: str, floor: int, label: int) -> Held:
    x, y = under
    half, neck = 32, max(floor - 104, min(y + 40, floor - 56))
    legs: Run = (
        (x - 6, neck), (x + 6, neck), (x + half, floor), (x + half - 10, floor), (x, neck + 20),
        (x - half + 10, floor), (x - half, floor),
    )  # fmt: skip
    saddle: Run = ((x - 17, y), (x - 12, y + 4), (x + 12, y + 4), (x + 17, y), (x + 17, y + 10), (x - 17, y + 10))
    marks = (
        Mark("stand", legs, shut=True),
        Mark("line", ((x - half + 16, floor - 16), (x + half - 16, floor - 16))),
        Mark("stand", box(x - 5, y + 8, x + 5, neck + 8), shut=True),
        Mark("stand", saddle, shut=True),
    )
    inboard = x < 150
    place = (x + half + 10, label - 8) if inboard else (x - half - 10, label - 8)
    number = (x - 46, label - 46) if inboard else (x + 46, label - 26)
    return Held(
        floor, (Leg("stand", ((x, floor), under)),), marks, part, under, place, "start" if inboard else "end",
        number, (x, neck + 4),
    )  # fmt: skip


def _floor(y: int) -> tuple[Mark, ...]:
    """The floor: a heavy line, hatched below as ground is drawn."""
    ticks = tuple(Mark("thin", ((x, y + 12), (x + 10, y + 1))) for x in range(12, 424, 26))
    return (Mark("floor", ((8, y), (WIDE - 8, y))), *ticks)


def _middle_line() -> tuple[Mark, ...]:
    return (Mark("middle", ((MIDDLE, 12), (MIDDLE, 320))),)


def _spring_marks(axle: Axle, kind: str) -> tuple[Mark, ...]:
    """The spring in its own lines; where weight goes through it the load path is drawn over them."""
    outline = (Mark("bellows", axle.outline, shut=True),) if axle.outline else ()
    if kind == "torsion_bar":
        xs, ys = [x for x, _ in axle.spring], [y for _, y in axle.spring]
        middle = ((min(xs) + max(xs)) // 2, (min(ys) + max(ys)) // 2)
        return (Mark("joint", (middle,), 12), Mark("solid", (middle,), 4))
    if kind == "leaf":
        return ()
    return (*outline, Mark("line" if kind == "air" else "spring", axle.spring))


# --- Marks for the templates --------------------------------------------------------------------------------------


def _turn(left: bool) -> Callable[[Sequence[At]], Run]:
    """The right side as it is; the left one the other way round."""

    def as_is(run: Sequence[At]) -> Run:
        return tuple(run)

    def mirrored(run: Sequence[At]) -> Run:
        return tuple((WIDE - x, y) for x, y in run)

    return mirrored if left else as_is


def _mark(mark: Mark, turn: Callable[[Sequence[At]], Run]) -> dict[str, Any]:
    (x, y) = turn(mark.run)[0]
    return {
        "shape": "circle" if mark.r else ("area" if mark.shut else "line"),
        "look": mark.look,
        "points": "" if mark.r else as_text(turn(mark.run)),
        "x": x,
        "y": y,
        "r": mark.r,
    }


def _arrow(last: Run) -> Run:
    """The head of the load path, pointing up into the body."""
    x, y = last[-1]
    return ((x - 11, y + 16), (x, y - 4), (x + 11, y + 16))


def _ring(axle: Axle, turn: Callable[[Sequence[At]], Run]) -> dict[str, Any]:
    at = dict(axle.joints).get(axle.load_joint)
    if at is None:
        return {"shown": False, "x": 0, "y": 0, "r": 0}
    ((x, y),) = turn((at,))
    return {"shown": True, "x": x, "y": y, "r": 19}


def _load(asked: Asked, support: Support, held: Held, turn: Callable[[Sequence[At]], Run]) -> dict[str, Any]:
    """The load on one stand, beside it: where it begins or ends, and how wide it is at most."""
    shown = support in STANDS and 0 < len(asked.load) <= LONGEST
    ((x, y),) = turn((held.label,))
    ends = (held.label_anchor == "end") != (asked.corner == "left")
    return {"shown": shown, "text": asked.load, "x": x, "y": y, "anchor": "end" if ends else "start"}


def _numbers(
    asked: Asked, axle: Axle, held: Held, kind: str, support: Support, turn: Callable[[Sequence[At]], Run], word: Word
) -> dict[str, Any]:
    """Numbers on the drawing, each with a line to its part, and the list that names them."""
    rows = [(part, *axle.balloons[part]) for part in NUMBERED if part in axle.balloons]
    holder = _holder(support)
    if holder:
        rows.append((holder, held.points_at, held.number))
    balloons, legend = [], []
    for number, (part, target, place) in enumerate(rows, 1):
        (xt, yt), (x, y) = turn((target, place))
        balloons.append({"number": str(number), "part": part, "x": x, "y": y, "r": BALLOON, "to_x": xt, "to_y": yt})
        legend.append({"number": str(number), "words": _named(part, asked, axle, kind, word)})
    return {"balloons": balloons, "legend": legend}


def _holder(support: Support) -> str:
    if support in STANDS:
        return "stand"
    return {Support.LIFT_FRAME: "lift", Support.ON_RAMP: "ramp"}.get(support, "")


# --- Words --------------------------------------------------------------------------------------------------------


def _named(part: str, asked: Asked, axle: Axle, kind: str, word: Word) -> str:
    """A part in the list of numbers, with what it does or carries."""
    name = _part_words(part, axle, kind, word)
    if part == axle.load_joint:
        return f"{name}: {word('drawing', 'carries')}"
    if part in dict(axle.joints):
        return f"{name}: {word('drawing', 'follower')}"
    return f"{name}: {asked.load}" if part == "stand" and asked.load else name


def _part_words(part: str, axle: Axle, kind: str, word: Word) -> str:
    if axle.under_part == "axle" and part in ("upper_joint", "lower_joint"):
        return word("drawing_part", f"axle_{part.removesuffix('_joint')}")
    return word("drawing_part", kind if part == "spring" else part)


def _words(
    asked: Asked, axle: Axle, held: Held, kind: str, support: Support, legs: Sequence[Leg], word: Word
) -> dict[str, Any]:
    """What the drawing says, said: whose side, what bears where, the way of the weight, the load joint."""
    side = word("drawing", asked.corner or "both")
    names = [_part_words(part, axle, kind, word) for part in path_parts(axle, legs)]
    bears = word("drawing", f"stands_{axle.under_part}" if _under_arm(support) else str(support))
    return {
        "side": f"{word('drawing', 'behind')}, {side}",
        "bears": " ".join([bears, *_doubt(support, axle, word)]),
        "path_words": f"{word('drawing', 'path')}: {', '.join(names)}.",
        "joint_words": _joint_words(axle, legs, word),
        "spring_words": "" if any(one.part == "spring" for one in legs) else word("drawing", "spring_rests"),
    }


def path_parts(axle: Axle, legs: Sequence[Leg]) -> list[str]:
    """The parts the weight goes through in order, joints on the way included, the floor first."""
    joints = {at: name for name, at in axle.joints}
    parts = ["floor"]
    for one in legs:
        if one.part not in parts:
            parts.append(one.part)
        joint = joints.get(one.run[-1])
        if joint is not None and joint not in parts:
            parts.append(joint)
    return parts


def _under_arm(support: Support) -> bool:
    return support in (Support.STANDS_ARM, Support.STANDS_AXLE)


def _doubt(support: Support, axle: Axle, word: Word) -> list[str]:
    """Where someone says the stands bear on something this layout does not have."""
    has_axle = axle.under_part in ("axle", "beam")
    if support is Support.STANDS_ARM and has_axle:
        return [word("drawing", "no_arm")]
    return [word("drawing", "no_axle")] if support is Support.STANDS_AXLE and not has_axle else []


def _joint_words(axle: Axle, legs: Sequence[Leg], word: Word) -> str:
    if not axle.load_joint:
        return ""
    return word("drawing", "joint_loaded" if passes_joint(axle, legs) else "joint_free")


# --- From above ---------------------------------------------------------------------------------------------------

# The vehicle from above, front up: 96 wide, 150 high.
WHEELS = {"front_left": (10, 28), "front_right": (72, 28), "rear_left": (10, 96), "rear_right": (72, 96)}


def top_view(asked: Asked, word: Word) -> dict[str, Any]:
    """The four wheels from above, those at work filled, and the same in words."""
    axles = ("front", "rear") if asked.both_axles else (asked.axle,)
    sides = (asked.corner,) if asked.corner in ("left", "right") else ("left", "right")
    at_work = [f"{axle}_{side}" for axle in axles for side in sides]
    begin = word("drawing", "work_here" if len(at_work) == 1 else "work_both")
    return {
        "view_box": "0 0 96 150",
        "wheels": [
            {"name": name, "x": x, "y": y, "look": "here" if name in at_work else "else"}
            for name, (x, y) in WHEELS.items()
        ],
        "words": f"{begin}: {', '.join(word('drawing_wheel', name) for name in at_work)}.",
    }


# --- Wheel nuts ---------------------------------------------------------------------------------------------------

# Where nuts lie round the wheel, clockwise from the top, and the order to draw them up in. Common practice, no source.
NUTS: dict[int, tuple[Run, tuple[int, ...]]] = {
    4: (((80, 30), (130, 80), (80, 130), (30, 80)), (0, 2, 1, 3)),
    5: (((80, 30), (128, 65), (109, 120), (51, 120), (32, 65)), (0, 2, 4, 1, 3)),
    6: (((80, 30), (123, 55), (123, 105), (80, 130), (37, 105), (37, 55)), (0, 3, 1, 4, 2, 5)),
}


def star_order(count: int, word: Word) -> dict[str, Any]:
    """The order for a wheel with this many nuts: numbers at their places, and the line from one to the next."""
    at, order = NUTS[count]
    return {
        "view_box": "0 0 160 160",
        "words": word("drawing", f"nuts_{count}"),
        "line": as_text([at[one] for one in order]),
        "nuts": [{"number": str(number), "x": at[one][0], "y": at[one][1]} for number, one in enumerate(order, 1)],
    }
