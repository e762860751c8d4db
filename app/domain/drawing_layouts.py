"""Where the parts of each layout lie on the drawing: one function per family of layouts.

The right side, seen from behind: the middle of the vehicle at the left edge, the wheel at the right. Sizes are a
middle-sized car's or a light truck's, from memory; they show which part bears on which, not how long a part is.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from app.domain.drawing_pen import MIDDLE, At, Mark, Pen, Run, along, bellows, box, coil, round_bar

TYRE = (298, 108, 374, 332)
HUB = (296, 220)
CONTACT = (336, 332)


# Parts the weight goes through in order, each with its run.
Way: TypeAlias = "tuple[tuple[str, Run], ...]"


@dataclass(frozen=True)
class Axle:
    """What the drawing needs to know of one layout in one pose.

    wheel_path:  from the wheel to the spring's lower end: (part, places) in order; each begins where the last ended.
    spring:      the spring's own run, lower end first.
    above:       from the spring's upper end to the body.
    arm, tube:   where a stand under the arm or the axle bears, and how the load goes on from there to the spring;
                 `arm_part`, `tube_part` name what it bears on. Layouts without one bear on what there is.
    frame:       where a stand under the frame bears, and the way from there to the body.
    joints:      (part, place) of every ball joint. load_joint: which of them, "" where none carries the spring.
    balloons:    part -> (what it points at, where its number stands).
    """

    wheel_path: Way
    spring: Run
    above: Way
    under: At
    under_part: str
    under_path: Way
    frame: At
    frame_path: Way
    joints: tuple[tuple[str, At], ...]
    load_joint: str
    balloons: Mapping[str, tuple[At, At]]
    outline: Run = ()
    frame_behind: bool = False


def axle_of(layout: str, spring_kind: str, steered: bool, pen: Pen) -> Axle:
    """Draw a layout with this pen and say where its parts are. `layout` is never "air": that is a spring in a place.

    Raises: KeyError for a layout nobody has drawn.
    """
    drawn = _AIR_AS.get(layout, layout) if spring_kind == "air" else layout
    return _FAMILIES[drawn](drawn, spring_kind, steered, pen)


# --- What all have ------------------------------------------------------------------------------------------------


def _wheel(pen: Pen) -> None:
    """Tyre with its tread, brake disc and hub, as seen from behind."""
    left, top, right, bottom = TYRE
    pen.area("part", *box(282, 164, 290, 276))
    pen.area(
        "tyre",
        (left + 12, top), (right - 12, top), (right, top + 14), (right, bottom - 14),
        (right - 12, bottom), (left + 12, bottom), (left, bottom - 14), (left, top + 14),
    )  # fmt: skip
    for x in (left + 19, left + 38, left + 57):
        pen.line("thin", pen.low((x, top + 8)), pen.low((x, bottom - 8)))


def _fender(pen: Pen, inner: int) -> None:
    """The body's edge over the wheel, from its inner panel outwards."""
    pen.body(
        "body",
        (inner, 72), (262, 46), (392, 46), (410, 70), (412, 156), (402, 156), (400, 84), (386, 66), (266, 66),
        (inner, 92),
    )  # fmt: skip


def _spring(kind: str, foot: At, top: At, half: int, turns: int) -> tuple[Run, Run]:
    """The run of a spring, and the outline of an air spring (empty for others)."""
    if kind == "air":
        return (foot, top), bellows(foot, top, half + 6)
    return coil(foot, top, half, turns), ()


def _middle_of(run: Run) -> At:
    """A place on a spring's run about half way along it."""
    (xa, ya), (xb, yb) = run[(len(run) - 1) // 2], run[len(run) // 2]
    return ((xa + xb) // 2, (ya + yb) // 2)


def _damper(pen: Pen, foot: At, top: At) -> At:
    """A damper between its eyes, tube below, rod above. Gives the middle of the tube."""
    (xf, yf), (xt, yt) = foot, top
    neck = (xf + (xt - xf) * 6 // 10, yf + (yt - yf) * 6 // 10)
    pen.line("line", neck, top)
    pen.post(neck, foot, 8, 8)
    pen.disc("part", foot, 5)
    pen.disc("part", top, 5)
    return ((xf + neck[0]) // 2, (yf + neck[1]) // 2)


def _joint(pen: Pen, at: At) -> At:
    pen.disc("joint", at, 8)
    return at


# --- Two arms -----------------------------------------------------------------------------------------------------


def _wishbone(layout: str, spring_kind: str, steered: bool, pen: Pen) -> Axle:
    on_lower = layout in ("wishbone_lower_coil", "torsion_bar_lower")
    lower_in, lower_out = (130, 272), pen.low((266, 272))
    upper_in, upper_out = (194, 146), pen.low((262, 150))
    if layout == "wishbone_upper_coil":
        upper_in = (160, 160)
        _upper_tower(pen)
    elif layout == "wishbone_lower_coil":
        _lower_pocket(pen)
    else:
        upper_in = (170, 146) if layout == "torsion_bar_upper" else (186, 146)
        _plain_frame(pen)
    _wheel(pen)
    heart = along(lower_in, lower_out, 222)
    damper_top = {"wishbone_lower_coil": (162, 150), "wishbone_upper_coil": (206, 52)}.get(layout, (196, 118))
    damper_foot = along(lower_in, lower_out, 162 if layout == "wishbone_lower_coil" else 216)
    damper = _damper(pen, (damper_foot[0], damper_foot[1] - 10), damper_top)
    pen.bar(lower_in, lower_out, 12, 8)
    pen.bar(upper_in, upper_out, 9, 7)
    pen.post(upper_out, lower_out, 7, 11)
    pen.area("part", *box(262, 206, 298, 234))
    for pivot in (lower_in, upper_in):
        pen.disc("part", pivot, 10)
    joints = (("upper_joint", _joint(pen, upper_out)), ("lower_joint", _joint(pen, lower_out)))
    knuckle = pen.low((264, 220))
    wheel = (("wheel", (pen.low(CONTACT), pen.low((336, 220)))), ("hub", (pen.low((336, 220)), knuckle)))
    balloons = {
        "frame": ((60, 262), (40, 196)),
        "upper_arm": (along(upper_in, upper_out, 226), (262, 104) if layout == "wishbone_upper_coil" else (234, 24)),
        "lower_arm": (along(lower_in, lower_out, 180), (164, 314 + pen.drop * 2 // 3)),
        "upper_joint": (upper_out, (300, 24)),
        "lower_joint": (lower_out, (264, 314 + pen.drop)),
        "damper": (damper, (104, 140)),
    }
    frame_path = (("frame", ((80, 288), (80, 236))), ("body", ((80, 236), (80, 60))))
    if on_lower:
        seat = along(lower_in, lower_out, 162)
        foot = (seat[0], seat[1] - 12)
        run, outline, above = _on_lower(layout, spring_kind, lower_in, foot)
        before_spring: tuple[str, Run] = ("lower_arm", (lower_out, along(lower_in, lower_out, 222), run[0]))
        carried = (("knuckle", (knuckle, lower_out)), before_spring)
        under_path: Way = (("lower_arm", ((heart[0], heart[1] + 10), heart, run[0])),)
    else:
        run, outline, above = _on_upper(layout, spring_kind, upper_in, upper_out)
        before_spring = ("upper_arm", (upper_out, run[0]))
        carried = (("knuckle", (knuckle, upper_out)), before_spring)
        under_path = (
            ("lower_arm", ((heart[0], heart[1] + 10), heart, lower_out)),
            ("knuckle", (lower_out, upper_out)),
            before_spring,
        )
    balloons["spring"] = (_middle_of(run), (40, 132) if on_lower else (104, 44))
    if spring_kind == "torsion_bar":
        balloons["spring"] = (_middle_of(run), (112, 322) if on_lower else (104, 44))
    return Axle(
        (*wheel, *carried), run, above, (heart[0], heart[1] + 10), "lower_arm", under_path, (80, 288), frame_path,
        joints, "lower_joint" if on_lower else "upper_joint", balloons, outline,
    )  # fmt: skip


def _on_lower(layout: str, kind: str, pivot: At, foot: At) -> tuple[Run, Run, Way]:
    if layout == "torsion_bar_lower" and kind != "air":
        run = round_bar(pivot, 20)
        return run, (), (("frame", (run[-1], (150, 146))), ("body", ((150, 146), (150, 60))))
    run, outline = _spring(kind, foot, (foot[0], 156), 24, 5)
    return run, outline, (("frame", (run[-1], (foot[0], 136))), ("body", ((foot[0], 136), (foot[0], 60))))


def _on_upper(layout: str, kind: str, pivot: At, outer: At) -> tuple[Run, Run, Way]:
    if layout == "torsion_bar_upper" and kind != "air":
        run = round_bar(pivot, 20)
        return run, (), (("frame", (run[-1], (170, 116))), ("body", ((170, 116), (170, 60))))
    seat = along(pivot, outer, 206)
    run, outline = _spring(kind, (206, seat[1] - 8), (206, 50), 22, 4)
    return run, outline, (("frame", (run[-1], (206, 34))), ("body", ((206, 34), (206, 10))))


def _lower_pocket(pen: Pen) -> None:
    """A cross member with the pocket the coil goes up into; the upper arm turns on its outer wall."""
    pen.body("body", (MIDDLE, 72), (240, 72), (240, 92), (MIDDLE, 92))
    _fender(pen, 240)
    pen.body("part", *box(148, 92, 176, 138))
    pen.body("part", *box(66, 92, 94, 238))
    pen.body(
        "frame",
        (MIDDLE, 236), (114, 230), (122, 136), (204, 136), (204, 178), (194, 178), (194, 150), (134, 150),
        (140, 288), (MIDDLE, 288),
    )  # fmt: skip


def _upper_tower(pen: Pen) -> None:
    """A frame with the tower over the upper arm that the coil pushes up into."""
    pen.body("body", (MIDDLE, 72), (140, 72), (140, 92), (MIDDLE, 92))
    _fender(pen, 240)
    pen.body("part", *box(66, 92, 94, 238))
    pen.body(
        "frame",
        (MIDDLE, 236), (110, 230), (140, 140), (164, 34), (246, 34), (246, 84), (236, 84), (236, 46),
        (176, 46), (168, 130), (146, 288), (MIDDLE, 288),
    )  # fmt: skip


def _plain_frame(pen: Pen) -> None:
    """A frame rail that carries both arms' pivots and the anchor of the torsion bar."""
    pen.body("body", (MIDDLE, 72), (240, 72), (240, 92), (MIDDLE, 92))
    _fender(pen, 240)
    pen.body("part", *box(138, 92, 186, 118))
    pen.body("part", *box(66, 92, 94, 238))
    pen.body(
        "frame",
        (MIDDLE, 236), (112, 230), (136, 116), (204, 112), (204, 132), (190, 164), (156, 176), (146, 288),
        (MIDDLE, 288),
    )  # fmt: skip


# --- Struts -------------------------------------------------------------------------------------------------------


def _strut(layout: str, spring_kind: str, steered: bool, pen: Pen) -> Axle:
    on_arm = layout == "strut_arm_coil"
    pen.body("body", (MIDDLE, 72), (140, 72), (140, 92), (MIDDLE, 92))
    _fender(pen, 282)
    pen.body("part", *box(66, 92, 94, 238))
    if on_arm:
        pen.body(
            "frame",
            (140, 72),
            (200, 40),
            (270, 28),
            (282, 28),
            (282, 60),
            (270, 60),
            (212, 60),
            (206, 112),
            (206, 140),
            (140, 140),
        )
    else:
        pen.body(
            "frame",
            (140, 72),
            (176, 40),
            (194, 28),
            (286, 28),
            (286, 66),
            (276, 66),
            (276, 42),
            (202, 42),
            (176, 130),
            (140, 140),
        )
    pen.body("frame", (MIDDLE, 236), (112, 232), (142, 252), (142, 288), (MIDDLE, 288))
    _wheel(pen)
    lower_in, lower_out = (130, 272), pen.low((266, 272))
    top, seat, clamp = (238, 44), pen.low((252, 150)), pen.low((262, 224))
    heart = along(lower_in, lower_out, 222)
    pen.line("rod", (seat[0], seat[1] - 12), top)
    pen.post((seat[0], seat[1] - 14), (clamp[0], clamp[1] + 8), 10, 11)
    pen.bar(lower_in, lower_out, 12, 8)
    pen.post((clamp[0] + 2, clamp[1] - 22), lower_out, 10, 9)
    pen.area("part", *box(262, 206, 298, 234))
    pen.disc("part", lower_in, 10)
    pen.sprung.append(_cap(top))
    joint = _joint(pen, lower_out)
    knuckle = (264, clamp[1] - 4)
    wheel = (("wheel", (pen.low(CONTACT), pen.low((336, 220)))), ("hub", (pen.low((336, 220)), knuckle)))
    balloons = {
        "frame": ((60, 262), (40, 196)),
        "lower_arm": (along(lower_in, lower_out, 180), (164, 314 + pen.drop * 2 // 3)),
        "lower_joint": (joint, (264, 314 + pen.drop)),
    }
    frame_path = (("frame", ((80, 288), (80, 236))), ("body", ((80, 236), (80, 60))))
    under = (heart[0], heart[1] + 10)
    if on_arm:
        foot = along(lower_in, lower_out, 178)
        foot = (foot[0], foot[1] - 12)
        run, outline = _spring(spring_kind, foot, (178, 142), 26, 5)
        carried: Way = (("knuckle", (knuckle, joint)), ("lower_arm", (joint, heart, foot)))
        above = (("frame", (run[-1], (178, 100))), ("body", ((178, 100), (178, 24))))
        under_path: Way = (("lower_arm", (under, heart, foot)),)
        balloons |= {"spring": (_middle_of(run), (104, 186)), "strut": ((seat[0] + 4, seat[1] + 20), (234, 100))}
        return Axle(
            (*wheel, *carried), run, above, under, "lower_arm", under_path, (80, 288), frame_path,
            (("lower_joint", joint),), "lower_joint", balloons, outline,
        )  # fmt: skip
    pen.area("part", (224, 150), (280, 150), (274, 160), (230, 160))
    run, outline = _spring(spring_kind, seat, (240, 52), 26, 5)
    above = (("strut_top", (run[-1], (238, 34))), ("body", ((238, 34), (238, 10))))
    carried = (
        ("knuckle", (knuckle, (knuckle[0] - 2, knuckle[1] - 14))),
        ("strut", ((knuckle[0] - 2, knuckle[1] - 14), seat)),
    )
    under_path = (
        ("lower_arm", (under, heart, joint)), ("lower_joint", (joint, (joint[0], joint[1] - 10))),
        ("knuckle", ((joint[0], joint[1] - 10), (knuckle[0] - 2, knuckle[1] - 14))), carried[1],
    )  # fmt: skip
    balloons |= {
        "spring": (_middle_of(run), (176, 176)), "strut": ((clamp[0] - 4, clamp[1] - 30),
        (200, 232)), "strut_top": ((238, 42), (300, 24)),
    }  # fmt: skip
    return Axle(
        (*wheel, *carried), run, above, under, "lower_arm", under_path, (80, 288), frame_path,
        (("lower_joint", joint),), "", balloons, outline,
    )  # fmt: skip


def _cap(top: At) -> Mark:
    return Mark("part", box(top[0] - 18, top[1] - 8, top[0] + 18, top[1] + 4), shut=True)


# --- One axle for both wheels -------------------------------------------------------------------------------------


def _solid(layout: str, spring_kind: str, steered: bool, pen: Pen) -> Axle:
    leaf = layout == "solid_leaf" and spring_kind != "air"
    _ladder(pen)
    _wheel(pen)
    x = 176
    foot = pen.low((x, 206))
    damper = _damper(pen, pen.low((234, 196)), (214, 62))
    pen.area("part", (MIDDLE, 206), (268, 208), (268, 232), (MIDDLE, 234))
    pen.area("part", (MIDDLE, 172), (46, 176), (66, 200), (66, 240), (46, 264), (MIDDLE, 268))
    axle_in = pen.low((x, 220))
    if leaf:
        run: Run = tuple(pen.low(at) for at in ((x, 206), (194, 202), (158, 195), (194, 188), (158, 181), (x, 178)))
        outline: Run = ()
        for number in range(4):
            pen.area("part", *box(154, 179 + 7 * number, 198, 186 + 7 * number))
        for side in (150, 202):
            pen.line("line", pen.low((side, 172)), pen.low((side, 246)))
        pen.area("part", *box(144, 236, 208, 243))
        above: Way = (("shackle", (run[-1], (x, 118))), ("frame", ((x, 118), (x, 80))))
        pen.line("hidden", (164, 118), pen.low((164, 178)))
        pen.line("hidden", (188, 118), pen.low((188, 178)))
    else:
        run, outline = _spring(spring_kind, foot, (x, 122), 24, 4)
        above = (("frame", (run[-1], (x, 80))),)
        pen.area("part", *box(148, 206, 204, 212))
    above = (*above, ("body", ((x, 80), (x, 24))))
    wheel: Way = (("wheel", (pen.low(CONTACT), pen.low((336, 220)))),)
    balloons = {
        "frame": ((40, 102), (40, 148)),
        "axle": (pen.low((140, 222)), (158, 284 + pen.drop)),
        "spring": (_middle_of(run), (132, 168)),
        "damper": (damper, (262, 138)),
    }
    if steered:
        upper, lower = pen.low((264, 190)), pen.low((264, 250))
        pen.post((264, upper[1]), (264, lower[1]), 9, 9)
        pen.area("part", *box(264, 206, 298, 234))
        joints: tuple[tuple[str, At], ...] = (("upper_joint", _joint(pen, upper)), ("lower_joint", _joint(pen, lower)))
        at = pen.low((264, 220))
        carried: Way = (
            ("hub", (pen.low((336, 220)), at)), ("knuckle", (at, lower)),
            ("axle", (lower, pen.low((240, 226)), axle_in, run[0])),
        )  # fmt: skip
        balloons |= {"upper_joint": (upper, (262, 100)), "lower_joint": (lower, (264, 300 + pen.drop))}
        balloons["damper"] = (damper, (222, 140)) if pen.drop == 0 else (damper, (206, 160))
    else:
        pen.area("part", *box(262, 202, 298, 238))
        joints = ()
        carried = (("axle", (pen.low((336, 220)), axle_in, run[0])),)
    under = pen.low((226, 233))
    return Axle(
        (*wheel, *carried), run, above, under, "axle", (("axle", (under, pen.low((226, 220)), axle_in, run[0])),),
        (104, 150), (("frame", ((104, 150), (104, 80))), ("body", ((104, 80), (104, 24)))),
        joints, "lower_joint" if steered else "", balloons, outline, frame_behind=True,
    )  # fmt: skip


def _ladder(pen: Pen) -> None:
    """A frame above the axle: its rail, a bracket over the spring, the cross member to the middle."""
    pen.body("body", (MIDDLE, 32), (240, 32), (240, 50), (MIDDLE, 50))
    _fender_high(pen)
    pen.body("part", *box(92, 50, 116, 86))
    pen.body(
        "frame",
        (MIDDLE, 90),
        (82, 90),
        (82, 80),
        (222, 80),
        (222, 100),
        (210, 118),
        (146, 118),
        (126, 118),
        (126, 150),
        (82, 150),
        (82, 114),
        (MIDDLE, 114),
    )


def _fender_high(pen: Pen) -> None:
    pen.body(
        "body",
        (240, 32), (392, 32), (410, 56), (412, 148), (402, 148), (400, 70), (386, 50), (240, 50),
    )  # fmt: skip


def _beam(layout: str, spring_kind: str, steered: bool, pen: Pen) -> Axle:
    _ladder(pen)
    _wheel(pen)
    x = 176
    damper = _damper(pen, pen.low((238, 224)), (218, 62))
    pen.area("part", (MIDDLE, 222), (214, 222), (214, 250), (MIDDLE, 250))
    pen.line("thin", pen.low((MIDDLE, 240)), pen.low((214, 240)))
    pen.area("part", (214, 204), (252, 200), (268, 206), (268, 236), (254, 256), (214, 258))
    pen.area("part", *box(266, 204, 298, 236))
    pen.sprung.append(_pivot_ahead((236, 184)))
    run, outline = _spring(spring_kind, pen.low((x, 220)), (x, 122), 24, 4)
    pen.area("part", *box(146, 220, 208, 226))
    seat = pen.low((x, 236))
    under = pen.low((196, 250))
    above = (("frame", (run[-1], (x, 80))), ("body", ((x, 80), (x, 24))))
    return Axle(
        (
            ("wheel", (pen.low(CONTACT), pen.low((336, 220)))),
            ("beam", (pen.low((336, 220)), pen.low((236, 230)), seat, run[0])),
        ),
        run, above, under, "beam", (("beam", (under, pen.low((196, 236)), seat, run[0])),),
        (104, 150), (("frame", ((104, 150), (104, 80))), ("body", ((104, 80), (104, 24)))),
        (), "",
        {
            "frame": ((40, 102), (40, 148)), "beam": (pen.low((140, 236)),
            (150, 292 + pen.drop)), "spring": (_middle_of(run), (132, 176)),
            "damper": (damper, (262, 138)), "arm_pivot": ((250, 184), (278, 100)),
        },
        outline, frame_behind=True,
    )  # fmt: skip


def _pivot_ahead(at: At) -> Mark:
    return Mark("hidden", (at,), 14)


# --- Several links ------------------------------------------------------------------------------------------------


def _multilink(layout: str, spring_kind: str, steered: bool, pen: Pen) -> Axle:
    pen.body("body", (MIDDLE, 72), (240, 72), (240, 92), (MIDDLE, 92))
    _fender(pen, 240)
    pen.body("frame", (158, 92), (222, 92), (222, 104), (214, 120), (166, 120), (158, 104))
    pen.body("part", *box(66, 92, 94, 198))
    pen.body(
        "frame",
        (MIDDLE, 196), (100, 192), (118, 140), (146, 132), (154, 150), (140, 172), (132, 220), (140, 262),
        (134, 288), (MIDDLE, 288),
    )  # fmt: skip
    _wheel(pen)
    lower_in, lower_out = (122, 276), pen.low((266, 270))
    upper_in, upper_out = (142, 150), pen.low((260, 156))
    toe_in, toe_out = (126, 222), pen.low((262, 226))
    damper = _damper(pen, pen.low((258, 240)), (238, 84))
    pen.bar(toe_in, toe_out, 5, 5)
    pen.bar(upper_in, upper_out, 7, 6)
    pen.bar(lower_in, lower_out, 14, 9)
    pen.post(upper_out, lower_out, 8, 11)
    pen.area("part", *box(262, 206, 298, 234))
    for pivot in (lower_in, upper_in, toe_in):
        pen.disc("part", pivot, 8)
    joints = (("upper_joint", _joint(pen, upper_out)), ("link_joint", _joint(pen, lower_out)))
    heart, seat = along(lower_in, lower_out, 228), along(lower_in, lower_out, 190)
    foot, under = (190, seat[1] - 12), (heart[0], heart[1] + 11)
    knuckle = pen.low((264, 220))
    run, outline = _spring(spring_kind, foot, (190, 122), 24, 6)
    return Axle(
        (
            ("wheel", (pen.low(CONTACT), pen.low((336, 220)))), ("hub", (pen.low((336, 220)), knuckle)),
            ("knuckle", (knuckle, lower_out)), ("link", (lower_out, heart, foot)),
        ),
        run, (("frame", (run[-1], (190, 98))), ("body", ((190, 98), (190, 60)))),
        under, "link", (("link", (under, heart, foot)),),
        (80, 288), (("frame", ((80, 288), (80, 196))), ("body", ((80, 196), (80, 60)))),
        joints, "link_joint",
        {
            "frame": ((60, 262), (40, 160)), "link": (along(lower_in, lower_out, 150), (164, 316 + pen.drop * 2 // 3)),
            "link_joint": (lower_out, (264, 314 + pen.drop)), "upper_link": (along(upper_in, upper_out, 160),
            (120, 112)),
            "spring": (_middle_of(run),
            (158, 196)), "damper": (damper, (272, 118)), "upper_joint": (upper_out, (300, 24)),
        },
        outline,
    )  # fmt: skip


# An air spring in a torsion bar's or a leaf's place stands where a coil would.
_AIR_AS = {
    "torsion_bar_lower": "wishbone_lower_coil",
    "torsion_bar_upper": "wishbone_upper_coil",
    "solid_leaf": "solid_coil",
}

_FAMILIES: Mapping[str, Callable[[str, str, bool, Pen], Axle]] = {
    "wishbone_lower_coil": _wishbone,
    "wishbone_upper_coil": _wishbone,
    "torsion_bar_lower": _wishbone,
    "torsion_bar_upper": _wishbone,
    "strut": _strut,
    "strut_arm_coil": _strut,
    "solid_coil": _solid,
    "solid_leaf": _solid,
    "twist_beam": _beam,
    "multilink_link_coil": _multilink,
}
